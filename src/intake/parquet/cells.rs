//! A decoded Parquet table as the CSV text that a spreadsheet would have written of it.

use std::fmt::Write;

use jiff::Span;
use jiff::civil::Date;
use polars::prelude::{
    BooleanChunked, Column, DataFrame, DataType, Float32Chunked, Float64Chunked, Int64Chunked,
    Series, StringChunked, TimeUnit, UInt64Chunked,
};

use super::Fault;

/// What pandas calls the labels of its rows where they have no name; they are no column of the table that its user sees.
const ROW_NUMBERS: &str = "__index_level_";
const SECONDS_OF_A_DAY: i64 = 86_400;

/// The table as text.
pub(super) struct Text {
    pub cells: String,
    /// Where each row begins, the header first.
    pub row_starts: Vec<usize>,
    /// Which columns hold numbers, so that no decimal mark is to be found.
    pub numbers: Vec<bool>,
    /// Names of columns that were left out because they number the rows.
    pub row_numbers: Vec<String>,
}

/// Writes the table down. The limit is one of bytes.
pub(super) fn text(frame: DataFrame, rows: usize, limit: u64) -> Result<Text, Fault> {
    let (numbering, own): (Vec<&Column>, Vec<&Column>) =
        frame.columns().iter().partition(|column| column.name().starts_with(ROW_NUMBERS));
    let mut columns: Vec<Written> =
        own.iter().map(|column| Written::of(column, rows)).collect::<Result<_, _>>()?;
    // numbers and days are short; a text may be long, and stored once for all its rows
    let texts: u64 = columns.iter().map(|column| column.cells.bytes_of_text()).sum();
    if texts > limit {
        return Err(Fault::TooLarge { limit });
    }
    // a header may not end with columns that have no name
    columns.sort_by_key(|column| !column.name.is_empty());
    let mut text = Text {
        cells: String::new(),
        row_starts: Vec::with_capacity(rows + 1),
        numbers: columns.iter().map(|column| column.cells.are_numbers()).collect(),
        row_numbers: numbering.iter().map(|column| column.name().to_string()).collect(),
    };
    if columns.iter().all(|column| column.name.trim().is_empty()) {
        return Ok(text);
    }
    text.line(columns.iter(), |column, line| quoted(line, &column.name));
    let mut cell = String::new();
    for row in 0..rows {
        text.line(columns.iter(), |column, line| {
            cell.clear();
            column.cells.write(row, &mut cell);
            quoted(line, &cell);
        });
    }
    Ok(text)
}

impl Text {
    fn line<'a>(
        &mut self,
        columns: impl Iterator<Item = &'a Written>,
        mut write: impl FnMut(&Written, &mut String),
    ) {
        self.row_starts.push(self.cells.len());
        for (place, column) in columns.enumerate() {
            if place > 0 {
                self.cells.push(',');
            }
            write(column, &mut self.cells);
        }
        self.cells.push('\n');
    }
}

/// RFC 4180: a cell that holds the delimiter, a quote or a line break stands in quotes.
fn quoted(line: &mut String, cell: &str) {
    if !cell.contains([',', '"', '\n', '\r']) {
        line.push_str(cell);
        return;
    }
    line.push('"');
    for (place, part) in cell.split('"').enumerate() {
        line.push_str(if place > 0 { "\"\"" } else { "" });
        line.push_str(part);
    }
    line.push('"');
}

/// One column, ready to be written.
struct Written {
    name: String,
    cells: Cells,
}

enum Cells {
    Blank,
    YesNo(BooleanChunked),
    Whole(Int64Chunked),
    Large(UInt64Chunked),
    Single(Float32Chunked),
    Double(Float64Chunked),
    Text(StringChunked),
    /// Days since 1970-01-01.
    Day(Int64Chunked),
    /// So many ticks of a second since 1970-01-01.
    Moment(Int64Chunked, i64),
    /// Nanoseconds since midnight.
    Clock(Int64Chunked),
}

impl Written {
    fn of(column: &Column, rows: usize) -> Result<Written, Fault> {
        let series = column.as_materialized_series().rechunk();
        let name = series.name().to_string();
        if series.len() != rows {
            return Err(Fault::Damaged("a column has more or fewer cells than rows".to_owned()));
        }
        let cells = Cells::of(&series)
            .ok_or_else(|| Fault::Column { name: name.clone(), holds: kind(series.dtype()) })?;
        Ok(Written { name, cells })
    }
}

/// What a column of an unwanted type holds, in words.
fn kind(dtype: &DataType) -> String {
    match dtype {
        DataType::Binary => "bytes that are no text".to_owned(),
        DataType::Datetime(_, Some(zone)) => format!("times of the zone {zone}"),
        other => format!("values of the type {other:?}"),
    }
}

impl Cells {
    /// None where the type has no text that a log could hold.
    fn of(series: &Series) -> Option<Cells> {
        let whole = || series.cast(&DataType::Int64).ok()?.i64().ok().cloned();
        let text = || series.cast(&DataType::String).ok()?.str().ok().cloned();
        Some(match series.dtype() {
            DataType::Null => Cells::Blank,
            DataType::Boolean => Cells::YesNo(series.bool().ok()?.clone()),
            DataType::UInt64 => Cells::Large(series.u64().ok()?.clone()),
            dtype if dtype.is_integer() => Cells::Whole(whole()?),
            DataType::Float32 => Cells::Single(series.f32().ok()?.clone()),
            DataType::Float64 => Cells::Double(series.f64().ok()?.clone()),
            DataType::Decimal(..) => {
                Cells::Double(series.cast(&DataType::Float64).ok()?.f64().ok()?.clone())
            }
            DataType::String => Cells::Text(series.str().ok()?.clone()),
            DataType::Categorical(..) | DataType::Enum(..) => Cells::Text(text()?),
            // older writers do not say of text that it is text
            DataType::Binary => Cells::Text(text_of_bytes(series)?),
            DataType::Date => Cells::Day(whole()?),
            DataType::Datetime(unit, zone) => {
                let is_plain = zone.as_ref().is_none_or(|zone| zone.as_str() == "UTC");
                is_plain.then_some(Cells::Moment(whole()?, ticks(*unit)))?
            }
            DataType::Time => Cells::Clock(whole()?),
            _ => return None,
        })
    }

    fn are_numbers(&self) -> bool {
        matches!(self, Cells::Whole(_) | Cells::Large(_) | Cells::Single(_) | Cells::Double(_))
    }

    fn bytes_of_text(&self) -> u64 {
        match self {
            Cells::Text(cells) => cells.iter().flatten().map(|cell| cell.len() as u64).sum(),
            _ => 0,
        }
    }

    /// Nothing where the cell is missing.
    fn write(&self, row: usize, cell: &mut String) {
        let written = match self {
            Cells::Blank => Ok(()),
            Cells::YesNo(cells) => put(cell, cells.get(row)),
            Cells::Whole(cells) => put(cell, cells.get(row)),
            Cells::Large(cells) => put(cell, cells.get(row)),
            // the shortest digits that read back to the same number
            Cells::Single(cells) => put(cell, cells.get(row).filter(|value| !value.is_nan())),
            Cells::Double(cells) => put(cell, cells.get(row).filter(|value| !value.is_nan())),
            Cells::Text(cells) => put(cell, cells.get(row)),
            Cells::Day(cells) => put(cell, cells.get(row).map(day)),
            Cells::Moment(cells, ticks) => put(cell, cells.get(row).map(|at| moment(at, *ticks))),
            Cells::Clock(cells) => put(cell, cells.get(row).map(|at| clock(at / 1_000_000_000))),
        };
        // a text can always be written to
        debug_assert!(written.is_ok());
    }
}

fn put(cell: &mut String, value: Option<impl std::fmt::Display>) -> std::fmt::Result {
    value.map_or(Ok(()), |value| write!(cell, "{value}"))
}

fn text_of_bytes(series: &Series) -> Option<StringChunked> {
    let bytes = series.binary().ok()?;
    let texts: Option<Vec<Option<&str>>> =
        bytes.iter().map(|cell| cell.map(std::str::from_utf8).transpose().ok()).collect();
    Some(texts?.into_iter().collect())
}

fn ticks(unit: TimeUnit) -> i64 {
    match unit {
        TimeUnit::Nanoseconds => 1_000_000_000,
        TimeUnit::Microseconds => 1_000_000,
        TimeUnit::Milliseconds => 1_000,
    }
}

/// ISO 8601; the bare number where it is no day of the calendar, which the check of dates then points out.
fn day(days: i64) -> String {
    let epoch = Date::constant(1970, 1, 1);
    let date = Span::new().try_days(days).ok().and_then(|span| epoch.checked_add(span).ok());
    date.map_or_else(|| days.to_string(), |date| date.to_string())
}

/// A day, with its time where that is not midnight: tables of dates are often kept as times.
fn moment(at: i64, ticks: i64) -> String {
    let seconds = at.div_euclid(ticks);
    let date = day(seconds.div_euclid(SECONDS_OF_A_DAY));
    match seconds.rem_euclid(SECONDS_OF_A_DAY) {
        0 => date,
        time => format!("{date} {}", clock(time)),
    }
}

fn clock(seconds: i64) -> String {
    format!("{:02}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}
