//! Is a measurement worth taking, to drop pieces before the work goes in?
//!
//! For one measurement that is known early: the limits outside which a piece would be dropped that give the most good reeds per ten pieces worked on, against dropping
//! none.
//!
//! **Method.** Limits are sought at the tenths of the values, with about half of the pieces kept at least. Each lot is judged by the limits that the other lots chose, so that
//! choosing does not flatter the judgement (nested, lots apart: Stone 1974). The gain is the share of good reeds among the kept less that among all; its interval rests on
//! the lots. Several measurements are looked at together, so `worth it` also needs an adjusted p of at most 0.05 (Benjamini & Hochberg 1995) unless one is named.
//! What sorting takes and spares: minutes of work and cane per good reed, and the net benefit over exchange rates of work against a good reed (decision curves: Vickers &
//! Elkin 2006).
//!
//! **Assumptions.** Pieces to come are like those of the log. A piece that would have been dropped costs its cane and no work. A piece's fate does not hang on others being
//! dropped.
//!
//! **Refuses** with one or two lots, where no measurement of cane or gouge is known of 30 pieces with a known end, five of them good and five not, or where the measurement
//! named is none.

mod judge;
mod say;
mod select;

use super::{Options, Question};
use crate::finding::Finding;
use crate::problem::Refusal;
use crate::study::Study;

pub const QUESTION: Question = Question {
    name: "sort",
    asked: "Is a measurement worth taking, to drop pieces before the work goes in?",
    help: "whether dropping pieces by an early measurement would have spared work",
    ask,
    asked_of: super::any_log,
};

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with too few lots, pieces or measurements.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let selected = select::select(study, options.factor.as_deref())?;
    let judged = judge::judge(study, &selected);
    Ok(say::finding(study, &selected, judged))
}

fn refusal(found: String, takes: &str) -> Refusal {
    Refusal { question: QUESTION.name.to_owned(), found, takes: takes.to_owned() }
}
