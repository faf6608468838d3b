//! Many columns for few rows: shrinking, choosing, and saying how stable a choice is.
//!
//! The elastic net (Zou & Hastie 2005, Journal of the Royal Statistical Society B 67, 301-320) with outcome `y` and columns `z_j` brought to mean 0 and
//! spread 1 (divisor `n`) minimises over the intercept `a` and `b`
//!
//! `sum_i (y_i - a - sum_j z_ij b_j)^2 / (2 n) + penalty (mixing sum_j |b_j| + (1 - mixing) / 2 sum_j b_j^2)`.
//!
//! `mixing` 1 is the lasso (Tibshirani 1996, Journal of the Royal Statistical Society B 58, 267-288). The outcome keeps its unit, so the penalty is in that
//! unit. The intercept is not penalised and is always there: a column that does not vary, the column of ones among them, gets the coefficient 0.
//!
//! | what | from what |
//! | --- | --- |
//! | [`elastic_net()`] | rows, through linfa-elasticnet, finished exactly |
//! | [`penalised_fits`], [`penalty_grid`], [`cross_validate`] | cross-products of groups ([`crate::stats::products`]) |
//! | [`stability_selection`], [`double_selection()`] | the same |
//! | [`leave_out_linear`], [`leave_out_elastic_net`] | the same, a rule for each fold |
//! | [`Ridge`] | rows, through QR and SVD |

mod cross_validation;
mod double_selection;
mod elastic_net;
mod gram;
mod leave_out;
mod moments;
mod path;
mod ridge;
mod search;
mod solver;
mod stability;

pub use cross_validation::{CrossValidation, cross_validate};
pub use double_selection::{DoubleSelection, DoubleSelectionOptions, KeptColumn, double_selection};
pub use elastic_net::elastic_net;
pub use leave_out::{NestedOptions, leave_out_elastic_net, leave_out_linear, predict_by_fold};
pub use moments::Folds;
pub use path::{GridOptions, largest_penalty, penalised_fits, penalty_grid};
pub use ridge::{Ridge, RidgeChoice, RidgeFit};
pub use stability::{StabilityOptions, StabilitySelection, stability_selection};

pub(crate) use search::best_of_grid;

use crate::stats::error::{StatsError, require_finite, require_length};

/// A linear rule found under a penalty; the intercept stands apart from the columns.
#[derive(Debug, Clone, PartialEq)]
pub struct PenalisedFit {
    /// The penalty it was found under; infinite for the mean alone.
    pub penalty: f64,
    /// The constant, in the unit of the outcome.
    pub intercept: f64,
    /// One coefficient per column of the design, in units of the outcome per unit of the column; exactly 0 for a column that is out.
    pub coefficients: Vec<f64>,
    /// The same per standard deviation (divisor `n`) of the column.
    pub standardised: Vec<f64>,
}

impl PenalisedFit {
    /// `intercept + x'coefficients` for a row of the design, in the unit of the outcome.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`.
    pub fn predict(&self, row: &[f64]) -> Result<f64, StatsError> {
        require_length("the row", self.coefficients.len(), row.len())?;
        if !row.is_empty() {
            require_finite("the row", row)?;
        }
        Ok(self.value_at(row.iter().copied()))
    }

    /// [`PenalisedFit::predict`] of a row that was checked.
    pub(crate) fn value_at(&self, row: impl Iterator<Item = f64>) -> f64 {
        let products = row.zip(&self.coefficients).map(|(value, coefficient)| value * coefficient);
        self.intercept + products.sum::<f64>()
    }

    /// Places of the columns whose coefficient is not zero.
    pub fn kept(&self) -> Vec<usize> {
        (0..self.coefficients.len()).filter(|&place| self.coefficients[place] != 0.0).collect()
    }
}

/// Refuses a mixing outside `0 < mixing <= 1`; at 0 no column is ever left out and [`Ridge`] is the method.
fn check_mixing(mixing: f64) -> Result<(), StatsError> {
    if mixing > 0.0 && mixing <= 1.0 {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "the mixing of the elastic net".into(),
        value: mixing,
        expected: "above 0 and at most 1; at 0 use ridge".into(),
    })
}

/// Refuses a penalty that is negative or no number.
fn check_penalty(penalty: f64) -> Result<(), StatsError> {
    if penalty >= 0.0 && penalty.is_finite() {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "the penalty".into(),
        value: penalty,
        expected: "a finite number, 0 or more".into(),
    })
}

#[cfg(test)]
mod tests;
