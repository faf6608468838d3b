//! Gaussian mixtures and how many components they have.

use super::expectation::{Ending, climb};
use super::{distinct_points, k_means};
use crate::stats::error::StatsError;
use crate::stats::numeric::{mean, standard_deviation};
use nalgebra::DVector;
use ndarray::{Array2, Axis};
use rayon::prelude::*;

/// What the covariances of the components share; in brackets the name that mclust made common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum MixtureShape {
    /// Nothing: every component has a full covariance of its own (VVV).
    Full,
    /// Every component has variances of its own, its columns uncorrelated (VVI).
    Diagonal,
    /// All components have one full covariance (EEE).
    Common,
}

impl MixtureShape {
    /// Free parameters of `count` components in `columns` dimensions: weights, means and covariances.
    fn parameters(self, count: usize, columns: usize) -> usize {
        let full = columns * (columns + 1) / 2;
        let covariances = match self {
            Self::Full => count * full,
            Self::Diagonal => count * columns,
            Self::Common => full,
        };
        count - 1 + count * columns + covariances
    }
}

/// A fitted mixture; component 0 is the heaviest.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixture {
    /// What the covariances share.
    pub shape: MixtureShape,
    /// Share of every component; they sum to 1.
    pub weights: Vec<f64>,
    /// `k x p`, in the units of the points.
    pub means: Array2<f64>,
    /// One `p x p` matrix a component, in products of the units of the points.
    pub covariances: Vec<Array2<f64>>,
    /// `n x k`: the chance that a point comes from a component.
    pub probabilities: Array2<f64>,
    /// The likeliest component of every point.
    pub memberships: Vec<usize>,
    /// Logarithm of the likelihood of the points, densities in reciprocal units.
    pub log_likelihood: f64,
    /// Bayesian criterion `-2 log L + parameters log n` (Schwarz 1978): smaller is better. (mclust prints the negative.)
    pub bayesian: f64,
}

/// Mixture of `count` Gaussians by maximum likelihood (Dempster, Laird & Rubin 1977; Fraley & Raftery 2002, Journal of the American Statistical Association 97,
/// 611-631). The likelihood has no bound where a component may shrink to a point, so the answer is the highest of the maxima reached from k-means: once from
/// its best parting, and `restarts - 1` times from that of a single start. A start in which a component collapses (in some direction less than a thousandth of the
/// column's spread) does not count.
///
/// # Errors
/// `Empty`, `NotFinite`; `TooFewRows` unless `n > p + 1`; `NoVariation` naming a constant column, or the component that collapsed where every start did;
/// `OutOfRange` unless `1 <= count <= ` the number of different points, or without a start; `NotConverged`.
pub fn gaussian_mixture(
    points: &Array2<f64>,
    count: usize,
    shape: MixtureShape,
    restarts: usize,
    seed: u64,
) -> Result<Mixture, StatsError> {
    let standard = Standard::new(points)?;
    let starts = starts(&standard.matrix, count, restarts, seed)?;
    let endings: Vec<Result<Ending, StatsError>> = starts
        .par_iter()
        .map(|memberships| climb(&standard.points, memberships, count, shape))
        .collect();
    Ok(standard.mixture(highest(endings)?, shape))
}

/// Partings to climb from, no two the same.
fn starts(
    points: &Array2<f64>,
    count: usize,
    restarts: usize,
    seed: u64,
) -> Result<Vec<Vec<usize>>, StatsError> {
    let best = k_means(points, count, restarts, seed)?.memberships;
    let singles: Result<Vec<Vec<usize>>, StatsError> = (1..restarts as u64)
        .into_par_iter()
        .map(|start| Ok(k_means(points, count, 1, seed.wrapping_add(start))?.memberships))
        .collect();
    let mut all = vec![best];
    for single in singles? {
        if !all.contains(&single) {
            all.push(single);
        }
    }
    Ok(all)
}

/// The ending with the highest likelihood, the earliest among equals; where none is there, why the first start failed.
fn highest(endings: Vec<Result<Ending, StatsError>>) -> Result<Ending, StatsError> {
    let mut best = None;
    let mut fault = StatsError::Empty { what: "the list of starts".into() };
    for ending in endings.into_iter().rev() {
        match ending {
            Ok(ending) => {
                let higher = |best: &Ending| best.log_likelihood > ending.log_likelihood;
                if !best.as_ref().is_some_and(higher) {
                    best = Some(ending);
                }
            }
            Err(reason) => fault = reason,
        }
    }
    best.ok_or(fault)
}

/// The points with columns of mean 0 and standard deviation 1.
struct Standard {
    centres: Vec<f64>,
    scales: Vec<f64>,
    matrix: Array2<f64>,
    points: Vec<DVector<f64>>,
}

impl Standard {
    fn new(points: &Array2<f64>) -> Result<Self, StatsError> {
        distinct_points(points)?;
        let (rows, columns) = points.dim();
        if rows <= columns + 1 {
            return Err(StatsError::TooFewRows { rows, columns: columns + 1 });
        }
        let (mut centres, mut scales) = (Vec::new(), Vec::new());
        let mut matrix = points.clone();
        for (place, mut column) in matrix.axis_iter_mut(Axis(1)).enumerate() {
            let values = column.to_vec();
            let (centre, scale) = (mean(&values)?, standard_deviation(&values)?);
            if scale == 0.0 {
                let what = format!("column {place} of the points");
                return Err(StatsError::NoVariation { what });
            }
            column.mapv_inplace(|value| (value - centre) / scale);
            centres.push(centre);
            scales.push(scale);
        }
        let points = matrix.rows().into_iter().map(|row| DVector::from_vec(row.to_vec())).collect();
        Ok(Self { centres, scales, matrix, points })
    }

    /// Back in the units of the points, the heaviest component first.
    fn mixture(&self, ending: Ending, shape: MixtureShape) -> Mixture {
        let parts = &ending.components;
        let (count, columns) = (parts.weights.len(), self.scales.len());
        let mut order: Vec<usize> = (0..count).collect();
        order.sort_by(|&a, &b| parts.weights[b].total_cmp(&parts.weights[a]));
        let probabilities = ending.probabilities.select(Axis(1), &order);
        let shrunk: f64 = self.scales.iter().map(|scale| scale.ln()).sum();
        let log_likelihood = ending.log_likelihood - self.points.len() as f64 * shrunk;
        let covariance = |&component: &usize| {
            let own = &parts.covariances[component];
            Array2::from_shape_fn((columns, columns), |(i, j)| {
                own[(i, j)] * self.scales[i] * self.scales[j]
            })
        };
        let penalty = shape.parameters(count, columns) as f64 * (self.points.len() as f64).ln();
        Mixture {
            shape,
            weights: order.iter().map(|&component| parts.weights[component]).collect(),
            means: Array2::from_shape_fn((count, columns), |(component, column)| {
                self.centres[column] + self.scales[column] * parts.means[order[component]][column]
            }),
            covariances: order.iter().map(covariance).collect(),
            memberships: probabilities
                .rows()
                .into_iter()
                .map(|row| likeliest(row.iter()))
                .collect(),
            probabilities,
            log_likelihood,
            bayesian: -2.0 * log_likelihood + penalty,
        }
    }
}

/// The place of the largest value, the first among equals.
fn likeliest<'a>(values: impl Iterator<Item = &'a f64>) -> usize {
    let mut best = (0, f64::NEG_INFINITY);
    for (place, &value) in values.enumerate() {
        if value > best.1 {
            best = (place, value);
        }
    }
    best.0
}

/// The mixture that the Bayesian criterion prefers, and what it was preferred to.
#[derive(Debug, Clone, PartialEq)]
pub struct MixtureChoice {
    /// The mixture with the least criterion.
    pub best: Mixture,
    /// For every shape and number of components tried the criterion, or why there is none.
    pub tried: Vec<(MixtureShape, usize, Result<f64, StatsError>)>,
}

/// Chooses shape and number of components, 1 to `most`, by the least Bayesian criterion (Fraley & Raftery 2002). One component is allowed, and is the answer
/// where nothing speaks for more. Mixtures whose every start collapsed are left out and listed with their reason.
///
/// # Errors
/// As [`gaussian_mixture`] where no mixture could be fitted; `Empty` without a shape; `OutOfRange` where `most` is 0.
pub fn choose_mixture(
    points: &Array2<f64>,
    most: usize,
    shapes: &[MixtureShape],
    restarts: usize,
    seed: u64,
) -> Result<MixtureChoice, StatsError> {
    if most == 0 {
        let (what, expected) = ("the number of components tried".into(), "at least 1".into());
        return Err(StatsError::OutOfRange { what, value: 0.0, expected });
    }
    let pairs: Vec<(MixtureShape, usize)> =
        shapes.iter().flat_map(|&shape| (1..=most).map(move |count| (shape, count))).collect();
    let fitted: Vec<Result<Mixture, StatsError>> = pairs
        .par_iter()
        .map(|&(shape, count)| gaussian_mixture(points, count, shape, restarts, seed))
        .collect();
    let criterion =
        |fit: &Result<Mixture, StatsError>| fit.as_ref().map(|m| m.bayesian).map_err(Clone::clone);
    let tried = pairs
        .iter()
        .zip(&fitted)
        .map(|(&(shape, count), fit)| (shape, count, criterion(fit)))
        .collect();
    let mut fault = StatsError::Empty { what: "the list of shapes".into() };
    let mut best: Option<Mixture> = None;
    for fit in fitted.into_iter().rev() {
        match fit {
            Ok(fit) if best.as_ref().is_none_or(|best| fit.bayesian <= best.bayesian) => {
                best = Some(fit)
            }
            Ok(_) => {}
            Err(reason) => fault = reason,
        }
    }
    Ok(MixtureChoice { best: best.ok_or(fault)?, tried })
}

#[cfg(test)]
mod tests {
    use super::super::tests::clouds;
    use super::*;

    const SHAPES: [MixtureShape; 3] =
        [MixtureShape::Full, MixtureShape::Diagonal, MixtureShape::Common];

    #[test]
    fn one_component_is_the_normal_distribution() {
        let points = clouds(&[[1.0, -2.0]], 30, 4);
        let found = gaussian_mixture(&points, 1, MixtureShape::Full, 1, 1).unwrap();
        let x = points.column(0).to_vec();
        let centre = mean(&x).unwrap();
        assert!((found.means[(0, 0)] - centre).abs() < 1e-12);
        let variance = x.iter().map(|value| (value - centre).powi(2)).sum::<f64>() / 30.0;
        assert!((found.covariances[0][(0, 0)] - variance).abs() < 1e-12);
        // -n/2 (p log 2 pi + log det S + p) at the maximum
        let s = &found.covariances[0];
        let determinant = s[(0, 0)] * s[(1, 1)] - s[(0, 1)] * s[(1, 0)];
        let expected = -15.0 * (2.0 * std::f64::consts::TAU.ln() + determinant.ln() + 2.0);
        assert!((found.log_likelihood - expected).abs() < 1e-9);
        assert!((found.bayesian + 2.0 * expected - 5.0 * 30_f64.ln()).abs() < 1e-9);
    }

    #[test]
    fn clouds_apart_are_told_apart_and_counted() {
        let points = clouds(&[[0.0, 0.0], [9.0, 0.0], [0.0, 9.0]], 40, 6);
        let found = choose_mixture(&points, 4, &SHAPES, 3, 1).unwrap();
        assert_eq!(found.best.weights.len(), 3);
        assert_eq!(found.tried.len(), 12);
        let truth: Vec<usize> = (0..120).map(|row| row / 40).collect();
        let index = super::super::adjusted_rand_index(&found.best.memberships, &truth).unwrap();
        assert!(index > 0.97, "{index}");
        assert!((found.best.weights.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn one_cloud_has_one_component() {
        let found = choose_mixture(&clouds(&[[0.0, 0.0]], 100, 9), 3, &SHAPES, 3, 1).unwrap();
        assert_eq!(found.best.weights, [1.0]);
    }

    #[test]
    fn linfa_finds_the_same_components() {
        use linfa::traits::Fit;
        use rand_xoshiro::rand_core::SeedableRng;
        let points = clouds(&[[0.0, 0.0], [6.0, 1.0]], 60, 2);
        let generator = rand_xoshiro::Xoshiro256Plus::seed_from_u64(1);
        let dataset = linfa::DatasetBase::from(points.clone());
        let model = linfa_clustering::GaussianMixtureModel::params_with_rng(2, generator);
        let theirs = model.n_runs(5).tolerance(1e-8).max_n_iterations(1000).fit(&dataset).unwrap();
        let ours = gaussian_mixture(&points, 2, MixtureShape::Full, 5, 1).unwrap();
        for (component, weight) in ours.weights.iter().enumerate() {
            let near = |other: &usize| {
                (theirs.means()[(*other, 0)] - ours.means[(component, 0)]).abs() < 1.0
            };
            let other = (0..2).find(near).unwrap();
            assert!((theirs.weights()[other] - weight).abs() < 1e-4);
            for column in 0..2 {
                let (a, b) = (theirs.means()[(other, column)], ours.means[(component, column)]);
                assert!((a - b).abs() < 1e-3, "{a} {b}");
                let (a, b) = (
                    theirs.covariances()[(other, column, column)],
                    ours.covariances[component][(column, column)],
                );
                assert!((a - b).abs() < 1e-3, "{a} {b}");
            }
        }
    }

    #[test]
    fn the_unit_changes_the_likelihood_by_its_logarithm_and_nothing_else() {
        let points = clouds(&[[0.0, 0.0], [5.0, 1.0]], 30, 3);
        let plain = gaussian_mixture(&points, 2, MixtureShape::Common, 3, 1).unwrap();
        let small = gaussian_mixture(&(&points * 1e-3), 2, MixtureShape::Common, 3, 1).unwrap();
        assert_eq!(plain.memberships, small.memberships);
        let shift = 60.0 * 2.0 * 1e3_f64.ln();
        assert!((small.log_likelihood - plain.log_likelihood - shift).abs() < 1e-6);
    }

    #[test]
    fn a_component_that_shrinks_to_a_point_is_refused() {
        // two values only: both components of a mixture of two have no spread
        let points = Array2::from_shape_fn((20, 1), |(row, _)| (row % 2) as f64);
        let fault = gaussian_mixture(&points, 2, MixtureShape::Full, 3, 1);
        assert!(
            matches!(fault, Err(StatsError::NoVariation { what }) if what.contains("component"))
        );
        let found = choose_mixture(&points, 2, &[MixtureShape::Full], 3, 1).unwrap();
        assert_eq!(found.best.weights.len(), 1);
        assert!(found.tried[1].2.is_err());
    }

    #[test]
    fn impossible_requests_are_refused() {
        let points = clouds(&[[0.0, 0.0]], 10, 1);
        let ask = |points: &Array2<f64>, count, starts| {
            gaussian_mixture(points, count, MixtureShape::Full, starts, 1)
        };
        assert!(matches!(ask(&points, 0, 3), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(ask(&points, 2, 0), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(ask(&points, 11, 3), Err(StatsError::OutOfRange { .. })));
        let flat = Array2::from_shape_fn((10, 2), |(row, column)| (row * column) as f64);
        assert!(matches!(ask(&flat, 1, 1), Err(StatsError::NoVariation { .. })));
        let few = clouds(&[[0.0, 0.0]], 3, 1);
        assert!(matches!(ask(&few, 1, 1), Err(StatsError::TooFewRows { .. })));
        let bad = Array2::from_elem((10, 2), f64::NAN);
        assert!(matches!(ask(&bad, 1, 1), Err(StatsError::NotFinite { .. })));
        assert!(choose_mixture(&points, 0, &SHAPES, 3, 1).is_err());
        assert!(choose_mixture(&points, 2, &[], 3, 1).is_err());
    }

    #[test]
    fn the_bytes_do_not_depend_on_the_number_of_threads() {
        let points = clouds(&[[0.0, 0.0], [3.0, 0.0]], 30, 3);
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| choose_mixture(&points, 3, &SHAPES, 4, 1).unwrap())
        };
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
    }
}
