//! Families of points: k-means and Gaussian mixtures with the number of families chosen, one allowed.

mod adjusted_rand;
mod cloud;
mod expectation;
mod gap;
mod k_means;
mod lloyd;
mod mixture;
mod one_family;
mod silhouette;
mod stability;
mod unimodal;

pub use adjusted_rand::adjusted_rand_index;
pub use gap::{GapStatistic, gap_statistic};
pub use k_means::{Clusters, k_means, k_means_each};
pub use mixture::{Mixture, MixtureChoice, MixtureShape, choose_mixture, gaussian_mixture};
pub use one_family::{OneFamilyTest, one_family_test, sampled_rows, unimodal_gap};
pub use silhouette::{mean_silhouette, silhouettes, silhouettes_of_all};
pub use stability::bootstrap_jaccard;

use crate::stats::error::StatsError;
use ndarray::{Array2, ArrayView1};

/// How hard to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClusterOptions {
    /// Largest number of families tried. Default 8.
    pub most: usize,
    /// Random starts of every k-means on the data. Default 50.
    pub restarts: usize,
    /// Reference samples of the gap statistic. Default 100.
    pub references: usize,
    /// Bootstrap samples of the stability. Default 100.
    pub replicates: usize,
    /// Seed of everything random. Default 1.
    pub seed: u64,
}

impl Default for ClusterOptions {
    fn default() -> Self {
        Self { most: 8, restarts: 50, references: 100, replicates: 100, seed: 1 }
    }
}

/// Squared Euclidean distance.
fn squared_distance(left: ArrayView1<'_, f64>, right: ArrayView1<'_, f64>) -> f64 {
    let pairs = left.into_iter().zip(right);
    pairs.map(|(a, b)| (a - b) * (a - b)).sum()
}

/// Number of different rows; refuses an empty matrix and what is no number.
fn distinct_points(points: &Array2<f64>) -> Result<usize, StatsError> {
    if points.is_empty() {
        let what = "the matrix of points".into();
        return Err(StatsError::Empty { what });
    }
    for ((row, column), &value) in points.indexed_iter() {
        if !value.is_finite() {
            let what = format!("column {column} of the points");
            return Err(StatsError::NotFinite { what, row, value });
        }
    }
    // adding 0.0 makes the two zeros one
    let bits = |row: ArrayView1<'_, f64>| row.iter().map(|v| (v + 0.0).to_bits()).collect();
    let rows: std::collections::BTreeSet<Vec<u64>> = points.rows().into_iter().map(bits).collect();
    Ok(rows.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;
    use rand_distr::{Distribution, StandardNormal};

    /// Round clouds of unit spread about the given centres.
    pub(super) fn clouds(centres: &[[f64; 2]], size: usize, seed: u64) -> Array2<f64> {
        let mut generator = stream(seed, 0);
        Array2::from_shape_fn((centres.len() * size, 2), |(row, column)| {
            let noise: f64 = StandardNormal.sample(&mut generator);
            centres[row / size][column] + noise
        })
    }
}
