//! How many clusters are more than the shape of one cloud would give.

use super::k_means::k_means_unchecked;
use super::{ClusterOptions, distinct_points};
use crate::stats::error::StatsError;
use crate::stats::numeric::mean;
use crate::stats::resample::stream;
use nalgebra::DMatrix;
use ndarray::Array2;
use rand::RngExt;
use rayon::prelude::*;

/// Starts of k-means on a reference sample, which has no clusters to miss.
const REFERENCE_RESTARTS: usize = 10;

/// The gap for 1, 2, ... clusters.
#[derive(Debug, Clone, PartialEq)]
pub struct GapStatistic {
    /// `mean log W* - log W`, without unit.
    pub gaps: Vec<f64>,
    /// Simulation error `s_k = sd(log W*) sqrt(1 + 1 / B)`.
    pub standard_errors: Vec<f64>,
    /// The least `k` with `gap(k) >= gap(k + 1) - s_{k+1}`; the largest tried where there is none.
    pub chosen: usize,
    /// Whether a `k` met the rule.
    pub settled: bool,
}

/// Gap statistic (Tibshirani, Walther & Hastie 2001, Journal of the Royal Statistical Society B 63, 411-423): the logarithm of the within-cluster sum of squares
/// against its mean over samples that are uniform in the box along the principal axes (their choice b), the number of clusters by their one-standard-error
/// rule.
///
/// At most one cluster less than there are different points is tried, since more would leave nothing inside the clusters.
///
/// # Errors
/// `Empty`, `NotFinite`; `NoVariation` where all points are equal; `OutOfRange` without a cluster to try or under two references; as [`fn@super::k_means`].
pub fn gap_statistic(
    points: &Array2<f64>,
    options: &ClusterOptions,
) -> Result<GapStatistic, StatsError> {
    let distinct = distinct_points(points)?;
    if distinct < 2 {
        let what = "the matrix of points".into();
        return Err(StatsError::NoVariation { what });
    }
    require_at_least("the number of clusters tried", options.most, 1)?;
    require_at_least("the number of reference samples", options.references, 2)?;
    let most = options.most.min(distinct - 1);
    let observed = log_within(points, most, options.restarts, options.seed)?;
    let sides = principal_box(points);
    let references: Result<Vec<Vec<f64>>, StatsError> = (0..options.references as u64)
        .into_par_iter()
        .map(|sample| reference(&sides, points.nrows(), most, options.seed, sample))
        .collect();
    compare(&observed, &references?)
}

fn require_at_least(what: &str, value: usize, least: usize) -> Result<(), StatsError> {
    if value >= least {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: what.into(),
        value: value as f64,
        expected: format!("at least {least}"),
    })
}

fn log_within(
    points: &Array2<f64>,
    most: usize,
    restarts: usize,
    seed: u64,
) -> Result<Vec<f64>, StatsError> {
    let each = (1..=most).map(|count| {
        let clusters = k_means_unchecked(points, count, restarts, seed)?;
        Ok(clusters.within_sum_of_squares.ln())
    });
    each.collect()
}

/// Lengths of the box that holds the points along their principal axes. k-means does not see turns or shifts, so lengths are all it takes.
fn principal_box(points: &Array2<f64>) -> Vec<f64> {
    let (rows, columns) = points.dim();
    let mut data = DMatrix::from_fn(rows, columns, |i, j| points[(i, j)]);
    for mut column in data.column_iter_mut() {
        let centre = column.mean();
        column.add_scalar_mut(-centre);
    }
    let axes = data.clone().svd(false, true).v_t;
    let turned = axes.map_or(data.clone(), |axes| &data * axes.transpose());
    turned.column_iter().map(|column| column.max() - column.min()).collect()
}

/// Logarithms of the within sums of squares of one uniform sample.
fn reference(
    sides: &[f64],
    rows: usize,
    most: usize,
    seed: u64,
    sample: u64,
) -> Result<Vec<f64>, StatsError> {
    let mut generator = stream(seed, sample);
    let points = Array2::from_shape_fn((rows, sides.len()), |(_, column)| {
        sides[column] * generator.random::<f64>()
    });
    let start = generator.random();
    log_within(&points, most, REFERENCE_RESTARTS, start)
}

pub(super) fn compare(
    observed: &[f64],
    references: &[Vec<f64>],
) -> Result<GapStatistic, StatsError> {
    let count = references.len() as f64;
    let (mut gaps, mut standard_errors) = (Vec::new(), Vec::new());
    for (place, own) in observed.iter().enumerate() {
        let values: Vec<f64> = references.iter().map(|sample| sample[place]).collect();
        let centre = mean(&values)?;
        let spread = values.iter().map(|value| (value - centre).powi(2)).sum::<f64>() / count;
        gaps.push(centre - own);
        standard_errors.push((spread * (1.0 + 1.0 / count)).sqrt());
    }
    let meets = |k: &usize| gaps[k - 1] >= gaps[*k] - standard_errors[*k];
    let first = (1..gaps.len()).find(meets);
    Ok(GapStatistic {
        settled: first.is_some() || gaps.len() == 1,
        chosen: first.unwrap_or(gaps.len()),
        gaps,
        standard_errors,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_takes_the_first_gap_within_one_error_of_the_next() {
        let found = compare(&[0.0, -2.0, -2.1], &[vec![0.1, 0.0, -0.1], vec![-0.1, 0.0, 0.1]]);
        let found = found.unwrap();
        assert_eq!(found.chosen, 2);
        assert!(found.settled);
        // gap(3) = 2.1 and s_3 = 0.1 sqrt(1.5)
        assert!((found.standard_errors[2] - 0.1 * 1.5_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn a_gap_that_keeps_rising_is_not_settled() {
        let found = compare(&[0.0, -1.0, -2.0], &[vec![0.0; 3], vec![0.0; 3]]).unwrap();
        assert_eq!((found.chosen, found.settled), (3, false));
    }

    #[test]
    fn the_box_lies_along_the_principal_axes() {
        // points on the diagonal: length 4 sqrt(2), no width
        let points = Array2::from_shape_fn((5, 2), |(row, _)| row as f64);
        let sides = principal_box(&points);
        assert!((sides[0] - 32_f64.sqrt()).abs() < 1e-12);
        assert!(sides[1].abs() < 1e-12);
    }

    #[test]
    fn impossible_options_are_refused() {
        let points = Array2::from_shape_fn((5, 1), |(row, _)| row as f64);
        let none = ClusterOptions { most: 0, ..Default::default() };
        assert!(matches!(gap_statistic(&points, &none), Err(StatsError::OutOfRange { .. })));
        let one = ClusterOptions { references: 1, ..Default::default() };
        assert!(matches!(gap_statistic(&points, &one), Err(StatsError::OutOfRange { .. })));
    }
}
