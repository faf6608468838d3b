//! How far the data let the variances go.

use super::{Criterion, MixedFit, log_normal_constant};
use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{chi_squared_quantile, find_root, minimise_bounded};
use std::f64::consts::TAU;

/// Profile-likelihood intervals; an upper end may be infinite where the data set no limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileIntervals {
    /// Of the standard deviation between groups, in the unit of the outcome.
    pub sd_group: (f64, f64),
    /// Of the standard deviation inside groups, in the unit of the outcome.
    pub sd_residual: (f64, f64),
    /// Of the intraclass correlation.
    pub intraclass_correlation: (f64, f64),
}

/// How far an upper end is looked for, as a multiple of the estimate or, at zero, of the residual standard deviation.
const FARTHEST: f64 = 1e4;
/// A lower end below this share of the estimate counts as zero.
const SMALLEST: f64 = 1e-9;

impl MixedFit {
    /// Intervals of the values whose deviance, all else maximised, exceeds the least by at most the `level` quantile of chi-squared with 1 degree of freedom
    /// (Bates et al. 2015, section 5.1). The deviance is that of maximum likelihood whichever criterion the fit used. A lower end of zero means that zero
    /// is inside.
    ///
    /// # Errors
    /// `OutOfRange` for the level; `NotConverged`.
    pub fn profile_intervals(&self, level: f64) -> Result<ProfileIntervals, StatsError> {
        require_level("the level of an interval", level)?;
        let likelihood = self.by_maximum_likelihood()?;
        let bound = likelihood.deviance_at_fit() + chi_squared_quantile(level, 1.0);
        let group = |sd: f64| likelihood.deviance_of_group_sd(sd) - bound;
        let residual = |sd: f64| likelihood.deviance_of_residual_sd(sd) - bound;
        let ratio = |ratio: f64| likelihood.deviance_of_ratio(ratio) - bound;
        let scale = likelihood.sd_group.max(0.1 * likelihood.sd_residual);
        let ratio_scale = likelihood.ratio().max(0.01);
        let ratios = ends(ratio, likelihood.ratio(), ratio_scale);
        let share = |ratio: f64| {
            if ratio.is_infinite() { 1.0 } else { ratio / (1.0 + ratio) }
        };
        Ok(ProfileIntervals {
            sd_group: ends(group, likelihood.sd_group, scale),
            sd_residual: ends(residual, likelihood.sd_residual, likelihood.sd_residual),
            intraclass_correlation: (share(ratios.0), share(ratios.1)),
        })
    }

    fn by_maximum_likelihood(&self) -> Result<Self, StatsError> {
        let mut working = self.working.clone();
        working.criterion = Criterion::MaximumLikelihood;
        let ratio = working.best_ratio()?;
        Self::at(working, ratio, self.names.clone(), self.groups.clone())
    }

    fn deviance_at_fit(&self) -> f64 {
        self.working.deviance(&self.solution)
    }

    /// `n ln(2 pi v) + ln det + r^2 / v` at a ratio and a residual variance in working units.
    fn deviance_of(&self, ratio: f64, variance: f64) -> f64 {
        let Ok(solution) = self.working.solve(ratio) else {
            return f64::NAN;
        };
        self.working.rows as f64 * (TAU * variance).ln()
            + self.working.log_group_determinant(ratio)
            + solution.residual_square / variance
    }

    fn deviance_of_ratio(&self, ratio: f64) -> f64 {
        let Ok(solution) = self.working.solve(ratio) else {
            return f64::NAN;
        };
        let rows = self.working.rows as f64;
        self.working.log_group_determinant(ratio)
            + rows * log_normal_constant(solution.residual_square / rows)
    }

    /// The least deviance with the group standard deviation held, over the logarithm of the residual one.
    fn deviance_of_group_sd(&self, sd: f64) -> f64 {
        let held = (sd / self.working.outcome_scale).powi(2);
        let centre = (self.sd_residual / self.working.outcome_scale).ln();
        let inner = |log_sd: f64| {
            let variance = (2.0 * log_sd).exp();
            self.deviance_of(held / variance, variance)
        };
        minimise_bounded(inner, centre - 4.0, centre + 4.0, 1e-9).value
    }

    /// The least deviance with the residual standard deviation held, over the ratio on the scale `ratio / (1 + ratio)`.
    fn deviance_of_residual_sd(&self, sd: f64) -> f64 {
        let variance = (sd / self.working.outcome_scale).powi(2);
        let inner = |share: f64| self.deviance_of(share / (1.0 - share), variance);
        let inside = minimise_bounded(inner, 0.0, 1.0 - 1e-9, 1e-9).value;
        inside.min(inner(0.0))
    }
}

/// Where a function that is negative at `best` crosses zero on either side of it; zero and infinity where it does not.
pub(super) fn ends(function: impl Fn(f64) -> f64, best: f64, scale: f64) -> (f64, f64) {
    let mut low = 0.0;
    let zero_is_inside = best <= 0.0 || function(0.0) < 0.0;
    if !zero_is_inside {
        low = 0.5 * best;
        while function(low) < 0.0 && low > SMALLEST * best {
            low *= 0.5;
        }
        low = find_root(&function, low, best).unwrap_or(0.0);
    }
    let mut step = scale;
    while function(best + step) < 0.0 && step < FARTHEST * scale {
        step *= 2.0;
    }
    let high = find_root(&function, best, best + step).unwrap_or(f64::INFINITY);
    (low, high)
}
