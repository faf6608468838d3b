//! The numbers of the making held against the ratings of one part of a log alone, such as one maker's, for questions that lay such parts side by side.

use super::super::rated::RatedRows;
use super::super::scores::reed_scores;
use super::sample::Columns;
use super::{Depth, FEWEST_REEDS, look_at_all, profile};
use crate::finding::Verdict;
use crate::stats::Estimate;
use crate::study::Study;
use crate::words::factors::ModelWords;

/// What one measurement went with among the reeds of this part.
#[derive(Debug, Clone)]
pub(in crate::questions) struct OwnEffect {
    pub factor: String,
    pub label: String,
    pub unit: Option<String>,
    pub higher_is: Option<String>,
    /// For one unit of the measurement.
    pub effect: Estimate,
    /// The usual step.
    pub step: f64,
    pub reeds: usize,
    pub lots: usize,
    pub model: ModelWords,
}

/// One entry a number whose effect can be measured among reeds of the same lot (of all reeds, where lots cannot be compared within), by the models of
/// `factors` and in the order of the making; choices, and numbers that are tangled with others, have none.
pub(in crate::questions) fn own_effects(study: &Study) -> Vec<OwnEffect> {
    let scores = reed_scores(study);
    let all_alike = scores.score.windows(2).all(|pair| pair[0] == pair[1]);
    if scores.piece.len() < FEWEST_REEDS || all_alike {
        return Vec::new();
    }
    let derived = profile::derived(study, &scores);
    let columns = Columns::of(study, &scores).with(&derived.factors);
    let has_lots = columns.can_compare_within_lots(&scores.piece);
    let rated = RatedRows::of(study, &scores);
    let looked = look_at_all(&columns, &scores, &rated, has_lots, Depth::Mean);
    let told = |entry: super::Looked| {
        let is_told = entry.result.kind == "number" && entry.result.verdict != Verdict::Tangled;
        let effect = entry.effect.filter(|_| is_told)?;
        Some(OwnEffect {
            factor: entry.result.factor,
            label: entry.label,
            unit: entry.result.unit,
            higher_is: entry.higher_is,
            effect,
            step: entry.result.step?,
            reeds: entry.result.used,
            lots: entry.lots,
            model: entry.model,
        })
    };
    looked.into_iter().filter_map(told).collect()
}
