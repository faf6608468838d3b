//! What went with losing a piece.
//!
//! The screen of the factors on another outcome: lost before the first note or not, over the pieces that were at risk once the factor was decided. A piece
//! that cracked on the pin was never at risk in scraping. Stage order, lots and adjusters are those of the headline; the model is logistic, with a random
//! intercept a lot in five lots or more that differ (adaptive Gauss-Hermite quadrature: Pinheiro & Bates 1995), else with Firth's penalty (Firth 1993; Heinze &
//! Schemper 2002). A verdict holds the change in lost pieces in ten against one piece in ten.

mod fit;
mod say;
mod stages;
mod tables;

use super::again::Log;
use super::again::binary::Odds;
use super::again::pieces::{FEWEST_OF_A_KIND, Pieces};
use super::judge::judge;
use super::sample::Columns;
use super::{Looked, RatedRows, ReedScores, count_out, profile, reed_scores};
use crate::catalogue::Stage;
use crate::finding::{Chart, LossAtStage, LossFactor, Table};
use crate::study::Study;
use crate::words::criteria::Counted;
use crate::words::losses::factors as words;
use rayon::prelude::*;

use fit::look;

/// A change in lost pieces in ten that a maker would not bother about.
const WORTHWHILE_PER_TEN: f64 = 1.0;

/// All that is said of the factors of loss.
#[derive(Debug, Default)]
pub(in crate::questions) struct Lost {
    pub list: Vec<LossFactor>,
    /// Why nothing was modelled.
    pub not_modelled: Option<String>,
    /// What stands out of all, in a sentence; none where nothing was modelled.
    pub answer: Option<String>,
    pub more: Vec<String>,
    pub caveats: Vec<String>,
    pub charts: Vec<Chart>,
    pub tables: Vec<Table>,
    pub assumptions: Vec<String>,
    pub sources: Vec<String>,
}

/// What stands beside the change in lost pieces in ten of one factor, or level.
struct Beside {
    odds: Option<Odds>,
    /// Odds of the mean of the lot, with the p of no difference from the effect within lots.
    between: Option<(Odds, Option<f64>)>,
    /// Pieces of the model that were lost.
    lost: usize,
    gone: Gone,
    /// Whether lots deviate at random in its model.
    is_mixed: bool,
    by_stage: Vec<LossAtStage>,
}

/// What is amiss with the lost pieces' own cells of a factor.
#[derive(Debug, Clone, Copy, Default)]
struct Gone {
    /// Lost at the factor's stage or later, and how many of them have no cell.
    lost: usize,
    lost_without: usize,
    kept: usize,
    kept_without: usize,
    /// Lost at the very stage at which the factor is the time spent there.
    cut_short: usize,
}

/// Every factor of a making stage held against the loss of pieces.
pub(in crate::questions) fn lost(study: &Study) -> Lost {
    let scores = reed_scores(study);
    let pieces = Pieces::of(study, &scores);
    // every stage of the making before play has pieces at risk, and cane comes before all of them
    let Some(all) = pieces.spoiled(Stage::Cane) else { return Lost::default() };
    let count = all.score.iter().filter(|lost| **lost > 0.5).count();
    if let Some(why) = too_few(count, all.score.len() - count) {
        return Lost { not_modelled: Some(why), ..Lost::default() };
    }
    let derived = profile::derived(study, all);
    let columns = columns(study, all).with(&derived.factors);
    let log = Log {
        study,
        columns: &columns,
        scores: all,
        rated: &RatedRows::once_a_reed(all),
        has_lots: columns.can_compare_within_lots(&all.piece),
        seed: 0, // nothing is drawn
    };
    let asked = (0..columns.factors.len()).into_par_iter();
    let (mut looked, beside): (Vec<Looked>, Vec<Beside>) =
        asked.flat_map_iter(|at| look(&log, &pieces, at)).unzip();
    if looked.is_empty() {
        return Lost { not_modelled: Some(words::NO_FACTOR.to_owned()), ..Lost::default() };
    }
    // one family over the factors, by the rules of the ratings
    judge(&mut looked, WORTHWHILE_PER_TEN);
    say::told(&log, &looked, &beside)
}

fn too_few(lost: usize, kept: usize) -> Option<String> {
    (lost.min(kept) < FEWEST_OF_A_KIND).then(|| words::too_few(lost, kept, FEWEST_OF_A_KIND))
}

fn columns<'a>(study: &'a Study, all: &ReedScores) -> Columns<'a> {
    let mut columns = Columns::of(study, all);
    columns.counted = Counted::Pieces;
    let unknown = study.pieces() - all.piece.len();
    columns.never_rated.clear();
    count_out(&mut columns.never_rated, words::UNKNOWN, unknown);
    columns
}
