//! Two methods or moments of measuring the same subjects.

use crate::stats::error::{StatsError, require_count, require_length, require_squarable};
use crate::stats::estimate::Estimate;
use crate::stats::numeric::{mean, standard_deviation};

/// Within what range two readings of a subject differ; everything in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitsOfAgreement {
    /// Mean of first less second.
    pub bias: Estimate,
    /// Standard deviation of the differences; zero is kept.
    pub standard_deviation: f64,
    /// Bias less `multiplier` standard deviations.
    pub low: Estimate,
    /// Bias and `multiplier` standard deviations.
    pub high: Estimate,
}

/// Limits of agreement `d -/+ c s` of the differences first less second, `c` the `multiplier` (1.96 for 95 %; 2 in the paper), with the standard errors
/// `s / sqrt(n)` of the bias and `s sqrt((1 + c^2 / 2) / n)` of a limit, both on `n - 1` degrees of freedom (Bland & Altman 1986, Lancet i, 307-310, who
/// give `sqrt(3 s^2 / n)` for `c = 2`).
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFew` under two pairs; `OutOfRange` for a multiplier that is not positive.
pub fn limits_of_agreement(
    first: &[f64],
    second: &[f64],
    multiplier: f64,
) -> Result<LimitsOfAgreement, StatsError> {
    require_length("the second sample", first.len(), second.len())?;
    require_squarable("the first sample", first)?;
    require_squarable("the second sample", second)?;
    require_count("pairs", 2, first.len())?;
    if !(multiplier > 0.0 && multiplier.is_finite()) {
        return Err(StatsError::OutOfRange {
            what: "the multiplier of limits".into(),
            value: multiplier,
            expected: "a positive number".into(),
        });
    }
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let spread = standard_deviation(&differences)?;
    let centre = mean(&differences)?;
    let count = differences.len() as f64;
    let estimate = |steps: f64| Estimate {
        value: centre + steps * spread,
        standard_error: spread * ((1.0 + 0.5 * steps * steps) / count).sqrt(),
        degrees_of_freedom: count - 1.0,
    };
    Ok(LimitsOfAgreement {
        bias: estimate(0.0),
        standard_deviation: spread,
        low: estimate(-multiplier),
        high: estimate(multiplier),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // Bland & Altman 1986, table 1: first readings by the Wright and the mini meter
    const WRIGHT: [f64; 17] = [
        494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0, 267.0,
        478.0, 178.0, 423.0, 427.0,
    ];
    const MINI: [f64; 17] = [
        512.0, 430.0, 520.0, 428.0, 500.0, 600.0, 364.0, 380.0, 658.0, 445.0, 432.0, 626.0, 260.0,
        477.0, 259.0, 350.0, 451.0,
    ];

    #[test]
    fn the_published_intervals_of_the_peak_flow_meters_are_met() {
        // Bland & Altman 1986 (from memory): bias -22.0 to 17.8, lower limit -114.3 to -45.1, upper 40.9 to 110.1; they rounded s and the limits first
        let found = limits_of_agreement(&WRIGHT, &MINI, 2.0).unwrap();
        for (estimate, low, high) in
            [(found.bias, -22.0, 17.8), (found.low, -114.3, -45.1), (found.high, 40.9, 110.1)]
        {
            let interval = estimate.interval(0.95).unwrap();
            assert!((interval.0 - low).abs() < 0.2 && (interval.1 - high).abs() < 0.2);
        }
    }

    #[test]
    fn methods_a_constant_apart_agree_to_that_constant() {
        let found = limits_of_agreement(&[1.0, 2.0, 3.0], &[0.0, 1.0, 2.0], 1.96).unwrap();
        assert_eq!((found.low.value, found.high.value, found.standard_deviation), (1.0, 1.0, 0.0));
    }

    #[test]
    fn one_pair_and_no_multiplier_are_refused() {
        let one = limits_of_agreement(&[1.0], &[2.0], 1.96);
        assert!(matches!(one, Err(StatsError::TooFew { found: 1, needed: 2, .. })));
        for multiplier in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(limits_of_agreement(&WRIGHT, &MINI, multiplier).is_err());
        }
        assert!(limits_of_agreement(&[1.0, f64::NAN], &[2.0, 1.0], 1.96).is_err());
    }
}
