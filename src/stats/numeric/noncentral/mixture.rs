//! Sums over a Poisson number of extra degrees of freedom.

use crate::stats::numeric::beta::stirling_rest;
use statrs::function::gamma::ln_gamma;
use std::f64::consts::TAU;

/// What is left of a sum when the rest is below this share of it.
const NEGLIGIBLE: f64 = 1e-17;

/// Tails `g(j)` averaged over `J`, Poisson with a mean above 0; neighbouring tails differ by `exp(log_step(j))`, so that only the first has to be computed.
pub(super) struct Mixture<Step: Fn(f64) -> f64> {
    pub(super) mean: f64,
    pub(super) log_step: Step,
}

impl<Step: Fn(f64) -> f64> Mixture<Step> {
    /// Upper tails, which rise by a step from `j` to `j + 1`. Numbers more than nine standard deviations below the mean are left out: their tails are smaller
    /// than those summed, so they matter less than their Poisson share.
    pub(super) fn rising(&self, tail: impl Fn(f64) -> f64) -> f64 {
        let mut j = (self.mean - 9.0 * self.mean.sqrt() - 10.0).floor().max(0.0);
        let mut weight = log_poisson(j, self.mean).exp();
        let mut value = tail(j);
        let mut total = 0.0;
        loop {
            total += weight * value;
            value = (value + (self.log_step)(j).exp()).min(1.0);
            j += 1.0;
            weight *= self.mean / j;
            // tails are at most one, and beyond the mean the weights fall faster than a geometric series
            let left = weight / (1.0 - self.mean / (j + 1.0));
            if j > self.mean && (left <= NEGLIGIBLE * total || weight == 0.0) {
                return total.min(1.0);
            }
        }
    }

    /// Lower tails, which rise by a step from `j + 1` to `j`; the mirror of [`Mixture::rising`].
    pub(super) fn falling(&self, tail: impl Fn(f64) -> f64) -> f64 {
        let mut j = (self.mean + 9.0 * self.mean.sqrt() + 40.0).ceil();
        // with a small mean this is so far out that the first weight would vanish, and all others with it
        while j > 0.0 && log_poisson(j, self.mean) < -600.0 {
            j -= 1.0;
        }
        let mut weight = log_poisson(j, self.mean).exp();
        let mut value = tail(j);
        let mut total = weight * value;
        while j > 0.0 {
            weight *= j / self.mean;
            j -= 1.0;
            value = (value + (self.log_step)(j).exp()).min(1.0);
            total += weight * value;
            let left = weight / (1.0 - j / self.mean);
            if j < self.mean && left <= NEGLIGIBLE * total {
                break;
            }
        }
        total.min(1.0)
    }
}

/// `ln(x^a e^-x / Gamma(a + 1))`, for a whole `a` a Poisson probability; for a large `a` the large terms cancel inside Stirling's series.
pub(super) fn log_poisson(a: f64, x: f64) -> f64 {
    if a < 10.0 {
        return a * x.ln() - x - ln_gamma(a + 1.0);
    }
    let excess = (x - a) / a;
    // an x far below a has no digits left in the excess
    let logarithm = if excess.abs() < 0.5 { excess.ln_1p() } else { (x / a).ln() };
    a * (logarithm - excess) - 0.5 * (TAU * a).ln() - stirling_rest(a)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn poisson_probabilities_sum_to_one() {
        for mean in [0.3_f64, 12.0, 800.0] {
            let most = mean + 12.0 * mean.sqrt() + 40.0;
            let total: f64 = (0..most as u32).map(|j| log_poisson(f64::from(j), mean).exp()).sum();
            assert!((total - 1.0).abs() < 1e-12, "{mean} {total}");
        }
    }

    #[test]
    fn both_forms_of_a_poisson_probability_meet() {
        let direct = 10.0 * 7.0_f64.ln() - 7.0 - ln_gamma(11.0);
        assert!((log_poisson(10.0, 7.0) - direct).abs() < 1e-13);
    }
}
