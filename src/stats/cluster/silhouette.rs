//! How much nearer points are to their own cluster than to the next.

use super::lloyd::{LANES, Packed, squared_distances};
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
    let mut each = silhouettes_of_all(points, &[memberships])?;
    // one list was asked for
    Ok(each.pop().unwrap_or_default())
}

/// [`silhouettes`] of several partings of the same points, such as those into 2, 3, ... clusters; every distance is computed once for all of them.
///
/// # Errors
/// As [`silhouettes`].
pub fn silhouettes_of_all(
    points: &Array2<f64>,
    partings: &[&[usize]],
) -> Result<Vec<Vec<f64>>, StatsError> {
    let mut counts = Vec::new();
    for memberships in partings {
        require_length("the list of memberships", points.nrows(), memberships.len())?;
        counts.push(cluster_count(memberships)?);
    }
    let cells = Cells::new(points, partings);
    let rows = 0..points.nrows();
    let each: Vec<Vec<f64>> = rows
        .into_par_iter()
        .map(|row| cells.silhouettes_of(points, row, partings, &counts))
        .collect();
    let of = |parting: usize| each.iter().map(|values| values[parting]).collect();
    Ok((0..partings.len()).map(of).collect())
}

/// Mean of [`silhouettes`], from -1 to 1.
///
/// # Errors
/// As [`silhouettes`].
pub fn mean_silhouette(points: &Array2<f64>, memberships: &[usize]) -> Result<f64, StatsError> {
    mean(&silhouettes(points, memberships)?)
}

fn cluster_count(memberships: &[usize]) -> Result<usize, StatsError> {
    let count = memberships.iter().max().map_or(0, |most| most + 1);
    let mut seen = vec![false; count.min(memberships.len() + 1)];
    memberships
        .iter()
        .for_each(|&cluster| seen.get_mut(cluster).into_iter().for_each(|s| *s = true));
    if count >= 2 && seen.len() == count && seen.iter().all(|&seen| seen) {
        return Ok(count);
    }
    Err(StatsError::OutOfRange {
        what: "the number of clusters".into(),
        value: count as f64,
        expected: "at least 2, none of them empty".into(),
    })
}

/// Points that no parting takes apart lie together, so a sum of distances to a cluster is a sum over a few stretches.
struct Cells {
    packed: Packed,
    cells: Vec<Cell>,
}

struct Cell {
    start: usize,
    end: usize,
    /// The cluster in every parting.
    clusters: Vec<usize>,
}

impl Cells {
    fn new(points: &Array2<f64>, partings: &[&[usize]]) -> Self {
        let labels = |row: usize| partings.iter().map(move |parting| parting[row]);
        let mut order: Vec<usize> = (0..points.nrows()).collect();
        order.sort_by(|&a, &b| labels(a).cmp(labels(b)));
        let mut cells: Vec<Cell> = Vec::new();
        for (place, &row) in order.iter().enumerate() {
            match cells.last_mut() {
                Some(cell) if labels(row).eq(cell.clusters.iter().copied()) => cell.end = place + 1,
                _ => cells.push(Cell {
                    start: place,
                    end: place + 1,
                    clusters: labels(row).collect(),
                }),
            }
        }
        Self { packed: Packed::new(points, order.into_iter()), cells }
    }

    /// One silhouette for every parting.
    fn silhouettes_of(
        &self,
        points: &Array2<f64>,
        row: usize,
        partings: &[&[usize]],
        counts: &[usize],
    ) -> Vec<f64> {
        let distances = self.distances(&points.row(row).to_vec());
        let mut sums: Vec<Vec<[f64; 2]>> =
            counts.iter().map(|&count| vec![[0.0; 2]; count]).collect();
        for cell in &self.cells {
            let total = side_by_side(&distances[cell.start..cell.end]);
            for (sums, &cluster) in sums.iter_mut().zip(&cell.clusters) {
                sums[cluster][0] += total;
                sums[cluster][1] += (cell.end - cell.start) as f64;
            }
        }
        sums.iter().zip(partings).map(|(sums, parting)| silhouette(sums, parting[row])).collect()
    }

    /// Distances of one point from all, in the order of the cells.
    fn distances(&self, point: &[f64]) -> Vec<f64> {
        let mut distances = Vec::with_capacity(self.packed.rows + LANES);
        for group in self.packed.groups() {
            distances.extend(squared_distances(group, point).map(f64::sqrt));
        }
        distances
    }
}

/// Eight sums at once, added up in a fixed order.
fn side_by_side(values: &[f64]) -> f64 {
    let parts = values.chunks_exact(LANES);
    let rest: f64 = parts.remainder().iter().sum();
    let mut sums = [0.0; LANES];
    for part in parts {
        sums.iter_mut().zip(part).for_each(|(sum, value)| *sum += value);
    }
    rest + sums.iter().sum::<f64>()
}

/// From the sum of distances to, and the size of, every cluster; the point's own distance of zero is in its cluster's.
fn silhouette(clusters: &[[f64; 2]], own: usize) -> f64 {
    let [total, size] = clusters[own];
    if size <= 1.0 {
        return 0.0;
    }
    let inner = total / (size - 1.0);
    let others = clusters.iter().enumerate().filter(|(cluster, _)| *cluster != own);
    let outer = others.map(|(_, [total, size])| total / size).fold(f64::INFINITY, f64::min);
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
    fn several_partings_at_once_are_each_by_itself_and_by_the_definition() {
        let points = super::super::tests::clouds(&[[0.0, 0.0], [4.0, 1.0]], 23, 8);
        let halves: Vec<usize> = (0..46).map(|row| row / 23).collect();
        let thirds: Vec<usize> = (0..46).map(|row| row * 7 % 3).collect();
        let both = silhouettes_of_all(&points, &[&halves, &thirds]).unwrap();
        assert_eq!(both[0].len(), 46);
        for (found, labels) in both.iter().zip([&halves, &thirds]) {
            for (row, value) in found.iter().enumerate() {
                let mean_to = |cluster: usize| {
                    let others = (0..46).filter(|&other| other != row && labels[other] == cluster);
                    let distances: Vec<f64> = others
                        .map(|other| {
                            (&points.row(row) - &points.row(other)).mapv(|d| d * d).sum().sqrt()
                        })
                        .collect();
                    distances.iter().sum::<f64>() / distances.len() as f64
                };
                let count = labels.iter().max().unwrap() + 1;
                let inner = mean_to(labels[row]);
                let others = (0..count).filter(|&cluster| cluster != labels[row]);
                let outer = others.map(mean_to).fold(f64::INFINITY, f64::min);
                assert!((value - (outer - inner) / inner.max(outer)).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn the_bytes_do_not_depend_on_the_number_of_threads() {
        let points = super::super::tests::clouds(&[[0.0, 0.0], [4.0, 1.0]], 50, 8);
        let labels: Vec<usize> = (0..100).map(|row| row * 7 % 3).collect();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| silhouettes(&points, &labels).unwrap())
        };
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
    }

    #[test]
    fn a_label_beyond_the_number_of_points_is_refused_and_costs_no_memory() {
        let fault = silhouettes(&array![[0.0], [1.0]], &[0, usize::MAX - 1]);
        assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
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
