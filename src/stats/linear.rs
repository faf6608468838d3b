//! Least squares with classical and leverage-corrected errors.

use linfa::Dataset;
use linfa::traits::Fit;
use linfa_linear::LinearRegression;
use ndarray::Array1;

use super::StatsError;
use super::design::{Design, dot, orthogonalise};
use super::numeric::{sum, t_two_sided};

/// An estimate with its standard error, its degrees of freedom and its two-sided p value against zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    pub estimate: f64,
    pub standard_error: f64,
    pub df: f64,
    pub p: f64,
}

impl Estimate {
    pub(super) fn new(estimate: f64, standard_error: f64, df: f64) -> Estimate {
        Estimate { estimate, standard_error, df, p: t_two_sided(estimate / standard_error, df) }
    }
}

/// A least-squares fit: y = X b + e, with X of n rows and p independent columns.
#[derive(Debug, Clone)]
pub struct LinearFit {
    names: Vec<String>,
    /// b, one entry a column.
    pub coefficients: Vec<f64>,
    pub residuals: Vec<f64>,
    /// Orthonormal columns that span X, p of n entries.
    pub(super) basis: Vec<Vec<f64>>,
    /// Upper triangle R with X = Q R, row by row.
    pub(super) triangle: Vec<Vec<f64>>,
}

/// Fits by an orthogonal factorisation X = Q R; b solves R b = Q'y by back substitution.
///
/// # Errors
/// Where a value is not finite, there are fewer rows than columns, or a column is a combination of earlier ones
/// (take [`Design::independent`] first).
pub fn least_squares(design: &Design, y: &[f64]) -> Result<LinearFit, StatsError> {
    check(design, y)?;
    let (basis, triangle) = orthogonalise(design.columns());
    let aliased: Vec<String> = design
        .names()
        .iter()
        .zip(&basis)
        .filter(|(_, unit)| unit.is_none())
        .map(|(name, _)| name.clone())
        .collect();
    if !aliased.is_empty() {
        return Err(StatsError::Aliased(aliased));
    }
    let basis: Vec<Vec<f64>> = basis.into_iter().flatten().collect();
    let mut residuals = y.to_vec();
    let mut along = vec![0.0; basis.len()];
    // projecting what is left a second time recovers what rounding lost in the first
    for _ in 0..2 {
        for (at, unit) in basis.iter().enumerate() {
            let step = dot(unit, &residuals);
            along[at] += step;
            residuals.iter_mut().zip(unit).for_each(|(left, unit)| *left -= step * unit);
        }
    }
    let coefficients = back_substitute(&triangle, &along);
    Ok(LinearFit { names: design.names().to_vec(), coefficients, residuals, basis, triangle })
}

fn check(design: &Design, y: &[f64]) -> Result<(), StatsError> {
    if y.len() != design.rows() {
        return Err(StatsError::Length { wanted: design.rows(), found: y.len() });
    }
    if y.iter().any(|value| !value.is_finite()) {
        return Err(StatsError::NotFinite("the outcome".to_owned()));
    }
    if design.rows() < design.width() {
        return Err(StatsError::TooFewRows { rows: design.rows(), columns: design.width() });
    }
    Ok(())
}

/// Solves R b = z for an upper triangle R.
fn back_substitute(triangle: &[Vec<f64>], z: &[f64]) -> Vec<f64> {
    let mut b = z.to_vec();
    for row in (0..z.len()).rev() {
        let known: f64 = ((row + 1)..z.len()).map(|at| triangle[row][at] * b[at]).sum();
        b[row] = (z[row] - known) / triangle[row][row];
    }
    b
}

/// Solves R' d = c for an upper triangle R.
pub(super) fn forward_substitute(triangle: &[Vec<f64>], c: &[f64]) -> Vec<f64> {
    let mut d = c.to_vec();
    for row in 0..c.len() {
        let known: f64 = (0..row).map(|at| triangle[at][row] * d[at]).sum();
        d[row] = (c[row] - known) / triangle[row][row];
    }
    d
}

impl LinearFit {
    pub fn position(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|known| known == name)
    }

    pub fn coefficient(&self, name: &str) -> Option<f64> {
        self.position(name).map(|at| self.coefficients[at])
    }

    pub fn residual_sum_of_squares(&self) -> f64 {
        sum(self.residuals.iter().map(|residual| residual * residual))
    }

    /// n - p.
    pub fn residual_df(&self) -> usize {
        self.residuals.len() - self.coefficients.len()
    }

    /// The residual standard deviation, with n - p.
    pub fn residual_sd(&self) -> f64 {
        (self.residual_sum_of_squares() / self.residual_df() as f64).sqrt()
    }

    /// The contrast of one coefficient in the orthonormal basis: d with R'd = e(at).
    pub(super) fn direction(&self, at: usize) -> Vec<f64> {
        let mut unit = vec![0.0; self.coefficients.len()];
        unit[at] = 1.0;
        forward_substitute(&self.triangle, &unit)
    }

    /// The classical standard error: residual sd times the square root of the diagonal of (X'X)^-1.
    pub fn classical(&self, at: usize) -> Estimate {
        let direction = self.direction(at);
        let error = self.residual_sd() * dot(&direction, &direction).sqrt();
        Estimate::new(self.coefficients[at], error, self.residual_df() as f64)
    }

    /// The diagonal of the hat matrix.
    pub fn leverages(&self) -> Vec<f64> {
        (0..self.residuals.len())
            .map(|row| self.basis.iter().map(|unit| unit[row] * unit[row]).sum())
            .collect()
    }

    /// The standard error that holds when the spread differs from row to row: each squared residual is divided by
    /// (1 - leverage)^2 (HC3; MacKinnon & White 1985, J. Econometrics 29, 305-325).
    pub fn hc3(&self, at: usize) -> Estimate {
        let direction = self.direction(at);
        let leverages = self.leverages();
        let variance = sum((0..self.residuals.len()).map(|row| {
            let weight: f64 =
                self.basis.iter().zip(&direction).map(|(unit, d)| unit[row] * d).sum();
            (weight * self.residuals[row] / (1.0 - leverages[row])).powi(2)
        }));
        Estimate::new(self.coefficients[at], variance.sqrt(), self.residual_df() as f64)
    }
}

/// The coefficients by linfa-linear's ordinary least squares, without an intercept of its own: the design has its
/// own columns. Checked first, because that fit takes collinear columns, fewer rows than columns and NaN in silence.
///
/// # Errors
/// As [`least_squares`].
pub fn linfa_coefficients(design: &Design, y: &[f64]) -> Result<Vec<f64>, StatsError> {
    check(design, y)?;
    let (_, aliased) = design.independent();
    if !aliased.is_empty() {
        return Err(StatsError::Aliased(aliased));
    }
    let dataset = Dataset::new(design.matrix(), Array1::from(y.to_vec()));
    LinearRegression::new()
        .with_intercept(false)
        .fit(&dataset)
        .map(|fit| fit.params().to_vec())
        .map_err(|error| StatsError::NotConverged(error.to_string()))
}
