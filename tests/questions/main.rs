//! Each question on logs small enough to be worked by hand, or made so that the truth is known.
//!
//! The logs are written to a folder and read as any log is. Their numbers are invented for the purpose, unless a source
//! stands beside them.

mod adjusting;
mod again;
mod blanks;
mod by_hand;
mod counting;
mod criteria;
mod curves;
mod decide;
mod drift;
mod factors;
mod families;
mod foretell;
mod handout;
mod levels;
mod life;
mod loss_factors;
mod losses;
mod lots;
mod lots_worth;
mod makers;
mod many;
mod players;
mod profile;
mod recovery;
mod registry;
mod sort;
mod tangled;
mod together;
mod trial_plan;
mod trial_read;
mod trust;
mod unmoved;

use std::fs;

use canewright::finding::{
    FactorResult, FactorsSection, FamiliesSection, Finding, LossesSection, LotsSection, Section,
};
use canewright::intake::{ReadOptions, read};
use canewright::problem::Refusal;
use canewright::questions::{Options, find};
use canewright::study::Study;

/// Reads a log of these files.
fn study(files: &[(&str, &str)]) -> Study {
    let folder = tempfile::tempdir().expect("a folder for the test");
    for (name, text) in files {
        fs::write(folder.path().join(name), text).expect("the folder can be written to");
    }
    let reading = read(&[folder.path().to_path_buf()], &ReadOptions::default());
    reading.unwrap_or_else(|why| panic!("the log can be read: {why}")).study
}

/// A log of one table with a scale from 0 to 20, and whatever else the study file says.
fn reeds(table: &str, settings: &str) -> Study {
    let settings = format!("{}\n{settings}", if settings.contains("scale") { "" } else { SCALE });
    study(&[("reeds.csv", table), ("study.toml", &settings)])
}

const SCALE: &str = "scale = [0, 20]\ngood_at = 12\nworthwhile = 0.5\noutcome = \"rating\"";

fn ask(question: &str, study: &Study) -> Result<Finding, Refusal> {
    (find(question).expect("in the registry").ask)(study, &Options::default())
}

fn answered(question: &str, study: &Study) -> Finding {
    ask(question, study).unwrap_or_else(|why| panic!("{question} was refused: {why}"))
}

fn refused(question: &str, study: &Study) -> Refusal {
    match ask(question, study) {
        Err(refusal) => refusal,
        Ok(finding) => panic!("expected a refusal, not: {}", finding.answer),
    }
}

fn factors(study: &Study) -> FactorsSection {
    match answered("factors", study).section {
        Section::Factors(section) => section,
        other => panic!("{other:?}"),
    }
}

fn lots(study: &Study) -> LotsSection {
    match answered("lots", study).section {
        Section::Lots(section) => section,
        other => panic!("{other:?}"),
    }
}

fn losses(study: &Study) -> LossesSection {
    match answered("losses", study).section {
        Section::Losses(section) => section,
        other => panic!("{other:?}"),
    }
}

fn families(study: &Study) -> FamiliesSection {
    match answered("families", study).section {
        Section::Families(section) => section,
        other => panic!("{other:?}"),
    }
}

fn factor<'a>(section: &'a FactorsSection, name: &str) -> &'a FactorResult {
    let found = section.list.iter().find(|result| result.factor == name);
    found.unwrap_or_else(|| panic!("{name} is not among {:?}", section.list))
}

/// The effect for one unit of the factor, not for its usual step.
fn per_unit(result: &FactorResult) -> f64 {
    result.estimate.expect("fitted") / result.step.expect("a number has a step")
}

fn close(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance, "{what}: found {found}, expected {expected}");
}

/// Numbers between -1 and 1 without order or pattern, the same each time (the splitting step of Steele, Lea & Flood 2014,
/// Fast splittable pseudorandom number generators, from memory; any scrambling would do).
fn noise(row: usize, stream: usize) -> f64 {
    let mut bits = (row as u64 + 1)
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .wrapping_add((stream as u64 + 1).wrapping_mul(0xD1B5_4A32_D192_ED03));
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    bits ^= bits >> 31;
    (bits >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// A table of reeds with these columns after `reed`, one line a row.
fn table(columns: &str, rows: usize, line: impl Fn(usize) -> String) -> String {
    let mut text = format!("reed,{columns}\n");
    for row in 0..rows {
        text += &format!("{row},{}\n", line(row));
    }
    text
}
