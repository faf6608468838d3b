//! Columns and outcome brought to mean 0 and spread 1, as correlations.

use super::PenalisedFit;
use super::moments::Moments;
use crate::stats::error::StatsError;
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

/// A spread below this share of the column's size is the rounding of a constant.
const CONSTANT: f64 = 1e-12;

/// Correlations among the columns that vary and with the outcome; spreads with divisor `n`.
#[derive(Debug, Clone)]
pub(super) struct Gram {
    /// All columns of the design.
    pub size: usize,
    /// Places of the columns that vary.
    pub columns: Vec<usize>,
    /// `q x q` correlations.
    pub among: DMatrix<f64>,
    /// `q` correlations with the outcome; zeros for an outcome that does not vary.
    pub with_outcome: DVector<f64>,
    /// Spread of each column that varies.
    pub scales: Vec<f64>,
    /// Mean of each column that varies.
    means: Vec<f64>,
    outcome_mean: f64,
    /// Spread of the outcome; 0 where it does not vary.
    pub outcome_scale: f64,
}

impl Gram {
    /// # Errors
    /// `OutOfRange` for values whose squares are beyond the largest double.
    pub fn new(moments: &Moments) -> Result<Self, StatsError> {
        let largest = moments.within.diagonal().max();
        if !largest.is_finite() {
            return Err(StatsError::OutOfRange {
                what: "the largest sum of squares".into(),
                value: largest,
                expected: "a finite number; the values are too large".into(),
            });
        }
        let size = moments.mean.len() - 1;
        let scale = |place: usize| population_scale(moments, place);
        let columns: Vec<usize> = (0..size).filter(|&place| scale(place) > 0.0).collect();
        let scales: Vec<f64> = columns.iter().map(|&place| scale(place)).collect();
        let outcome_scale = scale(size);
        let rows = moments.rows as f64;
        let among = DMatrix::from_fn(columns.len(), columns.len(), |i, j| {
            moments.within[(columns[i], columns[j])] / rows / scales[i] / scales[j]
        });
        let with_outcome = DVector::from_fn(columns.len(), |i, _| {
            if outcome_scale == 0.0 {
                return 0.0;
            }
            moments.within[(columns[i], size)] / rows / scales[i] / outcome_scale
        });
        Ok(Self {
            size,
            among,
            with_outcome,
            means: columns.iter().map(|&place| moments.mean[place]).collect(),
            scales,
            columns,
            outcome_mean: moments.mean[size],
            outcome_scale,
        })
    }

    /// Coefficients of the standardised problem put back in the units of the data.
    pub fn fit(&self, penalty: f64, coefficients: &[f64]) -> PenalisedFit {
        let mut fit = PenalisedFit {
            penalty,
            intercept: self.outcome_mean,
            coefficients: vec![0.0; self.size],
            standardised: vec![0.0; self.size],
        };
        for (inner, &place) in self.columns.iter().enumerate() {
            let standardised = coefficients[inner] * self.outcome_scale;
            fit.standardised[place] = standardised;
            fit.coefficients[place] = standardised / self.scales[inner];
            fit.intercept -= fit.coefficients[place] * self.means[inner];
        }
        fit
    }

    /// Names of columns that the columns before them explain; of all that vary, where only all together are nearly dependent.
    pub fn dependent_names(&self, names: &[String]) -> Vec<String> {
        let among = Array2::from_shape_fn(self.among.shape(), |place| self.among[place]);
        let mut places = PivotedQr::new(among.view(), RANK_TOLERANCE).set_aside();
        if places.is_empty() {
            places = (0..self.columns.len()).collect();
        }
        places.into_iter().map(|inner| names[self.columns[inner]].clone()).collect()
    }

    /// `(x - mean) / spread` of one value of the `inner`-th column that varies.
    pub fn standardise(&self, inner: usize, value: f64) -> f64 {
        (value - self.means[inner]) / self.scales[inner]
    }

    /// The same of the outcome; only for an outcome that varies.
    pub fn standardise_outcome(&self, value: f64) -> f64 {
        (value - self.outcome_mean) / self.outcome_scale
    }
}

/// Standard deviation with divisor `n`; 0 for what is constant but for rounding.
fn population_scale(moments: &Moments, place: usize) -> f64 {
    let scale = (moments.within[(place, place)].max(0.0) / moments.rows.max(1) as f64).sqrt();
    if scale > CONSTANT * moments.mean[place].abs() { scale } else { 0.0 }
}
