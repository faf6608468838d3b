//! How long a log of a million pieces takes, against a plain polars read of the same file.
//!
//! `cargo bench --bench intake -- [rows]`. The file is made up on the spot, from a
//! fixed seed. Each reader is timed three times; the best time counts. Peak memory is
//! the process's own (`VmHWM`), so the polars read runs first and the reader's peak
//! includes everything before it.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use canewright::intake::{ReadOptions, read};
use polars_io::prelude::{CsvReadOptions, SerReader};

const REPEATS: usize = 3;

fn main() {
    // cargo passes `--bench`
    let rows = std::env::args().filter_map(|word| word.parse().ok()).next().unwrap_or(1_000_000);
    let folder = tempfile::tempdir().expect("a folder for the file");
    let path = folder.path().join("reeds.csv");
    fs::write(&path, log(rows)).expect("room for the file");
    let bytes = fs::metadata(&path).map_or(0, |metadata| metadata.len());
    println!("{rows} rows, {:.1} MB", bytes as f64 / 1e6);
    report("polars, plain read", rows, best(|| plain(&path)));
    let logs = [path];
    report("canewright, whole log", rows, best(|| whole(&logs, rows)));
}

fn report(what: &str, rows: usize, time: Duration) {
    let seconds = time.as_secs_f64();
    println!(
        "{what}: {seconds:.2} s, {:.0} rows a second, peak {} MB so far",
        rows as f64 / seconds,
        peak()
    );
}

fn best(mut run: impl FnMut()) -> Duration {
    let times = (0..REPEATS).map(|_| {
        let start = Instant::now();
        run();
        start.elapsed()
    });
    times.min().unwrap_or_default()
}

fn plain(path: &Path) {
    let options = CsvReadOptions::default().with_has_header(true);
    let reader =
        options.try_into_reader_with_file_path(Some(path.to_path_buf())).expect("a reader");
    let frame = reader.finish().expect("a frame");
    assert!(frame.height() > 0);
}

fn whole(logs: &[std::path::PathBuf], rows: usize) {
    let reading = read(logs, &ReadOptions::default()).expect("a log");
    assert_eq!(reading.study.pieces(), rows);
    assert!(!reading.has_errors());
}

/// Peak memory of this process in MB; zero where the system does not say.
fn peak() -> u64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<u64>().ok()).unwrap_or(0) / 1024
}

/// A log of twelve columns with numbers, dates, names, missing cells and ratings.
fn log(rows: usize) -> String {
    let mut text = String::with_capacity(rows * 64);
    text.push_str(
        "reed,lot,started_on,finished_on,gouge_center_mm,hardness,density_g_cm3,shape,forming_days,length_mm,fate,overall\n",
    );
    let mut state = 1u64;
    let mut next = |below: u64| {
        // the generator of Knuth's MMIX: good enough to vary a test file
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % below
    };
    for row in 0..rows {
        let (month, day) = (1 + next(6), 1 + next(28));
        let shape = ["narrow", "wide", "broad"][next(3) as usize];
        let _ = write!(text, "r{row},Lot {},2024-{month:02}-{day:02},", next(40));
        let _ = write!(
            text,
            "2024-{:02}-{day:02},{}.{:02},{},0.{},",
            month + 1,
            1,
            20 + next(10),
            10 + next(10),
            45 + next(15)
        );
        let _ = write!(text, "{shape},{},{}.5,", 5 + next(20), 54 + next(3));
        // every fifth piece is spoiled and has no rating
        let _ = if next(5) == 0 {
            writeln!(text, "spoiled,")
        } else {
            writeln!(text, "in_use,{}", 1 + next(10))
        };
    }
    text
}
