//! How a call ended.

use std::process::ExitCode;

use crate::problem::{Problem, Severity};

/// How a call that was carried out ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing worse than a warning.
    Done,
    /// Done, with errors in cells or rows.
    DoneWithErrors,
    /// Not done: stopped because of errors and `--strict`, or asked about what the log does not have.
    Stopped,
}

impl Outcome {
    /// What the problems of a log come to.
    pub fn of(problems: &[Problem]) -> Outcome {
        if problems.iter().any(|problem| problem.severity == Severity::Error) {
            Outcome::DoneWithErrors
        } else {
            Outcome::Done
        }
    }
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> ExitCode {
        ExitCode::from(match outcome {
            Outcome::Done => 0,
            Outcome::DoneWithErrors => 1,
            Outcome::Stopped => 2,
        })
    }
}
