//! One factor at given values: what the reeds would be rated and how many pieces would become good, had every piece that was started had that value.
//!
//! The models are those of the headline and of `again`, with the factor as a curve: the columns are chosen by stage order, everything stands as deviations
//! from the mean of the lot, and so a difference between two values is one among reeds of the same lot. Means are standardised over all pieces that were
//! started (Lane & Nelder 1982): a lot counts by its pieces, and not by those of them that were rated.

use std::collections::BTreeMap;

use super::super::rated::RatedRows;
use super::super::scores::{ReedScores, group_means, reed_scores};
use super::again::{Binary, Log, Pieces, Table};
use super::curve::{Joint, Shape, within_lots};
use super::effect::{KEPT_SHARE, left};
use super::fit::{Answer, Bench, own_name};
use super::levels::Kinds;
use super::model::{Model, model};
use super::sample::{Cells, Columns, sample};
use super::{FEWEST_REEDS, not_modelled, profile};
use crate::finding::LeftOut;
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::logistic::Standardised;
use crate::stats::numeric::{mean, sum_of_squares};
use crate::study::{Factor, Study};
use crate::words::factors::ModelWords;

/// With fewer reeds, or fewer different values, the factor is a straight line.
const FEWEST_FOR_A_BEND: usize = 40;
const FEWEST_VALUES: usize = 3;

/// A value of a factor: of a number in its unit, or the code of a kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::questions) enum Value {
    Number(f64),
    Kind(u32),
}

/// A log and the factors that are computed from it.
pub(in crate::questions) struct Source<'a> {
    study: &'a Study,
    scores: ReedScores,
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
    scores: &'a ReedScores,
    columns: Columns<'a>,
    rated: RatedRows,
    /// Whether reeds of the same lot can be compared.
    pub has_lots: bool,
}

impl<'a> Reeds<'a> {
    pub fn of(source: &'a Source<'a>) -> Self {
        let (study, scores) = (source.study, &source.scores);
        let columns = Columns::of(study, scores).with(&source.derived.factors);
        Self {
            has_lots: columns.can_compare_within_lots(&scores.piece),
            rated: RatedRows::of(study, scores),
            study,
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
        &self.columns.lots
    }

    /// The factor at each of the values.
    ///
    /// # Errors
    /// Why it cannot be modelled.
    pub fn at(&self, at: usize, values: &[Value], seed: u64) -> Result<AtValues, LeftOut> {
        let (factor, cells) = &self.columns.factors[at];
        let all: Vec<usize> = (0..self.scores.piece.len()).collect();
        if let Some(why) = not_modelled(factor, cells, self.scores, &all) {
            return Err(why);
        }
        let sample = sample(&self.columns, self.scores, at, self.has_lots);
        let n = sample.reeds.len();
        let too_few = || LeftOut {
            why: format!("{}: only {n} rated reeds have every cell that it takes", factor.label),
            n,
        };
        if n < FEWEST_REEDS {
            return Err(too_few());
        }
        let model = model(&self.columns, self.scores, &sample, at, self.has_lots)
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
            scores: self.scores,
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

/// The columns that a value turns into.
enum Basis {
    Curve(Shape),
    /// One 0/1 column a kind but the reference.
    Kinds(Vec<u32>),
}

impl Basis {
    fn of(model: &Model) -> Self {
        let Some(values) = model.raw.first().filter(|_| model.reference.is_none()) else {
            return Self::Kinds(model.levels.clone());
        };
        let may_bend = values.len() >= FEWEST_FOR_A_BEND && different(values) >= FEWEST_VALUES;
        let parabola = may_bend.then(|| Shape::parabola(values)).flatten();
        match parabola.or_else(|| Shape::line(values)) {
            Some(shape) => Self::Curve(shape),
            None => Self::Kinds(Vec::new()),
        }
    }

    /// The straight part of a curve alone.
    fn straight(&self) -> Self {
        match self {
            Self::Curve(Shape::Parabola { centre, scale }) => {
                Self::Curve(Shape::Line { centre: *centre, scale: *scale })
            }
            Self::Curve(shape) => Self::Curve(shape.clone()),
            Self::Kinds(levels) => Self::Kinds(levels.clone()),
        }
    }

    fn row(&self, value: Value) -> Vec<f64> {
        match (self, value) {
            (Self::Curve(shape), Value::Number(value)) => shape.basis(value),
            (Self::Kinds(levels), Value::Kind(code)) => {
                levels.iter().map(|level| f64::from(u8::from(*level == code))).collect()
            }
            // a number has a curve and a choice has kinds
            _ => Vec::new(),
        }
    }

    /// One entry a column: its value for each reed of a model.
    fn columns(&self, model: &Model) -> Vec<Vec<f64>> {
        match self {
            Self::Curve(shape) => model.raw.first().map_or(Vec::new(), |raw| shape.columns(raw)),
            Self::Kinds(levels) => {
                let of = |level: &u32| {
                    let place = model.levels.iter().position(|known| known == level);
                    place.map_or_else(
                        || self.of_reference(model, *level),
                        |place| model.raw[place].clone(),
                    )
                };
                levels.iter().map(of).collect()
            }
        }
    }

    /// A kind that is the reference of another model: what no column of that has.
    fn of_reference(&self, model: &Model, level: u32) -> Vec<f64> {
        let rows = model.scores.len();
        let is_other = |row: &usize| model.raw.iter().any(|column| column[*row] > 0.5);
        let is_it = model.reference == Some(level);
        (0..rows).map(|row| f64::from(u8::from(is_it && !is_other(&row)))).collect()
    }

    /// Variances beforehand. A curve is as likely to rise as to fall and its bend does half of what its slope does; kinds lie about their mean, so that two
    /// contrasts with the same reference go together.
    fn before(&self) -> Vec<Vec<f64>> {
        let square = |parts: usize, entry: fn(usize, usize) -> f64| {
            (0..parts).map(|a| (0..parts).map(|b| entry(a, b)).collect()).collect()
        };
        let on_diagonal = |a: usize, b: usize| match (a == b, a) {
            (true, 0) => 1.0,
            (true, _) => 0.25,
            (false, _) => 0.0,
        };
        match self {
            Self::Curve(Shape::Line { .. }) => square(1, on_diagonal),
            Self::Curve(Shape::Parabola { .. }) => square(2, on_diagonal),
            Self::Curve(Shape::Spline(_)) => square(3, on_diagonal),
            Self::Kinds(levels) => square(levels.len(), |a, b| if a == b { 2.0 } else { 1.0 }),
        }
    }
}

fn different(values: &[f64]) -> usize {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup();
    sorted.len()
}

struct Fitted<'a> {
    reeds: &'a Reeds<'a>,
    at: usize,
    model: &'a Model,
    bench: &'a Bench<'a>,
    basis: Basis,
    values: &'a [Value],
}

impl Fitted<'_> {
    /// As a straight line where a bend cannot be told.
    fn straightened(self) -> Self {
        let Basis::Curve(Shape::Parabola { .. }) = &self.basis else { return self };
        let columns = self.basis.columns(self.model);
        let can_bend = self
            .curved(&columns)
            .is_some_and(|answer| (0..columns.len()).all(|part| answer.effect(part).is_some()));
        if can_bend { self } else { Self { basis: self.basis.straight(), ..self } }
    }

    fn told(&self, left_out: Vec<LeftOut>, seed: u64) -> AtValues {
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
        let pieces = Pieces::of(log.study, log.scores);
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
        for lot in &self.reeds.columns.lots {
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
        let spread = crate::stats::numeric::standard_deviation(scores).ok()?;
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
        let scores = self.reeds.scores;
        let points = scores.piece.iter().zip(&scores.score);
        points.filter_map(|(&piece, &score)| Some((values[piece]?, score))).collect()
    }

    /// Chance of a good reed at each value, whether lots deviate at random, and over how many pieces.
    fn good(&self, log: &Log, pieces: &Pieces) -> Option<(Joint, bool, usize)> {
        let stage = self.reeds.columns.factors[self.at].0.stage;
        let outcome = pieces.good(stage);
        let table = self.table(log, &outcome, &self.basis)?;
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
        let joint = self.table(log, &outcome, &basis).and_then(|table| {
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
