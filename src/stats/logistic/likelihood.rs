//! The log-likelihood of the logistic model, plain or with Firth's penalty, as a surface to climb.

use super::basis::{Basis, mirror};
use super::newton::{SQUARING_STEP, Slope, Surface};
use super::outcome::{BinomialOutcome, logistic_parts};
use crate::stats::numeric::sum;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use ndarray::Array2;

/// The last step of a climb to the penalised maximum.
const LAST_FIRTH_STEP: f64 = 1e-10;

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
    /// `s ln p + (n - s) ln(1 - p)`.
    pub(super) log_likelihood: f64,
}

impl RowPart {
    fn new(predictor: f64, successes: f64, failures: f64) -> Self {
        let parts = logistic_parts(predictor);
        let term = |count: f64, log: f64| if count > 0.0 { count * log } else { 0.0 };
        Self {
            residual: successes * parts.no - failures * parts.yes,
            weight: (successes + failures) * parts.yes * parts.no,
            probability: parts.yes,
            log_likelihood: term(successes, parts.log_yes) + term(failures, parts.log_no),
        }
    }
}

impl Likelihood {
    /// All that is known of a row, to the last bit.
    pub(super) fn bits(&self, row: usize) -> Vec<u64> {
        let outcome = [self.outcome.successes()[row], self.outcome.trials()[row]];
        self.basis.row(row).iter().chain(&outcome).map(|value| value.to_bits()).collect()
    }

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
        total(&self.parts(at))
    }

    /// Fisher's information `Q'WQ`.
    pub(super) fn information(&self, parts: &[RowPart]) -> DMatrix<f64> {
        self.weighted_products(parts.iter().map(|part| part.weight))
    }

    fn weighted_products(&self, weights: impl Iterator<Item = f64>) -> DMatrix<f64> {
        let rows = self.basis.matrix();
        let mut weighted = rows.to_owned();
        weighted.rows_mut().into_iter().zip(weights).for_each(|(mut row, weight)| row *= weight);
        let found: Array2<f64> = rows.t().dot(&weighted);
        let mut products = DMatrix::from_fn(rows.ncols(), rows.ncols(), |i, j| found[(i, j)]);
        mirror(&mut products);
        products
    }

    /// Leverages `h = w q'(Q'WQ)^-1 q` of every row.
    fn leverages(&self, factor: &Cholesky<f64, Dyn>, parts: &[RowPart]) -> Vec<f64> {
        let width = self.basis.width();
        let mut inverse = DMatrix::identity(width, width);
        // a Cholesky factor has no zero on its diagonal
        factor.l_dirty().solve_lower_triangular_mut(&mut inverse);
        let turned = Array2::from_shape_fn((width, width), |(i, j)| inverse[(j, i)]);
        let standardised = self.basis.matrix().dot(&turned);
        let rows = standardised.rows().into_iter().zip(parts);
        rows.map(|(row, part)| part.weight * row.dot(&row)).collect()
    }

    /// Residuals that the maximum makes orthogonal to the columns, `s - n p`, and with Firth's penalty `s - n p + h (1/2 - p)`; and leverages `h`, which are 0
    /// without the penalty. The factor of the information is needed for the penalty alone.
    pub(super) fn residuals(
        &self,
        parts: &[RowPart],
        factor: Option<&Cholesky<f64, Dyn>>,
    ) -> (Vec<f64>, Vec<f64>) {
        let plain = parts.iter().map(|part| part.residual);
        let Some(factor) = factor else { return (plain.collect(), vec![0.0; parts.len()]) };
        let leverages = self.leverages(factor, parts);
        let pulls = parts.iter().zip(&leverages).map(|(part, h)| h * (0.5 - part.probability));
        (plain.zip(pulls).map(|(residual, pull)| residual + pull).collect(), leverages)
    }

    /// `ln |X'WX| / 2` in the coordinates of the design, from the factor of the information.
    pub(super) fn half_log_determinant(&self, factor: &Cholesky<f64, Dyn>) -> f64 {
        let diagonal = factor.l_dirty().diagonal();
        diagonal.iter().map(|pivot| pivot.ln()).sum::<f64>() + self.basis.log_volume()
    }

    /// With the penalty the information is that of `s + h/2` successes in `n + h` trials: near enough to the true curvature for quick steps, and positive.
    fn slope_of(&self, parts: &[RowPart], residuals: &[f64], leverages: &[f64]) -> Slope {
        let mut gradient = DVector::zeros(self.basis.width());
        for (row, residual) in self.basis.each_row().zip(residuals) {
            add(&mut gradient, row, *residual);
        }
        let weights = parts.iter().zip(leverages).map(|(part, leverage)| {
            part.weight + leverage * part.probability * (1.0 - part.probability)
        });
        Slope { gradient, information: self.weighted_products(weights) }
    }
}

fn total(parts: &[RowPart]) -> f64 {
    sum(&parts.iter().map(|part| part.log_likelihood).collect::<Vec<_>>())
}

impl Surface for Likelihood {
    fn look(&self, at: &DVector<f64>) -> Option<(f64, Slope)> {
        let parts = self.parts(at);
        let factor = match self.penalised {
            true => Some(self.information(&parts).cholesky()?),
            false => None,
        };
        let penalty = factor.as_ref().map_or(0.0, |factor| self.half_log_determinant(factor));
        let (residuals, leverages) = self.residuals(&parts, factor.as_ref());
        Some((total(&parts) + penalty, self.slope_of(&parts, &residuals, &leverages)))
    }

    /// Firth's steps do not square: their information is not quite the curvature.
    fn last_step(&self) -> f64 {
        if self.penalised { LAST_FIRTH_STEP } else { SQUARING_STEP }
    }
}

/// `row'at`.
pub(crate) fn dot(row: &[f64], at: &DVector<f64>) -> f64 {
    crate::stats::numeric::dot(row, at.as_slice())
}

/// `into += factor row`.
pub(crate) fn add(into: &mut DVector<f64>, row: &[f64], factor: f64) {
    for (value, entry) in into.iter_mut().zip(row) {
        *value += factor * entry;
    }
}
