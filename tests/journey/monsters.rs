//! Files that no workshop keeps: they end in a sentence, in memory that is a few times their size.
#![cfg(target_os = "linux")]

use std::fs::{self, File};
use std::io::{BufWriter, Write};

use super::Desk;
use super::shell::shell;

const MIB: usize = 1 << 20;

/// Writes a file of the log by its parts.
fn write(desk: &Desk, name: &str, parts: &[(&str, usize)]) {
    fs::create_dir_all(desk.path("log")).expect("a folder");
    let mut file = BufWriter::new(File::create(desk.path("log").join(name)).expect("made"));
    for (part, times) in parts {
        let many = part.repeat(1000);
        (0..times / 1000).for_each(|_| file.write_all(many.as_bytes()).expect("room"));
        (0..times % 1000).for_each(|_| file.write_all(part.as_bytes()).expect("room"));
    }
}

/// What `check` says of the log with no more than so much memory to ask for, and its status.
fn told(desk: &Desk, mebibytes: usize) -> (Option<i32>, String) {
    let limit = mebibytes * 1024;
    let call = format!(
        "ulimit -v {limit}; RAYON_NUM_THREADS=2 POLARS_MAX_THREADS=2 exec \"$PROGRAM\" check log"
    );
    let output = shell(desk, &call).output().expect("called");
    let all = [output.stdout, output.stderr].concat();
    (output.status.code(), String::from_utf8(all).expect("UTF-8"))
}

/// Address space of the program itself and its threads.
const PROGRAM: usize = 600;

#[test]
fn a_line_without_an_end_is_no_header_and_is_not_printed() {
    let desk = Desk::new();
    write(&desk, "reeds.csv", &[("x", 24 * MIB)]);
    let (status, told) = told(&desk, PROGRAM + 24 * 8);
    assert_eq!(status, Some(2), "{told}");
    assert!(told.len() < 2_000 && told.contains("reeds.csv"), "{} bytes", told.len());
}

#[test]
fn a_hundred_thousand_columns_are_refused() {
    let desk = Desk::new();
    write(&desk, "reeds.csv", &[("reed", 1), (",c", 100_000), ("\n1", 1), (",2", 100_000)]);
    let (status, told) = told(&desk, PROGRAM);
    assert_eq!(status, Some(2), "{told}");
    assert!(told.contains("100001 columns") && told.contains("at most"), "{told}");
}

#[test]
fn a_cell_of_many_mebibytes_sets_its_row_aside_and_the_others_are_read() {
    let desk = Desk::new();
    write(&desk, "reeds.csv", &[("reed,note\n1,\"", 1), ("long\n", 5 * MIB), ("\"\n2,short\n", 1)]);
    let (status, told) = told(&desk, PROGRAM + 25 * 8);
    assert_eq!(status, Some(1), "{told}");
    assert!(told.len() < 10_000 && told.contains("cell-too-long"), "{} bytes", told.len());
}

#[test]
fn a_row_of_millions_of_cells_is_refused() {
    let desk = Desk::new();
    write(&desk, "reeds.csv", &[("reed\n1", 1), (",a", 12 * MIB), ("\n", 1)]);
    let (status, told) = told(&desk, PROGRAM + 24 * 8);
    assert_eq!(status, Some(2), "{told}");
    assert!(told.contains("line 2") && told.contains("a line for each row"), "{told}");
}

#[test]
fn an_archive_under_the_name_of_a_log_is_not_unpacked() {
    let desk = Desk::new();
    write(&desk, "reeds.csv", &[("PK\u{3}\u{4}", 1), ("\0", 24 * MIB)]);
    let (status, told) = told(&desk, PROGRAM + 24 * 4);
    assert_eq!(status, Some(2), "{told}");
    assert!(told.contains("save it as CSV"), "{told}");
}

#[test]
fn a_study_file_of_a_hundred_thousand_brackets_is_refused() {
    for (open, close) in [("missing = ", "["), ("id_from = ", "{a="), ("", "[a."), ("", "a.")] {
        let desk = Desk::new();
        write(&desk, "reeds.csv", &[("reed\n1\n", 1)]);
        write(&desk, "study.toml", &[(open, 1), (close, 100_000), ("\n", 1)]);
        let (status, told) = told(&desk, PROGRAM);
        assert_eq!(status, Some(2), "{told}");
        assert!(told.len() < 2_000 && told.contains("study.toml"), "{} bytes", told.len());
    }
}

#[test]
fn a_file_larger_than_any_log_is_refused_before_it_is_read() {
    let desk = Desk::new();
    for (name, size) in [("reeds.csv", 8 << 30), ("study.toml", 64 << 20)] {
        write(&desk, "reeds.csv", &[("reed\n1\n", 1)]);
        // a file of nothing but its size
        File::create(desk.path("log").join(name))
            .and_then(|file| file.set_len(size))
            .expect("made");
        let (status, told) = told(&desk, PROGRAM);
        assert_eq!(status, Some(2), "{told}");
        assert!(told.contains(name) && told.contains("MiB"), "{told}");
    }
}

#[test]
fn what_has_no_end_is_neither_a_plan_nor_an_earlier_review() {
    let desk = Desk::new();
    write(&desk, "reeds.csv", &[("reed\n1\n", 1)]);
    for call in ["trial read log /dev/zero", "review log --since /dev/zero"] {
        let call = format!("ulimit -v {}; exec \"$PROGRAM\" {call}", PROGRAM * 1024);
        let output = shell(&desk, &call).output().expect("called");
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{told}");
        assert!(told.contains("no ordinary file"), "{told}");
    }
}
