//! The deviance as a function of the relative covariance factors.
//!
//! The fixed columns are replaced by an orthonormal basis of theirs and the outcome by its least-squares residual of unit length, so that neither units nor a
//! large constant cost digits.

use super::cross::Cross;
use super::factor::Factor;
use super::gathered::Gathered;
use super::inverse::{Inverse, Slopes};
use super::structure::Structure;
use super::term::{Grouping, RandomTerm};
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::mixed::Criterion;
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, mean, sum_of_squares};
use nalgebra::{DMatrix, DVector};
use std::f64::consts::TAU;
use std::sync::Arc;

/// A residual of least squares below this share of the outcome is rounding.
const ROUNDING: f64 = 1e-13;

/// Data and pattern of one model; the criterion is chosen at each use.
#[derive(Debug, Clone)]
pub(super) struct Model {
    pub(super) structure: Arc<Structure>,
    pub(super) groupings: Arc<Vec<Grouping>>,
    pub(super) cross: Cross,
    /// A shorter way to the deviance, where the levels of the largest term allow it.
    pub(super) gathered: Option<Arc<Gathered>>,
    pub(super) fixed: Arc<Fixed>,
    pub(super) rows: usize,
    /// Length of the least-squares residual, in the unit of the outcome.
    pub(super) scale: f64,
}

/// The fixed part by least squares.
#[derive(Debug, Clone)]
pub(super) struct Fixed {
    qr: PivotedQr,
    /// `n x p` with orthonormal columns.
    pub(super) basis: DMatrix<f64>,
    /// Coefficients by least squares.
    pub(super) coefficients: Vec<f64>,
    /// The residual, of unit length.
    pub(super) residual: Vec<f64>,
    /// As given.
    pub(super) outcome: Vec<f64>,
}

/// The two parts of the deviance that depend on the factors.
#[derive(Debug, Clone, Copy)]
pub(super) struct Parts {
    pub(super) log_determinant: f64,
    pub(super) residual_square: f64,
}

impl Parts {
    /// Minus twice the log-likelihood with the residual variance at its best, up to units.
    pub(super) fn profiled(&self, degrees: f64) -> f64 {
        let variance = self.residual_square / degrees;
        self.log_determinant + degrees * (1.0 + (TAU * variance).ln())
    }

    /// The same at a given residual variance.
    pub(super) fn at(&self, degrees: f64, variance: f64) -> f64 {
        self.log_determinant + degrees * (TAU * variance).ln() + self.residual_square / variance
    }
}

impl Model {
    pub(super) fn new(
        design: &Design,
        outcome: &[f64],
        terms: &[RandomTerm],
    ) -> Result<Self, StatsError> {
        require_length("the outcome", design.rows(), outcome.len())?;
        require_finite("the outcome", outcome)?;
        if terms.is_empty() {
            return Err(StatsError::Empty { what: "the list of random terms".into() });
        }
        let groupings: Result<Vec<Grouping>, StatsError> =
            terms.iter().map(|term| Grouping::new(term, design.rows())).collect();
        let groupings = groupings?;
        for (place, grouping) in groupings.iter().enumerate() {
            if groupings[..place].iter().any(|other| other.name == grouping.name) {
                return Err(StatsError::DuplicateColumn { name: grouping.name.clone() });
            }
        }
        let (fixed, scale) = Fixed::new(design, outcome)?;
        let structure = Structure::new(&groupings, design.columns())?;
        let cross = Cross::new(&structure, &groupings, &fixed.basis, &fixed.residual);
        let gathered = Gathered::of(&structure, &groupings, &fixed.basis, &fixed.residual);
        Ok(Self {
            structure: Arc::new(structure),
            groupings: Arc::new(groupings),
            cross,
            gathered: gathered.map(Arc::new),
            fixed: Arc::new(fixed),
            rows: design.rows(),
            scale,
        })
    }

    /// `n - p` for REML, `n` for maximum likelihood.
    pub(super) fn degrees(&self, criterion: Criterion) -> f64 {
        match criterion {
            Criterion::Reml => (self.rows - self.structure.fixed) as f64,
            Criterion::MaximumLikelihood => self.rows as f64,
        }
    }

    pub(super) fn factor(&self, factors: &[DMatrix<f64>]) -> Option<Factor> {
        Factor::new(&self.structure, &self.cross, factors)
    }

    pub(super) fn parts(&self, factors: &[DMatrix<f64>], criterion: Criterion) -> Option<Parts> {
        match &self.gathered {
            Some(gathered) => gathered.parts(factors, criterion),
            None => Some(parts_of(&self.factor(factors)?, criterion)),
        }
    }

    /// The fixed effects' block of the factor, the parts, and their derivatives in every entry of the factors.
    pub(super) fn slopes(
        &self,
        factors: &[DMatrix<f64>],
        criterion: Criterion,
    ) -> Option<(DMatrix<f64>, Parts, Slopes)> {
        if let Some(gathered) = &self.gathered {
            return gathered.slopes(factors, criterion);
        }
        let factor = self.factor(factors)?;
        let restricted = criterion == Criterion::Reml;
        let inverse = Inverse::new(&self.structure, &factor, restricted);
        let solution = factor.solution(&self.structure);
        let slopes = Slopes::new(&self.structure, &self.cross, factors, &solution, &inverse);
        let parts = parts_of(&factor, criterion);
        Some((factor.fixed_block(&self.structure), parts, slopes))
    }

    /// The deviance in the units of the data, from that of the working ones.
    pub(super) fn in_units(&self, deviance: f64, criterion: Criterion) -> f64 {
        let stretch = match criterion {
            Criterion::Reml => 2.0 * self.fixed.qr.log_volume(),
            Criterion::MaximumLikelihood => 0.0,
        };
        deviance + stretch + self.degrees(criterion) * 2.0 * self.scale.ln()
    }
}

/// Covariance of the fixed effects in the orthonormal basis, over the residual variance, from their block of the factor.
pub(super) fn fixed_covariance(block: DMatrix<f64>) -> DMatrix<f64> {
    nalgebra::Cholesky::pack_dirty(block).inverse()
}

pub(super) fn parts_of(factor: &Factor, criterion: Criterion) -> Parts {
    let restricted = match criterion {
        Criterion::Reml => factor.log_determinant_fixed,
        Criterion::MaximumLikelihood => 0.0,
    };
    Parts {
        log_determinant: factor.log_determinant_random + restricted,
        residual_square: factor.residual_square,
    }
}

impl Fixed {
    /// Least squares, and the length of its residual.
    fn new(design: &Design, outcome: &[f64]) -> Result<(Self, f64), StatsError> {
        let (rows, columns) = (design.rows(), design.columns());
        if rows <= columns {
            return Err(StatsError::TooFewRows { rows, columns });
        }
        let qr = PivotedQr::new(design.matrix.view(), RANK_TOLERANCE);
        let dependent = qr.set_aside();
        if !dependent.is_empty() {
            let columns = dependent.iter().map(|&column| design.names[column].clone());
            return Err(StatsError::RankDeficient { columns: columns.collect() });
        }
        let centre = if design.has_intercept() { mean(outcome)? } else { 0.0 };
        let centred: Vec<f64> = outcome.iter().map(|value| value - centre).collect();
        let mut effects = qr.effects(&centred);
        let mut coefficients = qr.solve(&effects);
        if design.has_intercept() {
            coefficients[0] += centre;
        }
        effects[..columns].fill(0.0);
        let mut residual = qr.rotate_back(&effects);
        let scale = sum_of_squares(&residual).sqrt();
        let size = sum_of_squares(outcome).sqrt();
        if scale <= ROUNDING * size {
            let what = "the outcome, once the columns are taken out,".into();
            return Err(StatsError::NoVariation { what });
        }
        if !size.is_finite() {
            return Err(StatsError::OutOfRange {
                what: "the sum of squares of the outcome".into(),
                value: size,
                expected: "a number that a double can hold".into(),
            });
        }
        residual.iter_mut().for_each(|value| *value /= scale);
        let (basis, outcome) = (qr.thin_q(), outcome.to_vec());
        Ok((Self { basis, qr, coefficients, residual, outcome }, scale))
    }

    /// A contrast of the coefficients, seen from the orthonormal basis: `R^{-T} c`.
    pub(super) fn turned(&self, contrast: &[f64]) -> DVector<f64> {
        DVector::from_vec(self.qr.solve_transposed(contrast))
    }

    /// Coefficients of the data's columns, `p` numbers of the basis added to those of least squares.
    pub(super) fn coefficients(&self, along: &[f64], scale: f64) -> Vec<f64> {
        let mut effects = vec![0.0; self.basis.nrows()];
        for (effect, value) in effects.iter_mut().zip(along) {
            *effect = value * scale;
        }
        let moved = self.qr.solve(&effects);
        self.coefficients.iter().zip(moved).map(|(b, move_)| b + move_).collect()
    }
}
