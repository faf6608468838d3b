//! Is the log sound, and what was understood of it?
//!
//! **Method.** No statistics: the columns as the reader understood them, the rows it used and set aside, and
//! the settings in force. The problems themselves are listed beside this finding.

use super::summary::settings_shown;
use crate::finding::{Cell, Finding, Method, Section, Table, TableColumn};
use crate::problem::{Problem, Severity};
use crate::study::{FileRead, Study, Understood};
use crate::words;

/// Tells what was understood of the log.
pub fn ask(study: &Study, problems: &[Problem]) -> Finding {
    let errors = problems.iter().filter(|problem| problem.severity == Severity::Error).count();
    let warnings = problems.iter().filter(|problem| problem.severity == Severity::Warning).count();
    Finding {
        question: "check",
        asked: "Is the log sound, and was it read as it was meant?".to_owned(),
        answer: words::check::answer(errors, warnings, &super::log_summary(study)),
        more: more(study),
        caveats: Vec::new(),
        charts: Vec::new(),
        tables: std::iter::once(files(study.files())).chain(columns(study)).collect(),
        method: Method::default(),
        used: (study.pieces(), "pieces"),
        left_out: Vec::new(),
        section: Section::Check,
    }
}

/// What the log holds, and how its reeds are judged where any is.
fn more(study: &Study) -> Vec<String> {
    let log = super::log_summary(study);
    let mut more = vec![words::check::holds(&log)];
    if log.ratings > 0 {
        more.push(words::check::settings(&settings_shown(study)));
    }
    more
}

fn files(files: &[FileRead]) -> Table {
    let row = |file: &FileRead| {
        vec![
            Cell::Text(file.name.clone()),
            Cell::Count(file.rows_read),
            Cell::Count(file.rows_used),
            Cell::Count(file.rows_set_aside),
            Cell::Text(file.encoding.clone()),
            Cell::Text(words::check::delimiter(file.delimiter).to_owned()),
        ]
    };
    Table {
        name: "files".to_owned(),
        title: "Files".to_owned(),
        columns: vec![
            TableColumn::new("file", "File"),
            TableColumn::new("rows_read", "Rows read"),
            TableColumn::new("rows_used", "used"),
            TableColumn::new("rows_set_aside", "set aside"),
            TableColumn::new("encoding", "Encoding"),
            TableColumn::new("delimiter", "Between cells"),
        ],
        rows: files.iter().filter(|file| is_table(file)).map(row).collect(),
    }
}

/// The study file is a file of the log too, but no table.
fn is_table(file: &FileRead) -> bool {
    !file.name.ends_with(".toml")
}

/// One table a file, its columns in the file's order.
fn columns(study: &Study) -> impl Iterator<Item = Table> {
    study.understood().chunk_by(|a, b| a.file == b.file).map(columns_of_file)
}

fn columns_of_file(columns: &[Understood]) -> Table {
    let file = columns.first().map_or("", |column| column.file.as_str());
    without_empty_columns(Table {
        name: format!("columns_{}", words::labels::file_stem(file)),
        title: format!("{file}: how each column was understood"),
        columns: vec![
            TableColumn::new("header", "Header"),
            TableColumn::new("meaning", "Read as"),
            TableColumn::new("unit", "Unit"),
            TableColumn::new("values", "Values"),
            TableColumn::new("missing", "Empty"),
            TableColumn::new("range", "Range"),
            TableColumn::new("examples", "For example"),
            TableColumn::new("decided", "Decided"),
        ],
        rows: columns.iter().map(column_row).collect(),
    })
}

/// A file in which nothing had to be decided needs no column for it.
fn without_empty_columns(table: Table) -> Table {
    let is_used = |at: &usize| {
        table.rows.iter().any(|row| row.get(*at).is_some_and(|cell| *cell != Cell::Empty))
    };
    let used: Vec<usize> = (0..table.columns.len()).filter(is_used).collect();
    let keep = |row: &Vec<Cell>| used.iter().filter_map(|&at| row.get(at).cloned()).collect();
    Table {
        columns: used.iter().map(|&at| table.columns[at].clone()).collect(),
        rows: table.rows.iter().map(keep).collect(),
        name: table.name,
        title: table.title,
    }
}

fn column_row(column: &Understood) -> Vec<Cell> {
    let (low, high) = column.range.clone().unwrap_or_default();
    let text = |text: String| if text.is_empty() { Cell::Empty } else { Cell::Text(text) };
    vec![
        Cell::Text(column.header.clone()),
        text(words::check::meaning(&column.header, &column.name, &column.meaning)),
        text(words::check::unit(&column.unit_read, &column.unit_kept)),
        Cell::Count(column.values),
        Cell::Count(column.missing),
        text(words::check::range(&low, &high)),
        text(column.examples.join("; ")),
        text(column.decided.join("; ")),
    ]
}
