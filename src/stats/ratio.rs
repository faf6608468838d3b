//! A ratio of two estimates, and what can be said of it when the denominator may be zero.

use crate::stats::error::{StatsError, require_finite, require_level};
use crate::stats::estimate::Estimate;
use crate::stats::numeric::t_quantile;

/// A ratio `a / b` of two estimates with a joint normal distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratio {
    /// `a`.
    pub numerator: f64,
    /// `b`, not zero.
    pub denominator: f64,
    /// Variance of `a`.
    pub numerator_variance: f64,
    /// Variance of `b`.
    pub denominator_variance: f64,
    /// Their covariance.
    pub covariance: f64,
    /// Degrees of freedom of the variances; infinite where they are known or the sample is large.
    pub degrees_of_freedom: f64,
}

/// The values of a ratio that the data do not contradict.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FiellerSet {
    /// Everything from `low` to `high`: the denominator differs clearly from zero.
    Interval { low: f64, high: f64 },
    /// Everything up to `below` and everything from `above` on: the denominator may be zero, the numerator may not. At the very edge between the shapes one
    /// of the two is infinite.
    Complement { below: f64, above: f64 },
    /// Any value at all: both may be zero.
    WholeLine,
}

impl FiellerSet {
    /// Whether a value is in the set.
    pub fn contains(&self, value: f64) -> bool {
        match *self {
            Self::Interval { low, high } => (low..=high).contains(&value),
            Self::Complement { below, above } => value <= below || value >= above,
            Self::WholeLine => !value.is_nan(),
        }
    }
}

impl Ratio {
    /// `a / b` of two estimates with their variances and covariance; the unit of the ratio is that of `a` per that of `b`.
    ///
    /// # Errors
    /// `NotFinite`; `OutOfRange` for a denominator of exactly zero, a negative variance, a covariance beyond the product of the standard errors, degrees of
    /// freedom that are not positive.
    pub fn new(
        numerator: f64,
        denominator: f64,
        variances: (f64, f64),
        covariance: f64,
        degrees_of_freedom: f64,
    ) -> Result<Self, StatsError> {
        let given = [numerator, denominator, variances.0, variances.1, covariance];
        require_finite("the estimates of a ratio and their variances", &given)?;
        let most = (variances.0 * variances.1).sqrt() * (1.0 + 1e-9);
        let rules = [
            ("the denominator of a ratio", denominator, denominator != 0.0, "not 0"),
            (
                "a variance",
                variances.0.min(variances.1),
                variances.0.min(variances.1) >= 0.0,
                "0 or more",
            ),
            (
                "a covariance",
                covariance,
                covariance.abs() <= most,
                "at most the product of the errors",
            ),
            (
                "the degrees of freedom",
                degrees_of_freedom,
                degrees_of_freedom > 0.0,
                "a positive number",
            ),
        ];
        if let Some((what, value, _, expected)) = rules.into_iter().find(|rule| !rule.2) {
            let (what, expected) = (what.into(), expected.into());
            return Err(StatsError::OutOfRange { what, value, expected });
        }
        Ok(Self {
            numerator,
            denominator,
            numerator_variance: variances.0,
            denominator_variance: variances.1,
            covariance,
            degrees_of_freedom,
        })
    }

    /// Where a parabola `b1 x + b2 x^2` has its top or bottom, `-b1 / (2 b2)`, in the unit of `x`; `variances` are those of `b1` and `b2`. A top where `b2`
    /// is negative.
    ///
    /// # Errors
    /// As [`Ratio::new`], with `b2` as the denominator.
    pub fn optimum_of_quadratic(
        linear: f64,
        quadratic: f64,
        variances: (f64, f64),
        covariance: f64,
        degrees_of_freedom: f64,
    ) -> Result<Self, StatsError> {
        let doubled = (variances.0, 4.0 * variances.1);
        Self::new(-linear, 2.0 * quadratic, doubled, -2.0 * covariance, degrees_of_freedom)
    }

    /// The ratio with the error of the delta method: `var = (v_a - 2 r v_ab + r^2 v_b) / b^2`. Its symmetric interval is trustworthy only where the
    /// denominator is many errors away from zero; [`Ratio::fieller`] always is.
    pub fn delta(&self) -> Estimate {
        let value = self.numerator / self.denominator;
        let variance = self.numerator_variance - 2.0 * value * self.covariance
            + value * value * self.denominator_variance;
        Estimate {
            value,
            // a valid covariance makes this non-negative but for rounding
            standard_error: variance.max(0.0).sqrt() / self.denominator.abs(),
            degrees_of_freedom: self.degrees_of_freedom,
        }
    }

    /// Fieller's set (Fieller 1954, Journal of the Royal Statistical Society B 16, 175-185): all `r` with `(a - r b)^2 <= t^2 (v_a - 2 r v_ab + r^2 v_b)`,
    /// which is exact for normal estimates. With `A = b^2 - t^2 v_b`, `B = a b - t^2 v_ab`, `C = a^2 - t^2 v_a` it is `A r^2 - 2 B r + C <= 0`.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`.
    pub fn fieller(&self, level: f64) -> Result<FiellerSet, StatsError> {
        require_level("the level of an interval", level)?;
        let square = t_quantile(0.5 * (1.0 + level), self.degrees_of_freedom).powi(2);
        let (a, b) = (self.numerator, self.denominator);
        let leading = b * b - square * self.denominator_variance;
        let half = a * b - square * self.covariance;
        let constant = a * a - square * self.numerator_variance;
        Ok(solve(leading, half, constant))
    }
}

/// The set where `A r^2 - 2 B r + C <= 0`.
fn solve(leading: f64, half: f64, constant: f64) -> FiellerSet {
    if leading == 0.0 {
        let edge = constant / (2.0 * half);
        return match half {
            half if half > 0.0 => FiellerSet::Complement { below: f64::NEG_INFINITY, above: edge },
            half if half < 0.0 => FiellerSet::Complement { below: edge, above: f64::INFINITY },
            _ => FiellerSet::WholeLine,
        };
    }
    let discriminant = half * half - leading * constant;
    if leading < 0.0 && discriminant <= 0.0 {
        return FiellerSet::WholeLine;
    }
    // the ratio itself is in the set, so that with a positive leading term only rounding makes this negative
    let sum = half + discriminant.max(0.0).sqrt().copysign(half);
    let one = sum / leading;
    let other = if sum == 0.0 { one } else { constant / sum };
    let (low, high) = (one.min(other), one.max(other));
    if leading > 0.0 {
        FiellerSet::Interval { low, high }
    } else {
        FiellerSet::Complement { below: low, above: high }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const NORMAL: f64 = f64::INFINITY;
    /// The level at which the normal quantile is 2, so that the cases below can be worked by hand: `erf(sqrt 2)`.
    const TWO: f64 = 0.9544997361036416;

    #[test]
    fn a_hand_worked_ratio_has_a_bounded_set() {
        // a = 6, b = 4, v_a = v_b = 1, t = 2: A = 12, B = 24, C = 32, roots 2 -/+ sqrt(4 - 8/3)
        let ratio = Ratio::new(6.0, 4.0, (1.0, 1.0), 0.0, NORMAL).unwrap();
        let FiellerSet::Interval { low, high } = ratio.fieller(TWO).unwrap() else { panic!() };
        let half = (4.0_f64 / 3.0).sqrt();
        assert!((low - (2.0 - half)).abs() < 1e-12 && (high - (2.0 + half)).abs() < 1e-12);
        // delta: sqrt(1 + 2.25) / 4
        assert!((ratio.delta().standard_error - 3.25_f64.sqrt() / 4.0).abs() < 1e-15);
    }

    #[test]
    fn a_denominator_near_zero_leaves_two_rays() {
        // a = 6, b = 1: A = 1 - 4 = -3, B = 6, C = 32; -3 r^2 - 12 r + 32 <= 0 outside -2 -/+ sqrt(4 + 32/3)
        let ratio = Ratio::new(6.0, 1.0, (1.0, 1.0), 0.0, NORMAL).unwrap();
        let set = ratio.fieller(TWO).unwrap();
        let FiellerSet::Complement { below, above } = set else { panic!() };
        let half = (44.0_f64 / 3.0).sqrt();
        assert!((below - (-2.0 - half)).abs() < 1e-12 && (above - (-2.0 + half)).abs() < 1e-12);
        assert!(set.contains(6.0) && set.contains(-100.0) && !set.contains(0.0));
    }

    #[test]
    fn two_estimates_that_may_be_zero_say_nothing_of_their_ratio() {
        // a = 1, b = 1: A = C = -3, B = 1: 1 - 9 < 0
        let ratio = Ratio::new(1.0, 1.0, (1.0, 1.0), 0.0, NORMAL).unwrap();
        assert_eq!(ratio.fieller(TWO).unwrap(), FiellerSet::WholeLine);
    }

    #[test]
    fn between_the_shapes_lies_a_half_line() {
        // A = 0, B = 2, C = 5: r >= 5/4
        let half_line = FiellerSet::Complement { below: f64::NEG_INFINITY, above: 1.25 };
        assert_eq!(solve(0.0, 2.0, 5.0), half_line);
        assert_eq!(solve(0.0, 0.0, -1.0), FiellerSet::WholeLine);
        assert!(!half_line.contains(1.0) && half_line.contains(2.0));
    }

    #[test]
    fn estimates_without_error_have_one_ratio() {
        let ratio = Ratio::new(3.0, 2.0, (0.0, 0.0), 0.0, 5.0).unwrap();
        assert_eq!(ratio.fieller(0.95).unwrap(), FiellerSet::Interval { low: 1.5, high: 1.5 });
        assert_eq!(ratio.delta().standard_error, 0.0);
    }

    #[test]
    fn the_top_of_a_parabola_is_a_ratio() {
        // 6 x - x^2 has its top at 3
        let top = Ratio::optimum_of_quadratic(6.0, -1.0, (0.04, 0.01), 0.0, 20.0).unwrap();
        assert_eq!(top.delta().value, 3.0);
        // (0.04 + 9 * 4 * 0.01) / 4
        assert!((top.delta().standard_error - 0.1_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn nonsense_is_refused() {
        let refused = |a, b, v, c, df| Ratio::new(a, b, v, c, df).is_err();
        assert!(refused(1.0, 0.0, (1.0, 1.0), 0.0, 5.0));
        assert!(refused(f64::NAN, 1.0, (1.0, 1.0), 0.0, 5.0));
        assert!(refused(1.0, 1.0, (-1.0, 1.0), 0.0, 5.0));
        assert!(refused(1.0, 1.0, (1.0, 1.0), 1.1, 5.0));
        assert!(refused(1.0, 1.0, (1.0, 1.0), 0.0, 0.0));
        assert!(refused(1.0, 1.0, (1.0, 1.0), 0.0, f64::NAN));
        assert!(Ratio::new(1.0, 1.0, (1.0, 1.0), 0.0, 5.0).unwrap().fieller(1.0).is_err());
    }

    proptest! {
        #[test]
        fn a_value_is_in_the_set_where_the_t_test_of_it_does_not_reject(
            a in -5.0_f64..5.0, b in 0.05_f64..5.0, va in 0.01_f64..2.0, vb in 0.01_f64..2.0,
            correlation in -0.99_f64..0.99, value in -20.0_f64..20.0, df in 3.0_f64..50.0,
        ) {
            let covariance = correlation * (va * vb).sqrt();
            let ratio = Ratio::new(a, b, (va, vb), covariance, df).unwrap();
            let spread = (va - 2.0 * value * covariance + value * value * vb).sqrt();
            let test = Estimate { value: a - value * b, standard_error: spread, degrees_of_freedom: df };
            let p = test.p_value();
            prop_assume!((p - 0.05).abs() > 1e-6);
            prop_assert_eq!(ratio.fieller(0.95).unwrap().contains(value), p > 0.05);
        }

        #[test]
        fn an_almost_certain_denominator_makes_both_intervals_one(
            a in -5.0_f64..5.0, b in 1.0_f64..5.0, va in 0.01_f64..1.0,
        ) {
            let ratio = Ratio::new(a, b, (va, 1e-14), 0.0, NORMAL).unwrap();
            let (low, high) = ratio.delta().interval(0.95).unwrap();
            let FiellerSet::Interval { low: first, high: last } = ratio.fieller(0.95).unwrap() else { panic!() };
            prop_assert!((low - first).abs() < 1e-5 && (high - last).abs() < 1e-5);
        }
    }
}
