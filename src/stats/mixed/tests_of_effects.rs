//! Fixed effects with errors and degrees of freedom.

use super::{Criterion, MixedFit};
use crate::stats::error::StatsError;
use crate::stats::estimate::{Estimate, JointTest};
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};
use ndarray::Array2;

impl MixedFit {
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

    /// `c'b` with its standard error `s sqrt(c'(X'V^{-1}X)^{-1}c)` and Satterthwaite degrees of freedom `2 f^2 / (g'C g)` (Giesbrecht & Burns 1985,
    /// Biometrics 41, 477-486): `f` the variance, `g` its gradient in the two variance parameters, `C` twice the inverse Hessian of the deviance, all
    /// analytic. With a group variance of zero the model is the plain linear one and has its `n - p` degrees.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast; `NoDegreesOfFreedom` where the Hessian is not positive.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let working = self.working_contrast(contrast)?;
        let pairs = contrast.iter().zip(&self.coefficients);
        let scaled = self.solution.factor.solve(&working);
        let variance = self.working_variance() * working.dot(&scaled);
        Ok(Estimate {
            value: pairs.map(|(c, b)| c * b).sum(),
            standard_error: variance.sqrt(),
            degrees_of_freedom: self.satterthwaite(&working)?,
        })
    }

    fn satterthwaite(&self, contrast: &DVector<f64>) -> Result<f64, StatsError> {
        if self.at_boundary {
            return Ok((self.rows - self.names.len()) as f64);
        }
        let scaled = self.solution.factor.solve(contrast);
        let variance = self.working_variance();
        let value = variance * contrast.dot(&scaled);
        let groups = self.solution.weights.iter().zip(&self.working.means);
        let along: f64 = groups.map(|(k, mean)| (k * mean.dot(&scaled)).powi(2)).sum();
        let gradient = Vector2::new(variance * along, contrast.dot(&scaled));
        let spread = self
            .deviance_hessian()
            .cholesky()
            .map(|factor| 2.0 * gradient.dot(&factor.solve(&gradient)));
        match spread.map(|spread| 2.0 * value * value / spread) {
            Some(degrees) if degrees.is_finite() => Ok(degrees),
            _ => Err(StatsError::NoDegreesOfFreedom {
                what: "this contrast of the fixed effects".into(),
            }),
        }
    }

    /// Second derivatives of the (restricted) deviance in the ratio and the residual variance at the fit, in working units.
    fn deviance_hessian(&self) -> Matrix2<f64> {
        let solution = &self.solution;
        let size = self.names.len();
        let variance = self.working_variance();
        let mut first = DMatrix::zeros(size, size);
        let mut second = DMatrix::zeros(size, size);
        let mut pull = DVector::zeros(size);
        let (mut determinant, mut fall, mut bend) = (0.0, 0.0, 0.0);
        let groups = solution.weights.iter().zip(&solution.gaps).zip(&self.working.means);
        for ((k, gap), mean) in groups {
            determinant -= k * k;
            fall -= (k * gap).powi(2);
            bend += 2.0 * k.powi(3) * gap * gap;
            first.ger(-k * k, mean, mean, 1.0);
            second.ger(2.0 * k.powi(3), mean, mean, 1.0);
            pull.axpy(k * k * gap, mean, 1.0);
        }
        bend -= 2.0 * pull.dot(&solution.factor.solve(&pull));
        if self.criterion == Criterion::Reml {
            let once = solution.factor.solve(&first);
            determinant += solution.factor.solve(&second).trace() - (&once * &once).trace();
        }
        let ratio_ratio = determinant + bend / variance;
        let ratio_variance = -fall / (variance * variance);
        let variance_variance = self.working.degrees() / (variance * variance);
        Matrix2::new(ratio_ratio, ratio_variance, ratio_variance, variance_variance)
    }

    /// Test that several contrasts (`q x p`) are zero together: Wald F with the denominator of Fai & Cornelius (1996, Journal of Statistical Computation and
    /// Simulation 54, 363-378), `2 E / (E - q)` with `E = sum v_i / (v_i - 2)` over the Satterthwaite degrees `v_i > 2` of the contrasts' principal
    /// directions.
    ///
    /// # Errors
    /// As [`MixedFit::contrast`]; `RankDeficient` for contrasts that repeat each other; `NoDegreesOfFreedom` where `E <= q`.
    pub fn joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let count = contrasts.nrows();
        let rows: Vec<Vec<f64>> = contrasts.rows().into_iter().map(|row| row.to_vec()).collect();
        let mut working = Vec::new();
        let mut values = Vec::new();
        for row in &rows {
            working.push(self.working_contrast(row)?);
            values.push(row.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum());
        }
        let values = DVector::from_vec(values);
        let variance = self.working_variance();
        let covariance = DMatrix::from_fn(count, count, |i, j| {
            variance * working[i].dot(&self.solution.factor.solve(&working[j]))
        });
        let (mut wald, mut expectation) = (0.0, 0.0);
        let eigen = covariance.symmetric_eigen();
        let largest = eigen.eigenvalues.iter().fold(0.0_f64, |a, &b| a.max(b));
        for (value, direction) in eigen.eigenvalues.iter().zip(eigen.eigenvectors.column_iter()) {
            if *value <= 1e-12 * largest {
                let columns = vec!["the contrasts repeat each other".into()];
                return Err(StatsError::RankDeficient { columns });
            }
            wald += direction.dot(&values).powi(2) / value;
            let zero = DVector::zeros(self.names.len());
            let turned = direction.iter().zip(&working);
            let turned = turned.fold(zero, |sum, (weight, row)| sum + row * *weight);
            let degrees = self.satterthwaite(&turned)?;
            expectation += if degrees > 2.0 { degrees / (degrees - 2.0) } else { 0.0 };
        }
        let size = count as f64;
        let denominator = if count == 1 {
            self.satterthwaite(&working[0])?
        } else {
            2.0 * expectation / (expectation - size)
        };
        if count == 0 || !denominator.is_finite() || denominator <= 0.0 {
            let what = "these contrasts of the fixed effects together".into();
            return Err(StatsError::NoDegreesOfFreedom { what });
        }
        Ok(JointTest { statistic: wald / size, numerator: size, denominator })
    }
}
