//! Errors for rows of unequal spread.

use super::LinearFit;
use super::coordinates::Coordinates;
use crate::stats::error::StatsError;
use crate::stats::estimate::{Estimate, JointTest};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// A row whose leverage is this near to 1 is fitted whatever its outcome.
const FULL: f64 = 1e-10;

/// What a squared residual is multiplied by before it stands for the variance of its row, which least squares has pulled towards zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowCorrection {
    /// 1 (White 1980, Econometrica 48, 817-838): too small in small samples.
    Hc0,
    /// `n / (n - p)` (Hinkley 1977).
    Hc1,
    /// `1 / (1 - h_i)` (Horn, Horn & Duncan 1975): unbiased where the spread is equal after all.
    Hc2,
    /// `1 / (1 - h_i)^2` (MacKinnon & White 1985, Journal of Econometrics 29, 305-325): the usual choice in small samples.
    Hc3,
    /// `1 / (1 - h_i)^min(4, n h_i / p)` (Cribari-Neto 2004, Computational Statistics & Data Analysis 45, 215-233): for rows of very high leverage.
    Hc4,
}

impl RowCorrection {
    /// The factor of a row with leverage `leverage`; `None` where the row hides its error and the factor would have no bound.
    fn factor(self, leverage: f64, rows: f64, columns: f64) -> Option<f64> {
        let left = 1.0 - leverage;
        let power = match self {
            Self::Hc0 => return Some(1.0),
            Self::Hc1 => return Some(rows / (rows - columns)),
            Self::Hc2 => 1.0,
            Self::Hc3 => 2.0,
            Self::Hc4 => (rows * leverage / columns).min(4.0),
        };
        (left >= FULL).then(|| left.powf(-power))
    }
}

/// Errors that allow every row a spread of its own: `c'b` has the variance `d'M d`, `M = sum_i w_i e_i^2 q_i q_i'`, `d = R^-T c`, with `n - p` degrees of
/// freedom.
#[derive(Debug, Clone)]
pub struct Heteroskedastic<'fit> {
    fit: &'fit LinearFit,
    meat: DMatrix<f64>,
}

impl LinearFit {
    /// Errors for independent rows of unequal spread.
    ///
    /// # Errors
    /// `FullLeverage` for a row fitted exactly by construction, but with [`RowCorrection::Hc0`] and [`RowCorrection::Hc1`], which do not see it.
    pub fn heteroskedastic(
        &self,
        correction: RowCorrection,
    ) -> Result<Heteroskedastic<'_>, StatsError> {
        let (rows, columns) = self.q.shape();
        let mut weights = Vec::with_capacity(rows);
        for (row, (leverage, residual)) in
            self.leverages().into_iter().zip(&self.residuals).enumerate()
        {
            let factor = correction.factor(leverage, rows as f64, columns as f64);
            let factor = factor.ok_or(StatsError::FullLeverage { row })?;
            weights.push(factor.sqrt() * residual);
        }
        let mut scores = self.q.clone();
        for mut column in scores.column_iter_mut() {
            column.iter_mut().zip(&weights).for_each(|(value, weight)| *value *= weight);
        }
        Ok(Heteroskedastic { fit: self, meat: scores.tr_mul(&scores) })
    }

    /// `c'b` with the HC3 error; see [`RowCorrection::Hc3`].
    ///
    /// # Errors
    /// As [`LinearFit::heteroskedastic`] and [`Heteroskedastic::contrast`].
    pub fn hc3(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        self.heteroskedastic(RowCorrection::Hc3)?.contrast(contrast)
    }
}

impl Heteroskedastic<'_> {
    /// `c'b` with its robust error.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let direction = DVector::from_vec(self.fit.direction(contrast)?);
        Ok(Estimate {
            value: self.fit.combine(contrast),
            standard_error: direction.dot(&(&self.meat * &direction)).max(0.0).sqrt(),
            degrees_of_freedom: self.fit.residual_degrees_of_freedom as f64,
        })
    }

    /// Wald test that several contrasts (`q x p`) are zero together: `(Cb)'(C V C')^-1 (Cb) / q` against F on `q` and `n - p` degrees of freedom.
    ///
    /// # Errors
    /// As [`Heteroskedastic::contrast`]; `RankDeficient` for contrasts that repeat each other; `NoDegreesOfFreedom` where the residuals show no error of some
    /// contrast.
    pub fn joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let (directions, values) = self.fit.whitened(contrasts)?;
        let covariance = directions.tr_mul(&(&self.meat * &directions));
        let numerator = values.len() as f64;
        match super::cluster_robust::quadratic_form(covariance, &DVector::from_vec(values)) {
            Some(wald) => Ok(JointTest {
                statistic: wald / numerator,
                numerator,
                denominator: self.fit.residual_degrees_of_freedom as f64,
            }),
            None => {
                let what = "these contrasts of the rows together".into();
                Err(StatsError::NoDegreesOfFreedom { what })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::least_squares;
    use super::*;
    use crate::stats::design::Design;

    fn line(x: &[f64]) -> Design {
        Design::builder(x.len()).intercept().number("x", x).build().unwrap()
    }

    #[test]
    fn a_row_that_decides_alone_has_no_hc3_error() {
        let fit = least_squares(&line(&[0.0, 0.0, 0.0, 1.0]), &[1.0, 2.0, 0.5, 9.0]).unwrap();
        for kind in [RowCorrection::Hc2, RowCorrection::Hc3, RowCorrection::Hc4] {
            let fault = fit.heteroskedastic(kind).map(|_| ());
            assert_eq!(fault, Err(StatsError::FullLeverage { row: 3 }));
        }
        assert!(fit.heteroskedastic(RowCorrection::Hc1).is_ok());
    }

    #[test]
    fn the_robust_error_of_a_mean_is_the_root_of_the_summed_squares() {
        // mean of 1, 2, 6: residuals -2, -1, 3; HC0 variance (4 + 1 + 9) / 9, HC3 that times (3 / 2)^2
        let design = Design::builder(3).intercept().build().unwrap();
        let fit = least_squares(&design, &[1.0, 2.0, 6.0]).unwrap();
        let error =
            |kind| fit.heteroskedastic(kind).unwrap().contrast(&[1.0]).unwrap().standard_error;
        assert!((error(RowCorrection::Hc0).powi(2) - 14.0 / 9.0).abs() < 1e-14);
        assert!((error(RowCorrection::Hc3).powi(2) - 14.0 / 4.0).abs() < 1e-14);
        // equal leverages of p / n make HC4 the HC2 error, and both the HC1 error
        assert!((error(RowCorrection::Hc4) - error(RowCorrection::Hc2)).abs() < 1e-14);
        assert!((error(RowCorrection::Hc1) - error(RowCorrection::Hc2)).abs() < 1e-14);
    }

    #[test]
    fn the_joint_test_of_one_contrast_is_t_squared() {
        let fit =
            least_squares(&line(&[1.0, 2.0, 3.0, 4.0, 7.0]), &[2.0, 4.0, 5.0, 9.0, 3.0]).unwrap();
        let robust = fit.heteroskedastic(RowCorrection::Hc3).unwrap();
        let single = robust.contrast(&[0.0, 1.0]).unwrap();
        let joint = robust.joint(&ndarray::array![[0.0, 1.0]]).unwrap();
        assert!((joint.statistic - single.t_statistic().powi(2)).abs() < 1e-10);
    }

    #[test]
    fn residuals_of_zero_show_no_error() {
        let fit = least_squares(&line(&[1.0, 2.0, 4.0, 5.0]), &[0.0; 4]).unwrap();
        let robust = fit.heteroskedastic(RowCorrection::Hc3).unwrap();
        assert_eq!(robust.contrast(&[0.0, 1.0]).unwrap().standard_error, 0.0);
        let fault = robust.joint(&ndarray::array![[0.0, 1.0]]);
        assert!(matches!(fault, Err(StatsError::NoDegreesOfFreedom { .. })));
    }
}
