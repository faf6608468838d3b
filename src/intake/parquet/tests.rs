use polars::prelude::*;
use polars_io::parquet::write::{ParquetCompression, ParquetWriter};
use polars_parquet_format::thrift::protocol::TCompactOutputProtocol;
use polars_parquet_format::{FileMetaData, PageHeader, RowGroup, SchemaElement};

use super::*;

fn bytes_of(columns: Vec<Column>) -> Vec<u8> {
    let mut frame = DataFrame::new(columns[0].len(), columns).expect("columns of one length");
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Uncompressed)
        .finish(&mut frame)
        .expect("a table is written");
    bytes
}

fn column<T, V: AsRef<T>>(name: &str, values: V) -> Column
where
    T: ?Sized,
    Series: NamedFrom<V, T>,
{
    Series::new(name.into(), values).into()
}

/// A table of numbers whose pages have no dictionary.
fn small() -> Vec<u8> {
    bytes_of(vec![column("reed", [1.5, 2.5, 3.25, 4.125]), column("gouge", [1.0, 2.0, 3.0, 4.0])])
}

fn cells(bytes: &[u8]) -> Vec<Vec<String>> {
    let table =
        read("reeds.parquet", bytes, &ReadOptions::default()).expect("a table").records.table;
    std::iter::once(table.header.clone())
        .chain((0..table.rows()).map(|row| table.row_cells(row)))
        .collect()
}

fn fault(bytes: &[u8]) -> Fault {
    read("reeds.parquet", bytes, &ReadOptions::default()).expect_err("a file that is refused")
}

fn damaged(bytes: &[u8]) -> String {
    match fault(bytes) {
        Fault::Damaged(why) => why,
        other => panic!("not taken for damaged: {other:?}"),
    }
}

fn footer_start(bytes: &[u8]) -> usize {
    let end = bytes.len() - 8;
    let length = u32::from_le_bytes(bytes[end..end + 4].try_into().expect("four bytes"));
    end - length as usize
}

/// The file with another account of itself.
fn retold(bytes: &[u8], change: impl FnOnce(&mut FileMetaData)) -> Vec<u8> {
    let start = footer_start(bytes);
    let mut account =
        FileMetaData::read_from_in_protocol(&mut protocol(&bytes[start..])).expect("an account");
    change(&mut account);
    let mut file = bytes[..start].to_vec();
    let mut out = TCompactOutputProtocol::new(&mut file);
    account.write_to_out_protocol(&mut out).expect("it is written");
    let length = (file.len() - start) as u32;
    file.extend(length.to_le_bytes());
    file.extend(footer::MAGIC);
    file
}

fn protocol(bytes: &[u8]) -> polars_parquet_format::thrift::protocol::TCompactInputProtocol<&[u8]> {
    polars_parquet_format::thrift::protocol::TCompactInputProtocol::new(bytes, usize::MAX)
}

/// A table of one column whose only page has another header.
fn repaged(change: impl FnOnce(&mut PageHeader)) -> Vec<u8> {
    let bytes = bytes_of(vec![column("reed", [1.5, 2.5, 3.25, 4.125])]);
    let mut rest = &bytes[4..];
    let mut input =
        polars_parquet_format::thrift::protocol::TCompactInputProtocol::new(&mut rest, usize::MAX);
    let mut header = PageHeader::read_from_in_protocol(&mut input).expect("a page");
    let page = &rest[..header.compressed_page_size as usize];
    change(&mut header);
    let mut file = bytes[..4].to_vec();
    header.write_to_out_protocol(&mut TCompactOutputProtocol::new(&mut file)).expect("written");
    file.extend(page);
    let length = (file.len() - 4) as i64;
    file.extend(&bytes[footer_start(&bytes)..]);
    retold(&file, |account| {
        let column = account.row_groups[0].columns[0].meta_data.as_mut().expect("an account");
        column.total_compressed_size = length;
    })
}

fn set_rows(account: &mut FileMetaData, rows: i64) {
    account.num_rows = rows;
    let set = |group: &mut RowGroup| group.num_rows = rows;
    account.row_groups.iter_mut().for_each(set);
}

#[test]
fn every_type_becomes_the_text_that_csv_has_of_it() {
    let days = Int32Chunked::from_slice("day".into(), &[0, 20_151]).into_date().into_column();
    let moments = Int64Chunked::from_slice("moment".into(), &[-1_000_000, 86_400_000_000])
        .into_datetime(TimeUnit::Microseconds, None)
        .into_column();
    let clock = Int64Chunked::from_slice("clock".into(), &[0, 49_500_000_000_000])
        .into_time()
        .into_column();
    let bytes = bytes_of(vec![
        column("reed", ["a, \"b\"", "two\nlines"]),
        column("float", [0.1 + 0.2, f64::NAN]),
        column("single", [1.3f32, f32::INFINITY]),
        column("whole", [Some(-7i64), None]),
        column("large", [u64::MAX, 0]),
        column("yes", [Some(true), None]),
        days,
        moments,
        clock,
    ]);
    let expected = [
        ["reed", "float", "single", "whole", "large", "yes", "day", "moment", "clock"],
        [
            "a, \"b\"",
            "0.30000000000000004",
            "1.3",
            "-7",
            "18446744073709551615",
            "true",
            "1970-01-01",
            "1969-12-31 23:59:59",
            "00:00:00",
        ],
        ["two\nlines", "", "inf", "", "0", "", "2025-03-04", "1970-01-02", "13:45:00"],
    ];
    assert_eq!(cells(&bytes), expected);
}

#[test]
fn a_row_is_named_by_its_place_even_below_cells_with_line_breaks_and_blank_rows() {
    let reeds = [Some("a\n\n\nb"), None, Some("c")];
    let table =
        read("reeds.parquet", &bytes_of(vec![column("reed", reeds)]), &ReadOptions::default())
            .expect("rows")
            .records
            .table;
    assert_eq!((table.line(0), table.line(1)), (2, 4));
}

#[test]
fn a_day_beyond_the_calendar_stays_a_number() {
    let days = Int32Chunked::from_slice("day".into(), &[i32::MAX, i32::MIN]).into_date();
    let rows = cells(&bytes_of(vec![days.into_column()]));
    assert_eq!(rows[1..], [["2147483647"], ["-2147483648"]]);
}

#[test]
fn a_column_without_a_name_does_not_shift_the_others() {
    let bytes = bytes_of(vec![column("reed", [1i64, 2]), column("", [7i64, 9])]);
    assert_eq!(cells(&bytes), [["", "reed"], ["7", "1"], ["9", "2"]]);
    let nameless = bytes_of(vec![column("", [1i64, 2])]);
    assert!(
        read("reeds.parquet", &nameless, &ReadOptions::default())
            .expect("a table")
            .records
            .table
            .header
            .is_empty()
    );
}

#[test]
fn a_column_that_numbers_the_rows_is_left_out_and_named() {
    let bytes = bytes_of(vec![column("reed", [1i64, 2]), column("__index_level_0__", [7i64, 9])]);
    assert_eq!(cells(&bytes), [["reed"], ["1"], ["2"]]);
    let opened = read("reeds.parquet", &bytes, &ReadOptions::default()).expect("a table");
    assert_eq!(opened.row_numbers, ["__index_level_0__"]);
}

#[test]
fn bytes_are_read_where_they_are_text_and_refused_where_not() {
    let text = |bytes: &[&[u8]]| {
        let values: Vec<Vec<u8>> = bytes.iter().map(|bytes| bytes.to_vec()).collect();
        bytes_of(vec![
            BinaryChunked::from_iter_values("reed".into(), values.into_iter()).into_column(),
        ])
    };
    assert_eq!(cells(&text(&[b"a", "ö".as_bytes()])), [["reed"], ["a"], ["ö"]]);
    assert!(matches!(fault(&text(&[b"a", b"\xFF"])), Fault::Column { name, .. } if name == "reed"));
}

#[test]
fn a_zero_byte_is_refused_with_its_row() {
    let bytes = bytes_of(vec![column("reed", ["a", "b\n", "c\0"])]);
    assert_eq!(fault(&bytes), Fault::NoText(NoText::Nul { line: 4 }));
}

#[test]
fn rows_that_no_page_bears_out_take_no_memory() {
    let claimed = |rows: i64| retold(&small(), |account| set_rows(account, rows));
    assert!(matches!(fault(&claimed(1 << 40)), Fault::TooLarge { .. }));
    assert!(matches!(fault(&claimed(i64::MAX)), Fault::TooLarge { .. }));
    assert!(damaged(&claimed(1 << 20)).contains("page"));
    assert!(damaged(&claimed(-4)).contains("rows"));
    assert!(damaged(&claimed(3)).contains("more cells than rows"));
    let other_sum = retold(&small(), |account| account.num_rows = 5);
    assert!(damaged(&other_sum).contains("add up"));
}

#[test]
fn pages_that_claim_to_unpack_to_anything_take_no_memory() {
    assert_eq!(cells(&repaged(|_| ())).len(), 5, "the page as it was is read");
    assert!(matches!(
        fault(&repaged(|page| page.uncompressed_page_size = i32::MAX)),
        Fault::TooLarge { .. }
    ));
    assert!(damaged(&repaged(|page| page.uncompressed_page_size = -1)).contains("size"));
    assert!(damaged(&repaged(|page| page.compressed_page_size = 1 << 30)).contains("middle"));
    let cells_in_page = |cells: i32| {
        repaged(|page| page.data_page_header.as_mut().expect("a first page").num_values = cells)
    };
    assert!(damaged(&cells_in_page(-1)).contains("number of cells"));
    assert!(damaged(&cells_in_page(i32::MAX)).contains("more cells than rows"));
}

#[test]
fn a_column_elsewhere_is_not_looked_for() {
    let moved = |offset: i64| {
        retold(&small(), |account| {
            let column = account.row_groups[0].columns[0].meta_data.as_mut().expect("an account");
            column.data_page_offset = offset;
            column.dictionary_page_offset = None;
        })
    };
    for offset in [-1, 1 << 40, i64::MAX] {
        assert!(damaged(&moved(offset)).contains("beyond its end"));
    }
    let other_file = retold(&small(), |account| {
        account.row_groups[0].columns[0].file_path = Some("/etc/passwd".to_owned());
    });
    assert!(damaged(&other_file).contains("another file"));
}

#[test]
fn columns_within_columns_are_refused_however_deep_they_lie() {
    let nested = retold(&small(), |account| {
        let group =
            SchemaElement { type_: None, num_children: Some(1), ..account.schema[1].clone() };
        account.schema.splice(1..1, std::iter::repeat_n(group, 100_000));
    });
    assert!(matches!(fault(&nested), Fault::Column { name, .. } if name == "reed"));
}

#[test]
fn two_columns_of_one_name_are_refused() {
    let twice = retold(&small(), |account| account.schema[2].name = "reed".to_owned());
    assert_eq!(fault(&twice), Fault::Twice("reed".to_owned()));
}

#[test]
fn a_text_that_is_repeated_without_end_is_refused() {
    let long = "x".repeat(60_000);
    let bytes = bytes_of(vec![column("reed", vec![long.as_str(); 5_000])]);
    assert!(bytes.len() < 1_000_000, "the text is stored once: {}", bytes.len());
    assert!(matches!(fault(&bytes), Fault::TooLarge { .. }));
}

#[test]
fn times_of_another_zone_are_refused_because_their_day_may_be_another() {
    let moments = |zone| {
        let zone = TimeZone::opt_try_new(Some(PlSmallStr::from_static(zone))).expect("a zone");
        let moments = Int64Chunked::from_slice("reed".into(), &[82_800_000_000])
            .into_datetime(TimeUnit::Microseconds, zone);
        bytes_of(vec![moments.into_column()])
    };
    assert_eq!(cells(&moments("UTC"))[1], ["1970-01-01 23:00:00"]);
    assert!(matches!(fault(&moments("Europe/Berlin")), Fault::Column { .. }));
}
