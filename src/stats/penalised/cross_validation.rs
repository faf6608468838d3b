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
        // a place in the list of penalties, as is the next
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
mod tests {
    use super::super::tests::{Sample, simulated};
    use super::*;
    use crate::stats::design::Design;
    use crate::stats::penalised::elastic_net;
    use ndarray::Axis;

    #[test]
    fn errors_from_products_are_those_of_fits_to_the_other_rows() {
        let sample = simulated(60, 5, 6, 1, &[1.0, -0.5], 1.0);
        let folds = Folds::of_groups(&sample.groups, 3, 4).unwrap();
        let penalties = [0.5, 0.1, 0.02];
        let found = cross_validate(&sample.products(), &folds, 0.7, &penalties).unwrap();
        for (place, &penalty) in penalties.iter().enumerate() {
            let of_fold: Vec<f64> =
                (0..3).map(|fold| direct(&sample, &folds, fold, penalty)).collect();
            // the folds are of equal size
            let mean = of_fold.iter().sum::<f64>() / 3.0;
            let spread: f64 = of_fold.iter().map(|m| (m - mean).powi(2)).sum();
            assert!((found.mean_squared_errors[place] - mean).abs() < 1e-9);
            assert!((found.standard_errors[place] - (spread / 3.0 / 2.0).sqrt()).abs() < 1e-9);
        }
    }

    /// Mean squared error on a fold, from its rows.
    fn direct(sample: &Sample, folds: &Folds, fold: usize, penalty: f64) -> f64 {
        let (held_out, others) = folds.split(fold);
        let part = sample.design.matrix.select(Axis(0), &others);
        let part = Design::new(sample.design.names.clone(), part).unwrap();
        let outcome: Vec<f64> = others.iter().map(|&row| sample.outcome[row]).collect();
        let rule = elastic_net(&part, &outcome, penalty, 0.7).unwrap();
        let squares = held_out.iter().map(|&row| {
            let predicted = rule.predict(&sample.design.matrix.row(row).to_vec()).unwrap();
            (sample.outcome[row] - predicted).powi(2)
        });
        squares.sum::<f64>() / held_out.len() as f64
    }

    #[test]
    fn the_cautious_penalty_is_the_largest_within_one_standard_error() {
        let sample = simulated(80, 8, 8, 2, &[1.0, -0.5], 1.0);
        let folds = Folds::each_group(&sample.groups).unwrap();
        let penalties: Vec<f64> = (0..40).map(|step| 0.9_f64.powi(step)).collect();
        let found = cross_validate(&sample.products(), &folds, 1.0, &penalties).unwrap();
        let least = found.mean_squared_errors[found.minimum];
        assert!(found.mean_squared_errors.iter().all(|&error| error >= least));
        let allowed = least + found.standard_errors[found.minimum];
        assert!(found.mean_squared_errors[found.one_standard_error] <= allowed);
        assert!(found.mean_squared_errors[..found.one_standard_error].iter().all(|&e| e > allowed));
        assert!(found.cautious_penalty() > found.best_penalty());
        assert!(least < found.without_columns);
    }

    #[test]
    fn of_equal_errors_the_largest_penalty_is_best() {
        let sample = simulated(40, 3, 4, 3, &[0.5], 1.0);
        let folds = Folds::each_group(&sample.groups).unwrap();
        // nothing enters at either, so both predict the mean
        let found = cross_validate(&sample.products(), &folds, 1.0, &[50.0, 100.0]).unwrap();
        assert_eq!(found.penalties, [100.0, 50.0]);
        assert_eq!((found.minimum, found.one_standard_error), (0, 0));
        assert_eq!(found.mean_squared_errors[0], found.without_columns);
    }

    #[test]
    fn the_bytes_do_not_depend_on_the_number_of_threads() {
        let sample = simulated(70, 6, 7, 4, &[1.0], 1.0);
        let folds = Folds::each_group(&sample.groups).unwrap();
        let products = sample.products();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            let run = || cross_validate(&products, &folds, 1.0, &[0.3, 0.1, 0.01]).unwrap();
            pool.unwrap().install(run)
        };
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
    }

    #[test]
    fn what_cannot_be_validated_is_refused() {
        let mut sample = simulated(20, 3, 4, 5, &[1.0], 1.0);
        let folds = Folds::each_group(&sample.groups).unwrap();
        let products = sample.products();
        let run =
            |folds: &Folds, penalties: &[f64]| cross_validate(&products, folds, 1.0, penalties);
        assert!(matches!(run(&folds, &[]), Err(StatsError::Empty { .. })));
        assert!(matches!(run(&folds, &[f64::NAN]), Err(StatsError::OutOfRange { .. })));
        let other = Folds::each_group(&[1, 2, 3]).unwrap();
        assert!(matches!(run(&other, &[0.1]), Err(StatsError::LengthMismatch { .. })));
        sample.outcome.fill(2.0);
        let fault = cross_validate(&sample.products(), &folds, 1.0, &[0.1]);
        assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn a_column_that_varies_in_one_group_only_is_out_while_that_group_is() {
        let rows = 30;
        let only = (0..rows).map(|row| f64::from(u8::from(row % 3 == 2 && row % 2 == 0)));
        let x: Vec<f64> = (0..rows).map(|row| f64::from(row * row % 11)).collect();
        let design = Design::builder(30)
            .number("only", &only.collect::<Vec<_>>())
            .number("x", &x)
            .build()
            .unwrap();
        let outcome: Vec<f64> =
            x.iter().enumerate().map(|(row, x)| x + (row as f64).cos()).collect();
        let groups: Vec<usize> = (0..30).map(|row| row % 3).collect();
        let products = Products::new(&design, &outcome, &groups).unwrap();
        let folds = Folds::each_group(&groups).unwrap();
        let found = cross_validate(&products, &folds, 1.0, &[0.1, 0.01]).unwrap();
        assert!(found.mean_squared_errors.iter().all(|&error| error < found.without_columns));
    }
}
