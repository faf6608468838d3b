//! Text to a table of cells: one arena for all cells, with the place of each
//! record in the file, so that a problem can name the line and show it.

use csv::{ByteRecord, ReaderBuilder};

use super::ReadOptions;
use super::dialect::Dialect;
use super::encoding::line_breaks;

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
    /// All cells of all rows, one behind the other.
    cells: String,
    /// Where each row begins in `cells`; one more than there are rows.
    row_starts: Vec<usize>,
    /// Where each cell ends, counted from its row's beginning; `width` entries a row.
    cell_ends: Vec<u32>,
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
    let mut records = Records::default();
    let mut building = Building::new(file, &source, dialect);
    let mut reader = ReaderBuilder::new()
        .delimiter(dialect.delimiter)
        .has_headers(false)
        .flexible(true)
        .buffer_capacity(1 << 16)
        .from_reader(&source.as_bytes()[dialect.start..]);
    let mut record = ByteRecord::new();
    // reading from memory cannot fail, and bytes are not checked for encoding
    while matches!(reader.read_byte_record(&mut record), Ok(true)) {
        let from = record.position().map_or(0, csv::Position::byte) as usize;
        records.excess = building.excess(&record, dialect.start + from, options);
        if records.excess.is_some() {
            break;
        }
        building.record(&record, dialect.start + from, &mut records.ragged);
    }
    records.open_quote = building.open_quote();
    let mut table = building.table;
    table.source = source;
    records.table = table;
    records
}

struct Building<'a> {
    table: Table,
    source: &'a str,
    /// Line of `counted_to`.
    line: u64,
    counted_to: usize,
    last_offset: usize,
}

impl<'a> Building<'a> {
    fn new(file: &str, source: &'a str, dialect: Dialect) -> Self {
        let table = Table {
            file: file.to_owned(),
            delimiter: dialect.delimiter,
            row_starts: vec![0],
            cells: String::with_capacity(source.len()),
            ..Table::default()
        };
        Building { table, source, line: 1, counted_to: 0, last_offset: 0 }
    }

    fn excess(&self, record: &ByteRecord, from: usize, options: &ReadOptions) -> Option<Excess> {
        let is_full = self.table.rows() >= options.max_rows;
        if record.len() <= options.max_columns && !is_full {
            return None;
        }
        let cells = record.iter().rposition(|cell| !is_blank(cell))? + 1;
        let line = self.line + line_breaks(&self.source[self.counted_to..self.skip_breaks(from)]);
        if cells > options.max_columns {
            return Some(Excess::Cells { line, cells });
        }
        is_full.then_some(Excess::Rows { line })
    }

    fn record(&mut self, record: &ByteRecord, from: usize, ragged: &mut Vec<Ragged>) {
        let offset = self.skip_breaks(from);
        if record.iter().all(is_blank) {
            return;
        }
        self.line += line_breaks(&self.source[self.counted_to..offset]);
        self.counted_to = offset;
        self.last_offset = offset;
        if self.table.header.is_empty() {
            self.header(record, offset);
        } else {
            self.row(record, offset, ragged);
        }
    }

    /// The csv reader leaves the end of a line, and blank lines, to the record that follows.
    fn skip_breaks(&self, from: usize) -> usize {
        let breaks =
            self.source.as_bytes()[from..].iter().take_while(|byte| matches!(byte, b'\r' | b'\n'));
        from + breaks.count()
    }

    fn header(&mut self, record: &ByteRecord, offset: usize) {
        let mut header: Vec<String> = record.iter().map(lossless).collect();
        while header.last().is_some_and(|name| name.trim().is_empty()) {
            header.pop();
        }
        self.table.header = header;
        self.table.header_line = self.line;
        self.table.header_offset = offset;
    }

    fn row(&mut self, record: &ByteRecord, offset: usize, ragged: &mut Vec<Ragged>) {
        let table = &mut self.table;
        let width = table.header.len();
        // every field is cut from valid UTF-8 at ASCII bytes, and one stands behind the other
        let cells = std::str::from_utf8(record.as_slice()).unwrap_or_default();
        let end_of = |at: usize| record.range(at).map(|cell| cell.end.min(cells.len()));
        let end = width.checked_sub(1).map_or(0, |last| end_of(last).unwrap_or(cells.len()));
        table.cells.push_str(&cells[..end]);
        table.cell_ends.extend((0..width).map(|at| end_of(at).unwrap_or(end) as u32));
        table.row_starts.push(table.cells.len());
        table.offsets.push(offset);
        table.lines.push(self.line);
        let beyond = record.iter().skip(width);
        if record.len() < width || beyond.clone().any(|cell| !is_blank(cell)) {
            let beyond = beyond.map(lossless).collect();
            ragged.push(Ragged { row: table.lines.len() - 1, cells: record.len(), beyond });
        }
    }

    /// A quote that is open at the end of the text opened in the last record.
    fn open_quote(&self) -> Option<u64> {
        let rest = &self.source[self.last_offset..];
        let opened = open_at_end(rest, self.table.delimiter)?;
        Some(self.line + line_breaks(&rest[..opened]))
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

    pub fn width(&self) -> usize {
        self.header.len()
    }

    /// Line of a row in the file, from 1.
    pub fn line(&self, row: usize) -> u64 {
        self.lines[row]
    }

    /// The cell word for word.
    pub fn raw(&self, row: usize, column: usize) -> &str {
        let base = self.row_starts[row];
        let first = row * self.header.len();
        let start = if column == 0 { 0 } else { self.cell_ends[first + column - 1] };
        &self.cells[base + start as usize..base + self.cell_ends[first + column] as usize]
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

    /// How many bytes all cells of a row take together.
    pub fn row_length(&self, row: usize) -> usize {
        self.row_starts[row + 1] - self.row_starts[row]
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
        let offset = row.map_or(self.header_offset, |row| self.offsets[row]);
        let raw = &self.source[offset..];
        let (mut end, mut span) = (0, None);
        walk(raw, self.delimiter, |number, from, to| {
            end = to;
            if Some(number) == column {
                span = Some((from, to));
            }
        });
        (&raw[..end], span)
    }
}

#[cfg(test)]
#[path = "records_tests.rs"]
mod tests;
