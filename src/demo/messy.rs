//! The same log as a spreadsheet would have exported it, in a country with decimal commas.
//!
//! Semicolons, CRLF, a BOM on the ratings and Windows-1252 in the reeds; the
//! gouge in thousandths of an inch (see [`super::instruments::dial_reading`]:
//! both files give the same number to the last bit); the headers people type;
//! dates day first; forming in weeks where that is exact; lot labels in any
//! case; ratings as `7,5/10`; `gave away` where a rating should stand; trailing
//! empty columns and an empty line. Every content is the tidy log's.

use super::entries::{Fate, Log};
use super::table::{Cell, Table, tables};
use super::writing::row;
use super::{File, Workshop};
use crate::whole;

/// The study file of the messy log: only what the data cannot say.
const STUDY: &str = r#"# The invented workshop again, as a spreadsheet would have exported it.
title = "The invented workshop"
scale = [1, 10]
good_at = 6.5
worthwhile = 0.5
outcome = "overall"

[columns.Hardness]
higher_is = "softer"

[columns."Pin room (°C)"]
is = "forming_c"

[decide.forming_days]
candidates = [5, 10, 20]
"#;

/// The log as messy files.
pub fn messy(log: &Log) -> Workshop {
    let mut files: Vec<File> = tables(log)
        .into_iter()
        .map(|table| File { name: table.file, contents: encoded(table.file, &text(&table)) })
        .collect();
    files.push(File { name: "study.toml", contents: STUDY.into() });
    Workshop { files }
}

/// The reeds in Windows-1252, the ratings with a BOM, the rest in plain UTF-8.
fn encoded(file: &str, text: &str) -> Vec<u8> {
    match file {
        "reeds.csv" => encoding_rs::WINDOWS_1252.encode(text).0.into_owned(),
        "ratings.csv" => ["\u{feff}", text].concat().into_bytes(),
        _ => text.as_bytes().to_vec(),
    }
}

/// The table as text: the reeds with two empty columns at the end and an empty line.
fn text(table: &Table) -> String {
    let is_reeds = table.file == "reeds.csv";
    let trailing = if is_reeds { 2 } else { 0 };
    let empty = || std::iter::repeat_n(String::new(), trailing);
    let line = |cells: Vec<String>| row(cells.into_iter().chain(empty()), ';', "\r\n");
    let mut text = line(table.columns.iter().map(|column| column.messy.to_string()).collect());
    for (number, cells) in table.rows.iter().enumerate() {
        if is_reeds && number == 40 {
            text += "\r\n";
        }
        text += &line(spelled(table, cells, number));
    }
    text
}

/// The cells of one row as people type them.
fn spelled(table: &Table, cells: &[Cell], number: usize) -> Vec<String> {
    let cracked = cells.last() == Some(&Cell::Word("cracked".to_string()));
    table
        .columns
        .iter()
        .zip(cells)
        .map(|(column, cell)| match (column.name, cell) {
            ("fate", Cell::Fate(Fate::Spoiled(..))) if cracked => "cracked".to_string(),
            ("spoiled_by", _) if cracked => String::new(),
            ("fate", Cell::Fate(Fate::GivenAway)) if is_unheard(cells) => String::new(),
            ("fate" | "note" | "spoiled_at" | "spoiled_by", Cell::Missing) => String::new(),
            ("line", Cell::Word(line)) => line.replace('_', " "),
            ("measure", Cell::Word(measure)) => messy_measure(measure),
            _ => typed(cell, number),
        })
        .collect()
}

/// A reed that was given away before its first rating: the ratings file says so instead of the fate.
fn is_unheard(cells: &[Cell]) -> bool {
    cells.get(FIRST_PLAYED) == Some(&Cell::Missing)
}

/// Place of the first day of playing among the columns of the reeds; a test holds it to the header.
pub(super) const FIRST_PLAYED: usize = 20;

fn messy_measure(measure: &str) -> String {
    match measure {
        "gouge_center_mm" => "Gouge centre (mm)".to_string(),
        other => other.to_string(),
    }
}

/// One cell as people type it; `number` (the row's) decides among habits.
fn typed(cell: &Cell, number: usize) -> String {
    match cell {
        Cell::Missing => ["", "", "-", "n/a", "?"][number % 5].to_string(), // below 5
        Cell::Gone => "gave away".to_string(),
        Cell::Number(value, decimals) => comma(&format!("{value:.decimals$}")),
        Cell::Thou(value) => comma(&value.to_string()),
        Cell::Score(value) => format!("{}/10", comma(&value.to_string())),
        Cell::Days(value) => duration(*value),
        Cell::Date(on) => on.strftime("%d.%m.%Y").to_string(),
        Cell::Lot(name) => lot_label(name, number),
        Cell::Word(word) => word.clone(),
        Cell::Fate(fate) => fate.word().replace('_', " "),
    }
}

fn comma(number: &str) -> String {
    number.replace('.', ",")
}

/// Weeks where they are exact.
fn duration(days: f64) -> String {
    match whole::part(days) {
        7 => "1 week".to_string(),
        14 => "2 wks".to_string(),
        21 => "3 weeks".to_string(),
        other => other.to_string(),
    }
}

/// Most labels as in the lots' table, some in another case or with spaces.
fn lot_label(name: &str, number: usize) -> String {
    match number % 11 {
        3 => name.to_lowercase(),
        6 => format!("{name} "),
        9 => name.to_uppercase(),
        _ => name.to_string(),
    }
}
