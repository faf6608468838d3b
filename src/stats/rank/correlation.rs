//! The product-moment correlation with Fisher's interval.

use crate::stats::error::{
    StatsError, require_count, require_finite, require_length, require_level,
};
use crate::stats::numeric::{mean, normal_quantile, sum, sum_of_squares, t_two_sided};

/// A product-moment correlation, without unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlation {
    /// `r`, from -1 to 1.
    pub value: f64,
    /// How many pairs it comes from.
    pub pairs: usize,
}

/// Pearson's `r = sum (x - mx)(y - my) / sqrt(sum (x - mx)^2 sum (y - my)^2)` (Pearson 1895, Proceedings of the Royal Society 58, 240-242).
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFew` under three pairs, which would always give -1 or 1; `NoVariation`.
pub fn pearson(first: &[f64], second: &[f64]) -> Result<Correlation, StatsError> {
    require_length("the second sample", first.len(), second.len())?;
    let first = direction("the first sample", first)?;
    let second = direction("the second sample", second)?;
    require_count("pairs", 3, first.len())?;
    let products: Vec<f64> = first.iter().zip(&second).map(|(a, b)| a * b).collect();
    // only rounding can lead outside
    Ok(Correlation { value: sum(&products).clamp(-1.0, 1.0), pairs: first.len() })
}

/// Deviations from the mean, divided by their length. Scaled by the largest value first, so that no square overflows.
fn direction(what: &str, values: &[f64]) -> Result<Vec<f64>, StatsError> {
    require_finite(what, values)?;
    if values.iter().all(|value| *value == values[0]) {
        return Err(StatsError::NoVariation { what: what.into() });
    }
    let largest = values.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    let scaled: Vec<f64> = values.iter().map(|value| value / largest).collect();
    let centre = mean(&scaled)?;
    let deviations: Vec<f64> = scaled.iter().map(|value| value - centre).collect();
    let length = sum_of_squares(&deviations).sqrt();
    Ok(deviations.iter().map(|deviation| deviation / length).collect())
}

impl Correlation {
    /// Two-sided p value of "no correlation" by `t = r sqrt((n - 2) / (1 - r^2))` with `n - 2` degrees of freedom (Student 1908): exact for normal pairs.
    pub fn p_value(&self) -> f64 {
        t_p_value(self.value, self.pairs)
    }

    /// Fisher's interval `tanh(atanh r -/+ z / sqrt(n - 3))` (Fisher 1921, Metron 1, 3-32). An exact line gives `(r, r)`.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`; `TooFew` under four pairs.
    pub fn interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        fisher_interval(self.value, self.pairs, 1.0, level)
    }
}

pub(super) fn t_p_value(r: f64, pairs: usize) -> f64 {
    let df = pairs as f64 - 2.0;
    t_two_sided(r * (df / ((1.0 - r) * (1.0 + r))).sqrt(), df)
}

/// `tanh(atanh r -/+ z sqrt(variance / (n - 3)))`.
pub(super) fn fisher_interval(
    r: f64,
    pairs: usize,
    variance: f64,
    level: f64,
) -> Result<(f64, f64), StatsError> {
    require_level("the level of an interval", level)?;
    require_count("pairs", 4, pairs)?;
    let half = normal_quantile(0.5 * (1.0 + level)) * (variance / (pairs as f64 - 3.0)).sqrt();
    Ok(((r.atanh() - half).tanh(), (r.atanh() + half).tanh()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn an_exact_line_correlates_perfectly() {
        let found = pearson(&[1.0, 2.0, 3.0, 4.0], &[8.0, 6.0, 4.0, 2.0]).unwrap();
        assert_eq!(found.value, -1.0);
        assert_eq!(found.p_value(), 0.0);
        assert_eq!(found.interval(0.95).unwrap(), (-1.0, -1.0));
    }

    #[test]
    fn two_pairs_and_constants_are_refused() {
        assert!(matches!(pearson(&[1.0, 2.0], &[3.0, 1.0]), Err(StatsError::TooFew { .. })));
        let flat = pearson(&[0.1, 0.1, 0.1], &[1.0, 2.0, 3.0]);
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        let bad = pearson(&[1.0, f64::NAN, 2.0], &[1.0, 2.0, 3.0]);
        assert!(matches!(bad, Err(StatsError::NotFinite { row: 1, .. })));
        assert!(pearson(&[1.0, 2.0, 3.0], &[1.0]).is_err());
    }

    #[test]
    fn three_pairs_have_no_interval() {
        let found = pearson(&[1.0, 2.0, 4.0], &[1.0, 3.0, 2.0]).unwrap();
        assert!(matches!(found.interval(0.95), Err(StatsError::TooFew { .. })));
        assert!(found.interval(1.0).is_err());
    }

    #[test]
    fn huge_values_do_not_overflow() {
        let found = pearson(&[1e308, -1e308, 0.0, 5e307], &[1.0, -1.0, 0.0, 0.5]).unwrap();
        assert!((found.value - 1.0).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn units_do_not_matter_and_the_order_of_samples_does_not(
            pairs in prop::collection::vec((-9.0_f64..9.0, -9.0_f64..9.0), 4..30),
            shift in -50.0_f64..50.0, scale in 0.1_f64..10.0,
        ) {
            let (x, y): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
            let moved: Vec<f64> = x.iter().map(|value| shift - scale * value).collect();
            let plain = pearson(&x, &y).unwrap().value;
            prop_assert!((pearson(&moved, &y).unwrap().value + plain).abs() < 1e-9);
            prop_assert_eq!(pearson(&y, &x).unwrap().value, plain);
        }
    }
}
