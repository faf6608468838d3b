//! Fixed effects with errors and degrees of freedom.

use super::TermsFit;
use super::model::fixed_covariance;
use super::parameters;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::mixed::wald::fai_cornelius;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use ndarray::Array2;

/// Share of a parameter by which it is moved to see derivatives.
const STEP: f64 = 4e-3;

/// How the deviance and the fixed effects' covariance bend about the fit, in the free parameters and, last, the logarithm of the residual variance.
#[derive(Debug, Clone)]
pub(super) struct Curvature {
    hessian: Cholesky<f64, Dyn>,
    /// Derivatives of the covariance in the orthonormal basis, over the residual variance.
    covariance: Vec<DMatrix<f64>>,
}

impl TermsFit {
    /// The contrast that picks one coefficient.
    ///
    /// # Errors
    /// `UnknownColumn`.
    pub fn pick(&self, name: &str) -> Result<Vec<f64>, StatsError> {
        let place = self.names.iter().position(|other| other == name);
        let place = place.ok_or_else(|| StatsError::UnknownColumn { name: name.into() })?;
        let mut contrast = vec![0.0; self.names.len()];
        contrast[place] = 1.0;
        Ok(contrast)
    }

    /// `c'b` with its standard error `s sqrt(c'(X'V^{-1}X)^{-1}c)` and Satterthwaite degrees of freedom `2 f^2 / (g'C g)` (Giesbrecht & Burns 1985, Biometrics
    /// 41, 477-486): `f` the variance, `g` its gradient in the parameters of the covariance, `C` twice the inverse Hessian of the deviance. A spread of zero is
    /// no parameter: the model is that without it, and with no other spread it has the `n - p` degrees of the plain one.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast; `NoDegreesOfFreedom` where the Hessian is not positive.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let working = self.turned(contrast)?;
        let spread = working.dot(&(self.basis_covariance() * &working));
        Ok(Estimate {
            value: self.combine(contrast),
            standard_error: self.sd_residual * spread.sqrt(),
            degrees_of_freedom: self.satterthwaite(&working)?,
        })
    }

    /// Test that several contrasts (`q x p`) are zero together: Wald F with the denominator of Fai & Cornelius (1996), as in
    /// [`MixedFit::joint`](crate::stats::mixed::MixedFit::joint).
    ///
    /// # Errors
    /// As [`TermsFit::contrast`]; `RankDeficient` for contrasts that repeat each other; `NoDegreesOfFreedom` where the denominator does not exist.
    pub fn joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let count = contrasts.nrows();
        let mut working = DMatrix::zeros(self.names.len(), count);
        let mut values = DVector::zeros(count);
        for (place, row) in contrasts.rows().into_iter().enumerate() {
            let row = row.to_vec();
            working.set_column(place, &self.turned(&row)?);
            values[place] = self.combine(&row);
        }
        let solved = self.basis_covariance() * &working * self.sd_residual.powi(2);
        let covariance = working.tr_mul(&solved);
        fai_cornelius(&values, covariance, |along| self.satterthwaite(&(&working * along)))
    }

    /// Covariance of the fixed effects (`p x p`), `s^2 (X'V^{-1}X)^{-1}`, in units of the outcome squared per units of the two columns.
    pub fn covariance(&self) -> DMatrix<f64> {
        let turned = self.turned_units();
        turned.tr_mul(&(self.basis_covariance() * &turned)) * self.sd_residual.powi(2)
    }

    pub(super) fn basis_covariance(&self) -> DMatrix<f64> {
        fixed_covariance(self.factor.fixed_block(&self.model.structure))
    }

    /// Every coefficient's contrast in the orthonormal basis, one a column.
    pub(super) fn turned_units(&self) -> DMatrix<f64> {
        let size = self.names.len();
        let mut turned = DMatrix::zeros(size, size);
        for place in 0..size {
            let mut unit = vec![0.0; size];
            unit[place] = 1.0;
            turned.set_column(place, &self.model.fixed.turned(&unit));
        }
        turned
    }

    pub(super) fn turned(&self, contrast: &[f64]) -> Result<DVector<f64>, StatsError> {
        require_length("the contrast", self.names.len(), contrast.len())?;
        require_finite("the contrast", contrast)?;
        Ok(self.model.fixed.turned(contrast))
    }

    pub(super) fn combine(&self, contrast: &[f64]) -> f64 {
        contrast.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum()
    }

    fn satterthwaite(&self, working: &DVector<f64>) -> Result<f64, StatsError> {
        let fault =
            || StatsError::NoDegreesOfFreedom { what: "this contrast of the fixed effects".into() };
        let free = parameters::free(&self.model.sizes(), &self.parameters);
        if free.is_empty() {
            return Ok((self.rows - self.names.len()) as f64);
        }
        let curvature = self.curvature.get_or_init(|| self.bend(&free)).as_ref();
        let curvature = curvature.ok_or_else(fault)?;
        let value = working.dot(&(self.basis_covariance() * working));
        let mut gradient: Vec<f64> =
            curvature.covariance.iter().map(|slope| working.dot(&(slope * working))).collect();
        gradient.push(value);
        let gradient = DVector::from_vec(gradient);
        let degrees = value * value / gradient.dot(&curvature.hessian.solve(&gradient));
        if degrees.is_finite() && degrees > 0.0 { Ok(degrees) } else { Err(fault()) }
    }

    /// Derivatives of the analytic gradient by central differences, twice, with the larger step's error taken out (Richardson 1911).
    fn bend(&self, free: &[usize]) -> Option<Curvature> {
        let size = free.len();
        let degrees = self.model.degrees(self.criterion);
        let variance = self.factor.residual_square / degrees;
        let mut hessian = DMatrix::zeros(size + 1, size + 1);
        let mut covariance = Vec::with_capacity(size);
        let (_, squares, _) = self.gradients(&self.parameters, free, variance)?;
        for (column, &place) in free.iter().enumerate() {
            let (near, near_slope) = self.difference(free, place, 0.5 * STEP, variance)?;
            let (far, far_slope) = self.difference(free, place, STEP, variance)?;
            let extrapolated = (near * 4.0 - far) / 3.0;
            hessian.view_mut((0, column), (size, 1)).copy_from(&extrapolated);
            covariance.push((near_slope * 4.0 - far_slope) / 3.0);
            hessian[(size, column)] = -squares[column] / variance;
            hessian[(column, size)] = hessian[(size, column)];
        }
        hessian[(size, size)] = degrees;
        let symmetric = (&hessian + hessian.transpose()) * 0.5;
        Some(Curvature { hessian: symmetric.cholesky()?, covariance })
    }

    /// Central difference of the gradient at the fitted residual variance and of the fixed effects' covariance in one parameter.
    fn difference(
        &self,
        free: &[usize],
        place: usize,
        share: f64,
        variance: f64,
    ) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let step = share * self.parameters[place].abs().max(1e-3);
        let moved = |by: f64| {
            let mut moved = self.parameters.clone();
            moved[place] += by;
            self.gradients(&moved, free, variance)
        };
        let ((up, _, wide), (down, _, narrow)) = (moved(step)?, moved(-step)?);
        Some(((up - down) / (2.0 * step), (wide - narrow) / (2.0 * step)))
    }

    /// Gradient of the deviance at a held residual variance, the part of it that is the residual square's, and the fixed effects' covariance.
    fn gradients(
        &self,
        parameters: &[f64],
        free: &[usize],
        variance: f64,
    ) -> Option<(DVector<f64>, Vec<f64>, DMatrix<f64>)> {
        let factors = parameters::factors(&self.model.sizes(), parameters);
        let (block, _, slopes) = self.model.slopes(&factors, self.criterion)?;
        let determinant = parameters::packed(&slopes.log_determinant);
        let square = parameters::packed(&slopes.residual_square);
        let squares: Vec<f64> = free.iter().map(|&place| square[place]).collect();
        let pairs = free.iter().map(|&place| determinant[place] + square[place] / variance);
        let gradient = DVector::from_vec(pairs.collect());
        Some((gradient, squares, fixed_covariance(block)))
    }
}
