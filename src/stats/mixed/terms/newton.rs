//! A minimum of a smooth function by Newton's method.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

/// Steps after which a search is given up.
const MOST_STEPS: usize = 100;
/// A step this small, relative to the largest argument, ends the search.
const SMALLEST_STEP: f64 = 1e-10;
/// Curvature below this share of the largest counts as this share.
const FLAT: f64 = 1e-9;
/// The decrease still to be had, by the quadratic model, at which a search that can go no further has arrived.
const ARRIVED: f64 = 1e-9;
/// The decrease below which one more step squares an error that is already lost in rounding.
const SETTLED: f64 = 1e-11;
const SETTLED_BEFORE: f64 = 1e-15;
/// From this decrease on the second derivatives hardly change, and are brought along instead of computed anew, which takes four gradients.
const NEAR: f64 = 0.1;
/// Of an update whose divisor is below this share nothing is left but rounding.
const LEAST_ALONG: f64 = 1e-8;
/// Differences of a function nearer than this share are rounding.
const ROUNDING: f64 = 1e-12;

/// A function with its gradient.
pub(super) trait Objective: Sync {
    /// The value; infinite where there is none.
    fn value(&self, at: &[f64]) -> f64;
    /// The gradient.
    fn slope(&self, at: &[f64]) -> Option<DVector<f64>>;
}

/// A minimum reached from `start`: Newton steps with the eigenvalues of the Hessian made positive and a backtracking line search (Gill, Murray & Wright 1981,
/// Practical Optimization, section 4.4.2). The Hessian comes from central differences of the gradient; near the minimum it is brought along by rank-one updates, and the steps still shrink by
/// digits at a time. `None` where it does not arrive.
pub(super) fn minimise(objective: &impl Objective, start: &[f64]) -> Option<Vec<f64>> {
    let mut at = start.to_vec();
    let mut value = objective.value(&at);
    let mut slope = objective.slope(&at)?;
    let mut bend = Bend { matrix: hessian(objective, &at)?, is_fresh: true };
    for _ in 0..MOST_STEPS {
        let (step, decrease) = newton_step(&slope, bend.matrix.clone());
        let longest = step.amax();
        let size = at.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        if longest <= SMALLEST_STEP * size.max(1e-3) {
            return Some(at);
        }
        let limit = (size.max(1.0) / longest).min(1.0);
        match shorter(objective, &at, &step, value, decrease, limit) {
            Some((next, _)) if decrease <= bend.settled() => return Some(next),
            Some((next, lower)) => {
                let there = objective.slope(&next)?;
                bend = if decrease <= NEAR {
                    bend.updated(&at, &next, &(&there - &slope))
                } else {
                    Bend { matrix: hessian(objective, &next)?, is_fresh: true }
                };
                (at, value, slope) = (next, lower, there);
            }
            None if decrease < ARRIVED => return Some(at),
            None if bend.is_fresh => return None,
            None => bend = Bend { matrix: hessian(objective, &at)?, is_fresh: true },
        }
    }
    None
}

/// The second derivatives, computed here or brought along from a step before.
struct Bend {
    matrix: DMatrix<f64>,
    is_fresh: bool,
}

impl Bend {
    /// What the gradient did on the way is put in (the symmetric rank-one update: Conn, Gould & Toint 1991, Mathematical Programming 50, 177-195).
    fn updated(&self, from: &[f64], to: &[f64], change: &DVector<f64>) -> Self {
        let way =
            DVector::from_iterator(from.len(), to.iter().zip(from).map(|(to, from)| to - from));
        let missed = change - &self.matrix * &way;
        let along = missed.dot(&way);
        let mut matrix = self.matrix.clone();
        if along.abs() > LEAST_ALONG * missed.norm() * way.norm() {
            matrix.ger(1.0 / along, &missed, &missed, 1.0);
        }
        Self { matrix, is_fresh: false }
    }

    /// A step with derivatives of before does not square the error, so that more of it must be gone already.
    fn settled(&self) -> f64 {
        if self.is_fresh { SETTLED } else { SETTLED_BEFORE }
    }
}

/// The first point on the way, halving the step, where the function falls by enough.
fn shorter(
    objective: &impl Objective,
    at: &[f64],
    step: &DVector<f64>,
    value: f64,
    decrease: f64,
    limit: f64,
) -> Option<(Vec<f64>, f64)> {
    let mut share = limit;
    for _ in 0..40 {
        let next: Vec<f64> = at.iter().zip(step.iter()).map(|(x, s)| x + share * s).collect();
        let found = objective.value(&next);
        let allowed = value - 1e-4 * share * decrease + ROUNDING * (1.0 + value.abs());
        if found <= allowed {
            return Some((next, found));
        }
        share *= 0.5;
    }
    None
}

/// `-H^{-1} g` with positive eigenvalues, and twice the decrease the quadratic model promises.
fn newton_step(slope: &DVector<f64>, hessian: DMatrix<f64>) -> (DVector<f64>, f64) {
    let eigen = hessian.symmetric_eigen();
    let largest = eigen.eigenvalues.amax().max(f64::MIN_POSITIVE);
    let along = eigen.eigenvectors.tr_mul(slope);
    let scaled = along.zip_map(&eigen.eigenvalues, |g, value| -g / value.abs().max(FLAT * largest));
    let decrease = -scaled.dot(&along);
    (&eigen.eigenvectors * scaled, decrease)
}

/// Central differences of the gradient, made symmetric. The gradients are independent of each other and computed in parallel.
fn hessian(objective: &impl Objective, at: &[f64]) -> Option<DMatrix<f64>> {
    let size = at.len();
    let steps: Vec<f64> = at.iter().map(|x| 1e-4 * x.abs().max(1e-2)).collect();
    let moved = |number: usize| {
        let mut moved = at.to_vec();
        let place = number / 2;
        moved[place] += if number.is_multiple_of(2) { steps[place] } else { -steps[place] };
        objective.slope(&moved)
    };
    let slopes: Option<Vec<DVector<f64>>> = (0..2 * size).into_par_iter().map(moved).collect();
    let slopes = slopes?;
    let hessian = DMatrix::from_fn(size, size, |row, column| {
        (slopes[2 * column][row] - slopes[2 * column + 1][row]) / (2.0 * steps[column])
    });
    let symmetric = (&hessian + hessian.transpose()) * 0.5;
    symmetric.iter().all(|value| value.is_finite()).then_some(symmetric)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock 1960, with its minimum of zero at (1, 1).
    struct Valley;

    impl Objective for Valley {
        fn value(&self, x: &[f64]) -> f64 {
            100.0 * (x[1] - x[0] * x[0]).powi(2) + (1.0 - x[0]).powi(2)
        }

        fn slope(&self, x: &[f64]) -> Option<DVector<f64>> {
            let bend = x[1] - x[0] * x[0];
            Some(DVector::from_vec(vec![-400.0 * x[0] * bend - 2.0 * (1.0 - x[0]), 200.0 * bend]))
        }
    }

    /// A double well in one argument, whose slope is zero between the wells.
    struct Wells;

    impl Objective for Wells {
        fn value(&self, x: &[f64]) -> f64 {
            (x[0] * x[0] - 1.0).powi(2)
        }

        fn slope(&self, x: &[f64]) -> Option<DVector<f64>> {
            Some(DVector::from_vec(vec![4.0 * x[0] * (x[0] * x[0] - 1.0)]))
        }
    }

    #[test]
    fn a_bent_valley_is_followed_to_its_end() {
        let found = minimise(&Valley, &[-1.2, 1.0]).unwrap();
        assert!((found[0] - 1.0).abs() < 1e-9 && (found[1] - 1.0).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn negative_curvature_leads_away_from_a_saddle() {
        let found = minimise(&Wells, &[0.05]).unwrap();
        assert!((found[0] - 1.0).abs() < 1e-9, "{found:?}");
    }
}
