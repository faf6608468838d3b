//! What the model says of each group.

use super::MixedFit;
use super::solution::Solution;
use crate::stats::error::StatsError;
use crate::stats::numeric::normal_quantile;
use crate::whole;
use nalgebra::DVector;

/// The effect of one group, shrunken towards zero by how little it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupEffect {
    /// The group's code.
    pub code: usize,
    /// Rows of the group.
    pub count: usize,
    /// Conditional mean of the effect, in the unit of the outcome.
    pub effect: f64,
    /// Prediction error variance of the effect, in squared units.
    pub prediction_variance: f64,
    /// How much of the group's own deviation is kept, `r n / (1 + r n)`, from 0 (all pooled) to 1 (none).
    pub shrinkage: f64,
}

/// The expected outcome of one group at given values of the columns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupMean {
    /// The group's code.
    pub code: usize,
    /// Rows of the group.
    pub count: usize,
    /// Fixed part plus group effect, in the unit of the outcome.
    pub mean: f64,
    /// Its prediction error variance, in squared units.
    pub variance: f64,
}

impl GroupMean {
    /// Normal interval `mean -/+ z sqrt(variance)`, the variance components taken as known; draws by
    /// [`MixedFit::draw_group_means`] allow for their uncertainty too. With 10 groups of about 10 rows a 95 % interval holds the truth in some 90 %.
    pub fn interval(&self, level: f64) -> (f64, f64) {
        let half = normal_quantile(0.5 * (1.0 + level)) * self.variance.sqrt();
        (self.mean - half, self.mean + half)
    }
}

/// What a group's mean is made of, at one solution: the contrast of the fixed effects that carries their error, and the group's own conditional deviation.
pub(super) struct Parts {
    pub(super) value: f64,
    pub(super) fixed_error: DVector<f64>,
    /// Conditional variance of the effect over the residual variance.
    pub(super) own_variance: f64,
}

impl MixedFit {
    /// Conditional means of the group effects (best linear unbiased predictors), `r k_g` times the group's mean residual, with the prediction error variance
    /// of `u - u^` (Henderson 1975, Biometrics 31, 423-447): `s^2 [r / (1 + r n) + (r k)^2 m'(X'V^{-1}X)^{-1} m]`, whose second part is the
    /// uncertainty of the fixed effects.
    pub fn group_effects(&self) -> Vec<GroupEffect> {
        let scale = self.working.outcome_scale;
        let no_contrast = DVector::zeros(self.names.len());
        self.each_group(&self.solution, &no_contrast, 0.0, |group, parts| {
            let count = self.working.counts[group];
            GroupEffect {
                code: self.groups[group],
                count: whole::part(count),
                effect: parts.value,
                prediction_variance: self.variance_of(parts, scale),
                shrinkage: self.ratio() * count / (1.0 + self.ratio() * count),
            }
        })
    }

    /// Mean of every group at the row `at` of the columns (the design's column means for an average case), `at'b + u^`, with the variance of its error,
    /// the covariance of the two parts included.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the row.
    pub fn group_means(&self, at: &[f64]) -> Result<Vec<GroupMean>, StatsError> {
        let contrast = self.working_contrast(at)?;
        let intercept = at.first().copied().unwrap_or(0.0);
        Ok(self.each_group(&self.solution, &contrast, intercept, |group, parts| GroupMean {
            code: self.groups[group],
            count: whole::part(self.working.counts[group]),
            mean: parts.value,
            variance: self.variance_of(parts, self.working.outcome_scale),
        }))
    }

    fn variance_of(&self, parts: &Parts, scale: f64) -> f64 {
        let fixed = parts.fixed_error.dot(&self.solution.factor.solve(&parts.fixed_error));
        self.working_variance() * (fixed + parts.own_variance * scale * scale)
    }

    /// What `tell` makes of the parts of each group's mean for a working contrast, at any ratio of the variances; groups are told by their place.
    pub(super) fn each_group<Told>(
        &self,
        solution: &Solution,
        contrast: &DVector<f64>,
        intercept: f64,
        mut tell: impl FnMut(usize, &Parts) -> Told,
    ) -> Vec<Told> {
        let scale = self.working.outcome_scale;
        let fixed = self.working.combine(contrast, &solution.coefficients, intercept);
        // one for all groups: of very many, a vector each would take longer than what is drawn
        let mut parts = Parts { value: 0.0, fixed_error: contrast.clone(), own_variance: 0.0 };
        let groups = solution.weights.iter().zip(&solution.gaps).zip(&self.working.counts);
        groups
            .zip(self.working.means.column_iter())
            .enumerate()
            .map(|(group, (((weight, gap), count), mean))| {
                let kept = solution.ratio * weight;
                parts.value = fixed + scale * kept * gap;
                parts.fixed_error.copy_from(contrast);
                parts.fixed_error.axpy(-(kept * scale), &mean, 1.0);
                parts.own_variance = solution.ratio / (1.0 + solution.ratio * count);
                tell(group, &parts)
            })
            .collect()
    }
}
