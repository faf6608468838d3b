//! `trial read`: a trial by its plan.

use std::path::Path;

use super::arguments::Asked;
use super::outcome::Outcome;
use super::{answered, progress, reading};
use crate::problem::Error;
use crate::{plan, questions};

/// Reads plan and log, and tells what the trial said.
///
/// # Errors
/// Where the plan is none, the log cannot be read, or the folder cannot be written.
pub fn read(asked: &Asked, file: &Path) -> Result<Outcome, Error> {
    let plan = plan::read(file)?;
    let reading = reading::read(asked)?;
    if reading::stopped(asked, &reading) {
        return Ok(Outcome::Stopped);
    }
    let answer = progress::during("asking", asked.quiet, || {
        questions::trial_read::ask(&reading.study, &plan)
    });
    answered(asked, &reading, answer)
}
