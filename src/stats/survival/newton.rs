//! Newton's method for likelihoods that are concave and may have no maximum.

use nalgebra::linalg::Cholesky;
use nalgebra::{DMatrix, DVector, Dyn};

const MOST_STEPS: usize = 80;
const MOST_HALVINGS: usize = 40;
/// The rise that the quadratic approximation still promises, in units of the log-likelihood, below which nothing that matters is left.
const NOTHING_LEFT: f64 = 1e-9;
/// With nothing left to gain, a linear predictor that still moves by this much across a column runs to infinity.
const RUNNING_AWAY: f64 = 0.05;
/// A last step across a column that only rounding makes.
const STANDING_STILL: f64 = 1e-13;
/// Steps after nothing is left to gain, for the last digits.
const POLISHING: usize = 4;
/// A fall of the log-likelihood by this share of its size is rounding.
const ROUNDING: f64 = 1e-12;

/// A log-likelihood at one point.
#[derive(Debug, Clone)]
pub(super) struct Curvature {
    pub value: f64,
    pub gradient: DVector<f64>,
    /// Minus the second derivatives.
    pub information: DMatrix<f64>,
}

/// A log-likelihood at its maximum.
#[derive(Debug, Clone)]
pub(super) struct Optimum {
    pub at: DVector<f64>,
    pub curvature: Curvature,
    pub factor: Cholesky<f64, Dyn>,
}

/// Why there is no maximum.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum NoMaximum {
    /// The information is singular at the start.
    Singular,
    /// The value rises for ever along these parameters.
    Monotone(Vec<usize>),
    NotFound,
}

/// Climbs from `start` by full Newton steps, halved while they do not rise. `spread` is how far each parameter's column reaches: what turns a step into a move
/// of the linear predictor. A function that gives `None` counts as infinitely low.
pub(super) fn maximise(
    start: DVector<f64>,
    spread: &[f64],
    function: impl Fn(&DVector<f64>) -> Option<Curvature>,
) -> Result<Optimum, NoMaximum> {
    let mut here = function(&start).ok_or(NoMaximum::NotFound)?;
    let mut at = start;
    let mut last: Option<DVector<f64>> = None;
    let mut polished = 0;
    for _ in 0..MOST_STEPS {
        let Some(factor) = Cholesky::new(here.information.clone()) else {
            return Err(last.map_or(NoMaximum::Singular, |step| running_away(&step, spread)));
        };
        let step = factor.solve(&here.gradient);
        let promise = here.gradient.dot(&step);
        let still = largest_move(&step, spread) <= STANDING_STILL;
        let nothing_left = promise <= NOTHING_LEFT;
        if nothing_left && largest_move(&step, spread) > RUNNING_AWAY {
            return Err(running_away(&step, spread));
        }
        if nothing_left && (still || polished == POLISHING) {
            return Ok(Optimum { at, curvature: here, factor });
        }
        polished += usize::from(nothing_left);
        let floor = here.value - ROUNDING * here.value.abs().max(1.0);
        let Some((next, curvature)) = climb(&at, &step, floor, &function) else {
            // a step that cannot rise where nothing is left is rounding
            if nothing_left {
                return Ok(Optimum { at, curvature: here, factor });
            }
            return Err(NoMaximum::NotFound);
        };
        (at, here, last) = (next, curvature, Some(step));
    }
    Err(NoMaximum::NotFound)
}

/// The longest of the step, its half, its quarter and so on that does not fall below the floor.
fn climb(
    at: &DVector<f64>,
    step: &DVector<f64>,
    floor: f64,
    function: &impl Fn(&DVector<f64>) -> Option<Curvature>,
) -> Option<(DVector<f64>, Curvature)> {
    let mut share = 1.0;
    for _ in 0..MOST_HALVINGS {
        let next = at + step * share;
        match function(&next).filter(|curvature| curvature.value >= floor) {
            Some(curvature) => return Some((next, curvature)),
            None => share *= 0.5,
        }
    }
    None
}

fn largest_move(step: &DVector<f64>, spread: &[f64]) -> f64 {
    let moves = step.iter().zip(spread).map(|(step, spread)| (step * spread).abs());
    moves.fold(0.0, f64::max)
}

fn running_away(step: &DVector<f64>, spread: &[f64]) -> NoMaximum {
    let moves = step.iter().zip(spread).enumerate();
    let far = moves.filter(|(_, (step, spread))| (*step * *spread).abs() > RUNNING_AWAY);
    let places: Vec<usize> = far.map(|(place, _)| place).collect();
    if places.is_empty() { NoMaximum::NotFound } else { NoMaximum::Monotone(places) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `a x - b e^x`: its maximum is at `ln(a / b)`; without `b` it rises for ever.
    fn exponential(a: f64, b: f64) -> impl Fn(&DVector<f64>) -> Option<Curvature> {
        move |x| {
            let growth = b * x[0].exp();
            let value = a * x[0] - growth;
            value.is_finite().then(|| Curvature {
                value,
                gradient: DVector::from_vec(vec![a - growth]),
                information: DMatrix::from_element(1, 1, growth),
            })
        }
    }

    fn zero() -> DVector<f64> {
        DVector::zeros(1)
    }

    #[test]
    fn a_maximum_is_found_to_the_last_digits() {
        let found = maximise(zero(), &[1.0], exponential(3.0, 7.0)).unwrap();
        assert!((found.at[0] - (3.0_f64 / 7.0).ln()).abs() < 1e-13);
    }

    #[test]
    fn steps_that_fall_are_halved() {
        // from 0 the full step goes to 3e6, where the value overflows
        let found = maximise(zero(), &[1.0], exponential(3.0, 1e-6)).unwrap();
        assert!((found.at[0] - 3e6_f64.ln()).abs() < 1e-12);
    }

    #[test]
    fn a_value_that_rises_for_ever_is_told_from_a_maximum() {
        // -ln(1 + e^-x) has no maximum
        let fault = maximise(zero(), &[1.0], |x| {
            let (rest, share) = ((-x[0]).exp(), 1.0 / (1.0 + (-x[0]).exp()));
            Some(Curvature {
                value: -rest.ln_1p(),
                gradient: DVector::from_vec(vec![rest * share]),
                information: DMatrix::from_element(1, 1, rest * share * share),
            })
        });
        assert_eq!(fault.unwrap_err(), NoMaximum::Monotone(vec![0]));
    }

    #[test]
    fn no_information_at_the_start_is_singular() {
        let fault = maximise(zero(), &[1.0], exponential(0.0, 0.0));
        assert_eq!(fault.unwrap_err(), NoMaximum::Singular);
    }
}
