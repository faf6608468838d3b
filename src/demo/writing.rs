//! The tidy files: catalogue names, commas, decimal points, ISO dates, UTF-8.

use super::entries::Log;
use super::table::{Cell, Table, tables};
use super::{File, Workshop};

/// The study file of the tidy log.
const STUDY: &str = r#"# An invented workshop: nobody kept this log, and no number in it is a finding about cane.
title = "The invented workshop"
scale = [1, 10]
good_at = 6.5              # a reed rated here or above is a good reed
worthwhile = 0.5           # rating points worth changing a habit for
outcome = "overall"

[columns.hardness]
higher_is = "softer"       # depth of indentation

[decide.forming_days]
candidates = [5, 10, 20]
"#;

/// The log as tidy files.
pub fn tidy(log: &Log) -> Workshop {
    let mut files: Vec<File> = tables(log).iter().map(file).collect();
    files.push(File { name: "study.toml", contents: STUDY.into() });
    Workshop { files }
}

/// One table as a tidy file.
pub fn file(table: &Table) -> File {
    let mut text = row(table.columns.iter().map(|column| column.name.to_string()), ',', "\n");
    for cells in &table.rows {
        text += &row(cells.iter().map(Cell::tidy), ',', "\n");
    }
    File { name: table.file, contents: text.into_bytes() }
}

/// One record; cells that hold the delimiter, a quote or a line break are quoted (RFC 4180).
pub fn row(cells: impl Iterator<Item = String>, delimiter: char, line_end: &str) -> String {
    let quoted: Vec<String> = cells
        .map(|cell| {
            if cell.contains([delimiter, '"', '\n', '\r']) {
                format!("\"{}\"", cell.replace('"', "\"\""))
            } else {
                cell
            }
        })
        .collect();
    quoted.join(&delimiter.to_string()) + line_end
}
