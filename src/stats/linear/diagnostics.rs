//! What is said about a fit as a whole, and about single rows.

use super::LinearFit;
use crate::stats::error::StatsError;
use crate::stats::numeric::sum_of_squares;
use std::f64::consts::TAU;

impl LinearFit {
    /// `1 - (1 - R^2) df_total / df_residual` (Ezekiel 1930): the share explained, less what columns of noise would explain. NaN for an outcome that does not
    /// vary.
    pub fn adjusted_r_squared(&self) -> f64 {
        let left = self.residual_degrees_of_freedom as f64;
        let total = left + self.regression_degrees_of_freedom as f64;
        1.0 - self.residual_sum_of_squares / self.total_sum_of_squares * total / left
    }

    /// Log-likelihood of normal errors at the estimates, `-n/2 (log(2 pi RSS / n) + 1)`; the variance estimate is that of maximum likelihood, with divisor `n`.
    ///
    /// # Errors
    /// `NoVariation` for an exact fit, whose likelihood has no bound.
    pub fn log_likelihood(&self) -> Result<f64, StatsError> {
        self.require_residuals()?;
        let rows = self.residuals.len() as f64;
        Ok(-0.5 * rows * ((TAU * self.residual_sum_of_squares / rows).ln() + 1.0))
    }

    /// Akaike's criterion `-2 log L + 2 k` (Akaike 1974), `k` the columns and the variance; smaller is better.
    ///
    /// # Errors
    /// As [`LinearFit::log_likelihood`].
    pub fn akaike(&self) -> Result<f64, StatsError> {
        Ok(-2.0 * self.log_likelihood()? + 2.0 * self.parameters())
    }

    /// Bayesian criterion `-2 log L + k log n` (Schwarz 1978), `k` the columns and the variance; smaller is better.
    ///
    /// # Errors
    /// As [`LinearFit::log_likelihood`].
    pub fn bayesian(&self) -> Result<f64, StatsError> {
        Ok(-2.0 * self.log_likelihood()? + self.parameters() * (self.residuals.len() as f64).ln())
    }

    /// Columns and the variance.
    fn parameters(&self) -> f64 {
        self.names.len() as f64 + 1.0
    }

    fn require_residuals(&self) -> Result<(), StatsError> {
        if self.residual_sum_of_squares > 0.0 {
            return Ok(());
        }
        Err(StatsError::NoVariation { what: "what the fit leaves".into() })
    }

    /// Cook's distance of every row (Cook 1977, Technometrics 19, 15-18), `e_i^2 h_i / (p s^2 (1 - h_i)^2)`: how far all coefficients move without the row, in
    /// units of their joint confidence region; over 1 the row decides too much.
    ///
    /// # Errors
    /// `FullLeverage` for a row fitted exactly by construction; `NoVariation` for an exact fit.
    pub fn cooks_distances(&self) -> Result<Vec<f64>, StatsError> {
        self.require_residuals()?;
        let scale = self.names.len() as f64 * self.residual_standard_deviation().powi(2);
        let leverages = self.leverages();
        if let Some(row) = leverages.iter().position(|leverage| 1.0 - leverage < 1e-10) {
            return Err(StatsError::FullLeverage { row });
        }
        let rows = self.residuals.iter().zip(&leverages);
        Ok(rows.map(|(e, h)| (e / (1.0 - h)).powi(2) * h / scale).collect())
    }

    /// `sum (e_i - e_{i-1})^2 / sum e_i^2` over the rows as they stand (Durbin & Watson 1950, Biometrika 37, 409-428): 2 where neighbours do not resemble each
    /// other, towards 0 where they do.
    ///
    /// # Errors
    /// `NoVariation` for an exact fit.
    pub fn durbin_watson(&self) -> Result<f64, StatsError> {
        self.require_residuals()?;
        let steps: Vec<f64> = self.residuals.windows(2).map(|pair| pair[1] - pair[0]).collect();
        Ok(sum_of_squares(&steps) / self.residual_sum_of_squares)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{LinearFit, least_squares};
    use super::*;
    use crate::stats::design::Design;

    fn fit(x: &[f64], y: &[f64]) -> LinearFit {
        let design = Design::builder(x.len()).intercept().number("x", x).build().unwrap();
        least_squares(&design, y).unwrap()
    }

    #[test]
    fn cooks_distance_is_how_far_the_coefficients_move_without_the_row() {
        let (x, y) = ([1.0, 2.0, 3.0, 5.0, 9.0], [2.0, 1.0, 4.0, 3.0, 8.0]);
        let all = fit(&x, &y);
        let distances = all.cooks_distances().unwrap();
        for (row, distance) in distances.iter().enumerate() {
            let kept = |values: &[f64]| -> Vec<f64> {
                (0..5).filter(|&other| other != row).map(|other| values[other]).collect()
            };
            let without = fit(&kept(&x), &kept(&y));
            let moved: f64 = (0..5)
                .map(|i| {
                    let other = without.coefficients[0] + without.coefficients[1] * x[i];
                    (all.fitted[i] - other).powi(2)
                })
                .sum();
            let expected = moved / (2.0 * all.residual_standard_deviation().powi(2));
            assert!((distance - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn an_exact_fit_has_no_likelihood_and_no_distances() {
        let exact = fit(&[1.0, 2.0, 4.0], &[0.0, 0.0, 0.0]);
        assert!(matches!(exact.log_likelihood(), Err(StatsError::NoVariation { .. })));
        assert!(matches!(exact.bayesian(), Err(StatsError::NoVariation { .. })));
        assert!(matches!(exact.cooks_distances(), Err(StatsError::NoVariation { .. })));
        assert!(matches!(exact.durbin_watson(), Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn a_row_that_decides_alone_has_no_distance() {
        let fault = fit(&[0.0, 0.0, 0.0, 1.0], &[1.0, 2.0, 0.5, 9.0]).cooks_distances();
        assert_eq!(fault, Err(StatsError::FullLeverage { row: 3 }));
    }

    #[test]
    fn residuals_that_swing_from_row_to_row_reach_towards_four() {
        let swinging: Vec<f64> = (0..40).map(|row| if row % 2 == 0 { 1.0 } else { -1.0 }).collect();
        let x: Vec<f64> = (0..40).map(f64::from).collect();
        assert!(fit(&x, &swinging).durbin_watson().unwrap() > 3.7);
    }
}
