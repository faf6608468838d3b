//! Logs whose tables are Parquet: read as the same tables are as CSV, and refused where they are not what they say.

use std::path::Path;

use super::*;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/intake/parquet");

/// A log of the bytes as `reeds.parquet`.
fn log_of(bytes: &[u8]) -> Log {
    let log = Log::of(&[]);
    fs::write(log.path().join("reeds.parquet"), bytes).expect("the folder can be written to");
    log
}

fn fixture(name: &str) -> Vec<u8> {
    fs::read(Path::new(FOLDER).join(name)).expect("a committed file")
}

fn as_csv() -> Reading {
    let text = String::from_utf8(fixture("reeds.csv")).expect("text");
    Log::of(&[("reeds.csv", &text)]).read()
}

#[test]
fn what_three_programs_write_is_read_as_the_same_table_in_csv_is() {
    let text = as_csv();
    for name in ["pyarrow.parquet", "pandas.parquet", "polars.parquet"] {
        let reading = log_of(&fixture(name)).read();
        let (of_text, of_parquet) = (&text.study, &reading.study);
        assert!(!reading.has_errors(), "{name}: {:?}", reading.problems);
        assert_eq!(of_parquet.ids(), of_text.ids(), "{name}");
        for column in ["hardness", "gouge_center_mm", "forming_days", "hours_played"] {
            assert_eq!(of_parquet.numbers(column), of_text.numbers(column), "{name}: {column}");
            assert!(of_text.numbers(column).iter().flatten().count() > 9, "{column} holds numbers");
        }
        for column in ["lot", "shape", "note"] {
            assert_eq!(of_parquet.words(column), of_text.words(column), "{name}: {column}");
        }
        assert_eq!(of_parquet.making_days(), of_text.making_days(), "{name}");
        assert_eq!(of_parquet.reed_scores(), of_text.reed_scores(), "{name}");
        assert_eq!(of_parquet.files()[0].encoding, "Parquet");
    }
}

#[test]
fn the_numbers_of_rows_that_pandas_keeps_are_no_factor() {
    let reading = log_of(&fixture("pandas.parquet")).read();
    assert!(codes(&reading).contains(&"parquet-row-numbers"), "{:?}", codes(&reading));
    assert!(reading.study.factors().iter().all(|factor| !factor.name.contains("index")));
}

#[test]
fn a_file_that_is_cut_off_anywhere_is_refused_and_nothing_panics() {
    for name in ["pyarrow.parquet", "polars.parquet"] {
        let whole = fixture(name);
        for length in (0..whole.len()).step_by(61) {
            let problem = log_of(&whole[..length]).refusal();
            assert_eq!(problem.code, "parquet-unreadable", "{name} cut at {length}: {problem:?}");
        }
    }
}

#[test]
fn a_file_with_any_byte_wrong_is_read_or_refused_and_nothing_panics() {
    let mut refused = 0;
    for name in ["pyarrow.parquet", "polars.parquet", "pandas.parquet"] {
        let whole = fixture(name);
        for at in (0..whole.len()).step_by(37) {
            for flip in [0xFF, 0x01, 0x80] {
                let mut bytes = whole.clone();
                bytes[at] ^= flip;
                match read(&[log_of(&bytes).path()], &ReadOptions::default()) {
                    Ok(reading) => rows_add_up(&reading),
                    Err(Error::Unreadable(_)) => refused += 1,
                    Err(other) => panic!("{name}, byte {at}: {other}"),
                }
            }
        }
    }
    assert!(refused > 100, "{refused}");
}
