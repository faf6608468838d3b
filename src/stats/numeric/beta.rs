//! The regularised incomplete beta function, on which the t, F, beta and binomial tails rest.
//!
//! statrs offers the same function; this one takes `x` and `1 - x` apart, so that an F statistic of 1e9 still has a p value, and iterates until it has
//! converged, which samples of a hundred thousand need.

use statrs::function::gamma::ln_gamma;

const SMALLEST: f64 = 1e-300;
const MOST_STEPS: u32 = 100_000;

/// `P(B <= x)` of a beta(a, b) variable: `I_x(a, b)`, by the continued fraction (Abramowitz & Stegun 1964, 26.5.8) in Lentz's form.
///
/// `a` and `b` must be positive and finite, else NaN.
pub fn beta_cdf(a: f64, b: f64, x: f64) -> f64 {
    regularised(a, b, x, 1.0 - x)
}

/// `P(B > x)` of a beta(a, b) variable: `I_{1-x}(b, a)`, without subtracting from one.
pub fn beta_sf(a: f64, b: f64, x: f64) -> f64 {
    regularised(b, a, 1.0 - x, x)
}

/// `I_x(a, b)` where the caller knows the complement of `x` exactly.
pub(super) fn regularised(a: f64, b: f64, x: f64, complement: f64) -> f64 {
    let valid = a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite();
    if !valid || x.is_nan() || complement.is_nan() {
        return f64::NAN;
    }
    if x <= 0.0 {
        return 0.0;
    }
    if complement <= 0.0 {
        return 1.0;
    }
    let front =
        (a * log_of_share(x, complement) + b * log_of_share(complement, x) - log_beta(a, b)).exp();
    // the fraction converges fast on this side of the mean only
    if x < (a + 1.0) / (a + b + 2.0) {
        front * continued_fraction(a, b, x) / a
    } else {
        1.0 - front * continued_fraction(b, a, complement) / b
    }
}

/// `ln x` where `1 - x` is known exactly, which keeps the digits of an `x` near one.
fn log_of_share(x: f64, complement: f64) -> f64 {
    if complement < 0.5 { (-complement).ln_1p() } else { x.ln() }
}

/// `ln B(a, b)`. For a large parameter the two large gamma functions are subtracted inside Stirling's series, where they cancel without loss.
fn log_beta(a: f64, b: f64) -> f64 {
    let (large, small) = (a.max(b), a.min(b));
    if large < 100.0 {
        return ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b);
    }
    let total = large + small;
    let ratio = (large - 0.5) * (small / large).ln_1p() + small * (total.ln() - 1.0);
    ln_gamma(small) - (ratio + stirling_rest(total) - stirling_rest(large))
}

/// What Stirling's formula lacks: `ln Gamma(x) - (x - 1/2) ln x + x - ln(2 pi) / 2` (Abramowitz & Stegun 1964, 6.1.41), to 1e-13 from `x = 10` on.
pub(super) fn stirling_rest(x: f64) -> f64 {
    let square = x * x;
    let inner = 1.0 / 1260.0
        - (1.0 / 1680.0 - (1.0 / 1188.0 - 691.0 / (360_360.0 * square)) / square) / square;
    (1.0 / 12.0 - (1.0 / 360.0 - inner / square) / square) / x
}

/// `ln(x^a (1 - x)^b / (a B(a, b)))`: by what `I_x(a, b)` exceeds `I_x(a + 1, b)` (Abramowitz & Stegun 1964, 26.5.16).
pub(super) fn log_step(a: f64, b: f64, x: f64, complement: f64) -> f64 {
    a * log_of_share(x, complement) + b * log_of_share(complement, x) - log_beta(a, b) - a.ln()
}

fn continued_fraction(a: f64, b: f64, x: f64) -> f64 {
    let away = |value: f64| {
        if value.abs() < SMALLEST { SMALLEST } else { value }
    };
    let mut upper = 1.0;
    let mut lower = 1.0 / away(1.0 - (a + b) * x / (a + 1.0));
    let mut result = lower;
    for step in 1..MOST_STEPS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut factor = 1.0;
        for term in [even, odd] {
            lower = 1.0 / away(1.0 + term * lower);
            upper = away(1.0 + term / upper);
            factor = lower * upper;
            result *= factor;
        }
        if (factor - 1.0).abs() <= f64::EPSILON {
            break;
        }
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_uniform_case_is_the_identity() {
        for x in [0.0, 0.1, 0.5, 0.93, 1.0] {
            assert!((beta_cdf(1.0, 1.0, x) - x).abs() < 1e-15);
        }
    }

    #[test]
    fn closed_forms_of_integer_parameters_are_met() {
        // I_x(2, 3) = x^2 (6 - 8x + 3x^2)
        let x: f64 = 0.3;
        let exact = x * x * (6.0 - 8.0 * x + 3.0 * x * x);
        assert!((beta_cdf(2.0, 3.0, x) - exact).abs() < 1e-15);
        assert!((beta_sf(2.0, 3.0, x) - (1.0 - exact)).abs() < 1e-15);
    }

    #[test]
    fn nonsense_parameters_give_no_number() {
        assert!(beta_cdf(0.0, 1.0, 0.5).is_nan());
        assert!(beta_cdf(1.0, f64::INFINITY, 0.5).is_nan());
        assert!(beta_cdf(1.0, 1.0, f64::NAN).is_nan());
    }
}
