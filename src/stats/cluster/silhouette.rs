//! How much nearer points are to their own cluster than to the next.

use super::squared_distance;
use crate::stats::error::{StatsError, require_length};
use crate::stats::numeric::mean;
use ndarray::Array2;
use rayon::prelude::*;

/// Silhouette of every point (Rousseeuw 1987, Journal of Computational and Applied Mathematics 20, 53-65): `(b - a) / max(a, b)`, with `a` the mean
/// Euclidean distance to the others of its cluster and `b` the least mean distance to another cluster; 0 for a point alone in its cluster. Costs `n^2 p`.
///
/// # Errors
/// `LengthMismatch`; `OutOfRange` unless there are at least two clusters, numbered without a gap from 0.
pub fn silhouettes(points: &Array2<f64>, memberships: &[usize]) -> Result<Vec<f64>, StatsError> {
    require_length("the list of memberships", points.nrows(), memberships.len())?;
    let count = memberships.iter().max().map_or(0, |most| most + 1);
    let complete = (0..count).all(|cluster| memberships.contains(&cluster));
    if count < 2 || !complete {
        return Err(StatsError::OutOfRange {
            what: "the number of clusters".into(),
            value: count as f64,
            expected: "at least 2, none of them empty".into(),
        });
    }
    let rows = (0..memberships.len()).into_par_iter();
    Ok(rows.map(|row| silhouette_of(points, memberships, count, row)).collect())
}

/// Mean of [`silhouettes`], from -1 to 1.
///
/// # Errors
/// As [`silhouettes`].
pub fn mean_silhouette(points: &Array2<f64>, memberships: &[usize]) -> Result<f64, StatsError> {
    mean(&silhouettes(points, memberships)?)
}

fn silhouette_of(points: &Array2<f64>, memberships: &[usize], count: usize, row: usize) -> f64 {
    let mut sums = vec![0.0; count];
    let mut sizes = vec![0.0; count];
    for (other, &cluster) in memberships.iter().enumerate() {
        if other != row {
            sums[cluster] += squared_distance(points.row(row), points.row(other)).sqrt();
            sizes[cluster] += 1.0;
        }
    }
    let own = memberships[row];
    if sizes[own] == 0.0 {
        return 0.0;
    }
    let inner = sums[own] / sizes[own];
    let others = (0..count).filter(|&cluster| cluster != own);
    let outer = others.map(|c| sums[c] / sizes[c]).fold(f64::INFINITY, f64::min);
    let larger = inner.max(outer);
    if larger > 0.0 { (outer - inner) / larger } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    #[test]
    fn a_hand_worked_silhouette_is_met() {
        // point 0: a = 1, b = (9 + 10) / 2 = 9.5
        let points = array![[0.0], [1.0], [9.0], [10.0]];
        let found = silhouettes(&points, &[0, 0, 1, 1]).unwrap();
        assert!((found[0] - 8.5 / 9.5).abs() < 1e-15);
        assert!((found[1] - 7.5 / 8.5).abs() < 1e-15);
    }

    #[test]
    fn a_point_alone_counts_as_zero() {
        let found = silhouettes(&array![[0.0], [1.0], [9.0]], &[0, 0, 1]).unwrap();
        assert_eq!(found[2], 0.0);
    }

    #[test]
    fn one_cluster_has_no_silhouette() {
        assert!(mean_silhouette(&array![[0.0], [1.0]], &[0, 0]).is_err());
        assert!(mean_silhouette(&array![[0.0], [1.0]], &[0, 2]).is_err());
    }

    #[test]
    fn equal_points_in_two_clusters_are_neither_near_nor_far() {
        let found = mean_silhouette(&array![[1.0], [1.0], [1.0], [1.0]], &[0, 0, 1, 1]);
        assert_eq!(found.unwrap(), 0.0);
    }
}
