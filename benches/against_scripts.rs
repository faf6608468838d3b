//! The seven steps of a review, timed here and by other programs on the same table, in one run.
//!
//! `cargo bench --bench against_scripts -- [rows] -- PROGRAM SCRIPT [-- PROGRAM SCRIPT ...]`. A script is called as `PROGRAM SCRIPT table.csv repeats` and
//! prints a JSON object with `median_s`, seconds by step. The table is made up on the spot from a fixed seed: 12 columns, 25 lots. Every step here runs
//! on as many threads as the machine has, and once more on one.

mod made_up;

use canewright::stats::cluster::{k_means, mean_silhouette};
use canewright::stats::linear::least_squares;
use canewright::stats::mixed::{Criterion, fit_mixed};
use made_up::{COLUMNS, Table};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

const REPEATS: usize = 5;
const BOOTSTRAP: usize = 2_000;

type Step = (&'static str, fn(&Path, &Table));

const STEPS: [Step; 7] = [
    ("read", |path, _| read(path)),
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
    let ours = times(&path, &table);
    let theirs: Vec<BTreeMap<String, f64>> = others.iter().map(|part| run(part, &path)).collect();
    print(rows, &ours, &others, &theirs);
}
