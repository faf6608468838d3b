//! Expectation and maximisation of a Gaussian mixture.

use super::mixture::MixtureShape;
use crate::stats::error::StatsError;
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// A direction in which a component's variance is under this share of the column's own, given the other columns, is one in which it has collapsed.
const FLOOR: f64 = 1e-6;
/// A start stops when the likelihood that the last steps point to is nearer than this share of it.
const TOLERANCE: f64 = 1e-10;
const MOST_STEPS: usize = 20_000;

/// Weights, means and covariances of the components.
#[derive(Debug, Clone)]
pub(super) struct Components {
    pub weights: Vec<f64>,
    pub means: Vec<DVector<f64>>,
    pub covariances: Vec<DMatrix<f64>>,
    /// Lower Cholesky factors.
    factors: Vec<DMatrix<f64>>,
}

/// Where a start ended.
#[derive(Debug, Clone)]
pub(super) struct Ending {
    pub components: Components,
    /// `n x k`, each row summing to 1.
    pub probabilities: Array2<f64>,
    pub log_likelihood: f64,
}

/// Steps from a first guess of the memberships to a maximum of the likelihood (Dempster, Laird & Rubin 1977), stopped by Aitken's extrapolation: where it is
/// going and not how slowly decides. Points (`n x p`) should have columns of unit spread.
pub(super) fn climb(
    points: &[DVector<f64>],
    memberships: &[usize],
    count: usize,
    shape: MixtureShape,
) -> Result<Ending, StatsError> {
    let mut probabilities = Array2::zeros((points.len(), count));
    for (row, &cluster) in memberships.iter().enumerate() {
        probabilities[(row, cluster)] = 1.0;
    }
    let mut history = [f64::NEG_INFINITY; 2];
    for _ in 0..MOST_STEPS {
        let components = Components::fitted(points, &probabilities, shape)?;
        let log_likelihood = components.expect(points, &mut probabilities);
        if settled(history, log_likelihood) {
            return Ok(Ending { components, probabilities, log_likelihood });
        }
        history = [history[1], log_likelihood];
    }
    Err(StatsError::NotConverged { what: "a Gaussian mixture".into() })
}

/// Whether the limit that the last three likelihoods point to is reached.
fn settled(history: [f64; 2], now: f64) -> bool {
    let (before, last) = (history[1] - history[0], now - history[1]);
    if !before.is_finite() {
        // a single component is at its maximum after one step, and its likelihood repeats exactly
        return last.abs() <= f64::EPSILON * now.abs();
    }
    let rate = (last / before).clamp(0.0, 0.999_999);
    let ahead = if last.abs() <= f64::EPSILON * now.abs() { 0.0 } else { last / (1.0 - rate) };
    ahead.abs() <= TOLERANCE * (1.0 + now.abs())
}

impl Components {
    /// The maximisation step.
    fn fitted(
        points: &[DVector<f64>],
        probabilities: &Array2<f64>,
        shape: MixtureShape,
    ) -> Result<Self, StatsError> {
        let size = points.len() as f64;
        let totals: Vec<f64> =
            probabilities.columns().into_iter().map(|column| column.sum()).collect();
        let mut means = Vec::new();
        let mut scatters = Vec::new();
        for (component, &total) in totals.iter().enumerate() {
            let shares = probabilities.column(component);
            let zero = DVector::zeros(points[0].len());
            let sum =
                points.iter().zip(shares).fold(zero, |sum, (point, &share)| sum + point * share);
            let mean = sum / total.max(f64::MIN_POSITIVE);
            scatters.push(scatter(points, shares.iter().copied(), &mean, shape));
            means.push(mean);
        }
        let covariances = covariances(scatters, &totals, shape);
        let factors: Result<Vec<_>, _> =
            covariances.iter().enumerate().map(|(place, matrix)| factor(place, matrix)).collect();
        let weights = totals.iter().map(|total| total / size).collect();
        Ok(Self { weights, means, covariances, factors: factors? })
    }

    /// The expectation step: fills the probabilities and returns the log-likelihood.
    fn expect(&self, points: &[DVector<f64>], probabilities: &mut Array2<f64>) -> f64 {
        let half_log = 0.5 * std::f64::consts::TAU.ln();
        let constants: Vec<f64> = self
            .factors
            .iter()
            .zip(&self.weights)
            .map(|(factor, weight)| {
                let volume: f64 = factor.diagonal().iter().map(|entry| entry.ln()).sum();
                weight.ln() - volume - half_log * factor.nrows() as f64
            })
            .collect();
        let mut terms = Vec::with_capacity(points.len());
        for (point, mut row) in points.iter().zip(probabilities.rows_mut()) {
            for (component, value) in row.iter_mut().enumerate() {
                let mut left = point - &self.means[component];
                // the diagonal of the factor passed the floor
                self.factors[component].solve_lower_triangular_mut(&mut left);
                *value = constants[component] - 0.5 * left.norm_squared();
            }
            // log-sum-exp: the largest is taken out first, so that no density underflows
            let largest = row.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            row.mapv_inplace(|value| (value - largest).exp());
            let sum = row.sum();
            row.mapv_inplace(|value| value / sum);
            terms.push(largest + sum.ln());
        }
        crate::stats::numeric::sum(&terms)
    }
}

fn scatter(
    points: &[DVector<f64>],
    shares: impl Iterator<Item = f64>,
    mean: &DVector<f64>,
    shape: MixtureShape,
) -> DMatrix<f64> {
    let mut total = DMatrix::zeros(mean.len(), mean.len());
    for (point, share) in points.iter().zip(shares).filter(|(_, share)| *share > 0.0) {
        let deviation = point - mean;
        if shape == MixtureShape::Diagonal {
            for (place, value) in deviation.iter().enumerate() {
                total[(place, place)] += share * value * value;
            }
        } else {
            total.ger(share, &deviation, &deviation, 1.0);
        }
    }
    total
}

fn covariances(
    scatters: Vec<DMatrix<f64>>,
    totals: &[f64],
    shape: MixtureShape,
) -> Vec<DMatrix<f64>> {
    if shape != MixtureShape::Common {
        let pairs = scatters.into_iter().zip(totals);
        return pairs.map(|(scatter, total)| scatter / total.max(f64::MIN_POSITIVE)).collect();
    }
    let size = scatters.first().map_or(0, DMatrix::nrows);
    let zero = DMatrix::zeros(size, size);
    let common =
        scatters.iter().fold(zero, |sum, scatter| sum + scatter) / totals.iter().sum::<f64>();
    vec![common; totals.len()]
}

/// The Cholesky factor of a component that has not collapsed.
fn factor(component: usize, covariance: &DMatrix<f64>) -> Result<DMatrix<f64>, StatsError> {
    let collapsed =
        || StatsError::NoVariation { what: format!("component {} of the mixture", component + 1) };
    let lower = covariance.clone().cholesky().ok_or_else(collapsed)?.l();
    let firm = lower.diagonal().iter().all(|entry| entry * entry > FLOOR);
    if firm { Ok(lower) } else { Err(collapsed()) }
}
