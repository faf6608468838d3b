//! Cells of a table as text, in two parts so that decimal points can stand
//! below each other.

use crate::finding::{Cell, Table};
use crate::words::digits;
use crate::words::labels::{plain, shortened};

/// Stands where nothing was computed or nothing is known.
const NOTHING: &str = "–";

/// A cell's text, split before the decimal point.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellText {
    /// All of it for text; up to the decimal point for a number.
    pub whole: String,
    /// The decimal point and what follows.
    pub fraction: String,
    pub is_number: bool,
}

impl CellText {
    pub fn joined(&self) -> String {
        format!("{}{}", self.whole, self.fraction)
    }

    /// Nothing was computed or nothing is known.
    pub fn is_missing(&self) -> bool {
        self.whole == NOTHING || (self.whole.is_empty() && self.fraction.is_empty())
    }
}

/// A longer text is cut on pages; the CSV tables and the JSON hold all of it.
const LONGEST_CELL: usize = 200;

/// A cell as pages show it. A share of chance that three decimals would show as zero is `<0.001`.
pub fn text_of(cell: &Cell) -> CellText {
    match cell {
        Cell::Text(text) => {
            let whole = shortened(text.trim(), LONGEST_CELL);
            CellText { whole, fraction: String::new(), is_number: false }
        }
        Cell::Count(number) => number_text(&digits::count(*number)),
        Cell::Number(value, 3) if *value > 0.0 && *value < 0.0005 => number_text("<0.001"),
        Cell::Number(value, decimals) if value.is_finite() => {
            number_text(&digits::number(*value, *decimals))
        }
        Cell::Number(..) | Cell::Empty => number_text(NOTHING),
    }
}

fn number_text(text: &str) -> CellText {
    let (whole, fraction) = text.split_at(text.find('.').unwrap_or(text.len()));
    CellText { whole: whole.to_owned(), fraction: fraction.to_owned(), is_number: true }
}

/// A table with its cells as text. Every row has one cell a column.
pub struct TableText {
    pub headings: Vec<String>,
    /// Whether a column holds numbers only.
    pub is_number: Vec<bool>,
    /// The longest fraction of each column, in characters.
    pub fraction: Vec<usize>,
    pub rows: Vec<Vec<CellText>>,
}

pub fn table_text(table: &Table) -> TableText {
    let columns = table.columns.len();
    let rows: Vec<Vec<CellText>> = table
        .rows
        .iter()
        .map(|row| (0..columns).map(|i| text_of(row.get(i).unwrap_or(&Cell::Empty))).collect())
        .collect();
    let column = |i: usize| rows.iter().filter_map(move |row| row.get(i));
    let is_number =
        (0..columns).map(|i| !rows.is_empty() && column(i).all(|cell| cell.is_number)).collect();
    let fraction = (0..columns)
        .map(|i| column(i).map(|cell| cell.fraction.chars().count()).max().unwrap_or(0))
        .collect();
    let headings = table.columns.iter().map(|column| plain(&column.heading)).collect();
    TableText { headings, is_number, fraction, rows }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_split_before_its_decimal_point() {
        let text = text_of(&Cell::Number(-1234.5, 2));
        assert_eq!((text.whole.as_str(), text.fraction.as_str()), ("−1\u{202F}234", ".50"));
        assert_eq!(text_of(&Cell::Count(7)).joined(), "7");
    }

    #[test]
    fn what_is_no_number_is_a_dash() {
        for cell in [Cell::Empty, Cell::Number(f64::NAN, 1), Cell::Number(f64::INFINITY, 1)] {
            assert_eq!(text_of(&cell).joined(), "–");
        }
    }

    #[test]
    fn a_text_with_a_full_stop_is_not_split() {
        assert_eq!(text_of(&Cell::Text("lot 3.5".to_owned())).whole, "lot 3.5");
    }
}
