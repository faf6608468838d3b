//! The rows of yes or no outcomes by group, once the effect of their group is given.

use super::likelihood::Likelihood;
use super::marginal::{Conditional, Curve, Node};
use crate::stats::numeric::dot;
use nalgebra::{DMatrix, DVector};

/// Log odds are taken to be this far from even at most, the predictor's and the shift's each: what lies beyond is as good as certain, and the odds of both
/// together still are a double.
const FARTHEST: f64 = 300.0;
/// The logarithm of the largest product that is still taken on.
const FULL: f64 = 700.0;

/// The model's rows by group.
#[derive(Debug, Clone)]
pub(super) struct Grouped {
    pub(super) likelihood: Likelihood,
    pub(super) members: Vec<Vec<usize>>,
}

/// What the rows of a group are at some parameters, a list of each kind. A shift `s` of all predictors multiplies the odds `exp(-x)` against a success by
/// `exp(-s)`, so that there is an exponential a row and an exponential a shift, and none for the pairs.
pub(super) struct Rows {
    predictors: Vec<f64>,
    /// `exp(-x)`.
    against: Vec<f64>,
    successes: Vec<f64>,
    trials: Vec<f64>,
    /// Sum of failures.
    failures: f64,
    /// Sum of failures times predictors.
    failures_by_predictor: f64,
}

/// A log-likelihood of many trials, of which each adds `ln(1 + w)`: the logarithm of their product, taken in parts that a double can hold.
struct Products<List> {
    products: List,
    logarithms: List,
    /// Bound of the logarithms of the products.
    fullness: f64,
}

impl<List: AsMut<[f64]>> Products<List> {
    fn new(products: List, logarithms: List) -> Self {
        Self { products, logarithms, fullness: 0.0 }
    }

    /// Takes on so many trials with odds `against * by` against a success, at every shift; `most` bounds the logarithm of `1 + w`.
    fn take(&mut self, (against, trials): (f64, f64), by: &[f64], most: f64) {
        if trials != 1.0 {
            for (sum, by) in self.logarithms.as_mut().iter_mut().zip(by) {
                *sum += trials * (against * by).ln_1p();
            }
            return;
        }
        if self.fullness + most > FULL {
            self.empty();
        }
        self.fullness += most;
        for (product, by) in self.products.as_mut().iter_mut().zip(by) {
            *product *= 1.0 + against * by;
        }
    }

    fn empty(&mut self) {
        for (sum, product) in self.logarithms.as_mut().iter_mut().zip(self.products.as_mut()) {
            *sum += product.ln();
            *product = 1.0;
        }
        self.fullness = 0.0;
    }
}

impl Rows {
    fn with_room(count: usize) -> Self {
        let room = || Vec::with_capacity(count);
        Self {
            predictors: room(),
            against: room(),
            successes: room(),
            trials: room(),
            failures: 0.0,
            failures_by_predictor: 0.0,
        }
    }

    /// Trials with their odds, and what bounds `ln(1 + w)` where shifts raise the odds by `exp(most)` at most.
    fn trials(&self, most: f64) -> impl Iterator<Item = ((f64, f64), f64)> {
        let bounds =
            self.predictors.iter().map(move |x| std::f64::consts::LN_2 + (most - x).max(0.0));
        self.against.iter().copied().zip(self.trials.iter().copied()).zip(bounds)
    }

    fn curve(&self, shift: f64) -> Curve {
        let shift = bounded(shift);
        let by = (-shift).exp();
        let mut products = Products::new([1.0], [0.0]);
        let mut curve = Curve { value: 0.0, slope: 0.0, bend: 0.0 };
        for ((trial, bound), successes) in self.trials(-shift).zip(&self.successes) {
            products.take(trial, &[by], bound);
            let (residual, bend) = derivatives(trial.0 * by, *successes, trial.1);
            curve.slope += residual;
            curve.bend += bend;
        }
        products.empty();
        let lost = self.failures_by_predictor + self.failures * shift;
        curve.value = -lost - products.logarithms[0];
        curve
    }

    fn heights(&self, shifts: &[f64]) -> Vec<f64> {
        let shifts: Vec<f64> = shifts.iter().map(|&shift| bounded(shift)).collect();
        let by: Vec<f64> = shifts.iter().map(|shift| (-shift).exp()).collect();
        let most = shifts.iter().fold(f64::NEG_INFINITY, |most, shift| most.max(-shift));
        let mut products = Products::new(vec![1.0; shifts.len()], vec![0.0; shifts.len()]);
        for (trial, bound) in self.trials(most) {
            products.take(trial, &by, bound);
        }
        products.empty();
        let lost = shifts.iter().map(|shift| self.failures_by_predictor + self.failures * shift);
        lost.zip(&products.logarithms).map(|(lost, sum)| -lost - sum).collect()
    }

    fn fill(&mut self, predictor: f64, successes: f64, trials: f64) {
        let predictor = bounded(predictor);
        self.predictors.push(predictor);
        self.against.push((-predictor).exp());
        self.successes.push(successes);
        self.trials.push(trials);
        self.failures += trials - successes;
        self.failures_by_predictor += (trials - successes) * predictor;
    }
}

fn bounded(log_odds: f64) -> f64 {
    log_odds.clamp(-FARTHEST, FARTHEST)
}

impl Conditional for Grouped {
    type Rows = Rows;

    fn width(&self) -> usize {
        self.likelihood.basis.width()
    }

    fn groups(&self) -> usize {
        self.members.len()
    }

    fn allows(&self, _: &[f64]) -> bool {
        true
    }

    fn rows(&self, at: &[f64], group: usize) -> Rows {
        let members = &self.members[group];
        let mut rows = Rows::with_room(members.len());
        let outcome = &self.likelihood.outcome;
        for &row in members {
            let columns = self.likelihood.basis.row(row);
            let predictor = dot(columns, at);
            rows.fill(predictor, outcome.successes()[row], outcome.trials()[row]);
        }
        rows
    }

    fn curve(&self, rows: &Rows, shift: f64) -> Curve {
        rows.curve(shift)
    }

    fn heights(&self, rows: &Rows, shifts: &[f64]) -> Vec<f64> {
        rows.heights(shifts)
    }

    fn derivatives(
        &self,
        _: &[f64],
        (group, rows): (usize, &Rows),
        nodes: &[Node],
        scores: &mut DMatrix<f64>,
        information: &mut DMatrix<f64>,
    ) {
        let (count, width) = (rows.trials.len(), self.width());
        let mut residuals = DMatrix::zeros(count, nodes.len());
        let mut weights = vec![0.0; count];
        let mut leaning = DVector::zeros(count);
        let mut squares = vec![0.0; count];
        for (node, mut column) in nodes.iter().zip(residuals.column_iter_mut()) {
            let by = (-bounded(node.shift)).exp();
            let by_effect = node.share * node.effect;
            let outcomes = rows.successes.iter().zip(&rows.trials);
            let sums = weights.iter_mut().zip(leaning.as_mut_slice()).zip(&mut squares);
            let terms = column.as_mut_slice().iter_mut().zip(&rows.against);
            // sums over rows would make the processor take one row at a time
            for ((residual, against), ((successes, trials), ((weight, lean), square))) in
                terms.zip(outcomes.zip(sums))
            {
                let (slope, bend) = derivatives(against * by, *successes, *trials);
                *residual = slope;
                *weight += node.share * bend;
                *lean += by_effect * bend;
                *square += by_effect * node.effect * bend;
            }
        }
        information[(width, width)] += squares.iter().sum::<f64>();
        // a column a row; the last entry is the shift
        let mut columns = DMatrix::from_element(width + 1, count, 1.0);
        for (mut column, &row) in columns.column_iter_mut().zip(&self.members[group]) {
            column.as_mut_slice()[..width].copy_from_slice(self.likelihood.basis.row(row));
        }
        scores.gemm(1.0, &columns, &residuals, 1.0);
        for (node, mut score) in nodes.iter().zip(scores.column_iter_mut()) {
            score[width] *= node.effect;
        }
        let columns = columns.rows(0, width);
        information.view_mut((0, width), (width, 1)).gemm(1.0, &columns, &leaning, 1.0);
        let mut weighted = columns.transpose();
        for mut column in weighted.column_iter_mut() {
            column.iter_mut().zip(&weights).for_each(|(value, weight)| *value *= weight);
        }
        information.view_mut((0, 0), (width, width)).gemm(1.0, &columns, &weighted, 1.0);
    }
}

/// The derivative of a row's log-likelihood by a shift and minus the second one, from the odds against a success.
#[inline]
fn derivatives(against: f64, successes: f64, trials: f64) -> (f64, f64) {
    let yes = 1.0 / (1.0 + against);
    let no = against * yes;
    (successes * no - (trials - successes) * yes, trials * yes * no)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::logistic::{log_logistic, logistic};

    /// Each row's own logarithms, by the definition.
    fn by_definition(rows: &[(f64, f64, f64)], shift: f64) -> Curve {
        let mut curve = Curve { value: 0.0, slope: 0.0, bend: 0.0 };
        for &(predictor, successes, trials) in rows {
            let x = predictor + shift;
            let failures = trials - successes;
            curve.value += successes * log_logistic(x) + failures * log_logistic(-x);
            curve.slope += successes * logistic(-x) - failures * logistic(x);
            curve.bend += trials * logistic(x) * logistic(-x);
        }
        curve
    }

    fn close(found: f64, expected: f64) {
        assert!((found - expected).abs() <= 1e-12 * expected.abs(), "{found} is not {expected}");
    }

    #[test]
    fn the_curve_of_single_trials_and_counts_is_that_of_their_logarithms() {
        // of predictors beyond what one product holds, and enough near ones to fill it
        let far = [-290.0, -250.0, 250.0, -0.5, 290.0].into_iter().cycle().take(40);
        let near = (0..3000).map(|row| f64::from(row % 17) / 4.0 - 2.0);
        let rows: Vec<(f64, f64, f64)> = far
            .chain(near)
            .enumerate()
            .map(|(row, predictor)| {
                let trials = if row % 5 == 0 { 7.0 } else { 1.0 };
                (predictor, if row % 3 == 0 { 1.0 } else { 0.0 }, trials)
            })
            .collect();
        let mut held = Rows::with_room(rows.len());
        rows.iter().for_each(|&(predictor, successes, trials)| {
            held.fill(predictor, successes, trials);
        });
        let shifts = [-280.0, -3.0, 0.0, 0.7, 12.0];
        for (shift, height) in shifts.into_iter().zip(held.heights(&shifts)) {
            let (found, expected) = (held.curve(shift), by_definition(&rows, shift));
            close(height, expected.value);
            close(found.value, expected.value);
            close(found.slope, expected.slope);
            close(found.bend, expected.bend);
        }
    }

    #[test]
    fn what_is_beyond_all_bounds_is_still_a_number() {
        let mut held = Rows::with_room(2);
        held.fill(1e6, 0.0, 1.0);
        held.fill(-1e6, 1.0, 1.0);
        for shift in [-1e6, 0.0, 1e6] {
            let curve = held.curve(shift);
            assert!(curve.value < -100.0 && curve.value.is_finite());
            assert!(curve.slope.is_finite() && curve.bend >= 0.0);
        }
    }
}
