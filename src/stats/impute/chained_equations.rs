//! Chained equations: each column filled in from all others, in turn, until the order no longer matters.

use super::matching::match_rows;
use super::regression::Filled;
use super::table::{Cells, Column, IncompleteTable};
use crate::stats::error::StatsError;
use crate::stats::numeric::{mean, variance};
use crate::stats::resample::replicate;
use rand::{Rng, RngExt};
use std::ops::Range;

/// How cells are filled in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// How many filled tables, `m`.
    pub imputations: usize,
    /// How often every column is visited.
    pub iterations: usize,
    /// How many rows with the nearest predictions may lend their value.
    pub donors: usize,
    /// The share of missing cells, 0 to 1, above which a column is refused.
    pub most_missing: f64,
}

impl Default for Settings {
    /// Twenty tables, ten visits, five donors (van Buuren 2018, sections 2.8, 6.5 and 3.4), at most 40 % missing.
    fn default() -> Self {
        Self { imputations: 20, iterations: 10, donors: 5, most_missing: 0.4 }
    }
}

/// The filled tables. A missing cell holds the value of a donor: a row of the same column that has one.
#[derive(Debug, Clone, PartialEq)]
pub struct Imputations {
    table: IncompleteTable,
    /// For each filled table and column the donors of its missing rows.
    donors: Vec<Vec<Vec<usize>>>,
}

/// Multiple imputation by chained equations with predictive mean matching (van Buuren & Groothuis-Oudshoorn 2011, Journal of Statistical Software 45(3); van
/// Buuren 2018, Flexible Imputation of Missing Data, algorithms 3.3 and 4.3). Gaps begin with the value of a random row; then columns are visited, fewest gaps
/// first: the column is regressed on all others as they stand, numbers as they are and choices by the indicators of their levels, and each gap takes the value
/// of a row whose prediction is near. So filled cells are always values that occur.
///
/// The outcome of the analysis must be a column of the table, or the effects that are asked for come out too small. Values beyond those that were seen are
/// never filled in: where gaps lie mostly beyond the edge of the rows with a value, donors run out, slopes come out too small as well, and pooled 95 %
/// intervals hold the truth less often (89 % in a simulation of the tests).
///
/// One ChaCha stream a filled table, so the same seed gives the same tables on any number of threads.
///
/// # Errors
/// `Empty` for a table without columns; `OutOfRange` for settings that are zero or no share; `NoCompleteColumn`; `TooMuchMissing`; `TooFewRows` where the rows
/// with a value cannot carry the regression on all others; `NotConverged` where values are so large that their squares overflow.
pub fn impute(
    table: &IncompleteTable,
    settings: &Settings,
    seed: u64,
) -> Result<Imputations, StatsError> {
    check_settings(settings)?;
    check_table(table, settings)?;
    let chain = Chain::new(table, settings)?;
    let filled = replicate(seed, settings.imputations, |generator| chain.run(generator));
    let donors: Option<Vec<_>> = filled.into_iter().collect();
    let donors = donors.ok_or_else(too_large)?;
    Ok(Imputations { table: table.clone(), donors })
}

fn too_large() -> StatsError {
    StatsError::NotConverged { what: "the regression that fills in missing cells".into() }
}

fn check_settings(settings: &Settings) -> Result<(), StatsError> {
    let counts = [
        ("the number of imputations", settings.imputations),
        ("the number of iterations", settings.iterations),
        ("the number of donors", settings.donors),
    ];
    if let Some(&(what, _)) = counts.iter().find(|(_, count)| *count == 0) {
        let expected = "one or more".into();
        return Err(StatsError::OutOfRange { what: what.into(), value: 0.0, expected });
    }
    if (0.0..=1.0).contains(&settings.most_missing) {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "the largest share of missing cells".into(),
        value: settings.most_missing,
        expected: "0 to 1".into(),
    })
}

fn check_table(table: &IncompleteTable, settings: &Settings) -> Result<(), StatsError> {
    if table.columns.is_empty() {
        return Err(StatsError::Empty { what: "the table".into() });
    }
    if table.columns.iter().all(|column| !column.missing.is_empty()) {
        return Err(StatsError::NoCompleteColumn);
    }
    // with the constant, less the column itself, plus what the residual covariance needs
    let needed: usize = 1 + table.columns.iter().map(Column::width).sum::<usize>();
    for column in table.columns.iter().filter(|column| !column.missing.is_empty()) {
        let share = column.share_missing();
        if share > settings.most_missing {
            let what = column.name.clone();
            return Err(StatsError::TooMuchMissing { what, share, most: settings.most_missing });
        }
        let rows = column.observed.len();
        if rows < needed {
            return Err(StatsError::TooFewRows { rows, columns: needed - 1 });
        }
    }
    Ok(())
}

/// What all chains share.
struct Chain<'table> {
    table: &'table IncompleteTable,
    /// Where the numbers of each column stand in a row.
    blocks: Vec<Range<usize>>,
    /// All values in working units; those of missing cells mean nothing.
    start: Filled,
    /// Columns with gaps, fewest first.
    visits: Vec<usize>,
    iterations: usize,
    donors: usize,
}

impl<'table> Chain<'table> {
    fn new(table: &'table IncompleteTable, settings: &Settings) -> Result<Self, StatsError> {
        let mut width = 0;
        let blocks = table.columns.iter().map(|column| {
            let block = width..width + column.width();
            width = block.end;
            block
        });
        let blocks: Vec<Range<usize>> = blocks.collect();
        let mut visits: Vec<usize> =
            (0..blocks.len()).filter(|&place| !table.columns[place].missing.is_empty()).collect();
        visits.sort_by_key(|&place| table.columns[place].missing.len());
        let mut start = Filled { width, values: vec![0.0; width * table.rows] };
        for (column, block) in table.columns.iter().zip(&blocks) {
            standardise(column, block, &mut start)?;
        }
        // with one column to fill nothing feeds back
        let iterations = if visits.len() < 2 { 1 } else { settings.iterations };
        Ok(Self { table, blocks, start, visits, iterations, donors: settings.donors })
    }

    /// One chain; the donors of every column.
    fn run(&self, generator: &mut impl Rng) -> Option<Vec<Vec<usize>>> {
        let mut filled = self.start.clone();
        let mut donors = vec![Vec::new(); self.blocks.len()];
        for &place in &self.visits {
            let column = &self.table.columns[place];
            let count = column.observed.len();
            let draw = |_| column.observed[generator.random_range(0..count)];
            donors[place] = column.missing.iter().map(draw).collect();
            self.lend(place, &donors[place], &mut filled);
        }
        for _ in 0..self.iterations {
            for &place in &self.visits {
                let column = &self.table.columns[place];
                let block = self.blocks[place].clone();
                let (observed, missing) = (&column.observed, &column.missing);
                donors[place] =
                    match_rows(&filled, block, observed, missing, self.donors, generator)?;
                self.lend(place, &donors[place], &mut filled);
            }
        }
        Some(donors)
    }

    /// Copies the donors' numbers into the gaps.
    fn lend(&self, place: usize, donors: &[usize], filled: &mut Filled) {
        for (&row, &donor) in self.table.columns[place].missing.iter().zip(donors) {
            for number in self.blocks[place].clone() {
                filled.values[row * filled.width + number] =
                    filled.values[donor * filled.width + number];
            }
        }
    }
}

/// Writes the numbers of a column with mean 0 and standard deviation 1 among the rows with a value; a column that does not vary becomes zeros.
fn standardise(column: &Column, block: &Range<usize>, into: &mut Filled) -> Result<(), StatsError> {
    let width = into.width;
    for &row in &column.observed {
        column.write(row, &mut into.values[row * width..][block.clone()]);
    }
    for place in block.clone() {
        let values: Vec<f64> =
            column.observed.iter().map(|&row| into.values[row * width + place]).collect();
        let centre = mean(&values)?;
        let spread = if values.len() < 2 { 0.0 } else { variance(&values)?.sqrt() };
        if !spread.is_finite() {
            return Err(too_large());
        }
        for (&row, value) in column.observed.iter().zip(values) {
            let unit = if spread > 0.0 { (value - centre) / spread } else { 0.0 };
            into.values[row * width + place] = unit;
        }
    }
    Ok(())
}

impl Imputations {
    /// How many filled tables there are.
    pub fn count(&self) -> usize {
        self.donors.len()
    }

    /// A column of numbers in one filled table, counted from 0.
    ///
    /// # Errors
    /// `UnknownColumn` for a name that is no column of numbers; `OutOfRange` for a table that is not there.
    pub fn numbers(&self, imputation: usize, name: &str) -> Result<Vec<f64>, StatsError> {
        let (column, donors) = self.filled(imputation, name)?;
        let Cells::Numbers(values) = &column.cells else {
            return Err(StatsError::UnknownColumn { name: name.into() });
        };
        let mut values = values.clone();
        for (&row, &donor) in column.missing.iter().zip(donors) {
            values[row] = values[donor];
        }
        Ok(values)
    }

    /// A column of choices in one filled table, counted from 0.
    ///
    /// # Errors
    /// `UnknownColumn` for a name that is no column of choices; `OutOfRange` for a table that is not there.
    pub fn choices(&self, imputation: usize, name: &str) -> Result<Vec<String>, StatsError> {
        let (column, donors) = self.filled(imputation, name)?;
        let Cells::Choices { levels, codes } = &column.cells else {
            return Err(StatsError::UnknownColumn { name: name.into() });
        };
        let mut codes = codes.clone();
        for (&row, &donor) in column.missing.iter().zip(donors) {
            codes[row] = codes[donor];
        }
        // codes are places in the list of levels
        Ok(codes.into_iter().map(|code| levels[code].clone()).collect())
    }

    /// The rows whose values one filled table lent to the missing rows of a column, in the order of these.
    ///
    /// # Errors
    /// As [`Imputations::numbers`], for any column.
    pub fn donors(&self, imputation: usize, name: &str) -> Result<&[usize], StatsError> {
        Ok(self.filled(imputation, name)?.1)
    }

    fn filled(&self, imputation: usize, name: &str) -> Result<(&Column, &[usize]), StatsError> {
        let place = self.table.column(name)?;
        let donors = self.donors.get(imputation).ok_or_else(|| StatsError::OutOfRange {
            what: "the number of the filled table".into(),
            value: imputation as f64,
            expected: format!("below {}", self.donors.len()),
        })?;
        // there are donors for every column
        Ok((&self.table.columns[place], &donors[place]))
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
