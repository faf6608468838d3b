//! Whether clusters come back in another sample.

use super::{ClusterOptions, Clusters, distinct_points, k_means};
use crate::stats::error::{StatsError, require_length};
use crate::stats::resample::{bootstrap_indices, replicate};
use ndarray::{Array2, Axis};
use rand::RngExt;

/// Stability of every cluster (Hennig 2007, Computational Statistics & Data Analysis 52, 258-271): points are drawn with replacement, repeats dropped, the rest
/// clustered again, and the largest Jaccard share `|A and B| / |A or B|` of the cluster's drawn points with a new cluster is averaged over the samples. Under
/// 0.6 a cluster should not be trusted, over 0.85 it is very stable (Hennig's guidance).
///
/// A sample that holds no point of a cluster does not count for it; a sample with too few different points counts for none.
///
/// # Errors
/// `LengthMismatch`; `Empty`, `NotFinite`; `NotConverged` where no sample counts for some cluster.
pub fn bootstrap_jaccard(
    points: &Array2<f64>,
    clusters: &Clusters,
    options: &ClusterOptions,
) -> Result<Vec<f64>, StatsError> {
    distinct_points(points)?;
    let memberships = &clusters.memberships;
    require_length("the list of memberships", points.nrows(), memberships.len())?;
    let count = clusters.sizes.len();
    // other streams than those of the gap statistic
    let seed = options.seed ^ 0x5bd1_e995;
    let samples = replicate(seed, options.replicates, |generator| {
        let mut rows = bootstrap_indices(generator, points.nrows());
        rows.sort_unstable();
        rows.dedup();
        let drawn = points.select(Axis(0), &rows);
        let again = k_means(&drawn, count, options.restarts, generator.random()).ok()?;
        let old: Vec<usize> = rows.iter().map(|&row| memberships[row]).collect();
        let shares = (0..count).map(|cluster| best_share(&old, &again.memberships, cluster, count));
        Some(shares.collect::<Vec<Option<f64>>>())
    });
    let of = |cluster: usize| {
        let shares = samples.iter().flatten().filter_map(|sample| sample[cluster]);
        let shares: Vec<f64> = shares.collect();
        crate::stats::numeric::mean(&shares).map_err(|_| StatsError::NotConverged {
            what: format!("the stability of cluster {cluster}"),
        })
    };
    (0..count).map(of).collect()
}

/// Largest Jaccard share of one old cluster with any new one; `None` where none of its points was drawn.
fn best_share(old: &[usize], new: &[usize], cluster: usize, count: usize) -> Option<f64> {
    if !old.contains(&cluster) {
        return None;
    }
    let share = |other: usize| {
        let (mut both, mut either) = (0.0, 0.0);
        for (&a, &b) in old.iter().zip(new) {
            both += f64::from(a == cluster && b == other);
            either += f64::from(a == cluster || b == other);
        }
        both / either
    };
    Some((0..count).map(share).fold(0.0, f64::max))
}

#[cfg(test)]
mod tests {
    use super::super::tests::clouds;
    use super::*;

    #[test]
    fn the_share_is_hand_worked() {
        // old cluster 0 = {0, 1, 2}; new cluster 1 = {1, 2, 3}: 2 of 4
        let share = best_share(&[0, 0, 0, 1], &[0, 1, 1, 1], 0, 2);
        assert_eq!(share, Some(0.5));
        assert_eq!(best_share(&[1, 1], &[0, 1], 0, 2), None);
    }

    #[test]
    fn cutting_one_cloud_in_five_is_less_stable_than_parting_two() {
        let options = ClusterOptions { replicates: 30, restarts: 10, ..Default::default() };
        let one = clouds(&[[0.0, 0.0]], 60, 5);
        let cut = k_means(&one, 5, 10, 1).unwrap();
        let two = clouds(&[[0.0, 0.0], [10.0, 0.0]], 30, 5);
        let parted = k_means(&two, 2, 10, 1).unwrap();
        let weak = bootstrap_jaccard(&one, &cut, &options).unwrap();
        let firm = bootstrap_jaccard(&two, &parted, &options).unwrap();
        assert!(weak.iter().any(|&share| share < 0.85), "{weak:?}");
        assert!(firm.iter().all(|&share| share > 0.95), "{firm:?}");
    }
}
