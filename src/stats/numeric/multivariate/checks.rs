//! What is refused at the door.

use super::factor::Factor;
use crate::stats::error::{StatsError, require_length};
use ndarray::Array2;

/// How far a correlation may stray from symmetry, from a diagonal of ones and from 1.
const ROUNDING: f64 = 1e-8;

/// Refuses what is no correlation matrix.
pub(super) fn require_correlation(matrix: &Array2<f64>) -> Result<(), StatsError> {
    let what = "the correlation matrix";
    if matrix.is_empty() {
        return Err(StatsError::Empty { what: what.into() });
    }
    require_length(what, matrix.nrows(), matrix.ncols())?;
    for ((row, column), &value) in matrix.indexed_iter() {
        if !value.is_finite() {
            return Err(StatsError::NotFinite { what: what.into(), row, value });
        }
        let expected = if row == column { 1.0 } else { matrix[(column, row)] };
        if value.abs() > 1.0 + ROUNDING || (value - expected).abs() > ROUNDING {
            return Err(StatsError::OutOfRange {
                what: format!("entry {row}, {column} of {what}"),
                value,
                expected: "a symmetrical matrix with ones on the diagonal".into(),
            });
        }
    }
    let order: Vec<usize> = (0..matrix.nrows()).collect();
    if Factor::new(matrix, &order).misfit(matrix, &order) > 1e-6 {
        return Err(StatsError::NotPositive { what: what.into() });
    }
    Ok(())
}

/// Refuses degrees of freedom that are not above 0; infinite ones mean the normal.
pub(super) fn require_degrees_of_freedom(df: f64) -> Result<(), StatsError> {
    if df > 0.0 {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "the degrees of freedom".into(),
        value: df,
        expected: "a number above 0".into(),
    })
}

/// Refuses a bound that is not finite.
pub(super) fn require_bound(bound: f64) -> Result<(), StatsError> {
    if bound.is_finite() {
        return Ok(());
    }
    Err(StatsError::NotFinite { what: "the bound".into(), row: 0, value: bound })
}
