use proptest::prelude::*;

use super::*;
use crate::intake::{dialect, encoding};

fn read(file: &str, source: String, dialect: Dialect) -> Records {
    super::read(file, source, dialect, &ReadOptions::default())
}

fn table(text: &str) -> Table {
    read("reeds.csv", text.to_owned(), dialect::find(text)).table
}

#[test]
fn lines_count_the_header_blank_lines_and_breaks_inside_cells() {
    let table = table("reed,note\r\n\r\n1,\"two\r\nlines\"\r\n2,b\r\n");
    assert_eq!((table.rows(), table.header_line), (2, 1));
    assert_eq!((table.line(0), table.line(1)), (3, 5));
    assert_eq!(table.raw(0, 1), "two\r\nlines");
}

#[test]
fn lines_count_the_titles_above_the_header() {
    for (titles, above) in
        [("", 0), ("My reeds\n", 1), ("My reeds\r\n\r\nspring\r\n", 3), ("a\r\rb\r", 3)]
    {
        for quote in ["", "\""] {
            let text = format!("{titles}reed,lot\n1,{quote}a{quote}\n\n2,b\n");
            let dialect = dialect::find_from(&text, titles.len());
            let table = read("reeds.csv", text, dialect).table;
            let lines = (table.header_line, table.line(0), table.line(1));
            assert_eq!(lines, (above + 1, above + 2, above + 4), "{titles:?}");
        }
    }
}

#[test]
fn a_row_of_blank_cells_holds_nothing() {
    let table = table(",,\nreed,lot,\n,,\n1,a,\n , ,\n");
    assert_eq!(table.header, ["reed", "lot"]);
    assert_eq!(table.rows(), 1);
    assert_eq!(table.line(0), 4);
}

#[test]
fn short_and_long_rows_are_reported_and_trailing_blanks_are_not() {
    let text = "reed,lot\n1\n2,b,,\n3,c,d\n";
    let records = read("reeds.csv", text.to_owned(), dialect::find(text));
    let found: Vec<_> = records.ragged.iter().map(|ragged| (ragged.row, ragged.cells)).collect();
    assert_eq!(found, [(0, 1), (2, 3)]);
    assert_eq!(records.ragged[1].beyond, ["d"]);
    assert_eq!(records.table.raw(0, 1), "");
}

#[test]
fn reading_ends_at_the_first_record_that_is_too_wide_and_at_the_first_row_too_many() {
    let options = ReadOptions { max_columns: 3, max_rows: 2, ..ReadOptions::default() };
    let excess = |text: &str| {
        let records = super::read("reeds.csv", text.to_owned(), dialect::find(text), &options);
        (records.excess, records.table.rows())
    };
    assert_eq!(
        excess("a,b,c\n1,2,3,,\n\n4,5,6\n,,\n"),
        (None, 2),
        "blanks are no cells and no rows"
    );
    assert_eq!(excess("a,b,c,d\n1\n"), (Some(Excess::Cells { line: 1, cells: 4 }), 0));
    assert_eq!(excess("a,b\n\n1,2,,4\n"), (Some(Excess::Cells { line: 3, cells: 4 }), 0));
    assert_eq!(excess("a,b\n1,2\n3,4\n\n5,6\n7,8\n"), (Some(Excess::Rows { line: 5 }), 2));
}

/// All that is found in a text that is read in so many parts.
fn in_parts(text: &str, options: &ReadOptions, parts: usize) -> String {
    let dialect = dialect::find(text);
    let records = super::read_in_parts("reeds.csv", text.to_owned(), dialect, options, parts);
    let table = &records.table;
    let rows: Vec<(u64, Vec<String>, &str)> = (0..table.rows())
        .map(|row| (table.line(row), table.row_cells(row), table.raw_line(Some(row), None).0))
        .collect();
    let header = (&table.header, table.header_line, table.longest_cell());
    format!(
        "{header:?} {rows:?} {:?} {:?} {:?}",
        records.ragged, records.excess, records.open_quote
    )
}

/// Rows of all sorts: ragged ones, blank ones, all three line breaks.
#[test]
fn a_text_that_is_read_in_parts_gives_what_it_gives_in_one() {
    let breaks = ["\n", "\r\n", "\n\n", "\n \n", "\r", "\r\r\n"];
    let cells = ["1,a,ä", "2,b", "3,c,d,e", ",,", "4,,", "  ,x,", "5,long cell,7.5"];
    let mut text = "reed,lot,note\r\n\r\n".to_owned();
    for row in 0..120 {
        text += cells[row * 5 % cells.len()];
        text += breaks[row / 3 % breaks.len()];
    }
    let quoted = text.replace("long cell", "\"long\r\n\n cell\"");
    let options = ReadOptions::default();
    let narrow = ReadOptions { max_columns: 3, ..ReadOptions::default() };
    let few = ReadOptions { max_rows: 30, ..ReadOptions::default() };
    for (text, parts) in
        [&text, &quoted].into_iter().flat_map(|text| (2..9).map(move |n| (text, n)))
    {
        for options in [&options, &narrow, &few] {
            let found = |parts: usize| in_parts(text, options, parts);
            assert_eq!(found(parts), found(1), "{parts} parts");
        }
    }
    assert_eq!(super::ranges(&text, 20, 8).len(), 8);
    for text in [&text, &quoted] {
        let table = table(text);
        assert!(table.rows() > 60);
        for (line, offset) in table.lines.iter().zip(&table.offsets) {
            assert_eq!(*line, 1 + encoding::line_breaks(&text[..*offset]));
        }
    }
}

#[test]
fn one_long_cell_behind_many_short_ones_asks_for_no_more_room_than_the_text() {
    for before in [ROWS_TO_JUDGE_BY - 1, ROWS_TO_JUDGE_BY, ROWS_TO_JUDGE_BY + 1] {
        for long in ["\"".to_owned() + &"a\n".repeat(200_000), "a".repeat(400_000)] {
            let text = format!("reed,note\n{}1,{long}", "1,a\n".repeat(before));
            let records = read("reeds.csv", text.clone(), dialect::find(&text));
            assert_eq!(records.table.rows(), before + 1);
            let room: usize = records.table.columns.iter().map(TextColumn::room).sum();
            assert!(room < 3 * text.len(), "{room} for {}", text.len());
        }
    }
}

#[test]
fn a_byte_order_mark_before_a_row_is_a_part_of_its_first_cell() {
    let table = table("reed,lot\n\u{feff}A1,a\n");
    assert_eq!(table.raw(0, 0), "\u{feff}A1");
}

#[test]
fn a_quote_that_never_closes_is_found_with_its_line() {
    let text = "reed,note\n1,a\n2,\"open\n3,c\n";
    let records = read("reeds.csv", text.to_owned(), dialect::find(text));
    assert_eq!(records.open_quote, Some(3));
    let closed = "reed,note\n1,\"a \"\"b\"\" c\"\n2,24\" wire\n";
    assert_eq!(read("reeds.csv", closed.to_owned(), dialect::find(closed)).open_quote, None);
}

#[test]
fn the_raw_line_is_the_file_s_and_the_span_is_the_cell_s() {
    let table = table("reed;note;lot\n1;\"a;b\";c\n");
    let (line, span) = table.raw_line(Some(0), Some(1));
    assert_eq!(line, "1;\"a;b\";c");
    assert_eq!(span.map(|(from, to)| &line[from..to]), Some("\"a;b\""));
    assert_eq!(table.raw_line(None, Some(2)), ("reed;note;lot", Some((10, 13))));
}

#[derive(Debug, Clone)]
struct Written {
    cells: Vec<Vec<String>>,
    delimiter: char,
    line_end: &'static str,
    always_quote: bool,
}

impl Written {
    fn text(&self) -> String {
        let lines = self.cells.iter().map(|row| {
            let cells: Vec<String> = row.iter().map(|cell| self.quoted(cell)).collect();
            cells.join(&self.delimiter.to_string()) + self.line_end
        });
        lines.collect()
    }

    fn quoted(&self, cell: &str) -> String {
        let needs = |character: char| character == self.delimiter || "\"\r\n".contains(character);
        if self.always_quote || cell.contains(needs) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.to_owned()
        }
    }
}

/// Tables whose header names hold letters only, as the delimiter is found from the header,
/// and whose first cell is never blank, as blank records are no rows.
fn written() -> impl Strategy<Value = Written> {
    let cell = "[ a-zA-Zäöüß0-9.,;|\"'\t\r\n\\-/€\u{e9}]{0,12}";
    let body = (2usize..5, 0usize..6).prop_flat_map(move |(width, rows)| {
        proptest::collection::vec(
            ("[a-z0-9]{1,4}", proptest::collection::vec(cell, width - 1))
                .prop_map(|(first, rest)| [vec![first], rest].concat()),
            rows,
        )
        .prop_map(move |rows| {
            let header =
                (0..width).map(|at| format!("column{at}").replace(char::is_numeric, "x")).collect();
            [vec![header], rows].concat()
        })
    });
    let delimiters = prop::sample::select(vec![',', ';', '\t', '|']);
    let line_ends = prop::sample::select(vec!["\n", "\r\n", "\r"]);
    (body, delimiters, line_ends, any::<bool>()).prop_map(
        |(cells, delimiter, line_end, always_quote)| Written {
            cells,
            delimiter,
            line_end,
            always_quote,
        },
    )
}

fn bytes(text: &str, encoding: &str) -> Vec<u8> {
    match encoding {
        "utf-8 with mark" => [b"\xEF\xBB\xBF", text.as_bytes()].concat(),
        "utf-16 little" => {
            [0xfeff].into_iter().chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect()
        }
        "utf-16 big" => {
            [0xfeff].into_iter().chain(text.encode_utf16()).flat_map(u16::to_be_bytes).collect()
        }
        "windows" => encoding_rs::WINDOWS_1252.encode(text).0.into_owned(),
        _ => text.as_bytes().to_vec(),
    }
}

const ENCODINGS: [&str; 5] = ["utf-8", "utf-8 with mark", "utf-16 little", "utf-16 big", "windows"];

proptest! {
    /// Any table written in any delimiter, quoting, line end and encoding reads back to its cells.
    #[test]
    fn any_table_in_any_dialect_reads_back_to_the_same_cells(
        written in written(),
        name in prop::sample::select(ENCODINGS.to_vec()),
    ) {
        // in Windows-1252 a euro sign behind an umlaut is by accident valid UTF-8 (`ß€` is the Nko digit 0),
        // which no reader can tell apart; without it no two of these letters are
        prop_assume!(name != "windows" || !written.text().contains('€'));
        let decoded = encoding::decode(bytes(&written.text(), name)).expect("text");
        let dialect = dialect::find(&decoded.text);
        let records = read("reeds.csv", decoded.text, dialect);
        prop_assert_eq!(dialect.delimiter as char, written.delimiter);
        prop_assert_eq!(records.open_quote, None);
        let table = records.table;
        let mut found = vec![table.header.clone()];
        found.extend((0..table.rows()).map(|row| table.row_cells(row)));
        prop_assert_eq!(found, written.cells);
    }

    /// Whatever stands in a text, its parts give what the whole gives.
    #[test]
    fn any_text_gives_in_parts_what_it_gives_in_one(
        text in "[a1ä,; \t\r\n\u{feff}]{0,80}(\"[a,\n]{0,9}\"?)?[a1,\r\n\u{feff}]{0,20}",
        parts in 2_usize..6,
        most in 1_usize..6,
    ) {
        let options = ReadOptions { max_rows: 4 * most, max_columns: most, ..ReadOptions::default() };
        prop_assert_eq!(in_parts(&text, &options, parts), in_parts(&text, &options, 1));
    }

    /// Whatever the bytes, reading them ends with a table or a reason, and every row has a raw line.
    #[test]
    fn any_bytes_end_without_a_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        if let Ok(decoded) = encoding::decode(bytes) {
            let dialect = dialect::find(&decoded.text);
            let table = read("reeds.csv", decoded.text, dialect).table;
            for row in 0..table.rows() {
                for column in 0..table.width() {
                    let _ = table.raw_line(Some(row), Some(column));
                    let _ = table.cell(row, column);
                }
            }
        }
    }

    /// The same for text that is full of what CSV lives on.
    #[test]
    fn any_text_of_quotes_and_breaks_ends_without_a_panic(text in "[a,;\"\r\n\t ä]{0,120}") {
        let dialect = dialect::find(&text);
        let table = read("reeds.csv", text, dialect).table;
        for row in 0..table.rows() {
            let _ = table.raw_line(Some(row), Some(0));
        }
    }
}
