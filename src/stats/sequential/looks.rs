//! How often bounds are crossed, and what looking costs.

use super::boundary::{Boundary, narrowest_step};
use super::process::Going;
use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{find_root_within, normal_quantile};

/// Drift beyond which no power is asked for.
const LARGEST_DRIFT: f64 = 100.0;

/// The chance of stopping at each look, on each side.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// At or above the upper bound.
    pub upper: Vec<f64>,
    /// At or below the lower bound.
    pub lower: Vec<f64>,
}

impl Crossing {
    /// The chance of crossing on either side at any look.
    pub fn total(&self) -> f64 {
        self.upper.iter().chain(&self.lower).sum()
    }
}

impl Boundary {
    /// The chance of crossing each bound when the statistic of the whole trial has the mean `drift`.
    ///
    /// # Errors
    /// `OutOfRange` for a drift beyond 100 in size or not a number.
    pub fn crossing(&self, drift: f64) -> Result<Crossing, StatsError> {
        check_drift(drift)?;
        let mut found = Crossing { upper: vec![], lower: vec![] };
        self.walk(drift, self.bounds.len(), |look, going| {
            let (fraction, bound) = (self.fractions[look], self.bounds[look]);
            found.upper.push(going.above(drift, fraction, bound));
            found.lower.push(going.below(drift, fraction, bound));
        });
        Ok(found)
    }

    /// The chance that a trial with this drift stops at or before its last look because a bound was crossed, on either side.
    ///
    /// # Errors
    /// As [`Boundary::crossing`].
    pub fn power(&self, drift: f64) -> Result<f64, StatsError> {
        check_drift(drift)?;
        Ok(self.crossed(drift))
    }

    /// The drift above 0 at which the power is met.
    ///
    /// # Errors
    /// `OutOfRange` for a power not between the significance and 1; `NotConverged` where none up to 100 meets it.
    pub fn drift_for_power(&self, power: f64) -> Result<f64, StatsError> {
        check_power(power, self.significance)?;
        let excess = |drift: f64| self.crossed(drift) - power;
        let found = find_root_within(excess, 0.0, LARGEST_DRIFT, 1e-13);
        found.ok_or_else(|| StatsError::NotConverged { what: "the drift of this power".into() })
    }

    /// What looking costs: how many times the information of a trial with one look, of the same significance and power, must be planned for at most. It is
    /// the squared ratio of the two drifts (Jennison & Turnbull 2000, section 2.3).
    ///
    /// # Errors
    /// As [`Boundary::drift_for_power`]; `OutOfRange` where the last look is not at the fraction 1.
    pub fn inflation(&self, power: f64) -> Result<f64, StatsError> {
        self.check_complete()?;
        let once = -normal_quantile(0.5 * self.significance);
        let alone =
            Self { fractions: vec![1.0], bounds: vec![once], significance: self.significance };
        Ok((self.drift_for_power(power)? / alone.drift_for_power(power)?).powi(2))
    }

    /// The information fraction at which a trial of this drift ends on average.
    ///
    /// # Errors
    /// As [`Boundary::crossing`].
    pub fn expected_fraction(&self, drift: f64) -> Result<f64, StatsError> {
        let crossing = self.crossing(drift)?;
        let mut average = self.fractions[self.fractions.len() - 1];
        let last = average;
        for (look, fraction) in self.fractions.iter().enumerate() {
            average -= (crossing.upper[look] + crossing.lower[look]) * (last - fraction);
        }
        Ok(average)
    }

    /// The chance of crossing at all.
    pub(super) fn crossed(&self, drift: f64) -> f64 {
        let mut total = 0.0;
        self.walk(drift, self.bounds.len(), |look, going| {
            let (fraction, bound) = (self.fractions[look], self.bounds[look]);
            total += going.above(drift, fraction, bound) + going.below(drift, fraction, bound);
        });
        total
    }

    /// Shows the number of each of the first `looks` looks and the trials still going before it.
    pub(super) fn walk(&self, drift: f64, looks: usize, mut visit: impl FnMut(usize, &Going)) {
        let mut going = Going::start();
        let bounds = self.fractions.iter().zip(&self.bounds).take(looks);
        for (look, (&fraction, &bound)) in bounds.enumerate() {
            visit(look, &going);
            if look + 1 < looks {
                going = going.past(drift, fraction, bound, narrowest_step(&self.fractions, look));
            }
        }
    }

    fn check_complete(&self) -> Result<(), StatsError> {
        match self.fractions.last() {
            Some(&1.0) => Ok(()),
            last => Err(StatsError::OutOfRange {
                what: "the last information fraction".into(),
                value: last.copied().unwrap_or(f64::NAN),
                expected: "1: the whole trial".into(),
            }),
        }
    }
}

/// The chance of a false alarm when every look is judged as if it were the only one (Armitage, McPherson & Rowe 1969): what looking without a plan costs.
///
/// # Errors
/// As [`Boundary::spending`].
pub fn unadjusted_false_alarm(fractions: &[f64], significance: f64) -> Result<f64, StatsError> {
    require_level("the significance level", significance)?;
    let bound = -normal_quantile(0.5 * significance);
    Ok(Boundary::given(fractions, &vec![bound; fractions.len()])?.significance())
}

fn check_drift(drift: f64) -> Result<(), StatsError> {
    if drift.abs() <= LARGEST_DRIFT {
        return Ok(());
    }
    let expected = format!("a number of at most {LARGEST_DRIFT} in size");
    Err(StatsError::OutOfRange { what: "the drift".into(), value: drift, expected })
}

fn check_power(power: f64, significance: f64) -> Result<(), StatsError> {
    if power > significance && power < 1.0 {
        return Ok(());
    }
    let expected = format!("a number between the significance {significance} and 1");
    Err(StatsError::OutOfRange { what: "the power".into(), value: power, expected })
}
