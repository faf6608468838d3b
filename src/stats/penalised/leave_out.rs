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
/// `OutOfRange` for a penalty that is negative or no number; `LengthMismatch` for folds of other data; `RankDeficient` where a penalty of 0 leaves the
/// coefficients undecided.
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

/// For each fold the elastic net of the groups of the others, its penalty chosen by cross-validation among those groups alone (nested, so that the score is
/// honest; Stone 1974, Journal of the Royal Statistical Society B 36, 111-147). Where the mean alone predicts at least as well inside, the rule is the mean.
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
mod tests {
    use super::super::tests::simulated;
    use super::*;
    use crate::stats::linear::least_squares;

    #[test]
    fn the_rule_of_a_fold_is_least_squares_on_the_other_rows() {
        let sample = simulated(40, 3, 5, 1, &[1.0, -1.0], 1.0);
        let folds = Folds::of_groups(&sample.groups, 3, 1).unwrap();
        let rules = leave_out_linear(&sample.products(), &folds, 0.0).unwrap();
        for (fold, rule) in rules.iter().enumerate() {
            let (_, others) = folds.split(fold);
            let mut builder = Design::builder(others.len()).intercept();
            for (place, name) in sample.design.names.iter().enumerate() {
                let column = others.iter().map(|&row| sample.design.matrix[(row, place)]);
                builder = builder.number(name, &column.collect::<Vec<_>>());
            }
            let outcome: Vec<f64> = others.iter().map(|&row| sample.outcome[row]).collect();
            let plain = least_squares(&builder.build().unwrap(), &outcome).unwrap();
            assert!((rule.intercept - plain.coefficients[0]).abs() < 1e-11);
            for (a, b) in rule.coefficients.iter().zip(&plain.coefficients[1..]) {
                assert!((a - b).abs() < 1e-11);
            }
        }
    }

    #[test]
    fn columns_that_repeat_each_other_need_a_penalty() {
        let sample = simulated(20, 2, 4, 2, &[1.0], 1.0);
        let x = sample.design.matrix.column(0).to_vec();
        let design = Design::builder(20).number("x", &x).number("again", &x).build().unwrap();
        let products = Products::new(&design, &sample.outcome, &sample.groups).unwrap();
        let folds = Folds::each_group(&sample.groups).unwrap();
        let fault = leave_out_linear(&products, &folds, 0.0).unwrap_err();
        assert_eq!(fault, StatsError::RankDeficient { columns: vec!["again".into()] });
        assert!(leave_out_linear(&products, &folds, 1.0).is_ok());
        let fault = leave_out_linear(&products, &folds, f64::NAN);
        assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
    }

    #[test]
    fn a_strong_column_is_found_in_every_fold_and_noise_often_gives_the_mean() {
        let sample = simulated(120, 8, 8, 3, &[2.0], 1.0);
        let folds = Folds::each_group(&sample.groups).unwrap();
        let options = NestedOptions::default();
        let rules = leave_out_elastic_net(&sample.products(), &folds, &options).unwrap();
        assert!(rules.iter().all(|rule| rule.coefficients[0] > 1.5));
        let mut means = 0;
        for seed in 0..10 {
            let noise = simulated(40, 8, 5, 50 + seed, &[], 1.0);
            let folds = Folds::each_group(&noise.groups).unwrap();
            let rules = leave_out_elastic_net(&noise.products(), &folds, &options).unwrap();
            means += rules.iter().filter(|rule| rule.kept().is_empty()).count();
        }
        assert!(means >= 20, "{means} of 50");
    }

    #[test]
    fn two_groups_leave_one_to_learn_from_and_so_the_mean() {
        let sample = simulated(20, 3, 2, 4, &[1.0], 1.0);
        let folds = Folds::each_group(&sample.groups).unwrap();
        let rules = leave_out_elastic_net(&sample.products(), &folds, &NestedOptions::default());
        for (fold, rule) in rules.unwrap().iter().enumerate() {
            let (_, others) = folds.split(fold);
            let mean = others.iter().map(|&row| sample.outcome[row]).sum::<f64>() / 10.0;
            assert!(rule.kept().is_empty() && rule.penalty.is_infinite());
            assert!((rule.intercept - mean).abs() < 1e-14);
        }
    }

    #[test]
    fn the_bytes_do_not_depend_on_the_number_of_threads() {
        let sample = simulated(60, 5, 6, 5, &[1.0], 1.0);
        let products = sample.products();
        let folds = Folds::each_group(&sample.groups).unwrap();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            let options = NestedOptions::default();
            let run = || leave_out_elastic_net(&products, &folds, &options).unwrap();
            pool.unwrap().install(run)
        };
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
    }

    #[test]
    fn rules_and_rows_that_do_not_belong_together_are_refused() {
        let sample = simulated(20, 2, 4, 6, &[1.0], 1.0);
        let folds = Folds::each_group(&sample.groups).unwrap();
        let rules = leave_out_linear(&sample.products(), &folds, 1.0).unwrap();
        assert_eq!(predict_by_fold(&sample.design, &folds, &rules).unwrap().len(), 20);
        let fault = predict_by_fold(&sample.design, &folds, &rules[1..]);
        assert!(matches!(fault, Err(StatsError::LengthMismatch { .. })));
        let narrow = sample.design.select(&[0]);
        assert!(predict_by_fold(&narrow, &folds, &rules).is_err());
        let other = Folds::each_group(&[1, 2]).unwrap();
        assert!(predict_by_fold(&sample.design, &other, &rules[..2]).is_err());
        assert!(leave_out_linear(&sample.products(), &other, 1.0).is_err());
    }
}
