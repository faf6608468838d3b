//! The triangular factor, whichever way it was found.

use super::double_double::DoubleDouble;
use crate::stats::numeric::PivotedQr;

/// `R` with `X'X = R'R`.
#[derive(Debug, Clone)]
pub(super) enum Triangle {
    /// Of a Householder factorisation without columns set aside.
    Pivoted(PivotedQr),
    /// Of Cholesky QR done twice; the low halves are zero.
    Plain(ExtendedTriangle),
    /// In twice the precision.
    Extended(ExtendedTriangle),
}

/// `R` of the columns divided by powers of two, in double-double.
#[derive(Debug, Clone)]
pub(super) struct ExtendedTriangle {
    /// The j-th holds `R_0j .. R_jj`.
    pub columns: Vec<Vec<DoubleDouble>>,
    /// What each column was divided by, in its unit.
    pub scales: Vec<f64>,
}

impl Triangle {
    /// `R^-T c`.
    pub fn solve_transposed(&self, contrast: &[f64]) -> Vec<f64> {
        match self {
            Self::Pivoted(qr) => qr.solve_transposed(contrast),
            Self::Plain(triangle) | Self::Extended(triangle) => triangle.solve_transposed(contrast),
        }
    }

    /// The largest `|x_j| |R^-T e_j|` of any column, the root of its variance inflation about the origin: about so many times do rounding errors grow on their
    /// way to the coefficients. `lengths` are those of the columns.
    pub fn growth(&self, lengths: &[f64]) -> f64 {
        let mut unit = vec![0.0; lengths.len()];
        let mut largest = 0.0_f64;
        for (column, length) in lengths.iter().enumerate() {
            unit[column] = *length;
            let direction = self.solve_transposed(&unit);
            unit[column] = 0.0;
            largest = largest.max(direction.iter().map(|value| value * value).sum::<f64>().sqrt());
        }
        largest
    }
}

impl ExtendedTriangle {
    /// Solves `R b = z`.
    pub fn solve(&self, right: &[DoubleDouble]) -> Vec<f64> {
        let mut right = right.to_vec();
        for place in (0..right.len()).rev() {
            let entries = &self.columns[place];
            right[place] = right[place] / entries[place];
            let value = right[place];
            for (above, &entry) in right[..place].iter_mut().zip(entries) {
                *above = *above - value * entry;
            }
        }
        right.iter().zip(&self.scales).map(|(value, scale)| value.to_f64() / scale).collect()
    }

    /// Solves `R' d = c`.
    fn solve_transposed(&self, contrast: &[f64]) -> Vec<f64> {
        let mut solution: Vec<DoubleDouble> = Vec::with_capacity(self.columns.len());
        for (column, entries) in self.columns.iter().enumerate() {
            // one value a column; the columns are independent, so no diagonal entry is zero
            let mut left = DoubleDouble::from(contrast[column] / self.scales[column]);
            for (&entry, &known) in entries.iter().zip(&solution) {
                left = left - entry * known;
            }
            solution.push(left / entries[column]);
        }
        solution.into_iter().map(DoubleDouble::to_f64).collect()
    }
}
