//! How large a difference of two means is, in its own unit and in standard deviations.

use crate::stats::error::{StatsError, require_length, require_level};
use crate::stats::estimate::Estimate;
use crate::stats::numeric::{find_root_within, mean, noncentral_t_sf, variance};
use statrs::function::gamma::ln_gamma;

/// `mean_first - mean_second` of two independent samples with the pooled variance: Student's t (Student 1908), right when both spreads are equal.
///
/// # Errors
/// `Empty`, `NotFinite`; `TooFewRows` for a sample of one; `NoVariation` where neither sample varies.
pub fn student_difference(first: &[f64], second: &[f64]) -> Result<Estimate, StatsError> {
    let (a, b) = (Moments::of(first)?, Moments::of(second)?);
    let df = a.count + b.count - 2.0;
    let pooled = pooled_variance(&a, &b)?;
    Ok(Estimate {
        value: a.mean - b.mean,
        standard_error: (pooled * (1.0 / a.count + 1.0 / b.count)).sqrt(),
        degrees_of_freedom: df,
    })
}

/// `mean_first - mean_second` of two independent samples of unequal spread, with the degrees of freedom of Welch (1947, Biometrika 34, 28-35) and
/// Satterthwaite: `(u + v)^2 / (u^2 / (n1 - 1) + v^2 / (n2 - 1))`, where `u` and `v` are the squared errors of the two means.
///
/// # Errors
/// As [`student_difference`].
pub fn welch_difference(first: &[f64], second: &[f64]) -> Result<Estimate, StatsError> {
    let (a, b) = (Moments::of(first)?, Moments::of(second)?);
    // refuses where neither sample varies
    pooled_variance(&a, &b)?;
    let (u, v) = (a.variance / a.count, b.variance / b.count);
    // shares first, so that huge variances do not overflow when squared
    let (share_u, share_v) = (u / (u + v), v / (u + v));
    let inverse = share_u * share_u / (a.count - 1.0) + share_v * share_v / (b.count - 1.0);
    Ok(Estimate {
        value: a.mean - b.mean,
        standard_error: (u + v).sqrt(),
        degrees_of_freedom: inverse.recip(),
    })
}

/// Mean of `first_i - second_i` with `n - 1` degrees of freedom.
///
/// # Errors
/// `LengthMismatch`, and as [`student_difference`].
pub fn paired_difference(first: &[f64], second: &[f64]) -> Result<Estimate, StatsError> {
    let moments = paired_moments(first, second)?;
    Ok(Estimate {
        value: moments.mean,
        standard_error: (moments.variance / moments.count).sqrt(),
        degrees_of_freedom: moments.count - 1.0,
    })
}

/// Mean of the paired differences in standard deviations of the differences (Cohen 1988, section 2.3.5, `d_z`).
///
/// # Errors
/// As [`paired_difference`].
pub fn paired_standardised(first: &[f64], second: &[f64]) -> Result<f64, StatsError> {
    let moments = paired_moments(first, second)?;
    Ok(moments.mean / moments.variance.sqrt())
}

/// Variance of the first sample over that of the second.
///
/// # Errors
/// `Empty`, `NotFinite`, `TooFewRows`; `NoVariation` for a second sample that does not vary.
pub fn variance_ratio(first: &[f64], second: &[f64]) -> Result<f64, StatsError> {
    let below = variance(second)?;
    if below == 0.0 {
        return Err(StatsError::NoVariation { what: "the second sample".into() });
    }
    Ok(variance(first)? / below)
}

/// A difference of two independent means in pooled standard deviations, without unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardisedDifference {
    /// Cohen's d: `(mean_first - mean_second) / s_pooled` (Cohen 1988, section 2.2).
    pub cohen_d: f64,
    /// Rows of the first sample.
    pub first: f64,
    /// Rows of the second sample.
    pub second: f64,
}

impl StandardisedDifference {
    /// From two independent samples.
    ///
    /// # Errors
    /// As [`student_difference`].
    pub fn of(first: &[f64], second: &[f64]) -> Result<Self, StatsError> {
        let (a, b) = (Moments::of(first)?, Moments::of(second)?);
        let cohen_d = (a.mean - b.mean) / pooled_variance(&a, &b)?.sqrt();
        Ok(Self { cohen_d, first: a.count, second: b.count })
    }

    /// Degrees of freedom of the pooled standard deviation.
    pub fn degrees_of_freedom(&self) -> f64 {
        self.first + self.second - 2.0
    }

    /// Hedges' g: d without its small-sample bias, times `Gamma(df/2) / (sqrt(df/2) Gamma((df - 1)/2))` (Hedges 1981, Journal of Educational Statistics 6,
    /// 107-128).
    pub fn hedges_g(&self) -> f64 {
        self.cohen_d * exact_correction(self.degrees_of_freedom())
    }

    /// Hedges' g by the usual approximation of the factor, `1 - 3 / (4 df - 1)`.
    pub fn hedges_g_approximate(&self) -> f64 {
        self.cohen_d * (1.0 - 3.0 / (4.0 * self.degrees_of_freedom() - 1.0))
    }

    /// Exact interval of the true standardised difference: the noncentralities at which the observed t is the upper and the lower `(1 - level)/2` point,
    /// divided by `sqrt(n1 n2 / (n1 + n2))` (Steiger & Fouladi 1997). Right for normal samples of equal spread.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`; `NotConverged` for statistics beyond about 1e6.
    pub fn interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        let tail = 0.5 * (1.0 - level);
        let root = (self.first * self.second / (self.first + self.second)).sqrt();
        let (t, df) = (self.cohen_d * root, self.degrees_of_freedom());
        let low = noncentrality_with_tail(t, df, tail)?;
        // the mirror image of the lower end
        let high = -noncentrality_with_tail(-t, df, tail)?;
        Ok((low / root, high / root))
    }
}

/// The noncentrality at which `P(T > t)` is a given small tail: below the statistic.
fn noncentrality_with_tail(t: f64, df: f64, tail: f64) -> Result<f64, StatsError> {
    let excess = |noncentrality: f64| noncentral_t_sf(t, df, noncentrality) - tail;
    let mut reach = 2.0;
    while excess(t - reach) > 0.0 && reach < 1e7 {
        reach *= 2.0;
    }
    // there the tail is about a half
    let high = t.abs() + 1.0;
    let found = find_root_within(excess, t - reach, high, 1e-12);
    found.ok_or_else(|| StatsError::NotConverged { what: "the interval of an effect size".into() })
}

fn exact_correction(df: f64) -> f64 {
    if df > 1000.0 {
        // the gamma functions would cancel; the next term of the series is of order 1 / df^3
        return 1.0 - 0.75 / df - 7.0 / (32.0 * df * df);
    }
    (ln_gamma(0.5 * df) - ln_gamma(0.5 * (df - 1.0))).exp() / (0.5 * df).sqrt()
}

/// Count, mean and variance of a sample of two or more.
struct Moments {
    count: f64,
    mean: f64,
    variance: f64,
}

impl Moments {
    fn of(sample: &[f64]) -> Result<Self, StatsError> {
        Ok(Self { count: sample.len() as f64, mean: mean(sample)?, variance: variance(sample)? })
    }
}

fn pooled_variance(a: &Moments, b: &Moments) -> Result<f64, StatsError> {
    let weighted = (a.count - 1.0) * a.variance + (b.count - 1.0) * b.variance;
    let pooled = weighted / (a.count + b.count - 2.0);
    if pooled > 0.0 {
        return Ok(pooled);
    }
    Err(StatsError::NoVariation { what: "the outcome within samples".into() })
}

fn paired_moments(first: &[f64], second: &[f64]) -> Result<Moments, StatsError> {
    require_length("the second sample", first.len(), second.len())?;
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let moments = Moments::of(&differences)?;
    if moments.variance == 0.0 {
        return Err(StatsError::NoVariation { what: "the paired differences".into() });
    }
    Ok(moments)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_correction_of_hedges_has_its_printed_values() {
        // Hedges 1981, table 1 (from memory): c(2) = 0.5642, c(10) = 0.9228, c(50) = 0.9849
        for (df, printed) in [(2.0, 0.5642), (10.0, 0.9228), (50.0, 0.9849)] {
            assert!((exact_correction(df) - printed).abs() < 6e-5, "{df}");
        }
        let (below, above) = (exact_correction(999.9999), exact_correction(1000.0001));
        assert!((below - above).abs() < 1e-9);
    }

    #[test]
    fn no_difference_has_a_symmetrical_interval_around_zero() {
        let found = StandardisedDifference { cohen_d: 0.0, first: 10.0, second: 10.0 };
        let (low, high) = found.interval(0.95).unwrap();
        // P(T > 0) = Phi(noncentrality), so the ends are normal points over sqrt 5
        assert!((low + 1.959963984540054 / 5.0_f64.sqrt()).abs() < 1e-9);
        assert!((low + high).abs() < 1e-9);
    }

    #[test]
    fn a_huge_effect_still_has_an_interval() {
        let found = StandardisedDifference { cohen_d: 3000.0, first: 3.0, second: 3.0 };
        let (low, high) = found.interval(0.95).unwrap();
        assert!(low > 0.0 && low < 3000.0 && high > 3000.0 && high.is_finite());
    }

    #[test]
    fn samples_without_spread_are_refused() {
        let fault = student_difference(&[1.0, 1.0], &[2.0, 2.0]);
        assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
        assert!(welch_difference(&[1.0, 1.0], &[2.0, 2.0]).is_err());
        assert!(paired_difference(&[1.0, 2.0], &[3.0, 4.0]).is_err());
        assert!(variance_ratio(&[1.0, 2.0], &[3.0, 3.0]).is_err());
        assert!(StandardisedDifference::of(&[1.0, 1.0], &[2.0, 2.0]).is_err());
    }

    #[test]
    fn samples_that_are_no_samples_are_refused() {
        assert!(matches!(
            student_difference(&[1.0], &[2.0, 3.0]),
            Err(StatsError::TooFewRows { .. })
        ));
        assert!(matches!(welch_difference(&[], &[2.0, 3.0]), Err(StatsError::Empty { .. })));
        assert!(matches!(
            student_difference(&[1.0, f64::NAN], &[2.0, 3.0]),
            Err(StatsError::NotFinite { row: 1, .. })
        ));
        assert!(matches!(
            paired_difference(&[1.0, 2.0], &[2.0]),
            Err(StatsError::LengthMismatch { .. })
        ));
    }

    #[test]
    fn one_sample_may_be_constant_for_welch() {
        let found = welch_difference(&[1.0, 2.0, 4.0], &[5.0, 5.0]).unwrap();
        // all of the error is that of the first mean
        assert!((found.degrees_of_freedom - 2.0).abs() < 1e-12);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn units_leave_the_effect_and_order_turns_it(
            first in prop::collection::vec(-5.0_f64..5.0, 3..12),
            second in prop::collection::vec(-5.0_f64..5.0, 3..12),
            scale in 0.01_f64..100.0,
        ) {
            prop_assume!(student_difference(&first, &second).is_ok_and(|e| e.standard_error > 0.05));
            let found = StandardisedDifference::of(&first, &second).unwrap();
            let scaled = |sample: &[f64]| sample.iter().map(|x| 7.0 + scale * x).collect::<Vec<_>>();
            let other = StandardisedDifference::of(&scaled(&second), &scaled(&first)).unwrap();
            prop_assert!((found.cohen_d + other.cohen_d).abs() < 1e-8 * (1.0 + found.cohen_d.abs()));
            let (low, high) = found.interval(0.9).unwrap();
            prop_assert!(low < found.cohen_d && found.cohen_d < high);
            let equal = student_difference(&first, &second).unwrap();
            let welch = welch_difference(&first, &second).unwrap();
            prop_assert!(welch.degrees_of_freedom <= equal.degrees_of_freedom + 1e-9);
        }
    }
}
