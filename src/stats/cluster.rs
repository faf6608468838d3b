//! Groups of rows that are alike, where there are any: k-means, with k = 1 allowed.

use linfa::DatasetBase;
use linfa::traits::{Fit, Predict};
use linfa_clustering::KMeans;
use ndarray::{Array1, Array2, Axis};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_xoshiro::Xoshiro256Plus;
use rayon::prelude::*;

use super::StatsError;

/// How to look for clusters.
///
/// | option | default | purpose |
/// | --- | --- | --- |
/// | `most` | 8 | largest number of clusters tried |
/// | `references` | 50 | structureless data sets that the gap is measured against |
/// | `restarts` | 10 | starts of k-means, the best of which counts |
/// | `resamples` | 50 | bootstrap resamples from which stability is found |
/// | `seed` | 2025 | start of every use of chance |
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClusterOptions {
    pub most: usize,
    pub references: usize,
    pub restarts: usize,
    pub resamples: usize,
    pub seed: u64,
}

impl Default for ClusterOptions {
    fn default() -> Self {
        ClusterOptions { most: 8, references: 50, restarts: 10, resamples: 50, seed: 2025 }
    }
}

/// One k-means partition.
#[derive(Debug, Clone, PartialEq)]
pub struct Partition {
    /// The cluster of each row; the largest cluster is 0, ties by the first member.
    pub labels: Vec<usize>,
    /// Summed squared distances to the cluster means.
    pub within: f64,
}

/// The partition that the gap statistic chooses.
#[derive(Debug, Clone, PartialEq)]
pub struct Clusters {
    pub k: usize,
    pub partition: Partition,
    /// Gap(k) for k = 1, 2, ... up to one more than the k chosen.
    pub gaps: Vec<f64>,
    /// Mean Jaccard similarity of each cluster to its best match in bootstrap resamples (Hennig 2007, Computational
    /// Statistics & Data Analysis 52, 258-271); below 0.6 a cluster is not to be believed.
    pub stability: Vec<f64>,
}

/// Chooses k by the gap statistic with the one-standard-error rule (Tibshirani, Walther & Hastie 2001, JRSS B 63,
/// 411-423): the smallest k whose gap is at least the next gap less its standard error. The reference data are uniform
/// over the range of each column. Rows are points; scale the columns first.
///
/// # Errors
/// Where a value is not finite or there are fewer than three rows.
pub fn clusters(points: &Array2<f64>, options: &ClusterOptions) -> Result<Clusters, StatsError> {
    if points.iter().any(|value| !value.is_finite()) {
        return Err(StatsError::NotFinite {
            what: "a measurement".into(),
            row: 0,
            value: f64::NAN,
        });
    }
    if points.nrows() < 3 {
        return Err(StatsError::TooFewRows { rows: points.nrows(), columns: 2 });
    }
    // more clusters than half the rows are no kinds, and more than the distinct rows cannot be filled
    let most = options.most.min(points.nrows() / 2).min(distinct_rows(points)).max(1);
    let (k, partition, gaps) = smallest_sufficient(points, most, options)?;
    let stability = stability(points, &partition, k, options)?;
    Ok(Clusters { k, partition, gaps, stability })
}

/// Goes up from one cluster until one more does not widen the gap by more than its standard error; larger numbers
/// need not be looked at.
fn smallest_sufficient(
    points: &Array2<f64>,
    most: usize,
    options: &ClusterOptions,
) -> Result<(usize, Partition, Vec<f64>), StatsError> {
    let references = references(points, options);
    let mut partition = k_means(points, 1, options.restarts, options.seed)?;
    let mut gaps = vec![gap(&partition, &references, 1, options)?.0];
    for k in 2..=most {
        let finer = k_means(points, k, options.restarts, options.seed)?;
        let (next, error) = gap(&finer, &references, k, options)?;
        gaps.push(next);
        if gaps[k - 2] >= next - error {
            return Ok((k - 1, partition, gaps));
        }
        partition = finer;
    }
    Ok((most, partition, gaps))
}

fn distinct_rows(points: &Array2<f64>) -> usize {
    let mut rows: Vec<Vec<u64>> = points
        .rows()
        .into_iter()
        .map(|row| row.iter().map(|value| value.to_bits()).collect())
        .collect();
    rows.sort();
    rows.dedup();
    rows.len()
}

/// One k-means partition through linfa-clustering, from the best of several seeded starts.
///
/// # Errors
/// Where k is zero or exceeds the rows.
pub fn k_means(
    points: &Array2<f64>,
    k: usize,
    restarts: usize,
    seed: u64,
) -> Result<Partition, StatsError> {
    if k == 0 || k > points.nrows() {
        return Err(StatsError::TooFewRows { rows: points.nrows(), columns: k });
    }
    let labels = if k == 1 {
        vec![0; points.nrows()]
    } else {
        let dataset = DatasetBase::from(points.clone());
        let model = KMeans::params_with_rng(
            k,
            <Xoshiro256Plus as rand_xoshiro::rand_core::SeedableRng>::seed_from_u64(seed),
        )
        .n_runs(restarts.max(1))
        .max_n_iterations(300)
        .tolerance(1e-6)
        .fit(&dataset)
        .map_err(|error| StatsError::Backend {
            what: "k-means".into(),
            message: error.to_string(),
        })?;
        let labels: Array1<usize> = model.predict(points);
        labels.to_vec()
    };
    let labels = by_size(&labels);
    let within = within(points, &labels);
    Ok(Partition { labels, within })
}

/// Renames clusters so that the largest is 0, ties by the first member.
fn by_size(labels: &[usize]) -> Vec<usize> {
    let mut order: Vec<usize> = labels.to_vec();
    order.sort_unstable();
    order.dedup();
    let size = |label: usize| labels.iter().filter(|&&other| other == label).count();
    let first = |label: usize| labels.iter().position(|&other| other == label);
    order.sort_by_key(|&label| (std::cmp::Reverse(size(label)), first(label)));
    let place = |label: &usize| order.iter().position(|known| known == label).unwrap_or(0);
    labels.iter().map(place).collect()
}

fn within(points: &Array2<f64>, labels: &[usize]) -> f64 {
    let k = labels.iter().max().map_or(0, |most| most + 1);
    (0..k)
        .map(|label| {
            let members: Vec<usize> =
                (0..labels.len()).filter(|&row| labels[row] == label).collect();
            let chosen = points.select(Axis(0), &members);
            match chosen.mean_axis(Axis(0)) {
                Some(centre) => (&chosen - &centre).mapv(|distance| distance * distance).sum(),
                None => 0.0,
            }
        })
        .sum()
}

/// log W is minus infinity for points that coincide; a floor keeps the comparison finite.
fn log_within(within: f64) -> f64 {
    within.max(1e-300).ln()
}

/// Structureless data sets like the points, each from its own stream of chance.
fn references(points: &Array2<f64>, options: &ClusterOptions) -> Vec<Array2<f64>> {
    (0..options.references.max(2) as u64)
        .map(|stream| uniform_like(points, &mut stream_of(options.seed, stream)))
        .collect()
}

/// Starts of k-means on made-up data, where a slightly poorer partition only adds noise.
const RESTARTS_ON_MADE_UP_DATA: usize = 3;

/// Gap(k) and its standard error.
fn gap(
    partition: &Partition,
    references: &[Array2<f64>],
    k: usize,
    options: &ClusterOptions,
) -> Result<(f64, f64), StatsError> {
    let logs: Vec<f64> = references
        .par_iter()
        .map(|reference| k_means(reference, k, RESTARTS_ON_MADE_UP_DATA, options.seed))
        .map(|found| found.map(|found| log_within(found.within)))
        .collect::<Result<_, _>>()?;
    let n = logs.len() as f64;
    let mean = logs.iter().sum::<f64>() / n;
    let spread = (logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>() / n).sqrt();
    Ok((mean - log_within(partition.within), spread * (1.0 + 1.0 / n).sqrt()))
}

fn stream_of(seed: u64, stream: u64) -> ChaCha8Rng {
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    chance.set_stream(stream);
    chance
}

fn uniform_like(points: &Array2<f64>, chance: &mut ChaCha8Rng) -> Array2<f64> {
    let low = points.fold_axis(Axis(0), f64::INFINITY, |a, b| a.min(*b));
    let high = points.fold_axis(Axis(0), f64::NEG_INFINITY, |a, b| a.max(*b));
    Array2::from_shape_fn(points.raw_dim(), |(_, column)| {
        low[column] + chance.random::<f64>() * (high[column] - low[column])
    })
}

fn stability(
    points: &Array2<f64>,
    partition: &Partition,
    k: usize,
    options: &ClusterOptions,
) -> Result<Vec<f64>, StatsError> {
    if k < 2 {
        return Ok(vec![1.0]);
    }
    let n = points.nrows();
    let resamples: Vec<Vec<f64>> = (0..options.resamples.max(2) as u64)
        .into_par_iter()
        .map(|stream| {
            let mut chance = stream_of(options.seed, 1_000_000 + stream);
            let rows: Vec<usize> = (0..n).map(|_| chance.random_range(0..n)).collect();
            let again =
                k_means(&points.select(Axis(0), &rows), k.min(n), options.restarts, options.seed)?;
            Ok((0..k).map(|label| best_match(partition, label, &rows, &again)).collect())
        })
        .collect::<Result<_, StatsError>>()?;
    let n = resamples.len() as f64;
    Ok((0..k)
        .map(|label| resamples.iter().map(|matches| matches[label]).sum::<f64>() / n)
        .collect())
}

/// The largest Jaccard similarity of one cluster, as far as it was drawn, to a cluster of the resample.
fn best_match(partition: &Partition, label: usize, rows: &[usize], again: &Partition) -> f64 {
    let k = again.labels.iter().max().map_or(0, |most| most + 1);
    let is_member = |row: usize| partition.labels[row] == label;
    (0..k)
        .map(|other| {
            let (mut both, mut either) = (0usize, 0usize);
            for (draw, &row) in rows.iter().enumerate() {
                let (here, there) = (is_member(row), again.labels[draw] == other);
                both += usize::from(here && there);
                either += usize::from(here || there);
            }
            if either == 0 { 0.0 } else { both as f64 / either as f64 }
        })
        .fold(0.0, f64::max)
}
