//! Parquet to a table of cells: each column becomes the text that the same table has as CSV, so that everything
//! behind it (headers, units, dates, checks, messages) is the same for both.
//!
//! A Parquet file says of itself how large it is and where its parts lie, and its decoder believes it. So `footer`
//! first holds that account against the bytes that are there and against a budget, and only then is the file decoded.

mod cells;
mod footer;

use std::cell::Cell;
use std::io::Cursor;
use std::panic::{self, AssertUnwindSafe};
use std::path::Path;
use std::sync::Once;

use polars::prelude::{DataFrame, PolarsResult};
use polars_io::SerReader;
use polars_io::parquet::read::{ParallelStrategy, ParquetReader};

use super::ReadOptions;
use super::dialect::Dialect;
use super::encoding::NoText;
use super::records::{self, Records};
use super::text_column::MOST_BYTES;

/// What a small file may take when it is unpacked, and what each of its bytes adds. Of a few bytes a Parquet file makes
/// as many rows as it likes; a log repeats itself a hundredfold at most (from memory).
const FEWEST_BYTES: u64 = 256 << 20;
const BYTES_OF_ONE: u64 = 64;
/// A cell takes so many bytes in memory whatever it holds.
const BYTES_OF_A_CELL: u64 = 16;

/// Why a Parquet file cannot be read.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// What does not hold, as a clause: `it ends in the middle of a page`.
    Damaged(String),
    /// A column whose cells are no numbers, text, dates, times or yes and no.
    Column {
        name: String,
        holds: String,
    },
    /// Two columns of one name.
    Twice(String),
    /// It would take more memory than a file of its size may.
    TooLarge {
        limit: u64,
    },
    NoText(NoText),
}

/// Whether a file is Parquet by its ending or by its bytes.
pub(super) fn is_parquet(path: &Path, bytes: &[u8]) -> bool {
    has_ending(path) || (bytes.starts_with(footer::MAGIC) && bytes.ends_with(footer::MAGIC))
}

pub(super) fn has_ending(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("parquet"))
}

/// A file as a table, and what of it is none of its columns.
#[derive(Debug)]
pub(super) struct Opened {
    pub records: Records,
    /// Names of columns that hold the numbers of the rows, put there by the program that wrote the file.
    pub row_numbers: Vec<String>,
}

/// Reads a file as a table. A row's line is its place below the header, which is line 1, as a spreadsheet shows it.
pub(super) fn read(file: &str, bytes: &[u8], options: &ReadOptions) -> Result<Opened, Fault> {
    let mut budget = Budget::of(bytes.len());
    let text = undisturbed(|| {
        let rows = footer::check(bytes, &mut budget)?;
        let frame = decode(bytes).map_err(|error| Fault::Damaged(clause(&error.to_string())))?;
        cells::text(frame, rows, budget.limit)
    })
    .unwrap_or_else(|| Err(Fault::Damaged("it contradicts itself".to_owned())))?;
    let dialect = Dialect { delimiter: b',', start: 0, doubtful: false };
    if let Some(at) = text.cells.find('\0') {
        let line = text.row_starts.partition_point(|&start| start <= at) as u64;
        return Err(Fault::NoText(NoText::Nul { line }));
    }
    if text.cells.len() as u64 > MOST_BYTES {
        return Err(Fault::TooLarge { limit: MOST_BYTES });
    }
    let mut records = records::read(file, text.cells, dialect, options);
    records.table.count_lines_by(&text.row_starts);
    records.table.numbers = text.numbers;
    Ok(Opened { records, row_numbers: text.row_numbers })
}

fn decode(bytes: &[u8]) -> PolarsResult<DataFrame> {
    // on this thread alone, so that a panic is caught and silenced here
    ParquetReader::new(Cursor::new(bytes)).read_parallel(ParallelStrategy::None).finish()
}

/// The first line of another program's message, short, as a clause.
fn clause(message: &str) -> String {
    message.lines().next().unwrap_or_default().chars().take(200).collect()
}

/// Bytes that may still be taken.
struct Budget {
    limit: u64,
    left: u64,
}

impl Budget {
    fn of(file_bytes: usize) -> Budget {
        let limit = FEWEST_BYTES + BYTES_OF_ONE * file_bytes as u64;
        Budget { limit, left: limit }
    }

    fn spend(&mut self, bytes: u64) -> Result<(), Fault> {
        match self.left.checked_sub(bytes) {
            Some(left) => self.left = left,
            None => return Err(Fault::TooLarge { limit: self.limit }),
        }
        Ok(())
    }
}

thread_local! {
    static SILENT: Cell<bool> = const { Cell::new(false) };
}
static SILENCER: Once = Once::new();

/// Runs the decoder; none where it panicked.
///
/// Polars panics on some damaged files (a page of another encoding than its header says, an offset beyond its column) instead of
/// giving an error. What it was building is thrown away with the panic, so nothing half made is left behind. The hook keeps the
/// panic's own message, which would tell a reader nothing, from standard error, on this thread and for this call alone.
fn undisturbed<T>(work: impl FnOnce() -> T) -> Option<T> {
    SILENCER.call_once(|| {
        let usual = panic::take_hook();
        panic::set_hook(Box::new(move |panic| {
            if !SILENT.get() {
                usual(panic);
            }
        }));
    });
    SILENT.set(true);
    let done = panic::catch_unwind(AssertUnwindSafe(work));
    SILENT.set(false);
    done.ok()
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
