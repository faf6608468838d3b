//! What the templates see of a table: its cells as text, a long one by its ends.

use std::ops::Range;

use serde::Serialize;

use super::cells::table_text;
use crate::finding::Table;
use crate::words::labels::plain;
use crate::words::tables;

/// A longer table is shown by its ends; the CSV table holds all of it.
const LONGEST_TABLE: usize = 60;
const ROWS_OF_AN_END: usize = 20;

#[derive(Serialize)]
pub struct TableView {
    pub id: String,
    pub file: String,
    pub title: String,
    pub columns: Vec<ColumnView>,
    /// The rows shown: all, or those of both ends.
    pub rows: Vec<Vec<CellView>>,
    pub between: Option<BetweenView>,
}

/// Stands in the place of the rows between the ends of a long table.
#[derive(Serialize)]
pub struct BetweenView {
    /// How many rows are shown before it.
    pub after: usize,
    pub words: String,
}

#[derive(Serialize)]
pub struct ColumnView {
    pub heading: String,
    pub is_number: bool,
}

#[derive(Serialize)]
pub struct CellView {
    pub text: String,
    /// What must follow unseen for the decimal points to stand below each other.
    pub filler: String,
    pub is_number: bool,
}

/// A table under a name that no other has, and the file that holds all of it.
pub fn table_view(table: &Table, name: String, file: String) -> TableView {
    let text = table_text(table);
    let columns = text.headings.iter().zip(&text.is_number);
    let left_out = left_out_of(text.rows.len());
    let ends = text.rows.iter().enumerate().filter(|(i, _)| !left_out.contains(i));
    let rows = ends.map(|(_, row)| {
        row.iter()
            .zip(text.fraction.iter().zip(&text.is_number))
            .map(|(cell, (fraction, is_number))| CellView {
                text: cell.joined(),
                filler: filler(*fraction, cell.fraction.chars().count()),
                is_number: *is_number,
            })
            .collect()
    });
    let between = (!left_out.is_empty()).then(|| BetweenView {
        after: left_out.start,
        words: tables::rows_between(left_out.len(), &file),
    });
    TableView {
        id: name,
        file,
        title: plain(&table.title),
        columns: columns
            .map(|(heading, is_number)| ColumnView {
                heading: heading.clone(),
                is_number: *is_number,
            })
            .collect(),
        rows: rows.collect(),
        between,
    }
}

/// The rows of a table of so many that a page does not show.
fn left_out_of(rows: usize) -> Range<usize> {
    if rows > LONGEST_TABLE { ROWS_OF_AN_END..rows - ROWS_OF_AN_END } else { 0..0 }
}

/// The missing end of the longest fraction: `.00`.
fn filler(longest: usize, own: usize) -> String {
    match (longest.saturating_sub(own), own) {
        (0, _) => String::new(),
        (missing, 0) => format!(".{}", "0".repeat(missing - 1)),
        (missing, _) => "0".repeat(missing),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Cell, TableColumn};

    fn of_rows(number: usize) -> TableView {
        let table = Table {
            name: "lots".to_owned(),
            title: "Lots".to_owned(),
            columns: vec![TableColumn::new("n", "N")],
            rows: (0..number).map(|row| vec![Cell::Count(row)]).collect(),
        };
        table_view(&table, "lots".to_owned(), "tables/lots.csv".to_owned())
    }

    fn shown(view: &TableView) -> Vec<&str> {
        view.rows.iter().map(|row| row[0].text.as_str()).collect()
    }

    #[test]
    fn a_table_that_is_not_long_is_shown_whole() {
        let view = of_rows(LONGEST_TABLE);
        assert_eq!(view.rows.len(), LONGEST_TABLE);
        assert!(view.between.is_none());
    }

    #[test]
    fn a_long_table_is_shown_by_its_ends_and_says_how_many_rows_are_between() {
        let view = of_rows(100);
        let shown = shown(&view);
        assert_eq!(shown.len(), 2 * ROWS_OF_AN_END);
        assert_eq!((shown[0], shown[19], shown[20], shown[39]), ("0", "19", "80", "99"));
        let between = view.between.expect("rows are left out");
        assert_eq!(between.after, ROWS_OF_AN_END);
        assert!(between.words.starts_with("… 60 rows between"), "{}", between.words);
    }
}
