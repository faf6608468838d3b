//! The uncertainty of the variances, read from the likelihood itself.

use super::bootstrap::VarianceComponents;
use super::{Criterion, MixedFit};
use crate::stats::error::StatsError;
use crate::stats::resample::replicate;
use rand::{Rng, RngExt};
use rand_distr::{ChiSquared, Distribution};

/// Points of the grid over the ratio of the standard deviations.
const POINTS: usize = 600;
/// The grid ends where the density has fallen by this much on the logarithmic scale.
const NEGLIGIBLE: f64 = 14.0;
/// A grid that would have to reach farther than this ratio has no end.
const FARTHEST: f64 = 1e5;

/// Cumulated density over a rising grid.
struct Cumulated {
    grid: Vec<f64>,
    shares: Vec<f64>,
}

impl MixedFit {
    /// Draws of the variance components in proportion to their restricted likelihood, under a uniform prior for the group standard deviation and `1 / s^2` for
    /// the residual variance (Gelman 2006, Bayesian Analysis 1, 515-534, section 2.2).
    ///
    /// The parametric bootstrap scatters about an estimate that, with few groups, is often zero or too small; these draws cover what the data leave
    /// possible, and intervals of group means built on them hold what they promise. With `h = t / s` and `N = n - p`, the density of `h` is
    /// `det^{-1/2} (r^2)^{-(N-1)/2}`, drawn by inverting its cumulated values on a grid, and `s^2` given `h` is `r^2` over chi-squared with `N - 1` degrees.
    /// One ChaCha stream a draw.
    ///
    /// # Errors
    /// `TooFewGroups` where the density cannot be summed: two groups more than there are columns constant inside groups are needed;
    /// `NotConverged`.
    pub fn likelihood_draws(
        &self,
        draws: usize,
        seed: u64,
    ) -> Result<Vec<VarianceComponents>, StatsError> {
        let mut restricted = self.working.clone();
        restricted.criterion = Criterion::Reml;
        let constant = self.names.len() - restricted.inner_directions().len();
        if self.groups.len() < constant + 2 {
            return Err(StatsError::TooFewGroups {
                found: self.groups.len(),
                needed: constant + 2,
            });
        }
        let cumulated = Cumulated::new(|relative| {
            let solution = restricted.solve(relative * relative).ok()?;
            // the deviance holds N ln(r^2); the prior takes one of the N away
            Some(0.5 * (solution.residual_square.ln() - restricted.deviance(&solution)))
        })?;
        let degrees = restricted.degrees() - 1.0;
        let not_converged =
            || StatsError::NotConverged { what: "the density of the variance components".into() };
        let inner = ChiSquared::new(degrees).map_err(|_| not_converged())?;
        let all = replicate(seed, draws, |generator| {
            let relative = cumulated.draw(generator);
            let solution = restricted.solve(relative * relative).ok()?;
            let sd = (solution.residual_square / inner.sample(generator)).sqrt();
            let sd_residual = restricted.outcome_scale * sd;
            Some(VarianceComponents { sd_group: relative * sd_residual, sd_residual })
        });
        all.into_iter().collect::<Option<_>>().ok_or_else(not_converged)
    }
}

impl Cumulated {
    /// Finds where a logarithmic density over the positive numbers ends, and cumulates it by trapezia up to there.
    fn new(log_density: impl Fn(f64) -> Option<f64>) -> Result<Self, StatsError> {
        let failed =
            || StatsError::NotConverged { what: "the density of the variance components".into() };
        let mut most = log_density(0.0).ok_or_else(failed)?;
        let mut end = 1e-3;
        loop {
            let here = log_density(end).ok_or_else(failed)?;
            most = most.max(here);
            if here < most - NEGLIGIBLE || end > FARTHEST {
                break;
            }
            end *= 1.5;
        }
        // squared spacing: fine near zero, where few groups put their weight, coarse in the tail
        let places = (0..=POINTS).map(|point| end * (point as f64 / POINTS as f64).powi(2));
        let grid: Vec<f64> = places.collect();
        let mut shares = vec![0.0];
        let mut total = 0.0;
        let mut before = log_density(0.0).ok_or_else(failed)?;
        for pair in grid.windows(2) {
            let here = log_density(pair[1]).ok_or_else(failed)?;
            total += 0.5 * ((before - most).exp() + (here - most).exp()) * (pair[1] - pair[0]);
            shares.push(total);
            before = here;
        }
        shares.iter_mut().for_each(|share| *share /= total);
        Ok(Self { grid, shares })
    }

    fn draw(&self, generator: &mut impl Rng) -> f64 {
        let level: f64 = generator.random();
        // shares start at 0 and end at 1, and level is below 1
        let above = self.shares.partition_point(|&share| share <= level);
        let above = above.clamp(1, self.grid.len() - 1);
        let (low, high) = (self.shares[above - 1], self.shares[above]);
        let part = if high > low { (level - low) / (high - low) } else { 0.0 };
        self.grid[above - 1] + part * (self.grid[above] - self.grid[above - 1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::design::Design;
    use crate::stats::mixed::fit_mixed;
    use crate::stats::numeric::{mean, quantile};
    use crate::stats::resample::stream;
    use rand_distr::StandardNormal;

    fn simulated(sizes: &[usize], sd_group: f64, seed: u64) -> (Vec<f64>, Vec<usize>, Vec<f64>) {
        let mut generator = stream(seed, 0);
        let mut normal = || -> f64 { StandardNormal.sample(&mut generator) };
        let (mut outcome, mut groups, mut truth) = (Vec::new(), Vec::new(), Vec::new());
        for (group, &size) in sizes.iter().enumerate() {
            let centre = 10.0 + sd_group * normal();
            truth.push(centre);
            outcome.extend((0..size).map(|_| centre + normal()));
            groups.resize(outcome.len(), group);
        }
        (outcome, groups, truth)
    }

    fn fit(outcome: &[f64], groups: &[usize]) -> MixedFit {
        let design = Design::builder(outcome.len()).intercept().build().unwrap();
        fit_mixed(&design, outcome, groups, Criterion::Reml).unwrap()
    }

    #[test]
    fn an_exponential_density_is_drawn_with_its_mean() {
        let cumulated = Cumulated::new(|x| Some(-2.0 * x)).unwrap();
        let draws = replicate(1, 20_000, |generator| cumulated.draw(generator));
        // mean 1/2, standard error 0.5 / sqrt(20000) = 0.0035
        assert!((mean(&draws).unwrap() - 0.5).abs() < 0.018);
    }

    #[test]
    fn with_many_groups_the_draws_centre_on_the_fit() {
        let (outcome, groups, _) = simulated(&[6; 200], 0.8, 2);
        let fit = fit(&outcome, &groups);
        let draws = fit.likelihood_draws(400, 3).unwrap();
        let group: Vec<f64> = draws.iter().map(|draw| draw.sd_group).collect();
        let inner: Vec<f64> = draws.iter().map(|draw| draw.sd_residual).collect();
        assert!((mean(&group).unwrap() - fit.sd_group).abs() < 0.02);
        assert!((mean(&inner).unwrap() - fit.sd_residual).abs() < 0.01);
    }

    #[test]
    fn two_groups_do_not_bound_the_spread_between_groups() {
        let (outcome, groups, _) = simulated(&[5, 5], 1.0, 2);
        let fault = fit(&outcome, &groups).likelihood_draws(10, 1);
        assert!(matches!(fault, Err(StatsError::TooFewGroups { found: 2, needed: 3 })));
    }

    /// Simulated truth: in 60 workshops of nine unequal groups the 95 % intervals of the group means hold the true means.
    #[test]
    fn intervals_of_group_means_hold_what_they_promise() {
        let sizes = [3, 8, 20, 15, 12, 6, 4, 25, 10];
        let mut held = 0;
        for workshop in 0..60 {
            let (outcome, groups, truth) = simulated(&sizes, 0.5, 1000 + workshop);
            let fit = fit(&outcome, &groups);
            let components = fit.likelihood_draws(300, workshop).unwrap();
            let draws = fit.draw_group_means(&[1.0], &components, 600, workshop).unwrap();
            for (column, truth) in draws.columns().into_iter().zip(truth) {
                let values = column.to_vec();
                let low = quantile(&values, 0.025).unwrap();
                let high = quantile(&values, 0.975).unwrap();
                held += usize::from(low <= truth && truth <= high);
            }
        }
        // 540 intervals, standard error of the share 0.009 if they were independent
        let share = held as f64 / 540.0;
        assert!((0.92..=0.98).contains(&share), "{share}");
    }
}
