//! Parquet in and out: the same log as Parquet has the same answers, and the tables of a review come in both forms.

use std::fs::{self, File};
use std::path::Path;

use polars::prelude::{AnyValue, DataFrame};
use polars_io::SerReader;
use polars_io::parquet::read::ParquetReader;
use polars_io::parquet::write::ParquetWriter;
use polars_io::prelude::{CsvParseOptions, CsvReadOptions};

use super::{Desk, dataset, json};

/// A CSV file as a table of typed columns, by the table library's own reader.
fn frame_of(csv: &Path) -> DataFrame {
    CsvReadOptions::default()
        .with_infer_schema_length(None)
        .with_parse_options(CsvParseOptions::default().with_try_parse_dates(true))
        .try_into_reader_with_file_path(Some(csv.to_path_buf()))
        .and_then(SerReader::finish)
        .expect("a tidy CSV file")
}

/// The demo log on the desk, its tables as Parquet.
fn demo_as_parquet(desk: &Desk) {
    fs::create_dir(desk.path("log")).expect("the desk can be written to");
    for entry in fs::read_dir(dataset("demo")).expect("the demo log") {
        let path = entry.expect("a file of the demo log").path();
        let target = desk.path("log").join(path.file_name().expect("a name"));
        if path.extension().is_some_and(|ending| ending == "csv") {
            let file = File::create(target.with_extension("parquet")).expect("room for the file");
            ParquetWriter::new(file).finish(&mut frame_of(&path)).expect("a table is written");
        } else {
            fs::copy(&path, target).expect("the desk can be written to");
        }
    }
}

#[test]
fn the_demo_as_parquet_has_the_results_of_the_demo_as_csv() {
    let desk = Desk::new();
    demo_as_parquet(&desk);
    let results = |log: &str| {
        let mut results = json(&desk.printed(&["review", log, "--json", "--quiet"]));
        // names and checksums of the files
        let files = results["log"]["files"].take();
        (results.to_string(), files.as_array().map(Vec::len))
    };
    let (of_csv, files) = results(&dataset("demo"));
    let (of_parquet, same_files) = results("log");
    assert_eq!(files, same_files);
    assert!(of_csv.len() > 100_000, "a whole review: {}", of_csv.len());
    assert_eq!(of_parquet.replace(".parquet", ".csv"), of_csv);
}

#[test]
fn the_tables_of_a_review_are_the_same_as_parquet_and_as_csv() {
    let desk = Desk::new();
    let demo = dataset("demo");
    desk.call(&["review", &demo, "--parquet", "--out", "report", "--quiet"]).assert().success();
    let mut compared = 0;
    for entry in fs::read_dir(desk.path("report/tables")).expect("tables") {
        let path = entry.expect("a table").path();
        if path.extension().is_none_or(|ending| ending != "csv") {
            continue;
        }
        let file = File::open(path.with_extension("parquet")).expect("its other form");
        let frame = ParquetReader::new(file).finish().expect("a Parquet file");
        compared += assert_same(&path, &frame);
    }
    assert!(compared > 1000, "{compared} cells");
    // an earlier review may be replaced whichever form its tables have
    desk.call(&["review", &demo, "--out", "report", "--quiet"]).assert().success();
    assert!(!desk.path("report/tables/lots.parquet").exists());
}

/// Compares cell by cell, numbers to the last bit, and counts the cells.
fn assert_same(csv: &Path, frame: &DataFrame) -> usize {
    let mut reader = csv::Reader::from_path(csv).expect("a CSV file");
    let header: Vec<String> =
        reader.headers().expect("a header").iter().map(str::to_owned).collect();
    let names: Vec<String> = frame.get_column_names().iter().map(|name| name.to_string()).collect();
    assert_eq!(names, header, "{}", csv.display());
    let mut cells = 0;
    for (row, record) in reader.records().enumerate() {
        for (column, text) in frame.columns().iter().zip(record.expect("a row").iter()) {
            let same = match column.get(row).expect("as many rows") {
                AnyValue::Null => text.is_empty(),
                AnyValue::Float64(value) => text.parse() == Ok(value),
                AnyValue::Int64(value) => text.parse() == Ok(value),
                AnyValue::String(value) => text == value || text.strip_prefix('\'') == Some(value),
                other => panic!("{}: {other:?}", csv.display()),
            };
            assert!(same, "{}, row {row}, {}: {text}", csv.display(), column.name());
            cells += 1;
        }
    }
    cells
}
