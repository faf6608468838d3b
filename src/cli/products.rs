//! `products`, and `factors --products`: sums by lot, for a table that no machine holds.

use std::path::Path;

use super::arguments::{Asked, Products};
use super::outcome::Outcome;
use super::{progress, tell};
use crate::intake;
use crate::problem::Error;
use crate::questions::products as question;
use crate::report::{self, Look};
use crate::study::{Factor, FactorKind, Study};
use crate::sums::{self, Source, Summed, Sums};
use crate::words::spelling::did_you_mean;

/// Prints the query that sums a table by lot, or the sums of a log that is here.
///
/// # Errors
/// Where the columns are none that could be summed, or the log cannot be read.
pub fn products(call: &Products) -> Result<Outcome, Error> {
    let summed = Summed::new(&call.factors, &call.score, &call.about).map_err(Error::Call)?;
    if call.of.is_empty() {
        let source = Source::new(&call.table, &call.lot).map_err(Error::Call)?;
        return tell(&sums::sql(&summed, &source));
    }
    let reading = intake::read(&call.of, &intake::ReadOptions::default())?;
    for factor in &call.factors {
        require_number(&reading.study, factor)?;
    }
    let sums = question::sums_of(&reading.study, summed)
        .map_err(|error| Error::Call(format!("The log cannot be summed: {error}.")))?;
    let (heading, rows) = sums.rows();
    let heading: Vec<&str> = heading.iter().map(String::as_str).collect();
    tell(&report::csv_rows(&heading, rows))?;
    Ok(Outcome::of(&reading.problems))
}

fn require_number(study: &Study, name: &str) -> Result<(), Error> {
    let numbers = || study.factors().iter().filter(|factor| factor.kind == FactorKind::Number);
    if numbers().any(|factor| factor.name == name) {
        return Ok(());
    }
    let known: Vec<&String> = numbers().map(|factor: &Factor| &factor.name).collect();
    Err(Error::Call(format!(
        "The log has no column of numbers “{name}”.{} `canewright check` lists its columns.",
        did_you_mean(name, &known)
    )))
}

/// Answers from a file of sums.
///
/// # Errors
/// Where the file cannot be read as sums.
pub fn factors(asked: &Asked, file: &Path) -> Result<Outcome, Error> {
    let sums = read(file)?;
    let answer = progress::during("asking", asked.quiet, || question::ask(&sums));
    let look = Look::of_standard_output();
    tell(&match (answer, asked.json) {
        (Ok(finding), true) => format!("{}\n", report::section_json(&finding.section)),
        (Ok(finding), false) => report::page(&finding, &look),
        (Err(refusal), true) => format!("{}\n", report::refusal_json(&refusal)),
        (Err(refusal), false) => report::refusal_page(&refusal, &look),
    })
}

fn read(file: &Path) -> Result<Sums, Error> {
    let table = intake::table(file)?;
    sums::read(&table.file, &table.header, &table.rows)
}
