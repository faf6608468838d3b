//! Rules for groups they have not seen.

use super::cross_validation::validate;
use super::gram::Gram;
use super::moments::{Folds, Moments, dealt, held_out_and_left};
use super::path::{self, GridOptions, check_grid};
use super::solver::DEPENDENT;
use super::{PenalisedFit, check_penalty};
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_length};
use crate::stats::products::{GroupProducts, Products};
use rayon::prelude::*;

/// For each fold the linear rule of least squares, or of ridge with a penalty as in [`super::Ridge`], on the groups of the others; from
/// cross-products, `O(p^3)` a fold. A column that does not vary there gets the coefficient 0.
///
/// # Errors
/// `OutOfRange` for a penalty that is negative or no number; `LengthMismatch` for folds of other data; `RankDeficient` where a penalty of 0 leaves the coefficients
/// undecided.
pub fn leave_out_linear(
    products: &Products,
    folds: &Folds,
    penalty: f64,
) -> Result<Vec<PenalisedFit>, StatsError> {
    check_penalty(penalty)?;
    folds.check(products)?;
    let groups: Vec<&GroupProducts> = products.groups.iter().collect();
    let size = products.names.len() + 1;
    let parts = held_out_and_left(size, &groups, &folds.of_group, folds.count);
    parts.par_iter().map(|(_, left)| linear(left, penalty, &products.names)).collect()
}

/// Least squares or ridge from cross-products, by Cholesky.
fn linear(left: &Moments, penalty: f64, names: &[String]) -> Result<PenalisedFit, StatsError> {
    let gram = Gram::new(left)?;
    let mut matrix = gram.among.clone();
    for place in 0..gram.columns.len() {
        matrix[(place, place)] += penalty / left.rows as f64;
    }
    let factor = matrix
        .cholesky()
        .filter(|factor| factor.l_dirty().diagonal().iter().all(|pivot| pivot * pivot > DEPENDENT));
    let Some(factor) = factor else {
        return Err(StatsError::RankDeficient { columns: gram.dependent_names(names) });
    };
    let solution = factor.solve(&gram.with_outcome);
    Ok(gram.fit(penalty, solution.as_slice()))
}

/// How the elastic net of each fold finds its penalty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NestedOptions {
    /// Penalties tried. Default: the lasso's 60 down to a thousandth of the largest.
    pub grid: GridOptions,
    /// Folds of groups inside. Default 10.
    pub inner_folds: usize,
    /// Seed of the dealing of groups to inner folds. Default 1.
    pub seed: u64,
}

impl Default for NestedOptions {
    fn default() -> Self {
        Self { grid: GridOptions::default(), inner_folds: 10, seed: 1 }
    }
}

/// For each fold the elastic net of the groups of the others, its penalty chosen by cross-validation among those groups alone (nested, so that the score is honest;
/// Stone 1974, Journal of the Royal Statistical Society B 36, 111-147). Where the mean alone predicts at least as well inside, the rule is the mean.
///
/// # Errors
/// `LengthMismatch` for folds of other data; `OutOfRange` for an option; `NotConverged`.
pub fn leave_out_elastic_net(
    products: &Products,
    folds: &Folds,
    options: &NestedOptions,
) -> Result<Vec<PenalisedFit>, StatsError> {
    check_grid(&options.grid)?;
    folds.check(products)?;
    let size = products.names.len() + 1;
    (0..folds.count)
        .into_par_iter()
        .map(|fold| {
            let pairs = products.groups.iter().zip(&folds.of_group);
            let others: Vec<&GroupProducts> =
                pairs.filter(|&(_, &of)| of != fold).map(|(group, _)| group).collect();
            chosen_fit(size, &others, options, fold as u64)
        })
        .collect()
}

/// The elastic net of some groups with the penalty of the least cross-validated error, groups dealt to at most so many folds; the mean alone where fewer than
/// two groups are at hand, where the outcome does not vary, or where the mean alone predicts at least as well as any penalty.
fn chosen_fit(
    size: usize,
    groups: &[&GroupProducts],
    options: &NestedOptions,
    replicate: u64,
) -> Result<PenalisedFit, StatsError> {
    let gram = Gram::new(&Moments::of(size, groups.iter().copied()))?;
    let mean_alone = gram.fit(f64::INFINITY, &vec![0.0; gram.columns.len()]);
    let Ok(penalties) = path::grid(&gram, &options.grid) else {
        return Ok(mean_alone);
    };
    if groups.len() < 2 {
        return Ok(mean_alone);
    }
    let count = options.inner_folds.clamp(2, groups.len());
    let of_group = dealt(groups.len(), count, options.seed, replicate);
    let parts = held_out_and_left(size, groups, &of_group, count);
    let validation = validate(&parts, options.grid.mixing, &penalties)?;
    if validation.mean_squared_errors[validation.minimum] >= validation.without_columns {
        return Ok(mean_alone);
    }
    // the path down to the choice, for a warm start
    let mut fits =
        path::fits(&gram, options.grid.mixing, &validation.penalties[..=validation.minimum])?;
    Ok(fits.pop().unwrap_or(mean_alone))
}

/// Predictions of every row by the rule of its fold.
///
/// # Errors
/// `LengthMismatch` where rows, folds, columns or rules do not fit together.
pub fn predict_by_fold(
    design: &Design,
    folds: &Folds,
    rules: &[PenalisedFit],
) -> Result<Vec<f64>, StatsError> {
    require_length("the list of folds", design.rows(), folds.of_row.len())?;
    require_length("the list of rules", folds.count, rules.len())?;
    for rule in rules {
        require_length("the coefficients of a rule", design.columns(), rule.coefficients.len())?;
    }
    let rows = design.matrix.rows().into_iter().zip(&folds.of_row);
    Ok(rows.map(|(row, &fold)| rules[fold].value_at(row.iter().copied())).collect())
}

#[cfg(test)]
mod tests {}
