//! The uncertainty of the spreads, by simulation from the fitted model.

use super::TermsFit;
use super::model::Model;
use super::spreads;
use crate::stats::resample::replicate;
use nalgebra::{DMatrix, DVector};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use std::sync::Arc;

/// The standard deviations of one replicate.
#[derive(Debug, Clone, PartialEq)]
pub struct SpreadDraw {
    /// One a coefficient of every term, in the order given, in units of the outcome per unit of the column.
    pub terms: Vec<Vec<f64>>,
    /// Of the rows, in the unit of the outcome.
    pub sd_residual: f64,
}

impl TermsFit {
    /// Standard deviations of samples drawn from the fitted model and fitted again by the same criterion (Davison & Hinkley 1997, section 4.2.3). Replicates
    /// whose fit does not converge are left out. One ChaCha stream a replicate: the same result on any number of threads.
    pub fn parametric_bootstrap(&self, replicates: usize, seed: u64) -> Vec<SpreadDraw> {
        let projected = self.model.projected();
        let draws = replicate(seed, replicates, |generator| {
            let sample = self.model.with_outcome(&projected, &self.draw(generator));
            let parameters = sample.best(self.criterion, Some(&self.parameters)).ok()?;
            let factors = super::parameters::factors(&sample.sizes(), &parameters);
            let square = sample.factor(&factors)?.residual_square;
            let sd_residual = sample.scale * (square / sample.degrees(self.criterion)).sqrt();
            let terms = spreads(&sample, &factors, sd_residual);
            let each = terms.iter().map(|term| {
                (0..term.coefficients.len()).map(|place| term.standard_deviation(place)).collect()
            });
            Some(SpreadDraw { terms: each.collect(), sd_residual })
        });
        draws.into_iter().flatten().collect()
    }

    /// An outcome of the fitted model in the unit of the data, without its fixed part, on which no spread depends.
    pub(super) fn draw(&self, generator: &mut impl Rng) -> Vec<f64> {
        let mut outcome: Vec<f64> =
            (0..self.rows).map(|_| self.sd_residual * normal(generator)).collect();
        for (shape, factor) in self.model.structure.terms.iter().zip(self.factors()) {
            let grouping = &self.model.groupings[shape.given];
            let white = DMatrix::from_fn(shape.size, shape.levels, |_, _| normal(generator));
            let effects = factor * white * self.sd_residual;
            for (row, value) in outcome.iter_mut().enumerate() {
                let level = grouping.of_row[row] as usize;
                for coefficient in 0..shape.size {
                    *value += grouping.value(row, coefficient) * effects[(coefficient, level)];
                }
            }
        }
        outcome
    }
}

impl Model {
    /// The same model of another outcome; `projected` is `Z'Q`.
    pub(super) fn with_outcome(&self, projected: &DMatrix<f64>, outcome: &[f64]) -> Self {
        let outcome = DVector::from_column_slice(outcome);
        let along = self.fixed.basis.tr_mul(&outcome);
        let residual = outcome - &self.fixed.basis * &along;
        let scale = residual.norm();
        let mut random = vec![0.0; self.structure.random()];
        for (term, shape) in self.structure.terms.iter().enumerate() {
            let grouping = &self.groupings[shape.given];
            for (row, value) in residual.iter().enumerate() {
                let first = self.structure.unknown(term, grouping.of_row[row] as usize);
                for coefficient in 0..shape.size {
                    random[first + coefficient] += grouping.value(row, coefficient) * value / scale;
                }
            }
        }
        let mut cross = self.cross.clone();
        // the rounding that projection left in Q'e is taken out once more
        let left = self.fixed.basis.tr_mul(&residual) / scale;
        let correction = projected * &left;
        random.iter_mut().zip(correction.iter()).for_each(|(value, c)| *value -= c);
        cross.set_outcome(&self.structure, &random, &DVector::zeros(left.len()), 1.0);
        Self {
            structure: Arc::clone(&self.structure),
            groupings: Arc::clone(&self.groupings),
            fixed: Arc::clone(&self.fixed),
            cross,
            gathered: None,
            rows: self.rows,
            scale,
        }
    }
}

fn normal(generator: &mut impl Rng) -> f64 {
    StandardNormal.sample(generator)
}
