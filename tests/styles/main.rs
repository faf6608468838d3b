//! Four ways in which makers keep their spreadsheets, each as its own small log.
//!
//! The files are invented; the styles are those that makers use: American with
//! thousandths of an inch and letters, German with decimal commas and school
//! marks, British with a wide grid and wire gauges, and a play log with a row a day.

mod american;
mod british;
mod german;
mod play_log;
mod units;

use std::path::{Path, PathBuf};

use canewright::intake::{self, ReadOptions, Reading};
use canewright::problem::{Problem, Severity};
use canewright::study::{Fate, Study};

fn style(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/styles").join(name)
}

fn read(path: PathBuf) -> Reading {
    intake::read(&[path], &ReadOptions::default()).expect("the log can be read")
}

/// Reads the folder, with its study file.
fn with_study_file(name: &str) -> Reading {
    read(style(name))
}

/// Reads the CSV file alone; the study file of the folder is then no part of the log.
fn without_study_file(name: &str) -> Reading {
    read(style(name).join("log.csv"))
}

fn row(study: &Study, id: &str) -> usize {
    study
        .ids()
        .iter()
        .position(|found| *found == id)
        .unwrap_or_else(|| panic!("reed {id} is in the log"))
}

fn number(study: &Study, id: &str, column: &str) -> Option<f64> {
    study.numbers(column)[row(study, id)].map(|value| (value * 1e9).round() / 1e9)
}

fn word(study: &Study, id: &str, column: &str) -> Option<String> {
    study.words(column)[row(study, id)].map(str::to_owned)
}

fn day(study: &Study, id: &str, column: &str) -> Option<String> {
    study.days(column)[row(study, id)].map(intake::values::dates::iso)
}

fn fate(study: &Study, id: &str) -> Option<Fate> {
    study.fates()[row(study, id)]
}

/// The scores of the main criterion, as (reed, score), in the file's order.
fn scores(study: &Study) -> Vec<(String, f64)> {
    let ids = study.ids();
    let rows = study.rating_rows();
    let pairs = rows.piece.iter().zip(&rows.score);
    pairs.map(|(piece, score)| (ids[*piece].to_owned(), (score * 1e6).round() / 1e6)).collect()
}

fn expected(pairs: &[(&str, f64)]) -> Vec<(String, f64)> {
    pairs.iter().map(|(id, score)| ((*id).to_owned(), *score)).collect()
}

/// Reads a copy of the folder whose study file makes another criterion the rating.
fn with_outcome(name: &str, outcome: &str) -> Reading {
    let folder = tempfile::tempdir().expect("a folder for the copy");
    std::fs::copy(style(name).join("log.csv"), folder.path().join("log.csv")).expect("copied");
    let study = std::fs::read_to_string(style(name).join("study.toml"))
        .expect("the style has a study file");
    std::fs::write(folder.path().join("study.toml"), format!("outcome = \"{outcome}\"\n{study}"))
        .expect("written");
    read(folder.path().to_path_buf())
}

fn errors(reading: &Reading) -> Vec<&Problem> {
    reading.problems.iter().filter(|problem| problem.severity == Severity::Error).collect()
}

fn said(reading: &Reading, column: &str, words: &str) -> bool {
    reading.problems.iter().any(|problem| {
        let text = format!("{} {} {}", problem.message, problem.expected, problem.remedy);
        problem.place.column.as_deref() == Some(column) && text.contains(words)
    })
}

fn rows_add_up(study: &Study) {
    for file in study.files() {
        assert_eq!(file.rows_read, file.rows_used + file.rows_set_aside, "{}", file.name);
    }
}
