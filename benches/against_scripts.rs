//! The seven steps of a review, timed here and by other programs on the same table, in one run.
//!
//! `cargo bench --bench against_scripts -- [rows] -- PROGRAM SCRIPT [-- PROGRAM SCRIPT ...]`. A script is called as `PROGRAM SCRIPT table.csv repeats` and
//! prints a JSON object with `median_s`, seconds by step. The table is made up on the spot from a fixed seed: 12 columns, 25 lots. Every step here runs
//! on as many threads as the machine has, and once more on one.

mod made_up;

use canewright::intake::{ReadOptions, read};
use canewright::stats::cluster::{k_means_each, silhouettes_of_all};
use canewright::stats::linear::{RowCorrection, least_squares};
use canewright::stats::mixed::{Criterion, fit_mixed};
use canewright::stats::ordinal::{OrderedOutcome, fit_ordinal};
use canewright::stats::products::Products;
use canewright::stats::refit::Refit;
use canewright::stats::survival::{Lifetimes, Ties, fit_cox, kaplan_meier};
use made_up::{COLUMNS, Table};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

const REPEATS: usize = 5;
const BOOTSTRAP: usize = 2_000;
/// Silhouettes compare every pair; above so many rows the scripts take a sample of so many, and so is it done here.
const SILHOUETTE_ROWS: usize = 5_000;

type Step = (&'static str, fn(&Path, &Table));

/// The names are those of the scripts' steps.
const STEPS: [Step; 7] = [
    ("read", |path, _| drop(read(&[path.to_path_buf()], &ReadOptions::default()).expect("a log"))),
    ("ols_hc3", |_, table| ols_hc3(table)),
    ("mixed", |_, table| mixed(table)),
    ("ordinal", |_, table| ordinal(table)),
    ("bootstrap", |_, table| bootstrap(table)),
    ("kmeans", |_, table| groups(table)),
    ("survival", |_, table| survival(table)),
];

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let mut parts = words.split(|word| word == "--");
    let rows = parts.next().and_then(|first| first.first()?.parse().ok()).unwrap_or(5_000);
    let others: Vec<&[String]> = parts.filter(|part| part.len() == 2).collect();
    let folder = tempfile::tempdir().expect("a folder for the table");
    let path = folder.path().join("reeds.csv");
    let table = Table::draw(rows);
    std::fs::write(&path, csv_text(&table)).expect("room for the table");
    let one_thread = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("one thread");
    let mut columns = vec![
        ("all threads".to_owned(), times(&path, &table)),
        ("one thread".to_owned(), one_thread.install(|| times(&path, &table))),
    ];
    columns.extend(others.iter().map(|part| (part[0].clone(), run(part, &path))));
    print(rows, &columns);
}

/// The median of the repeats of every step, seconds.
fn times(path: &Path, table: &Table) -> BTreeMap<String, f64> {
    STEPS.iter().map(|&(name, step)| (name.to_owned(), median(|| step(path, table)))).collect()
}

fn median(step: impl Fn()) -> f64 {
    let mut seconds: Vec<f64> = (0..REPEATS)
        .map(|_| {
            let start = Instant::now();
            step();
            start.elapsed().as_secs_f64()
        })
        .collect();
    seconds.sort_by(f64::total_cmp);
    seconds[REPEATS / 2]
}

fn ols_hc3(table: &Table) {
    let fit = least_squares(&table.design(), &table.score).expect("a fit");
    let robust = fit.heteroskedastic(RowCorrection::Hc3).expect("leverages");
    for column in COLUMNS {
        robust.contrast(&fit.pick(column).expect("a column")).expect("an error");
    }
}

fn mixed(table: &Table) {
    fit_mixed(&table.design(), &table.score, &table.lot, Criterion::Reml).expect("a fit");
}

fn ordinal(table: &Table) {
    let grades = OrderedOutcome::new(&table.grade).expect("grades");
    fit_ordinal(&table.columns_alone(), &grades).expect("a fit");
}

fn bootstrap(table: &Table) {
    let products = Products::new(&table.design(), &table.score, &table.lot).expect("products");
    let refit = Refit::new(&products).expect("columns that vary");
    refit.lot_bootstrap(BOOTSTRAP, 1).expect("refits");
}

fn groups(table: &Table) {
    let points = table.points();
    let sample = SILHOUETTE_ROWS.min(table.score.len());
    let found = k_means_each(&points, &[2, 3, 4, 5, 6, 7, 8], 10, 1).expect("groups");
    let some = points.slice(ndarray::s![..sample, ..]).to_owned();
    let partings: Vec<&[usize]> = found.iter().map(|one| &one.memberships[..sample]).collect();
    silhouettes_of_all(&some, &partings).expect("two groups in the sample");
}

fn survival(table: &Table) {
    let lifetimes = Lifetimes::new(&table.hours, &table.ended).expect("lifetimes");
    kaplan_meier(&lifetimes);
    fit_cox(&table.columns_alone(), &lifetimes, None, Ties::Efron).expect("a fit");
}

/// The table as the scripts read it.
fn csv_text(table: &Table) -> String {
    let mut text = format!("reed,lot,{},score,grade,hours,ended\n", COLUMNS.join(","));
    for row in 0..table.score.len() {
        let _ = write!(text, "{},{}", row + 1, table.lot[row] + 1);
        for column in &table.columns {
            let _ = write!(text, ",{:.4}", column[row]);
        }
        let (score, grade) = (table.score[row], table.grade[row]);
        let (hours, ended) = (table.hours[row], u8::from(table.ended[row]));
        let _ = writeln!(text, ",{score:.3},{grade},{hours:.2},{ended}");
    }
    text
}

/// Seconds by step that another program says it took.
fn run(part: &[String], path: &PathBuf) -> BTreeMap<String, f64> {
    let output = Command::new(&part[0])
        .arg(&part[1])
        .arg(path)
        .arg(REPEATS.to_string())
        .env("OMP_NUM_THREADS", "1")
        .output()
        .expect("the program starts");
    let said = String::from_utf8_lossy(&output.stdout);
    let said: serde_json::Value = serde_json::from_str(said.trim()).expect("JSON from the script");
    let steps = said["median_s"].as_object().expect("median_s");
    steps.iter().filter_map(|(step, seconds)| Some((step.clone(), seconds.as_f64()?))).collect()
}

fn print(rows: usize, columns: &[(String, BTreeMap<String, f64>)]) {
    println!(
        "{rows} rows, {} columns, {} lots; milliseconds, median of {REPEATS}",
        COLUMNS.len(),
        made_up::LOTS
    );
    print!("{:<12}", "step");
    columns.iter().for_each(|(name, _)| print!("{:>24}", last_part(name)));
    println!();
    for (step, _) in STEPS {
        print!("{step:<12}");
        let ours = columns[0].1[step];
        for (place, (_, times)) in columns.iter().enumerate() {
            match times.get(step) {
                Some(seconds) if place < 2 => print!("{:>24.2}", seconds * 1e3),
                Some(seconds) => print!("{:>14.2} ({:>6.0} x)", seconds * 1e3, seconds / ours),
                None => print!("{:>24}", "not run"),
            }
        }
        println!();
    }
}

fn last_part(name: &str) -> String {
    Path::new(name).file_name().map_or(name.into(), |part| part.to_string_lossy().into_owned())
}
