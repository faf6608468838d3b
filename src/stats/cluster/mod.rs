//! Families of points: k-means and Gaussian mixtures with the number of families chosen, one allowed.

mod adjusted_rand;
mod expectation;
mod gap;
mod k_means;
mod lloyd;
mod mixture;
mod silhouette;
mod stability;

pub use adjusted_rand::adjusted_rand_index;
pub use gap::{GapStatistic, gap_statistic};
pub use k_means::{Clusters, k_means, k_means_each};
pub use mixture::{Mixture, MixtureChoice, MixtureShape, choose_mixture, gaussian_mixture};
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

/// The families that the gap statistic supports.
#[derive(Debug, Clone, PartialEq)]
pub struct Families {
    /// The chosen clustering; a single cluster where nothing speaks for more.
    pub clusters: Clusters,
    /// The gap statistic for every number tried.
    pub gap: GapStatistic,
    /// Mean silhouette, from -1 to 1; `None` for one family.
    pub silhouette: Option<f64>,
    /// Bootstrap Jaccard stability of every family, from 0 to 1; empty for one family.
    pub stability: Vec<f64>,
}

/// Chooses the number of families by the gap statistic and describes the result. Points are taken as they are: standardise columns of different units first.
///
/// # Errors
/// As [`gap_statistic`].
pub fn find_families(
    points: &Array2<f64>,
    options: &ClusterOptions,
) -> Result<Families, StatsError> {
    let gap = gap_statistic(points, options)?;
    let clusters = k_means(points, gap.chosen, options.restarts, options.seed)?;
    let (silhouette, stability) = if gap.chosen > 1 {
        let silhouette = mean_silhouette(points, &clusters.memberships)?;
        (Some(silhouette), bootstrap_jaccard(points, &clusters, options)?)
    } else {
        (None, Vec::new())
    };
    Ok(Families { clusters, gap, silhouette, stability })
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

    fn quick() -> ClusterOptions {
        ClusterOptions { most: 4, restarts: 5, references: 20, replicates: 20, seed: 4 }
    }

    #[test]
    fn one_cloud_is_one_family() {
        let found = find_families(&clouds(&[[0.0, 0.0]], 80, 1), &quick()).unwrap();
        assert_eq!(found.clusters.centres.nrows(), 1);
        assert_eq!(found.silhouette, None);
        assert!(found.stability.is_empty());
    }

    #[test]
    fn three_clouds_apart_are_three_stable_families() {
        let points = clouds(&[[0.0, 0.0], [12.0, 0.0], [0.0, 12.0]], 25, 2);
        let found = find_families(&points, &quick()).unwrap();
        assert_eq!(found.clusters.sizes, [25, 25, 25]);
        assert!(found.silhouette.unwrap() > 0.7);
        assert!(found.stability.iter().all(|&share| share > 0.95));
    }

    #[test]
    fn the_answer_does_not_depend_on_the_number_of_threads() {
        let points = clouds(&[[0.0, 0.0], [3.0, 0.0]], 20, 3);
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| find_families(&points, &quick()).unwrap())
        };
        assert_eq!(on(1), on(3));
    }

    #[test]
    fn points_that_are_all_equal_are_refused_and_duplicates_are_not() {
        let flat = Array2::from_elem((6, 2), 1.5);
        assert!(matches!(find_families(&flat, &quick()), Err(StatsError::NoVariation { .. })));
        let twice = Array2::from_shape_fn((12, 2), |(row, _)| (row / 6) as f64);
        let found = find_families(&twice, &quick()).unwrap();
        assert_eq!(found.gap.gaps.len(), 1);
        let bad = Array2::from_elem((6, 2), f64::INFINITY);
        assert!(matches!(find_families(&bad, &quick()), Err(StatsError::NotFinite { .. })));
    }
}
