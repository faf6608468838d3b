//! k-means with many starts and labels that do not depend on luck.

use super::lloyd::{Packed, Parting};
use super::{distinct_points, squared_distance};
use crate::stats::error::StatsError;
use crate::stats::resample::stream;
use ndarray::{Array2, Axis};
use rayon::prelude::*;

/// Every start steps until a step gains less than this share of the sum of squares; only the best go on.
const ROUGH_GAIN: f64 = 1e-3;
/// How many of the starts go on to the end, at least; and one in how many, where that is more.
const FINALISTS: usize = 2;
const FINAL_SHARE: usize = 10;
/// Steps allowed to the end.
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

/// Least within-cluster sum of squares over many starts (Lloyd 1957, published 1982; starts by Arthur & Vassilvitskii 2007), each start a ChaCha stream of its
/// own, so the result is the same on any number of threads. The points are brought to unit overall spread first, so that no tolerance has a unit.
///
/// All starts step until they hardly gain; the best two, or one in ten where that is more, step until neither a step nor the move
/// of a single point gains (Hartigan 1975), and the least sum of squares wins. A
/// test holds it against linfa-clustering, which counts its old centre as one more point of a cluster, stops short and takes some twenty times as long.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` unless `1 <= count <= ` the number of different points, or without a start; `NotConverged`.
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

/// [`k_means`] for several numbers of clusters, in parallel; in the order of `counts`.
///
/// # Errors
/// As [`k_means`], the first in the order of `counts`.
pub fn k_means_each(
    points: &Array2<f64>,
    counts: &[usize],
    restarts: usize,
    seed: u64,
) -> Result<Vec<Clusters>, StatsError> {
    counts
        .par_iter()
        .map(|&count| k_means(points, count, restarts, seed))
        .collect::<Vec<_>>()
        .into_iter()
        .collect()
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
    if restarts == 0 {
        let (what, expected) = ("the number of starts".into(), "at least 1".into());
        return Err(StatsError::OutOfRange { what, value: 0.0, expected });
    }
    let packed = Packed::new(&unit_spread(points), 0..points.nrows());
    finished(points, best_parting(&packed, count, restarts, seed)?, count)
}

/// The memberships with the least sum of squares.
fn best_parting(
    points: &Packed,
    count: usize,
    restarts: usize,
    seed: u64,
) -> Result<Vec<usize>, StatsError> {
    let starts = (0..restarts as u64).into_par_iter().map(|start| {
        let mut parting = Parting::seeded(points, count, &mut stream(seed, start));
        parting.improve(points, ROUGH_GAIN, MOST_STEPS);
        parting
    });
    let mut starts: Vec<Parting> = starts.collect();
    // a stable sort: among equals the earlier start comes first
    starts.sort_by(|a, b| a.within.total_cmp(&b.within));
    starts.truncate(FINALISTS.max(restarts / FINAL_SHARE));
    let ended: Vec<bool> =
        starts.par_iter_mut().map(|parting| parting.finish(points, MOST_STEPS)).collect();
    let done =
        starts.into_iter().zip(ended).filter(|(_, ended)| *ended).map(|(parting, _)| parting);
    match done.min_by(|a, b| a.within.total_cmp(&b.within)) {
        Some(parting) => Ok(parting.memberships),
        None => Err(StatsError::NotConverged { what: "k-means".into() }),
    }
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
    fn no_start_and_too_many_clusters_are_refused() {
        let points = array![[1.0], [2.0], [6.0]];
        assert_eq!(k_means_each(&points, &[2, 3], 5, 1).unwrap()[1].sizes, [1, 1, 1]);
        assert!(k_means_each(&points, &[2, 4], 5, 1).is_err());
        assert!(matches!(k_means(&points, 2, 0, 1), Err(StatsError::OutOfRange { .. })));
    }

    #[test]
    fn linfa_finds_no_better_clusters() {
        use linfa::traits::{Fit, Predict};
        use rand_xoshiro::rand_core::SeedableRng;
        let points = clouds(&[[0.0, 0.0], [3.0, 1.0], [1.0, 4.0]], 40, 12);
        let dataset = linfa::DatasetBase::from(points.clone());
        for count in 2..=5 {
            let ours = k_means(&points, count, 10, 5).unwrap();
            let generator = rand_xoshiro::Xoshiro256Plus::seed_from_u64(5);
            let model = linfa_clustering::KMeans::params_with_rng(count, generator);
            let model = model.n_runs(10).tolerance(1e-6).fit(&dataset).unwrap();
            let theirs = finished(&points, model.predict(&dataset).to_vec(), count).unwrap();
            let more = ours.within_sum_of_squares - theirs.within_sum_of_squares;
            assert!(more <= 1e-9, "{count} {more}");
        }
    }

    #[test]
    fn the_answer_does_not_depend_on_the_number_of_threads() {
        let points = clouds(&[[0.0, 0.0], [2.0, 1.0]], 50, 3);
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| k_means(&points, 4, 12, 1).unwrap())
        };
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
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
