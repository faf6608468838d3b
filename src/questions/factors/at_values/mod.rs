//! One factor at given values: what the reeds would be rated and how many pieces would become good, had every piece that was started had that value.
//!
//! The models are those of the headline and of `again`, with the factor as a curve: the columns are chosen by stage order, everything stands as deviations
//! from the mean of the lot, and so a difference between two values is one among reeds of the same lot. Means are standardised over all pieces that were
//! started (Lane & Nelder 1982): a lot counts by its pieces, and not by those of them that were rated.

mod basis;
mod fitted;

use std::sync::Arc;

use super::again::Log;
use super::curve::Joint;
use super::fit::Bench;
use super::model::model;
use super::sample::{Cells, Columns, sample};
use super::{FEWEST_REEDS, not_modelled, profile};
use crate::finding::LeftOut;
use crate::questions::many::scores_taken;
use crate::questions::rated::RatedRows;
use crate::questions::scores::{ReedScores, reed_scores};
use crate::stats::Estimate;
use crate::study::{Factor, Study};
use crate::words::factors::ModelWords;

use basis::Basis;
use fitted::Fitted;

/// A value of a factor: of a number in its unit, or the code of a kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::questions) enum Value {
    Number(f64),
    Kind(u32),
}

/// A log and the factors that are computed from it.
pub(in crate::questions) struct Source<'a> {
    study: &'a Study,
    scores: Arc<ReedScores>,
    derived: profile::Derived,
}

impl<'a> Source<'a> {
    pub fn of(study: &'a Study) -> Self {
        let scores = reed_scores(study);
        let derived = profile::derived(study, &scores);
        Self { study, scores, derived }
    }

    /// How many reeds have a rating that counts.
    pub fn rated(&self) -> usize {
        self.scores.piece.len()
    }

    /// Whether all of them have the same score.
    pub fn all_alike(&self) -> bool {
        self.scores.score.windows(2).all(|pair| pair[0] == pair[1])
    }
}

/// The same, ready to be asked.
pub(in crate::questions) struct Reeds<'a> {
    study: &'a Study,
    /// Of all reeds, and of those that the models take.
    all: &'a ReedScores,
    scores: ReedScores,
    columns: Columns<'a>,
    rated: RatedRows,
    /// Whether reeds of the same lot can be compared.
    pub has_lots: bool,
    /// Whether all are of one lot.
    pub is_of_one_lot: bool,
}

impl<'a> Reeds<'a> {
    pub fn of(source: &'a Source<'a>) -> Self {
        let (study, all) = (source.study, &source.scores);
        let mut columns = Columns::of(study, all).with(&source.derived.factors);
        let scores = scores_taken(all, columns.lots, &mut columns.never_rated);
        Self {
            has_lots: columns.can_compare_within_lots(&scores.piece),
            is_of_one_lot: columns.are_of_one_lot(&scores.piece),
            rated: RatedRows::of(study, &scores),
            study,
            all,
            scores,
            columns,
        }
    }

    /// All factors, in the order of the making.
    pub fn factors(&self) -> impl Iterator<Item = &'a Factor> + '_ {
        self.columns.factors.iter().map(|(factor, _)| *factor)
    }

    /// The value of each piece, and the names of a choice's kinds.
    pub fn values(&self, at: usize) -> (Vec<Option<Value>>, Vec<String>) {
        match &self.columns.factors[at].1 {
            Cells::Number(cells) => {
                (cells.iter().map(|cell| cell.map(Value::Number)).collect(), Vec::new())
            }
            Cells::Choice(codes, levels) => {
                (codes.iter().map(|code| code.map(Value::Kind)).collect(), levels.clone())
            }
        }
    }

    /// Code of each piece's lot.
    pub fn lots(&self) -> &[Option<u32>] {
        self.columns.lots
    }

    /// The factor at each of the values.
    ///
    /// # Errors
    /// Why it cannot be modelled.
    pub fn at(&self, at: usize, values: &[Value], seed: u64) -> Result<AtValues, LeftOut> {
        let (factor, _) = &self.columns.factors[at];
        if let Some(why) = not_modelled(&self.columns, at, &self.scores) {
            return Err(why);
        }
        let sample = sample(&self.columns, &self.scores, at, self.has_lots);
        let n = sample.reeds.len();
        let too_few = || LeftOut {
            why: format!("{}: only {n} rated reeds have every cell that it takes", factor.label),
            n,
        };
        if n < FEWEST_REEDS {
            return Err(too_few());
        }
        let model = model(&self.columns, &self.scores, &sample, at, self.has_lots)
            .ok()
            .filter(|model| !model.own.is_empty())
            .ok_or_else(too_few)?;
        let bench = Bench::new(&model, self.rated.of_reeds(&sample.reeds));
        let basis = Basis::of(&model);
        let fitted = Fitted { reeds: self, at, model: &model, bench: &bench, basis, values };
        Ok(fitted.straightened().told(sample.left_out.clone(), seed))
    }

    fn log(&self, seed: u64) -> Log<'_> {
        Log {
            study: self.study,
            columns: &self.columns,
            scores: &self.scores,
            rated: &self.rated,
            has_lots: self.has_lots,
            seed,
        }
    }
}

/// A factor at some values.
pub(in crate::questions) struct AtValues {
    pub reeds: usize,
    pub lots: usize,
    pub left_out: Vec<LeftOut>,
    pub words: ModelWords,
    pub adjusted_for: Vec<String>,
    /// What the factor cannot be told from; empty where it can.
    pub tangled_with: Vec<String>,
    /// Share of its variance that is left after lots and other columns.
    pub kept_share: f64,
    pub bends: bool,
    /// For a number: how much more the rating moved from lot to lot for one unit, and the test that this is what it did within lots.
    pub between: Option<(Estimate, Estimate)>,
    /// Mean rating at each value; none where the log tells nothing about it.
    pub rating: Vec<Option<Estimate>>,
    /// The same for the chance of a good reed, with the joint distribution of all of them.
    pub good: Option<Joint>,
    /// Whether lots deviate at random in the model of good reeds.
    pub good_is_mixed: bool,
    pub good_pieces: usize,
    /// The factor's columns and their effects on the rating and on the log odds of being spoiled.
    pub effects: Effects,
    pub spoils: Option<Joint>,
    /// Share of the pieces that are spoiled before the first note.
    pub spoiled: f64,
    /// Standard deviation of the reeds' scores within lots.
    pub sd_within: f64,
    /// Scores of the reeds had each of them had the average effect of all reeds.
    pub levelled: Vec<f64>,
    /// Each reed's value and score, for the picture.
    pub points: Vec<(Value, f64)>,
}

/// A factor's columns at the values, and what is known of their effects.
pub(in crate::questions) struct Effects {
    /// At each value, less the average over the reeds.
    pub rows: Vec<Vec<f64>>,
    /// Effects on the rating; none where the log tells nothing.
    pub joint: Option<Joint>,
    /// How the effects vary from practice to practice, for one standard deviation of what a practice does to the rating.
    pub before: Vec<Vec<f64>>,
}
