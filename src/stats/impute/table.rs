//! A table with gaps, and where they lie.

use crate::stats::error::{StatsError, require_length};
use std::collections::{BTreeMap, BTreeSet};

/// Named columns of numbers and of choices, in which cells may be missing.
#[derive(Debug, Clone, PartialEq)]
pub struct IncompleteTable {
    pub(super) rows: usize,
    pub(super) columns: Vec<Column>,
}

/// One column. A choice holds codes of its levels.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Column {
    pub name: String,
    pub cells: Cells,
    /// Rows without a value, rising.
    pub missing: Vec<usize>,
    /// Rows with a value, rising.
    pub observed: Vec<usize>,
}

/// The cells of a column; those of its missing rows hold 0 and are never read as values.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cells {
    Numbers(Vec<f64>),
    Choices { levels: Vec<String>, codes: Vec<usize> },
}

/// The columns that are missing together, and in how many rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MissingPattern {
    /// Columns without a value; empty for complete rows.
    pub missing: Vec<String>,
    /// Rows with this pattern.
    pub rows: usize,
}

impl IncompleteTable {
    /// A table of so many rows, without columns yet.
    ///
    /// # Errors
    /// `Empty` for no rows.
    pub fn new(rows: usize) -> Result<Self, StatsError> {
        if rows == 0 {
            return Err(StatsError::Empty { what: "the table".into() });
        }
        Ok(Self { rows, columns: Vec::new() })
    }

    /// Adds a column of numbers; `None` is a missing cell.
    ///
    /// # Errors
    /// `LengthMismatch`, `DuplicateColumn`; `NotFinite` for a cell that is there and no number; `Empty` for a column without any value.
    pub fn number(self, name: &str, cells: &[Option<f64>]) -> Result<Self, StatsError> {
        let bad = cells.iter().position(|cell| cell.is_some_and(|value| !value.is_finite()));
        if let Some(row) = bad {
            let value = cells[row].unwrap_or(f64::NAN);
            return Err(StatsError::NotFinite { what: name.into(), row, value });
        }
        let values = cells.iter().map(|cell| cell.unwrap_or(0.0)).collect();
        let there = cells.iter().map(Option::is_some);
        self.push(name, there.collect(), Cells::Numbers(values))
    }

    /// Adds a column of choices; `None` is a missing cell.
    ///
    /// # Errors
    /// `LengthMismatch`, `DuplicateColumn`; `Empty` for a column without any value.
    pub fn choice(self, name: &str, cells: &[Option<String>]) -> Result<Self, StatsError> {
        let levels: BTreeSet<&String> = cells.iter().flatten().collect();
        let levels: Vec<String> = levels.into_iter().cloned().collect();
        // every level in a cell is in the list
        let code = |level: &String| levels.binary_search(level).unwrap_or(0);
        let codes = cells.iter().map(|cell| cell.as_ref().map_or(0, code)).collect();
        let there = cells.iter().map(Option::is_some);
        self.push(name, there.collect(), Cells::Choices { levels, codes })
    }

    fn push(mut self, name: &str, there: Vec<bool>, cells: Cells) -> Result<Self, StatsError> {
        require_length(name, self.rows, there.len())?;
        if self.columns.iter().any(|column| column.name == name) {
            return Err(StatsError::DuplicateColumn { name: name.into() });
        }
        let (observed, missing): (Vec<usize>, Vec<usize>) =
            (0..self.rows).partition(|&row| there[row]);
        if observed.is_empty() {
            return Err(StatsError::Empty { what: name.into() });
        }
        self.columns.push(Column { name: name.into(), cells, missing, observed });
        Ok(self)
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// The missing cells of every column.
    pub fn missing_counts(&self) -> Vec<(String, usize)> {
        self.columns.iter().map(|column| (column.name.clone(), column.missing.len())).collect()
    }

    /// Which columns are missing together, complete rows among them, commonest first.
    pub fn patterns(&self) -> Vec<MissingPattern> {
        let mut missing = vec![Vec::new(); self.rows];
        for (place, column) in self.columns.iter().enumerate() {
            column.missing.iter().for_each(|&row| missing[row].push(place));
        }
        let mut counts: BTreeMap<Vec<usize>, usize> = BTreeMap::new();
        missing.into_iter().for_each(|places| *counts.entry(places).or_default() += 1);
        let named = counts.into_iter().map(|(places, rows)| MissingPattern {
            missing: places.iter().map(|&place| self.columns[place].name.clone()).collect(),
            rows,
        });
        let mut patterns: Vec<MissingPattern> = named.collect();
        // a stable sort leaves equals in the order of their columns
        patterns.sort_by_key(|pattern| std::cmp::Reverse(pattern.rows));
        patterns
    }

    /// Rows without any gap.
    pub fn complete_rows(&self) -> Vec<usize> {
        let gaps: BTreeSet<usize> =
            self.columns.iter().flat_map(|column| column.missing.iter().copied()).collect();
        (0..self.rows).filter(|row| !gaps.contains(row)).collect()
    }

    pub(super) fn column(&self, name: &str) -> Result<usize, StatsError> {
        let place = self.columns.iter().position(|column| column.name == name);
        place.ok_or_else(|| StatsError::UnknownColumn { name: name.into() })
    }
}

impl Column {
    /// The share of cells that are missing, 0 to 1.
    pub fn share_missing(&self) -> f64 {
        self.missing.len() as f64 / (self.missing.len() + self.observed.len()) as f64
    }

    /// How many numbers stand for the column in a regression: one, or levels less one.
    pub fn width(&self) -> usize {
        match &self.cells {
            Cells::Numbers(_) => 1,
            Cells::Choices { levels, .. } => levels.len() - 1,
        }
    }

    /// Those numbers for the value that one row holds: the value itself, or an indicator for each level but the first.
    pub fn write(&self, row: usize, into: &mut [f64]) {
        match &self.cells {
            Cells::Numbers(values) => into[0] = values[row],
            Cells::Choices { codes, .. } => {
                into.fill(0.0);
                if let Some(place) = codes[row].checked_sub(1) {
                    into[place] = 1.0;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(cells: &[Option<&str>]) -> Vec<Option<String>> {
        cells.iter().map(|cell| cell.map(String::from)).collect()
    }

    fn table() -> IncompleteTable {
        let table = IncompleteTable::new(4).unwrap();
        let table = table.number("x", &[Some(1.0), None, Some(3.0), None]).unwrap();
        let table = table.choice("knife", &texts(&[Some("b"), None, None, Some("a")])).unwrap();
        table.number("y", &[Some(0.0); 4]).unwrap()
    }

    #[test]
    fn patterns_count_every_row_once() {
        let patterns = table().patterns();
        assert_eq!(patterns.iter().map(|pattern| pattern.rows).sum::<usize>(), 4);
        let names: Vec<String> = patterns.iter().map(|p| p.missing.join("+")).collect();
        assert_eq!(names, ["", "x", "x+knife", "knife"]);
        assert_eq!(table().complete_rows(), [0]);
        assert_eq!(table().missing_counts()[1], ("knife".into(), 2));
    }

    #[test]
    fn an_empty_column_is_refused_by_name() {
        let fault = IncompleteTable::new(2).unwrap().number("x", &[None, None]).unwrap_err();
        assert_eq!(fault, StatsError::Empty { what: "x".into() });
        assert!(IncompleteTable::new(0).is_err());
        assert!(IncompleteTable::new(1).unwrap().choice("x", &[None]).is_err());
    }

    #[test]
    fn a_cell_that_is_no_number_is_not_a_missing_cell() {
        let fault = IncompleteTable::new(2).unwrap().number("x", &[None, Some(f64::NAN)]);
        assert!(matches!(fault, Err(StatsError::NotFinite { row: 1, .. })));
    }

    #[test]
    fn names_and_lengths_are_checked() {
        assert!(matches!(table().number("y", &[None; 4]), Err(StatsError::DuplicateColumn { .. })));
        let short = table().number("z", &[Some(1.0)]);
        assert!(matches!(short, Err(StatsError::LengthMismatch { .. })));
    }
}
