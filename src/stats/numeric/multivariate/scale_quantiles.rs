//! Quantiles of the scale of a t statistic, from a table.

use crate::stats::numeric::distributions::NEARLY_INFINITE;
use crate::stats::numeric::scale::log_scale_density;
use crate::stats::numeric::{
    chi_squared_cdf, chi_squared_sf, find_root_within, normal_cdf, normal_density, normal_sf,
};
use crate::whole;

/// Normal scores from -8 to 8 in steps of 1/20.
const FARTHEST: f64 = 8.0;
const STEPS: usize = 320;

/// `ln S` for `S = sqrt(chi-squared_df / df)` as a function of the normal score of its probability, a curve so smooth that cubic pieces give eight digits.
#[derive(Debug, Clone)]
pub(super) struct ScaleQuantiles {
    /// Value and slope at every score; empty for infinite degrees of freedom.
    knots: Vec<(f64, f64)>,
}

impl ScaleQuantiles {
    pub(super) fn new(df: f64) -> Self {
        if df > NEARLY_INFINITE {
            return Self { knots: Vec::new() };
        }
        let mut knots = Vec::with_capacity(STEPS + 1);
        let mut guess = log_quantile(df, score(0), -1.0);
        for place in 0..=STEPS {
            let z = score(place);
            guess = log_quantile(df, z, guess);
            // d ln S / d z: both probabilities grow alike
            knots.push((guess, normal_density(z) / log_scale_density(df, guess).exp()));
        }
        Self { knots }
    }

    /// Whether the scale varies at all.
    pub(super) fn varies(&self) -> bool {
        !self.knots.is_empty()
    }

    /// `S` at a normal score, by Hermite's cubic; 1 for infinite degrees of freedom.
    pub(super) fn at(&self, z: f64) -> f64 {
        let width = 2.0 * FARTHEST / STEPS as f64;
        let along = ((z + FARTHEST) / width).clamp(0.0, STEPS as f64);
        let place = whole::part(along).min(STEPS - 1);
        let Some(&[(left, left_slope), (right, right_slope)]) = self.knots.get(place..place + 2)
        else {
            return 1.0;
        };
        let t = along - place as f64;
        let bend = (t - 1.0) * (t - 1.0) * t * left_slope + (t - 1.0) * t * t * right_slope;
        let level = left + (right - left) * t * t * (3.0 - 2.0 * t);
        (level + width * bend).exp()
    }
}

fn score(place: usize) -> f64 {
    2.0 * FARTHEST * place as f64 / STEPS as f64 - FARTHEST
}

/// `ln S` with the probability of a score, on the side where that is small, near a guess.
fn log_quantile(df: f64, z: f64, guess: f64) -> f64 {
    let chi_squared = |u: f64| df * (2.0 * u).exp();
    let excess = |u: f64| {
        if z < 0.0 {
            (chi_squared_cdf(chi_squared(u), df) / normal_cdf(z)).ln()
        } else {
            (normal_sf(z) / chi_squared_sf(chi_squared(u), df)).ln()
        }
    };
    let mut reach = 0.2 / df.sqrt();
    // an excess that vanished is infinite, which still has a sign
    while excess(guess - reach) > 0.0 || excess(guess + reach) < 0.0 {
        reach *= 2.0;
        if reach > 1e5 {
            break;
        }
    }
    find_root_within(excess, guess - reach, guess + reach, 1e-12).unwrap_or(guess)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_undoes_the_distribution_between_its_knots() {
        for df in [0.5, 3.0, 25.0, 4000.0] {
            let table = ScaleQuantiles::new(df);
            for z in [-6.02, -1.013, 0.0, 0.777, 4.481] {
                let x = df * table.at(z).powi(2);
                let (found, exact) = if z < 0.0 {
                    (chi_squared_cdf(x, df), normal_cdf(z))
                } else {
                    (chi_squared_sf(x, df), normal_sf(z))
                };
                assert!((found / exact - 1.0).abs() < 2e-6, "{df} {z} {found} {exact}");
            }
        }
        assert_eq!(ScaleQuantiles::new(f64::INFINITY).at(1.0), 1.0);
    }
}
