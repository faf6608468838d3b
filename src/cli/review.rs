//! `review`: every question of the registry, in one report folder.

use std::path::{Path, PathBuf};

use super::arguments::Asked;
use super::outcome::Outcome;
use super::{progress, reading, tell};
use crate::finding::{Finding, MadeBy, Results, Section};
use crate::intake::Reading;
use crate::problem::{Error, Refusal};
use crate::questions::{self, Options, REGISTRY};
use crate::report::{self, Look, Review};

/// Raised whenever a key of `results.json` changes its meaning or goes away.
const FORMAT: u32 = 1;
const DEFAULT_FOLDER: &str = "canewright_review";

/// Reads, asks everything, and writes the folder.
///
/// # Errors
/// Where the log cannot be read or the folder cannot be written.
pub fn review(asked: &Asked) -> Result<Outcome, Error> {
    let reading = reading::read(asked)?;
    if reading::stopped(asked, &reading) {
        return Ok(Outcome::Stopped);
    }
    let (findings, refusals) = ask_all(asked, &reading);
    if asked.json {
        tell(&format!("{}\n", report::json(&results(asked, &reading, &findings, &refusals))));
    } else {
        let look = Look::of_standard_output();
        findings.iter().for_each(|finding| {
            tell(&report::brief(finding, &look));
        });
        refusals.iter().for_each(|refusal| {
            tell(&report::refusal_page(refusal, &look));
        });
    }
    if !asked.json || asked.out.is_some() {
        let out = asked.out.clone().unwrap_or_else(|| PathBuf::from(DEFAULT_FOLDER));
        write(asked, &reading, &findings, &refusals, &out)?;
        if !asked.json {
            tell(&format!("The review is in {}\n", out.join("review.html").display()));
        }
    }
    Ok(Outcome::of(&reading.problems))
}

fn ask_all(asked: &Asked, reading: &Reading) -> (Vec<Finding>, Vec<Refusal>) {
    let options = Options { seed: asked.seed, ..Options::default() };
    let (mut findings, mut refusals) = (Vec::new(), Vec::new());
    for question in &REGISTRY {
        match progress::during(question.asked, asked.quiet, || {
            (question.ask)(&reading.study, &options)
        }) {
            Ok(finding) => findings.push(finding),
            Err(refusal) => refusals.push(refusal),
        }
    }
    findings.push(questions::check::ask(&reading.study, &reading.problems));
    (findings, refusals)
}

/// Writes the report folder.
///
/// # Errors
/// Where the folder cannot be written, or holds something that is no earlier review.
pub fn write(
    asked: &Asked,
    reading: &Reading,
    findings: &[Finding],
    refusals: &[Refusal],
    out: &Path,
) -> Result<(), Error> {
    let results = results(asked, reading, findings, refusals);
    let review = Review {
        results: &results,
        findings,
        problems: &reading.problems,
        set_aside: reading.study.set_aside(),
    };
    report::write_folder(&review, out).map(|_| ())
}

/// Everything that goes to `results.json`.
pub fn results(
    asked: &Asked,
    reading: &Reading,
    findings: &[Finding],
    refusals: &[Refusal],
) -> Results {
    let mut results = Results {
        format: FORMAT,
        made_by: MadeBy {
            name: env!("CARGO_PKG_NAME").to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
        },
        seed: asked.seed,
        log: questions::log_summary(&reading.study),
        settings: questions::settings_shown(&reading.study),
        problems: questions::problems_shown(&reading.problems),
        refusals: refusals.to_vec(),
        factors: None,
        lots: None,
        decide: None,
        losses: None,
        families: None,
        blanks: None,
        sort: None,
        trial_plan: None,
        trial_read: None,
    };
    for finding in findings {
        match finding.section.clone() {
            Section::Factors(section) => results.factors = Some(section),
            Section::Lots(section) => results.lots = Some(section),
            Section::Decide(section) => results.decide = Some(section),
            Section::Losses(section) => results.losses = Some(section),
            Section::Families(section) => results.families = Some(section),
            Section::Blanks(section) => results.blanks = Some(section),
            Section::Sort(section) => results.sort = Some(section),
            Section::TrialRead(section) => results.trial_read = Some(section),
            Section::TrialPlan(section) => results.trial_plan = Some(section),
            Section::Check => {}
        }
    }
    results
}
