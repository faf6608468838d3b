//! Noncentral t, chi-squared and F: what a test statistic follows when there is something to find.

mod mixture;

use super::beta::{log_step, regularised};
use super::distributions::NEARLY_INFINITE;
use super::scale::average_over_scale;
use super::{chi_squared_cdf, chi_squared_sf, f_cdf, f_sf, normal_sf, t_sf};
use mixture::{Mixture, log_poisson};

/// The largest noncentrality of the chi-squared and F tails; above it they are not a number.
pub const MOST_NONCENTRALITY: f64 = 1e8;
/// Relative accuracy asked of the integrals.
const TOLERANCE: f64 = 1e-11;

/// `P(T > t)` of the noncentral t, `T = (Z + noncentrality) / S`, by integrating the normal tail `P(Z > t S - noncentrality)` over the scale `S` (Johnson,
/// Kotz & Balakrishnan 1995, Continuous Univariate Distributions 2, 31.9).
///
/// Every term of the integral is positive, so the relative accuracy (about 1e-10) holds in both tails, for either sign of `t` and of the noncentrality, where
/// series (Benton & Krishnamoorthy 2003, Computational Statistics & Data Analysis 43, 249-267) cancel on one side. `df` is any positive number, infinite for
/// the normal. NaN for `df <= 0` and arguments that are no numbers.
pub fn noncentral_t_sf(t: f64, df: f64, noncentrality: f64) -> f64 {
    if t.is_nan() || !noncentrality.is_finite() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if t.is_infinite() {
        return if t > 0.0 { 0.0 } else { 1.0 };
    }
    if noncentrality == 0.0 {
        return t_sf(t, df);
    }
    average_over_scale(df, |s| normal_sf(t * s - noncentrality), TOLERANCE)
}

/// `P(T <= t)` of the noncentral t; see [`noncentral_t_sf`].
pub fn noncentral_t_cdf(t: f64, df: f64, noncentrality: f64) -> f64 {
    noncentral_t_sf(-t, df, -noncentrality)
}

/// `P(X > x)` of the noncentral chi-squared: `df` degrees of freedom mixed with `df + 2J`, `J` Poisson with mean `noncentrality / 2` (Johnson, Kotz &
/// Balakrishnan 1995, 29.3). All terms are positive, so a small tail keeps its digits.
///
/// NaN for `df` that is not positive and finite, for a negative noncentrality and for one above [`MOST_NONCENTRALITY`].
pub fn noncentral_chi_squared_sf(x: f64, df: f64, noncentrality: f64) -> f64 {
    if noncentrality == 0.0 {
        return chi_squared_sf(x, df);
    }
    if let Some(known) = without_computing(x, df, noncentrality) {
        return 1.0 - known;
    }
    chi_squared_mixture(x, df, noncentrality).rising(|j| chi_squared_sf(x, df + 2.0 * j))
}

/// `P(X <= x)` of the noncentral chi-squared; see [`noncentral_chi_squared_sf`].
pub fn noncentral_chi_squared_cdf(x: f64, df: f64, noncentrality: f64) -> f64 {
    if noncentrality == 0.0 {
        return chi_squared_cdf(x, df);
    }
    if let Some(known) = without_computing(x, df, noncentrality) {
        return known;
    }
    chi_squared_mixture(x, df, noncentrality).falling(|j| chi_squared_cdf(x, df + 2.0 * j))
}

fn chi_squared_mixture(x: f64, df: f64, noncentrality: f64) -> Mixture<impl Fn(f64) -> f64> {
    let log_step = move |j: f64| log_poisson(0.5 * df + j, 0.5 * x);
    Mixture { mean: 0.5 * noncentrality, log_step }
}

/// `P(F > f)` of the noncentral F: `d1 F / (d1 F + d2)` is a beta variable with parameters `d1/2 + J` and `d2/2`, `J` Poisson with mean `noncentrality / 2`
/// (Johnson, Kotz & Balakrishnan 1995, 30.3). All terms are positive, so a small tail keeps its digits. `denominator` may be infinite.
///
/// NaN for degrees of freedom that are not positive, for a negative noncentrality and for one above [`MOST_NONCENTRALITY`].
pub fn noncentral_f_sf(f: f64, numerator: f64, denominator: f64, noncentrality: f64) -> f64 {
    if denominator > NEARLY_INFINITE {
        return noncentral_chi_squared_sf(numerator * f, numerator, noncentrality);
    }
    if noncentrality == 0.0 {
        return f_sf(f, numerator, denominator);
    }
    if let Some(known) = without_computing(f, numerator.min(denominator), noncentrality) {
        return 1.0 - known;
    }
    let beta = BetaShare::new(f, numerator, denominator);
    let upper = |j| regularised(beta.b, beta.a + j, beta.complement, beta.share);
    beta.mixture(noncentrality).rising(upper)
}

/// `P(F <= f)` of the noncentral F; see [`noncentral_f_sf`].
pub fn noncentral_f_cdf(f: f64, numerator: f64, denominator: f64, noncentrality: f64) -> f64 {
    if denominator > NEARLY_INFINITE {
        return noncentral_chi_squared_cdf(numerator * f, numerator, noncentrality);
    }
    if noncentrality == 0.0 {
        return f_cdf(f, numerator, denominator);
    }
    if let Some(known) = without_computing(f, numerator.min(denominator), noncentrality) {
        return known;
    }
    let beta = BetaShare::new(f, numerator, denominator);
    let lower = |j| regularised(beta.a + j, beta.b, beta.share, beta.complement);
    beta.mixture(noncentrality).falling(lower)
}

/// An F statistic as a share of a beta variable: `x = d1 f / (d1 f + d2)`, its complement, and the parameters `d1/2` and `d2/2`.
#[derive(Clone, Copy)]
struct BetaShare {
    a: f64,
    b: f64,
    share: f64,
    complement: f64,
}

impl BetaShare {
    fn new(f: f64, numerator: f64, denominator: f64) -> Self {
        let ratio = numerator * f / denominator;
        Self {
            a: 0.5 * numerator,
            b: 0.5 * denominator,
            share: ratio / (1.0 + ratio),
            complement: 1.0 / (1.0 + ratio),
        }
    }

    fn mixture(self, noncentrality: f64) -> Mixture<impl Fn(f64) -> f64> {
        let log_step = move |j: f64| log_step(self.a + j, self.b, self.share, self.complement);
        Mixture { mean: 0.5 * noncentrality, log_step }
    }
}

/// The distribution function at the ends and outside the range of the arguments.
fn without_computing(x: f64, df: f64, noncentrality: f64) -> Option<f64> {
    let valid = df > 0.0 && df.is_finite() && (0.0..=MOST_NONCENTRALITY).contains(&noncentrality);
    if !valid || x.is_nan() {
        return Some(f64::NAN);
    }
    if x <= 0.0 {
        return Some(0.0);
    }
    (x == f64::INFINITY).then_some(1.0)
}

#[cfg(test)]
mod tests;
