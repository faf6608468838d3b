//! How well probabilities told yes from no.

use super::outcome::BinomialOutcome;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::chi_squared_sf;

/// Mean squared difference of probability and outcome over all trials (Brier 1950, Monthly Weather Review 78, 1-3): 0 is perfect, 1/4 is a coin.
///
/// # Errors
/// `Empty`, `NotFinite`, `LengthMismatch`; `OutOfRange` for a probability outside 0 to 1.
pub fn brier_score(outcome: &BinomialOutcome, probabilities: &[f64]) -> Result<f64, StatsError> {
    check(outcome, probabilities)?;
    let rows = outcome.pairs().zip(probabilities);
    let terms = rows.map(|((s, f), p)| s * (1.0 - p).powi(2) + f * p.powi(2));
    Ok(terms.sum::<f64>() / outcome.trials().iter().sum::<f64>())
}

/// Chance that a success drawn at random has a higher probability than a failure drawn at random, ties counting one half: the area under the receiver
/// operating characteristic (Hanley & McNeil 1982, Radiology 143, 29-36). One half is guessing.
///
/// # Errors
/// `Empty`, `NotFinite`, `LengthMismatch`; `OutOfRange` for a probability outside 0 to 1; `NoVariation` for an outcome of one kind.
pub fn area_under_curve(
    outcome: &BinomialOutcome,
    probabilities: &[f64],
) -> Result<f64, StatsError> {
    check(outcome, probabilities)?;
    let mut rows: Vec<(f64, (f64, f64))> =
        probabilities.iter().copied().zip(outcome.pairs()).collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut below, mut won, mut successes) = (0.0, 0.0, 0.0);
    for tied in rows.chunk_by(|a, b| a.0 == b.0) {
        let some: f64 = tied.iter().map(|(_, pair)| pair.0).sum();
        let others: f64 = tied.iter().map(|(_, pair)| pair.1).sum();
        won += some * (below + 0.5 * others);
        below += others;
        successes += some;
    }
    if below == 0.0 || successes == 0.0 {
        return Err(StatsError::NoVariation { what: "the outcome".into() });
    }
    Ok(won / (below * successes))
}

/// The test of Hosmer & Lemeshow, with what it was computed from.
#[derive(Debug, Clone, PartialEq)]
pub struct HosmerLemeshow {
    /// `sum (observed - expected)^2 / (expected (1 - expected / n))` over the groups.
    pub statistic: f64,
    /// Groups less two.
    pub degrees_of_freedom: usize,
    /// Of each group, trials, observed and expected successes; from the lowest probabilities to the highest.
    pub groups: Vec<[f64; 3]>,
}

impl HosmerLemeshow {
    /// `P(chi-squared > statistic)`: small where the probabilities do not fit the outcomes they were fitted to.
    pub fn p_value(&self) -> f64 {
        chi_squared_sf(self.statistic, self.degrees_of_freedom as f64)
    }
}

/// Goodness of fit in groups of near equal probability (Hosmer & Lemeshow 1980, Communications in Statistics A9, 1043-1069). Rows in the order of their
/// probability are cut into `count` groups as equal in trials as rows of one probability, which stay together, allow. A blunt test: with under some hundred
/// trials it sees little, and where to cut is a choice.
///
/// # Errors
/// `Empty`, `NotFinite`, `LengthMismatch`; `OutOfRange` for a probability not inside 0 to 1; `TooFewGroups` for under three groups, asked or left.
pub fn hosmer_lemeshow(
    outcome: &BinomialOutcome,
    probabilities: &[f64],
    count: usize,
) -> Result<HosmerLemeshow, StatsError> {
    check(outcome, probabilities)?;
    let mut rows: Vec<(f64, (f64, f64))> =
        probabilities.iter().copied().zip(outcome.pairs()).collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let groups = cut(&rows, count);
    if groups.len() < 3 {
        return Err(StatsError::TooFewGroups { found: groups.len(), needed: 3 });
    }
    let terms = groups.iter().map(|[trials, observed, expected]| {
        let variance = expected * (1.0 - expected / trials);
        let off = (observed - expected).powi(2);
        if off == 0.0 { 0.0 } else { off / variance }
    });
    let statistic = terms.sum();
    Ok(HosmerLemeshow { statistic, degrees_of_freedom: groups.len() - 2, groups })
}

/// Groups of sorted rows; one ends where the trials so far reach its share of all.
fn cut(rows: &[(f64, (f64, f64))], count: usize) -> Vec<[f64; 3]> {
    let all: f64 = rows.iter().map(|(_, (s, f))| s + f).sum();
    let mut groups: Vec<[f64; 3]> = Vec::new();
    let (mut current, mut seen) = ([0.0; 3], 0.0);
    for tied in rows.chunk_by(|a, b| a.0 == b.0) {
        for (p, (s, f)) in tied {
            current[0] += s + f;
            current[1] += s;
            current[2] += p * (s + f);
        }
        if seen + current[0] >= all * (groups.len() + 1) as f64 / count as f64 * (1.0 - 1e-12) {
            seen += current[0];
            groups.push(current);
            current = [0.0; 3];
        }
    }
    if current[0] > 0.0 {
        groups.push(current);
    }
    groups
}

fn check(outcome: &BinomialOutcome, probabilities: &[f64]) -> Result<(), StatsError> {
    require_length("the list of probabilities", outcome.rows(), probabilities.len())?;
    require_finite("the list of probabilities", probabilities)?;
    match probabilities.iter().find(|value| !(0.0..=1.0).contains(*value)) {
        Some(&value) => {
            let (what, expected) = ("a probability".into(), "0 to 1".into());
            Err(StatsError::OutOfRange { what, value, expected })
        }
        None => Ok(()),
    }
}
