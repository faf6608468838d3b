//! Fits without one group.

use super::{Group, Refit};
use crate::stats::error::StatsError;
use rayon::prelude::*;

/// Coefficients without one group, and how they predict it. Errors of single rows, and so absolute errors, cannot be had from products.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftOut {
    /// The group's code.
    pub code: usize,
    /// Its rows.
    pub rows: usize,
    /// The fit to all other groups; `None` where the others do not carry all columns.
    pub prediction: Option<Prediction>,
    /// `sum (y - m)^2` over the group's rows, `m` the mean of all other rows (0 in a design without an intercept): the error of knowing nothing.
    pub squared_errors_of_nothing: f64,
}

/// What a fit without a group says about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Prediction {
    /// Coefficients fitted to all other groups.
    pub coefficients: Vec<f64>,
    /// `sum (y - x'b)` over the group's rows, in the unit of the outcome.
    pub errors: f64,
    /// `sum (y - x'b)^2` over the group's rows, in squared units.
    pub squared_errors: f64,
}

impl Refit {
    /// Fits without each group in turn, in parallel; by rising code. Costs `groups (groups p^2 + p^3)`.
    ///
    /// # Errors
    /// `TooFewGroups` under two groups.
    pub fn leave_one_group_out(&self) -> Result<Vec<LeftOut>, StatsError> {
        let count = self.groups.len();
        if count < 2 {
            return Err(StatsError::TooFewGroups { found: count, needed: 2 });
        }
        let each = (0..count).into_par_iter().map(|place| self.left_out(place));
        Ok(each.collect())
    }

    fn left_out(&self, place: usize) -> LeftOut {
        let group = &self.groups[place];
        let unit = self.outcome_scale();
        let counts: Vec<f64> = (0..self.groups.len()).map(|g| f64::from(g != place)).collect();
        let prediction = self.counted(&counts).ok().map(|fit| {
            let standard = &fit.solution.coefficients;
            Prediction {
                errors: group.errors(standard) * unit,
                squared_errors: group.squared_errors(standard) * unit * unit,
                coefficients: fit.coefficients,
            }
        });
        LeftOut {
            code: group.code,
            rows: group.rows,
            prediction,
            squared_errors_of_nothing: self.about_others(place) * unit * unit,
        }
    }

    /// Standardised squares of a group's outcome about the mean of the others.
    fn about_others(&self, place: usize) -> f64 {
        let (group, outcome) = (&self.groups[place], self.names.len());
        let others = || self.groups.iter().enumerate().filter(|(g, _)| *g != place).map(|(_, g)| g);
        let rows: usize = others().map(|group| group.rows).sum();
        let sum: f64 = others().map(|group| group.sums[outcome]).sum();
        let mean = if self.intercept { sum / rows as f64 } else { 0.0 };
        let own = group.product(outcome, outcome) - 2.0 * mean * group.sums[outcome];
        (own + group.rows as f64 * mean * mean).max(0.0)
    }
}

impl Group {
    /// `sum (y - z'b)`.
    fn errors(&self, coefficients: &[f64]) -> f64 {
        let fitted: f64 = self.sums.iter().zip(coefficients).map(|(sum, b)| sum * b).sum();
        self.sums[coefficients.len()] - fitted
    }

    /// `sum (y - z'b)^2 = (-b, 1)' (sum z z') (-b, 1)`.
    fn squared_errors(&self, coefficients: &[f64]) -> f64 {
        let outcome = coefficients.len();
        let weight = |i: usize| if i == outcome { 1.0 } else { -coefficients[i] };
        let mut total = 0.0;
        for i in 0..=outcome {
            let row: f64 = (0..=outcome).map(|j| self.product(i, j) * weight(j)).sum();
            total += weight(i) * row;
        }
        total.max(0.0)
    }
}
