//! Tail probabilities and quantiles, each computed on the side where it is small.

use super::beta::regularised;
use super::{beta_cdf, find_root, normal_quantile, normal_sf};
use statrs::function::gamma::{gamma_lr, gamma_ur};

/// Above so many degrees of freedom the limit distribution is nearer (relative error about 1 / df) than the continued fraction (about df times rounding).
pub(super) const NEARLY_INFINITE: f64 = 1e8;

/// `P(T > t)` of Student's t with `df` degrees of freedom (any positive number; infinite gives the normal): `I_{df/(df+t^2)}(df/2, 1/2) / 2`
/// for positive `t` (Abramowitz & Stegun 1964, 26.7.1).
pub fn t_sf(t: f64, df: f64) -> f64 {
    let half = 0.5 * t_two_sided(t, df);
    if t >= 0.0 { half } else { 1.0 - half }
}

/// `P(|T| > |t|)`, the two-sided p value.
pub fn t_two_sided(t: f64, df: f64) -> f64 {
    if df > NEARLY_INFINITE {
        return 2.0 * normal_sf(t.abs());
    }
    if t.is_infinite() {
        return if df > 0.0 { 0.0 } else { f64::NAN };
    }
    let share = t * t / df;
    regularised(0.5 * df, 0.5, 1.0 / (1.0 + share), share / (1.0 + share))
}

/// The `t` with `P(T <= t) = probability`, by a bracketed root of the tail; NaN outside 0 to 1 or for `df <= 0`.
pub fn t_quantile(probability: f64, df: f64) -> f64 {
    if df > NEARLY_INFINITE {
        return normal_quantile(probability);
    }
    if df.is_nan() || df <= 0.0 || !(0.0..=1.0).contains(&probability) {
        return f64::NAN;
    }
    if probability == 0.5 {
        return 0.0;
    }
    if probability < 0.5 {
        return -upper_point(probability, |t| t_sf(t, df));
    }
    upper_point(1.0 - probability, |t| t_sf(t, df))
}

/// `P(F > f)` of an F variable: `I_{d2/(d2+d1 f)}(d2/2, d1/2)` (Abramowitz & Stegun 1964, 26.6.2); `denominator` may be infinite.
pub fn f_sf(f: f64, numerator: f64, denominator: f64) -> f64 {
    if denominator > NEARLY_INFINITE {
        return chi_squared_sf(numerator * f, numerator);
    }
    if f <= 0.0 {
        return 1.0;
    }
    if f == f64::INFINITY {
        return 0.0;
    }
    let share = numerator * f / denominator;
    regularised(0.5 * denominator, 0.5 * numerator, 1.0 / (1.0 + share), share / (1.0 + share))
}

/// The `f` with `P(F <= f) = probability`.
pub fn f_quantile(probability: f64, numerator: f64, denominator: f64) -> f64 {
    f_upper_quantile(1.0 - probability, numerator, denominator)
}

/// The `f` with `P(F > f) = tail`, to full accuracy for a small tail.
pub fn f_upper_quantile(tail: f64, numerator: f64, denominator: f64) -> f64 {
    upper_point(tail, |f| f_sf(f, numerator, denominator))
}

/// `P(X > x)` of a chi-squared variable with `df` degrees of freedom: the upper regularised gamma function `Q(df/2, x/2)`.
pub fn chi_squared_sf(x: f64, df: f64) -> f64 {
    if x.is_nan() || !df.is_finite() || 0.5 * df <= 0.0 {
        return f64::NAN;
    }
    // halving the smallest double gives zero, which the library refuses with a panic
    let half = 0.5 * x;
    if half <= 0.0 {
        return 1.0;
    }
    if x == f64::INFINITY {
        return 0.0;
    }
    gamma_ur(0.5 * df, half)
}

/// `P(X <= x)` of a chi-squared variable: the lower regularised gamma function `P(df/2, x/2)`.
pub fn chi_squared_cdf(x: f64, df: f64) -> f64 {
    if x.is_nan() || !df.is_finite() || 0.5 * df <= 0.0 {
        return f64::NAN;
    }
    let half = 0.5 * x;
    if half <= 0.0 {
        return 0.0;
    }
    if x == f64::INFINITY {
        return 1.0;
    }
    gamma_lr(0.5 * df, half)
}

/// `P(F <= f)` of an F variable: `I_{d1 f/(d2+d1 f)}(d1/2, d2/2)` (Abramowitz & Stegun 1964, 26.6.2); `denominator` may be infinite.
pub fn f_cdf(f: f64, numerator: f64, denominator: f64) -> f64 {
    if denominator > NEARLY_INFINITE {
        return chi_squared_cdf(numerator * f, numerator);
    }
    if f <= 0.0 {
        return 0.0;
    }
    if f == f64::INFINITY {
        return 1.0;
    }
    let share = numerator * f / denominator;
    regularised(0.5 * numerator, 0.5 * denominator, share / (1.0 + share), 1.0 / (1.0 + share))
}

/// The `x` with `P(X <= x) = probability`.
pub fn chi_squared_quantile(probability: f64, df: f64) -> f64 {
    upper_point(1.0 - probability, |x| chi_squared_sf(x, df))
}

/// The `x` in 0 to 1 with `P(B <= x) = probability` of a beta(a, b) variable; NaN outside the ranges.
pub fn beta_quantile(probability: f64, a: f64, b: f64) -> f64 {
    if !(0.0..=1.0).contains(&probability) {
        return f64::NAN;
    }
    find_root(|x| beta_cdf(a, b, x) - probability, 0.0, 1.0).unwrap_or(f64::NAN)
}

/// The positive point above which a falling tail holds `tail`; NaN outside 0 to 1.
fn upper_point(tail: f64, survival: impl Fn(f64) -> f64) -> f64 {
    if !(0.0..=1.0).contains(&tail) {
        return f64::NAN;
    }
    if tail == 0.0 {
        return f64::INFINITY;
    }
    let mut high = 1.0;
    while survival(high) > tail && high < f64::MAX / 4.0 {
        high *= 2.0;
    }
    find_root(|x| survival(x) - tail, 0.0, high).unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, relative: f64) {
        assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
    }

    #[test]
    fn one_and_two_degrees_of_freedom_have_closed_forms() {
        // Cauchy: P(T > t) = 1/2 - atan(t)/pi; two: 1/2 - t / (2 sqrt(2 + t^2))
        for t in [-3.0_f64, 0.1, 1.0, 12.7] {
            close(t_sf(t, 1.0), 0.5 - t.atan() / std::f64::consts::PI, 1e-13);
            close(t_sf(t, 2.0), 0.5 - t / (2.0 * (2.0 + t * t).sqrt()), 1e-13);
        }
    }

    #[test]
    fn printed_tables_are_met_to_their_digits() {
        // Fisher & Yates 1963, tables III, IV and V (values from memory)
        close(t_quantile(0.975, 10.0), 2.228, 2e-4);
        close(t_quantile(0.975, 1.0), 12.706, 1e-4);
        close(chi_squared_quantile(0.95, 1.0), 3.841, 2e-4);
        close(f_quantile(0.95, 3.0, 10.0), 3.71, 1e-3);
        close(normal_quantile(0.975), 1.959963984540054, 1e-14);
    }

    #[test]
    fn far_tails_do_not_vanish() {
        // P(F > f) with 2 and d degrees of freedom is (1 + 2f/d)^(-d/2)
        close(f_sf(1e6, 2.0, 30.0), (1.0 + 2e6 / 30.0_f64).powf(-15.0), 1e-11);
        assert!(f_sf(5e6, 1.0, 34.0) > 0.0);
        assert!(t_sf(40.0, 50.0) > 0.0);
    }

    #[test]
    fn a_hundred_thousand_degrees_of_freedom_are_nearly_normal() {
        close(t_sf(2.0, 1e5), normal_sf(2.0), 1e-3);
        close(t_sf(2.0, f64::INFINITY), normal_sf(2.0), 0.0);
        close(t_sf(2.0, 0.99e8), t_sf(2.0, 1.01e8), 1e-7);
    }

    #[test]
    fn quantiles_undo_tails() {
        for df in [0.7, 3.0, 12.5, 4000.0] {
            for probability in [1e-6, 0.025, 0.4, 0.5, 0.9, 0.9999] {
                let t = t_quantile(probability, df);
                close(t_sf(-t, df), probability, 1e-9);
            }
        }
        close(beta_cdf(2.5, 7.0, beta_quantile(0.025, 2.5, 7.0)), 0.025, 1e-12);
    }

    #[test]
    fn the_smallest_double_has_a_chi_squared_tail() {
        assert_eq!(chi_squared_sf(f64::from_bits(1), 3.0), 1.0);
        assert_eq!(chi_squared_cdf(f64::from_bits(1), 3.0), 0.0);
    }

    #[test]
    fn lower_and_upper_tails_add_up_to_one() {
        for (x, df) in [(0.2, 1.0), (9.0, 4.0), (130.0, 120.0)] {
            close(chi_squared_cdf(x, df) + chi_squared_sf(x, df), 1.0, 1e-13);
            close(f_cdf(x, df, 7.0) + f_sf(x, df, 7.0), 1.0, 1e-13);
        }
    }

    #[test]
    fn a_t_squared_is_an_f() {
        for (t, df) in [(0.3, 4.0), (2.1, 17.0), (5.5, 90.0)] {
            close(f_sf(t * t, 1.0, df), t_two_sided(t, df), 1e-12);
        }
    }

    #[test]
    fn impossible_arguments_give_no_number() {
        assert!(t_quantile(1.5, 3.0).is_nan());
        assert!(t_quantile(0.5, -1.0).is_nan());
        assert!(t_sf(1.0, f64::NAN).is_nan());
        assert!(chi_squared_sf(1.0, f64::INFINITY).is_nan());
        assert!(beta_quantile(-0.1, 1.0, 1.0).is_nan());
    }
}
