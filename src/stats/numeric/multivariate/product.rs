//! Correlations that are products of loadings: one shared variable makes all others independent.

use super::{Sides, one_tail};
use crate::stats::numeric::scale::average_over_scale;
use crate::stats::numeric::{integrate, normal_density, normal_sf};
use ndarray::Array2;

/// How far a correlation may be from the product of its loadings.
const ROUNDING: f64 = 1e-10;
/// A variable that is nearly the shared one itself leaves nothing to integrate.
const MOST_LOADING: f64 = 1.0 - 1e-7;
/// Relative accuracy asked of the inner and of the outer integral.
const INNER: f64 = 1e-11;
const OUTER: f64 = 1e-9;
/// A normal variable beyond this adds less than rounding.
const FAR: f64 = 9.0;

/// `Z_i = l_i Z + sqrt(1 - l_i^2) E_i`, so that `r_ij = l_i l_j`.
pub(super) struct Loadings {
    each: Vec<f64>,
    /// Distinct loadings with how often they occur; those of opposite sign count as one where both sides matter.
    distinct: Vec<(f64, f64)>,
}

impl Loadings {
    /// The loadings of a correlation matrix; none where there are no such loadings.
    pub(super) fn of(correlation: &Array2<f64>) -> Option<Self> {
        let count = correlation.nrows();
        let each = candidate(correlation)?;
        let fits = (0..count)
            .all(|i| (0..i).all(|j| (correlation[(i, j)] - each[i] * each[j]).abs() <= ROUNDING));
        if !fits || !each.iter().all(|loading| loading.abs() <= MOST_LOADING) {
            return None;
        }
        let mut distinct: Vec<(f64, f64)> = Vec::new();
        for &loading in &each {
            match distinct.iter_mut().find(|(other, _)| *other == loading) {
                Some((_, times)) => *times += 1.0,
                None => distinct.push((loading, 1.0)),
            }
        }
        Some(Self { each, distinct })
    }

    /// `P(some T_i passes the bound)`: the complement `1 - prod (1 - q_i(z))` is formed in logarithms, so that a small tail keeps its digits.
    pub(super) fn tail(&self, bound: f64, df: f64, sides: Sides) -> f64 {
        if self.each.len() == 1 {
            return one_tail(bound, df, sides);
        }
        average_over_scale(df, |s| self.normal_tail(bound * s, sides), OUTER).min(1.0)
    }

    fn normal_tail(&self, bound: f64, sides: Sides) -> f64 {
        let integrand = |z: f64| {
            let log_inside: f64 = self
                .distinct
                .iter()
                .map(|&(loading, times)| {
                    let spread = (1.0 - loading * loading).sqrt();
                    let passes = passing(bound, loading * z, spread, sides);
                    times * (-passes.min(1.0)).ln_1p()
                })
                .sum();
            -log_inside.exp_m1() * normal_density(z)
        };
        let far = bound.max(0.0) + FAR;
        match sides {
            Sides::Two => 2.0 * integrate(integrand, 0.0, far, 3, INNER),
            Sides::Upper => integrate(integrand, -far, far, 5, INNER),
        }
    }

    /// `P(lower_i < T_i <= upper_i for all i)`.
    pub(super) fn rectangle(&self, lower: &[f64], upper: &[f64], df: f64) -> f64 {
        average_over_scale(df, |s| self.normal_rectangle(lower, upper, s), OUTER).min(1.0)
    }

    fn normal_rectangle(&self, lower: &[f64], upper: &[f64], scale: f64) -> f64 {
        let integrand = |z: f64| {
            let mut inside = normal_density(z);
            for ((loading, low), high) in self.each.iter().zip(lower).zip(upper) {
                let spread = (1.0 - loading * loading).sqrt();
                let standard = |edge: f64| (edge * scale - loading * z) / spread;
                inside *= super::rectangle::between(standard(*low), standard(*high));
            }
            inside
        };
        integrate(integrand, -FAR, FAR, 6, INNER)
    }
}

fn passing(bound: f64, centre: f64, spread: f64, sides: Sides) -> f64 {
    let above = normal_sf((bound - centre) / spread);
    match sides {
        Sides::Two => above + normal_sf((bound + centre) / spread),
        Sides::Upper => above,
    }
}

/// Loadings that fit the strongest correlations; whether they fit all is for the caller to see.
fn candidate(correlation: &Array2<f64>) -> Option<Vec<f64>> {
    let count = correlation.nrows();
    let pairs = (0..count).flat_map(|i| (0..i).map(move |j| (i, j)));
    let strength = |&(i, j): &(usize, usize)| correlation[(i, j)].abs();
    let strongest = pairs.max_by(|a, b| strength(a).total_cmp(&strength(b)));
    let Some((first, second)) = strongest.filter(|pair| strength(pair) > 0.0) else {
        return Some(vec![0.0; count]);
    };
    let r = |i: usize, j: usize| correlation[(i, j)];
    let weakest_link = |k: usize| r(first, k).abs().min(r(second, k).abs());
    let others = (0..count).filter(|&k| k != first && k != second && weakest_link(k) > 0.0);
    let third = others.max_by(|&a, &b| weakest_link(a).total_cmp(&weakest_link(b)));
    let square =
        third.map_or(strength(&(first, second)), |k| r(first, second) * r(first, k) / r(second, k));
    let lead = square.sqrt();
    // a negative square has no root, and is no number here
    if lead.is_nan() || lead == 0.0 {
        return None;
    }
    Some((0..count).map(|k| if k == first { lead } else { r(first, k) / lead }).collect())
}
