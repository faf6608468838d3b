//! Fixed effects with the small-sample corrections of Kenward & Roger (1997, Biometrics 53, 983-997).
//!
//! The covariance of the rows is linear in the variances, `V = sum_i g_i V_i`, so that second derivatives vanish. One of the `V_i` may be replaced by `V`
//! itself without changing anything: then no power of `V^{-1}` beyond the first is needed, and everything follows from `Z'V^{-1}Z` and `Z'V^{-1}X`.

use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// A divisor this near zero is zero.
const NO_DIVISOR: f64 = 1e-10;

/// What the corrections are computed from, with `V` in units of the residual variance and the fixed columns in any basis.
pub(super) struct Ingredients {
    pub(super) rows: usize,
    /// `(X'V^{-1}X)^{-1}`.
    pub(super) covariance: DMatrix<f64>,
    /// `X'V^{-1}V_iV^{-1}X` of every random direction.
    pub(super) once: Vec<DMatrix<f64>>,
    /// `X'V^{-1}V_iV^{-1}V_jV^{-1}X`, row `i` holding `j <= i`.
    pub(super) twice: Vec<Vec<DMatrix<f64>>>,
    /// `tr(V^{-1}V_i)`.
    pub(super) trace: Vec<f64>,
    /// `tr(V^{-1}V_iV^{-1}V_j)`.
    pub(super) traces: DMatrix<f64>,
}

/// The corrected covariance of the fixed effects, and what their degrees of freedom are computed from.
#[derive(Debug, Clone)]
pub struct KenwardRoger {
    coefficients: Vec<f64>,
    /// Contrasts of the coefficients, seen from the basis: one column a coefficient.
    basis: DMatrix<f64>,
    /// `(X'V^{-1}X)^{-1}` and the corrected covariance, in the basis, in the units of the data.
    plain: DMatrix<f64>,
    corrected: DMatrix<f64>,
    /// Covariance of the variances, `V` first.
    weights: DMatrix<f64>,
    /// `F P_i F` with `F` the plain covariance and `P_i` its inverse's derivative, `V` first; in units of the residual variance.
    turned: Vec<DMatrix<f64>>,
    residual_variance: f64,
}

impl KenwardRoger {
    pub(super) fn new(
        given: Ingredients,
        coefficients: Vec<f64>,
        basis: DMatrix<f64>,
        residual_variance: f64,
    ) -> Result<Self, StatsError> {
        let f = &given.covariance;
        let mut turned = vec![-f.clone()];
        turned.extend(given.once.iter().map(|once| -(f * once * f)));
        let weights = expected_covariance(&given)?;
        let mut correction = DMatrix::zeros(f.nrows(), f.ncols());
        for (i, row) in given.twice.iter().enumerate() {
            for (j, twice) in row.iter().enumerate() {
                let spread = twice - &given.once[i] * f * &given.once[j];
                let weight = weights[(i + 1, j + 1)];
                correction += &spread * weight;
                if i != j {
                    correction += spread.transpose() * weight;
                }
            }
        }
        let corrected = f + (f * correction * f) * 2.0;
        Ok(Self {
            coefficients,
            basis,
            plain: f * residual_variance,
            corrected: corrected * residual_variance,
            weights,
            turned,
            residual_variance,
        })
    }

    /// The corrected covariance of the fixed effects (`p x p`), in units of the outcome squared per units of the two columns.
    pub fn covariance(&self) -> DMatrix<f64> {
        self.basis.tr_mul(&(&self.corrected * &self.basis))
    }

    /// `c'b` with the corrected error and degrees of freedom, `2 / A` with `A = sum_ij w_ij (c'F P_i F c)(c'F P_j F c) / (c'F c)^2`.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast; `NoDegreesOfFreedom` where it carries no error.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let working = self.turn(&[contrast.to_vec()])?;
        let degrees = self.shares(&working)?;
        let variance = working.column(0).dot(&(&self.corrected * working.column(0)));
        Ok(Estimate {
            value: contrast.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum(),
            standard_error: variance.sqrt(),
            degrees_of_freedom: finite(2.0 / degrees.1)?,
        })
    }

    /// Test that several contrasts (`q x p`) are zero together: the scaled Wald statistic and its denominator degrees (section 3 of the article).
    ///
    /// # Errors
    /// As [`KenwardRoger::contrast`]; `RankDeficient` for contrasts that repeat each other; `NoDegreesOfFreedom` where the denominator does not exist.
    pub fn joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let rows: Vec<Vec<f64>> = contrasts.rows().into_iter().map(|row| row.to_vec()).collect();
        let working = self.turn(&rows)?;
        require_independent(&working)?;
        let values: Vec<f64> = rows
            .iter()
            .map(|row| row.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum())
            .collect();
        let values = DVector::from_vec(values);
        let Some(factor) = working.tr_mul(&(&self.corrected * &working)).cholesky() else {
            return Err(repeated());
        };
        let size = rows.len() as f64;
        let statistic = values.dot(&factor.solve(&values)) / size;
        let (first, second) = self.shares(&working)?;
        let (scale, denominator) = scaled_f(size, first, second);
        if !(finite(scale)? > 0.0 && finite(denominator)? > 0.0) {
            return Err(no_degrees());
        }
        Ok(JointTest { statistic: scale * statistic, numerator: size, denominator })
    }

    /// The contrasts as columns in the basis.
    fn turn(&self, rows: &[Vec<f64>]) -> Result<DMatrix<f64>, StatsError> {
        let mut turned = DMatrix::zeros(self.basis.nrows(), rows.len());
        for (place, row) in rows.iter().enumerate() {
            require_length("the contrast", self.coefficients.len(), row.len())?;
            require_finite("the contrast", row)?;
            turned.set_column(place, &(&self.basis * DVector::from_column_slice(row)));
        }
        Ok(turned)
    }

    /// The article's `A_1` and `A_2`.
    fn shares(&self, working: &DMatrix<f64>) -> Result<(f64, f64), StatsError> {
        let Some(factor) = working.tr_mul(&(&self.plain * working)).cholesky() else {
            return Err(repeated());
        };
        // tr(T F P_i F) with T = L (L'FL)^{-1} L'
        let along: Vec<DMatrix<f64>> = self
            .turned
            .iter()
            .map(|turned| {
                factor.solve(&(working.tr_mul(&(turned * working)) * self.residual_variance))
            })
            .collect();
        let (mut first, mut second) = (0.0, 0.0);
        for (i, one) in along.iter().enumerate() {
            for (j, other) in along.iter().enumerate() {
                first += self.weights[(i, j)] * one.trace() * other.trace();
                second += self.weights[(i, j)] * (one * other).trace();
            }
        }
        Ok((first, second))
    }
}

/// Inverse of the expected information of the variances, `V` first: `1/2 [tr(V^{-1}V_iV^{-1}V_j) - 2 tr(F Q_ij) + tr(F P_i F P_j)]`.
fn expected_covariance(given: &Ingredients) -> Result<DMatrix<f64>, StatsError> {
    let count = given.once.len() + 1;
    let f = &given.covariance;
    let fixed = f.nrows() as f64;
    let alone: Vec<DMatrix<f64>> = given.once.iter().map(|once| f * once).collect();
    let information = DMatrix::from_fn(count, count, |i, j| {
        let (i, j) = (i.max(j), i.min(j));
        let twice = match (i, j) {
            (0, _) => given.rows as f64 - fixed,
            (_, 0) => given.trace[i - 1] - alone[i - 1].trace(),
            _ => {
                given.traces[(i - 1, j - 1)] - 2.0 * (f * &given.twice[i - 1][j - 1]).trace()
                    + (&alone[i - 1] * &alone[j - 1]).trace()
            }
        };
        0.5 * twice
    });
    information.cholesky().map(|factor| factor.inverse()).ok_or_else(no_degrees)
}

/// The scale and the denominator degrees of the statistic that match the first two moments of an F variable.
fn scaled_f(size: f64, first: f64, second: f64) -> (f64, f64) {
    if size == 1.0 {
        return (1.0, 2.0 / second);
    }
    let b = (first + 6.0 * second) / (2.0 * size);
    let g = ((size + 1.0) * first - (size + 4.0) * second) / ((size + 2.0) * second);
    let below = 3.0 * size + 2.0 * (1.0 - g);
    let (c1, c2, c3) = (g / below, (size - g) / below, (size + 2.0 - g) / below);
    let (over, under) = (1.0 - second / size, 1.0 - c2 * b);
    // both vanish together where the mean does not exist; their ratio then is one
    let ratio = if over.abs().max(under.abs()) < NO_DIVISOR { 1.0 } else { over / under };
    let spread = ratio * ratio * (1.0 + c1 * b) / (1.0 - c3 * b) / size;
    let degrees = 4.0 + (size + 2.0) / (size * spread - 1.0);
    // lambda = m / (E (m - 2)) with E = 1 / (1 - A_2 / q)
    (degrees * over / (degrees - 2.0), degrees)
}

fn finite(value: f64) -> Result<f64, StatsError> {
    if value.is_finite() { Ok(value) } else { Err(no_degrees()) }
}

fn no_degrees() -> StatsError {
    StatsError::NoDegreesOfFreedom { what: "these contrasts of the fixed effects".into() }
}

/// Refuses contrasts of which one says what the others say: rounding may leave their covariance a factor.
fn require_independent(contrasts: &DMatrix<f64>) -> Result<(), StatsError> {
    let columns = Array2::from_shape_fn(contrasts.shape(), |place| contrasts[place]);
    let qr = PivotedQr::new(columns.view(), RANK_TOLERANCE);
    if qr.set_aside().is_empty() { Ok(()) } else { Err(repeated()) }
}

fn repeated() -> StatsError {
    StatsError::RankDeficient { columns: vec!["the contrasts repeat each other".into()] }
}
