//! Rules about whole files and whole rows.

use crate::intake::ReadOptions;
use crate::intake::encoding::{Decoded, NoText, line_breaks};
use crate::intake::ledger::{Ledger, Words, counted, problem, quoted};
use crate::intake::records::{Excess, Ragged, Records, Table};
use crate::intake::titles::Titles;
use crate::problem::{Error, Place, Problem, SetAside};

rule!(
    NOT_TEXT,
    "file-not-text",
    Error,
    "Looks at the first bytes of a file for the marks of workbooks, pictures, archives and databases.",
    "Such a file holds no rows that could be read.",
    "Open it in the program that wrote it and save it as CSV (UTF-8)."
);
rule!(
    NUL_BYTE,
    "file-zero-byte",
    Error,
    "Looks for zero bytes.",
    "Text holds none: the file is damaged, is no text, or is UTF-16 without a byte order mark.",
    "Save it again from the spreadsheet as CSV (UTF-8)."
);

/// Says why a file is no text.
pub(in crate::intake) fn no_text(file: &str, reason: &NoText) -> Error {
    let problem = match reason {
        NoText::Other(what) => problem(
            &NOT_TEXT,
            Place::file(file),
            Words::new(format!("The file is {what}, not text."), "a CSV file"),
        ),
        NoText::Nul { line } => problem(
            &NUL_BYTE,
            Place::file(file).at_line(*line),
            Words::new(
                "The file holds a zero byte.",
                "text in UTF-8, UTF-16 with a byte order mark, or Windows-1252",
            ),
        ),
    };
    Error::Unreadable(Box::new(problem))
}

rule!(
    EMPTY,
    "file-empty",
    Error,
    "Looks for files that hold nothing but blank lines and delimiters.",
    "Without a header no column can be known.",
    "Put the column names into the first line, `reed` among them, or leave the file away."
);

/// Says that a file has no header.
pub(in crate::intake) fn empty(file: &str) -> Error {
    let words =
        Words::new("The file holds nothing.", "a first line of column names and a row below it");
    Error::Unreadable(Box::new(problem(&EMPTY, Place::file(file), words)))
}

rule!(
    NO_ROWS,
    "file-without-rows",
    Warning,
    "Looks for files with a header and no row below it.",
    "Nothing can be learned from it.",
    "Add a row, or leave it so until there is one."
);

/// Says that a file has only a header.
pub(in crate::intake) fn no_rows(ledger: &mut Ledger, table: &Table) {
    let words = Words::new("There is a header and no row below it.", "at least one row");
    ledger.file(&NO_ROWS, Place::file(&table.file).at_line(table.header_line), words);
}

rule!(
    NO_LOG,
    "log-not-found",
    Error,
    "Looks for the reeds file of a log.",
    "Every other file speaks of the pieces that it lists.",
    "Name the file reeds.csv, or say its name in study.toml: `[files]` and under it `reeds = \"name.csv\"`."
);

/// Says that a log has no reeds file.
pub(in crate::intake) fn no_log(place: &str, found: String) -> Error {
    let words = Words::new(found, "a folder with reeds.csv or reeds.parquet, or one such file");
    Error::Unreadable(Box::new(problem(&NO_LOG, Place::file(place), words)))
}

rule!(
    OUTSIDE_LOG,
    "file-outside-log",
    Error,
    "Looks where each file of the log lies: those that the study file names and links too.",
    "A log from elsewhere could otherwise have any file of the disk read and shown.",
    "Copy the file into the log's folder and name it as it is called there."
);

/// Refuses a file that does not lie inside the log's folder. Nothing is said of what it holds.
pub(in crate::intake) fn outside(place: Place, name: &str) -> Error {
    let words = Words::new(
        format!("{} does not lie inside the log's folder; it was not opened.", quoted(name)),
        "a file in the log's own folder",
    );
    Error::Unreadable(Box::new(problem(&OUTSIDE_LOG, place, words)))
}

rule!(
    NO_FILE,
    "file-not-regular",
    Error,
    "Looks whether each file of the log is an ordinary file.",
    "A folder holds no rows, and a pipe or a device might never end.",
    "Put an ordinary file under that name, or take the name away."
);

/// Refuses what is no file: a folder, a pipe, a device.
pub(in crate::intake) fn no_file(place: Place, kind: &str) -> Error {
    let words = Words::new(format!("Here is {kind}, not a file."), "an ordinary file");
    Error::Unreadable(Box::new(problem(&NO_FILE, place, words)))
}

/// Refuses a study file that names a file which is not there.
pub(in crate::intake) fn named_file_missing(place: Place, name: &str) -> Error {
    let found = format!("The log's folder has no file {}.", quoted(name));
    let words = Words::new(found, "the name of a file in the log's folder")
        .remedy("Correct the name under `[files]`, or take the line out.");
    Error::Unreadable(Box::new(problem(&NO_LOG, place, words)))
}

rule!(
    QUOTE_OPEN,
    "quote-not-closed",
    Error,
    "Looks for a quote that opens a cell and is never closed.",
    "Everything behind it would be one single cell.",
    "Close the quote on that line, or write two quotes where one belongs to the text."
);
rule!(
    TOO_MANY_COLUMNS,
    "too-many-columns",
    Error,
    "Counts the columns of the header, and the cells of each row.",
    "So wide a file is no log but a slip of the export.",
    "Delete the columns that hold nothing, or split the file."
);

/// Refuses a table that cannot be read as one.
pub(in crate::intake) fn table_shape(
    records: &Records,
    options: &ReadOptions,
) -> Result<(), Error> {
    let table = &records.table;
    let refuse = |problem: Problem| Err(Error::Unreadable(Box::new(problem)));
    let ReadOptions { max_columns, max_rows, max_cell, .. } = options;
    match records.excess {
        Some(Excess::Cells { line, cells }) => {
            let found = if table.header.is_empty() {
                format!("The header has {cells} columns.")
            } else {
                format!("The row has {cells} cells.")
            };
            let words = Words::new(found, format!("at most {max_columns} columns"));
            let place = Place::file(&table.file).at_line(line);
            return refuse(problem(&TOO_MANY_COLUMNS, place, words));
        }
        Some(Excess::Rows { line }) => {
            return Err(Error::Call(format!(
                "{}, line {line}: more than {max_rows} rows, which is more than a log can need. Split the file, or take out what is no log.",
                table.file
            )));
        }
        None => {}
    }
    if let Some(line) = records.open_quote {
        let words = Words::new(
            "A quote opens here and is never closed.",
            "a closing quote in the same cell",
        );
        return refuse(problem(&QUOTE_OPEN, Place::file(&table.file).at_line(line), words));
    }
    if table.header.is_empty() {
        return Err(empty(&table.file));
    }
    let mut names = table.header.iter().map(String::len).enumerate();
    if let Some((long, bytes)) = names.find(|(_, bytes)| bytes > max_cell) {
        let found = format!("The name of column {} is {bytes} bytes long.", long + 1);
        let words = Words::new(found, format!("at most {max_cell} bytes in a cell"));
        let place = Place::file(&table.file).at_line(table.header_line);
        return refuse(problem(&CELL_TOO_LONG, place, words));
    }
    Ok(())
}

rule!(
    CELL_TOO_LONG,
    "cell-too-long",
    Error,
    "Measures each cell and each line.",
    "A cell of that size is a slip: a missing quote, or a pasted document.",
    "Shorten the cell, or keep the text outside the log."
);

/// Refuses a text with a line that is too long.
pub(in crate::intake) fn lines(file: &str, text: &str, longest: usize) -> Result<(), Error> {
    let bytes = text.as_bytes();
    let mut start = 0;
    // from the farthest byte that a line may reach back to the last break before it: what ends there is no longer
    while let Some(reach) = bytes.get(start..).and_then(|rest| rest.get(..=longest)) {
        let Some(last) = reach.iter().rposition(|byte| matches!(byte, b'\n' | b'\r')) else {
            let found = format!("A line is over {longest} bytes long.");
            let words = Words::new(found, "a line for each row");
            let before = bytes.iter().take(start).filter(|byte| **byte == b'\n').count();
            let place = Place::file(file).at_line(before as u64 + 1);
            return Err(Error::Unreadable(Box::new(problem(&CELL_TOO_LONG, place, words))));
        };
        start += last + 1;
    }
    Ok(())
}

/// Says that a row was set aside because one of its cells is too long.
pub(in crate::intake) fn cell_too_long(
    ledger: &mut Ledger,
    table: &Table,
    row: usize,
    column: usize,
    limit: usize,
) {
    let bytes = table.raw(row, column).len();
    let found = format!(
        "The cell in column “{}” is {bytes} bytes long; the row was set aside.",
        table.heading(column)
    );
    ledger.row_aside(
        &CELL_TOO_LONG,
        table,
        row,
        Words::new(found, format!("at most {limit} bytes in a cell")),
    );
}

rule!(
    ROW_SHORT,
    "row-too-short",
    Warning,
    "Counts the cells of each row.",
    "The cells at the end are taken as missing; if a delimiter was lost, values stand in the wrong columns.",
    "Check that each value of the row stands under its own header."
);
rule!(
    ROW_LONG,
    "row-too-long",
    Error,
    "Counts the cells of each row.",
    "More cells than headers mostly mean a delimiter inside a value (`1,25`), and then every value behind it stands in the wrong column.",
    "Put the value that holds the delimiter into quotes, or give the extra cell a header."
);

/// Says that a row has too few or too many cells; the row is set aside when it has too many.
/// Answers whether it was.
pub(in crate::intake) fn ragged_row(ledger: &mut Ledger, table: &Table, ragged: &Ragged) -> bool {
    let width = table.width();
    let expected = format!("{}, as the header has", counted(width as f64, "cell"));
    if ragged.beyond.iter().all(|cell| cell.trim().is_empty()) {
        let found = format!(
            "The row has {}; the missing ones count as empty.",
            counted(ragged.cells as f64, "cell")
        );
        ledger.row(&ROW_SHORT, table, ragged.row, Words::new(found, expected));
        return false;
    }
    let beyond: Vec<String> = ragged.beyond.iter().take(3).map(|cell| quoted(cell)).collect();
    let found = format!(
        "The row has {}, {} beyond the header; it was set aside.",
        counted(ragged.cells as f64, "cell"),
        beyond.join(", ")
    );
    ledger.long_row_aside(
        &ROW_LONG,
        table,
        ragged.row,
        &ragged.beyond,
        Words::new(found, expected),
    );
    true
}

rule!(
    ROWS_ABOVE,
    "rows-above-header",
    Remark,
    "Looks for lines above the header that hold a title or the names of groups of columns.",
    "Taken for the header, they would leave every column without its name; they were set aside.",
    "Nothing; or, if one of them is the header, put the column names that are known into it."
);

/// Sets aside the records above the header.
pub(in crate::intake) fn rows_above(ledger: &mut Ledger, file: &str, text: &str, titles: Titles) {
    let line = |offset: usize| line_breaks(text.get(..offset).unwrap_or_default()) + 1;
    let header = line(titles.header);
    let found = format!(
        "The header was found on line {header}; what stands above it ({}) was set aside.",
        quoted(
            &titles
                .records
                .iter()
                .flat_map(|(_, cells)| cells)
                .filter(|cell| !cell.trim().is_empty())
                .cloned()
                .collect::<Vec<_>>()
                .join(" ")
        )
    );
    for (offset, cells) in titles.records {
        ledger.aside(SetAside {
            file: file.to_owned(),
            line: line(offset),
            column: None,
            code: ROWS_ABOVE.code,
            reason: "It stands above the header.".to_owned(),
            text: cells,
        });
    }
    let place = Place::file(file).at_line(header);
    ledger.file(&ROWS_ABOVE, place, Words::new(found, "the column names in the first line"));
}

rule!(
    ENCODING_ASSUMED,
    "encoding-assumed",
    Remark,
    "Says when a file is not UTF-8 and was read as Windows-1252.",
    "In another encoding the letters beyond plain English would be wrong.",
    "Look at a name with an umlaut or accent; if it is wrong, save the file as CSV (UTF-8)."
);
rule!(
    ENCODINGS_MIXED,
    "encodings-mixed",
    Warning,
    "Finds files that hold both UTF-8 and Windows-1252.",
    "Such a file was pasted together from two; the same name may be spelled in two ways.",
    "Save the file once as CSV (UTF-8) and look at the names."
);
rule!(
    CHARACTERS_LOST,
    "characters-lost",
    Error,
    "Finds characters that could not be decoded.",
    "They stand as a replacement mark, so that names may not match.",
    "Save the file again as CSV (UTF-8)."
);

/// Says how a file's bytes were read, where that was not plain.
pub(in crate::intake) fn encoding(ledger: &mut Ledger, file: &str, decoded: &Decoded) {
    if let Some((utf_8, windows)) = decoded.mixed {
        let found = format!(
            "Line {utf_8} is in UTF-8 and line {windows} in Windows-1252; each line was read by itself."
        );
        let place = Place::file(file).at_line(windows);
        ledger.file(&ENCODINGS_MIXED, place, Words::new(found, "one encoding"));
    } else if let Some(line) = decoded.assumed_from {
        let place = Place::file(file).at_line(line);
        let words = Words::new("The file is not UTF-8; it was read as Windows-1252.", "UTF-8");
        ledger.file(&ENCODING_ASSUMED, place, words);
    }
    if decoded.damaged {
        let words = Words::new("Some characters could not be decoded.", decoded.encoding);
        ledger.file(&CHARACTERS_LOST, Place::file(file), words);
    }
}

rule!(
    DELIMITER_DOUBTFUL,
    "delimiter-doubtful",
    Warning,
    "Counts commas, semicolons, tabs and bars in the header and the lines below it.",
    "With the wrong delimiter the cells are cut in the wrong places.",
    "Put headers that hold a delimiter into quotes, or begin the file with a line `sep=;`."
);

/// Says that two delimiters fit equally well.
pub(in crate::intake) fn delimiter_doubtful(ledger: &mut Ledger, table: &Table) {
    let name = delimiter_name(table.delimiter);
    let found = format!("Two delimiters occur equally often; the file was read with the {name}.");
    let place = Place::file(&table.file).at_line(table.header_line);
    ledger.file(&DELIMITER_DOUBTFUL, place, Words::new(found, "one delimiter in the header"));
}

fn delimiter_name(delimiter: u8) -> &'static str {
    match delimiter {
        b';' => "semicolon",
        b'\t' => "tab",
        b'|' => "bar",
        _ => "comma",
    }
}

rule!(
    LOG_FILE_CHOSEN,
    "log-file-chosen",
    Remark,
    "Says when the only table of a folder was taken as the reeds file.",
    "The file has another name than a log's files have.",
    "If that is not the list of pieces, say which file is: `[files]` and under it `reeds = \"name.csv\"` in study.toml."
);

/// Says that a folder's only table is taken as its reeds file.
pub(in crate::intake) fn log_file_chosen(ledger: &mut Ledger, file: &str) {
    let words = Words::new("The folder's only table was taken as the list of pieces.", "reeds.csv");
    ledger.file(&LOG_FILE_CHOSEN, Place::file(file), words);
}

rule!(
    FILE_NOT_READ,
    "file-not-read",
    Remark,
    "Says which CSV and Parquet files of the folder are no part of the log.",
    "A play log under another name would be passed over in silence.",
    "If it belongs to the log, say what it is in study.toml: `[files]` and under it `ratings = \"name.csv\"`."
);

/// Says that a table of the folder was not read.
pub(in crate::intake) fn not_read(ledger: &mut Ledger, file: &str) {
    let words = Words::new(
        "The file was not read: its name is none that a log's files have.",
        "reeds, ratings, lots, profile or readings, as .csv or .parquet",
    );
    ledger.file(&FILE_NOT_READ, Place::file(file), words);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn line_of(refused: Result<(), Error>) -> Option<u64> {
        match refused {
            Err(Error::Unreadable(problem)) => problem.place.line,
            _ => None,
        }
    }

    #[test]
    fn a_line_may_be_as_long_as_is_allowed_and_no_longer() {
        assert_eq!(line_of(lines("reeds.csv", "a\nfour\r\nfour", 4)), None);
        assert_eq!(line_of(lines("reeds.csv", "a\nfour\r\nfives", 4)), Some(3));
        assert_eq!(line_of(lines("reeds.csv", "fives\n", 4)), Some(1));
        assert_eq!(line_of(lines("reeds.csv", "", 0)), None);
    }

    proptest! {
        #[test]
        fn the_first_line_that_is_too_long_is_named(text in "[a\n\r]{0,40}", longest in 0_usize..6) {
            let is_long = |line: &str| line.split('\r').any(|part| part.len() > longest);
            let expected = text.split('\n').position(is_long).map(|before| before as u64 + 1);
            prop_assert_eq!(line_of(lines("reeds.csv", &text, longest)), expected);
        }
    }
}
