//! Whether points are more clustered than one cloud of their shape would be.

use super::cloud::{OneCloud, standardised};
use super::gap::{GapStatistic, compare};
use super::k_means::k_means_unchecked;
use super::unimodal::Unimodal;
use super::{ClusterOptions, distinct_points};
use crate::stats::error::StatsError;
use crate::stats::numeric::{mean, sum_of_squares};
use crate::stats::resample::{replicate, replicate_further, stream};
use ndarray::{Array2, Axis};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use std::ops::Range;

/// Numbers of clusters that the test looks at.
const TRIED: [usize; 4] = [2, 3, 4, 6];
/// So many of the columns that fall into clumps by themselves are looked at apart from the others.
const FEW_COLUMNS: usize = 3;
const RESTARTS: usize = 8;
const REFERENCE_RESTARTS: usize = 3;
/// After so many references the test stops where one of them is as clustered as the points: more would not change the answer.
const LOOKS: [usize; 3] = [5, 19, 39];
/// Streams of the test and of the gap are apart.
const TEST: u64 = 0x6f6e_655f_7465_7374;
const GAP: u64 = 0x6f6e_655f_6761_7073;

/// The test of "one cloud".
#[derive(Debug, Clone, PartialEq)]
pub struct OneFamilyTest {
    /// Share of the references that are as clustered as the points, the points counted among them; at least `1 / (references + 1)`.
    pub p_value: f64,
    /// The columns in which the points are most clustered, and those that fall into clumps by themselves more than any column of any reference; rising.
    pub columns: Vec<usize>,
}

/// For each set of columns and number of clusters the logarithm of the share of the squares that is left within clusters.
type Left = Vec<[Option<f64>; TRIED.len()]>;

/// The test against the references so far.
struct Judged {
    /// References that are as clustered as the points.
    as_clustered: usize,
    test: OneFamilyTest,
}

/// How far points are clustered.
struct Clustered {
    left: Left,
    /// Distance of the column that is farthest from a single mode.
    farthest: f64,
}

/// Monte Carlo test of one cloud against clusters. The references are draws from `OneCloud`: like the points in the shape of every column and in the
/// correlations, with a single mode. For the one, two and three columns that fall into clumps most (`Unimodal::distance`) and for all columns together, k-means into 2,
/// 3, 4 and 6 clusters leaves a share of the squares within clusters; each is compared with the references' mean in their standard deviations, and the
/// largest of all is the statistic. The references go through the same choice of columns, so looking at several sets costs no false alarms.
///
/// The test stops after 5, 19 and 39 references where one of them is as clustered as the points (Besag & Clifford 1991, Biometrika 78, 301-304): it cannot end below a hundredth any
/// more with 99, and a log of one family, which is most, costs a tenth. To stop early only ever says “one cloud”.
///
/// Columns are brought to standard deviation 1. All columns alone would hide clumps in one of many: the others are noise that k-means cuts instead.
///
/// # Errors
/// `Empty`, `NotFinite`; `NoVariation` where all points are equal; `OutOfRange` under two references; as [`fn@super::k_means`].
pub fn one_family_test(
    points: &Array2<f64>,
    references: usize,
    seed: u64,
) -> Result<OneFamilyTest, StatsError> {
    if distinct_points(points)? < 2 {
        return Err(StatsError::NoVariation { what: "the matrix of points".into() });
    }
    if references < 2 {
        return Err(StatsError::OutOfRange {
            what: "the number of reference samples".into(),
            value: references as f64,
            expected: "at least 2".into(),
        });
    }
    let standard = standardised(points);
    let cloud = OneCloud::of(&standard)?;
    let distances = distances(&standard);
    let sets = column_sets(&distances);
    let own = left(&standard, &sets, RESTARTS, seed ^ TEST)?;
    let drawn = |numbers: Range<usize>| -> Result<Vec<Clustered>, StatsError> {
        replicate_further(seed ^ TEST, numbers, |generator| clustered(&cloud, generator))
            .into_iter()
            .collect()
    };
    let mut known = Vec::new();
    for look in LOOKS.into_iter().filter(|look| *look < references) {
        known.extend(drawn(known.len()..look)?);
        let early = judged(&own, &distances, &known, &sets);
        if early.as_clustered > 0 {
            return Ok(early.test);
        }
    }
    known.extend(drawn(known.len()..references)?);
    Ok(judged(&own, &distances, &known, &sets).test)
}

fn clustered(cloud: &OneCloud, generator: &mut ChaCha12Rng) -> Result<Clustered, StatsError> {
    let points = standardised(&cloud.draw(generator));
    let distances = distances(&points);
    let left = left(&points, &column_sets(&distances), REFERENCE_RESTARTS, generator.random())?;
    Ok(Clustered { left, farthest: distances.into_iter().fold(0.0, f64::max) })
}

fn judged(own: &Left, distances: &[f64], drawn: &[Clustered], sets: &[Vec<usize>]) -> Judged {
    let scales: Vec<[Option<(f64, f64)>; TRIED.len()]> = (0..sets.len())
        .map(|set| {
            std::array::from_fn(|at| scale(drawn.iter().filter_map(|drawn| drawn.left[set][at])))
        })
        .collect();
    let of_set = |left: &Left, set: usize| {
        let each = left[set].iter().zip(&scales[set]);
        let beyond = each.filter_map(|(left, scale)| {
            let (centre, spread) = (*scale)?;
            Some((centre - (*left)?) / spread)
        });
        beyond.fold(f64::NEG_INFINITY, f64::max)
    };
    let most = |left: &Left| {
        (0..sets.len()).map(|set| of_set(left, set)).fold(f64::NEG_INFINITY, f64::max)
    };
    let statistic = most(own);
    let as_clustered = drawn.iter().filter(|drawn| most(&drawn.left) >= statistic).count();
    // the larger set among equals
    let best =
        (0..sets.len()).max_by(|&a, &b| of_set(own, a).total_cmp(&of_set(own, b)).then(a.cmp(&b)));
    let mut columns = best.and_then(|best| sets.get(best).cloned()).unwrap_or_default();
    let farthest = drawn.iter().map(|drawn| drawn.farthest).fold(0.0, f64::max);
    let in_clumps = (0..distances.len()).filter(|&column| distances[column] > farthest);
    columns.extend(in_clumps);
    columns.sort_unstable();
    columns.dedup();
    let p_value = (as_clustered + 1) as f64 / (drawn.len() + 1) as f64;
    Judged { as_clustered, test: OneFamilyTest { p_value, columns } }
}

/// Mean and standard deviation of at least two values that differ.
fn scale(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    let values: Vec<f64> = values.collect();
    let centre = mean(&values).ok()?;
    let deviations: Vec<f64> = values.iter().map(|value| value - centre).collect();
    let spread = (sum_of_squares(&deviations) / values.len() as f64).sqrt();
    (spread > 0.0).then_some((centre, spread))
}

/// How far each column is from a single mode.
fn distances(points: &Array2<f64>) -> Vec<f64> {
    let columns = points.columns().into_iter();
    columns.map(|column| Unimodal::nearest(&column.to_vec()).distance).collect()
}

/// The one, two and three columns that are farthest from a single mode, and all of them.
fn column_sets(distances: &[f64]) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..distances.len()).collect();
    order.sort_by(|&a, &b| distances[b].total_cmp(&distances[a]));
    let few = (1..order.len().min(FEW_COLUMNS + 1)).map(|count| order[..count].to_vec());
    few.chain([(0..order.len()).collect()]).collect()
}

fn left(
    points: &Array2<f64>,
    sets: &[Vec<usize>],
    restarts: usize,
    seed: u64,
) -> Result<Left, StatsError> {
    sets.iter()
        .map(|set| {
            let points = points.select(Axis(1), set);
            let different = distinct_points(&points)?;
            let whole = k_means_unchecked(&points, 1, 1, seed)?.within_sum_of_squares;
            let mut each = [None; TRIED.len()];
            for (cell, count) in each.iter_mut().zip(TRIED) {
                // with fewer than two different points a cluster, clusters say nothing
                if 2 * count <= different {
                    let within = k_means_unchecked(&points, count, restarts, seed)?;
                    *cell = Some((within.within_sum_of_squares / whole).ln());
                }
            }
            Ok(each)
        })
        .collect()
}

/// The gap statistic (Tibshirani, Walther & Hastie 2001) with references from one cloud of the points' own shape (`OneCloud`) instead of a uniform box, as Helgeson,
/// Vock & Bair (2021) do, so that what is skew, rounded or correlated in the points is so in the references. `chosen` is the first number from 2 on that meets the one-standard-error rule, for
/// points that [`one_family_test`] has found to be clustered.
///
/// # Errors
/// As [`one_family_test`].
pub fn unimodal_gap(
    points: &Array2<f64>,
    options: &ClusterOptions,
) -> Result<GapStatistic, StatsError> {
    let distinct = distinct_points(points)?;
    if distinct < 4 {
        return Err(StatsError::NoVariation { what: "the matrix of points".into() });
    }
    let most = options.most.min(distinct / 2);
    let standard = standardised(points);
    let cloud = OneCloud::of(&standard)?;
    let seed = options.seed ^ GAP;
    let observed = log_shares(&standard, most, options.restarts, seed)?;
    let drawn: Result<Vec<Vec<f64>>, StatsError> =
        replicate(seed, options.references, |generator| {
            let points = standardised(&cloud.draw(generator));
            log_shares(&points, most, REFERENCE_RESTARTS, generator.random())
        })
        .into_iter()
        .collect();
    let mut gap = compare(&observed, &drawn?)?;
    let meets = |k: &usize| gap.gaps[k - 1] >= gap.gaps[*k] - gap.standard_errors[*k];
    let first = (2..gap.gaps.len()).find(meets);
    gap.settled = first.is_some();
    gap.chosen = first.unwrap_or(gap.gaps.len());
    Ok(gap)
}

fn log_shares(
    points: &Array2<f64>,
    most: usize,
    restarts: usize,
    seed: u64,
) -> Result<Vec<f64>, StatsError> {
    let whole = k_means_unchecked(points, 1, 1, seed)?.within_sum_of_squares;
    let different = distinct_points(points)?;
    let mut shares = Vec::with_capacity(most);
    for count in 1..=most {
        // a draw of rounded columns may hold fewer different points than the points themselves
        let count = count.min(different - 1).max(1);
        let within = k_means_unchecked(points, count, restarts, seed)?.within_sum_of_squares;
        shares.push((within / whole).max(f64::MIN_POSITIVE).ln());
    }
    Ok(shares)
}

/// A seeded choice of rows, rising; all where there are no more than asked for.
pub fn sampled_rows(rows: usize, most: usize, seed: u64) -> Vec<usize> {
    if rows <= most {
        return (0..rows).collect();
    }
    let mut chosen = rand::seq::index::sample(&mut stream(seed, 0), rows, most).into_vec();
    chosen.sort_unstable();
    chosen
}

#[cfg(test)]
mod tests {
    use super::super::tests::clouds;
    use super::super::{MixtureShape, choose_mixture};
    use super::*;
    use rand_distr::{Distribution, StandardNormal};

    /// Noise in several columns, the first of them in clumps so many standard deviations apart.
    fn clumps(rows: usize, columns: usize, clumps: usize, apart: f64) -> Array2<f64> {
        let mut generator = stream(8, 0);
        Array2::from_shape_fn((rows, columns), |(row, column)| {
            let noise: f64 = StandardNormal.sample(&mut generator);
            if column == 0 { noise + apart * (row % clumps) as f64 } else { noise }
        })
    }

    #[test]
    fn clumps_in_one_of_several_columns_are_seen_and_the_column_is_named() {
        let points = clumps(90, 5, 2, 7.0);
        let found = one_family_test(&points, 39, 1).unwrap();
        assert_eq!((found.p_value, found.columns.as_slice()), (1.0 / 40.0, &[0][..]));
    }

    #[test]
    fn a_second_column_in_clumps_of_its_own_is_named_too() {
        let mut points = clumps(90, 4, 2, 9.0);
        for (row, cell) in points.column_mut(2).iter_mut().enumerate() {
            *cell += if row % 3 == 0 { 7.0 } else { 0.0 };
        }
        assert_eq!(one_family_test(&points, 39, 1).unwrap().columns, [0, 2]);
    }

    #[test]
    fn three_clouds_apart_are_counted() {
        let points = clouds(&[[0.0, 0.0], [9.0, 0.0], [4.5, 8.0]], 25, 2);
        assert_eq!(one_family_test(&points, 39, 1).unwrap().p_value, 1.0 / 40.0);
        let options = ClusterOptions { references: 20, restarts: 5, ..ClusterOptions::default() };
        let gap = unimodal_gap(&points, &options).unwrap();
        assert_eq!((gap.chosen, gap.settled, gap.gaps.len()), (3, true, 8));
    }

    #[test]
    fn a_skew_cloud_is_one_where_a_mixture_of_normal_clouds_cuts_it() {
        let skew = clumps(120, 2, 1, 0.0).mapv(f64::exp);
        assert!(one_family_test(&skew, 39, 1).unwrap().p_value > 0.05);
        let cut = choose_mixture(&skew, 3, &[MixtureShape::Full], 3, 1).unwrap();
        assert!(cut.best.weights.len() > 1);
    }

    #[test]
    fn the_answer_does_not_depend_on_the_number_of_threads() {
        let points = clumps(40, 3, 2, 4.0);
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| one_family_test(&points, 20, 1).unwrap())
        };
        assert_eq!(on(1), on(3));
    }

    #[test]
    fn what_cannot_be_tested_is_refused() {
        let flat = Array2::from_elem((6, 2), 1.5);
        let fault = one_family_test(&flat, 20, 1);
        assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
        let points = clumps(10, 2, 1, 0.0);
        assert!(matches!(one_family_test(&points, 1, 1), Err(StatsError::OutOfRange { .. })));
        assert!(unimodal_gap(&flat, &ClusterOptions::default()).is_err());
    }

    #[test]
    fn a_sample_of_rows_is_the_same_for_the_same_seed_and_holds_each_row_once() {
        let rows = sampled_rows(1000, 30, 4);
        assert_eq!(rows, sampled_rows(1000, 30, 4));
        assert!(rows.windows(2).all(|pair| pair[0] < pair[1]) && rows.len() == 30);
        assert_eq!(sampled_rows(3, 30, 4), [0, 1, 2]);
    }
}
