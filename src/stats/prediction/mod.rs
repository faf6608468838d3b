//! Whether columns predict groups that were not seen.

use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::{mean, sum_of_squares};
use crate::stats::penalised::Folds;
use crate::stats::resample::{permutation, permutation_within_groups, replicate};
use rayon::prelude::*;

/// How well rows are predicted by fits that have not seen their group.
#[derive(Debug, Clone, PartialEq)]
pub struct OutOfGroup {
    /// The prediction of every row, in the unit of the outcome.
    pub predictions: Vec<f64>,
    /// `1 - sum (y - prediction)^2 / sum (y - mean of the other folds)^2`: 0 for a rule no better than the mean that it could have known, below 0 for
    /// a worse one.
    pub r_squared: f64,
    /// Mean absolute error.
    pub mean_absolute_error: f64,
    /// The same for the mean of the other folds.
    pub mean_absolute_error_of_mean: f64,
}

/// Which outcomes change places under "the columns say nothing".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exchange {
    /// Rows of one group among themselves: asks whether the columns tell rows of a group apart, and stays right where groups differ. A
    /// group of one row keeps its outcome, so with one row a group nothing moves and the p value is 1.
    WithinGroups,
    /// Any two rows: right only where rows of a group are no more alike than others.
    Anywhere,
}

/// A prediction score and how often chance alone reaches it.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictionTest {
    /// The score of the data.
    pub observed: OutOfGroup,
    /// Out-of-group R^2 of each permutation.
    pub permuted: Vec<f64>,
    /// `(1 + #{permuted >= observed}) / (1 + permutations)` (Phipson & Smyth 2010, Statistical Applications in Genetics and Molecular Biology 9, 39).
    pub p_value: f64,
}

/// Scores given predictions of every row, each made without the row's fold.
///
/// # Errors
/// `LengthMismatch`, `NotFinite`, `Empty`; `NoVariation` for an outcome that does not vary.
pub fn score_predictions(
    outcome: &[f64],
    folds: &Folds,
    predictions: Vec<f64>,
) -> Result<OutOfGroup, StatsError> {
    require_length("the outcome", folds.of_row.len(), outcome.len())?;
    require_length("the list of predictions", outcome.len(), predictions.len())?;
    require_finite("the outcome", outcome)?;
    require_finite("the predictions", &predictions)?;
    if outcome.iter().all(|&value| value == outcome[0]) {
        return Err(StatsError::NoVariation { what: "the outcome".into() });
    }
    let means = means_of_others(outcome, folds)?;
    let of_mean =
        errors(outcome, &folds.of_row.iter().map(|&fold| means[fold]).collect::<Vec<_>>());
    let of_rule = errors(outcome, &predictions);
    let absolute = |errors: &[f64]| mean(&errors.iter().map(|e| e.abs()).collect::<Vec<_>>());
    Ok(OutOfGroup {
        r_squared: 1.0 - sum_of_squares(&of_rule) / sum_of_squares(&of_mean),
        mean_absolute_error: absolute(&of_rule)?,
        mean_absolute_error_of_mean: absolute(&of_mean)?,
        predictions,
    })
}

fn errors(outcome: &[f64], predictions: &[f64]) -> Vec<f64> {
    outcome.iter().zip(predictions).map(|(y, prediction)| y - prediction).collect()
}

/// For each fold the mean outcome of the rows of the others.
fn means_of_others(outcome: &[f64], folds: &Folds) -> Result<Vec<f64>, StatsError> {
    let centre = mean(outcome)?;
    let (mut sums, mut counts) = (vec![0.0; folds.count], vec![0.0; folds.count]);
    for (value, &fold) in outcome.iter().zip(&folds.of_row) {
        sums[fold] += value - centre;
        counts[fold] += 1.0;
    }
    let (sum, count) = (sums.iter().sum::<f64>(), outcome.len() as f64);
    // at least two folds have rows, so others are left
    Ok((0..folds.count).map(|fold| centre + (sum - sums[fold]) / (count - counts[fold])).collect())
}

/// Predictions of every row by a rule fitted on the rows of the other folds, in parallel over folds.
///
/// `fit` gets the rows to learn from and the rows to predict, and gives one prediction for each of the latter.
///
/// # Errors
/// Those of `fit`; `LengthMismatch` where it gives another number of predictions.
pub fn predict_left_out(
    folds: &Folds,
    fit: impl Fn(&[usize], &[usize]) -> Result<Vec<f64>, StatsError> + Sync,
) -> Result<Vec<f64>, StatsError> {
    let of_fold = |fold: usize| -> Result<Vec<(usize, f64)>, StatsError> {
        let (held_out, others) = folds.split(fold);
        let found = fit(&others, &held_out)?;
        require_length("the list of predictions", held_out.len(), found.len())?;
        Ok(held_out.into_iter().zip(found).collect())
    };
    let parts: Result<Vec<_>, StatsError> = (0..folds.count).into_par_iter().map(of_fold).collect();
    let mut predictions = vec![0.0; folds.of_row.len()];
    for (row, value) in parts?.into_iter().flatten() {
        predictions[row] = value;
    }
    Ok(predictions)
}

/// Whether columns predict groups that were not seen, by permuting outcomes and predicting anew.
///
/// `predict` gets an outcome for every row and gives for every row a prediction made without its fold ([`predict_left_out`], or
/// [`leave_out_elastic_net`](crate::stats::penalised::leave_out_elastic_net) with [`predict_by_fold`](crate::stats::penalised::predict_by_fold)). One ChaCha
/// stream a permutation.
///
/// # Errors
/// As [`score_predictions`]; those of `predict`; `OutOfRange` without permutations.
pub fn prediction_test(
    outcome: &[f64],
    groups: &[usize],
    folds: &Folds,
    exchange: Exchange,
    permutations: usize,
    seed: u64,
    predict: impl Fn(&[f64]) -> Result<Vec<f64>, StatsError> + Sync,
) -> Result<PredictionTest, StatsError> {
    require_length("the list of groups", outcome.len(), groups.len())?;
    if permutations == 0 {
        let what = "the number of permutations".into();
        return Err(StatsError::OutOfRange { what, value: 0.0, expected: "1 or more".into() });
    }
    let observed = score_predictions(outcome, folds, predict(outcome)?)?;
    let permuted = replicate(seed, permutations, |generator| {
        let order = match exchange {
            Exchange::WithinGroups => permutation_within_groups(generator, groups),
            Exchange::Anywhere => permutation(generator, outcome.len()),
        };
        let moved: Vec<f64> = order.into_iter().map(|row| outcome[row]).collect();
        let predictions = predict(&moved)?;
        Ok(score_predictions(&moved, folds, predictions)?.r_squared)
    });
    let permuted: Vec<f64> = permuted.into_iter().collect::<Result<_, StatsError>>()?;
    // equal scores may differ by rounding
    let reached = |score: &&f64| **score >= observed.r_squared - 1e-10;
    let count = permuted.iter().filter(reached).count();
    let p_value = (1 + count) as f64 / (1 + permutations) as f64;
    Ok(PredictionTest { observed, permuted, p_value })
}

#[cfg(test)]
mod tests;
