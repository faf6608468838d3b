//! Text to a table of cells, column by column, with the place of each record in
//! the file, so that a problem can name the line and show it.
//!
//! Where no cell is quoted a record ends where a line does. A large text is then
//! parted at ends of lines, and its parts are read at once.

use std::ops::Range;

use csv::{ByteRecord, ReaderBuilder};
use rayon::prelude::*;

use super::ReadOptions;
use super::dialect::Dialect;
use super::encoding::line_breaks;
use super::text_column::TextColumn;
use crate::whole;

/// Bytes; of a shorter text a part is not worth another thread.
const FEWEST_BYTES: usize = 1 << 20;
/// After so many rows it is known about how much room a column takes.
const ROWS_TO_JUDGE_BY: usize = 1024;

/// One file's header and cells, word for word.
#[derive(Debug, Default)]
pub(super) struct Table {
    /// The file's name as problems print it.
    pub file: String,
    pub delimiter: u8,
    pub header: Vec<String>,
    /// Line of the header.
    pub header_line: u64,
    source: String,
    /// One a name of the header.
    columns: Vec<TextColumn>,
    /// Where each row's record begins in `source`.
    offsets: Vec<usize>,
    lines: Vec<u64>,
    header_offset: usize,
    /// Columns that a file with types says to hold numbers, always with a decimal point; a text file says it of none.
    pub numbers: Vec<bool>,
}

/// A row that does not have the header's number of cells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Ragged {
    pub row: usize,
    pub cells: usize,
    /// The cells beyond the header's; none of them blank where there are any.
    pub beyond: Vec<String>,
}

/// More than any log holds; the records behind it are not read, so that no file asks for more memory than a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Excess {
    /// Cells of one record up to its last that holds anything.
    Cells {
        line: u64,
        cells: usize,
    },
    Rows {
        line: u64,
    },
}

/// What reading the records showed beside the cells.
#[derive(Debug, Default)]
pub(super) struct Records {
    pub table: Table,
    pub ragged: Vec<Ragged>,
    pub excess: Option<Excess>,
    /// Line on which a quote opens that is never closed.
    pub open_quote: Option<u64>,
}

/// Reads the records of a text. Blank lines and records of blank cells hold nothing and are no rows.
pub(super) fn read(file: &str, source: String, dialect: Dialect, options: &ReadOptions) -> Records {
    let worthwhile = source.len() / FEWEST_BYTES;
    let parts = rayon::current_num_threads().min(worthwhile).max(1);
    read_in_parts(file, source, dialect, options, parts)
}

fn read_in_parts(
    file: &str,
    source: String,
    dialect: Dialect,
    options: &ReadOptions,
    parts: usize,
) -> Records {
    let mut head = Building::new(file, &source, dialect);
    let after_header = head.read_on(dialect.start..source.len(), options, Until::Header);
    let first = head.skip_breaks(after_header);
    // a quote may hold an end of a line
    let mut ranges = ranges(&source, first, if head.is_quoted { 1 } else { parts });
    let breaks: Vec<u64> = ranges.par_iter().map(|part| breaks_in(&source, part.clone())).collect();
    if breaks.iter().sum::<u64>() >= options.max_rows as u64 {
        // where there may be more rows than are read, they are counted as they are read
        ranges = self::ranges(&source, first, 1);
    }
    let mut line = head.line_of(first);
    let mut each: Vec<Building> = Vec::with_capacity(ranges.len());
    for (part, breaks) in ranges.iter().zip(breaks) {
        // the other parts are put behind the first
        let room_to = if each.is_empty() { source.len() } else { part.end };
        each.push(Building { room_to, ..head.part_from(part.start, line) });
        line += breaks;
    }
    each.par_iter_mut().zip(ranges).for_each(|(building, part)| {
        building.read_on(part, options, Until::End);
    });
    for part in each {
        if head.excess.is_none() {
            head.append(part);
        }
    }
    let open_quote = head.open_quote();
    let Building { mut table, ragged, excess, .. } = head;
    table.source = source;
    Records { table, ragged, excess, open_quote }
}

/// The text from an offset on in so many ranges that end with a line, fewer where lines are long.
fn ranges(source: &str, from: usize, parts: usize) -> Vec<Range<usize>> {
    let bytes = source.as_bytes();
    let mut ranges = Vec::new();
    let mut start = from;
    for part in 1..parts {
        let about = (from + (bytes.len() - from) / parts * part).max(start);
        let feed = bytes.iter().skip(about).position(|byte| *byte == b'\n');
        if let Some(feed) = feed {
            ranges.push(start..about + feed + 1);
            start = about + feed + 1;
        }
    }
    ranges.push(start..bytes.len());
    ranges
}

/// The range begins and ends beside a break or where the text does, so never within a character.
fn breaks_in(source: &str, range: Range<usize>) -> u64 {
    line_breaks(source.get(range).unwrap_or_default())
}

/// Where reading stops.
#[derive(PartialEq, Eq)]
enum Until {
    Header,
    End,
}

struct Building<'a> {
    table: Table,
    ragged: Vec<Ragged>,
    excess: Option<Excess>,
    source: &'a str,
    is_quoted: bool,
    /// Line of `counted_to`.
    line: u64,
    counted_to: usize,
    last_offset: usize,
    /// Where reading began in the text, and up to where room is made for what is read.
    start: usize,
    room_to: usize,
}

impl<'a> Building<'a> {
    fn new(file: &str, source: &'a str, dialect: Dialect) -> Self {
        let table =
            Table { file: file.to_owned(), delimiter: dialect.delimiter, ..Table::default() };
        Building {
            table,
            ragged: Vec::new(),
            excess: None,
            source,
            is_quoted: source.as_bytes().contains(&b'"'),
            // titles may stand above
            line: 1 + breaks_in(source, 0..dialect.start),
            counted_to: dialect.start,
            last_offset: 0,
            start: 0,
            room_to: source.len(),
        }
    }

    /// The same table without rows, for the part of the text that begins here, with this line.
    fn part_from(&self, start: usize, line: u64) -> Self {
        let table = Table {
            delimiter: self.table.delimiter,
            header: self.table.header.clone(),
            columns: self.table.header.iter().map(|_| TextColumn::default()).collect(),
            ..Table::default()
        };
        Building { table, ragged: Vec::new(), start, line, counted_to: start, ..*self }
    }

    /// Reads records of a range of the text; answers where the next one begins.
    fn read_on(&mut self, range: Range<usize>, options: &ReadOptions, until: Until) -> usize {
        self.start = range.start;
        // from the end of the line before: a reader takes a byte order mark off the text that it begins with, which is right for the header alone
        let bytes = self.source.as_bytes();
        let before = range
            .start
            .checked_sub(1)
            .filter(|at| until == Until::End && matches!(bytes.get(*at), Some(b'\r' | b'\n')));
        let range = before.unwrap_or(range.start)..range.end;
        let mut reader = ReaderBuilder::new()
            .delimiter(self.table.delimiter)
            .has_headers(false)
            .flexible(true)
            .buffer_capacity(1 << 16)
            .from_reader(bytes.get(range.clone()).unwrap_or_default());
        let mut record = ByteRecord::new();
        // reading from memory cannot fail, and bytes are not checked for encoding
        while matches!(reader.read_byte_record(&mut record), Ok(true)) {
            let begin = range.start + whole::size(record.position().map_or(0, csv::Position::byte));
            self.excess = self.excess(&record, begin, options);
            if self.excess.is_some() {
                break;
            }
            self.record(&record, begin);
            if until == Until::Header && !self.table.header.is_empty() {
                return range.start + whole::size(reader.position().byte());
            }
        }
        range.end
    }

    /// As the rows up to here are, so are most of the others: all columns together get a tenth more than there is to read.
    fn make_room(&mut self, offset: usize) {
        let read = offset.saturating_sub(self.start).max(1);
        let times = 1.1 * (self.room_to - self.start) as f64 / read as f64;
        self.table.columns.iter_mut().for_each(|column| column.reserve_in_all(times));
        let more = whole::part(self.table.rows() as f64 * (times - 1.0));
        self.table.offsets.reserve_exact(more);
        self.table.lines.reserve_exact(more);
    }

    /// The rows of the part that follows.
    fn append(&mut self, part: Building) {
        let rows = self.table.rows();
        let pairs = self.table.columns.par_iter_mut().zip(part.table.columns);
        pairs.for_each(|(column, more)| column.append(more));
        behind(&mut self.table.offsets, part.table.offsets);
        behind(&mut self.table.lines, part.table.lines);
        let moved = part.ragged.into_iter().map(|one| Ragged { row: rows + one.row, ..one });
        self.ragged.extend(moved);
        self.excess = part.excess;
        // a part without records leaves the last one where it was
        if part.last_offset > self.last_offset {
            (self.line, self.counted_to) = (part.line, part.counted_to);
            self.last_offset = part.last_offset;
        }
    }

    fn excess(&self, record: &ByteRecord, from: usize, options: &ReadOptions) -> Option<Excess> {
        let is_full = self.table.rows() >= options.max_rows;
        if record.len() <= options.max_columns && !is_full {
            return None;
        }
        let cells = record.iter().rposition(|cell| !is_blank(cell))? + 1;
        let line = self.line_of(self.skip_breaks(from));
        if cells > options.max_columns {
            return Some(Excess::Cells { line, cells });
        }
        is_full.then_some(Excess::Rows { line })
    }

    fn record(&mut self, record: &ByteRecord, from: usize) {
        let offset = self.skip_breaks(from);
        self.count_lines(from, offset);
        if record.iter().all(is_blank) {
            return;
        }
        self.last_offset = offset;
        if self.table.header.is_empty() {
            self.header(record, offset);
        } else {
            self.row(record, offset);
        }
    }

    /// The csv reader leaves the end of a line, and blank lines, to the record that follows.
    fn skip_breaks(&self, from: usize) -> usize {
        let rest = self.source.bytes().skip(from);
        from + rest.take_while(|byte| matches!(byte, b'\r' | b'\n')).count()
    }

    /// Counts the lines up to a record, which the reader left off before at `from`. Where no cell is quoted none holds a break, so that those between the records are all.
    fn count_lines(&mut self, from: usize, offset: usize) {
        if !self.is_quoted && from > self.counted_to {
            // the reader stands behind the break that ends a record, or within it
            self.counted_to = from - 1;
        }
        self.line = self.line_of(offset);
        self.counted_to = offset;
    }

    /// The line on which an offset lies that was not passed yet.
    fn line_of(&self, offset: usize) -> u64 {
        self.line + breaks_in(self.source, self.counted_to..offset)
    }

    fn header(&mut self, record: &ByteRecord, offset: usize) {
        let mut header: Vec<String> = record.iter().map(lossless).collect();
        while header.last().is_some_and(|name| name.trim().is_empty()) {
            header.pop();
        }
        self.table.columns = header.iter().map(|_| TextColumn::default()).collect();
        self.table.header = header;
        self.table.header_line = self.line;
        self.table.header_offset = offset;
    }

    fn row(&mut self, record: &ByteRecord, offset: usize) {
        // before this row, which may be as long as all the others
        if self.table.rows() == ROWS_TO_JUDGE_BY {
            self.make_room(offset);
        }
        let table = &mut self.table;
        let width = table.header.len();
        // every field is cut from valid UTF-8 at ASCII bytes
        let cells = std::str::from_utf8(record.as_slice()).unwrap_or_default();
        for (at, column) in table.columns.iter_mut().enumerate() {
            column.push(record.range(at).and_then(|range| cells.get(range)).unwrap_or_default());
        }
        table.offsets.push(offset);
        table.lines.push(self.line);
        let beyond = record.iter().skip(width);
        if record.len() < width || beyond.clone().any(|cell| !is_blank(cell)) {
            let beyond = beyond.map(lossless).collect();
            self.ragged.push(Ragged { row: table.lines.len() - 1, cells: record.len(), beyond });
        }
    }

    /// A quote that is open at the end of the text opened in the last record.
    fn open_quote(&self) -> Option<u64> {
        let rest = self.source.get(self.last_offset..)?;
        let opened = open_at_end(rest, self.table.delimiter)?;
        Some(self.line + line_breaks(rest.get(..opened)?))
    }
}

/// What was read apart, behind what there is.
fn behind<T>(all: &mut Vec<T>, more: Vec<T>) {
    if all.is_empty() {
        *all = more;
    } else {
        all.extend(more);
    }
}

fn is_blank(cell: &[u8]) -> bool {
    cell.iter().all(u8::is_ascii_whitespace)
}

fn lossless(cell: &[u8]) -> String {
    String::from_utf8_lossy(cell).into_owned()
}

/// Walks the cells of raw records: calls `cell(number, start, end)` with byte offsets of
/// the raw cell, quotes included. Answers where a quote opened that is not closed.
fn walk(raw: &str, delimiter: u8, mut cell: impl FnMut(usize, usize, usize)) -> Option<usize> {
    let (mut number, mut start) = (0, 0);
    let (mut quoted, mut closed) = (None, None);
    for (at, byte) in raw.bytes().enumerate() {
        match (byte, quoted) {
            (b'"', Some(_)) => (quoted, closed) = (None, Some(at + 1)),
            // a doubled quote closes and opens again; one within a bare cell is text
            (b'"', None) if at == start || closed == Some(at) => quoted = Some(at),
            (byte, None) if byte == delimiter => {
                cell(number, start, at);
                (number, start) = (number + 1, at + 1);
            }
            (b'\n' | b'\r', None) => {
                cell(number, start, at);
                return None;
            }
            _ => {}
        }
    }
    cell(number, start, raw.len());
    quoted
}

fn open_at_end(raw: &str, delimiter: u8) -> Option<usize> {
    walk(raw, delimiter, |_, _, _| {})
}

impl Table {
    pub fn rows(&self) -> usize {
        self.lines.len()
    }

    /// Counts as lines the rows that begin at these offsets of the text, not its line breaks: a table without lines has cells that hold some.
    pub fn count_lines_by(&mut self, row_starts: &[usize]) {
        for (line, offset) in self.lines.iter_mut().zip(&self.offsets) {
            *line = row_starts.partition_point(|start| start <= offset) as u64;
        }
    }

    /// Whether the file itself says that a column holds numbers.
    pub fn is_of_numbers(&self, column: usize) -> bool {
        self.numbers.get(column).is_some_and(|numbers| *numbers)
    }

    /// The name of a column; empty where there is none.
    pub fn heading(&self, column: usize) -> &str {
        self.header.get(column).map_or("", String::as_str)
    }

    pub fn width(&self) -> usize {
        self.header.len()
    }

    /// Line of a row in the file, from 1; that of the header where there is no such row.
    pub fn line(&self, row: usize) -> u64 {
        self.lines.get(row).copied().unwrap_or(self.header_line)
    }

    /// The cell word for word; empty where there is none.
    pub fn raw(&self, row: usize, column: usize) -> &str {
        self.columns.get(column).map_or("", |cells| cells.get(row))
    }

    /// The cell without the spaces around it.
    pub fn cell(&self, row: usize, column: usize) -> &str {
        let raw = self.raw(row, column);
        // most cells begin and end with a letter, a digit or a sign of ASCII, which no space is
        match raw.as_bytes() {
            [only] if only.is_ascii_graphic() => raw,
            [first, .., last] if first.is_ascii_graphic() && last.is_ascii_graphic() => raw,
            _ => raw.trim(),
        }
    }

    /// Bytes of the longest cell of all.
    pub fn longest_cell(&self) -> usize {
        self.columns.iter().map(TextColumn::longest).max().unwrap_or(0)
    }

    /// All cells of a row, word for word.
    pub fn row_cells(&self, row: usize) -> Vec<String> {
        (0..self.width()).map(|column| self.raw(row, column).to_owned()).collect()
    }

    /// The raw text of a row's record, or of the header without a row, with the byte
    /// range of one cell in it.
    pub fn raw_line(
        &self,
        row: Option<usize>,
        column: Option<usize>,
    ) -> (&str, Option<(usize, usize)>) {
        let offset = row.and_then(|row| self.offsets.get(row)).unwrap_or(&self.header_offset);
        let raw = self.source.get(*offset..).unwrap_or_default();
        let (mut end, mut span) = (0, None);
        walk(raw, self.delimiter, |number, from, to| {
            end = to;
            if Some(number) == column {
                span = Some((from, to));
            }
        });
        (raw.get(..end).unwrap_or_default(), span)
    }
}

#[cfg(test)]
#[path = "records_tests.rs"]
mod tests;
