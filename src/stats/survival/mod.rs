//! How long things last, where some were still going when last seen.
//!
//! | what | where |
//! | --- | --- |
//! | times with their endings, checked | [`Lifetimes`] |
//! | the share that outlasts a time, quantiles, restricted mean | [`kaplan_meier()`], [`SurvivalCurve`]; where rows of a cluster end alike [`clustered_quantile`] |
//! | the cumulated risk of ending | [`nelson_aalen()`] |
//! | do groups differ | [`log_rank()`], [`weighted_log_rank`], [`dealt_log_rank()`], [`restricted_mean_difference`] |
//! | what goes with ending sooner | [`fit_cox`], [`CoxFit`], [`cox_left_out`] |
//! | the same by a parametric law | [`fit_weibull`] |
//!
//! A time is counted from each row's own start, in any unit; results carry that unit. A row that had not ended when last seen is *censored*: only methods
//! that take censoring to say nothing about what would have come next are here.

mod clustered_curve;
mod cox;
mod dealt_log_rank;
#[cfg(test)]
mod example;
mod kaplan_meier;
mod lifetimes;
mod log_rank;
mod nelson_aalen;
mod newton;
mod restricted_mean;
mod risk_sets;
mod weibull;

pub use clustered_curve::clustered_quantile;
pub use cox::{
    Baseline, Concordance, CoxFit, CoxRobust, PredictedSurvival, ProportionalityTest,
    ScaledResidual, Ties, TimeScale, TimeTrend, cox_left_out, fit_cox,
};
pub use dealt_log_rank::dealt_log_rank;
pub use kaplan_meier::{LifeQuantile, SurvivalCurve, SurvivalStep, kaplan_meier};
pub use lifetimes::Lifetimes;
pub use log_rank::{GroupEvents, LogRank, log_rank, weighted_log_rank};
pub use nelson_aalen::{CumulativeHazard, HazardStep, nelson_aalen};
pub use restricted_mean::{restricted_mean_difference, shared_horizon};
pub use weibull::{WeibullFit, fit_weibull};

use crate::stats::error::StatsError;
use crate::stats::numeric::chi_squared_sf;

/// A statistic that follows the chi-squared law where the hypothesis is true and the sample large.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChiSquaredTest {
    /// The statistic, without unit.
    pub statistic: f64,
    /// How many independent quantities are tested together.
    pub degrees_of_freedom: f64,
}

impl ChiSquaredTest {
    /// `P(X > statistic)`.
    pub fn p_value(&self) -> f64 {
        chi_squared_sf(self.statistic, self.degrees_of_freedom)
    }
}

/// Refuses a time on which nothing can be said.
fn require_time(what: &str, time: f64) -> Result<(), StatsError> {
    if time.is_finite() && time >= 0.0 {
        return Ok(());
    }
    Err(StatsError::OutOfRange { what: what.into(), value: time, expected: "zero or more".into() })
}
