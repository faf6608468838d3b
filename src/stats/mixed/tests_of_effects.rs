//! Fixed effects with errors and degrees of freedom.

use super::kenward_roger::{Ingredients, KenwardRoger};
use super::wald::fai_cornelius;
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
        let groups = self.solution.weights.iter().zip(self.working.means.column_iter());
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
        let groups =
            solution.weights.iter().zip(&solution.gaps).zip(self.working.means.column_iter());
        for ((k, gap), mean) in groups {
            determinant -= k * k;
            fall -= (k * gap).powi(2);
            bend += 2.0 * k.powi(3) * gap * gap;
            first.ger(-k * k, &mean, &mean, 1.0);
            second.ger(2.0 * k.powi(3), &mean, &mean, 1.0);
            pull.axpy(k * k * gap, &mean, 1.0);
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
        let mut working = DMatrix::zeros(self.names.len(), count);
        let mut values = DVector::zeros(count);
        for (place, row) in contrasts.rows().into_iter().enumerate() {
            let row = row.to_vec();
            working.set_column(place, &self.working_contrast(&row)?);
            values[place] = row.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum();
        }
        let solved = self.solution.factor.solve(&working) * self.working_variance();
        let covariance = working.tr_mul(&solved);
        fai_cornelius(&values, covariance, |along| self.satterthwaite(&(&working * along)))
    }

    /// Fixed effects with the corrected covariance and degrees of freedom of Kenward & Roger (1997), from the groups' products alone, so for any number of
    /// rows. A group variance of zero is left out of the model, as in [`MixedFit::contrast`].
    ///
    /// # Errors
    /// `NeedsRestricted` for a fit by maximum likelihood; `NoDegreesOfFreedom` where the variances carry no information.
    pub fn kenward_roger(&self) -> Result<KenwardRoger, StatsError> {
        if self.criterion != Criterion::Reml {
            return Err(StatsError::NeedsRestricted {
                what: "the correction of Kenward & Roger".into(),
            });
        }
        let size = self.names.len();
        let mut given = Ingredients {
            rows: self.rows,
            covariance: self.solution.factor.inverse(),
            once: Vec::new(),
            twice: Vec::new(),
            trace: Vec::new(),
            traces: DMatrix::zeros(0, 0),
        };
        if !self.at_boundary {
            let (mut once, mut twice) = (DMatrix::zeros(size, size), DMatrix::zeros(size, size));
            for (weight, mean) in self.solution.weights.iter().zip(self.working.means.column_iter())
            {
                once.ger(weight * weight, &mean, &mean, 1.0);
                twice.ger(weight.powi(3), &mean, &mean, 1.0);
            }
            given.once.push(once);
            given.twice.push(vec![twice]);
            given.trace.push(self.solution.weights.iter().sum());
            let squares: f64 = self.solution.weights.iter().map(|k| k * k).sum();
            given.traces = DMatrix::from_element(1, 1, squares);
        }
        let mut basis = DMatrix::zeros(size, size);
        for place in 0..size {
            let mut unit = vec![0.0; size];
            unit[place] = 1.0;
            basis.set_column(place, &self.working_contrast(&unit)?);
        }
        KenwardRoger::new(given, self.coefficients.clone(), basis, self.working_variance())
    }
}
