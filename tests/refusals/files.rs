//! Files that are no log, and logs whose rows do not fit their header.

use super::case::{Case, reeds};

pub fn cases() -> Vec<Case> {
    let mut cases = whole_files();
    cases.extend(shapes());
    cases.extend(encodings());
    cases.extend(parquet());
    cases
}

fn whole_files() -> Vec<Case> {
    vec![
        reeds(
            "file-not-text",
            "a workbook with the ending of a CSV",
            b"PK\x03\x04\x14\x00\x06\x00sheet",
        )
        .refused(),
        reeds("file-not-text", "a picture", b"\x89PNG\r\n\x1a\n\x00\x00").refused(),
        reeds("file-not-text", "a PDF", b"%PDF-1.7\n1 0 obj\n").refused(),
        reeds("file-zero-byte", "a zero byte in a cell", "reed,lot\n1,a\0b\n").refused().line(2),
        reeds(
            "file-zero-byte",
            "a binary file",
            (0..4096u32).map(|at| (at * 167 % 251) as u8).collect::<Vec<u8>>(),
        )
        .refused(),
        reeds("file-empty", "an empty file", "").refused(),
        reeds("file-empty", "blank lines only", "\n\r\n  \n").refused(),
        reeds("file-empty", "a thousand lines of commas", ",,,,\n".repeat(1000)).refused(),
        reeds("file-without-rows", "a header only", "reed,lot\n").line(1),
        reeds("file-without-rows", "a header and blank rows", "reed,lot\n,\n,\n").line(1),
        reeds("log-not-found", "a folder without a CSV file", "nothing here")
            .named("notes.txt")
            .in_folder()
            .refused(),
        reeds("log-not-found", "two CSV files, none of them reeds.csv", "reed,lot\n1,a\n")
            .named("mine.csv")
            .with("yours.csv", "reed,lot\n1,a\n")
            .in_folder()
            .refused(),
        reeds("file-outside-log", "a file that lies outside the log", "reed,lot\n1,a\n")
            .with("study.toml", "[files]\nratings = \"../ratings.csv\"\n")
            .in_file("study.toml")
            .column("ratings")
            .refused(),
        reeds("file-outside-log", "a file by its whole path", "reed,lot\n1,a\n")
            .with("study.toml", "[files]\nlots = \"/etc/passwd\"\n")
            .in_file("study.toml")
            .column("lots")
            .refused(),
        reeds("file-not-regular", "a folder in place of the ratings", "reed,lot\n1,a\n")
            .with("ratings.csv/", "")
            .in_file("ratings.csv")
            .refused(),
        reeds("log-not-found", "a file that is named and not there", "reed,lot\n1,a\n")
            .with("study.toml", "[files]\nlots = \"lost.csv\"\n")
            .in_file("study.toml")
            .column("lots")
            .refused(),
        reeds("file-not-read", "a CSV file that is no part of the log", "reed,lot\n1,a\n")
            .with("plays.csv", "reed,score\n1,7\n")
            .in_file("plays.csv"),
        reeds("log-file-chosen", "one CSV file of another name", "reed,lot\n1,a\n")
            .named("mine.csv"),
    ]
}

fn shapes() -> Vec<Case> {
    let wide: String = (0..5000).map(|at| format!(",c{at}")).collect();
    let long = "x".repeat(70 * 1024);
    vec![
        reeds(
            "quote-not-closed",
            "a quote that is never closed",
            "reed,note\n1,ok\n2,\"never closed\n3,x\n",
        )
        .refused()
        .line(3),
        reeds(
            "rows-above-header",
            "a title and a date above the header",
            "My reeds,,\n\nspring,,\nreed,lot,gouge\n1,a,1.25\n",
        )
        .line(4)
        .rows_aside(2),
        reeds(
            "row-too-long",
            "a row too long below a title",
            "My reeds\nreed,lot,gouge\n1,a,1,25\n",
        )
        .line(3)
        .rows_aside(2),
        reeds("quote-not-closed", "a quote that opens in the header", "reed,\"note\n1,ok\n")
            .refused()
            .line(1),
        reeds("too-many-columns", "five thousand columns", format!("reed{wide}\n1\n"))
            .refused()
            .line(1),
        reeds("too-many-columns", "a row of five thousand cells", format!("reed\n1\n2{wide}\n"))
            .refused()
            .line(3),
        reeds(
            "cell-too-long",
            "a cell of 70 KiB",
            format!("reed,lot,note\n1,a,{long}\n2,b,short\n"),
        )
        .line(2)
        .rows_aside(1),
        reeds("cell-too-long", "a header of 70 KiB", format!("reed,{long}\n1,a\n"))
            .refused()
            .line(1),
        reeds("row-too-short", "a row that lacks cells", "reed,lot,gouge\n1,a,1.2\n2,b\n").line(3),
        reeds(
            "row-too-long",
            "a decimal comma that parts a cell",
            "reed,gouge_mm,lot\n1,1,25,b\n2,1.30,b\n",
        )
        .line(2)
        .rows_aside(1),
        reeds("row-too-short", "ragged rows", "reed,lot,gouge\n1\n2,b,1.2,,,\n3,c,1.2,x\n")
            .line(2)
            .rows_aside(1),
        reeds(
            "row-too-long",
            "the long one of ragged rows",
            "reed,lot,gouge\n1\n2,b,1.2,,,\n3,c,1.2,x\n",
        )
        .line(4)
        .rows_aside(1),
        reeds("delimiter-doubtful", "two delimiters that fit alike", "reed,x;y\n1,2;3\n").line(1),
    ]
}

fn encodings() -> Vec<Case> {
    let mut half_a_character = b"\xFF\xFE".to_vec();
    half_a_character.extend("reed,lot\n1,a".encode_utf16().flat_map(u16::to_le_bytes));
    half_a_character.extend([0x00, 0xD8, b'\n', 0x00]);
    vec![
        reeds("encoding-assumed", "umlauts of Windows-1252", b"reed;lot\n1;S\xFCd\n").line(2),
        reeds(
            "encodings-mixed",
            "two encodings in one file",
            b"reed;lot\n1;S\xC3\xBCd\n2;S\xFCd\n",
        )
        .line(3),
        reeds("characters-lost", "half a character in UTF-16", half_a_character),
    ]
}

/// A committed table of fourteen reeds.
const TABLE: &[u8] = include_bytes!("../intake/parquet/pyarrow.parquet");
const PANDAS: &[u8] = include_bytes!("../intake/parquet/pandas.parquet");
const NESTED: &[u8] = include_bytes!("../intake/parquet/nested.parquet");
const MANY_ROWS: &[u8] = include_bytes!("../intake/parquet/many_rows.parquet");

fn parquet() -> Vec<Case> {
    let case =
        |code, claim, bytes: &[u8]| reeds(code, claim, bytes).named("reeds.parquet").refused();
    vec![
        reeds("csv-and-parquet", "a list of pieces in both forms", "reed,lot\n1,a\n")
            .with("reeds.parquet", TABLE)
            .in_file("reeds")
            .refused(),
        reeds("csv-and-parquet", "lots in both forms", "reed,lot\n1,a\n")
            .with("lots.csv", "lot\na\n")
            .with("lots.parquet", TABLE)
            .in_file("lots")
            .refused(),
        case("parquet-unreadable", "a file that is cut off", &TABLE[..TABLE.len() / 2]),
        case(
            "parquet-unreadable",
            "a CSV file under the name of a Parquet file",
            b"reed,lot\n1,a\n",
        ),
        case("parquet-unreadable", "an empty Parquet file", b""),
        case("parquet-unreadable", "nothing between the marks", b"PAR1PAR1"),
        reeds(
            "parquet-unreadable",
            "a Parquet file under the name of a CSV file",
            &TABLE[..TABLE.len()],
        )
        .with("ratings.parquet", &TABLE[..99])
        .in_file("ratings.parquet")
        .refused(),
        case("parquet-column-unfit", "a column of lists", NESTED).column("ratings"),
        reeds("parquet-row-numbers", "a column that numbers the rows", PANDAS)
            .named("reeds.parquet")
            .line(1),
        case("parquet-too-large", "twenty million rows in a small file", MANY_ROWS),
    ]
}
