//! The studentised range: the largest difference among equal means, in units of an estimated error.

use super::distributions::NEARLY_INFINITE;
use super::multivariate::settled;
use super::scale::average_over_scale;
use super::{find_root_within, integrate, normal_cdf, normal_density, normal_sf};

/// Relative accuracy asked of the inner and of the outer integral.
const INNER: f64 = 1e-12;
const OUTER: f64 = 1e-9;
/// A normal variable beyond this adds less than rounding.
const FAR: f64 = 9.0;

/// `P(Q > q)`, where `Q` is the range of `means` independent standard normal variables over an independent `S = sqrt(chi-squared_df / df)`: the double
/// integral over the largest variable and over `S` (Harter 1960, Annals of Mathematical Statistics 31, 1122-1147), by adaptive Gauss-Legendre rules. The
/// integrand of the tail itself is summed, so a small tail keeps about nine digits. `df` may be infinite.
///
/// NaN for fewer than two means, `df <= 0` and arguments that are no numbers.
pub fn studentised_range_sf(q: f64, means: usize, df: f64) -> f64 {
    tail(q, means, df, Side::Above)
}

/// `P(Q <= q)`; see [`studentised_range_sf`].
pub fn studentised_range_cdf(q: f64, means: usize, df: f64) -> f64 {
    tail(q, means, df, Side::Below)
}

/// The `q` with `P(Q > q) = tail`, to nine digits; NaN unless `0 < tail < 1`.
pub fn studentised_range_upper_quantile(tail: f64, means: usize, df: f64) -> f64 {
    let valid = tail > 0.0 && tail < 1.0 && means >= 2 && df > 0.0;
    if !valid {
        return f64::NAN;
    }
    let excess = |q: f64| settled((studentised_range_sf(q, means, df) / tail).ln());
    let mut high = 4.0;
    while excess(high) > 0.0 && high < 1e100 {
        high *= 2.0;
    }
    let mut low = 0.5 * high;
    while excess(low) < 0.0 && low > 1e-100 {
        high = low;
        low *= 0.5;
    }
    find_root_within(excess, low, high, 1e-10).unwrap_or(f64::NAN)
}

#[derive(Clone, Copy, PartialEq)]
enum Side {
    Above,
    Below,
}

fn tail(q: f64, means: usize, df: f64, side: Side) -> f64 {
    if q.is_nan() || df.is_nan() || df <= 0.0 || means < 2 {
        return f64::NAN;
    }
    if q <= 0.0 || q == f64::INFINITY {
        return f64::from(u8::from((q <= 0.0) == (side == Side::Above)));
    }
    let others = means as f64 - 1.0;
    let at = |s: f64| match side {
        Side::Above => range_above(q * s, others),
        Side::Below => range_below(q * s, others),
    };
    if df > NEARLY_INFINITE { at(1.0) } else { average_over_scale(df, at, OUTER).min(1.0) }
}

/// `P(range > w)` of `others + 1` normal variables: `k integral phi(z) (A^(k-1) - (A - B)^(k-1)) dz` with `A = Phi(z)`, `B = Phi(z - w)`, `z` the largest.
fn range_above(w: f64, others: f64) -> f64 {
    let integrand = |z: f64| {
        let below = normal_cdf(z);
        let outside = (normal_cdf(z - w) / below).min(1.0);
        normal_density(z) * below.powf(others) * -(others * (-outside).ln_1p()).exp_m1()
    };
    let low = (0.5 * w - FAR).max(-FAR);
    ((others + 1.0) * integrate(integrand, low, 0.5 * w + FAR, 3, INNER)).min(1.0)
}

/// `P(range <= w)`: `k integral phi(z) (Phi(z) - Phi(z - w))^(k-1) dz`.
fn range_below(w: f64, others: f64) -> f64 {
    let integrand = |z: f64| {
        // on the side where the two terms are small
        let within = if z > 0.5 * w {
            normal_sf(z - w) - normal_sf(z)
        } else {
            normal_cdf(z) - normal_cdf(z - w)
        };
        normal_density(z) * within.powf(others)
    };
    ((others + 1.0) * integrate(integrand, -FAR, FAR, 3, INNER)).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::numeric::t_two_sided;

    fn close(found: f64, expected: f64, relative: f64) {
        assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
    }

    #[test]
    fn the_range_of_two_is_a_t_times_root_two() {
        for df in [1.0, 4.5, 60.0, f64::INFINITY] {
            for q in [0.2, 3.0, 9.0, 40.0] {
                let exact = t_two_sided(q / std::f64::consts::SQRT_2, df);
                close(studentised_range_sf(q, 2, df), exact, 1e-8);
            }
        }
    }

    #[test]
    fn the_printed_points_cut_off_their_tail_to_the_last_digit() {
        // Harter 1960, upper 5 % and 1 % points (from memory)
        for (tail, means, df, printed, unit) in [
            (0.05, 3, 10.0, 3.877, 1e-3),
            (0.05, 3, 20.0, 3.578, 1e-3),
            (0.05, 4, 16.0, 4.046, 1e-3),
            (0.05, 4, 12.0, 4.199, 1e-3),
            (0.05, 10, 20.0, 5.008, 1e-3),
            (0.05, 5, f64::INFINITY, 3.858, 1e-3),
            (0.05, 3, 1.0, 26.98, 1e-2),
            (0.01, 3, 10.0, 5.270, 1e-3),
        ] {
            let above = |q: f64| studentised_range_sf(q, means, df);
            assert!(above(printed - 0.501 * unit) > tail, "{means} {df} {printed}");
            assert!(above(printed + 0.501 * unit) < tail, "{means} {df} {printed}");
        }
    }

    #[test]
    fn scipy_and_r_agree() {
        // scipy 1.17.1, scipy.stats.studentized_range; R 4.2.2, ptukey, agrees to 1e-10
        close(studentised_range_sf(3.5, 3, 10.0), 0.07710331083841038, 1e-9);
        close(studentised_range_sf(8.0, 4, 5.0), 0.008986542291173683, 1e-8);
        close(studentised_range_cdf(1.0, 3, 30.0), 0.2388040767290721, 1e-9);
        close(studentised_range_cdf(2.0, 20, 8.0), 0.0161588002138829, 1e-9);
        // R 4.2.2, qtukey(0.95, 7, 13.5) = 4.855478634312012; scipy 4.855478634324619
        close(studentised_range_upper_quantile(0.05, 7, 13.5), 4.85547863432, 1e-9);
    }

    #[test]
    fn both_tails_add_up_to_one() {
        for (q, means, df) in [(0.7, 3, 5.0), (3.3, 8, 2.0), (4.0, 40, 200.0), (2.0, 5, 1e9)] {
            let total = studentised_range_sf(q, means, df) + studentised_range_cdf(q, means, df);
            close(total, 1.0, 1e-8);
        }
    }

    #[test]
    fn impossible_arguments_give_no_number() {
        assert!(studentised_range_sf(1.0, 1, 5.0).is_nan());
        assert!(studentised_range_sf(f64::NAN, 3, 5.0).is_nan());
        assert!(studentised_range_cdf(1.0, 3, 0.0).is_nan());
        assert!(studentised_range_upper_quantile(0.0, 3, 5.0).is_nan());
        assert_eq!(studentised_range_sf(0.0, 3, 5.0), 1.0);
        assert_eq!(studentised_range_cdf(f64::INFINITY, 3, 5.0), 1.0);
    }
}
