//! The same point fit through linfa-linear.

use super::fit::require_fit;
use crate::stats::design::Design;
use crate::stats::error::StatsError;
use linfa::Dataset;
use linfa::traits::Fit;
use linfa_linear::LinearRegression;
use ndarray::Array1;

/// Coefficients of ordinary least squares by linfa-linear, one per column of the design; the column of ones, where there is one, is handed over as a column
/// like the others.
///
/// linfa fits dependent columns and too few rows in silence and turns NaN into NaN, so the design is checked first, by the same factorisation as
/// [`super::least_squares`], which gives the errors of these coefficients.
///
/// # Errors
/// As [`super::least_squares`]; `Backend` where linfa refuses.
pub fn least_squares_linfa(design: &Design, outcome: &[f64]) -> Result<Vec<f64>, StatsError> {
    require_fit(design, outcome)?;
    let dataset = Dataset::new(design.matrix.clone(), Array1::from(outcome.to_vec()));
    let model = LinearRegression::new().with_intercept(false);
    match model.fit(&dataset) {
        Ok(fit) => Ok(fit.params().to_vec()),
        Err(fault) => {
            Err(StatsError::Backend { what: "linfa-linear".into(), message: fault.to_string() })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::least_squares;
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_linfa_would_fit_in_silence_is_refused() {
        let twice = Design::builder(4)
            .number("x", &[1.0, 2.0, 3.0, 4.0])
            .number("same", &[1.0, 2.0, 3.0, 4.0])
            .build()
            .unwrap();
        assert!(matches!(
            least_squares_linfa(&twice, &[1.0; 4]),
            Err(StatsError::RankDeficient { .. })
        ));
        assert!(matches!(
            least_squares_linfa(&twice, &[f64::NAN; 4]),
            Err(StatsError::NotFinite { .. })
        ));
    }

    proptest! {
        #[test]
        fn linfa_and_the_factorisation_agree(
            rows in prop::collection::vec((-5.0_f64..5.0, -5.0_f64..5.0, -5.0_f64..5.0), 8..40)
        ) {
            let x: Vec<f64> = rows.iter().map(|row| row.0).collect();
            let z: Vec<f64> = rows.iter().map(|row| row.1).collect();
            let y: Vec<f64> = rows.iter().map(|row| row.2).collect();
            let design = Design::builder(x.len()).intercept().number("x", &x).number("z", &z);
            let design = design.build().unwrap();
            let fit = least_squares(&design, &y);
            prop_assume!(fit.is_ok());
            let exact = fit.unwrap().coefficients;
            for (ours, theirs) in exact.iter().zip(least_squares_linfa(&design, &y).unwrap()) {
                prop_assert!((ours - theirs).abs() < 1e-6 * (1.0 + ours.abs()));
            }
        }
    }
}
