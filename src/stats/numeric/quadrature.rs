//! Definite integrals by Gauss-Legendre panels that halve themselves where they must.

use std::sync::OnceLock;

/// Nodes of one panel.
const ORDER: usize = 16;
/// How often a panel may be halved.
const DEEPEST: u32 = 40;

/// Nodes and weights on -1 to 1.
type Rule = [(f64, f64); ORDER];

/// The integral of a smooth function between finite bounds: Gauss-Legendre rules of 16 nodes (Abramowitz & Stegun 1964, 25.4.29) on `panels` equal panels,
/// each halved until its halves agree with it to `tolerance` times the integral of the absolute value.
///
/// Sums run in a fixed order. A feature much narrower than a panel can be missed; the result is NaN where the function is.
pub fn integrate(
    function: impl Fn(f64) -> f64,
    low: f64,
    high: f64,
    panels: usize,
    tolerance: f64,
) -> f64 {
    let width = (high - low) / panels as f64;
    let edge = |place: usize| low + width * place as f64;
    let coarse: Vec<f64> =
        (0..panels).map(|place| panel(&function, edge(place), edge(place + 1))).collect();
    let size: f64 = coarse.iter().map(|value| value.abs()).sum();
    let allowed = tolerance * size;
    let refined = coarse.iter().enumerate().map(|(place, &whole)| {
        refine(&function, edge(place), edge(place + 1), whole, allowed, DEEPEST)
    });
    refined.sum()
}

fn refine(
    function: &dyn Fn(f64) -> f64,
    low: f64,
    high: f64,
    whole: f64,
    allowed: f64,
    depth: u32,
) -> f64 {
    let middle = 0.5 * (low + high);
    let (left, right) = (panel(function, low, middle), panel(function, middle, high));
    let both = left + right;
    if depth == 0 || !both.is_finite() || (both - whole).abs() <= allowed {
        return both;
    }
    refine(function, low, middle, left, allowed, depth - 1)
        + refine(function, middle, high, right, allowed, depth - 1)
}

fn panel(function: &dyn Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
    let terms = rule().iter().map(|&(node, weight)| weight * function(middle + half * node));
    half * terms.sum::<f64>()
}

/// Nodes and weights of the same rule on equal panels between two bounds, in rising order, for a function that is integrated again and again.
pub fn composite_rule(low: f64, high: f64, panels: usize) -> Vec<(f64, f64)> {
    let half = 0.5 * (high - low) / panels as f64;
    let middles = (0..panels).map(|place| low + half * (2 * place + 1) as f64);
    // the rule lists its nodes from above
    let nodes = middles.flat_map(|middle| {
        rule().iter().rev().map(move |&(node, weight)| (middle + half * node, half * weight))
    });
    nodes.collect()
}

fn rule() -> &'static Rule {
    static RULE: OnceLock<Rule> = OnceLock::new();
    RULE.get_or_init(|| std::array::from_fn(node_and_weight))
}

/// A zero `x` of the Legendre polynomial, by Newton's method, with its weight `2 / ((1 - x^2) P'(x)^2)`.
fn node_and_weight(place: usize) -> (f64, f64) {
    let order = ORDER as f64;
    let mut node = (std::f64::consts::PI * (place as f64 + 0.75) / (order + 0.5)).cos();
    let mut slope = 1.0;
    for _ in 0..10 {
        let (value, derivative) = legendre(node);
        slope = derivative;
        node -= value / derivative;
    }
    (node, 2.0 / ((1.0 - node * node) * slope * slope))
}

/// The Legendre polynomial of the rule's order and its derivative, by the three-term recurrence.
fn legendre(x: f64) -> (f64, f64) {
    let (mut before, mut value) = (1.0, x);
    for degree in 2..=ORDER {
        let n = degree as f64;
        (before, value) = (value, ((2.0 * n - 1.0) * x * value - (n - 1.0) * before) / n);
    }
    (value, ORDER as f64 * (x * value - before) / (x * x - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_is_exact_for_polynomials_of_degree_31() {
        let found = panel(&|x: f64| x.powi(30) + x.powi(31), -1.0, 1.0);
        assert!((found - 2.0 / 31.0).abs() < 1e-15);
        let weights: f64 = rule().iter().map(|(_, weight)| weight).sum();
        assert!((weights - 2.0).abs() < 1e-14);
    }

    #[test]
    fn the_composite_rule_rises_and_is_exact_too() {
        let rule = composite_rule(-1.0, 2.0, 3);
        assert!(rule.windows(2).all(|pair| pair[0].0 < pair[1].0));
        let found: f64 = rule.iter().map(|(x, weight)| weight * x.powi(9)).sum();
        assert!((found - 102.3).abs() < 1e-12);
    }

    #[test]
    fn a_kink_is_halved_away() {
        let found = integrate(|x| (x - 0.3).abs(), 0.0, 1.0, 1, 1e-12);
        assert!((found - (0.045 + 0.245)).abs() < 1e-12);
    }

    #[test]
    fn a_narrow_bell_in_a_wide_range_is_seen() {
        let found = integrate(|x| (-50.0 * x * x).exp(), -20.0, 13.0, 8, 1e-12);
        assert!((found - (std::f64::consts::PI / 50.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_number_gives_no_number() {
        assert!(integrate(|_| f64::NAN, 0.0, 1.0, 2, 1e-9).is_nan());
        assert_eq!(integrate(|_| f64::INFINITY, 0.0, 1.0, 2, 1e-9), f64::INFINITY);
    }
}
