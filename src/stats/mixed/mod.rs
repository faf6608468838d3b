//! Linear mixed models.
//!
//! [`fit_mixed_terms`] fits any number of crossed or nested random terms; [`fit_mixed`] the commonest model, one random intercept, at a cost that does not
//! depend on the rows: `y = X b + u_g + e`, `u_g ~ N(0, t^2)` once a group, `e ~ N(0, s^2)` once a row, fitted by REML or maximum likelihood from each group's
//! cross-products, so that the cost depends on groups and columns and not on rows.

mod bootstrap;
mod kenward_roger;
mod likelihood_draws;
mod predict;
mod profile;
mod solution;
mod terms;
mod tests_of_effects;
mod wald;

pub use bootstrap::VarianceComponents;
pub use kenward_roger::KenwardRoger;
pub use predict::{GroupEffect, GroupMean};
pub use profile::ProfileIntervals;
pub use terms::{
    LevelEffect, LikelihoodRatio, Prediction, RandomTerm, SpreadDraw, SpreadIntervals, TermSpread,
    TermsFit, fit_mixed_terms,
};

use crate::stats::design::Design;
use crate::stats::error::StatsError;
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE};
use crate::stats::products::Products;
use crate::stats::refit::Refit;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use solution::{Solution, Working};
use std::f64::consts::TAU;

/// The share of a column's length that must be left for the products to vouch for its rank: its square stands well above rounding.
const SURE_OF_RANK: f64 = 1e-4;

/// What is maximised.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Criterion {
    /// Restricted maximum likelihood (Patterson & Thompson 1971): the default, because its variances allow for the fixed effects.
    Reml,
    /// Maximum likelihood: for comparing fixed effects and for profile intervals.
    MaximumLikelihood,
}

/// A fitted model.
#[derive(Debug, Clone)]
pub struct MixedFit {
    /// Column names of the fixed effects.
    pub names: Vec<String>,
    /// Fixed effects `b`, in units of the outcome per unit of the column.
    pub coefficients: Vec<f64>,
    /// Standard deviation `t` between groups, in the unit of the outcome.
    pub sd_group: f64,
    /// Standard deviation `s` inside groups, in the unit of the outcome.
    pub sd_residual: f64,
    /// Whether the best `t` is zero: groups differ no more than their members do. A normal result, and not a failure.
    pub at_boundary: bool,
    /// The log-likelihood of the criterion at its maximum, with all constants.
    pub log_likelihood: f64,
    /// What was maximised.
    pub criterion: Criterion,
    /// Rows.
    pub rows: usize,
    /// Codes of the groups, rising.
    pub groups: Vec<usize>,
    working: Working,
    solution: Solution,
}

/// Fits the model. The relative variance `(t / s)^2` is profiled (Bates, Maechler, Bolker & Walker 2015, Journal of Statistical Software 67(1), section 3): a
/// grid finds the valley of the deviance, a root of its analytic derivative the bottom.
///
/// # Errors
/// `LengthMismatch`, `NotFinite`; `TooFewRows`; `RankDeficient` with the columns; `TooFewGroups` where the groups left after the columns that are constant
/// inside groups show no spread; `NoDegreesOfFreedom` where groups of one row leave no error inside groups; `NoVariation` where the columns and groups fit
/// the outcome exactly; `NotConverged`.
pub fn fit_mixed(
    design: &Design,
    outcome: &[f64],
    groups: &[usize],
    criterion: Criterion,
) -> Result<MixedFit, StatsError> {
    let products = Products::new(design, outcome, groups)?;
    require_full_rank(design, &products)?;
    at_best(&products, design.has_intercept(), criterion)
}

/// Fits the model to products that were summed elsewhere; the numbers of [`fit_mixed`].
///
/// # Errors
/// As [`fit_mixed`]; a column is a combination of the others from the point on that [`crate::stats::refit`] names.
pub fn fit_mixed_products(
    products: &Products,
    criterion: Criterion,
) -> Result<MixedFit, StatsError> {
    let refit = Refit::new(products)?;
    refit.fit()?;
    at_best(products, refit.has_intercept(), criterion)
}

fn at_best(
    products: &Products,
    has_intercept: bool,
    criterion: Criterion,
) -> Result<MixedFit, StatsError> {
    let working = Working::new(products, has_intercept, criterion)?;
    working.require_identified()?;
    let ratio = working.best_ratio()?;
    let codes = products.groups.iter().map(|group| group.code).collect();
    MixedFit::at(working, ratio, products.names.clone(), codes)
}

fn require_full_rank(design: &Design, products: &Products) -> Result<(), StatsError> {
    if design.rows() <= design.columns() {
        return Err(StatsError::TooFewRows { rows: design.rows(), columns: design.columns() });
    }
    if surely_of_full_rank(products, design.has_intercept()) {
        return Ok(());
    }
    let dependent = PivotedQr::new(design.matrix.view(), RANK_TOLERANCE).set_aside();
    if dependent.is_empty() {
        return Ok(());
    }
    let columns = dependent.iter().map(|&column| design.names[column].clone());
    Err(StatsError::RankDeficient { columns: columns.collect() })
}

/// Whether the cross-products alone show that no column comes near a combination of the others, which spares a second pass over the rows: after centring
/// (where there is an intercept) more than a ten-thousandth of every column's length is left, and as much of that beside the columns before it.
fn surely_of_full_rank(products: &Products, has_intercept: bool) -> bool {
    let skipped = usize::from(has_intercept);
    let columns = products.names.len() - skipped;
    let plain = products.total();
    let mut cross = plain.clone();
    if has_intercept {
        let mean = products.grand_mean();
        cross.ger(-(products.rows() as f64), &mean, &mean, 1.0);
    }
    let length = |place: usize| cross[(place + skipped, place + skipped)].sqrt();
    let lengths: Vec<f64> = (0..columns).map(length).collect();
    let long = |place: usize| {
        lengths[place] > SURE_OF_RANK * plain[(place + skipped, place + skipped)].sqrt()
    };
    let scaled = DMatrix::from_fn(columns, columns, |i, j| {
        cross[(i + skipped, j + skipped)] / lengths[i] / lengths[j]
    });
    let left = |factor: Cholesky<f64, Dyn>| factor.l_dirty().diagonal().min() > SURE_OF_RANK;
    columns == 0 || ((0..columns).all(long) && scaled.cholesky().is_some_and(left))
}

impl MixedFit {
    fn at(
        working: Working,
        ratio: f64,
        names: Vec<String>,
        groups: Vec<usize>,
    ) -> Result<Self, StatsError> {
        let solution = working.solve(ratio)?;
        let variance = working.outcome_scale.powi(2) * solution.variance(working.degrees());
        Ok(Self {
            names,
            coefficients: working.original_coefficients(&solution.coefficients),
            sd_group: (ratio * variance).sqrt(),
            sd_residual: variance.sqrt(),
            at_boundary: ratio == 0.0,
            log_likelihood: working.log_likelihood(&solution),
            criterion: working.criterion,
            rows: working.rows,
            groups,
            working,
            solution,
        })
    }

    /// `(t / s)^2`.
    fn ratio(&self) -> f64 {
        self.solution.ratio
    }

    /// Share of the spread that lies between groups, `t^2 / (t^2 + s^2)`: the correlation of two rows of a group.
    pub fn intraclass_correlation(&self) -> f64 {
        self.ratio() / (1.0 + self.ratio())
    }

    /// Residual variance in working units.
    fn working_variance(&self) -> f64 {
        self.solution.variance(self.working.degrees())
    }

    /// A contrast of the coefficients, seen from the working columns.
    fn working_contrast(&self, contrast: &[f64]) -> Result<DVector<f64>, StatsError> {
        crate::stats::error::require_length("the contrast", self.names.len(), contrast.len())?;
        crate::stats::error::require_finite("the contrast", contrast)?;
        Ok(self.working.contrast(contrast))
    }
}

/// `1 + ln(2 pi x)`, the constant part of a profiled normal deviance.
fn log_normal_constant(variance: f64) -> f64 {
    1.0 + (TAU * variance).ln()
}

#[cfg(test)]
mod tests;
