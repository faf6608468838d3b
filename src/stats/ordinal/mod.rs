//! Ordered outcomes by proportional odds.
//!
//! `P(Y <= k) = 1 / (1 + exp(-(t_k - x'b)))` (McCullagh 1980, Journal of the Royal Statistical Society B 42, 109-142): a coefficient is the difference of
//! log odds of a higher category, the same wherever the categories are cut. Thresholds rise and are the model's intercept, so the design has no column of
//! ones.

mod likelihood;
mod mixed;
mod outcome;
mod proportionality;
mod robust;
#[cfg(test)]
mod tests;

pub use mixed::{OrdinalMixedFit, fit_ordinal_mixed};
pub use outcome::OrderedOutcome;
pub use proportionality::Proportionality;
pub use robust::OrdinalRobust;

use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::logistic::basis::Basis;
use crate::stats::logistic::newton::{Climb, Slope, Top, climb};
use crate::stats::logistic::separation::{Sorting, refusal};
use crate::stats::logistic::{Standardised, chi_squared, logistic, pick, require_columns};
use likelihood::Likelihood;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use ndarray::ArrayView1;

const MOST_STEPS: usize = 60;

/// A fitted proportional-odds model.
#[derive(Debug, Clone)]
pub struct OrdinalFit {
    /// Column names, as in the design.
    pub names: Vec<String>,
    /// One difference of log odds per unit of each column; positive where higher values go with higher categories.
    pub coefficients: Vec<f64>,
    /// Log odds of category 1, 1 or 2, ... in a row of zeros; rising.
    pub thresholds: Vec<f64>,
    /// The value of each category.
    pub levels: Vec<f64>,
    /// Log-likelihood at the maximum.
    pub log_likelihood: f64,
    /// Log-likelihood of thresholds alone: `sum n_k ln(n_k / n)`.
    pub null_log_likelihood: f64,
    likelihood: Likelihood,
    top: Top,
    factor: Cholesky<f64, Dyn>,
}

/// Maximum likelihood by Newton's method with exact derivatives. The log-likelihood is concave (Pratt 1981, Journal of the American Statistical Association
/// 76, 103-106), so its top is the only one.
///
/// # Errors
/// `LengthMismatch`; `TooFewRows` unless there are more rows than columns and one; `RankDeficient`, also for a column of ones; `Separation` with the columns
/// that foretell the categories without error; `NotConverged`.
pub fn fit_ordinal(design: &Design, outcome: &OrderedOutcome) -> Result<OrdinalFit, StatsError> {
    let likelihood = prepare(design, outcome)?;
    let (top, Slope { information, .. }) = likelihood.climb_from_shares(&design.names)?;
    let factor = Cholesky::new(information).ok_or_else(not_converged)?;
    let (thresholds, coefficients) = likelihood.in_the_design(top.at.as_slice());
    Ok(OrdinalFit {
        names: design.names.clone(),
        coefficients,
        thresholds,
        levels: outcome.levels().to_vec(),
        log_likelihood: top.value,
        null_log_likelihood: null_log_likelihood(&likelihood.counts),
        likelihood,
        top,
        factor,
    })
}

fn prepare(design: &Design, outcome: &OrderedOutcome) -> Result<Likelihood, StatsError> {
    require_length("the outcome", design.rows(), outcome.codes().len())?;
    if design.rows() <= design.columns() + 1 {
        return Err(StatsError::TooFewRows { rows: design.rows(), columns: design.columns() + 1 });
    }
    Ok(Likelihood {
        basis: Basis::beside_thresholds(design)?,
        codes: outcome.codes().to_vec(),
        counts: outcome.counts(),
    })
}

fn not_converged() -> StatsError {
    StatsError::NotConverged { what: "the proportional-odds model".into() }
}

fn null_log_likelihood(counts: &[usize]) -> f64 {
    let all: usize = counts.iter().sum();
    counts.iter().map(|&count| count as f64 * (count as f64 / all as f64).ln()).sum()
}

impl Likelihood {
    /// The maximum, from the thresholds that the shares of the categories make without columns.
    fn climb_from_shares(&self, names: &[String]) -> Result<(Top, Slope), StatsError> {
        let all = self.codes.len() as f64;
        let mut start = DVector::zeros(self.size());
        let mut below = 0.0;
        for (place, &count) in self.counts[..self.thresholds()].iter().enumerate() {
            below += count as f64;
            start[place] = (below / (all - below)).ln();
        }
        let astray = |way: &DVector<f64>| self.sorting(way) != Sorting::None;
        match climb(self, start, None, MOST_STEPS, astray) {
            Climb::Top(top, slope) => Ok((top, slope)),
            Climb::Astray(way) => {
                let columns = &way.as_slice()[self.thresholds()..];
                Err(refusal(names, &self.basis, columns, self.sorting(&way)))
            }
            Climb::Tired => Err(not_converged()),
        }
    }

    /// Thresholds and coefficients of the columns as they were given.
    fn in_the_design(&self, at: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let (thresholds, working) = at.split_at(self.thresholds());
        let (less_mean, coefficients) = self.basis.coefficients(working);
        (thresholds.iter().map(|threshold| threshold - less_mean).collect(), coefficients)
    }

    /// A contrast of thresholds and coefficients in working coordinates.
    fn direction(&self, thresholds: &[f64], columns: &[f64]) -> Result<DVector<f64>, StatsError> {
        require_length("the contrast of the thresholds", self.thresholds(), thresholds.len())?;
        crate::stats::error::require_finite("the contrast of the thresholds", thresholds)?;
        let shift = -thresholds.iter().sum::<f64>();
        let tail = self.basis.direction(shift, columns)?;
        let values = thresholds.iter().chain(tail.iter()).copied();
        Ok(DVector::from_iterator(self.size(), values))
    }

    /// As [`Likelihood::direction`] for a gradient by thresholds, then coefficients.
    fn direction_of_all(&self, gradient: &[f64]) -> Result<DVector<f64>, StatsError> {
        require_length("the gradient", self.size(), gradient.len())?;
        let (thresholds, columns) = gradient.split_at(self.thresholds());
        self.direction(thresholds, columns)
    }
}

impl OrdinalFit {
    /// The contrast that picks one coefficient.
    ///
    /// # Errors
    /// `UnknownColumn`.
    pub fn pick(&self, name: &str) -> Result<Vec<f64>, StatsError> {
        pick(&self.names, name)
    }

    fn combine(&self, contrast: &[f64]) -> f64 {
        contrast.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum()
    }

    fn wald(&self, value: f64, direction: &DVector<f64>) -> Estimate {
        Estimate {
            value,
            standard_error: direction.dot(&self.factor.solve(direction)).sqrt(),
            degrees_of_freedom: f64::INFINITY,
        }
    }

    /// `c'b` with the error of the observed information and the normal distribution.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let flat = vec![0.0; self.thresholds.len()];
        let direction = self.likelihood.direction(&flat, contrast)?;
        Ok(self.wald(self.combine(contrast), &direction))
    }

    /// Threshold above category `place` (from 0), with its error.
    ///
    /// # Errors
    /// `UnknownLevel` for a category without an upper threshold.
    pub fn threshold(&self, place: usize) -> Result<Estimate, StatsError> {
        let unknown = || StatsError::UnknownLevel {
            factor: "the thresholds".into(),
            level: place.to_string(),
        };
        let value = *self.thresholds.get(place).ok_or_else(unknown)?;
        let mut picked = vec![0.0; self.thresholds.len()];
        picked[place] = 1.0;
        let direction = self.likelihood.direction(&picked, &vec![0.0; self.names.len()])?;
        Ok(self.wald(value, &direction))
    }

    /// Akaike's criterion, `2 (thresholds + columns) - 2 log_likelihood`.
    pub fn akaike(&self) -> f64 {
        2.0 * self.likelihood.size() as f64 - 2.0 * self.log_likelihood
    }

    /// Likelihood-ratio test that no column matters; the statistic times the number of columns is chi-squared.
    pub fn likelihood_ratio(&self) -> JointTest {
        let rise = 2.0 * (self.log_likelihood - self.null_log_likelihood).max(0.0);
        chi_squared(rise, self.names.len())
    }

    /// Probability of each category at a row of the design.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the row.
    pub fn probabilities(&self, row: &[f64]) -> Result<Vec<f64>, StatsError> {
        require_length("the row", self.names.len(), row.len())?;
        crate::stats::error::require_finite("the row", row)?;
        let predictor = self.combine(row);
        let at: Vec<f64> = self.thresholds.iter().map(|threshold| threshold - predictor).collect();
        Ok(category_probabilities(&at))
    }

    /// Mean value of the outcome at a row of the design, `sum v_k P(Y = k)`, with its error by the delta method.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the row.
    pub fn mean_score(&self, row: &[f64]) -> Result<Estimate, StatsError> {
        require_length("the row", self.names.len(), row.len())?;
        crate::stats::error::require_finite("the row", row)?;
        let mut gradient = vec![0.0; self.likelihood.size()];
        let value = self.add_score(ArrayView1::from(row), &mut gradient);
        self.error_of(&Standardised { value, gradient })
    }

    /// Mean value of the outcome over the rows of a design, had the columns been those; the gradient is by thresholds, then coefficients. See
    /// [`crate::stats::logistic::with_number`].
    ///
    /// # Errors
    /// `LengthMismatch`, `UnknownColumn` for other columns than the fit's.
    pub fn standardised_score(&self, counterfactual: &Design) -> Result<Standardised, StatsError> {
        require_columns(&self.names, counterfactual)?;
        let mut gradient = vec![0.0; self.likelihood.size()];
        let rows = counterfactual.matrix.rows().into_iter();
        let total: f64 = rows.map(|row| self.add_score(row, &mut gradient)).sum();
        let count = counterfactual.rows() as f64;
        gradient.iter_mut().for_each(|slope| *slope /= count);
        Ok(Standardised { value: total / count, gradient })
    }

    /// The mean score of a row, `v_last - sum (v_{k+1} - v_k) P(Y <= k)`; adds its slope.
    fn add_score(&self, row: ArrayView1<'_, f64>, gradient: &mut [f64]) -> f64 {
        let predictor: f64 = row.iter().zip(&self.coefficients).map(|(x, b)| x * b).sum();
        // there are at least two levels
        let mut score = self.levels[self.levels.len() - 1];
        let mut rise = 0.0;
        for (place, threshold) in self.thresholds.iter().enumerate() {
            let gap = self.levels[place + 1] - self.levels[place];
            let (below, above) = (logistic(threshold - predictor), logistic(predictor - threshold));
            score -= gap * below;
            gradient[place] -= gap * below * above;
            rise += gap * below * above;
        }
        let slopes = gradient[self.thresholds.len()..].iter_mut();
        slopes.zip(row).for_each(|(slope, x)| *slope += rise * x);
        score
    }

    /// A mean with the error of the observed information.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for a gradient of another fit.
    pub fn error_of(&self, mean: &Standardised) -> Result<Estimate, StatsError> {
        Ok(self.wald(mean.value, &self.likelihood.direction_of_all(&mean.gradient)?))
    }

    /// Errors that allow rows of one cluster to resemble each other; see [`OrdinalRobust`].
    ///
    /// # Errors
    /// `LengthMismatch`; `TooFewGroups` under three clusters.
    pub fn clustered(&self, clusters: &[usize]) -> Result<OrdinalRobust<'_>, StatsError> {
        OrdinalRobust::new(self, clusters)
    }
}

/// `P(Y = k)` from the thresholds less the predictor, each as a product.
fn category_probabilities(at: &[f64]) -> Vec<f64> {
    (0..=at.len())
        .map(|code| {
            let upper = at.get(code).copied().unwrap_or(f64::INFINITY);
            let lower = if code > 0 { at[code - 1] } else { f64::NEG_INFINITY };
            logistic(upper) * logistic(-lower) * -(lower - upper).exp_m1()
        })
        .collect()
}

/// `DMatrix` of zeros with a side of `size`.
fn square(size: usize) -> DMatrix<f64> {
    DMatrix::zeros(size, size)
}
