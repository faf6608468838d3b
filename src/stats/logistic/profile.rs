//! Intervals and tests from the likelihood itself, which near a boundary are right where Wald's are not.

use super::basis::complement;
use super::{LogisticFit, chi_squared};
use crate::stats::error::{StatsError, require_level};
use crate::stats::estimate::JointTest;
use crate::stats::numeric::{chi_squared_quantile, find_root};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// A bound is sought up to so many doublings of one standard error.
const DOUBLINGS: usize = 12;

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
        let direction = DMatrix::from_columns(&[self.direction(contrast)?]);
        // signed roots are nearly straight lines, which secants like
        let depth = chi_squared_quantile(level, 1.0).sqrt();
        let bound = |sign: f64| {
            let excess = |distance: f64| {
                let value = DVector::from_element(1, found.value + sign * distance);
                let reached = self.restricted(&direction, &value);
                let fall = reached.map_or(f64::NAN, |reached| 2.0 * (self.top.value - reached));
                let excess = if fall.is_nan() { fall } else { fall.max(0.0).sqrt() - depth };
                // further digits of the bound would cost refits and say nothing
                if excess.abs() < 1e-10 { 0.0 } else { excess }
            };
            let (near, far) = bracket(excess, found.standard_error)?;
            let distance = find_root(excess, near, far)?;
            Some(found.value + sign * distance)
        };
        match (bound(-1.0), bound(1.0)) {
            (Some(low), Some(high)) => Ok((low, high)),
            _ => Err(StatsError::NotConverged { what: "the profile of the likelihood".into() }),
        }
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
