//! What the model says of each level.

use super::TermsFit;
use super::inverse::{Inverse, effects};
use crate::stats::error::{StatsError, require_length};
use nalgebra::DMatrix;

/// The coefficients of one level, shrunken towards zero by how little is known of them.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelEffect {
    /// The level's code.
    pub code: usize,
    /// Rows of the level.
    pub count: usize,
    /// Conditional means: the intercept, in the unit of the outcome, then the slopes.
    pub values: Vec<f64>,
    /// Prediction error covariance of them, the uncertainty of the fixed effects included, that of the variances not.
    pub prediction_covariance: DMatrix<f64>,
}

/// A value of the model with the variance of its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// In the unit of the outcome.
    pub value: f64,
    /// Prediction error variance, in squared units.
    pub variance: f64,
}

impl TermsFit {
    /// Conditional means of one term's coefficients (best linear unbiased predictors) at every level, by rising code, with the prediction error covariance of
    /// `u - u^` (Henderson 1975, Biometrics 31, 423-447), `s^2 L H^{-1} L'`.
    ///
    /// # Errors
    /// `UnknownColumn` for a term that the model does not have.
    pub fn effects(&self, term: &str) -> Result<Vec<LevelEffect>, StatsError> {
        let place = self.place_of(term)?;
        let structure = &self.model.structure;
        let shape = structure.terms[place];
        let factors = self.factors();
        let solution = effects(structure, &factors, &self.factor.solution(structure));
        let inverse = Inverse::new(structure, &self.factor, true);
        let grouping = &self.model.groupings[shape.given];
        let levels = grouping.codes.iter().zip(&grouping.counts).enumerate();
        let each = levels.map(|(level, (&code, &count))| {
            let at = structure.unknown(place, level);
            let own = inverse.block(structure, at, shape.size);
            let covariance = &factors[place] * own * factors[place].transpose();
            let value = |i: usize| solution[at + i] * self.model.scale / grouping.scales[i];
            LevelEffect {
                code,
                count,
                values: (0..shape.size).map(value).collect(),
                prediction_covariance: DMatrix::from_fn(shape.size, shape.size, |i, j| {
                    covariance[(i, j)] * self.sd_residual.powi(2)
                        / grouping.scales[i]
                        / grouping.scales[j]
                }),
            }
        });
        Ok(each.collect())
    }

    /// `c'b` plus weighted coefficients of levels, `(term, code, weights)`, with the variance of its error, all covariances included. A lot's mean is the row
    /// of column means and the lot's intercept with the weight 1; the difference of two lots is a contrast of zeros and the weights 1 and -1.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast; `UnknownColumn` for a term, `UnknownLevel` for a code, `LengthMismatch` for weights that are not one a
    /// coefficient.
    pub fn predict(
        &self,
        contrast: &[f64],
        levels: &[(&str, usize, &[f64])],
    ) -> Result<Prediction, StatsError> {
        let structure = &self.model.structure;
        let factors = self.factors();
        let mut right = vec![0.0; structure.random() + structure.fixed];
        right[structure.random()..].copy_from_slice(self.turned(contrast)?.as_slice());
        let mut value = self.combine(contrast);
        let solution = self.factor.solution(structure);
        for (term, code, weights) in levels {
            let (place, at) = self.unknown_of(term, *code)?;
            let grouping = &self.model.groupings[structure.terms[place].given];
            require_length("the weights of a level", grouping.size(), weights.len())?;
            crate::stats::error::require_finite("the weights of a level", weights)?;
            for (i, (weight, scale)) in weights.iter().zip(&grouping.scales).enumerate() {
                for j in 0..grouping.size() {
                    let along = weight / scale * factors[place][(i, j)];
                    right[at + j] += along;
                    value += along * solution[at + j] * self.model.scale;
                }
            }
        }
        let solved = self.factor.solve(structure, &right);
        let spread: f64 = right.iter().zip(&solved).map(|(a, b)| a * b).sum();
        Ok(Prediction { value, variance: spread * self.sd_residual.powi(2) })
    }

    /// The place of a term in the order of elimination.
    pub(super) fn place_of(&self, term: &str) -> Result<usize, StatsError> {
        let shapes = self.model.structure.terms.iter();
        let place =
            shapes.map(|s| &self.model.groupings[s.given].name).position(|name| name == term);
        place.ok_or_else(|| StatsError::UnknownColumn { name: term.into() })
    }

    fn unknown_of(&self, term: &str, code: usize) -> Result<(usize, usize), StatsError> {
        let place = self.place_of(term)?;
        let grouping = &self.model.groupings[self.model.structure.terms[place].given];
        let level = grouping.codes.binary_search(&code).map_err(|_| StatsError::UnknownLevel {
            factor: term.into(),
            level: code.to_string(),
        })?;
        Ok((place, self.model.structure.unknown(place, level)))
    }
}
