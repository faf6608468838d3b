//! The profiled criterion and its derivatives.
//!
//! With `r = (t / s)^2`, `k_g = n_g / (1 + r n_g)`, `W` the inner cross-products summed over groups and `m_g` the group means,
//! `X'V^{-1}X = W_xx + sum_g k_g m_g m_g'` in units of `s^2`: a sum of squares, in which nothing cancels. Columns and outcome are centred (where there is an
//! intercept) and scaled first; `Working` remembers how to go back.

use super::{Criterion, log_normal_constant};
use crate::stats::error::StatsError;
use crate::stats::numeric::{find_root, minimise_bounded};
use crate::stats::products::Products;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use std::collections::BTreeMap;

/// Eigenvalues of the scaled inner cross-products below this count as zero: a column that is constant inside groups.
const CONSTANT_WITHIN: f64 = 1e-12;
/// An inner sum of squares below this share of the total is rounding.
const EXACT_FIT: f64 = 1e-16;
/// The ratios `r` tried first: two a decade.
const GRID: std::ops::RangeInclusive<i32> = -18..=18;

/// The sufficient statistics in centred and scaled columns.
#[derive(Debug, Clone)]
pub(super) struct Working {
    pub(super) criterion: Criterion,
    pub(super) rows: usize,
    pub(super) counts: Vec<f64>,
    /// The different counts, each with the number of its groups: of very many groups most have the size of another.
    sizes: Vec<(f64, f64)>,
    /// Group means of the columns, a column a group.
    pub(super) means: DMatrix<f64>,
    /// Group means of the outcome.
    pub(super) outcomes: Vec<f64>,
    pub(super) within: DMatrix<f64>,
    pub(super) within_outcome: DVector<f64>,
    pub(super) within_square: f64,
    pub(super) outcome_scale: f64,
    outcome_centre: f64,
    scales: Vec<f64>,
    centres: Vec<f64>,
    has_intercept: bool,
}

/// The model at one ratio: everything in working units.
#[derive(Debug, Clone)]
pub(super) struct Solution {
    pub(super) ratio: f64,
    pub(super) factor: Cholesky<f64, Dyn>,
    pub(super) coefficients: DVector<f64>,
    /// `k_g`.
    pub(super) weights: Vec<f64>,
    /// Mean residual of every group, the group effect not taken out.
    pub(super) gaps: Vec<f64>,
    pub(super) residual_square: f64,
}

impl Solution {
    pub(super) fn variance(&self, degrees: f64) -> f64 {
        self.residual_square / degrees
    }

    fn log_determinant(&self) -> f64 {
        let diagonal = self.factor.l_dirty().diagonal();
        2.0 * diagonal.iter().map(|value| value.ln()).sum::<f64>()
    }
}

impl Working {
    pub(super) fn new(
        products: &Products,
        has_intercept: bool,
        criterion: Criterion,
    ) -> Result<Self, StatsError> {
        let columns = products.names.len();
        let mut centres = vec![0.0; columns + 1];
        if has_intercept {
            centres = products.grand_mean().iter().copied().collect();
            centres[0] = 0.0;
        }
        let scales = column_scales(products, &centres, has_intercept);
        let outcome_scale = scales[columns];
        if outcome_scale == 0.0 {
            let what = "the outcome".into();
            return Err(StatsError::NoVariation { what });
        }
        let groups = &products.groups;
        let standard = |group: usize, place: usize| {
            (groups[group].mean[place] - centres[place]) / scales[place]
        };
        let inner = products.within();
        let scaled = DMatrix::from_fn(columns + 1, columns + 1, |i, j| {
            inner[(i, j)] / scales[i] / scales[j]
        });
        Ok(Self {
            criterion,
            rows: products.rows(),
            sizes: sizes(groups.iter().map(|group| group.count)),
            counts: groups.iter().map(|group| group.count as f64).collect(),
            means: DMatrix::from_fn(columns, groups.len(), |place, group| standard(group, place)),
            outcomes: (0..groups.len()).map(|group| standard(group, columns)).collect(),
            within: scaled.view((0, 0), (columns, columns)).into_owned(),
            within_outcome: DVector::from_fn(columns, |place, _| scaled[(place, columns)]),
            within_square: scaled[(columns, columns)],
            outcome_scale,
            outcome_centre: centres[columns],
            scales: scales[..columns].to_vec(),
            centres: centres[..columns].to_vec(),
            has_intercept,
        })
    }

    /// `n - p` for REML, `n` for maximum likelihood.
    pub(super) fn degrees(&self) -> f64 {
        match self.criterion {
            Criterion::Reml => (self.rows - self.scales.len()) as f64,
            Criterion::MaximumLikelihood => self.rows as f64,
        }
    }

    /// Eigenvectors and eigenvalues of the inner cross-products that are not zero.
    pub(super) fn inner_directions(&self) -> Vec<(f64, DVector<f64>)> {
        let eigen = self.within.clone().symmetric_eigen();
        let pairs = eigen.eigenvalues.iter().zip(eigen.eigenvectors.column_iter());
        pairs
            .filter(|(value, _)| **value > CONSTANT_WITHIN)
            .map(|(value, vector)| (*value, vector.into_owned()))
            .collect()
    }

    /// Refuses data in which the two variances cannot be told apart or are exactly zero.
    pub(super) fn require_identified(&self) -> Result<(), StatsError> {
        let inner = self.inner_directions();
        let constant = self.scales.len() - inner.len();
        if self.counts.len() <= constant.max(1) {
            return Err(StatsError::TooFewGroups {
                found: self.counts.len(),
                needed: constant.max(1) + 1,
            });
        }
        if self.rows <= self.counts.len() + inner.len() {
            let what = "the spread inside groups".into();
            return Err(StatsError::NoDegreesOfFreedom { what });
        }
        let explained: f64 = inner
            .iter()
            .map(|(value, vector)| vector.dot(&self.within_outcome).powi(2) / value)
            .sum();
        if self.within_square - explained <= EXACT_FIT {
            let what = "the outcome inside groups, once the columns are taken out,".into();
            return Err(StatsError::NoVariation { what });
        }
        Ok(())
    }

    /// Generalised least squares at a given ratio.
    pub(super) fn solve(&self, ratio: f64) -> Result<Solution, StatsError> {
        let weights: Vec<f64> = self.counts.iter().map(|n| n / (1.0 + ratio * n)).collect();
        let mut cross = self.within.clone();
        let mut right = self.within_outcome.clone();
        let groups = self.means.column_iter().zip(&self.outcomes).zip(&weights);
        for ((mean, outcome), weight) in groups {
            // a single column needs no loops over columns, which of very many groups take most of the time
            if let ([cross], [right], [mean]) =
                (cross.as_mut_slice(), right.as_mut_slice(), mean.as_slice())
            {
                *cross += weight * mean * mean;
                *right += weight * outcome * mean;
                continue;
            }
            cross.ger(*weight, &mean, &mean, 1.0);
            right.axpy(weight * outcome, &mean, 1.0);
        }
        let Some(factor) = cross.cholesky() else {
            let what = "the factorisation of the mixed model".into();
            return Err(StatsError::NotConverged { what });
        };
        let coefficients = factor.solve(&right);
        let pairs = self.means.column_iter().zip(&self.outcomes);
        let gaps: Vec<f64> = pairs.map(|(mean, y)| y - mean.dot(&coefficients)).collect();
        let between: f64 = weights.iter().zip(&gaps).map(|(k, gap)| k * gap * gap).sum();
        let inner = self.within_square
            + coefficients.dot(&(&self.within * &coefficients - 2.0 * &self.within_outcome));
        Ok(Solution {
            ratio,
            factor,
            coefficients,
            weights,
            gaps,
            residual_square: inner.max(0.0) + between,
        })
    }

    /// `sum_g ln(1 + r n_g)`.
    pub(super) fn log_group_determinant(&self, ratio: f64) -> f64 {
        self.sizes.iter().map(|(n, groups)| groups * (ratio * n).ln_1p()).sum()
    }

    /// Minus twice the log-likelihood, the residual variance profiled out, up to a constant.
    pub(super) fn deviance(&self, solution: &Solution) -> f64 {
        let restricted = match self.criterion {
            Criterion::Reml => solution.log_determinant(),
            Criterion::MaximumLikelihood => 0.0,
        };
        let variance = solution.variance(self.degrees());
        self.log_group_determinant(solution.ratio)
            + restricted
            + self.degrees() * log_normal_constant(variance)
    }

    /// Derivative of the deviance in the ratio.
    fn slope(&self, solution: &Solution) -> f64 {
        let fall: f64 =
            solution.weights.iter().zip(&solution.gaps).map(|(k, gap)| (k * gap).powi(2)).sum();
        let mut slope = -self.degrees() * fall / solution.residual_square;
        for (weight, mean) in solution.weights.iter().zip(self.means.column_iter()) {
            slope += weight;
            if self.criterion == Criterion::Reml {
                slope -= weight * weight * mean.dot(&solution.factor.solve(&mean));
            }
        }
        slope
    }

    /// The ratio that maximises the criterion; zero is allowed.
    pub(super) fn best_ratio(&self) -> Result<f64, StatsError> {
        let deviance = |ratio: f64| self.solve(ratio).map_or(f64::NAN, |s| self.deviance(&s));
        let slope = |ratio: f64| self.solve(ratio).map_or(f64::NAN, |s| self.slope(&s));
        let grid: Vec<f64> = std::iter::once(0.0)
            .chain(GRID.map(|half| 10.0_f64.powf(f64::from(half) / 2.0)))
            .collect();
        let values: Vec<f64> = grid.iter().map(|&ratio| deviance(ratio)).collect();
        let best = (0..grid.len()).min_by(|&a, &b| values[a].total_cmp(&values[b]));
        // the grid is not empty
        let best = best.unwrap_or(0);
        if best == 0 && slope(0.0) >= 0.0 {
            return Ok(0.0);
        }
        if best + 1 == grid.len() {
            let what = "the ratio of the two variances of the mixed model".into();
            return Err(StatsError::NotConverged { what });
        }
        let (low, high) = (grid[best.saturating_sub(1)], grid[best + 1]);
        let found = if slope(grid[best]) > 0.0 {
            find_root(slope, low, grid[best])
        } else {
            find_root(slope, grid[best], high)
        };
        let found = found.unwrap_or_else(|| minimise_bounded(deviance, low, high, 1e-9).at);
        Ok(if values[0] <= deviance(found) { 0.0 } else { found })
    }

    /// The log-likelihood in the units of the data, with all constants.
    pub(super) fn log_likelihood(&self, solution: &Solution) -> f64 {
        let stretch: f64 = match self.criterion {
            Criterion::Reml => self.scales.iter().map(|scale| 2.0 * scale.ln()).sum(),
            Criterion::MaximumLikelihood => 0.0,
        };
        let unit = self.degrees() * 2.0 * self.outcome_scale.ln();
        -0.5 * (self.deviance(solution) + stretch + unit)
    }

    /// Coefficients of the data's columns from those of the working columns.
    pub(super) fn original_coefficients(&self, working: &DVector<f64>) -> Vec<f64> {
        let pairs = working.iter().zip(&self.scales);
        let mut original: Vec<f64> = pairs.map(|(b, s)| b * self.outcome_scale / s).collect();
        if self.has_intercept {
            let shift: f64 = original.iter().zip(&self.centres).map(|(b, c)| b * c).sum();
            original[0] += self.outcome_centre - shift;
        }
        original
    }

    /// The contrast of working coefficients that moves as `c'b` does, but for the constant the centring adds; times the outcome's scale.
    pub(super) fn contrast(&self, contrast: &[f64]) -> DVector<f64> {
        let first = contrast.first().copied().unwrap_or(0.0);
        DVector::from_fn(contrast.len(), |place, _| {
            let moved = if self.has_intercept && place > 0 {
                contrast[place] - first * self.centres[place]
            } else {
                contrast[place]
            };
            moved / self.scales[place] * self.outcome_scale
        })
    }

    /// `c'b` in the unit of the outcome for a contrast from [`Working::contrast`] whose weight on the intercept is `intercept`.
    pub(super) fn combine(
        &self,
        contrast: &DVector<f64>,
        at: &DVector<f64>,
        intercept: f64,
    ) -> f64 {
        let constant = if self.has_intercept { intercept * self.outcome_centre } else { 0.0 };
        constant + contrast.dot(at)
    }
}

fn sizes(counts: impl Iterator<Item = usize>) -> Vec<(f64, f64)> {
    let mut groups: BTreeMap<usize, f64> = BTreeMap::new();
    counts.for_each(|count| *groups.entry(count).or_default() += 1.0);
    groups.into_iter().map(|(count, groups)| (count as f64, groups)).collect()
}

/// Root of the total sum of squares of every column and the outcome about its centre; 1 for the intercept.
fn column_scales(products: &Products, centres: &[f64], has_intercept: bool) -> Vec<f64> {
    let inner = products.within();
    let scale = |place: usize| {
        let between: f64 = products
            .groups
            .iter()
            .map(|group| group.count as f64 * (group.mean[place] - centres[place]).powi(2))
            .sum();
        (inner[(place, place)] + between).sqrt()
    };
    let mut scales: Vec<f64> = (0..centres.len()).map(scale).collect();
    if has_intercept {
        scales[0] = 1.0;
    }
    scales
}
