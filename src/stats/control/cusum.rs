//! The tabular cumulative sum, which sees a lasting shift of a known size soonest.

use super::{Side, require_number, require_positive};
use crate::stats::error::{StatsError, require_finite};

/// How a cumulative sum is kept, all in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumOptions {
    /// What the readings should be.
    pub target: f64,
    /// `k`, half the shift worth seeing.
    pub slack: f64,
    /// `h`, beyond which a sum signals.
    pub decision: f64,
}

impl CusumOptions {
    /// Slack of half a standard deviation and decision at five: a shift of one is seen in about ten readings, a false alarm comes in about 465 (Montgomery
    /// 2009, Introduction to Statistical Quality Control, table 9.3, from memory).
    pub fn usual(target: f64, sigma: f64) -> Self {
        Self { target, slack: 0.5 * sigma, decision: 5.0 * sigma }
    }
}

/// Both cumulative sums, in the unit of the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct CusumChart {
    /// `C+`, one a reading, never negative.
    pub high: Vec<f64>,
    /// `C-`, one a reading, never negative.
    pub low: Vec<f64>,
    /// Places where a sum exceeds the decision, from 0; above where both do.
    pub signals: Vec<(usize, Side)>,
    /// For every signal the place of the first reading of its sum since that was last zero: when the shift may have begun.
    pub beginnings: Vec<usize>,
}

/// `C+_i = max(0, C+_{i-1} + x_i - target - k)` and `C-_i = max(0, C-_{i-1} + target - k - x_i)` (Page 1954, Biometrika 41, 100-115; NIST/SEMATECH
/// e-Handbook, section 6.3.2.3). The sums go on after a signal.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` for a slack that is negative, a decision that is not positive, a target that is no number.
pub fn cusum(readings: &[f64], options: &CusumOptions) -> Result<CusumChart, StatsError> {
    require_finite("the readings", readings)?;
    let CusumOptions { target, slack, decision } = *options;
    require_number("the target", target)?;
    require_positive("the decision interval", decision)?;
    if !(slack >= 0.0 && slack.is_finite()) {
        return Err(StatsError::OutOfRange {
            what: "the slack".into(),
            value: slack,
            expected: "zero or a positive number".into(),
        });
    }
    let high = one_sided(readings.iter().map(|reading| reading - target - slack));
    let low = one_sided(readings.iter().map(|reading| target - slack - reading));
    let mut signals = Vec::new();
    let mut beginnings = Vec::new();
    let (mut high_start, mut low_start) = (0, 0);
    for (place, (&above, &below)) in high.iter().zip(&low).enumerate() {
        high_start = if above == 0.0 { place + 1 } else { high_start };
        low_start = if below == 0.0 { place + 1 } else { low_start };
        if above > decision {
            signals.push((place, Side::Above));
            beginnings.push(high_start);
        } else if below > decision {
            signals.push((place, Side::Below));
            beginnings.push(low_start);
        }
    }
    Ok(CusumChart { high, low, signals, beginnings })
}

fn one_sided(steps: impl Iterator<Item = f64>) -> Vec<f64> {
    let climb = |sum: &mut f64, step: f64| {
        *sum = (*sum + step).max(0.0);
        Some(*sum)
    };
    steps.scan(0.0, climb).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_shift_is_seen_and_dated() {
        let readings = [0.0, -1.0, 0.2, 2.0, 2.0, 2.0, 2.0, 2.0];
        let options = CusumOptions { target: 0.0, slack: 0.5, decision: 4.0 };
        let found = cusum(&readings, &options).unwrap();
        assert_eq!(found.high, [0.0, 0.0, 0.0, 1.5, 3.0, 4.5, 6.0, 7.5]);
        assert_eq!(found.signals.first(), Some(&(5, Side::Above)));
        assert_eq!(found.beginnings.first(), Some(&3));
    }

    #[test]
    fn a_series_on_target_never_signals() {
        let found = cusum(&[3.0; 100], &CusumOptions::usual(3.0, 1.0)).unwrap();
        assert!(found.signals.is_empty() && found.high.iter().all(|sum| *sum == 0.0));
    }

    #[test]
    fn options_that_make_no_chart_are_refused() {
        let good = CusumOptions::usual(0.0, 1.0);
        for bad in [
            CusumOptions { target: f64::NAN, ..good },
            CusumOptions { slack: -0.1, ..good },
            CusumOptions { decision: 0.0, ..good },
        ] {
            assert!(matches!(cusum(&[1.0], &bad), Err(StatsError::OutOfRange { .. })));
        }
        assert!(cusum(&[], &good).is_err());
        assert!(cusum(&[1.0, f64::NEG_INFINITY], &good).is_err());
    }

    proptest! {
        #[test]
        fn the_sum_is_the_walk_less_its_lowest_point(
            readings in prop::collection::vec(-9.0_f64..9.0, 1..40)
        ) {
            let found = cusum(&readings, &CusumOptions::usual(1.0, 2.0)).unwrap();
            let (mut walk, mut least) = (0.0_f64, 0.0_f64);
            for (reading, sum) in readings.iter().zip(&found.high) {
                walk += reading - 2.0;
                least = least.min(walk);
                prop_assert!((sum - (walk - least)).abs() < 1e-10);
            }
        }

        #[test]
        fn turning_the_readings_about_the_target_exchanges_the_sums(
            readings in prop::collection::vec(-9_i8..9, 1..40)
        ) {
            let plain: Vec<f64> = readings.iter().map(|&r| f64::from(r)).collect();
            let turned: Vec<f64> = plain.iter().map(|reading| 2.0 - reading).collect();
            let one = cusum(&plain, &CusumOptions::usual(1.0, 2.0)).unwrap();
            let other = cusum(&turned, &CusumOptions::usual(1.0, 2.0)).unwrap();
            prop_assert_eq!(one.high, other.low);
        }
    }
}
