//! An estimate never travels without its error.

use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{f_sf, t_quantile, t_two_sided};

/// One estimated quantity with its standard error and the degrees of freedom of that error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate, in its own unit.
    pub value: f64,
    /// Its standard error, in the same unit.
    pub standard_error: f64,
    /// Degrees of freedom of the t distribution it is compared with; infinite for the normal.
    pub degrees_of_freedom: f64,
}

impl Estimate {
    /// `value / standard_error`; an estimate without error gives an infinite statistic, and 0/0 is not a number.
    pub fn t_statistic(&self) -> f64 {
        self.value / self.standard_error
    }

    /// Two-sided p value of "the quantity is zero".
    pub fn p_value(&self) -> f64 {
        t_two_sided(self.t_statistic(), self.degrees_of_freedom)
    }

    /// `value -/+ t_{(1 + level)/2, df} standard_error`.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`.
    pub fn interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        let half = t_quantile(0.5 * (1.0 + level), self.degrees_of_freedom) * self.standard_error;
        Ok((self.value - half, self.value + half))
    }

    /// The same quantity in another unit or per another step.
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            standard_error: self.standard_error * factor.abs(),
            degrees_of_freedom: self.degrees_of_freedom,
        }
    }
}

/// A test that several contrasts are zero together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointTest {
    /// The F statistic.
    pub statistic: f64,
    /// How many contrasts.
    pub numerator: f64,
    /// Denominator degrees of freedom.
    pub denominator: f64,
}

impl JointTest {
    /// `P(F > statistic)`.
    pub fn p_value(&self) -> f64 {
        f_sf(self.statistic, self.numerator, self.denominator)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SLOPE: Estimate =
        Estimate { value: 2.0, standard_error: 1.0, degrees_of_freedom: f64::INFINITY };

    #[test]
    fn the_interval_is_the_estimate_and_a_t_quantile() {
        let (low, high) = SLOPE.interval(0.95).unwrap();
        assert!((low - (2.0 - 1.959963984540054)).abs() < 1e-12);
        assert!((high - (2.0 + 1.959963984540054)).abs() < 1e-12);
    }

    #[test]
    fn a_change_of_unit_leaves_the_p_value() {
        assert_eq!(SLOPE.scaled(-3.0).p_value(), SLOPE.p_value());
        assert_eq!(SLOPE.scaled(-3.0).standard_error, 3.0);
    }

    #[test]
    fn a_level_of_one_is_refused() {
        assert!(SLOPE.interval(1.0).is_err());
    }
}
