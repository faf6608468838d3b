//! Fit: each lot's pooled mean, and draws that hold the uncertainty of the spread between lots.
//!
//! The draws come from the model of the reeds' scores, whose variance components can be drawn from their likelihood. Where
//! the ratings themselves tell more (see `ratings`), each lot's draws are moved to the mean of that model and widened where
//! its error is larger; they are never made narrower. Of very many lots nothing is drawn (see `undrawn`).

use ndarray::Array2;

use super::super::scores::ReedScores;
use super::{Rated, ratings, undrawn};
use crate::finding::{Band, Interval};
use crate::stats::StatsError;
use crate::stats::design::Design;
use crate::stats::mixed::{Criterion, GroupMean, MixedFit, VarianceComponents, fit_mixed};
use crate::stats::numeric::quantiles_of;
use crate::study::{Better, Study};
use crate::words::lots::RatingWords;
use rayon::prelude::*;

/// Samples drawn from the fitted model and fitted again, where the likelihood cannot be summed.
const REFITS: usize = 500;
/// Draws of the lots' means.
const DRAWS: usize = 10_000;
/// Beyond so many lots fewer draws are taken, so that a workshop's log needs no gigabytes.
const MANY_LOTS: usize = 500;
const DRAWS_OF_MANY: usize = 1_000;

/// A lot's mean, drawn towards the average of all.
pub(super) struct Pooled {
    pub lot: usize,
    pub band: Band,
    /// The mean of its draws, where they were drawn. Where the likeliest spread between lots is none, all bands have one middle, and this alone tells which lot did better.
    pub drawn: f64,
    /// How far it lies from the average of the lots: from the lower to the upper of the 95 % intervals of the difference by the scores and by the means told.
    pub apart: (f64, f64),
    pub chances: Chances,
}

/// Shares of the joint draws, or what the normal distribution makes of them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Chances {
    /// That the lot is the best of those with a rated reed.
    pub best: f64,
    /// That it is better than the average of the lots by the smallest difference worth having.
    pub above: f64,
    /// That it is worse by as much.
    pub below: f64,
}

/// What the model says.
pub(super) struct Fitted {
    pub fit: MixedFit,
    /// Share of the variance between lots.
    pub share_between: Interval,
    /// Sorted by lot.
    pub pooled: Vec<Pooled>,
    /// What stood in the model of the ratings, where that gave the means.
    pub ratings: Option<RatingWords>,
    /// How many draws the chances count, where they were drawn.
    pub draws: Option<usize>,
}

impl Fitted {
    pub fn of_lot(&self, lot: usize) -> Option<&Pooled> {
        let at = self.pooled.binary_search_by_key(&lot, |pooled| pooled.lot).ok()?;
        self.pooled.get(at)
    }

    /// The average of all lots: the model's only coefficient.
    pub fn average(&self) -> f64 {
        self.fit.coefficients.first().copied().unwrap_or(f64::NAN)
    }
}

/// The model, the share of the variance between lots, and each lot's pooled mean with its interval and chances.
pub(super) fn fit(
    study: &Study,
    scores: &ReedScores,
    rated: &Rated,
    seed: u64,
) -> Result<Fitted, StatsError> {
    let design = Design::builder(rated.score.len()).intercept().build()?;
    let fit = fit_mixed(&design, &rated.score, &rated.lot, Criterion::Reml)?;
    let mut means = fit.group_means(&[1.0])?;
    let draws = if means.len() > MANY_LOTS { DRAWS_OF_MANY } else { DRAWS };
    let components = components(&fit, draws, seed)?;
    let goal = Goal {
        sign: if study.outcome().better == Better::Higher { 1.0 } else { -1.0 },
        worthwhile: study.settings().worthwhile,
    };
    let share_between = share_between(&fit, &components);
    if undrawn::is_spread_known(&fit, &components) {
        let pooled = undrawn::pooled(&means, goal);
        return Ok(Fitted { share_between, pooled, fit, ratings: None, draws: None });
    }
    let mut drawn = fit.draw_group_means(&[1.0], &components, draws, seed)?;
    let mut of_all = averages(&drawn);
    let mut apart = apart_from(&drawn, &of_all);
    let by_rating =
        if fit.at_boundary { None } else { ratings::means(study, scores, rated, &means) };
    let ratings = by_rating.map(|(better, words)| {
        move_draws(&mut drawn, &means, &better);
        means = better;
        of_all = averages(&drawn);
        // means that were moved must lie apart by the scores too, whose draws hold a spread of next to nothing
        for (lot, moved) in apart.iter_mut().zip(apart_from(&drawn, &of_all)) {
            *lot = (lot.0.min(moved.0), lot.1.max(moved.1));
        }
        words
    });
    let chances = chances(&drawn, &of_all, goal);
    let each = means.par_iter().zip(chances).zip(apart).enumerate();
    let each = each.map(|(column, ((group, chances), apart))| {
        let draws = drawn.column(column).to_vec();
        let drawn = draws.iter().sum::<f64>() / draws.len() as f64;
        Pooled { lot: group.code, band: band(draws, group.mean), drawn, apart, chances }
    });
    Ok(Fitted { share_between, pooled: each.collect(), fit, ratings, draws: Some(draws) })
}

/// Draws of the variance components, in proportion to their likelihood.
pub(super) fn components(
    fit: &MixedFit,
    draws: usize,
    seed: u64,
) -> Result<Vec<VarianceComponents>, StatsError> {
    match fit.likelihood_draws(draws, seed) {
        // two lots leave the spread between them without an upper end; then samples of the fitted model stand in
        Err(StatsError::TooFewGroups { .. }) => Ok(fit.parametric_bootstrap(REFITS, seed)),
        components => components,
    }
}

/// Moves each lot's draws to another mean and widens them where its error is larger.
fn move_draws(drawn: &mut Array2<f64>, from: &[GroupMean], to: &[GroupMean]) {
    for (mut column, (from, to)) in drawn.columns_mut().into_iter().zip(from.iter().zip(to)) {
        let wider = (to.variance / from.variance).sqrt();
        let wider = if wider.is_finite() { wider.max(1.0) } else { 1.0 };
        column.mapv_inplace(|value| to.mean + wider * (value - from.mean));
    }
}

/// Which way is better, and by how much it is worth having.
#[derive(Clone, Copy)]
pub(super) struct Goal {
    pub sign: f64,
    pub worthwhile: f64,
}

/// The average of the lots in each draw.
pub(super) fn averages(drawn: &Array2<f64>) -> Vec<f64> {
    let mut sums = vec![0.0; drawn.nrows()];
    for lot in drawn.columns() {
        sums.iter_mut().zip(lot).for_each(|(sum, mean)| *sum += mean);
    }
    sums.into_iter().map(|sum| sum / drawn.ncols() as f64).collect()
}

/// How far each lot lies from the average of the lots: the 95 % interval of the difference.
pub(super) fn apart_from(drawn: &Array2<f64>, averages: &[f64]) -> Vec<(f64, f64)> {
    let of_lot = |lot: usize| {
        let lot = drawn.column(lot);
        middle(lot.iter().zip(averages).map(|(mean, average)| mean - average).collect())
    };
    (0..drawn.ncols()).into_par_iter().map(of_lot).collect()
}

/// How often each lot is the best, and how often it is better or worse than the average by what is worth having.
pub(super) fn chances(drawn: &Array2<f64>, averages: &[f64], goal: Goal) -> Vec<Chances> {
    // the first lot of the largest gain, in each draw
    let mut best = vec![(0, f64::NEG_INFINITY); averages.len()];
    let mut counted = vec![Chances::default(); drawn.ncols()];
    for ((lot, draws), counts) in drawn.columns().into_iter().enumerate().zip(&mut counted) {
        for ((value, average), best) in draws.iter().zip(averages).zip(&mut best) {
            let gain = goal.sign * (value - average);
            counts.above += f64::from(u8::from(gain >= goal.worthwhile));
            counts.below += f64::from(u8::from(gain <= -goal.worthwhile));
            if gain > best.1 {
                *best = (lot, gain);
            }
        }
    }
    for (lot, _) in best {
        if let Some(counts) = counted.get_mut(lot) {
            counts.best += 1.0;
        }
    }
    let share = |count: f64| count / averages.len().max(1) as f64;
    counted
        .into_iter()
        .map(|Chances { best, above, below }| Chances {
            best: share(best),
            above: share(above),
            below: share(below),
        })
        .collect()
}

/// The interval of the intraclass correlation that the draws of the variance components give.
fn share_between(fit: &MixedFit, components: &[VarianceComponents]) -> Interval {
    let share = |drawn: &VarianceComponents| {
        let (between, within) = (drawn.sd_group.powi(2), drawn.sd_residual.powi(2));
        between / (between + within)
    };
    let estimate = fit.intraclass_correlation();
    let (low, high) = middle(components.iter().map(share).collect());
    Interval { estimate, low: low.min(estimate), high: high.max(estimate) }
}

/// The middle 95 in a hundred of draws.
pub(super) fn middle(mut draws: Vec<f64>) -> (f64, f64) {
    let [low, high] = quantiles_of(&mut draws, [0.025, 0.975]);
    (low, high)
}

/// The estimate takes the spread between lots at its likeliest, and may leave the middle half of the draws.
pub(super) fn band(mut draws: Vec<f64>, estimate: f64) -> Band {
    let [low, half_low, half_high, high] = quantiles_of(&mut draws, [0.025, 0.25, 0.75, 0.975]);
    let (half_low, half_high) = (half_low.min(estimate), half_high.max(estimate));
    Band { estimate, low: low.min(half_low), high: high.max(half_high), half_low, half_high }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    #[test]
    fn chances_are_shares_of_the_joint_draws() {
        // averages 2, 2, 3, 2: the first lot is best in draws 1 and 3, and ahead by 1.5 in draw 3 alone
        let drawn = array![[3.0, 2.0, 1.0], [1.0, 3.0, 2.0], [4.5, 2.5, 2.0], [2.0, 3.0, 1.0]];
        let averages = [2.0, 2.0, 3.0, 2.0];
        let found = chances(&drawn, &averages, Goal { sign: 1.0, worthwhile: 1.5 });
        assert_eq!(found[0], Chances { best: 0.5, above: 0.25, below: 0.0 });
        let lower = chances(&drawn, &averages, Goal { sign: -1.0, worthwhile: 1.0 });
        assert_eq!(lower[2], Chances { best: 0.75, above: 0.75, below: 0.0 });
        assert_eq!(lower[0], Chances { best: 0.25, above: 0.25, below: 0.5 });
    }

    #[test]
    fn moved_draws_follow_the_better_mean_and_are_never_narrower() {
        let mean = |mean, variance| GroupMean { code: 0, count: 4, mean, variance };
        let mut drawn = array![[5.0, 5.0], [7.0, 7.0]];
        let from = [mean(6.0, 1.0), mean(6.0, 1.0)];
        move_draws(&mut drawn, &from, &[mean(6.5, 4.0), mean(6.5, 0.25)]);
        assert_eq!(drawn, array![[4.5, 5.5], [8.5, 7.5]]);
    }
}
