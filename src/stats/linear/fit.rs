//! The least-squares fit.

use super::coordinates::Coordinates;
use super::extended::extended_parts;
use super::tall::{TALL, tall_parts};
use super::triangle::Triangle;
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, mean, sum_of_squares};
use nalgebra::DMatrix;
use ndarray::Array2;

/// Where rounding errors would grow more than this on their way to the coefficients, the fit is done in twice the precision. Collinear measurements reach
/// tens; a date and its square counted from a far origin, or raw powers, reach thousands.
pub(super) const MOST_GROWTH: f64 = 500.0;

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
    triangle: Triangle,
    /// `n x p` with orthonormal columns.
    pub(super) q: DMatrix<f64>,
}

/// What every road to a fit finds.
pub(super) struct Parts {
    pub coefficients: Vec<f64>,
    pub residuals: Vec<f64>,
    pub residual_sum_of_squares: f64,
    pub total_sum_of_squares: f64,
    pub regression_sum_of_squares: f64,
    pub q: DMatrix<f64>,
    pub triangle: Triangle,
}

/// Ordinary least squares; the outcome is centred first when there is an intercept, which keeps digits where a large constant would eat them.
///
/// Three roads lead to the same numbers. Up to 4,096 rows, and wherever the columns are not well apart: Householder QR (Golub 1965), pivoted. More rows with
/// columns well apart: Cholesky QR done twice (Yamamoto, Nakatsukasa, Yanagisawa & Fukaya 2015, Electronic Transactions on Numerical Analysis 44, 306-326),
/// in parallel. And where the factor shows that rounding errors would grow more than 500 times: Gram-Schmidt in double-double arithmetic, which carries the
/// hardest certified sets and costs some thirty times as much. Growth is the root of the largest variance inflation factor about the origin.
///
/// # Errors
/// `LengthMismatch`; `NotFinite`; `TooFewRows` unless `n > p`; `RankDeficient` with the names of the columns that [`Design::without_aliases`] would leave out;
/// `OutOfRange` where a sum of squares or a coefficient is beyond the largest double.
pub fn least_squares(design: &Design, outcome: &[f64]) -> Result<LinearFit, StatsError> {
    require_outcome(design, outcome)?;
    let tall = if design.rows() >= TALL { tall_parts(design, outcome)? } else { None };
    let parts = match tall {
        Some(parts) => parts,
        None => careful_parts(design, outcome)?,
    };
    require_within_range(design, &parts)?;
    Ok(LinearFit::new(design, outcome, parts))
}

/// By the pivoted factorisation, or in twice the precision where that says so.
pub(super) fn careful_parts(design: &Design, outcome: &[f64]) -> Result<Parts, StatsError> {
    let qr = full_rank(design)?;
    let lengths: Vec<f64> = design
        .matrix
        .columns()
        .into_iter()
        .map(|column| column.iter().map(|value| value * value).sum::<f64>().sqrt())
        .collect();
    if Triangle::Pivoted(qr.clone()).growth(&lengths) > MOST_GROWTH {
        return Ok(extended_parts(design, outcome));
    }
    let centre = if design.has_intercept() { mean(outcome)? } else { 0.0 };
    Ok(householder_parts(design, outcome, qr, centre))
}

fn householder_parts(design: &Design, outcome: &[f64], qr: PivotedQr, centre: f64) -> Parts {
    let centred: Vec<f64> = outcome.iter().map(|value| value - centre).collect();
    let effects = qr.effects(&centred);
    let mut coefficients = qr.solve(&effects);
    let skipped = usize::from(design.has_intercept());
    if skipped == 1 {
        coefficients[0] += centre;
    }
    // n > p was checked, so there is a residual part
    let (explained, left) = effects.split_at(design.columns());
    let mut only_left = vec![0.0; explained.len()];
    only_left.extend_from_slice(left);
    Parts {
        coefficients,
        residuals: qr.rotate_back(&only_left),
        residual_sum_of_squares: sum_of_squares(left),
        total_sum_of_squares: sum_of_squares(&centred),
        regression_sum_of_squares: sum_of_squares(&explained[skipped..]),
        q: qr.thin_q(),
        triangle: Triangle::Pivoted(qr),
    }
}

/// The checks of the outcome that every fit shares.
fn require_outcome(design: &Design, outcome: &[f64]) -> Result<(), StatsError> {
    require_length("the outcome", design.rows(), outcome.len())?;
    require_finite("the outcome", outcome)?;
    if design.rows() <= design.columns() {
        return Err(StatsError::TooFewRows { rows: design.rows(), columns: design.columns() });
    }
    Ok(())
}

/// The factorisation of columns that must be independent.
fn full_rank(design: &Design) -> Result<PivotedQr, StatsError> {
    let qr = PivotedQr::new(design.matrix.view(), RANK_TOLERANCE);
    let dependent = qr.set_aside();
    if dependent.is_empty() {
        return Ok(qr);
    }
    let columns = dependent.iter().map(|&column| design.names[column].clone());
    Err(StatsError::RankDeficient { columns: columns.collect() })
}

/// The checks that every fit shares.
pub(super) fn require_fit(design: &Design, outcome: &[f64]) -> Result<(), StatsError> {
    require_outcome(design, outcome)?;
    full_rank(design).map(|_| ())
}

/// Refuses what overflowed on the way.
fn require_within_range(design: &Design, parts: &Parts) -> Result<(), StatsError> {
    let sums = ("the sum of squares".to_string(), parts.total_sum_of_squares);
    let named = design.names.iter().cloned().zip(parts.coefficients.iter().copied());
    match named.chain([sums]).find(|(_, value)| !value.is_finite()) {
        Some((what, value)) => {
            let expected = "a number that a double can hold; choose other units".into();
            Err(StatsError::OutOfRange { what, value, expected })
        }
        None => Ok(()),
    }
}

impl Coordinates for LinearFit {
    fn coefficients(&self) -> &[f64] {
        &self.coefficients
    }

    fn solve_transposed(&self, contrast: &[f64]) -> Vec<f64> {
        self.triangle.solve_transposed(contrast)
    }
}

impl LinearFit {
    fn new(design: &Design, outcome: &[f64], parts: Parts) -> Self {
        Self {
            names: design.names.clone(),
            coefficients: parts.coefficients,
            fitted: outcome.iter().zip(&parts.residuals).map(|(y, e)| y - e).collect(),
            residual_sum_of_squares: parts.residual_sum_of_squares,
            total_sum_of_squares: parts.total_sum_of_squares,
            regression_sum_of_squares: parts.regression_sum_of_squares,
            regression_degrees_of_freedom: design.columns() - usize::from(design.has_intercept()),
            residual_degrees_of_freedom: design.rows() - design.columns(),
            residuals: parts.residuals,
            q: parts.q,
            triangle: parts.triangle,
        }
    }

    /// Whether the columns were so nearly dependent that the fit was done in twice the precision; see [`least_squares`].
    pub fn is_extended(&self) -> bool {
        matches!(self.triangle, Triangle::Extended(_))
    }

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
        let spread = self.residual_standard_deviation();
        self.classical_estimate(contrast, spread, self.residual_degrees_of_freedom as f64)
    }

    /// F test that several contrasts are zero together, with classical errors; `contrasts` is `q x p`.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`; `RankDeficient` for contrasts that repeat each other.
    pub fn classical_joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let spread = self.residual_standard_deviation();
        self.classical_test(contrasts, spread, self.residual_degrees_of_freedom as f64)
    }

    /// Leverages `h_i`, the diagonal of `Q Q'`, without unit.
    pub fn leverages(&self) -> Vec<f64> {
        let mut leverages = vec![0.0; self.q.nrows()];
        for column in self.q.column_iter() {
            for (leverage, value) in leverages.iter_mut().zip(column.iter()) {
                *leverage += value * value;
            }
        }
        leverages
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

    #[test]
    fn columns_that_all_but_repeat_each_other_are_fitted_in_twice_the_precision() {
        let far: Vec<f64> = (0..20).map(|row| 20_000.0 + f64::from(row * row % 13)).collect();
        let near: Vec<f64> = far.iter().map(|value| value - 20_000.0).collect();
        let y: Vec<f64> = (0..20).map(|row| f64::from(row * 5 % 7)).collect();
        let extended = least_squares(&line(&far), &y).unwrap();
        let plain = least_squares(&line(&near), &y).unwrap();
        assert!(extended.is_extended() && !plain.is_extended());
        assert!((extended.coefficients[1] - plain.coefficients[1]).abs() < 1e-14);
        let (a, b) = (extended.classical(&[0.0, 1.0]), plain.classical(&[0.0, 1.0]));
        assert!((a.unwrap().standard_error - b.unwrap().standard_error).abs() < 1e-15);
    }

    #[test]
    fn what_no_double_can_hold_is_refused() {
        let fault = least_squares(&line(&[1.0, 2.0, 4.0]), &[1e300, -1e300, 1e300]);
        assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
    }

    #[test]
    fn one_huge_value_is_fitted_and_not_refused() {
        let fit = least_squares(&line(&[1.0, 2.0, 4.0, 1e9]), &[1.0, 2.0, 4.0, 5.0]).unwrap();
        assert!((fit.leverages()[3] - 1.0).abs() < 1e-12);
        assert!(fit.classical(&[0.0, 1.0]).unwrap().standard_error > 0.0);
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
