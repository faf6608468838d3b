//! The elastic net on cross-products: cost depends on columns and not on rows.

use super::gram::Gram;
use super::{PenalisedFit, check_mixing};
use crate::stats::error::StatsError;
use nalgebra::{DMatrix, DVector};

/// Movements (in standardised units) at which coordinate descent stops to try an exact solve, one after the other.
const STOPS: [f64; 6] = [1e-4, 1e-6, 1e-8, 1e-10, 1e-12, 1e-14];
/// Sweeps allowed up to each stop.
const MOST_SWEEPS: usize = 5_000;
/// By how much the conditions of a minimum may be missed, as a correlation.
const OPTIMAL: f64 = 1e-9;
/// The same where dependent columns rule an exact solve out.
const NEARLY_OPTIMAL: f64 = 1e-7;
/// A pull no further beyond the penalty is rounding, such as an exact copy of a column feels that is in already.
const ROUNDING: f64 = 1e-12;
/// A squared pivot below this is rounding: the columns repeat each other.
pub(super) const DEPENDENT: f64 = 1e-11;

/// The penalty on standardised columns and outcome: `absolute sum |b| + square / 2 sum b^2`.
#[derive(Debug, Clone, Copy)]
struct Weights {
    absolute: f64,
    square: f64,
}

/// Coordinate descent with covariance updates (Friedman, Hastie & Tibshirani 2010, Journal of Statistical Software 33(1), section 2.2), each answer finished
/// by an exact solve on its active columns with the signs found. Keeps its place, so that the next penalty starts from the last answer.
pub(super) struct Solver<'gram> {
    gram: &'gram Gram,
    mixing: f64,
    coefficients: Vec<f64>,
    /// `c - G b`: correlation of each column with what is left of the outcome.
    gradient: DVector<f64>,
}

impl<'gram> Solver<'gram> {
    /// # Errors
    /// `OutOfRange` unless `0 < mixing <= 1`.
    pub fn new(gram: &'gram Gram, mixing: f64) -> Result<Self, StatsError> {
        check_mixing(mixing)?;
        let coefficients = vec![0.0; gram.columns.len()];
        Ok(Self { gram, mixing, coefficients, gradient: gram.with_outcome.clone() })
    }

    /// Starts from coefficients found elsewhere, in standardised units.
    pub fn start_at(&mut self, coefficients: Vec<f64>) {
        self.gradient = self.gradient_at(&coefficients);
        self.coefficients = coefficients;
    }

    /// The minimum at one penalty, given in the units of the outcome.
    ///
    /// # Errors
    /// `NotConverged`.
    pub fn fit(&mut self, penalty: f64) -> Result<PenalisedFit, StatsError> {
        if self.gram.outcome_scale > 0.0 {
            let absolute = self.mixing * penalty / self.gram.outcome_scale;
            self.solve(Weights { absolute, square: (1.0 - self.mixing) * penalty })?;
        }
        Ok(self.gram.fit(penalty, &self.coefficients))
    }

    fn solve(&mut self, weights: Weights) -> Result<(), StatsError> {
        for stop in STOPS {
            if self.finish(weights) {
                return Ok(());
            }
            self.descend(weights, stop);
        }
        if self.finish(weights) || self.violation(weights) <= NEARLY_OPTIMAL {
            return Ok(());
        }
        Err(StatsError::NotConverged { what: "the elastic net".into() })
    }

    /// Sweeps over all columns, then over the active ones until they rest, until a sweep over all moves nothing.
    fn descend(&mut self, weights: Weights, stop: f64) {
        let all: Vec<usize> = (0..self.coefficients.len()).collect();
        let mut sweeps = 0;
        while sweeps < MOST_SWEEPS && self.sweep(&all, weights) > stop {
            sweeps += 1;
            let active = self.active();
            while sweeps < MOST_SWEEPS && self.sweep(&active, weights) > stop {
                sweeps += 1;
            }
        }
    }

    /// One step for each column; the largest movement.
    fn sweep(&mut self, columns: &[usize], weights: Weights) -> f64 {
        let mut largest = 0.0_f64;
        for &column in columns {
            let old = self.coefficients[column];
            // the columns have unit length
            let pull = self.gradient[column] + old;
            let beyond = pull.abs() - weights.absolute;
            let size = if beyond > ROUNDING { beyond / (1.0 + weights.square) } else { 0.0 };
            let new = size.copysign(pull);
            if new != old {
                self.coefficients[column] = new;
                self.gradient.axpy(old - new, &self.gram.among.column(column), 1.0);
                largest = largest.max((new - old).abs());
            }
        }
        largest
    }

    fn active(&self) -> Vec<usize> {
        (0..self.coefficients.len()).filter(|&column| self.coefficients[column] != 0.0).collect()
    }

    /// Solves `(G_A + square I) b_A = c_A - absolute sign_A` on the active columns `A` and takes the answer if it is the minimum: signs as before, and no
    /// other column asks to come in.
    fn finish(&mut self, weights: Weights) -> bool {
        let active = self.active();
        let Some(solution) = self.exact(&active, weights) else {
            return false;
        };
        let mut candidate = vec![0.0; self.coefficients.len()];
        for (&column, &value) in active.iter().zip(solution.iter()) {
            if value * self.coefficients[column] < 0.0 {
                return false;
            }
            candidate[column] = value;
        }
        let gradient = self.gradient_at(&candidate);
        if violation(&candidate, &gradient, weights) > OPTIMAL {
            return false;
        }
        (self.coefficients, self.gradient) = (candidate, gradient);
        true
    }

    fn exact(&self, active: &[usize], weights: Weights) -> Option<DVector<f64>> {
        let among = &self.gram.among;
        let matrix = DMatrix::from_fn(active.len(), active.len(), |i, j| {
            among[(active[i], active[j])] + if i == j { weights.square } else { 0.0 }
        });
        let right = DVector::from_fn(active.len(), |i, _| {
            let sign = self.coefficients[active[i]].signum();
            self.gram.with_outcome[active[i]] - weights.absolute * sign
        });
        let factor = matrix.cholesky()?;
        let independent = factor.l_dirty().diagonal().iter().all(|pivot| pivot * pivot > DEPENDENT);
        independent.then(|| factor.solve(&right))
    }

    fn gradient_at(&self, coefficients: &[f64]) -> DVector<f64> {
        let mut gradient = self.gram.with_outcome.clone();
        for (column, &value) in coefficients.iter().enumerate() {
            if value != 0.0 {
                gradient.axpy(-value, &self.gram.among.column(column), 1.0);
            }
        }
        gradient
    }

    fn violation(&self, weights: Weights) -> f64 {
        violation(&self.coefficients, &self.gradient_at(&self.coefficients), weights)
    }
}

/// How far the conditions of a minimum are missed: `g_j = absolute sign(b_j) + square b_j` where `b_j` is not zero, `|g_j| <= absolute` where it is.
fn violation(coefficients: &[f64], gradient: &DVector<f64>, weights: Weights) -> f64 {
    let each = coefficients.iter().zip(gradient.iter()).map(|(&value, &slope)| {
        if value == 0.0 {
            return (slope.abs() - weights.absolute).max(0.0);
        }
        (slope - weights.absolute * value.signum() - weights.square * value).abs()
    });
    each.fold(0.0, f64::max)
}
