//! Intervals and tests from the likelihood itself, which near a boundary are right where Wald's are not.

use super::basis::complement;
use super::newton::Surface;
use super::{LogisticFit, chi_squared};
use crate::stats::error::{StatsError, require_level};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::numeric::{chi_squared_quantile, find_root};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// A bound is sought up to so many doublings of one standard error.
const DOUBLINGS: usize = 12;
/// Steps straight to a bound, which shrink by a constant factor where the likelihood is penalised; after a last one of this size further ones say nothing.
const MOST_DIRECT_STEPS: usize = 40;
const DIRECT_TOLERANCE: f64 = 1e-10;

impl LogisticFit {
    /// Likelihood-ratio test that several contrasts (`q x p`) are zero together: twice the difference of the maxima, of the penalised likelihood for Firth's
    /// method with the determinant of the whole information in both (Heinze & Schemper 2002). `q` times the statistic is chi-squared on `q` degrees of
    /// freedom.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`; `RankDeficient` for contrasts that repeat each other; `Separation`, `NotConverged` of the smaller model.
    pub fn likelihood_ratio(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let directions = self.directions(contrasts)?;
        let zeros = DVector::zeros(contrasts.nrows());
        let value = self.restricted(&directions, &zeros)?;
        Ok(chi_squared(2.0 * (self.top.value - value).max(0.0), contrasts.nrows()))
    }

    /// Profile-likelihood interval of `c'b` (Venzon & Moolgavkar 1988, Applied Statistics 37, 87-94): the values at which twice the maximum over all other
    /// directions lies less than the chi-squared quantile below the top. For Firth's method the profile is that of the penalised likelihood
    /// (Heinze & Schemper 2002).
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast; `OutOfRange` for the level; `NotConverged` where the profile does not fall as far on some side.
    pub fn profile_interval(&self, contrast: &[f64], level: f64) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        let found = self.contrast(contrast)?;
        if found.standard_error == 0.0 {
            return Ok((found.value, found.value));
        }
        let way = self.direction(contrast)?;
        let quantile = chi_squared_quantile(level, 1.0);
        let bound = |sign: f64| {
            self.direct_bound(&way, sign, quantile)
                .or_else(|| self.searched_bound(&way, sign, quantile, found))
        };
        match (bound(-1.0), bound(1.0)) {
            (Some(low), Some(high)) => Ok((found.value - low, found.value + high)),
            _ => Err(StatsError::NotConverged { what: "the profile of the likelihood".into() }),
        }
    }

    /// How far from the estimate the profile has fallen by half the quantile, to one side: the point where the likelihood has fallen as far and nothing but
    /// the way itself would raise it, found by Newton's method on both conditions at once (Venzon & Moolgavkar 1988, Applied Statistics 37, 87-94, from memory). `None` where the steps do not
    /// end, as on a profile that is far from a parabola or flat; a search then must find it.
    fn direct_bound(&self, way: &DVector<f64>, sign: f64, quantile: f64) -> Option<f64> {
        let target = self.top.value - 0.5 * quantile;
        let along = self.factor.solve(way);
        let mut from_top = &along * (sign * (quantile / way.dot(&along)).sqrt());
        for _ in 0..MOST_DIRECT_STEPS {
            let at = &self.top.at + &from_top;
            let (value, slope) = self.likelihood.look(&at)?;
            let factor = slope.information.cholesky()?;
            let (up, along) = (factor.solve(&slope.gradient), factor.solve(way));
            let room = (2.0 * (value - target) + slope.gradient.dot(&up)) / way.dot(&along);
            // a root of what is negative or no number is none
            let step = up + along * (sign * room.sqrt());
            from_top += &step;
            if !from_top.iter().all(|value| value.is_finite()) {
                return None;
            }
            if step.amax() <= DIRECT_TOLERANCE * (1.0 + from_top.amax()) {
                return Some(sign * way.dot(&from_top)).filter(|distance| *distance > 0.0);
            }
        }
        None
    }

    /// The same by a search along the profile, which costs a fit at every point.
    fn searched_bound(
        &self,
        way: &DVector<f64>,
        sign: f64,
        quantile: f64,
        found: Estimate,
    ) -> Option<f64> {
        let direction = DMatrix::from_columns(std::slice::from_ref(way));
        // signed roots are nearly straight lines, which secants like
        let depth = quantile.sqrt();
        let excess = |distance: f64| {
            let value = DVector::from_element(1, found.value + sign * distance);
            let reached = self.restricted(&direction, &value);
            let fall = reached.map_or(f64::NAN, |reached| 2.0 * (self.top.value - reached));
            let excess = if fall.is_nan() { fall } else { fall.max(0.0).sqrt() - depth };
            // further digits of the bound would cost refits and say nothing
            if excess.abs() < 1e-10 { 0.0 } else { excess }
        };
        let (near, far) = bracket(excess, found.standard_error)?;
        find_root(excess, near, far)
    }

    /// The maximum where `D'g` has the given values.
    fn restricted(
        &self,
        directions: &DMatrix<f64>,
        values: &DVector<f64>,
    ) -> Result<f64, StatsError> {
        let free = complement(directions)?;
        let start = self.nearest(directions, values).ok_or_else(super::not_converged)?;
        Ok(self.likelihood.climb_from(start, Some(&free), &self.names)?.value)
    }

    /// Where the quadratic approximation at the top puts the restricted maximum: a start that meets the restriction.
    fn nearest(&self, directions: &DMatrix<f64>, values: &DVector<f64>) -> Option<DVector<f64>> {
        let ways = self.factor.solve(directions);
        let missing = values - directions.tr_mul(&self.top.at);
        let gram = directions.tr_mul(&ways).cholesky()?;
        Some(&self.top.at + ways * gram.solve(&missing))
    }
}

/// The first doubling of `unit` at which a function is not negative, and the point before.
fn bracket(function: impl Fn(f64) -> f64, unit: f64) -> Option<(f64, f64)> {
    let (mut near, mut far) = (0.0, unit);
    for _ in 0..DOUBLINGS {
        let value = function(far);
        if value.is_nan() {
            return None;
        }
        if value >= 0.0 {
            return Some((near, far));
        }
        (near, far) = (far, 2.0 * far);
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::design::Design;
    use crate::stats::logistic::{BinomialOutcome, fit_firth, fit_logistic};

    /// Two columns and an outcome that neither foretells.
    fn rows() -> (Design, BinomialOutcome) {
        let x: Vec<f64> = (0..24).map(|row| f64::from(row * 7 % 24)).collect();
        let z: Vec<f64> = (0..24).map(|row| f64::from(row * row % 11)).collect();
        let y: Vec<f64> = (0..24).map(|row| f64::from(u8::from(row % 5 < 2))).collect();
        let design = Design::builder(24).intercept().number("x", &x).number("z", &z);
        (design.build().unwrap(), BinomialOutcome::binary(&y).unwrap())
    }

    #[test]
    fn the_straight_way_to_a_bound_ends_where_the_search_does() {
        let (design, outcome) = rows();
        let quantile = chi_squared_quantile(0.95, 1.0);
        for fit in [fit_firth(&design, &outcome), fit_logistic(&design, &outcome)] {
            let fit = fit.unwrap();
            for contrast in [[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 5.0, -2.0]] {
                let (way, found) = (fit.direction(&contrast).unwrap(), fit.contrast(&contrast));
                for sign in [-1.0, 1.0] {
                    let direct = fit.direct_bound(&way, sign, quantile).unwrap();
                    let found = found.clone().unwrap();
                    let searched = fit.searched_bound(&way, sign, quantile, found).unwrap();
                    assert!((direct / searched - 1.0).abs() < 1e-8, "{direct} {searched}");
                }
            }
        }
    }
}
