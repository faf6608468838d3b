//! The sentence of each factor.

use super::entry::Looked;
use super::reading_error::ReadTwice;
use super::spread;
use crate::finding::{FactorResult, Verdict};
use crate::study::Study;
use crate::words::factors::FactorWords;

pub(super) fn put_in_words(looked: &mut [Looked], study: &Study, read_twice: &ReadTwice) {
    for entry in looked {
        let words = FactorWords {
            label: &entry.label,
            higher_is: entry.higher_is.as_deref(),
            lots: entry.lots,
            worthwhile: study.settings().worthwhile,
            outcome: crate::questions::outcome_words(study),
        };
        let turn = entry.bend.as_ref().and_then(|bend| bend.turn.as_ref());
        let sentence = match turn {
            Some(turn) => crate::words::sweet_spot::sentence(&entry.result, &words, turn),
            None => crate::words::factors::sentence(&entry.result, &words),
        };
        let further = [told_true_step(entry, read_twice), told_spread(&entry.result, &words)];
        let differs = entry.result.asked_again.differs.iter().cloned();
        let told: Vec<String> =
            std::iter::once(sentence).chain(further.into_iter().flatten()).chain(differs).collect();
        entry.result.sentence = told.join(" ");
    }
}

/// The corrected effect, where there is one to tell and the error changes it.
fn told_true_step(entry: &Looked, read_twice: &ReadTwice) -> Option<String> {
    const IDLE_FROM: f64 = 0.95;
    let found = entry.result.true_step.filter(|found| found.reliability < IDLE_FROM)?;
    let bends = entry.bend.as_ref().is_some_and(|bend| bend.turn.is_some());
    let is_told = matches!(entry.result.verdict, Verdict::Clear | Verdict::Leaning) && !bends;
    let pieces = *read_twice.get(&entry.result.factor)?;
    is_told.then(|| crate::words::spread::corrected(&found, pieces))
}

fn told_spread(result: &FactorResult, words: &FactorWords) -> Option<String> {
    let found = result.spread.as_ref().filter(|found| spread::stands_out(found))?;
    Some(crate::words::spread::sentence(result, words, found))
}
