//! The penalty that predicts groups it has not seen.

use super::gram::Gram;
use super::moments::{Folds, Moments, held_out_and_left};
use super::path;
use super::{check_mixing, check_penalty};
use crate::stats::error::StatsError;
use crate::stats::products::{GroupProducts, Products};
use rayon::prelude::*;

/// Prediction errors of each penalty on groups held out.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossValidation {
    /// The penalties tried, falling.
    pub penalties: Vec<f64>,
    /// Mean over all rows of the squared error of the row's prediction without its fold, in squared units of the outcome.
    pub mean_squared_errors: Vec<f64>,
    /// Standard error of that mean from its spread between folds: `sqrt(sum_k (n_k / n) (m_k - m)^2 / (K - 1))` with the folds' own means `m_k`.
    pub standard_errors: Vec<f64>,
    /// The same mean for predicting every row by the mean of the other folds.
    pub without_columns: f64,
    /// Place of the penalty with the least error; the largest such penalty where several are equal.
    pub minimum: usize,
    /// Place of the largest penalty whose error is within one standard error of the least (Breiman, Friedman, Olshen & Stone 1984, Classification and
    /// Regression Trees, section 3.4.3).
    pub one_standard_error: usize,
}

impl CrossValidation {
    /// The penalty with the least error.
    pub fn best_penalty(&self) -> f64 {
        self.penalties[self.minimum]
    }

    /// The largest penalty within one standard error of the least error.
    pub fn cautious_penalty(&self) -> f64 {
        self.penalties[self.one_standard_error]
    }
}

/// Cross-validation of the elastic net with whole groups held out, from cross-products alone; columns are standardised anew in each training part. Parallel
/// over folds, summed in their order: the same bytes on any number of threads.
///
/// # Errors
/// `OutOfRange` for mixing or a penalty; `Empty` without penalties; `LengthMismatch` for folds of other data; `NoVariation` for an outcome that does not
/// vary; `NotConverged`.
pub fn cross_validate(
    products: &Products,
    folds: &Folds,
    mixing: f64,
    penalties: &[f64],
) -> Result<CrossValidation, StatsError> {
    check_mixing(mixing)?;
    penalties.iter().try_for_each(|&penalty| check_penalty(penalty))?;
    folds.check(products)?;
    if penalties.is_empty() {
        return Err(StatsError::Empty { what: "the list of penalties".into() });
    }
    if Gram::new(&Moments::all(products))?.outcome_scale == 0.0 {
        return Err(StatsError::NoVariation { what: "the outcome".into() });
    }
    let groups: Vec<&GroupProducts> = products.groups.iter().collect();
    let size = products.names.len() + 1;
    let parts = held_out_and_left(size, &groups, &folds.of_group, folds.count);
    validate(&parts, mixing, penalties)
}

/// [`cross_validate`] on parts that were checked.
pub(super) fn validate(
    parts: &[(Moments, Moments)],
    mixing: f64,
    penalties: &[f64],
) -> Result<CrossValidation, StatsError> {
    let mut penalties = penalties.to_vec();
    penalties.sort_by(|a, b| b.total_cmp(a));
    let errors: Result<Vec<Vec<f64>>, StatsError> = parts
        .par_iter()
        .map(|(held_out, left)| fold_errors(held_out, left, mixing, &penalties))
        .collect();
    let errors = errors?;
    let rows: Vec<f64> = parts.iter().map(|(held_out, _)| held_out.rows as f64).collect();
    let over_folds = |place: usize| mean_over_folds(&rows, errors.iter().map(|fold| fold[place]));
    let (means, standard_errors): (Vec<f64>, Vec<f64>) =
        (0..penalties.len()).map(over_folds).unzip();
    let (without_columns, _) = over_folds(penalties.len());
    let minimum = (1..means.len()).fold(0, |b, next| if means[next] < means[b] { next } else { b });
    let allowed = means[minimum] + standard_errors[minimum];
    let one_standard_error = means.iter().position(|&mean| mean <= allowed).unwrap_or(minimum);
    Ok(CrossValidation {
        penalties,
        mean_squared_errors: means,
        standard_errors,
        without_columns,
        minimum,
        one_standard_error,
    })
}

/// Sum of squared errors on the fold for each penalty and, last, for the mean alone.
fn fold_errors(
    held_out: &Moments,
    left: &Moments,
    mixing: f64,
    penalties: &[f64],
) -> Result<Vec<f64>, StatsError> {
    let gram = Gram::new(left)?;
    let mut fits = path::fits(&gram, mixing, penalties)?;
    fits.push(gram.fit(f64::INFINITY, &vec![0.0; gram.columns.len()]));
    Ok(fits.iter().map(|fit| held_out.squared_error(fit.intercept, &fit.coefficients)).collect())
}

/// Mean error over rows and its standard error between folds, from sums of squares of the folds.
fn mean_over_folds(rows: &[f64], sums: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let total: f64 = rows.iter().sum();
    let mean = sums.clone().sum::<f64>() / total;
    let spread: f64 = rows
        .iter()
        .zip(sums)
        .map(|(count, sum)| count / total * (sum / count - mean).powi(2))
        .sum();
    (mean, (spread / (rows.len() - 1) as f64).sqrt())
}

#[cfg(test)]
mod tests {}
