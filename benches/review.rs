//! How long a review takes, question by question, on logs of growing size, and how the seconds grow.
//!
//! `cargo bench --bench review -- [rows ...]`; without rows, 1,000 to 100,000, and with `--million` a million too. A log is made up on the spot from a fixed
//! seed (`made_up/log.rs`): forty pieces a lot, so that lots grow with the log; `--lots 25` holds their number, `--only factors` asks that question alone. Reading and every question run in this
//! process, on as many threads as the machine has; `whole review` is the program itself, from its start to the last file of its folder, and `start-up` the
//! program asked for its version. The exponent `a` is the slope of log seconds on log pieces: 1 is linear, and `n log n` over these sizes about 1.1.

mod made_up {
    pub mod log;
}

use canewright::intake::{ReadOptions, Reading, read};
use canewright::questions::{Options, REGISTRY};
use made_up::log;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

const SIZES: [usize; 5] = [1_000, 3_000, 10_000, 30_000, 100_000];
const MILLION: usize = 1_000_000;
const PROGRAM: &str = env!("CARGO_BIN_EXE_canewright");
const STARTS: usize = 21;
/// Shorter steps are repeated, and the best time counts.
const REPEATED_BELOW: f64 = 1.0;
const REPEATS: usize = 3;
/// Seconds that depend on the machine's mood more than on the log say nothing about growth.
const TOO_SHORT: f64 = 0.005;

struct Column {
    rows: usize,
    seconds: Vec<(&'static str, f64)>,
}

fn main() {
    // cargo passes `--bench`
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let lots = words.iter().position(|word| word == "--lots").map(|at| number(&words, at + 1));
    let after_lots = |at: usize| at > 0 && words[at - 1] == "--lots";
    let only = words.iter().position(|word| word == "--only").and_then(|at| words.get(at + 1));
    let mut sizes: Vec<usize> = (0..words.len())
        .filter(|&at| !after_lots(at))
        .filter_map(|at| words[at].parse().ok())
        .collect();
    if sizes.is_empty() {
        sizes.extend(SIZES);
    }
    if words.iter().any(|word| word == "--million") {
        sizes.push(MILLION);
    }
    println!("start-up: {:.1} ms", 1e3 * start_up());
    let columns: Vec<Column> = sizes.into_iter().map(|rows| measured(rows, lots, only)).collect();
    print(&columns);
    println!("peak memory of reading and asking: {} MB", peak());
}

fn number(words: &[String], at: usize) -> usize {
    words.get(at).and_then(|word| word.parse().ok()).expect("--lots takes a number")
}

fn measured(rows: usize, lots: Option<usize>, only: Option<&String>) -> Column {
    let folder = tempfile::tempdir().expect("a folder for the log");
    let path = folder.path().join("log");
    log::write(&path, rows, lots.unwrap_or_else(|| log::growing_lots(rows))).expect("room");
    settle(&path).expect("files that were just written");
    let out = folder.path().join("review");
    // first, so that what this process holds takes no memory from the program
    let whole = only.is_none().then(|| best(|| review(&path, &out)).1);
    let (reading, took) = best(|| whole_log(&path));
    let mut seconds = vec![("reading", took)];
    for question in &REGISTRY {
        let is_asked = only.is_none_or(|only| only == question.name);
        if is_asked && (question.asked_of)(&reading.study) {
            let ask = || (question.ask)(&reading.study, &Options::default()).is_ok();
            seconds.push((question.name, best(ask).1));
        }
    }
    seconds.extend(whole.map(|took| ("whole review", took)));
    eprintln!("{rows} pieces: {:.2} s", seconds.last().map_or(0.0, |(_, took)| *took));
    Column { rows, seconds }
}

/// Waits until the log is on the disk, as a maker's is: else its writing goes on beside what is timed.
fn settle(log: &Path) -> std::io::Result<()> {
    for file in std::fs::read_dir(log)? {
        std::fs::File::open(file?.path())?.sync_all()?;
    }
    Ok(())
}

fn whole_log(path: &Path) -> Reading {
    let reading = read(&[path.to_path_buf()], &ReadOptions::default()).expect("a log");
    assert!(!reading.has_errors(), "the made-up log is sound");
    reading
}

fn review(log: &Path, out: &Path) {
    let mut command = Command::new(PROGRAM);
    command.arg("review").arg(log).arg("--out").arg(out).arg("--quiet");
    let status = command.stdout(Stdio::null()).status().expect("the program");
    assert!(status.success(), "the review was written");
}

/// The median of several starts, the first of which fills the system's caches.
fn start_up() -> f64 {
    let start = || {
        let began = Instant::now();
        let status = Command::new(PROGRAM).arg("--version").stdout(Stdio::null()).status();
        assert!(status.expect("the program").success());
        began.elapsed().as_secs_f64()
    };
    let mut seconds: Vec<f64> = (0..STARTS).map(|_| start()).collect();
    seconds.sort_by(f64::total_cmp);
    seconds[STARTS / 2]
}

fn best<T>(mut run: impl FnMut() -> T) -> (T, f64) {
    let mut once = || {
        let began = Instant::now();
        let made = run();
        (made, began.elapsed().as_secs_f64())
    };
    let (mut made, mut least) = once();
    for _ in 1..REPEATS {
        if least >= REPEATED_BELOW {
            break;
        }
        let (again, took) = once();
        (made, least) = (again, least.min(took));
    }
    (made, least)
}

fn print(columns: &[Column]) {
    print!("{:<14}", "seconds");
    columns.iter().for_each(|column| print!("{:>11}", column.rows));
    println!("{:>8}", "a");
    let Some(first) = columns.first() else { return };
    for (name, _) in &first.seconds {
        let of = |column: &Column| {
            column.seconds.iter().find(|(known, _)| known == name).map(|(_, took)| *took)
        };
        print!("{name:<14}");
        for column in columns {
            of(column).map_or_else(|| print!("{:>11}", "-"), |took| print!("{took:>11.3}"));
        }
        let known: Vec<(f64, f64)> = columns
            .iter()
            .filter_map(|column| Some((column.rows as f64, of(column)?)))
            .filter(|(_, took)| *took >= TOO_SHORT)
            .map(|(rows, took)| (rows.ln(), took.ln()))
            .collect();
        exponent(&known).map_or_else(|| println!("{:>8}", "-"), |a| println!("{a:>8.2}"));
    }
}

/// The slope of least squares; none of fewer than three sizes.
fn exponent(points: &[(f64, f64)]) -> Option<f64> {
    if points.len() < 3 {
        return None;
    }
    let count = points.len() as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |(x, y), point| (x + point.0, y + point.1));
    let (x, y) = (x / count, y / count);
    let across = points.iter().map(|point| (point.0 - x) * (point.1 - y)).sum::<f64>();
    let along = points.iter().map(|point| (point.0 - x).powi(2)).sum::<f64>();
    Some(across / along)
}

/// Peak memory of this process in MB; zero where the system does not say.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<u64>().ok()).unwrap_or(0) / 1024
}
