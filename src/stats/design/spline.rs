//! A smooth curve with three coefficients.

use crate::stats::error::{StatsError, require_finite};
use crate::stats::numeric::quantile_of_sorted;

/// A natural cubic spline with 3 degrees of freedom beside the intercept: four knots at the minimum, the two terciles (type 7) and the maximum; straight
/// beyond the outer knots.
///
/// With `u = (x - k0) / (k3 - k0)` and the knots `t` on the same scale, the basis is the truncated-power one of Hastie, Tibshirani & Friedman (2009, The
/// Elements of Statistical Learning, eqs 5.4 and 5.5): `u`, `d_0(u) - d_2(u)`, `d_1(u) - d_2(u)` with
/// `d_k(u) = ((u - t_k)_+^3 - (u - t_3)_+^3) / (t_3 - t_k)`. The first column alone is the straight line, so "does it bend" is the joint test of the other
/// two.
#[derive(Debug, Clone, PartialEq)]
pub struct NaturalSpline {
    /// The four knots, rising, in the unit of the values.
    pub knots: [f64; 4],
}

impl NaturalSpline {
    /// Knots from the values themselves.
    ///
    /// # Errors
    /// `Empty`, `NotFinite`; `NoVariation` where two knots coincide, so that the curve cannot bend between them.
    pub fn new(values: &[f64]) -> Result<Self, StatsError> {
        require_finite("the values of a spline", values)?;
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        let knots = [0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0].map(|p| quantile_of_sorted(&sorted, p));
        if knots.windows(2).any(|pair| pair[0] >= pair[1]) {
            let what = "a stretch between two knots of a spline".into();
            return Err(StatsError::NoVariation { what });
        }
        Ok(Self { knots })
    }

    /// The three basis values at a point.
    pub fn basis(&self, at: f64) -> [f64; 3] {
        let [first, .., last] = self.knots;
        let scaled = |x: f64| (x - first) / (last - first);
        let knots = self.knots.map(scaled);
        let u = scaled(at);
        let cube = |knot: f64| (u - knot).max(0.0).powi(3);
        let part = |k: usize| (cube(knots[k]) - cube(1.0)) / (1.0 - knots[k]);
        [u, part(0) - part(2), part(1) - part(2)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spline() -> NaturalSpline {
        NaturalSpline::new(&(0..=30).map(f64::from).collect::<Vec<_>>()).unwrap()
    }

    #[test]
    fn knots_are_the_ends_and_the_terciles() {
        assert_eq!(spline().knots, [0.0, 10.0, 20.0, 30.0]);
    }

    #[test]
    fn the_curve_is_straight_beyond_the_outer_knots() {
        for start in [-20.0, 31.0] {
            let [a, b, c] = [0.0, 5.0, 10.0].map(|step| spline().basis(start + step));
            for column in 0..3 {
                assert!((a[column] - 2.0 * b[column] + c[column]).abs() < 1e-10);
            }
        }
    }

    #[test]
    fn values_with_too_few_places_cannot_bend() {
        let tied = NaturalSpline::new(&[1.0, 1.0, 1.0, 1.0, 2.0]);
        assert!(matches!(tied, Err(StatsError::NoVariation { .. })));
    }
}
