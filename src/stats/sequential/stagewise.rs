//! Estimate and interval after a trial has ended by its rule.

use super::boundary::Boundary;
use super::repeated::check_estimate;
use crate::stats::error::{StatsError, require_level};
use crate::stats::estimate::Estimate;
use crate::stats::numeric::{find_root_within, normal_quantile, normal_sf, t_quantile, t_sf};

/// How far beyond 0 and the statistic a drift is looked for, in standard errors at the look: earlier crossings pull the answer towards 0, never beyond.
const SEARCHED: f64 = 15.0;

/// What a trial says that ended at a look; in the unit of the estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AfterStopping {
    /// Two-sided p value of "no difference".
    pub p: f64,
    /// The difference that would have been exceeded half of the time: stopping early flatters the plain estimate, this one it does not.
    pub median_unbiased: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}

impl Boundary {
    /// Estimate and interval of a trial that ended at this look, because a bound was crossed or because it was the last one. Outcomes are ordered by stage:
    /// an earlier crossing is further out, at one look the statistic decides (Armitage 1957, Biometrika 44, 9-26; Tsiatis, Rosner & Mehta 1984, Biometrics 40,
    /// 797-803). The interval's ends are the drifts under which an outcome as far out has the probability `(1 -/+ level) / 2`; t statistics are carried to
    /// the normal scale and back by their tails.
    ///
    /// # Errors
    /// `OutOfRange` for a look that is not there, an error not above 0 or a level outside 0 to 1; `NotFinite` for the estimate; `NotConverged` where the
    /// statistic lies so far out (beyond about 35) that no tail is left to compare.
    pub fn after_stopping(
        &self,
        look: usize,
        estimate: &Estimate,
        level: f64,
    ) -> Result<AfterStopping, StatsError> {
        check_estimate(estimate)?;
        require_level("the level of an interval", level)?;
        let look = self.checked(look)?;
        let z = on_the_normal_scale(estimate)?;
        let difference = |share: f64| {
            let mean = self.drift_exceeded(look, z, share)? * self.fractions[look].sqrt();
            Ok(estimate.value - in_standard_errors(z - mean, estimate) * estimate.standard_error)
        };
        let above = self.further_out(look, z, 0.0);
        let below = self.further_out(look, -z, 0.0);
        let tail = 0.5 * (1.0 - level);
        Ok(AfterStopping {
            p: (2.0 * above.min(below)).min(1.0),
            median_unbiased: difference(0.5)?,
            low: difference(tail)?,
            high: difference(1.0 - tail)?,
        })
    }

    /// The chance of an outcome at least as far up as `z` at this look.
    fn further_out(&self, look: usize, z: f64, drift: f64) -> f64 {
        let mut total = 0.0;
        self.walk(drift, look + 1, |at, going| {
            let bound = if at == look { z } else { self.bounds[at] };
            total += going.above(drift, self.fractions[at], bound);
        });
        total
    }

    /// The drift under which an outcome at least as far up has this probability.
    fn drift_exceeded(&self, look: usize, z: f64, share: f64) -> Result<f64, StatsError> {
        let root = self.fractions[look].sqrt();
        let excess = |drift: f64| self.further_out(look, z, drift) - share;
        let (low, high) = ((z.min(0.0) - SEARCHED) / root, (z.max(0.0) + SEARCHED) / root);
        let found = find_root_within(excess, low, high, 1e-12);
        found.ok_or_else(|| StatsError::NotConverged { what: "the end of an interval".into() })
    }
}

/// A distance on the normal scale as the t statistic with the same tail, so that a trial of one look gives the plain interval.
fn in_standard_errors(distance: f64, estimate: &Estimate) -> f64 {
    let size = -t_quantile(normal_sf(distance.abs()), estimate.degrees_of_freedom);
    size.copysign(distance)
}

/// The normal statistic with the tail of the estimate's t statistic.
fn on_the_normal_scale(estimate: &Estimate) -> Result<f64, StatsError> {
    let t = estimate.t_statistic();
    let tail = t_sf(t.abs(), estimate.degrees_of_freedom);
    if tail.is_nan() {
        return Err(StatsError::OutOfRange {
            what: "the degrees of freedom".into(),
            value: estimate.degrees_of_freedom,
            expected: "a number above 0".into(),
        });
    }
    let size = -normal_quantile(tail);
    if size.is_finite() && normal_sf(size) > 0.0 {
        return Ok(size.copysign(t));
    }
    Err(StatsError::NotConverged { what: "the statistic's tail".into() })
}
