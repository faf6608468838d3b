//! `trial plan`: the plan, its page and its folder.

use std::path::PathBuf;

use jiff::Timestamp;
use jiff::tz::Offset;

use super::arguments::TrialPlan;
use super::outcome::Outcome;
use super::{is_misnamed, progress, reading, review, tell};
use crate::problem::Error;
use crate::questions::trial_plan::{self, PlanOptions};
use crate::report::{self, Look};
use crate::words;

const DEFAULT_FOLDER: &str = "canewright_trial";

/// Reads, plans, tells and writes the folder.
///
/// # Errors
/// Where the log cannot be read or the folder cannot be written.
pub fn plan(call: &TrialPlan) -> Result<Outcome, Error> {
    let asked = &call.asked;
    let reading = reading::read(asked)?;
    if reading::stopped(asked, &reading) {
        return Ok(Outcome::Stopped);
    }
    let answer = progress::during("planning", asked.quiet, || {
        trial_plan::ask(&reading.study, &options(call))
    });
    let look = Look::of_standard_output();
    let (finding, plan) = match answer {
        Ok(answer) => answer,
        Err(refusal) => {
            tell(&if asked.json {
                format!("{}\n", report::json(&review::results(asked, &reading, &[], &[refusal])))
            } else {
                report::refusal_page(&refusal, &look)
            })?;
            return Ok(match is_misnamed(&reading, call.factor.as_deref()) {
                true => Outcome::Stopped,
                false => Outcome::of(&reading.problems),
            });
        }
    };
    tell(&if asked.json {
        format!("{}\n", report::section_json(&finding.section))
    } else {
        report::page(&finding, &look)
    })?;
    if !asked.json || asked.out.is_some() {
        let out = asked.out.clone().unwrap_or_else(|| PathBuf::from(DEFAULT_FOLDER));
        let kept = report::write_trial(&plan, &finding, &out)?;
        if !asked.json {
            let folder = out.display().to_string();
            tell(&format!("\n{}\n", words::trial::plan::written(&folder, &kept)))?;
        }
    }
    Ok(Outcome::of(&reading.problems))
}

fn options(call: &TrialPlan) -> PlanOptions {
    let today = || Offset::UTC.to_datetime(Timestamp::now()).date();
    PlanOptions {
        factor: call.factor.clone(),
        arms: call.arms.clone(),
        lots: call.lots.clone(),
        pieces: call.pieces,
        power: call.power,
        worthwhile: call.worthwhile,
        looks: call.looks,
        spoiled: call.spoiled.into(),
        seed: call.asked.seed,
        made_on: call.date.unwrap_or_else(today).to_string(),
    }
}
