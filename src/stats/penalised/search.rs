//! The lowest point of a curve that may have several valleys.

use crate::stats::numeric::{Minimum, minimise_bounded};

/// Places tried before the search by parabolas.
const GRID: usize = 60;
/// Relative accuracy of the place found.
const TOLERANCE: f64 = 1e-8;

/// The lowest of a grid of places, refined between its two neighbours; values that are no numbers count as infinite.
pub(crate) fn best_of_grid(function: impl Fn(f64) -> f64, low: f64, high: f64) -> Minimum {
    let place = |step: usize| low + (high - low) * step as f64 / GRID as f64;
    let value = |step: usize| {
        let value = function(place(step));
        if value.is_nan() { f64::INFINITY } else { value }
    };
    let first = (0, value(0));
    let (step, lowest) = (1..=GRID)
        .map(|step| (step, value(step)))
        .fold(first, |best, next| if next.1 < best.1 { next } else { best });
    let (left, right) = (place(step.saturating_sub(1)), place((step + 1).min(GRID)));
    let refined = minimise_bounded(&function, left, right, TOLERANCE);
    if refined.value < lowest { refined } else { Minimum { at: place(step), value: lowest } }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_deeper_of_two_valleys_is_found() {
        let curve =
            |x: f64| -(-(x - 1.0).powi(2) * 20.0).exp() - 2.0 * (-(x - 4.0).powi(2) * 20.0).exp();
        assert!((best_of_grid(curve, 0.0, 5.0).at - 4.0).abs() < 1e-6);
    }

    #[test]
    fn a_curve_that_only_falls_ends_at_the_edge() {
        assert!((best_of_grid(|x| -x, 0.0, 5.0).at - 5.0).abs() < 1e-6);
        assert!(best_of_grid(|_| f64::NAN, 0.0, 5.0).value.is_infinite());
    }
}
