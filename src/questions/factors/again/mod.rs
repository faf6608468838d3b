//! The same question asked in other ways, and where the answers do not agree.
//!
//! | asked | model |
//! | --- | --- |
//! | [`ordered`] | the ratings as ordered categories: proportional odds (McCullagh 1980), errors robust to lots |
//! | [`good`] | good or not, over all pieces started and finished: logistic with a random intercept a lot, else Firth's penalty |
//! | [`spoiled`] | lost before the first note or not, where the factor was known before: Firth's penalty (Firth 1993) |
//! | [`imputed`] | the headline with the empty cells of what is adjusted for filled in twenty ways (van Buuren 2018) |
//!
//! The columns are chosen by the rules of the headline: earlier stages in, later ones out, all as deviations from the mean of the lot, the mean of the lot
//! beside a number.

pub(super) mod binary;
pub(super) mod change;
mod differs;
mod good;
mod imputed;
mod ordered;
pub(super) mod pieces;
mod spoiled;

use super::sample::Columns;
use super::{Looked, RatedRows, ReedScores};
use crate::finding::{AskedAgain, Estimated, Verdict};
use crate::stats::Estimate;
use crate::study::Study;
use crate::words::again::AgainWords;
use rayon::prelude::*;

use change::Asked;
use differs::Compared;
use imputed::Filled;

pub(super) use binary::Binary;
pub(super) use pieces::{Pieces, Table};

/// What is asked.
pub(super) struct Log<'a> {
    pub study: &'a Study,
    pub columns: &'a Columns<'a>,
    pub scores: &'a ReedScores,
    pub rated: &'a RatedRows,
    pub has_lots: bool,
    pub seed: u64,
}

/// The other answers to one factor, or level.
#[derive(Debug, Clone, Default)]
pub(in crate::questions) struct Answers {
    ordered: Option<Estimate>,
    /// Whether the odds may well not be the same all along the scale.
    uneven: bool,
    good: Option<Estimate>,
    good_per_ten: Option<Estimate>,
    /// Log odds.
    spoiled: Option<Estimate>,
    spoilage: Option<Estimate>,
    imputed: Option<Estimate>,
    imputed_share: Option<f64>,
}

/// Asks again about every factor with an estimate; verdicts must be in place.
pub(super) fn ask_again(log: &Log, pieces: &Pieces, looked: &mut [Looked]) {
    let filled = Filled::of(log);
    let looks = looked.len();
    let factors: Vec<&mut [Looked]> = looked.chunk_by_mut(|a, b| a.at == b.at).collect();
    factors.into_par_iter().for_each(|levels| one_factor(log, pieces, filled.as_ref(), levels));
    let compared = Compared::new(log.study, looks);
    for entry in looked.iter_mut().filter(|entry| entry.result.estimate.is_some()) {
        entry.result.asked_again.differs = compared.differs(entry);
    }
}

fn one_factor(log: &Log, pieces: &Pieces, filled: Option<&Filled>, levels: &mut [Looked]) {
    let asked: Vec<Option<Asked>> = levels.iter().map(|entry| Asked::of(log, entry)).collect();
    if asked.iter().all(Option::is_none) {
        return;
    }
    let at = levels[0].at; // a factor has an entry
    let mut words = AgainWords::default();
    let mut answers = vec![Answers::default(); levels.len()];
    let stands = levels
        .iter()
        .any(|entry| matches!(entry.result.verdict, Verdict::Clear | Verdict::Leaning));
    ordered::answer(log, (at, stands), &asked, &mut answers, &mut words);
    good::answer(log, pieces, at, &asked, &mut answers, &mut words);
    spoiled::answer(log, pieces, at, &asked, &mut answers, &mut words);
    imputed::answer(log, filled, at, &asked, &mut answers, &mut words);
    for (entry, answer) in levels.iter_mut().zip(answers) {
        answer.write(entry);
        entry.again_words = words;
    }
}

impl Answers {
    fn write(self, entry: &mut Looked) {
        entry.result.good_per_ten = self.good_per_ten.and_then(shown);
        entry.result.spoilage = self.spoilage.and_then(shown);
        entry.result.asked_again = AskedAgain {
            ordered: self.ordered.and_then(shown),
            good: self.good.and_then(shown),
            spoiled: self.spoiled.and_then(shown).map(odds_ratio),
            imputed: self.imputed.and_then(shown),
            imputed_share: self.imputed_share,
            differs: Vec::new(),
        };
        entry.answers = self;
    }
}

/// The estimate with its 95 % interval, where it has one.
pub(super) fn shown(estimate: Estimate) -> Option<Estimated> {
    let (low, high) = estimate.interval(0.95).ok()?;
    let is_sound = estimate.standard_error > 0.0 && low.is_finite() && high.is_finite();
    is_sound.then_some(Estimated { estimate: estimate.value, low, high })
}

/// Odds from their logarithms; none so large that it could not be written down.
pub(super) fn odds_ratio(log_odds: Estimated) -> Estimated {
    let odds = |value: f64| value.clamp(-700.0, 700.0).exp();
    Estimated {
        estimate: odds(log_odds.estimate),
        low: odds(log_odds.low),
        high: odds(log_odds.high),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_odds_ratio_is_the_exponential_of_the_log_odds() {
        let odds = odds_ratio(Estimated { estimate: 0.0, low: -(2f64.ln()), high: 2f64.ln() });
        assert_eq!(odds.estimate, 1.0);
        assert!((odds.low - 0.5).abs() < 1e-15 && (odds.high - 2.0).abs() < 1e-15);
    }

    #[test]
    fn an_estimate_without_an_error_is_not_shown() {
        let estimate = |standard_error: f64| Estimate {
            value: 1.0,
            standard_error,
            degrees_of_freedom: f64::INFINITY,
        };
        assert!(shown(estimate(0.0)).is_none() && shown(estimate(f64::NAN)).is_none());
        assert!(shown(estimate(0.5)).is_some());
    }
}
