//! Errors of the proportional-odds model for rows that come in clusters.

use super::OrdinalFit;
use crate::stats::error::{StatsError, require_length};
use crate::stats::estimate::Estimate;
use crate::stats::logistic::Standardised;
use crate::stats::logistic::marginal::members;
use nalgebra::DVector;

/// Fewer clusters than this show no spread between clusters worth a number.
const FEWEST_CLUSTERS: usize = 3;

/// The sandwich `G / (G - 1) A^-1 (sum_g s_g s_g') A^-1` with the observed information `A` and the clusters' scores `s_g` (Liang & Zeger 1986, Biometrika 73,
/// 13-22), called CR1, compared with Student's t on `G - 1` degrees of freedom (Cameron & Miller 2015, Journal of Human Resources 50, 317-372). With under
/// some twenty clusters it is still too small: the tests that it gives reject too often.
#[derive(Debug, Clone)]
pub struct OrdinalRobust<'fit> {
    fit: &'fit OrdinalFit,
    /// Score of each cluster.
    scores: Vec<DVector<f64>>,
}

impl<'fit> OrdinalRobust<'fit> {
    pub(super) fn new(fit: &'fit OrdinalFit, clusters: &[usize]) -> Result<Self, StatsError> {
        let likelihood = &fit.likelihood;
        require_length("the list of clusters", likelihood.codes.len(), clusters.len())?;
        let (_, members) = members(clusters);
        if members.len() < FEWEST_CLUSTERS {
            return Err(StatsError::TooFewGroups { found: members.len(), needed: FEWEST_CLUSTERS });
        }
        let scores = members.iter().map(|rows| likelihood.score(fit.top.at.as_slice(), rows));
        Ok(Self { fit, scores: scores.collect() })
    }

    /// How many clusters there are.
    pub fn clusters(&self) -> usize {
        self.scores.len()
    }

    /// `c'b` with the cluster-robust error.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let flat = vec![0.0; self.fit.thresholds.len()];
        let direction = self.fit.likelihood.direction(&flat, contrast)?;
        Ok(self.error(self.fit.combine(contrast), &direction))
    }

    /// A mean score with the cluster-robust error, by the delta method.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for a gradient of another fit.
    pub fn error_of(&self, mean: &Standardised) -> Result<Estimate, StatsError> {
        let direction = self.fit.likelihood.direction_of_all(&mean.gradient)?;
        Ok(self.error(mean.value, &direction))
    }

    fn error(&self, value: f64, direction: &DVector<f64>) -> Estimate {
        let pull = self.fit.factor.solve(direction);
        let squares: f64 = self.scores.iter().map(|score| score.dot(&pull).powi(2)).sum();
        let count = self.scores.len() as f64;
        Estimate {
            value,
            standard_error: (squares * count / (count - 1.0)).sqrt(),
            degrees_of_freedom: count - 1.0,
        }
    }
}

impl super::Likelihood {
    /// The gradient of some rows' log-likelihood.
    pub(super) fn score(&self, at: &[f64], rows: &[usize]) -> DVector<f64> {
        let mut score = DVector::zeros(self.size());
        let mut weights = vec![0.0; self.counts.len()];
        for &row in rows {
            let (code, columns) = (self.codes[row], self.basis.row(row));
            let part = self.part(at, code, self.predictor(at, columns));
            self.add_gradient(score.as_mut_slice(), code, part, columns);
            weights[code] += 1.0;
        }
        let mut unused = super::square(self.size());
        self.add_apart(at, &weights, score.as_mut_slice(), &mut unused);
        score
    }
}
