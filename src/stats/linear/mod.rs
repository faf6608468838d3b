//! Least squares, with errors that fit the data at hand.

mod cluster_robust;
mod collinearity;
mod linfa_fit;

pub use cluster_robust::ClusterRobust;
pub use collinearity::{Centring, condition_number, remaining_share, variance_inflation};
pub use linfa_fit::least_squares_linfa;

use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, mean, sum_of_squares};
use nalgebra::DMatrix;
use ndarray::Array2;

/// A least-squares fit `y = X b + e` and what its errors are computed from.
#[derive(Debug, Clone)]
pub struct LinearFit {
    /// Column names, as in the design.
    pub names: Vec<String>,
    /// One coefficient per column, in units of the outcome per unit of the column.
    pub coefficients: Vec<f64>,
    /// `X b`.
    pub fitted: Vec<f64>,
    /// `y - X b`.
    pub residuals: Vec<f64>,
    /// `sum e^2`.
    pub residual_sum_of_squares: f64,
    /// `sum (y - mean y)^2` with an intercept, else `sum y^2`.
    pub total_sum_of_squares: f64,
    /// Sum of squares of the fit: total less residual, computed from the rotated outcome and not by subtraction.
    pub regression_sum_of_squares: f64,
    /// Columns, without the intercept.
    pub regression_degrees_of_freedom: usize,
    /// `n - p`.
    pub residual_degrees_of_freedom: usize,
    qr: PivotedQr,
    /// `n x p` with orthonormal columns.
    q: DMatrix<f64>,
}

/// Ordinary least squares by Householder QR (Golub 1965); the outcome is centred first when there is an intercept, which keeps digits where a large
/// constant would eat them.
///
/// # Errors
/// `LengthMismatch`; `NotFinite`; `TooFewRows` unless `n > p`; `RankDeficient` with the names of the columns that [`Design::without_aliases`] would leave out.
pub fn least_squares(design: &Design, outcome: &[f64]) -> Result<LinearFit, StatsError> {
    let qr = checked_factorisation(design, outcome)?;
    let centre = if design.has_intercept() { mean(outcome)? } else { 0.0 };
    let centred: Vec<f64> = outcome.iter().map(|value| value - centre).collect();
    let effects = qr.effects(&centred);
    let mut coefficients = qr.solve(&effects);
    if design.has_intercept() {
        coefficients[0] += centre;
    }
    // n > p was checked, so there is a residual part
    let (explained, left) = effects.split_at(design.columns());
    let mut only_left = vec![0.0; explained.len()];
    only_left.extend_from_slice(left);
    let residuals = qr.rotate_back(&only_left);
    let skipped = usize::from(design.has_intercept());
    Ok(LinearFit {
        names: design.names.clone(),
        coefficients,
        fitted: outcome.iter().zip(&residuals).map(|(y, e)| y - e).collect(),
        residual_sum_of_squares: sum_of_squares(left),
        total_sum_of_squares: sum_of_squares(&centred),
        regression_sum_of_squares: sum_of_squares(&explained[skipped..]),
        regression_degrees_of_freedom: design.columns() - skipped,
        residual_degrees_of_freedom: design.rows() - design.columns(),
        residuals,
        q: qr.thin_q(),
        qr,
    })
}

/// The checks that every fit shares, and the factorisation they need.
fn checked_factorisation(design: &Design, outcome: &[f64]) -> Result<PivotedQr, StatsError> {
    require_length("the outcome", design.rows(), outcome.len())?;
    require_finite("the outcome", outcome)?;
    if design.rows() <= design.columns() {
        return Err(StatsError::TooFewRows { rows: design.rows(), columns: design.columns() });
    }
    let qr = PivotedQr::new(design.matrix.view(), RANK_TOLERANCE);
    let dependent = qr.set_aside();
    if dependent.is_empty() {
        return Ok(qr);
    }
    let columns = dependent.iter().map(|&column| design.names[column].clone());
    Err(StatsError::RankDeficient { columns: columns.collect() })
}

impl LinearFit {
    /// The contrast that picks one coefficient.
    ///
    /// # Errors
    /// `UnknownColumn`.
    pub fn pick(&self, name: &str) -> Result<Vec<f64>, StatsError> {
        let mut contrast = vec![0.0; self.names.len()];
        let place = self.names.iter().position(|other| other == name);
        let place = place.ok_or_else(|| StatsError::UnknownColumn { name: name.into() })?;
        contrast[place] = 1.0;
        Ok(contrast)
    }

    /// `c'b`.
    fn combine(&self, contrast: &[f64]) -> f64 {
        let pairs = contrast.iter().zip(&self.coefficients);
        pairs.map(|(c, b)| c * b).sum()
    }

    /// The direction `d = R^-T c`, so that `c'b = d'Q'y`.
    fn direction(&self, contrast: &[f64]) -> Result<Vec<f64>, StatsError> {
        require_length("the contrast", self.names.len(), contrast.len())?;
        require_finite("the contrast", contrast)?;
        Ok(self.qr.solve_transposed(contrast))
    }

    /// Residual standard deviation `sqrt(sum e^2 / (n - p))`, in the unit of the outcome.
    pub fn residual_standard_deviation(&self) -> f64 {
        (self.residual_sum_of_squares / self.residual_degrees_of_freedom as f64).sqrt()
    }

    /// Share of the total sum of squares that is explained; NaN for an outcome that does not vary.
    pub fn r_squared(&self) -> f64 {
        self.regression_sum_of_squares / self.total_sum_of_squares
    }

    /// A linear combination `c'b` with its classical error `s sqrt(c'(X'X)^-1 c)` and `n - p` degrees of freedom: right when errors are independent and of
    /// equal spread.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn classical(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let direction = self.direction(contrast)?;
        Ok(Estimate {
            value: self.combine(contrast),
            standard_error: self.residual_standard_deviation() * sum_of_squares(&direction).sqrt(),
            degrees_of_freedom: self.residual_degrees_of_freedom as f64,
        })
    }

    /// F test that several contrasts are zero together, with classical errors; `contrasts` is `q x p`.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`; `RankDeficient` for contrasts that repeat each other.
    pub fn classical_joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let directions = self.whitened(contrasts)?;
        let numerator = contrasts.nrows() as f64;
        let explained = directions.1.iter().map(|value| value * value).sum::<f64>();
        let noise = self.residual_standard_deviation().powi(2);
        Ok(JointTest {
            statistic: explained / numerator / noise,
            numerator,
            denominator: self.residual_degrees_of_freedom as f64,
        })
    }

    /// Orthonormal directions `D` (`p x q`) that span the contrasts' directions, and the contrasts' values on them.
    fn whitened(&self, contrasts: &Array2<f64>) -> Result<(DMatrix<f64>, Vec<f64>), StatsError> {
        let (count, columns) = contrasts.dim();
        require_length("the contrasts", self.names.len(), columns)?;
        let mut directions = Array2::zeros((columns, count));
        for (place, contrast) in contrasts.rows().into_iter().enumerate() {
            let direction = self.direction(&contrast.to_vec())?;
            for (row, value) in direction.into_iter().enumerate() {
                directions[(row, place)] = value;
            }
        }
        let qr = PivotedQr::new(directions.view(), RANK_TOLERANCE);
        let repeated = qr.set_aside();
        if count == 0 || !repeated.is_empty() {
            let columns = repeated.iter().map(|place| format!("contrast {place}"));
            let columns = columns.collect();
            return Err(StatsError::RankDeficient { columns });
        }
        let values: Vec<f64> =
            contrasts.rows().into_iter().map(|contrast| self.combine(&contrast.to_vec())).collect();
        // C b = (D T)' Q'y with directions = D T, so D'Q'y solves T' z = C b
        Ok((qr.thin_q(), qr.solve_transposed(&values)))
    }

    /// Leverages `h_i`, the diagonal of `Q Q'`, without unit.
    pub fn leverages(&self) -> Vec<f64> {
        self.q.row_iter().map(|row| row.norm_squared()).collect()
    }

    /// `c'b` with the HC3 error (MacKinnon & White 1985, Journal of Econometrics 29, 305-325): the variance is `sum (d'q_i)^2 e_i^2 / (1 - h_i)^2`, right
    /// when errors are independent and of unequal spread. `n - p` degrees of freedom.
    ///
    /// # Errors
    /// As [`LinearFit::classical`]; `FullLeverage` for a row fitted exactly by construction.
    pub fn hc3(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let direction = self.direction(contrast)?;
        let leverages = self.leverages();
        if let Some(row) = leverages.iter().position(|h| 1.0 - h < 1e-10) {
            return Err(StatsError::FullLeverage { row });
        }
        let rows = self.q.row_iter().zip(&self.residuals).zip(&leverages);
        let terms: Vec<f64> = rows
            .map(|((row, residual), leverage)| {
                let along: f64 = row.iter().zip(&direction).map(|(q, d)| q * d).sum();
                along * residual / (1.0 - leverage)
            })
            .collect();
        Ok(Estimate {
            value: self.combine(contrast),
            standard_error: sum_of_squares(&terms).sqrt(),
            degrees_of_freedom: self.residual_degrees_of_freedom as f64,
        })
    }

    /// Errors that allow rows of one cluster to resemble each other; see [`ClusterRobust`].
    ///
    /// # Errors
    /// `LengthMismatch`; `TooFewGroups` under three clusters.
    pub fn clustered(&self, clusters: &[usize]) -> Result<ClusterRobust<'_>, StatsError> {
        ClusterRobust::new(self, clusters)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn line(x: &[f64]) -> Design {
        Design::builder(x.len()).intercept().number("x", x).build().unwrap()
    }

    #[test]
    fn a_hand_worked_line_is_met() {
        // x 1..4, y 2 4 5 9: slope 11/5, intercept -1/2, residual sum of squares 9/5
        let fit = least_squares(&line(&[1.0, 2.0, 3.0, 4.0]), &[2.0, 4.0, 5.0, 9.0]).unwrap();
        assert!((fit.coefficients[0] + 0.5).abs() < 1e-13);
        assert!((fit.coefficients[1] - 2.2).abs() < 1e-13);
        assert!((fit.residual_sum_of_squares - 1.8).abs() < 1e-12);
        let slope = fit.classical(&fit.pick("x").unwrap()).unwrap();
        assert!((slope.standard_error - (0.9_f64 / 5.0).sqrt()).abs() < 1e-13);
    }

    #[test]
    fn dependent_columns_are_refused_by_name() {
        let design = Design::builder(4)
            .intercept()
            .number("x", &[1.0, 2.0, 3.0, 4.0])
            .number("twice", &[2.0, 4.0, 6.0, 8.0])
            .build()
            .unwrap();
        let fault = least_squares(&design, &[1.0, 0.0, 2.0, 1.0]).unwrap_err();
        let columns = vec!["twice".to_string()];
        assert_eq!(fault, StatsError::RankDeficient { columns });
    }

    #[test]
    fn as_many_columns_as_rows_are_refused() {
        let fault = least_squares(&line(&[1.0, 2.0]), &[1.0, 2.0]);
        assert!(matches!(fault, Err(StatsError::TooFewRows { .. })));
    }

    #[test]
    fn an_outcome_that_is_no_number_is_refused() {
        let fault = least_squares(&line(&[1.0, 2.0, 4.0]), &[1.0, f64::INFINITY, 0.0]);
        assert!(matches!(fault, Err(StatsError::NotFinite { row: 1, .. })));
    }

    #[test]
    fn an_outcome_that_does_not_vary_has_no_r_squared() {
        let fit = least_squares(&line(&[1.0, 2.0, 4.0]), &[3.0; 3]).unwrap();
        assert!(fit.r_squared().is_nan());
        assert_eq!(fit.coefficients[1], 0.0);
    }

    #[test]
    fn a_row_that_decides_alone_has_no_hc3_error() {
        let fit = least_squares(&line(&[0.0, 0.0, 0.0, 1.0]), &[1.0, 2.0, 0.5, 9.0]).unwrap();
        let fault = fit.hc3(&[0.0, 1.0]);
        assert_eq!(fault, Err(StatsError::FullLeverage { row: 3 }));
    }

    #[test]
    fn the_joint_test_of_one_contrast_is_t_squared() {
        let fit = least_squares(&line(&[1.0, 2.0, 3.0, 4.0]), &[2.0, 4.0, 5.0, 9.0]).unwrap();
        let slope = fit.classical(&[0.0, 1.0]).unwrap();
        let joint = fit.classical_joint(&ndarray::array![[0.0, 1.0]]).unwrap();
        assert!((joint.statistic - slope.t_statistic().powi(2)).abs() < 1e-10);
        assert!((joint.p_value() - slope.p_value()).abs() < 1e-12);
    }

    #[test]
    fn the_joint_test_of_all_slopes_is_the_usual_f() {
        let design = Design::builder(6)
            .intercept()
            .number("x", &[1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
            .number("z", &[1.0, 0.0, 2.0, 2.0, 7.0, 1.0])
            .build()
            .unwrap();
        let fit = least_squares(&design, &[2.0, 4.0, 5.0, 9.0, 1.0, 3.0]).unwrap();
        let contrasts = ndarray::array![[0.0, 1.0, 1.0], [0.0, 1.0, -1.0]];
        let joint = fit.classical_joint(&contrasts).unwrap();
        let usual = fit.regression_sum_of_squares / 2.0 / fit.residual_standard_deviation().powi(2);
        assert!((joint.statistic - usual).abs() < 1e-10);
    }

    proptest! {
        #[test]
        fn the_order_of_the_rows_does_not_matter(
            rows in prop::collection::vec((-10.0_f64..10.0, -10.0_f64..10.0), 5..30)
        ) {
            let (x, y): (Vec<f64>, Vec<f64>) = rows.iter().copied().unzip();
            let (back_x, back_y): (Vec<f64>, Vec<f64>) = rows.iter().rev().copied().unzip();
            prop_assume!(crate::stats::numeric::standard_deviation(&x).unwrap() > 0.1);
            let forth = least_squares(&line(&x), &y).unwrap();
            let back = least_squares(&line(&back_x), &back_y).unwrap();
            for (a, b) in forth.coefficients.iter().zip(&back.coefficients) {
                prop_assert!((a - b).abs() < 1e-8);
            }
        }

        #[test]
        fn slopes_and_errors_follow_the_units(
            rows in prop::collection::vec((-10.0_f64..10.0, -10.0_f64..10.0), 5..30),
            scale in 0.01_f64..100.0, shift in -100.0_f64..100.0,
        ) {
            let (x, y): (Vec<f64>, Vec<f64>) = rows.iter().copied().unzip();
            prop_assume!(crate::stats::numeric::standard_deviation(&x).unwrap() > 0.1);
            let moved: Vec<f64> = y.iter().map(|value| shift + scale * value).collect();
            let plain = least_squares(&line(&x), &y).unwrap().classical(&[0.0, 1.0]).unwrap();
            let scaled = least_squares(&line(&x), &moved).unwrap().classical(&[0.0, 1.0]).unwrap();
            prop_assert!((scaled.value - scale * plain.value).abs() < 1e-7 * scale.max(1.0));
            prop_assert!((scaled.standard_error - scale * plain.standard_error).abs() < 1e-7 * scale.max(1.0));
        }
    }
}
