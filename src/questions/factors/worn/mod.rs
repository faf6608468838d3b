//! What went with wearing out sooner or later.
//!
//! The screen of the factors on the lives of the reeds that were played. Stage order, lots and adjusters are those of the headline; adjusters are chosen by
//! how they go with the martingale residual of the curve of all reeds (Therneau, Grambsch & Fleming 1990), which is to a life what the rating is to a reed.
//!
//! **Model.** Proportional hazards (Cox 1972) with Efron's ties. Reeds of the same lot are compared by strata: every lot has a baseline hazard of its own.
//! Centring on the lot under one common baseline is no match for it: lots that differ in life then pull every ratio towards 1, and with a ratio of 1.6 a
//! standard deviation and lots that differ by half a log hazard the interval of the lot-robust error covers in 86 %, that of the strata in 95 to 96 %
//! (simulated, 8 to 25 lots). Strata need no lot-robust error and none of its many lots, since what a lot's reeds share drops out. A factor that is the same
//! all through each lot is compared over all reeds, with the error of leaving out one lot after another.

mod fit;
mod say;
mod tables;

use super::again::Log;
use super::judge::judge;
use super::sample::Columns;
use super::{Looked, RatedRows, profile};
use crate::finding::{Chart, Estimated, Hazard, Table};
use crate::questions::lives::Lives;
use crate::questions::scores::ReedScores;
use crate::stats::multiplicity::benjamini_hochberg;
use crate::stats::survival::nelson_aalen;
use crate::study::Study;
use crate::words::criteria::Counted;
use crate::words::life::hazards as words;
use rayon::prelude::*;

/// Ratios from 4/5 to 5/4 are such as a maker would not bother about.
pub(super) const WORTHWHILE_RATIO: f64 = 1.25;
/// With fewer retired reeds nothing is modelled.
const FEWEST_RETIRED: usize = 10;

/// All that is said of what went with wearing out.
#[derive(Debug, Default)]
pub(in crate::questions) struct Worn {
    pub list: Vec<Hazard>,
    /// Why nothing was modelled.
    pub not_modelled: Option<String>,
    /// What stands out of all, in a sentence, and whether anything does; none where nothing was modelled.
    pub answer: Option<(String, bool)>,
    pub more: Vec<String>,
    pub charts: Vec<Chart>,
    pub tables: Vec<Table>,
    pub assumptions: Vec<String>,
    pub sources: Vec<String>,
}

/// What stands beside the logarithm of one factor's ratio, or level's.
#[derive(Debug, Clone)]
struct Beside {
    ratio: Option<Estimated>,
    /// Reeds of the model that were retired.
    retired: usize,
    drift: Option<Drift>,
}

/// Whether a ratio is the same early and late.
#[derive(Debug, Clone, Copy)]
struct Drift {
    p: f64,
    /// The same, adjusted over the factors.
    q: f64,
    grows: bool,
}

/// Every factor of a making stage held against the lives of the reeds.
pub(in crate::questions) fn worn(study: &Study, lives: &Lives) -> Worn {
    if let Some(why) = too_few(lives.retired()) {
        return Worn { not_modelled: Some(why), ..Worn::default() };
    }
    let residuals = residuals(lives);
    let derived = profile::derived(study, &residuals);
    let columns = columns(study, lives, &residuals).with(&derived.factors);
    let log = Log {
        study,
        columns: &columns,
        scores: &residuals,
        rated: &RatedRows::once_a_reed(&residuals),
        has_lots: columns.can_compare_within_lots(&residuals.piece),
        seed: 0, // nothing is drawn
    };
    let asked = (0..columns.factors.len()).into_par_iter();
    let (mut looked, mut beside): (Vec<Looked>, Vec<Beside>) =
        asked.flat_map_iter(|at| fit::look(&log, lives, at)).unzip();
    if looked.is_empty() {
        return Worn { not_modelled: Some(words::NO_FACTOR.to_owned()), ..Worn::default() };
    }
    judge(&mut looked, WORTHWHILE_RATIO.ln());
    adjust_drifts(&mut beside);
    say::told(&looked, &beside, lives.unit)
}

fn too_few(retired: usize) -> Option<String> {
    (retired < FEWEST_RETIRED).then(|| words::too_few(retired, FEWEST_RETIRED))
}

/// Retired or not, less the risk that was run: above 0 where a reed ended sooner than was to be expected.
fn residuals(lives: &Lives) -> ReedScores {
    let hazard = lives.all().map(|all| nelson_aalen(&all));
    let until = |time: f64| {
        let found = hazard.as_ref().ok().and_then(|hazard| hazard.hazard_at(time).ok());
        found.map_or(0.0, |found| found.value)
    };
    let each = lives.time.iter().zip(&lives.ended).zip(&lives.entry);
    let score = each
        .map(|((&time, &ended), &entry)| f64::from(u8::from(ended)) - (until(time) - until(entry)))
        .collect();
    ReedScores::of(lives.piece.clone(), score)
}

fn columns<'a>(study: &'a Study, lives: &Lives, residuals: &ReedScores) -> Columns<'a> {
    let mut columns = Columns::of(study, residuals);
    columns.counted = Counted::PlayedReeds;
    columns.never_rated.clone_from(&lives.left_out);
    columns
}

/// One family over the factors.
fn adjust_drifts(beside: &mut [Beside]) {
    let p: Vec<f64> = beside.iter().filter_map(|beside| Some(beside.drift?.p)).collect();
    let adjusted = benjamini_hochberg(&p).unwrap_or_default();
    let drifts = beside.iter_mut().filter_map(|beside| beside.drift.as_mut());
    for (drift, q) in drifts.zip(adjusted) {
        drift.q = q;
    }
}
