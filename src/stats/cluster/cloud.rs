//! One cloud that is like the points in everything but their clumps.

use super::unimodal::Unimodal;
use crate::stats::error::StatsError;
use crate::stats::numeric::{normal_cdf, normal_quantile};
use nalgebra::DMatrix;
use ndarray::{Array2, Axis};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

/// Added to the diagonal of the correlations, so that columns that repeat each other can be drawn.
const RIDGE: f64 = 1e-9;

/// A distribution with a single cloud that keeps every column's shape and the columns' correlations: the nearest unimodal distribution of each column
/// ([`Unimodal`]), joined by a normal copula with the correlations of the normal scores. The idea of such a reference is that of Helgeson, Vock & Bair (2021,
/// Biometrics 77, 1215-1226), who smooth with a kernel until one mode is left; a kernel wide enough for that hides heavy tails.
pub(super) struct OneCloud {
    columns: Vec<Unimodal>,
    /// Lower Cholesky factor of the correlations.
    factor: DMatrix<f64>,
    rows: usize,
}

impl OneCloud {
    /// # Errors
    /// `NotConverged` where the correlations have no factor.
    pub fn of(points: &Array2<f64>) -> Result<Self, StatsError> {
        let (rows, count) = points.dim();
        let each: Vec<Vec<f64>> =
            points.columns().into_iter().map(|column| column.to_vec()).collect();
        let scores: Vec<Vec<f64>> = each.iter().map(|column| normal_scores(column)).collect();
        let correlations = DMatrix::from_fn(count, count, |i, j| {
            if i == j { 1.0 + RIDGE } else { correlation(&scores[i], &scores[j]) }
        });
        let factor = correlations.cholesky().ok_or_else(|| StatsError::NotConverged {
            what: "the correlations of the columns".into(),
        })?;
        let columns = each.iter().map(|column| Unimodal::nearest(column)).collect();
        Ok(Self { columns, factor: factor.l(), rows })
    }

    /// As many points as there were.
    pub fn draw(&self, generator: &mut impl Rng) -> Array2<f64> {
        let count = self.columns.len();
        let mut points = Array2::zeros((self.rows, count));
        for mut row in points.rows_mut() {
            let free: Vec<f64> =
                (0..count).map(|_| StandardNormal.sample(&mut *generator)).collect();
            for (column, cell) in row.iter_mut().enumerate() {
                let terms = free.iter().take(column + 1).enumerate();
                let score: f64 = terms.map(|(place, z)| self.factor[(column, place)] * z).sum();
                *cell = self.columns[column].quantile(normal_cdf(score));
            }
        }
        points
    }
}

/// Normal quantiles of the ranks, equal values at their middle rank (van der Waerden 1952).
fn normal_scores(column: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..column.len()).collect();
    order.sort_by(|&a, &b| column[a].total_cmp(&column[b]));
    let mut scores = vec![0.0; column.len()];
    let mut start = 0;
    while start < order.len() {
        let value = column[order[start]];
        let count = order[start..].iter().take_while(|&&row| column[row] == value).count();
        let middle = (2 * start + count) as f64 / (2 * column.len()) as f64;
        for &row in &order[start..start + count] {
            scores[row] = normal_quantile(middle);
        }
        start += count;
    }
    scores
}

/// Of columns that average zero; 0 where one of them does not vary.
fn correlation(left: &[f64], right: &[f64]) -> f64 {
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let size = (product(left, left) * product(right, right)).sqrt();
    if size > 0.0 { product(left, right) / size } else { 0.0 }
}

/// Columns of mean 0 and standard deviation 1; one that does not vary becomes 0.
pub(super) fn standardised(points: &Array2<f64>) -> Array2<f64> {
    let mut standard = points.clone();
    let rows = points.nrows() as f64;
    for mut column in standard.axis_iter_mut(Axis(1)) {
        let centre = column.sum() / rows;
        column.mapv_inplace(|value| value - centre);
        let spread = (column.dot(&column) / (rows - 1.0)).sqrt();
        let scale = if spread > 0.0 { 1.0 / spread } else { 0.0 };
        column.mapv_inplace(|value| value * scale);
    }
    standard
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;
    use rand::RngExt;

    #[test]
    fn scores_are_the_normal_quantiles_of_middle_ranks() {
        let scores = normal_scores(&[3.0, 1.0, 3.0, 7.0]);
        // ranks 1, 2.5, 2.5, 4 less a half, of 4
        let expected = [0.5, 0.125, 0.5, 0.875].map(normal_quantile);
        for (found, expected) in scores.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn a_draw_keeps_the_shape_of_the_columns_and_their_correlation() {
        let mut generator = stream(5, 0);
        let points = Array2::from_shape_fn((400, 2), |(row, column)| {
            let shared = (row as f64 * 0.618_034).fract() * 4.0;
            let own = generator.random::<f64>();
            if column == 0 { (shared + own).exp() } else { shared + own }
        });
        let drawn = OneCloud::of(&points).unwrap().draw(&mut generator);
        let median = |points: &Array2<f64>, column: usize| {
            let mut values = points.column(column).to_vec();
            values.sort_by(f64::total_cmp);
            values[200]
        };
        assert!((median(&drawn, 1) - median(&points, 1)).abs() < 0.4);
        assert!((median(&drawn, 0).ln() - median(&points, 0).ln()).abs() < 0.4);
        let linked = |points: &Array2<f64>| {
            let scores = [0, 1].map(|at| normal_scores(&points.column(at).to_vec()));
            correlation(&scores[0], &scores[1])
        };
        assert!((linked(&drawn) - linked(&points)).abs() < 0.1);
    }

    #[test]
    fn columns_that_repeat_each_other_can_be_drawn() {
        let points = Array2::from_shape_fn((20, 3), |(row, _)| row as f64);
        let drawn = OneCloud::of(&points).unwrap().draw(&mut stream(1, 0));
        for row in drawn.rows() {
            assert!((row[0] - row[2]).abs() < 0.01);
        }
    }
}
