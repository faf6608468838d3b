//! Intervals that hold at every look together.

use super::boundary::Boundary;
use crate::stats::error::StatsError;
use crate::stats::estimate::Estimate;

impl Boundary {
    /// The repeated confidence interval of one look (Jennison & Turnbull 1989, Journal of the Royal Statistical Society B 51, 305-361): the estimate -/+ the
    /// bound times its standard error, the bound carried over to the estimate's degrees of freedom ([`Boundary::t_bound`]). All looks' intervals hold the
    /// truth together with the probability `1 - significance`, whether or not the trial stopped by the rule. Its ends are infinite at a look at which nothing
    /// may be spent.
    ///
    /// # Errors
    /// As [`Boundary::t_bound`]; `NotFinite` for the estimate, `OutOfRange` for a standard error not above 0.
    pub fn repeated_interval(
        &self,
        look: usize,
        estimate: &Estimate,
    ) -> Result<(f64, f64), StatsError> {
        check_estimate(estimate)?;
        let half = self.t_bound(look, estimate.degrees_of_freedom)? * estimate.standard_error;
        Ok((estimate.value - half, estimate.value + half))
    }
}

/// Refuses an estimate that is no number or has no error.
pub(super) fn check_estimate(estimate: &Estimate) -> Result<(), StatsError> {
    if !estimate.value.is_finite() {
        let what = "the estimate".into();
        return Err(StatsError::NotFinite { what, row: 0, value: estimate.value });
    }
    if estimate.standard_error > 0.0 && estimate.standard_error.is_finite() {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "the standard error".into(),
        value: estimate.standard_error,
        expected: "a finite number above 0".into(),
    })
}
