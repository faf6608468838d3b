//! The rows of yes or no outcomes by group, once the effect of their group is given.

use super::likelihood::Likelihood;
use super::marginal::{Conditional, Curve, Node};
use crate::stats::numeric::dot;
use nalgebra::{DMatrix, DVector};
use std::collections::HashMap;

/// Log odds are taken to be no farther from even than this, the predictor's and the shift's each, so that the odds of both together still are a double.
const FARTHEST: f64 = 300.0;
/// The logarithm of the largest product that is still taken on.
const FULL: f64 = 700.0;

/// The model's rows by group.
#[derive(Debug, Clone)]
pub(super) struct Grouped {
    pub(super) likelihood: Likelihood,
    members: Vec<Vec<usize>>,
    /// Of each group, the first one like it.
    first_alike: Vec<usize>,
}

impl Grouped {
    /// The rows that are the members of each group.
    pub(super) fn new(likelihood: Likelihood, members: Vec<Vec<usize>>) -> Self {
        let mut firsts: HashMap<Vec<u64>, usize> = HashMap::new();
        let first = |(group, members): (usize, &Vec<usize>)| match members.as_slice() {
            // counts of a group in a row of its own are often those of another
            [row] => *firsts.entry(likelihood.bits(*row)).or_insert(group),
            _ => group,
        };
        let first_alike = members.iter().enumerate().map(first).collect();
        Self { likelihood, members, first_alike }
    }
}

/// What the rows of a group are at some parameters, a list of each kind. A shift `s` of all predictors multiplies the odds `exp(-|x|)` of the outcome that the
/// predictor makes the less likely by `exp(-s)` or `exp(s)`, so that there is an exponential a row and two a shift, and none for the pairs.
pub(super) struct Rows {
    /// `x` of every row.
    predictors: Vec<f64>,
    /// `exp(-|x|)`.
    odds: Vec<f64>,
    successes: Vec<f64>,
    trials: Vec<f64>,
    /// `|x|` over all trials that had the less likely outcome: with no shift the log-likelihood is less by so much than that of the others' outcome.
    lost: f64,
    /// How that grows with a shift.
    lost_by_shift: f64,
}

/// What a shift multiplies the odds against a success by, and those for one.
#[derive(Debug, Clone, Copy)]
struct Factors {
    against: f64,
    towards: f64,
}

impl Factors {
    /// Of a bounded shift.
    fn of(shift: f64) -> Self {
        Self { against: (-shift).exp(), towards: shift.exp() }
    }
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

    /// Takes on so many trials with these odds times those of every shift; `most` bounds the logarithm of `1 + w`.
    fn take(&mut self, (odds, trials): (f64, f64), by: &[f64], most: f64) {
        if trials != 1.0 {
            for (sum, by) in self.logarithms.as_mut().iter_mut().zip(by) {
                *sum += trials * (odds * by).ln_1p();
            }
            return;
        }
        if self.fullness + most > FULL {
            self.empty();
        }
        self.fullness += most;
        for (product, by) in self.products.as_mut().iter_mut().zip(by) {
            *product *= 1.0 + odds * by;
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
            odds: room(),
            successes: room(),
            trials: room(),
            lost: 0.0,
            lost_by_shift: 0.0,
        }
    }

    fn fill(&mut self, predictor: f64, successes: f64, trials: f64) {
        let predictor = bounded(predictor);
        self.predictors.push(predictor);
        self.odds.push((-predictor.abs()).exp());
        self.successes.push(successes);
        self.trials.push(trials);
        let unlikely = if predictor >= 0.0 { trials - successes } else { -successes };
        self.lost += unlikely * predictor;
        self.lost_by_shift += unlikely;
    }

    /// Adds the logarithms of `1 + w` of all trials, at every shift.
    fn take_all<List: AsMut<[f64]>>(
        &self,
        products: &mut Products<List>,
        (against, towards): (&[f64], &[f64]),
        shifts: &[f64],
    ) {
        let most = |sign: f64| shifts.iter().map(|shift| sign * shift).fold(f64::MIN, f64::max);
        let (most_against, most_towards) = (most(-1.0), most(1.0));
        let rows = self.predictors.iter().zip(self.odds.iter().zip(&self.trials));
        for (x, (&odds, &trials)) in rows {
            let (by, most) =
                if *x >= 0.0 { (against, most_against) } else { (towards, most_towards) };
            let bound = std::f64::consts::LN_2 + (most - x.abs()).max(0.0);
            products.take((odds, trials), by, bound);
        }
        products.empty();
    }

    fn curve(&self, shift: f64) -> Curve {
        let shift = bounded(shift);
        let by = Factors::of(shift);
        let mut products = Products::new([1.0], [0.0]);
        self.take_all(&mut products, (&[by.against], &[by.towards]), &[shift]);
        let value = -(self.lost + self.lost_by_shift * shift) - products.logarithms[0];
        let mut curve = Curve { value, slope: 0.0, bend: 0.0 };
        let outcomes = self.successes.iter().zip(&self.trials);
        for ((x, odds), outcome) in self.predictors.iter().zip(&self.odds).zip(outcomes) {
            let (residual, bend) = derivatives((*x, *odds), by, outcome);
            curve.slope += residual;
            curve.bend += bend;
        }
        curve
    }

    fn heights(&self, shifts: &[f64]) -> Vec<f64> {
        let shifts: Vec<f64> = shifts.iter().map(|&shift| bounded(shift)).collect();
        let by = shifts.iter().map(|&shift| Factors::of(shift)).map(|by| (by.against, by.towards));
        let (against, towards): (Vec<f64>, Vec<f64>) = by.unzip();
        let mut products = Products::new(vec![1.0; shifts.len()], vec![0.0; shifts.len()]);
        self.take_all(&mut products, (&against, &towards), &shifts);
        let lost = shifts.iter().map(|shift| self.lost + self.lost_by_shift * shift);
        lost.zip(&products.logarithms).map(|(lost, sum)| -lost - sum).collect()
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

    fn first_alike(&self, group: usize) -> usize {
        self.first_alike[group]
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
            let by = Factors::of(bounded(node.shift));
            let by_effect = node.share * node.effect;
            let outcomes = rows.successes.iter().zip(&rows.trials);
            let sums = weights.iter_mut().zip(leaning.as_mut_slice()).zip(&mut squares);
            let places = rows.predictors.iter().zip(&rows.odds);
            let terms = column.as_mut_slice().iter_mut().zip(places);
            // sums over rows would make the processor take one row at a time
            for ((residual, (x, odds)), (outcome, ((weight, lean), square))) in
                terms.zip(outcomes.zip(sums))
            {
                let (slope, bend) = derivatives((*x, *odds), by, outcome);
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

/// The derivative of a row's log-likelihood by a shift and minus the second one, from its predictor and the odds of the less likely outcome; the probabilities
/// have full relative accuracy on both sides.
#[inline]
fn derivatives(
    (predictor, odds): (f64, f64),
    by: Factors,
    (successes, trials): (&f64, &f64),
) -> (f64, f64) {
    let odds = odds * if predictor >= 0.0 { by.against } else { by.towards };
    let likelier = 1.0 / (1.0 + odds);
    let other = odds * likelier;
    let (yes, no) = if predictor >= 0.0 { (likelier, other) } else { (other, likelier) };
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
    fn many_outcomes_that_were_to_be_expected_leave_the_others_their_digits() {
        // -9 and 9 log odds: almost all fail, almost all succeed
        for sign in [-1.0, 1.0] {
            let rows: Vec<(f64, f64, f64)> = (0..20_000)
                .map(|row| {
                    let likely = row % 4000 != 0;
                    (sign * 9.0, f64::from(u8::from(likely == (sign > 0.0))), 1.0)
                })
                .collect();
            let mut held = Rows::with_room(rows.len());
            rows.iter().for_each(|&(x, successes, trials)| held.fill(x, successes, trials));
            for shift in [-0.5, 0.0, 0.5] {
                close(held.curve(shift).value, by_definition(&rows, shift).value);
                close(held.heights(&[shift])[0], by_definition(&rows, shift).value);
            }
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
            assert!(curve.slope.is_finite() && curve.bend.is_finite());
            assert_eq!(held.heights(&[shift]), [curve.value]);
        }
    }
}
