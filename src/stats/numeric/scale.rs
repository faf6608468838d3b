//! Averages over the scale of a t statistic: what turns a normal probability into a Student one.

use super::beta::stirling_rest;
use super::distributions::NEARLY_INFINITE;
use super::{integrate, minimise_bounded};
use statrs::function::gamma::ln_gamma;
use std::f64::consts::{LN_2, TAU};

/// An integrand that fell so far below its peak, in natural logarithms, adds nothing any more.
const NEGLIGIBLE: f64 = 45.0;
/// Where the density of the scale itself is below the smallest double, in natural logarithms.
const VANISHED: f64 = 750.0;

/// `E f(S)` for `S = sqrt(X / df)`, `X` chi-squared with `df` degrees of freedom, and a function between 0 and 1 that rises or falls throughout.
///
/// The integral runs over `u = ln S`, around the peak of the whole integrand, wherever that lies: the result keeps its relative accuracy however small it is.
pub(super) fn average_over_scale(
    df: f64,
    function: impl Fn(f64) -> f64,
    relative_tolerance: f64,
) -> f64 {
    if df > NEARLY_INFINITE {
        return function(1.0);
    }
    let constant = log_scale_constant(df);
    let logarithm = |u: f64| constant + log_scale_kernel(df, u) + function(u.exp()).ln();
    let Some((low, high)) = support(df, &logarithm) else { return 0.0 };
    let integrand = |u: f64| {
        let value = function(u.exp());
        if value > 0.0 { value * (constant + log_scale_kernel(df, u)).exp() } else { value }
    };
    integrate(integrand, low, high, 2, relative_tolerance)
}

/// Logarithm of the density of `u = ln S`: `ln 2 + a ln a - ln Gamma(a) + 2 a u - a e^(2u)` with `a = df / 2`.
pub(super) fn log_scale_density(df: f64, u: f64) -> f64 {
    log_scale_constant(df) + log_scale_kernel(df, u)
}

/// `df (u - (e^(2u) - 1) / 2)`, which is 0 at its peak.
fn log_scale_kernel(df: f64, u: f64) -> f64 {
    df * (u - 0.5 * (2.0 * u).exp_m1())
}

/// The part without `u`; for many degrees of freedom the large terms cancel inside Stirling's series.
fn log_scale_constant(df: f64) -> f64 {
    let a = 0.5 * df;
    if a < 10.0 {
        return LN_2 + a * a.ln() - a - ln_gamma(a);
    }
    LN_2 + 0.5 * (a / TAU).ln() - stirling_rest(a)
}

/// The stretch of `u` that holds all of the integrand but rounding; none where it vanishes everywhere.
fn support(df: f64, logarithm: &dyn Fn(f64) -> f64) -> Option<(f64, f64)> {
    let step = (0.5 / df).sqrt().min(1.0);
    // beyond these the density alone is below the smallest double
    let lowest = -(VANISHED / df) - (VANISHED / df).sqrt();
    let highest = (40.0 / df.sqrt()).ln_1p();
    let start = first_finite(logarithm, step, lowest, highest)?;
    let (a, b) = bracket_of_peak(logarithm, start, step, lowest, highest);
    let peak = minimise_bounded(|u| -logarithm(u), a, b, 1e-3);
    let floor = -peak.value - NEGLIGIBLE;
    Some((
        descent(logarithm, peak.at, -step, floor).max(lowest - step),
        descent(logarithm, peak.at, step, floor),
    ))
}

/// A place near 0 where the integrand does not underflow.
fn first_finite(
    logarithm: &dyn Fn(f64) -> f64,
    step: f64,
    lowest: f64,
    highest: f64,
) -> Option<f64> {
    let mut distance = 0.0;
    while distance <= highest.max(-lowest) {
        for u in [-distance, distance] {
            if logarithm(u).is_finite() {
                return Some(u);
            }
        }
        distance = 2.0 * distance + step;
    }
    None
}

/// Climbs by doubling steps until the peak lies between two places.
fn bracket_of_peak(
    logarithm: &dyn Fn(f64) -> f64,
    start: f64,
    step: f64,
    lowest: f64,
    highest: f64,
) -> (f64, f64) {
    let up = logarithm(start + step) > logarithm(start);
    let mut stride = if up { step } else { -step };
    let (mut before, mut here) = (start - stride, start);
    let mut height = logarithm(here);
    loop {
        let next = here + stride;
        let value = logarithm(next);
        if value.is_nan() || value <= height || !(lowest..=highest).contains(&next) {
            return (before.min(next), before.max(next));
        }
        (before, here, height) = (here, next, value);
        stride *= 2.0;
    }
}

/// Steps away from the peak until the integrand is below a floor.
fn descent(logarithm: &dyn Fn(f64) -> f64, peak: f64, step: f64, floor: f64) -> f64 {
    let mut stride = step;
    while logarithm(peak + stride) > floor && stride.abs() < 1e6 {
        stride *= 1.5;
    }
    peak + stride
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::numeric::{normal_sf, t_sf};

    #[test]
    fn the_density_of_the_scale_integrates_to_one() {
        for df in [0.3, 1.0, 7.0, 200.0, 1e6, 9e7] {
            let found = average_over_scale(df, |_| 1.0, 1e-12);
            assert!((found - 1.0).abs() < 1e-10, "{df} {found}");
        }
    }

    #[test]
    fn a_normal_tail_becomes_a_student_tail_however_far_out() {
        for df in [0.7, 3.0, 40.0, 3000.0] {
            for t in [0.1, 2.0, 30.0, 1e5] {
                let exact = t_sf(t, df);
                let found = average_over_scale(df, |s| normal_sf(t * s), 1e-12);
                assert!((found - exact).abs() <= 1e-9 * exact, "{df} {t} {found} {exact}");
            }
        }
    }

    #[test]
    fn what_vanishes_everywhere_averages_to_zero() {
        assert_eq!(average_over_scale(5.0, |_| 0.0, 1e-12), 0.0);
    }
}
