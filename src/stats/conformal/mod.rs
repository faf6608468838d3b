//! Prediction intervals that promise their coverage whatever the rule and whatever the errors' distribution.

use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::penalised::{Folds, PenalisedFit, predict_by_fold};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What may change places with what, so that a promise holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exchangeable {
    /// Whole groups, and rows inside a group: the new row belongs to a **new group**. Every group has the same say however many rows it has, so an
    /// interval at nominal level `c` is finite only from about `1 / (1 - c)` groups on.
    Groups,
    /// As [`Exchangeable::Groups`] with many groups: no weight is set aside for the new group itself, so a few groups bound the interval too, and its
    /// coverage comes near the nominal level as groups become many, without a promise for few (the pooled distribution of Dunn, Wasserman & Ramdas 2022,
    /// Journal of the American Statistical Association 118, 2491-2502).
    ManyGroups,
    /// All rows: the new row is one more like the others, and groups play no part but as folds.
    Rows,
}

/// A prediction interval, in the unit of the outcome.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PredictionInterval {
    /// Lower end; minus infinity where there are too few groups or rows to bound it.
    pub low: f64,
    /// Upper end; infinite in the same case.
    pub high: f64,
    /// The coverage that is promised in finite samples without any assumption but exchangeability; `None` for folds of unequal size (of rows where rows are
    /// exchangeable, of groups where groups are) and for [`Exchangeable::ManyGroups`]. The usual coverage is near the nominal level.
    pub promised: Option<f64>,
}

impl PredictionInterval {
    /// Whether both ends are finite.
    pub fn is_bounded(&self) -> bool {
        self.low.is_finite() && self.high.is_finite()
    }
}

/// Rules that each have not seen one fold, and the errors of the rows they have not seen: jackknife+ where every row or group is a fold, CV+ where
/// folds are larger (Barber, Candes, Ramdas & Tibshirani 2021, Annals of Statistics 49, 486-507).
///
/// With `m_i` the prediction of the new row by the rule that has not seen row `i`, `r_i` the absolute error of row `i` under that rule, and weights `w_i`, the
/// interval at nominal level `c = 1 - alpha` runs from the largest `v` such that the rows with `m_i - r_i >= v` weigh `c` to the smallest `v` such that those
/// with `m_i + r_i <= v` weigh `c`. Rows exchangeable: `w_i = 1 / (n + 1)`. Groups exchangeable: `w_i = 1 / ((G + 1) n_g)`, the hierarchical form (Lee,
/// Barber & Willett 2023, arXiv:2306.06342).
///
/// Coverage is at least `1 - 2 alpha` with a fold for each exchangeable unit, else at least `1 - 2 alpha - min(2 (1 - 1/K) / (N/K + 1), (1 - K/N) / (K + 1))`
/// with `N` units in `K` equal folds (theorem 4 of Barber et al., from memory; for groups by the same argument). It holds on average over data and new
/// rows, for rules that do not depend on the order of their rows.
#[derive(Debug, Clone)]
pub struct CrossConformal<Rule> {
    rules: Vec<Rule>,
    folds: Folds,
    /// Outcome less prediction.
    errors: Vec<f64>,
    /// The prediction of each row by the rule that has not seen it.
    own: Vec<f64>,
    /// Weight of each row where groups are exchangeable.
    group_weights: Vec<f64>,
    groups: usize,
}

impl<Rule: Send> CrossConformal<Rule> {
    /// Fits a rule for each fold, in parallel, and takes the errors of the rows held out. `fit` gets the rows to learn from; `predict` a rule and a row.
    ///
    /// # Errors
    /// As [`CrossConformal::from_rules`]; those of `fit`.
    pub fn new(
        outcome: &[f64],
        groups: &[usize],
        folds: &Folds,
        fit: impl Fn(&[usize]) -> Result<Rule, StatsError> + Sync,
        predict: impl Fn(&Rule, usize) -> f64,
    ) -> Result<Self, StatsError> {
        let rules: Result<Vec<Rule>, StatsError> =
            (0..folds.count).into_par_iter().map(|fold| fit(&folds.split(fold).1)).collect();
        Self::from_rules(outcome, groups, folds, rules?, predict)
    }
}

impl<Rule> CrossConformal<Rule> {
    /// From a rule for each fold that has not seen it.
    ///
    /// # Errors
    /// `LengthMismatch`; `NotFinite` for the outcome or a prediction.
    pub fn from_rules(
        outcome: &[f64],
        groups: &[usize],
        folds: &Folds,
        rules: Vec<Rule>,
        predict: impl Fn(&Rule, usize) -> f64,
    ) -> Result<Self, StatsError> {
        require_length("the list of rules", folds.count, rules.len())?;
        let rows = folds.of_row.iter().enumerate();
        let predictions = rows.map(|(row, &fold)| predict(&rules[fold], row)).collect();
        Self::assemble(outcome, groups, folds, rules, predictions)
    }

    fn assemble(
        outcome: &[f64],
        groups: &[usize],
        folds: &Folds,
        rules: Vec<Rule>,
        predictions: Vec<f64>,
    ) -> Result<Self, StatsError> {
        require_length("the outcome", folds.of_row.len(), outcome.len())?;
        require_length("the list of groups", outcome.len(), groups.len())?;
        require_finite("the outcome", outcome)?;
        require_finite("the predictions", &predictions)?;
        let mut sizes: BTreeMap<usize, usize> = BTreeMap::new();
        groups.iter().for_each(|&group| *sizes.entry(group).or_default() += 1);
        let units = (sizes.len() + 1) as f64;
        // every group was counted just now
        let weight = |group: &usize| 1.0 / (units * sizes[group] as f64);
        Ok(Self {
            rules,
            folds: folds.clone(),
            errors: outcome.iter().zip(&predictions).map(|(y, p)| y - p).collect(),
            own: predictions,
            group_weights: groups.iter().map(weight).collect(),
            groups: sizes.len(),
        })
    }

    /// The interval of a new row; `predict` gives each rule's prediction of it.
    ///
    /// # Errors
    /// `OutOfRange` unless `0.5 < nominal < 1`; `NotFinite` for a prediction.
    pub fn interval(
        &self,
        nominal: f64,
        exchangeable: Exchangeable,
        predict: impl Fn(&Rule) -> f64,
    ) -> Result<PredictionInterval, StatsError> {
        if !(nominal > 0.5 && nominal < 1.0) {
            return Err(StatsError::OutOfRange {
                what: "the nominal level of a prediction interval".into(),
                value: nominal,
                expected: "a number between 0.5 and 1".into(),
            });
        }
        let predictions: Vec<f64> = self.rules.iter().map(predict).collect();
        require_finite("the predictions of a new row", &predictions)?;
        let weights = self.weights(exchangeable);
        let reach = |sign: f64| {
            let rows = self.folds.of_row.iter().zip(&self.errors).zip(&weights);
            let weighted = rows
                .map(|((&fold, error), &weight)| (sign * predictions[fold] + error.abs(), weight));
            sign * weighted_quantile(weighted.collect(), nominal)
        };
        Ok(PredictionInterval {
            low: reach(-1.0),
            high: reach(1.0),
            promised: self.promised(nominal, exchangeable),
        })
    }

    /// The cross-conformal predictive distribution of a new row (Vovk, Nouretdinov, Manokhin & Gammerman 2018, Proceedings of Machine Learning Research 91,
    /// 37-51): with `m_i` the prediction of the new row by the rule that has not seen row `i` and `e_i` the signed error of row `i`, the values `m_i + e_i`
    /// with the weights of [`CrossConformal::interval`].
    ///
    /// # Errors
    /// `NotFinite` for a prediction.
    pub fn distribution(
        &self,
        exchangeable: Exchangeable,
        predict: impl Fn(&Rule) -> f64,
    ) -> Result<PredictiveDistribution, StatsError> {
        let predictions: Vec<f64> = self.rules.iter().map(predict).collect();
        require_finite("the predictions of a new row", &predictions)?;
        let weights = self.weights(exchangeable);
        let mut centre: Vec<(f64, f64)> = predictions.iter().map(|&value| (value, 0.0)).collect();
        for (&fold, weight) in self.folds.of_row.iter().zip(&weights) {
            centre[fold].1 += weight;
        }
        let rows = self.folds.of_row.iter().zip(&self.errors);
        let values = rows.map(|(&fold, error)| predictions[fold] + error).zip(weights);
        Ok(PredictiveDistribution::new(values.collect(), weighted_quantile(centre, 0.5)))
    }

    /// The level that stays above this share of what the rows held out might have come to: the pairs of any row's prediction and any row's error. A row's
    /// chance to reach this level is right on average where outcomes come in steps too: of whole marks, as many reach 7 as a smooth rule brings to 6.5.
    pub fn level_above(&self, share: f64) -> f64 {
        const GRID: usize = 200;
        let grid = |values: Vec<f64>| {
            let each = 1.0 / values.len().max(1) as f64;
            let values = values.into_iter().map(|value| (value, each)).collect();
            PredictiveDistribution::new(values, f64::NAN).quantiles(GRID)
        };
        let errors = grid(self.errors.clone());
        let each = 1.0 / (GRID * GRID) as f64;
        let predictions = grid(self.own.clone());
        let pairs = predictions.iter().flat_map(|own| errors.iter().map(move |e| (own + e, each)));
        let pairs: Vec<(f64, f64)> = pairs.collect();
        weighted_quantile(pairs, share.clamp(0.0, 1.0 - each))
    }

    /// The weight of each row; with [`Exchangeable::ManyGroups`] they come to 1, else the new row's own weight is left over.
    fn weights(&self, exchangeable: Exchangeable) -> Vec<f64> {
        let each = 1.0 / (self.errors.len() + 1) as f64;
        let with_the_new_one = (self.groups + 1) as f64 / self.groups as f64;
        let weight = |&by_group: &f64| match exchangeable {
            Exchangeable::Rows => each,
            Exchangeable::Groups => by_group,
            Exchangeable::ManyGroups => by_group * with_the_new_one,
        };
        self.group_weights.iter().map(weight).collect()
    }

    fn promised(&self, nominal: f64, exchangeable: Exchangeable) -> Option<f64> {
        let (fold_of_unit, units) = match exchangeable {
            Exchangeable::Rows => (&self.folds.of_row, self.errors.len()),
            Exchangeable::Groups => (&self.folds.of_group, self.groups),
            Exchangeable::ManyGroups => return None,
        };
        let mut sizes = vec![0; self.folds.count];
        fold_of_unit.iter().for_each(|&fold| sizes[fold] += 1);
        if sizes.iter().any(|&size| size != sizes[0]) {
            return None;
        }
        let (units, folds) = (units as f64, self.folds.count as f64);
        let small_folds = 2.0 * (1.0 - 1.0 / folds) / (units / folds + 1.0);
        let many_folds = (1.0 - folds / units) / (folds + 1.0);
        Some((2.0 * nominal - 1.0 - small_folds.min(many_folds)).max(0.0))
    }
}

impl CrossConformal<PenalisedFit> {
    /// From linear rules, as [`crate::stats::penalised::leave_out_linear`] and [`crate::stats::penalised::leave_out_elastic_net`] find them.
    ///
    /// # Errors
    /// `LengthMismatch`; `NotFinite`.
    pub fn linear(
        design: &Design,
        outcome: &[f64],
        groups: &[usize],
        folds: &Folds,
        rules: Vec<PenalisedFit>,
    ) -> Result<Self, StatsError> {
        let predictions = predict_by_fold(design, folds, &rules)?;
        Self::assemble(outcome, groups, folds, rules, predictions)
    }

    /// The interval of a new row of the design.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the row; as [`CrossConformal::interval`].
    pub fn interval_at(
        &self,
        row: &[f64],
        nominal: f64,
        exchangeable: Exchangeable,
    ) -> Result<PredictionInterval, StatsError> {
        if let Some(rule) = self.rules.first() {
            rule.predict(row)?;
        }
        self.interval(nominal, exchangeable, |rule| rule.value_at(row.iter().copied()))
    }
}

/// What a new row may come to: weighted values, in the unit of the outcome.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictiveDistribution {
    /// Rising, with their weights, which come to 1 or a little less.
    values: Vec<(f64, f64)>,
    /// Weight of the new row itself, which may lie anywhere.
    anywhere: f64,
    /// The weighted median of the rules' predictions.
    centre: f64,
}

impl PredictiveDistribution {
    fn new(mut values: Vec<(f64, f64)>, centre: f64) -> Self {
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        let known: f64 = values.iter().map(|value| value.1).sum();
        Self { values, anywhere: (1.0 - known).max(0.0), centre }
    }

    /// What the rules expect of the row: the weighted median of their predictions, which lies inside every interval.
    pub fn centre(&self) -> f64 {
        self.centre
    }

    /// The chance of at least `least`; what may lie anywhere counts half.
    pub fn at_least(&self, least: f64) -> f64 {
        let reached = self.values.iter().filter(|value| value.0 >= least);
        (reached.map(|value| value.1).sum::<f64>() + self.anywhere / 2.0).clamp(0.0, 1.0)
    }

    /// The chance of at most `most`; what may lie anywhere counts half.
    pub fn at_most(&self, most: f64) -> f64 {
        let reached = self.values.iter().filter(|value| value.0 <= most);
        (reached.map(|value| value.1).sum::<f64>() + self.anywhere / 2.0).clamp(0.0, 1.0)
    }

    /// The values at the middles of so many equal shares of the distribution.
    pub fn quantiles(&self, shares: usize) -> Vec<f64> {
        let known = 1.0 - self.anywhere;
        let mut values = self.values.iter();
        let (mut weight, mut value) = (0.0, f64::NAN);
        (0..shares)
            .map(|share| {
                let wanted = known * (share as f64 + 0.5) / shares as f64;
                while weight < wanted {
                    let Some(next) = values.next() else { break };
                    (value, weight) = (next.0, weight + next.1);
                }
                value
            })
            .collect()
    }
}

/// The smallest value such that the values up to it weigh at least `level`; infinite where all together weigh less. Halves that cannot hold it are left in
/// the order in which they stand.
fn weighted_quantile(mut values: Vec<(f64, f64)>, level: f64) -> f64 {
    // sums of weights such as 9 tenths may miss the level by rounding
    let enough = level - 1e-12;
    let mut rest = values.as_mut_slice();
    let mut below = 0.0;
    // the least value known to have enough
    let mut found = f64::INFINITY;
    while !rest.is_empty() {
        let (low, middle, high) =
            rest.select_nth_unstable_by(rest.len() / 2, |a, b| a.0.total_cmp(&b.0));
        let before = below + low.iter().map(|value| value.1).sum::<f64>();
        if before + middle.1 >= enough {
            (rest, found) = (low, middle.0);
        } else {
            (rest, below) = (high, before + middle.1);
        }
    }
    found
}

#[cfg(test)]
mod tests;
