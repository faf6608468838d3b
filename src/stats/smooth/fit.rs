//! A fitted curve and what it says.

use super::SmoothingSpline;
use super::equations::Solution;
use crate::stats::error::{StatsError, require_finite};

/// A fitted curve.
#[derive(Debug, Clone, PartialEq)]
pub struct SplineFit {
    /// The penalty, in the unit of `x` cubed.
    pub penalty: f64,
    /// Knots, rising.
    pub knots: Vec<f64>,
    /// The curve at the knots, in the unit of the outcome.
    pub values: Vec<f64>,
    /// Its second derivative there, 0 at both ends.
    pub curvatures: Vec<f64>,
    /// Share of each knot's own mean outcome in the curve there.
    pub leverages: Vec<f64>,
    /// Trace of the smoother, from 2 (a straight line) to the number of knots.
    pub effective_degrees_of_freedom: f64,
    /// Sum of squared residuals of the rows.
    pub residual_sum_of_squares: f64,
    /// `(rss / n) / (1 - edf / n)^2`; infinite where no degree of freedom is left.
    pub generalised_cross_validation: f64,
    /// -2 times the restricted log-likelihood, up to a constant that the penalty does not change:
    /// `(n - 2) log(S / (n - 2)) + log |R + penalty Q'W^-1 Q| - m log penalty` with the penalised sum of squares `S` and `m` inner knots.
    pub restricted_deviance: f64,
    rows: usize,
    weights: Vec<f64>,
}

impl SplineFit {
    pub(super) fn new(
        spline: &SmoothingSpline,
        penalty: f64,
        scaled: f64,
        solution: Solution,
    ) -> Self {
        let SmoothingSpline { knots, range, .. } = spline;
        let rows = spline.rows as f64;
        let lack = solution.values.iter().zip(&knots.means).zip(&knots.weights);
        let lack: f64 = lack.map(|((f, y), weight)| weight * (y - f).powi(2)).sum();
        let residual = spline.pure_error + lack;
        let degrees = solution.leverages.iter().sum::<f64>();
        let left = 1.0 - degrees / rows;
        let score = if left > 1e-12 { residual / rows / (left * left) } else { f64::INFINITY };
        let noise = (spline.pure_error + solution.penalised) / (rows - 2.0);
        let inner = solution.curvatures.iter().map(|curvature| curvature / (range * range));
        Self {
            penalty,
            knots: knots.places.clone(),
            curvatures: std::iter::once(0.0).chain(inner).chain(std::iter::once(0.0)).collect(),
            effective_degrees_of_freedom: degrees,
            residual_sum_of_squares: residual,
            generalised_cross_validation: score,
            restricted_deviance: (rows - 2.0) * noise.ln() + solution.log_determinant
                - solution.curvatures.len() as f64 * scaled.ln(),
            values: solution.values,
            leverages: solution.leverages,
            rows: spline.rows,
            weights: knots.weights.clone(),
        }
    }

    /// The curve at a place: a cubic between knots, a straight line beyond the outer ones.
    ///
    /// # Errors
    /// `NotFinite`.
    pub fn at(&self, x: f64) -> Result<f64, StatsError> {
        require_finite("the place on a curve", &[x])?;
        let last = self.knots.len() - 1;
        let after = self.knots.partition_point(|&knot| knot < x);
        if after == 0 {
            return Ok(self.values[0] + (x - self.knots[0]) * self.outer_slope(0, 1));
        }
        if after > last {
            return Ok(
                self.values[last] + (x - self.knots[last]) * self.outer_slope(last, last - 1)
            );
        }
        let (left, right) = (after - 1, after);
        let gap = self.knots[right] - self.knots[left];
        let (from, to) = (x - self.knots[left], self.knots[right] - x);
        let line = (from * self.values[right] + to * self.values[left]) / gap;
        let bend =
            (1.0 + from / gap) * self.curvatures[right] + (1.0 + to / gap) * self.curvatures[left];
        Ok(line - from * to / 6.0 * bend)
    }

    /// Slope at an outer knot, from its neighbour.
    fn outer_slope(&self, end: usize, neighbour: usize) -> f64 {
        let gap = self.knots[neighbour] - self.knots[end];
        (self.values[neighbour] - self.values[end]) / gap - gap * self.curvatures[neighbour] / 6.0
    }

    /// Standard error of the curve at each knot, `s sqrt(leverage / rows of the knot)` with `s^2 = rss / (n - edf)`, in the unit of the outcome: averaged over
    /// the curve, intervals of this error cover as they should (Wahba 1983, Journal of the Royal Statistical Society B 45, 133-150).
    ///
    /// # Errors
    /// `NoDegreesOfFreedom` where the curve goes through every row.
    pub fn standard_errors(&self) -> Result<Vec<f64>, StatsError> {
        let left = self.rows as f64 - self.effective_degrees_of_freedom;
        if left <= 1e-9 * self.rows as f64 {
            return Err(StatsError::NoDegreesOfFreedom { what: "the error of a curve".into() });
        }
        let variance = self.residual_sum_of_squares / left;
        let pairs = self.leverages.iter().zip(&self.weights);
        Ok(pairs.map(|(leverage, rows)| (variance * leverage.max(0.0) / rows).sqrt()).collect())
    }
}
