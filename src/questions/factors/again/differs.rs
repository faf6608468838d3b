//! Where the answers do not agree in a way that a reader must know.

use super::super::Looked;
use super::shown;
use crate::finding::{Estimated, Verdict};
use crate::questions::outcome_words;
use crate::stats::Estimate;
use crate::study::{Better, Study};
use crate::words::again as words;
use crate::words::factors::{FactorWords, OutcomeWords, estimate, excludes_zero};

/// A difference of good reeds or spoiled pieces in ten that a maker would not bother about.
const WORTHWHILE_PER_TEN: f64 = 1.0;
/// Another answer stands out where the headline does not only after its p has been multiplied by the number of answers looked at (Bonferroni).
const SCREENED_AT: f64 = 0.05;

pub(super) struct Compared {
    outcome: OutcomeWords,
    worthwhile: f64,
    /// -1 where a lower rating is the better one.
    better: f64,
    looks: usize,
}

impl Compared {
    pub fn new(study: &Study, looks: usize) -> Self {
        let outcome = study.outcome();
        let is_lower = outcome.better == Better::Lower || outcome.target.is_some();
        Self {
            outcome: outcome_words(study),
            worthwhile: study.settings().worthwhile,
            better: if is_lower { -1.0 } else { 1.0 },
            looks,
        }
    }

    /// Nothing for a tangled factor, about which no answer says anything.
    pub fn differs(&self, entry: &Looked) -> Vec<String> {
        let result = &entry.result;
        let Some(headline) = estimate(result).filter(|_| result.verdict != Verdict::Tangled) else {
            return Vec::new();
        };
        let telling = Telling {
            entry,
            stands: matches!(result.verdict, Verdict::Clear | Verdict::Leaning),
            excludes_zero: excludes_zero(headline),
            estimate: headline.estimate,
            better: self.better * headline.estimate,
            looks: self.looks as f64,
            words: FactorWords {
                label: &entry.label,
                higher_is: entry.higher_is.as_deref(),
                lots: entry.lots,
                worthwhile: self.worthwhile,
                outcome: self.outcome,
            },
        };
        let survivors = telling.survivors();
        let good = telling.good().filter(|_| survivors.is_none());
        let others = [telling.ordered(), telling.uneven(), telling.imputed()];
        survivors.into_iter().chain(good).chain(others.into_iter().flatten()).collect()
    }
}

struct Telling<'a> {
    entry: &'a Looked,
    stands: bool,
    excludes_zero: bool,
    estimate: f64,
    /// The headline, above zero for the better.
    better: f64,
    looks: f64,
    words: FactorWords<'a>,
}

impl Telling<'_> {
    /// More pieces were spoiled; or, by the odds as well, fewer, while the reeds that were left were rated worse, which is the same the other way round.
    fn survivors(&self) -> Option<String> {
        let result = &self.entry.result;
        let spoilage = result.spoilage?;
        let is_flattered = spoilage.estimate * self.better > 0.0;
        let by_odds = result.asked_again.spoiled.is_some_and(|odds| odds.high < 1.0);
        let is_told = spoilage.low > 0.0 || (spoilage.high < 0.0 && by_odds && is_flattered);
        is_told.then(|| words::survivors(result, &self.words, spoilage, is_flattered))
    }

    fn good(&self) -> Option<String> {
        let result = &self.entry.result;
        let good = result.good_per_ten?;
        let is_apart = sides(good) != 0.0;
        let is_little = -WORTHWHILE_PER_TEN < good.low && good.high < WORTHWHILE_PER_TEN;
        let is_large = good.low > WORTHWHILE_PER_TEN || good.high < -WORTHWHILE_PER_TEN;
        if self.stands && is_apart && good.estimate * self.better < 0.0 {
            Some(words::good_is_opposite(result, &self.words, good))
        } else if self.stands && is_little {
            Some(words::good_is_little(result, &self.words, good))
        } else if !self.stands && is_large && self.stands_out(self.entry.answers.good) {
            Some(words::good_is_more(result, &self.words, good))
        } else {
            None
        }
    }

    fn ordered(&self) -> Option<String> {
        let ordered = self.entry.result.asked_again.ordered?;
        let side = sides(ordered);
        if self.excludes_zero && side * self.estimate < 0.0 {
            Some(words::ORDERED_IS_OPPOSITE.to_owned())
        } else {
            (self.stands && side == 0.0).then(|| words::ORDERED_IS_OPEN.to_owned())
        }
    }

    fn uneven(&self) -> Option<String> {
        (self.stands && self.entry.answers.uneven).then(|| words::UNEVEN.to_owned())
    }

    fn imputed(&self) -> Option<String> {
        let imputed = self.entry.result.asked_again.imputed?;
        let agrees = sides(imputed) * self.estimate > 0.0;
        if self.stands && !agrees {
            Some(words::imputed_is_open(imputed))
        } else if !self.excludes_zero && self.stands_out(self.entry.answers.imputed) {
            Some(words::imputed_is_more(imputed))
        } else {
            None
        }
    }

    fn stands_out(&self, answer: Option<Estimate>) -> bool {
        answer.is_some_and(|answer| {
            answer.p_value() * self.looks <= SCREENED_AT && shown(answer).is_some()
        })
    }
}

/// 1 or -1 where the interval lies on that side of zero, else 0.
fn sides(answer: Estimated) -> f64 {
    f64::from(i8::from(answer.low > 0.0) - i8::from(answer.high < 0.0))
}
