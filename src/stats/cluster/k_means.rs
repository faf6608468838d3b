//! k-means with many starts and labels that do not depend on luck.

use super::{distinct_points, squared_distance};
use crate::stats::error::StatsError;
use linfa::DatasetBase;
use linfa::traits::{Fit, Predict};
use linfa_clustering::KMeans;
use ndarray::{Array2, Axis};
use rand_xoshiro::Xoshiro256Plus;
use rand_xoshiro::rand_core::SeedableRng;

/// Movement of the centres at which linfa stops, in units of the points' overall spread.
const TOLERANCE: f64 = 1e-6;
/// Exact steps allowed after linfa.
const MOST_STEPS: usize = 1000;

/// Points parted into clusters. Cluster 0 is the largest; clusters of one size follow the order of their first points.
#[derive(Debug, Clone, PartialEq)]
pub struct Clusters {
    /// The cluster of every point.
    pub memberships: Vec<usize>,
    /// Mean of every cluster, `k x p`, in the units of the points.
    pub centres: Array2<f64>,
    /// Points of every cluster.
    pub sizes: Vec<usize>,
    /// Sum of squared distances of the points to their centres, in squared units.
    pub within_sum_of_squares: f64,
}

/// Least within-cluster sum of squares over many starts (Lloyd 1957, published 1982; starts by Arthur & Vassilvitskii 2007), through linfa-clustering with a
/// seeded xoshiro generator.
///
/// linfa counts its old centre as one more point of a cluster and so stops a little short; exact Lloyd steps finish. The points are brought to unit
/// overall spread first, so that its tolerance has no unit.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` unless `1 <= count <= ` the number of different points, or without a start; `Backend`; `NotConverged`.
pub fn k_means(
    points: &Array2<f64>,
    count: usize,
    restarts: usize,
    seed: u64,
) -> Result<Clusters, StatsError> {
    let distinct = distinct_points(points)?;
    if count == 0 || count > distinct {
        return Err(StatsError::OutOfRange {
            what: "the number of clusters".into(),
            value: count as f64,
            expected: format!("1 to {distinct}, the number of different points"),
        });
    }
    k_means_unchecked(points, count, restarts, seed)
}

/// [`k_means`] where the caller has checked the points and their number.
pub(super) fn k_means_unchecked(
    points: &Array2<f64>,
    count: usize,
    restarts: usize,
    seed: u64,
) -> Result<Clusters, StatsError> {
    if count == 1 {
        return finished(points, vec![0; points.nrows()], 1);
    }
    let memberships = linfa_memberships(&unit_spread(points), count, restarts, seed)?;
    let memberships = settled(points, memberships, count)?;
    finished(points, memberships, count)
}

fn linfa_memberships(
    points: &Array2<f64>,
    count: usize,
    restarts: usize,
    seed: u64,
) -> Result<Vec<usize>, StatsError> {
    let dataset = DatasetBase::from(points.clone());
    let refused =
        |message: String| StatsError::Backend { what: "linfa-clustering".into(), message };
    let model = KMeans::params_with_rng(count, Xoshiro256Plus::seed_from_u64(seed))
        .n_runs(restarts)
        .tolerance(TOLERANCE)
        .fit(&dataset)
        .map_err(|fault| refused(fault.to_string()))?;
    let memberships = model.predict(&dataset);
    Ok(memberships.iter().copied().collect())
}

/// The points less their mean, divided by the root of their mean squared distance from it.
fn unit_spread(points: &Array2<f64>) -> Array2<f64> {
    let Some(centre) = points.mean_axis(Axis(0)) else {
        return points.clone();
    };
    let centred = points - &centre;
    let squares: f64 = centred.iter().map(|value| value * value).sum();
    let spread = (squares / points.nrows() as f64).sqrt();
    if spread > 0.0 { centred / spread } else { centred }
}

/// Exact Lloyd steps until no point moves. An empty cluster takes the point farthest from its centre.
fn settled(
    points: &Array2<f64>,
    mut memberships: Vec<usize>,
    count: usize,
) -> Result<Vec<usize>, StatsError> {
    for _ in 0..MOST_STEPS {
        fill_empty(points, &mut memberships, count);
        let centres = centres_of(points, &memberships, count);
        let next: Vec<usize> = points
            .rows()
            .into_iter()
            .zip(&memberships)
            .map(|(point, &own)| nearest(&centres, point, own))
            .collect();
        if next == memberships {
            return Ok(memberships);
        }
        memberships = next;
    }
    let what = "k-means".into();
    Err(StatsError::NotConverged { what })
}

fn fill_empty(points: &Array2<f64>, memberships: &mut [usize], count: usize) {
    for cluster in 0..count {
        if memberships.contains(&cluster) {
            continue;
        }
        let centres = centres_of(points, memberships, count);
        let distance =
            |row: usize| squared_distance(points.row(row), centres.row(memberships[row]));
        let farthest = (0..memberships.len()).max_by(|&a, &b| distance(a).total_cmp(&distance(b)));
        if let Some(row) = farthest {
            memberships[row] = cluster;
        }
    }
}

/// The nearest centre; the own one among equals, so that the steps end.
fn nearest(centres: &Array2<f64>, point: ndarray::ArrayView1<'_, f64>, own: usize) -> usize {
    let mut best = (squared_distance(point, centres.row(own)), own);
    for (cluster, centre) in centres.rows().into_iter().enumerate() {
        let distance = squared_distance(point, centre);
        if distance < best.0 {
            best = (distance, cluster);
        }
    }
    best.1
}

fn centres_of(points: &Array2<f64>, memberships: &[usize], count: usize) -> Array2<f64> {
    let mut centres = Array2::zeros((count, points.ncols()));
    let mut sizes = vec![0.0; count];
    for (point, &cluster) in points.rows().into_iter().zip(memberships) {
        let mut centre = centres.row_mut(cluster);
        centre += &point;
        sizes[cluster] += 1.0;
    }
    for (mut centre, size) in centres.rows_mut().into_iter().zip(sizes) {
        centre /= f64::max(size, 1.0);
    }
    centres
}

/// Clusters relabelled by size and first point, with their sums.
fn finished(
    points: &Array2<f64>,
    memberships: Vec<usize>,
    count: usize,
) -> Result<Clusters, StatsError> {
    let mut order: Vec<usize> = (0..count).collect();
    let size = |cluster: usize| memberships.iter().filter(|&&m| m == cluster).count();
    let first = |cluster: usize| memberships.iter().position(|&m| m == cluster);
    order.sort_by_key(|&cluster| (std::cmp::Reverse(size(cluster)), first(cluster)));
    let mut label = vec![0; count];
    for (place, &cluster) in order.iter().enumerate() {
        label[cluster] = place;
    }
    let memberships: Vec<usize> = memberships.iter().map(|&cluster| label[cluster]).collect();
    let centres = centres_of(points, &memberships, count);
    let mut sizes = vec![0; count];
    let mut within = Vec::with_capacity(memberships.len());
    for (point, &cluster) in points.rows().into_iter().zip(&memberships) {
        sizes[cluster] += 1;
        within.push(squared_distance(point, centres.row(cluster)));
    }
    Ok(Clusters {
        memberships,
        centres,
        sizes,
        within_sum_of_squares: crate::stats::numeric::sum(&within),
    })
}

#[cfg(test)]
mod tests {
    use super::super::tests::clouds;
    use super::*;
    use ndarray::array;

    #[test]
    fn labels_go_by_size_and_then_by_the_first_point() {
        let points = array![[9.0], [0.0], [0.1], [9.1], [0.2], [20.0], [20.1]];
        let found = k_means(&points, 3, 20, 1).unwrap();
        assert_eq!(found.memberships, [1, 0, 0, 1, 0, 2, 2]);
        assert_eq!(found.sizes, [3, 2, 2]);
    }

    #[test]
    fn one_cluster_has_the_total_sum_of_squares() {
        let found = k_means(&array![[1.0], [2.0], [6.0]], 1, 1, 1).unwrap();
        assert_eq!(found.within_sum_of_squares, 14.0);
        assert_eq!(found.centres[(0, 0)], 3.0);
    }

    #[test]
    fn as_many_clusters_as_different_points_leave_nothing() {
        let points = array![[1.0], [1.0], [2.0], [6.0]];
        let found = k_means(&points, 3, 30, 1).unwrap();
        assert_eq!(found.within_sum_of_squares, 0.0);
        assert!(matches!(k_means(&points, 4, 30, 1), Err(StatsError::OutOfRange { .. })));
    }

    #[test]
    fn the_unit_of_the_points_does_not_matter() {
        let points = clouds(&[[0.0, 0.0], [6.0, 1.0]], 15, 7);
        let plain = k_means(&points, 2, 10, 3).unwrap();
        let tiny = k_means(&(&points * 1e-6), 2, 10, 3).unwrap();
        assert_eq!(plain.memberships, tiny.memberships);
    }

    #[test]
    fn more_clusters_never_fit_worse() {
        let points = clouds(&[[0.0, 0.0], [3.0, 1.0]], 20, 9);
        let within: Vec<f64> = (1..=6)
            .map(|count| k_means(&points, count, 40, 2).unwrap().within_sum_of_squares)
            .collect();
        assert!(within.windows(2).all(|pair| pair[1] < pair[0]));
    }
}
