//! Fit: both models of one factor, asked at each value.

use std::collections::BTreeMap;

use super::super::again::{Binary, Log, Pieces, Table};
use super::super::curve::{Joint, Shape, within_lots};
use super::super::effect::{KEPT_SHARE, left};
use super::super::fit::{Answer, Bench, own_name};
use super::super::levels::Kinds;
use super::super::model::Model;
use super::basis::Basis;
use super::{AtValues, Effects, Reeds, Value};
use crate::finding::LeftOut;
use crate::questions::scores::{ReedScores, group_means};
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::logistic::Standardised;
use crate::stats::numeric::{mean, standard_deviation, sum_of_squares};
use crate::words::factors::ModelWords;

/// One factor with its model.
pub(super) struct Fitted<'a> {
    pub reeds: &'a Reeds<'a>,
    pub at: usize,
    pub model: &'a Model,
    pub bench: &'a Bench<'a>,
    pub basis: Basis,
    pub values: &'a [Value],
}

impl Fitted<'_> {
    /// As a straight line where a bend cannot be told.
    pub fn straightened(self) -> Self {
        let Basis::Curve(Shape::Parabola { .. }) = &self.basis else { return self };
        let columns = self.basis.columns(self.model);
        let can_bend = self
            .curved(&columns)
            .is_some_and(|answer| (0..columns.len()).all(|part| answer.effect(part).is_some()));
        if can_bend { self } else { Self { basis: self.basis.straight(), ..self } }
    }

    pub fn told(&self, left_out: Vec<LeftOut>, seed: u64) -> AtValues {
        let (model, columns) = (self.model, self.basis.columns(self.model));
        let answer = self.curved(&columns);
        let joint = answer
            .as_ref()
            .and_then(|answer| Joint::of(columns.len(), |weights| answer.combination(weights)));
        let left = left(model, &model.raw);
        let headline = self.bench.headline();
        let averages: Vec<f64> = columns.iter().map(|column| mean(column).unwrap_or(0.0)).collect();
        let rows: Vec<Vec<f64>> =
            self.values.iter().map(|value| minus(&self.basis.row(*value), &averages)).collect();
        let log = self.reeds.log(seed);
        let pieces = Pieces::of(log.study, self.reeds.all);
        let good = self.good(&log, &pieces);
        let (spoils, spoiled) = self.spoils(&log, &pieces);
        let freedom = (model.raw_scores.len() - model.lots.max(1)).max(1) as f64;
        let kinds = Kinds::of(model, headline.as_ref());
        AtValues {
            reeds: model.raw_scores.len(),
            lots: model.lots,
            left_out,
            words: answer.as_ref().map_or(ModelWords::default(), |answer| answer.words),
            adjusted_for: model.adjusted_for.clone(),
            tangled_with: self.tangled_with(left.kept, left.with, &kinds),
            kept_share: left.kept,
            bends: matches!(self.basis, Basis::Curve(Shape::Parabola { .. })),
            between: headline
                .as_ref()
                .and_then(|answer| Some((answer.between()?, answer.between_less_within()?))),
            rating: self.ratings(answer.as_ref(), joint.as_ref(), &columns, &rows),
            good_is_mixed: good.as_ref().is_some_and(|good| good.1),
            good_pieces: good.as_ref().map_or(0, |good| good.2),
            good: good.map(|good| good.0),
            levelled: self.levelled(&columns, &averages, joint.as_ref()),
            effects: Effects { rows, joint, before: self.basis.before() },
            spoils,
            spoiled,
            sd_within: (sum_of_squares(&model.scores) / freedom).sqrt(),
            points: self.points(),
        }
    }

    fn curved(&self, columns: &[Vec<f64>]) -> Option<Answer> {
        let own = within_lots(columns, &self.model.lot);
        self.bench.fit(&own, self.bench.lot_means().as_deref())
    }

    /// By the rule of the headline, and for a choice also where any kind shares no lot with the others.
    fn tangled_with(&self, kept: f64, with: Vec<String>, kinds: &Kinds) -> Vec<String> {
        if kept < KEPT_SHARE {
            let others = || vec!["the other columns together".to_owned()];
            return if with.is_empty() { others() } else { with };
        }
        let ties = (0..self.model.own.len()).map(|own| kinds.tie(own));
        let tied: Vec<String> = ties.flatten().map(str::to_owned).take(1).collect();
        tied
    }

    /// Each lot counts by the pieces that were started of it.
    fn over_pieces(&self, by_reed: &[f64]) -> f64 {
        let means = group_means(by_reed, &self.model.lot);
        let (mut sum, mut pieces) = (0.0, 0.0);
        for (lot, count) in self.started() {
            if let Some(mean) = means.get(&lot) {
                sum += mean * count;
                pieces += count;
            }
        }
        if pieces > 0.0 { sum / pieces } else { mean(by_reed).unwrap_or(0.0) }
    }

    /// Pieces started of each lot; all under one code where lots are not compared within.
    fn started(&self) -> BTreeMap<usize, f64> {
        let mut counts = BTreeMap::new();
        for lot in self.reeds.columns.lots {
            let code = if self.reeds.has_lots { lot.map(|lot| lot as usize) } else { Some(0) };
            if let Some(code) = code {
                *counts.entry(code).or_insert(0.0) += 1.0;
            }
        }
        counts
    }

    fn ratings(
        &self,
        answer: Option<&Answer>,
        joint: Option<&Joint>,
        columns: &[Vec<f64>],
        rows: &[Vec<f64>],
    ) -> Vec<Option<Estimate>> {
        let Some((answer, joint)) = answer.zip(joint) else { return vec![None; rows.len()] };
        let averages: Vec<f64> = columns.iter().map(|column| self.over_pieces(column)).collect();
        let lot_mean = self.bench.lot_means().map(|means| self.over_pieces(&means));
        let level = |value: &Value, row: &Vec<f64>| {
            let own = minus(&self.basis.row(*value), &averages);
            answer.level(&own, lot_mean).or_else(|| self.plain_level(joint, row))
        };
        self.values.iter().zip(rows).map(|(value, row)| level(value, row)).collect()
    }

    /// The mean of the reeds and what the value adds to it.
    fn plain_level(&self, joint: &Joint, row: &[f64]) -> Option<Estimate> {
        let scores = &self.model.raw_scores;
        let added = joint.contrast(row);
        let error = self.sd_of_mean(scores)?;
        Some(Estimate {
            value: mean(scores).ok()? + added.value,
            standard_error: added.standard_error.hypot(error),
            ..added
        })
    }

    fn sd_of_mean(&self, scores: &[f64]) -> Option<f64> {
        let spread = standard_deviation(scores).ok()?;
        Some(spread / (scores.len() as f64).sqrt())
    }

    fn levelled(&self, columns: &[Vec<f64>], averages: &[f64], joint: Option<&Joint>) -> Vec<f64> {
        let scores = self.model.raw_scores.iter().enumerate();
        let added = |reed: usize| {
            let parts = columns.iter().zip(averages).map(|(column, mean)| column[reed] - mean);
            joint.map_or(0.0, |joint| parts.zip(&joint.values).map(|(x, b)| x * b).sum())
        };
        scores.map(|(reed, score)| score - added(reed)).collect()
    }

    fn points(&self) -> Vec<(Value, f64)> {
        let (values, _) = self.reeds.values(self.at);
        let scores = &self.reeds.scores;
        let points = scores.piece.iter().zip(&scores.score);
        points.filter_map(|(&piece, &score)| Some((values[piece]?, score))).collect()
    }

    /// Chance of a good reed at each value, whether lots deviate at random, and over how many pieces.
    fn good(&self, log: &Log, pieces: &Pieces) -> Option<(Joint, bool, usize)> {
        let stage = self.reeds.columns.factors[self.at].0.stage;
        let outcome = pieces.good(stage);
        let table = self.table(log, outcome, &self.basis)?;
        let fit = Binary::mixed(&table).or_else(|| Binary::firth(&table))?;
        let columns = self.basis.columns(&table.model);
        let means: Vec<Vec<f64>> =
            columns.iter().map(|column| by_lot(column, &table.model.lot)).collect();
        let had = |value: &Value| fit.mean_of(&had(&table.design, &self.basis.row(*value), &means));
        let each: Vec<Standardised> = self.values.iter().map(had).collect::<Option<_>>()?;
        let joint = Joint::of(each.len(), |weights| fit.with_error(&table, &sum(&each, weights)?))?;
        Some((joint, matches!(fit, Binary::Mixed(_)), table.design.rows()))
    }

    fn table(&self, log: &Log, outcome: &ReedScores, basis: &Basis) -> Option<Table> {
        Table::with_own(log, outcome, self.at, |model| {
            within_lots(&basis.columns(model), &model.lot)
        })
    }

    /// Log odds of being spoiled, a straight line for a number, and the share of the pieces that are.
    fn spoils(&self, log: &Log, pieces: &Pieces) -> (Option<Joint>, f64) {
        let stage = self.reeds.columns.factors[self.at].0.stage;
        let Some(outcome) = pieces.spoiled(stage) else { return (None, 0.0) };
        let share = mean(&outcome.score).unwrap_or(0.0);
        let basis = self.basis.straight();
        let joint = self.table(log, outcome, &basis).and_then(|table| {
            let fit = Binary::firth(&table)?;
            let parts = basis.columns(&table.model).len();
            Joint::of(parts, |weights| fit.combination(&table, weights))
        });
        (joint, share)
    }
}

fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

/// Each row's mean of its lot.
fn by_lot(column: &[f64], lot: &[usize]) -> Vec<f64> {
    let means = group_means(column, lot);
    lot.iter().map(|lot| means[lot]).collect()
}

/// A design whose rows all have the value whose columns are given, as deviations from the means of their lots.
fn had(design: &Design, row: &[f64], means: &[Vec<f64>]) -> Design {
    let mut moved = design.clone();
    for (number, (value, means)) in row.iter().zip(means).enumerate() {
        // a column that the others explain is not in the design and needs no move
        let Ok(at) = design.column(&own_name(number)) else { continue };
        for (cell, mean) in moved.matrix.column_mut(at).iter_mut().zip(means) {
            *cell = value - mean;
        }
    }
    moved
}

fn sum(each: &[Standardised], weights: &[f64]) -> Option<Standardised> {
    let mut total = Standardised { value: 0.0, gradient: vec![0.0; each.first()?.gradient.len()] };
    for (one, weight) in each.iter().zip(weights) {
        total.value += weight * one.value;
        total.gradient.iter_mut().zip(&one.gradient).for_each(|(sum, part)| *sum += weight * part);
    }
    Some(total)
}
