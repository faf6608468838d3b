//! A linear mixed model with any number of random terms, crossed or nested.
//!
//! `y = X b + sum_t Z_t u_t + e`: every level of a term has its own deviation `u ~ N(0, S_t)`, an intercept and where asked slopes, and every row its own
//! `e ~ N(0, s^2)`. The deviance is a function of the relative covariance factors (`S_t = s^2 L_t L_t'`) alone, by penalised least squares (Bates, Maechler,
//! Bolker & Walker 2015, Journal of Statistical Software 67(1)); its gradient is analytic and its minimum found by Newton's method.

mod bootstrap;
mod compare;
mod conditional;
mod corrected;
mod cross;
mod factor;
mod fixed_effects;
mod gathered;
mod identify;
mod inverse;
mod model;
mod newton;
mod parameters;
mod profile;
mod structure;
mod term;

pub use bootstrap::SpreadDraw;
pub use compare::LikelihoodRatio;
pub use conditional::{LevelEffect, Prediction};
pub use profile::SpreadIntervals;
pub use term::RandomTerm;

use super::Criterion;
use crate::stats::design::Design;
use crate::stats::error::StatsError;
use factor::Factor;
use fixed_effects::Curvature;
use model::Model;
use nalgebra::DMatrix;
use std::sync::{Arc, OnceLock};

/// How far the levels of one term spread.
#[derive(Debug, Clone, PartialEq)]
pub struct TermSpread {
    /// The term's name.
    pub name: String,
    /// `intercept` and the names of the slopes.
    pub coefficients: Vec<String>,
    /// Covariance `S` of the coefficients of a level, in units of the outcome squared per units of the two columns.
    pub covariance: DMatrix<f64>,
    /// Levels.
    pub levels: usize,
    /// Whether `S` is singular: a variance of zero, or a perfect correlation. A normal result, and not a failure.
    pub at_boundary: bool,
}

impl TermSpread {
    /// Standard deviation of one coefficient; the intercept is the first. NaN for a coefficient the term does not have.
    pub fn standard_deviation(&self, coefficient: usize) -> f64 {
        let place = (coefficient, coefficient);
        self.covariance.get(place).map_or(f64::NAN, |variance| variance.sqrt())
    }
}

/// A fitted model with any number of random terms.
#[derive(Debug, Clone)]
pub struct TermsFit {
    /// Column names of the fixed effects.
    pub names: Vec<String>,
    /// Fixed effects `b`, in units of the outcome per unit of the column.
    pub coefficients: Vec<f64>,
    /// The random terms, in the order given.
    pub terms: Vec<TermSpread>,
    /// Standard deviation `s` of the rows, in the unit of the outcome.
    pub sd_residual: f64,
    /// Whether a term lies at the boundary: see [`TermSpread::at_boundary`].
    pub at_boundary: bool,
    /// The log-likelihood of the criterion at its maximum, with all constants.
    pub log_likelihood: f64,
    /// What was maximised.
    pub criterion: Criterion,
    /// Rows.
    pub rows: usize,
    model: Arc<Model>,
    parameters: Vec<f64>,
    factor: Factor,
    /// Computed when degrees of freedom are first asked for.
    curvature: OnceLock<Option<Curvature>>,
}

/// Fits the model. Terms may be nested or crossed in any way; one term may have any number of levels, and those nested in each other too, while crossed ones
/// besides may have 4,000 coefficients together.
///
/// # Errors
/// `LengthMismatch`, `NotFinite`; `Empty` without terms; `DuplicateColumn` for two terms or slopes of one name; `TooFewRows` unless `n > p`; `RankDeficient`
/// with the columns; `TooFewGroups` for a term of one level; `NoVariation` for a slope that is constant, or where the columns, or columns and terms together,
/// fit the outcome exactly; `Confounded` where a term cannot be told from another or from the columns; `NoDegreesOfFreedom` where it cannot be told from the
/// rows, or the terms fit any outcome; `OutOfRange` for crossed terms that are too large; `NotConverged`.
pub fn fit_mixed_terms(
    design: &Design,
    outcome: &[f64],
    terms: &[RandomTerm],
    criterion: Criterion,
) -> Result<TermsFit, StatsError> {
    let model = Model::new(design, outcome, terms)?;
    model.require_identified()?;
    let parameters = model.best(criterion, None)?;
    TermsFit::at(Arc::new(model), parameters, &design.names, criterion)
}

impl TermsFit {
    fn at(
        model: Arc<Model>,
        parameters: Vec<f64>,
        names: &[String],
        criterion: Criterion,
    ) -> Result<Self, StatsError> {
        let factors = parameters::factors(&model.sizes(), &parameters);
        let Some(factor) = model.factor(&factors) else {
            let what = "the factorisation of the mixed model".into();
            return Err(StatsError::NotConverged { what });
        };
        let variance = factor.residual_square / model.degrees(criterion);
        let sd_residual = model.scale * variance.sqrt();
        let solution = factor.solution(&model.structure);
        let along = &solution[model.structure.random()..];
        let terms = spreads(&model, &factors, sd_residual);
        let deviance = model.deviance(&parameters, criterion);
        Ok(Self {
            names: names.to_vec(),
            coefficients: model.fixed.coefficients(along, model.scale),
            at_boundary: terms.iter().any(|term| term.at_boundary),
            terms,
            sd_residual,
            log_likelihood: -0.5 * model.in_units(deviance, criterion),
            criterion,
            rows: model.rows,
            model,
            parameters,
            factor,
            curvature: OnceLock::new(),
        })
    }

    /// The relative covariance factors, in the order of elimination.
    fn factors(&self) -> Vec<DMatrix<f64>> {
        parameters::factors(&self.model.sizes(), &self.parameters)
    }

    /// Share of the variance of a row that lies between the levels of each term, in the order given: `S / (sum of all S + s^2)`, the correlation of two rows
    /// that share that level alone. Slopes count at the value zero of their columns.
    pub fn intraclass_correlations(&self) -> Vec<f64> {
        let variances: Vec<f64> = self.terms.iter().map(|term| term.covariance[(0, 0)]).collect();
        let total: f64 = variances.iter().sum::<f64>() + self.sd_residual.powi(2);
        variances.iter().map(|variance| variance / total).collect()
    }
}

/// Covariances in the units of the data, in the order the terms were given.
fn spreads(model: &Model, factors: &[DMatrix<f64>], sd_residual: f64) -> Vec<TermSpread> {
    let mut spreads: Vec<(usize, TermSpread)> = Vec::with_capacity(factors.len());
    for (shape, factor) in model.structure.terms.iter().zip(factors) {
        let grouping = &model.groupings[shape.given];
        let relative = factor * factor.transpose();
        let covariance = DMatrix::from_fn(shape.size, shape.size, |i, j| {
            relative[(i, j)] * sd_residual.powi(2) / grouping.scales[i] / grouping.scales[j]
        });
        let spread = TermSpread {
            name: grouping.name.clone(),
            coefficients: grouping.coefficients.clone(),
            covariance,
            levels: shape.levels,
            at_boundary: factor.diagonal().iter().any(|&value| value == 0.0),
        };
        spreads.push((shape.given, spread));
    }
    spreads.sort_by_key(|(given, _)| *given);
    spreads.into_iter().map(|(_, spread)| spread).collect()
}

#[cfg(test)]
mod tests;
