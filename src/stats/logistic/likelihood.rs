//! The log-likelihood of the logistic model, plain or with Firth's penalty, as a surface to climb.

use super::basis::{Basis, add_outer, mirror};
use super::newton::{Slope, Surface};
use super::outcome::{BinomialOutcome, log_logistic, logistic};
use crate::stats::numeric::sum;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// The model's rows and what is maximised.
#[derive(Debug, Clone)]
pub(super) struct Likelihood {
    pub(super) basis: Basis,
    pub(super) outcome: BinomialOutcome,
    pub(super) penalised: bool,
}

/// What one row gives at some coefficients.
#[derive(Debug, Clone, Copy)]
pub(super) struct RowPart {
    /// `s - n p`, computed on the small side.
    pub(super) residual: f64,
    /// `n p (1 - p)`.
    pub(super) weight: f64,
    /// The probability `p`.
    pub(super) probability: f64,
}

impl RowPart {
    fn new(predictor: f64, successes: f64, failures: f64) -> Self {
        let (yes, no) = (logistic(predictor), logistic(-predictor));
        Self {
            residual: successes * no - failures * yes,
            weight: (successes + failures) * yes * no,
            probability: yes,
        }
    }
}

impl Likelihood {
    /// `x'b` of every row.
    pub(super) fn predictors(&self, at: &DVector<f64>) -> Vec<f64> {
        self.basis.each_row().map(|row| dot(row, at)).collect()
    }

    /// Every row's part.
    pub(super) fn parts(&self, at: &DVector<f64>) -> Vec<RowPart> {
        let predictors = self.predictors(at).into_iter();
        let pairs = predictors.zip(self.outcome.pairs());
        pairs.map(|(predictor, (s, f))| RowPart::new(predictor, s, f)).collect()
    }

    /// The log-likelihood without penalty and without the constant.
    pub(super) fn log_likelihood(&self, at: &DVector<f64>) -> f64 {
        let predictors = self.predictors(at).into_iter();
        let terms = predictors.zip(self.outcome.pairs()).map(|(x, (successes, failures))| {
            let yes = if successes > 0.0 { successes * log_logistic(x) } else { 0.0 };
            let no = if failures > 0.0 { failures * log_logistic(-x) } else { 0.0 };
            yes + no
        });
        sum(&terms.collect::<Vec<_>>())
    }

    /// Fisher's information `Q'WQ`.
    pub(super) fn information(&self, parts: &[RowPart]) -> DMatrix<f64> {
        self.weighted_products(parts.iter().map(|part| part.weight))
    }

    fn weighted_products(&self, weights: impl Iterator<Item = f64>) -> DMatrix<f64> {
        let width = self.basis.width();
        let mut products = DMatrix::zeros(width, width);
        for (row, weight) in self.basis.each_row().zip(weights) {
            add_outer(&mut products, 0, row, weight);
        }
        mirror(&mut products);
        products
    }

    /// Leverages `h = w q'(Q'WQ)^-1 q` of every row.
    fn leverages(&self, factor: &Cholesky<f64, Dyn>, parts: &[RowPart]) -> Vec<f64> {
        let mut work = DVector::zeros(self.basis.width());
        let rows = self.basis.each_row().zip(parts);
        rows.map(|(row, part)| {
            work.copy_from_slice(row);
            // a Cholesky factor has no zero on its diagonal
            factor.l_dirty().solve_lower_triangular_mut(&mut work);
            part.weight * work.norm_squared()
        })
        .collect()
    }

    /// Residuals that the maximum makes orthogonal to the columns: `s - n p`, and with Firth's penalty `s - n p + h (1/2 - p)`. `None` where the information
    /// is singular.
    pub(super) fn score_residuals(&self, parts: &[RowPart]) -> Option<(Vec<f64>, Vec<f64>)> {
        let plain = parts.iter().map(|part| part.residual);
        if !self.penalised {
            return Some((plain.collect(), vec![0.0; parts.len()]));
        }
        let leverages = self.leverages(&self.information(parts).cholesky()?, parts);
        let pulls = parts.iter().zip(&leverages).map(|(part, h)| h * (0.5 - part.probability));
        Some((plain.zip(pulls).map(|(residual, pull)| residual + pull).collect(), leverages))
    }

    /// `ln |X'WX| / 2` in the coordinates of the design.
    pub(super) fn penalty(&self, at: &DVector<f64>) -> f64 {
        match self.information(&self.parts(at)).cholesky() {
            Some(factor) => {
                let diagonal = factor.l_dirty().diagonal();
                diagonal.iter().map(|pivot| pivot.ln()).sum::<f64>() + self.basis.log_volume()
            }
            None => f64::NEG_INFINITY,
        }
    }
}

impl Surface for Likelihood {
    fn value(&self, at: &DVector<f64>) -> f64 {
        let penalty = if self.penalised { self.penalty(at) } else { 0.0 };
        self.log_likelihood(at) + penalty
    }

    /// With the penalty the information is that of `s + h/2` successes in `n + h` trials: near enough to the true curvature for quick steps, and positive.
    fn slope(&self, at: &DVector<f64>) -> Slope {
        let parts = self.parts(at);
        let width = self.basis.width();
        let Some((residuals, leverages)) = self.score_residuals(&parts) else {
            let nothing = f64::NAN;
            return Slope {
                gradient: DVector::from_element(width, nothing),
                information: DMatrix::from_element(width, width, nothing),
            };
        };
        let mut gradient = DVector::zeros(width);
        for (row, residual) in self.basis.each_row().zip(&residuals) {
            add(&mut gradient, row, *residual);
        }
        let weights = parts.iter().zip(&leverages).map(|(part, leverage)| {
            part.weight + leverage * part.probability * (1.0 - part.probability)
        });
        Slope { gradient, information: self.weighted_products(weights) }
    }
}

/// `row'at`.
pub(crate) fn dot(row: &[f64], at: &DVector<f64>) -> f64 {
    row.iter().zip(at.iter()).map(|(a, b)| a * b).sum()
}

/// `into += factor row`.
pub(crate) fn add(into: &mut DVector<f64>, row: &[f64], factor: f64) {
    for (value, entry) in into.iter_mut().zip(row) {
        *value += factor * entry;
    }
}
