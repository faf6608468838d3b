//! Tables and set-aside rows as CSV.
//!
//! A spreadsheet runs a cell that begins with `=`, `+`, `-`, `@`, a tab or a
//! carriage return as a formula, quoted or not. In the tables such text gets an
//! apostrophe in front. `set_aside.csv` must hold the log word for word, so
//! there each apostrophe is on record: the column `apostrophe_before` names the
//! cells that got one, and every cell that it does not name is exactly the
//! log's text. A plain number (`-3,5`) and a lone dash are not formulas and stay.

use crate::finding::{Cell, Table};
use crate::problem::SetAside;
use crate::words::labels::plain;

/// One table, all digits, the keys as headings.
pub fn table(table: &Table) -> String {
    let mut lines = Lines::new(csv::QuoteStyle::Necessary);
    lines.add(table.columns.iter().map(|column| harmless(&column.key)));
    for row in &table.rows {
        let cell = |i| row.get(i).unwrap_or(&Cell::Empty);
        lines.add((0..table.columns.len()).map(|i| full_precision(cell(i))));
    }
    lines.text()
}

/// The shortest digits that read back to the same number.
pub(super) fn full_precision(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => harmless(&plain(text)),
        Cell::Count(number) => number.to_string(),
        Cell::Number(value, _) if value.is_finite() => value.to_string(),
        Cell::Number(..) | Cell::Empty => String::new(),
    }
}

/// Rows of text below a heading, made harmless.
pub fn rows(heading: &[&str], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut lines = Lines::new(csv::QuoteStyle::Necessary);
    lines.add(heading.iter().map(|key| harmless(key)));
    for row in rows {
        lines.add(row.iter().map(|text| harmless(&plain(text))));
    }
    lines.text()
}

/// Everything that was not used, word for word. Every cell is quoted.
pub fn set_aside(all: &[SetAside]) -> String {
    let cells = all.iter().map(|one| one.text.len()).max().unwrap_or(0).max(1);
    let mut lines = Lines::new(csv::QuoteStyle::Always);
    let fixed = ["file", "line", "column", "code", "reason", "apostrophe_before"];
    let numbered = (1..=cells).map(|i| format!("cell_{i}"));
    lines.add(fixed.into_iter().map(str::to_owned).chain(numbered));
    for one in all {
        lines.add(set_aside_line(one, cells));
    }
    lines.text()
}

fn set_aside_line(one: &SetAside, cells: usize) -> Vec<String> {
    let column = one.column.as_deref().unwrap_or("");
    let named = [("file".to_owned(), one.file.as_str()), ("column".to_owned(), column)];
    let numbered = one.text.iter().enumerate();
    let numbered = numbered.map(|(i, text)| (format!("cell_{}", i + 1), text.as_str()));
    let guarded: Vec<String> = named
        .into_iter()
        .chain(numbered)
        .filter(|(_, text)| runs_as_formula(text))
        .map(|(name, _)| name)
        .collect();
    let mut line = vec![
        harmless(&one.file),
        one.line.to_string(),
        harmless(column),
        one.code.to_owned(),
        harmless(&one.reason),
        guarded.join(" "),
    ];
    line.extend(one.text.iter().map(|text| harmless(text)));
    line.resize(6 + cells, String::new());
    line
}

fn harmless(text: &str) -> String {
    if runs_as_formula(text) { format!("'{text}") } else { text.to_owned() }
}

/// Spaces in front do not stop every spreadsheet; the wide forms count in some.
fn runs_as_formula(text: &str) -> bool {
    if text.starts_with(['\t', '\r']) {
        return true;
    }
    let mut text = text.trim_start().chars();
    match text.next() {
        Some('=' | '@' | '＝' | '＠' | '＋' | '－') => true,
        Some('+' | '-') => !is_plain_number(text.as_str()),
        _ => false,
    }
}

/// Digits, points and commas only, or a row of dashes that marks a missing value.
fn is_plain_number(rest: &str) -> bool {
    rest.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ','))
        || rest.chars().all(|c| c == '-')
}

struct Lines(csv::Writer<Vec<u8>>);

impl Lines {
    fn new(quotes: csv::QuoteStyle) -> Lines {
        Lines(csv::WriterBuilder::new().quote_style(quotes).from_writer(Vec::new()))
    }

    fn add(&mut self, cells: impl IntoIterator<Item = String>) {
        let written = self.0.write_record(cells);
        // memory can be written to, and all lines are equally long
        debug_assert!(written.is_ok());
    }

    fn text(self) -> String {
        let bytes = self.0.into_inner().unwrap_or_default();
        String::from_utf8(bytes).unwrap_or_default() // only text was written
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::TableColumn;
    use proptest::prelude::*;

    fn aside(text: &[&str]) -> SetAside {
        SetAside {
            file: "reeds.csv".to_owned(),
            line: 7,
            column: None,
            code: "reed-unknown",
            reason: "no such reed".to_owned(),
            text: text.iter().map(|cell| (*cell).to_owned()).collect(),
        }
    }

    #[test]
    fn a_formula_in_a_table_gets_an_apostrophe_and_a_negative_number_does_not() {
        let sheet = Table {
            name: "lots".to_owned(),
            title: "Lots".to_owned(),
            columns: vec![TableColumn::new("lot", "Lot"), TableColumn::new("mean", "Mean")],
            rows: vec![
                vec![Cell::Text("=cmd|' /C calc'!A0".to_owned()), Cell::Number(-0.1 - 0.2, 1)],
                vec![Cell::Text(" @SUM(A1)".to_owned()), Cell::Number(f64::NAN, 1)],
            ],
        };
        let expected = "lot,mean\n'=cmd|' /C calc'!A0,-0.30000000000000004\n' @SUM(A1),\n";
        assert_eq!(table(&sheet), expected);
    }

    #[test]
    fn a_missing_mark_and_a_negative_number_are_kept_as_they_are() {
        for text in ["-", "--", "-3,5", "+1.25", "cracked", "lot-7"] {
            assert_eq!(harmless(text), text);
        }
        for text in ["-1+2", "+cmd", "\t=1", "-A1", "＝1"] {
            assert_eq!(harmless(text), format!("'{text}"));
        }
    }

    #[test]
    fn rows_of_different_length_are_all_kept() {
        let text = set_aside(&[aside(&["a"]), aside(&["b", "=1+1", "c"])]);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 3);
        assert!(lines[2].ends_with(r#""cell_2","b","'=1+1","c""#), "{}", lines[2]);
    }

    proptest! {
        /// Word for word: taking away the recorded apostrophes gives the log's text back.
        #[test]
        fn the_logs_text_can_be_read_back(cells in prop::collection::vec(any::<String>(), 1..4)) {
            let given: Vec<&str> = cells.iter().map(String::as_str).collect();
            let text = set_aside(&[aside(&given)]);
            let mut reader = csv::Reader::from_reader(text.as_bytes());
            let record = reader.records().next().expect("one row").expect("written by csv");
            let guarded: Vec<&str> = record[5].split(' ').collect();
            for (i, cell) in cells.iter().enumerate() {
                let name = format!("cell_{}", i + 1);
                let skipped = usize::from(guarded.contains(&name.as_str()));
                prop_assert_eq!(&record[6 + i][skipped..], cell.as_str());
                prop_assert!(!runs_as_formula(&record[6 + i]));
            }
        }
    }
}
