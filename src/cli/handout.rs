//! `handout`: the page for a studio, told and written.

use std::path::PathBuf;

use super::arguments::Asked;
use super::outcome::Outcome;
use super::{is_misnamed, progress, reading, review, tell};
use crate::problem::Error;
use crate::questions::Options;
use crate::questions::handout::{self, Names};
use crate::report::{self, Look};

const DEFAULT_FOLDER: &str = "canewright_handout";

/// Reads, asks, tells and writes the page.
///
/// # Errors
/// Where the log cannot be read or the page cannot be written.
pub fn handout(asked: &Asked, options: &Options, names: Names) -> Result<Outcome, Error> {
    let reading = reading::read(asked)?;
    if reading::stopped(asked, &reading) {
        return Ok(Outcome::Stopped);
    }
    let answer =
        progress::during("asking", asked.quiet, || handout::ask(&reading.study, options, names));
    let look = Look::of_standard_output();
    let handout = match answer {
        Ok(handout) => handout,
        Err(refusal) => {
            tell(&if asked.json {
                format!("{}\n", report::json(&review::results(asked, &reading, &[], &[refusal])))
            } else {
                report::refusal_page(&refusal, &look)
            })?;
            return Ok(match is_misnamed(&reading, options.factor.as_deref()) {
                true => Outcome::Stopped,
                false => Outcome::of(&reading.problems),
            });
        }
    };
    tell(&if asked.json {
        report::handout_json(&handout)
    } else {
        report::handout_page(&handout, &look)
    })?;
    if !asked.json || asked.out.is_some() {
        let out = asked.out.clone().unwrap_or_else(|| PathBuf::from(DEFAULT_FOLDER));
        let page = report::handout(&handout, &review::made_by())?;
        let path = report::write_handout(&page, &out)?;
        if !asked.json {
            tell(&format!("The page to print is {}\n", path.display()))?;
        }
    }
    Ok(Outcome::of(&reading.problems))
}
