//! The uncertainty of the variances, by simulation from the fitted model.

use super::MixedFit;
use super::solution::Working;
use crate::stats::error::StatsError;
use crate::stats::resample::{replicate, stream};
use nalgebra::DVector;
use ndarray::{Array2, ShapeBuilder};
use rand::Rng;
use rand_distr::{ChiSquared, Distribution, StandardNormal};
use rayon::prelude::*;

/// Turns a seed into another one, so that draws do not repeat the chance that their components were drawn with.
const APART: u64 = 0x9e37_79b9_7f4a_7c15;

/// So many draws are held group by group and draw by draw too.
const AT_ONCE: usize = 128;

/// The two standard deviations of one replicate, in the unit of the outcome.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VarianceComponents {
    /// Between groups.
    pub sd_group: f64,
    /// Inside groups.
    pub sd_residual: f64,
}

impl MixedFit {
    /// Variance components of samples drawn from the fitted model and fitted again (Davison & Hinkley 1997, section 4.2.3).
    ///
    /// Only what the fit reads is drawn: group means `N(0, t^2 + s^2 / n)`, inner cross-products `N(0, s^2 W)` and the inner sum of squares, `s^2` times a
    /// chi-squared variable; that is the same distribution as drawing every row, at the cost of the groups. Replicates whose fit does not converge are left
    /// out. One ChaCha stream a replicate: the same result on any number of threads.
    pub fn parametric_bootstrap(&self, replicates: usize, seed: u64) -> Vec<VarianceComponents> {
        let directions = self.working.inner_directions();
        let draws = replicate(seed, replicates, |generator| self.refit(&directions, generator));
        draws.into_iter().flatten().collect()
    }

    fn refit(
        &self,
        directions: &[(f64, DVector<f64>)],
        generator: &mut impl Rng,
    ) -> Option<VarianceComponents> {
        let mut sample = self.working.clone();
        self.draw_into(&mut sample, directions, generator);
        let ratio = sample.best_ratio().ok()?;
        let solution = sample.solve(ratio).ok()?;
        let sd_residual = sample.outcome_scale * solution.variance(sample.degrees()).sqrt();
        Some(VarianceComponents { sd_group: ratio.sqrt() * sd_residual, sd_residual })
    }

    /// Replaces the outcome by one drawn from the model with all coefficients zero, on which the components do not depend.
    fn draw_into(
        &self,
        sample: &mut Working,
        directions: &[(f64, DVector<f64>)],
        generator: &mut impl Rng,
    ) {
        let sd = self.working_variance().sqrt();
        for (outcome, count) in sample.outcomes.iter_mut().zip(&self.working.counts) {
            *outcome = sd * (self.ratio() + 1.0 / count).sqrt() * normal(generator);
        }
        sample.within_outcome.fill(0.0);
        sample.within_square = 0.0;
        for (value, vector) in directions {
            let along = sd * normal(generator);
            sample.within_outcome.axpy(along * value.sqrt(), vector, 1.0);
            sample.within_square += along * along;
        }
        let left = self.working.rows - self.working.counts.len() - directions.len();
        // the fit was identified, so degrees are left and the distribution exists
        if let Ok(rest) = ChiSquared::new(left as f64) {
            sample.within_square += sd * sd * rest.sample(generator);
        }
    }

    /// Draws of the groups' means at the row `at`, one row a draw, one column a group (in the order of [`MixedFit::groups`](super::MixedFit)), the draws of a
    /// group side by side: each draw takes the next of the given variance components (of [`MixedFit::likelihood_draws`] or
    /// [`MixedFit::parametric_bootstrap`]), finds the groups' conditional distribution under them from the data, and draws from it, the fixed effects' error
    /// shared by all groups.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the row; `Empty` without components.
    pub fn draw_group_means(
        &self,
        at: &[f64],
        components: &[VarianceComponents],
        draws: usize,
        seed: u64,
    ) -> Result<Array2<f64>, StatsError> {
        let contrast = self.working_contrast(at)?;
        if components.is_empty() {
            let what = "the list of variance components".into();
            return Err(StatsError::Empty { what });
        }
        let intercept = at.first().copied().unwrap_or(0.0);
        let one = |draw: usize| {
            let given = &components[draw % components.len()];
            // the components come from the same seed: another stream of chance keeps the draws apart from them
            let mut generator = stream(seed ^ APART, draw as u64);
            self.draw_once(&contrast, intercept, given, &mut generator)
        };
        let mut side_by_side = vec![0.0; draws * self.groups.len()];
        for first in (0..draws).step_by(AT_ONCE) {
            let block = first..draws.min(first + AT_ONCE);
            let rows: Result<Vec<Vec<f64>>, StatsError> =
                block.clone().into_par_iter().map(one).collect();
            let rows = rows?;
            side_by_side.par_chunks_mut(draws).enumerate().for_each(|(group, of_group)| {
                let own = rows.iter().map(|row| row[group]);
                of_group[block.clone()].iter_mut().zip(own).for_each(|(place, mean)| *place = mean);
            });
        }
        let shape = (draws, self.groups.len()).f();
        // as many were made as the shape holds
        Ok(Array2::from_shape_vec(shape, side_by_side).unwrap_or_default())
    }

    fn draw_once(
        &self,
        contrast: &DVector<f64>,
        intercept: f64,
        given: &VarianceComponents,
        generator: &mut impl Rng,
    ) -> Result<Vec<f64>, StatsError> {
        let scale = self.working.outcome_scale;
        let ratio = (given.sd_group / given.sd_residual).powi(2);
        let solution = self.working.solve(ratio)?;
        let white = DVector::from_fn(contrast.len(), |_, _| normal(generator));
        let sd = given.sd_residual / scale;
        // L' x = z gives x the covariance (L L')^-1; a Cholesky factor has no zero on its diagonal
        let factor = solution.factor.l();
        let fixed = factor.tr_solve_lower_triangular(&white).unwrap_or(white) * sd;
        Ok(self.each_group(&solution, contrast, intercept, |_, parts| {
            let own = parts.own_variance.sqrt() * given.sd_residual * normal(generator);
            parts.value + parts.fixed_error.dot(&fixed) + own
        }))
    }
}

fn normal(generator: &mut impl Rng) -> f64 {
    StandardNormal.sample(generator)
}
