//! Worlds with too little in them: a useful page or a clear refusal, never nonsense.

use canewright::finding::{CandidateResult, Finding, Section};
use canewright::problem::Refusal;
use rand_chacha::ChaCha12Rng;

use super::super::simulation::Simulation;
use super::asked::all;
use super::sizes::FEW;

const QUESTIONS: [&str; 10] =
    ["factors", "lots", "decide", "losses", "life", "trust", "drift", "families", "blanks", "sort"];

/// Every question answers with a sentence and ordered intervals, or refuses with what it found and what it takes.
fn sensible(scenario: &str, generator: &mut ChaCha12Rng) -> Option<bool> {
    Some(all(scenario, generator, &QUESTIONS).iter().all(|answer| match answer {
        Ok(finding) => speaks(finding) && in_order(&finding.section),
        Err(refusal) => says_why(refusal),
    }))
}

fn speaks(finding: &Finding) -> bool {
    !finding.answer.trim().is_empty() && !finding.answer.contains("NaN") && finding.used.0 > 0
}

fn says_why(refusal: &Refusal) -> bool {
    !refusal.found.trim().is_empty() && !refusal.takes.trim().is_empty()
}

/// Estimates lie in their intervals, and all of them are numbers.
fn in_order(section: &Section) -> bool {
    let holds =
        |low: Option<f64>, estimate: Option<f64>, high: Option<f64>| match (low, estimate, high) {
            (Some(low), Some(estimate), Some(high)) => {
                low.is_finite() && high.is_finite() && low <= estimate && estimate <= high
            }
            (None, _, None) => true,
            _ => false,
        };
    match section {
        Section::Factors(section) => section.list.iter().all(|result| {
            holds(result.low, result.estimate, result.high) && !result.sentence.is_empty()
        }),
        Section::Lots(section) => {
            section.list.iter().all(|result| holds(result.low, result.pooled_mean, result.high))
        }
        Section::Decide(answers) => answers.iter().all(|answer| {
            let in_order = |one: &CandidateResult| {
                holds(one.low, one.rating, one.high)
                    && holds(one.good_low, one.good_per_ten, one.good_high)
                    && holds(one.diff_low, one.difference, one.diff_high)
            };
            answer.candidates.iter().all(in_order) && answer.regret_stay.is_finite()
        }),
        _ => true,
    }
}

macro_rules! claim {
    ($claim:literal, $scenario:literal) => {
        Simulation {
            claim: $claim,
            nominal: 1.0,
            slack: (0.0, 0.0),
            replicates: FEW,
            attempt: |generator| sensible($scenario, generator),
        }
    };
}

pub const RATES: &[Simulation] = &[
    claim!("a page or a refusal: 12 reeds in 3 lots", "12 reeds in 3 lots"),
    claim!("a page or a refusal: one lot only", "one lot only"),
    claim!("a page or a refusal: every reed its own lot", "every reed its own lot"),
    claim!("a page or a refusal: one player", "one player"),
    claim!("a page or a refusal: a factor with one level", "a factor with one level"),
    claim!("a page or a refusal: 30 factors and 60 reeds", "30 factors and 60 reeds"),
    claim!("a page or a refusal: all pieces lost", "all pieces lost"),
    claim!("a page or a refusal: no piece lost", "no piece lost"),
];
