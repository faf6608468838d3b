//! Fit: the rules of one set of columns, for pieces of lots with rated reeds and for pieces of new lots.

use std::collections::BTreeMap;

use super::super::factors::foretell::{FEWEST_REEDS, GRID, INNER_PARTS, variances};
use super::super::scores::group_sums;
use super::Bench;
use crate::stats::StatsError;
use crate::stats::conformal::{
    CrossConformal, Exchangeable, PredictionInterval, PredictiveDistribution,
};
use crate::stats::design::Design;
use crate::stats::penalised::{Folds, NestedOptions, PenalisedFit, leave_out_elastic_net};
use crate::stats::products::Products;
use crate::stats::resample::{permutation, stream};

/// Parts of the reeds that are held out in turn where lots are known.
const PARTS: usize = 20;
/// The errors of so many reeds make a range; more are drawn from.
const MOST_ERRORS: usize = 2000;
/// The range holds nine of ten.
pub(super) const LEVEL: f64 = 0.9;
/// Streams of chance beside those that choose a penalty.
const PARTS_STREAM: u64 = 1 << 32;
const DRAWN_STREAM: u64 = PARTS_STREAM + 1;

/// A linear rule and what it knows of lots.
#[derive(Clone)]
struct Rule {
    fit: PenalisedFit,
    /// What to add for a lot; nothing for others.
    lots: BTreeMap<usize, f64>,
}

impl Rule {
    fn value(&self, row: impl Iterator<Item = f64>, lot: Option<usize>) -> f64 {
        let own = lot.and_then(|lot| self.lots.get(&lot));
        self.fit.value_at(row) + own.copied().unwrap_or(0.0)
    }
}

/// The rules of one set of columns.
pub(super) struct Rules {
    /// For pieces of lots with rated reeds; none where too few reeds share a lot.
    known: Option<Held>,
    new: Held,
    lower_is_better: bool,
}

/// Rules held against reeds that they have not seen.
struct Held {
    rules: CrossConformal<Rule>,
    /// From this level on a reed counts as good.
    line: f64,
}

/// What is foretold of one piece.
pub(super) struct Foretelling {
    pub interval: PredictionInterval,
    pub distribution: PredictiveDistribution,
    /// The chance of a good reed.
    pub good: f64,
    /// Whether the reeds of its own lot had a say.
    pub by_lot: bool,
}

impl Rules {
    /// # Errors
    /// `NotConverged`, or values too large for sums of squares.
    pub fn of(bench: &Bench, places: &[usize]) -> Result<Self, StatsError> {
        let rows = Learning {
            design: bench.measured.design.select(places),
            scores: bench.rows.scores.clone(),
            lot: bench.rows.lot.clone(),
            good: bench.good.clone(),
            lower_is_better: bench.lower_is_better,
        };
        let new = rows.lots_apart(&bench.held_out, bench.seed)?;
        let company = rows.in_company();
        let known = match company.scores.len() >= FEWEST_REEDS {
            true => Some(company.reeds_apart(bench.seed)?),
            false => None,
        };
        Ok(Self { known, new, lower_is_better: bench.lower_is_better })
    }

    /// What a piece with this row comes to; `lot` only where it has rated reeds.
    ///
    /// # Errors
    /// `NotFinite` for a row that is no number.
    pub fn foretell(&self, row: &[f64], lot: Option<usize>) -> Result<Foretelling, StatsError> {
        let predict = |rule: &Rule| rule.value(row.iter().copied(), lot);
        let (held, exchangeable, by_lot) = match (&self.known, lot) {
            (Some(known), Some(_)) => (known, Exchangeable::Rows, true),
            _ => (&self.new, Exchangeable::ManyGroups, false),
        };
        let distribution = held.rules.distribution(exchangeable, predict)?;
        let good = match self.lower_is_better {
            true => distribution.at_most(held.line),
            false => distribution.at_least(held.line),
        };
        let interval = held.rules.interval(LEVEL, exchangeable, predict)?;
        Ok(Foretelling { interval, distribution, good, by_lot })
    }
}

/// The reeds to learn from.
struct Learning {
    design: Design,
    scores: Vec<f64>,
    lot: Vec<usize>,
    good: Vec<bool>,
    lower_is_better: bool,
}

impl Learning {
    /// Each part of the lots foretold by rules that have not seen it.
    fn lots_apart(&self, held_out: &Folds, seed: u64) -> Result<Held, StatsError> {
        let fits = self.fits(held_out, seed)?;
        let rules = fits.into_iter().map(|fit| Rule { fit, lots: BTreeMap::new() }).collect();
        self.conformal(held_out, rules, seed)
    }

    /// Each part of the reeds foretold by rules that have not seen it, but have seen other reeds of the same lots.
    fn reeds_apart(&self, seed: u64) -> Result<Held, StatsError> {
        let folds = Folds::each_group(&self.parts(seed))?;
        let fits = self.fits(&folds, seed)?;
        let rule = |(fold, fit): (usize, PenalisedFit)| {
            let lots = self.shifts(&folds.split(fold).1, &fit);
            Rule { fit, lots }
        };
        let rules = fits.into_iter().enumerate().map(rule).collect();
        self.conformal(&folds, rules, seed)
    }

    fn fits(&self, folds: &Folds, seed: u64) -> Result<Vec<PenalisedFit>, StatsError> {
        let products = Products::new(&self.design, &self.scores, folds.of_rows())?;
        let each = Folds::each_group(folds.of_rows())?;
        let options = NestedOptions { grid: GRID, inner_folds: INNER_PARTS, seed };
        leave_out_elastic_net(&products, &each, &options)
    }

    /// A part for every reed, dealt round lot by lot in a random order, so that a lot is never held out whole.
    fn parts(&self, seed: u64) -> Vec<usize> {
        let mut order = permutation(&mut stream(seed, PARTS_STREAM), self.scores.len());
        order.sort_by_key(|&row| self.lot[row]);
        let mut parts = vec![0; self.scores.len()];
        order.into_iter().enumerate().for_each(|(turn, row)| parts[row] = turn % PARTS);
        parts
    }

    /// What the reeds of each lot tell beyond the columns: the mean error of its reeds, drawn towards nothing by the spread between and within lots (the best
    /// linear prediction of a lot's effect: Henderson 1975, Biometrics 31, 423-447).
    fn shifts(&self, seen: &[usize], fit: &PenalisedFit) -> BTreeMap<usize, f64> {
        let lots: Vec<usize> = seen.iter().map(|&row| self.lot[row]).collect();
        let error = |&row: &usize| {
            self.scores[row] - fit.value_at(self.design.matrix.row(row).iter().copied())
        };
        let errors: Vec<f64> = seen.iter().map(error).collect();
        let Some((between, within)) = variances(&errors, &lots) else { return BTreeMap::new() };
        let drawn = |(lot, (sum, reeds)): (usize, (f64, usize))| {
            let own = reeds as f64 * between;
            (lot, sum / reeds as f64 * own / (own + within))
        };
        let sums = group_sums(&errors, &lots).into_iter().enumerate();
        sums.filter(|(_, (_, reeds))| *reeds > 0).map(drawn).collect()
    }

    /// The errors of the reeds held out, and the line that as many of them reach as were good; or of some drawn by chance where there are many.
    fn conformal(&self, folds: &Folds, rules: Vec<Rule>, seed: u64) -> Result<Held, StatsError> {
        let mut drawn = permutation(&mut stream(seed, DRAWN_STREAM), self.scores.len());
        drawn.truncate(MOST_ERRORS);
        drawn.sort_unstable();
        let of = |values: &[usize]| drawn.iter().map(|&row| values[row]).collect::<Vec<usize>>();
        let parts = of(folds.of_rows());
        // parts that no reed was drawn of have no say; the others are counted anew by rising number
        let mut present = parts.clone();
        present.sort_unstable();
        present.dedup();
        let rules = present.iter().map(|&part| rules[part].clone()).collect();
        let scores: Vec<f64> = drawn.iter().map(|&row| self.scores[row]).collect();
        let predict = |rule: &Rule, at: usize| {
            let row = drawn[at];
            rule.value(self.design.matrix.row(row).iter().copied(), Some(self.lot[row]))
        };
        let lots = of(&self.lot);
        let folds = Folds::each_group(&parts)?;
        let rules = CrossConformal::from_rules(&scores, &lots, &folds, rules, predict)?;
        let good = drawn.iter().filter(|&&row| self.good[row]).count() as f64;
        let share = (good + 0.5) / (drawn.len() as f64 + 1.0);
        let below = if self.lower_is_better { share } else { 1.0 - share };
        Ok(Held { line: rules.level_above(below), rules })
    }

    /// The reeds that share their lot with another.
    fn in_company(&self) -> Learning {
        let mut reeds: BTreeMap<usize, usize> = BTreeMap::new();
        self.lot.iter().for_each(|lot| *reeds.entry(*lot).or_default() += 1);
        let rows: Vec<usize> =
            (0..self.lot.len()).filter(|&row| reeds[&self.lot[row]] > 1).collect();
        Learning {
            design: Design {
                names: self.design.names.clone(),
                matrix: self.design.matrix.select(ndarray::Axis(0), &rows),
            },
            scores: rows.iter().map(|&row| self.scores[row]).collect(),
            lot: rows.iter().map(|&row| self.lot[row]).collect(),
            good: rows.iter().map(|&row| self.good[row]).collect(),
            lower_is_better: self.lower_is_better,
        }
    }
}
