//! The normal tail, to the last digits.
//!
//! The complementary error function of statrs 0.19 is off by up to 1e-10 of its value (0.6 gives 0.39614390919 where 0.39614390915 is right), which every
//! integral over a normal tail would inherit.

use statrs::function::erf::erfc_inv;
use std::f64::consts::{SQRT_2, TAU};
use std::sync::OnceLock;

use crate::whole;

/// Knots of the expansion lie so far apart.
const SPACING: f64 = 0.25;
/// Knots from 0 to 12; beyond, the continued fraction converges at once.
const KNOTS: usize = 49;
/// Terms of each expansion: with steps up to 1/8 the next is below the last digit.
const TERMS: usize = 14;

/// `P(Z <= z)` of a standard normal variable.
pub fn normal_cdf(z: f64) -> f64 {
    normal_sf(-z)
}

/// `P(Z > z)` of a standard normal variable, as density times Mills' ratio; a small tail keeps all its digits.
pub fn normal_sf(z: f64) -> f64 {
    if z < 0.0 {
        return 1.0 - normal_sf(-z);
    }
    let density = normal_density(z);
    // at infinity the ratio is no number but nothing is left of the density
    if density == 0.0 { 0.0 } else { density * mills_ratio(z) }
}

/// `exp(-z^2/2) / sqrt(2 pi)`; the square is split at a short number, so that its rounding does not reach the exponent.
pub fn normal_density(z: f64) -> f64 {
    let knot = (z / SPACING).round() * SPACING;
    let close = z.abs() < 40.0;
    let exponent = if close { 0.5 * (z - knot) * (z + knot) } else { 0.0 };
    (-0.5 * if close { knot * knot } else { z * z }).exp() * (-exponent).exp() / TAU.sqrt()
}

/// The `z` with `P(Z <= z) = probability`; NaN outside 0 to 1.
pub fn normal_quantile(probability: f64) -> f64 {
    if !(0.0..=1.0).contains(&probability) {
        return f64::NAN;
    }
    -SQRT_2 * erfc_inv(2.0 * probability)
}

/// Mills' ratio `P(Z > z) / density(z)` for `z >= 0`: a Taylor expansion about the nearest knot, whose terms follow from `R' = z R - 1`; from 12 on the
/// continued fraction itself.
pub(super) fn mills_ratio(z: f64) -> f64 {
    let knot = (z / SPACING).round();
    let Some(terms) = expansions().get(whole::part(knot)) else { return continued_fraction(z, 30) };
    let step = z - knot * SPACING;
    terms.iter().rev().fold(0.0, |value, term| value * step + term)
}

/// `R(z) = 1 / (z + 1 / (z + 2 / (z + 3 / ...)))` (Laplace; Abramowitz & Stegun 1964, 26.2.14), from the inside out.
fn continued_fraction(z: f64, depth: usize) -> f64 {
    1.0 / (1..=depth).rev().fold(z, |inner, n| z + n as f64 / inner)
}

fn expansions() -> &'static [[f64; TERMS]; KNOTS] {
    static EXPANSIONS: OnceLock<[[f64; TERMS]; KNOTS]> = OnceLock::new();
    EXPANSIONS.get_or_init(|| std::array::from_fn(|knot| expansion(knot as f64 * SPACING)))
}

fn expansion(knot: f64) -> [f64; TERMS] {
    let mut terms = [0.0; TERMS];
    terms[0] = if knot == 0.0 {
        (0.25 * TAU).sqrt()
    } else {
        // the error of the fraction falls like exp(-2 z sqrt(depth))
        continued_fraction(knot, 30 + whole::part(800.0 / (knot * knot)))
    };
    terms[1] = knot * terms[0] - 1.0;
    for n in 2..TERMS {
        terms[n] = (knot * terms[n - 1] + terms[n - 2]) / n as f64;
    }
    terms
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, relative: f64) {
        assert!((found - expected).abs() <= relative * expected, "{found:e} is not {expected:e}");
    }

    #[test]
    fn the_normal_tail_has_all_its_digits() {
        // scipy 1.17.1, scipy.special.erfc(z / sqrt 2) / 2 at z = x sqrt 2
        for (x, doubled) in [
            (0.1, 0.8875370839817152),
            (0.3, 0.6713732405408726),
            (0.6, 0.3961439091520742),
            (0.9, 0.20309178757716784),
            (1.5, 0.03389485352468927),
            (3.0, 2.2090496998585445e-05),
            (6.0, 2.1519736712498913e-17),
            (12.0, 1.3562611692059047e-64),
            (20.0, 5.395865611607901e-176),
        ] {
            let z = x * SQRT_2;
            // the rounding of z itself is magnified z^2 times
            close(normal_sf(z), 0.5 * doubled, 4e-16 * (1.0 + z * z));
            close(normal_cdf(z), 1.0 - 0.5 * doubled, 3e-16);
        }
    }

    #[test]
    fn between_two_knots_both_expansions_agree() {
        for place in 0..KNOTS - 1 {
            let middle = (place as f64 + 0.5) * SPACING;
            let from = |knot: usize| {
                let step = middle - knot as f64 * SPACING;
                expansions()[knot].iter().rev().fold(0.0, |value, term| value * step + term)
            };
            close(from(place), from(place + 1), 3e-15);
        }
        close(mills_ratio(12.126), mills_ratio(12.124), 2e-4);
        close(mills_ratio(12.1), continued_fraction(12.1, 60), 1e-14);
    }

    #[test]
    fn the_quantile_undoes_the_tail() {
        for tail in [1e-300, 1e-20, 1e-5, 0.1, 0.4999, 0.5] {
            let z = normal_quantile(tail);
            close(normal_cdf(z), tail, 4e-16 * (1.0 + z * z));
        }
        // scipy 1.17.1, scipy.stats.norm.isf(1e-5)
        close(-normal_quantile(1e-5), 4.264890793922825, 1e-15);
        assert_eq!(normal_quantile(0.5), 0.0);
    }

    #[test]
    fn the_ends_are_zero_and_one() {
        assert_eq!(normal_sf(f64::INFINITY), 0.0);
        assert_eq!(normal_sf(f64::NEG_INFINITY), 1.0);
        assert_eq!(normal_cdf(-50.0), 0.0);
        assert!(normal_sf(f64::NAN).is_nan());
        assert!(normal_quantile(-0.1).is_nan());
    }
}
