//! One fit from products.

use super::{Refit, Solution};
use crate::stats::error::StatsError;
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::linear::{ClusterRobust, ClusterScore, Coordinates};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// Least squares from the products of the groups; the numbers of [`crate::stats::linear::least_squares`] but for the digits that [`crate::stats::refit`]
/// speaks of.
#[derive(Debug, Clone)]
pub struct ProductFit<'refit> {
    /// One coefficient per column, in units of the outcome per unit of the column.
    pub coefficients: Vec<f64>,
    /// `sum e^2`.
    pub residual_sum_of_squares: f64,
    /// `n - p`.
    pub residual_degrees_of_freedom: usize,
    pub(super) refit: &'refit Refit,
    pub(super) solution: Solution,
}

impl Coordinates for ProductFit<'_> {
    fn coefficients(&self) -> &[f64] {
        &self.coefficients
    }

    fn solve_transposed(&self, contrast: &[f64]) -> Vec<f64> {
        self.solution.forward(self.standardised(contrast))
    }
}

impl<'refit> ProductFit<'refit> {
    pub(super) fn new(refit: &'refit Refit, solution: Solution, rows: usize) -> Self {
        let unit = refit.outcome_scale();
        Self {
            coefficients: refit.in_units(&solution.coefficients),
            residual_sum_of_squares: solution.left * unit * unit,
            residual_degrees_of_freedom: rows - refit.names.len(),
            refit,
            solution,
        }
    }

    /// Column names, in the order of the coefficients.
    pub fn names(&self) -> &[String] {
        &self.refit.names
    }

    /// The contrast of the standardised coefficients that is `c` of the coefficients in units.
    fn standardised(&self, contrast: &[f64]) -> Vec<f64> {
        let at_origin = if self.refit.intercept { contrast[0] } else { 0.0 };
        let places = contrast.iter().zip(&self.refit.centres).zip(&self.refit.scales);
        places.map(|((value, centre), scale)| (value - at_origin * centre) / scale).collect()
    }

    /// Residual standard deviation `sqrt(sum e^2 / (n - p))`, in the unit of the outcome.
    pub fn residual_standard_deviation(&self) -> f64 {
        (self.residual_sum_of_squares / self.residual_degrees_of_freedom as f64).sqrt()
    }

    /// `c'b` with its classical error and `n - p` degrees of freedom.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn classical(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let spread = self.residual_standard_deviation();
        self.classical_estimate(contrast, spread, self.residual_degrees_of_freedom as f64)
    }

    /// F test that several contrasts (`q x p`) are zero together, with classical errors.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`; `RankDeficient` for contrasts that repeat each other.
    pub fn classical_joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let spread = self.residual_standard_deviation();
        self.classical_test(contrasts, spread, self.residual_degrees_of_freedom as f64)
    }

    /// Errors that allow rows of one group to resemble each other; see [`ClusterRobust`]. The groups of the products are the clusters.
    ///
    /// # Errors
    /// `TooFewGroups` under three groups.
    pub fn clustered(&self) -> Result<ClusterRobust<'_>, StatsError> {
        let scores = (0..self.refit.groups.len()).map(|group| self.score(group)).collect();
        let rows = self.residual_degrees_of_freedom + self.coefficients.len();
        ClusterRobust::new(self, rows, scores)
    }

    /// With `Q_g = Z_g L^-T`: `Q_g'Q_g = L^-1 Z_g'Z_g L^-T` and `Q_g'e_g = L^-1 (Z_g'y - Z_g'Z_g b)`.
    fn score(&self, group: usize) -> ClusterScore {
        let group = &self.refit.groups[group];
        let columns = self.coefficients.len();
        let half: Vec<Vec<f64>> = (0..columns)
            .map(|j| self.solution.forward((0..columns).map(|i| group.product(i, j)).collect()))
            .collect();
        // half holds the columns of L^-1 G; its rows are the columns of G L^-T
        let gram: Vec<Vec<f64>> = (0..columns)
            .map(|i| self.solution.forward(half.iter().map(|column| column[i]).collect()))
            .collect();
        let left = (0..columns).map(|i| {
            let pairs = self.solution.coefficients.iter().enumerate();
            let fitted: f64 = pairs.map(|(j, b)| group.product(i, j) * b).sum();
            (group.product(columns, i) - fitted) * self.refit.outcome_scale()
        });
        let plain = self.solution.forward(left.collect());
        let gram = DMatrix::from_fn(columns, columns, |i, j| 0.5 * (gram[i][j] + gram[j][i]));
        ClusterScore::from_products(gram, DVector::from_vec(plain))
    }
}
