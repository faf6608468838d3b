//! A file to a table of cells whose shape was checked, with the rows that can be used.

use std::path::Path;

use super::checks::{files as checks, parquet as parquet_checks};
use super::context::Sheet;
use super::files::{sha256, shown_name};
use super::ledger::Ledger;
use super::records::Records;
use super::text_column::MOST_BYTES;
use super::{PlainTable, ReadOptions, access, dialect, encoding, parquet, records, titles};
use crate::disk;
use crate::problem::{Error, Place, Severity};
use crate::study::FileRead;

/// Reads a table, CSV or Parquet, with the rows that can be used and its entry in the account.
pub(super) fn read(
    ledger: &mut Ledger,
    path: &Path,
    shown: &str,
    options: &ReadOptions,
) -> Result<(Sheet, FileRead), Error> {
    let file = shown_name(shown, path);
    let bytes = disk::read(path, options.max_bytes)?;
    let sha256 = sha256(&bytes);
    let opened = if parquet::is_parquet(path, &bytes) {
        from_parquet(ledger, &file, &bytes, options)?
    } else {
        from_text(ledger, (path, &file), bytes, options)?
    };
    let table = opened.records.table;
    if table.rows() == 0 {
        checks::no_rows(ledger, &table);
    }
    let mut aside = vec![false; table.rows()];
    for ragged in &opened.records.ragged {
        let is_aside = checks::ragged_row(ledger, &table, ragged);
        if let Some(aside) = aside.get_mut(ragged.row) {
            *aside = is_aside;
        }
    }
    let rows_to_check = if table.longest_cell() > options.max_cell { table.rows() } else { 0 };
    for (row, aside) in aside.iter_mut().enumerate().take(rows_to_check) {
        let long = |column: &usize| table.raw(row, *column).len() > options.max_cell;
        if !*aside && let Some(column) = (0..table.width()).find(long) {
            checks::cell_too_long(ledger, &table, row, column, options.max_cell);
            *aside = true;
        }
    }
    let read = FileRead {
        name: file,
        sha256,
        encoding: opened.encoding.to_owned(),
        delimiter: opened.delimiter,
        rows_read: table.rows() + opened.rows_above,
        rows_used: 0,
        rows_set_aside: 0,
    };
    let rows = (0..).zip(aside).filter(|(_, aside)| !aside);
    let usable = rows.map(|(row, _)| row).collect();
    Ok((Sheet { table, usable }, read))
}

/// Reads any table as it stands. A row that does not fit the header is an error here.
pub(super) fn plain(path: &Path, options: &ReadOptions) -> Result<PlainTable, Error> {
    let place = Place::file(shown_name("", path));
    access::regular(path, place)?;
    let mut ledger = Ledger::new(options.kept_of_a_kind);
    let (sheet, _) = read(&mut ledger, path, "", options)?;
    let (problems, _) = ledger.close();
    if let Some(wrong) = problems.into_iter().find(|one| one.severity == Severity::Error) {
        return Err(Error::Unreadable(Box::new(wrong)));
    }
    let Sheet { table, usable } = sheet;
    let row = |row: u32| (table.line(row as usize), table.row_cells(row as usize));
    Ok(PlainTable {
        rows: usable.into_iter().map(row).collect(),
        file: table.file,
        header: table.header,
    })
}

/// A file's records and how they were found.
struct Opened {
    records: Records,
    encoding: &'static str,
    delimiter: Option<char>,
    /// Rows above the header, which were set aside.
    rows_above: usize,
}

fn from_parquet(
    ledger: &mut Ledger,
    file: &str,
    bytes: &[u8],
    options: &ReadOptions,
) -> Result<Opened, Error> {
    let opened =
        parquet::read(file, bytes, options).map_err(|fault| parquet_checks::unread(file, fault))?;
    checks::table_shape(&opened.records, options)?;
    for name in &opened.row_numbers {
        parquet_checks::row_numbers(ledger, file, name);
    }
    Ok(Opened { records: opened.records, encoding: "Parquet", delimiter: None, rows_above: 0 })
}

fn from_text(
    ledger: &mut Ledger,
    (path, file): (&Path, &str),
    bytes: Vec<u8>,
    options: &ReadOptions,
) -> Result<Opened, Error> {
    let decoded = encoding::decode(bytes).map_err(|reason| checks::no_text(file, &reason))?;
    // what is two bytes a letter here may be one in the file
    if decoded.text.len() as u64 > MOST_BYTES {
        return Err(Error::Large { path: path.to_path_buf(), most: MOST_BYTES });
    }
    checks::encoding(ledger, file, &decoded);
    checks::lines(file, &decoded.text, options.max_line)?;
    let titles = titles::find(&decoded.text);
    let dialect = dialect::find_from(&decoded.text, titles.header);
    let rows_above = titles.records.len();
    if rows_above > 0 {
        checks::rows_above(ledger, file, &decoded.text, titles);
    }
    let records = records::read(file, decoded.text, dialect, options);
    checks::table_shape(&records, options)?;
    if dialect.doubtful {
        checks::delimiter_doubtful(ledger, &records.table);
    }
    let delimiter = Some(dialect.delimiter as char);
    Ok(Opened { records, encoding: decoded.encoding, delimiter, rows_above })
}
