//! The log-likelihood of the proportional-odds model.

use crate::stats::logistic::basis::{Basis, add_outer, mirror};
use crate::stats::logistic::likelihood::dot;
use crate::stats::logistic::logistic_parts;
use crate::stats::logistic::newton::{Slope, Surface};
use crate::stats::logistic::separation::{Sorting, sorting};
use nalgebra::{DMatrix, DVector};

/// `P(Y <= k) = F(t_k - x'b)` with `F` the logistic distribution. Parameters are the thresholds `t_1 < .. < t_m`, then the working coefficients.
#[derive(Debug, Clone)]
pub(super) struct Likelihood {
    pub(super) basis: Basis,
    /// Category of each row, from 0.
    pub(super) codes: Vec<usize>,
    /// Rows of each category; none is 0.
    pub(super) counts: Vec<usize>,
}

/// Derivatives of one row's log-likelihood. With `a` and `b` the upper and lower threshold less the predictor, the probability is
/// `F(a) F(-b) (1 - exp(b - a))`: no difference of near equal numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct RowPart {
    /// By the upper threshold; 0 for the last category.
    pub(super) upper: f64,
    /// By the lower threshold; 0 for the first category.
    pub(super) lower: f64,
    /// By the predictor.
    pub(super) predictor: f64,
    /// Densities `F (1 - F)` at `a` and `b`.
    pub(super) densities: [f64; 2],
}

impl Likelihood {
    /// Number of thresholds.
    pub(super) fn thresholds(&self) -> usize {
        self.counts.len() - 1
    }

    /// Number of parameters.
    pub(super) fn size(&self) -> usize {
        self.thresholds() + self.basis.width()
    }

    /// Whether the thresholds rise.
    pub(super) fn rises(&self, at: &[f64]) -> bool {
        at[..self.thresholds()].windows(2).all(|pair| pair[0] < pair[1])
    }

    /// Upper and lower threshold of a category; infinite at the ends.
    pub(super) fn bounds(&self, at: &[f64], code: usize) -> (f64, f64) {
        let upper = if code < self.thresholds() { at[code] } else { f64::INFINITY };
        let lower = if code > 0 { at[code - 1] } else { f64::NEG_INFINITY };
        (upper, lower)
    }

    /// `sum n_k ln(1 - exp(t_{k-1} - t_k))` over the inner categories: the part that no predictor moves, and that keeps the thresholds apart.
    fn apart(&self, at: &[f64]) -> f64 {
        let inner = at[..self.thresholds()].windows(2).zip(&self.counts[1..]);
        inner.map(|(pair, &count)| count as f64 * (-(pair[0] - pair[1]).exp_m1()).ln()).sum()
    }

    /// Derivatives of one row without [`Likelihood::apart`].
    pub(super) fn part(&self, at: &[f64], code: usize, predictor: f64) -> RowPart {
        self.both(at, code, predictor).0
    }

    /// [`Likelihood::part`] and the log-likelihood of the row without [`Likelihood::apart`].
    pub(super) fn both(&self, at: &[f64], code: usize, predictor: f64) -> (RowPart, f64) {
        let (upper, lower) = self.bounds(at, code);
        let (above, below) = (logistic_parts(upper - predictor), logistic_parts(predictor - lower));
        let part = RowPart {
            upper: above.no,
            lower: -below.no,
            predictor: below.no - above.no,
            densities: [above.yes * above.no, below.yes * below.no],
        };
        (part, above.log_yes + below.log_yes)
    }

    /// `x'b` of a row, in working coordinates.
    pub(super) fn predictor(&self, at: &[f64], row: &[f64]) -> f64 {
        row.iter().zip(&at[self.thresholds()..]).map(|(x, b)| x * b).sum()
    }

    /// Gradient and information of [`Likelihood::apart`], a row of category `k` having the weight `weights[k]`.
    pub(super) fn add_apart(
        &self,
        at: &[f64],
        weights: &[f64],
        gradient: &mut [f64],
        information: &mut DMatrix<f64>,
    ) {
        for upper in 1..self.thresholds() {
            let (lower, weight) = (upper - 1, weights[upper]);
            let (pull, bend) = repulsion(at[upper] - at[lower]);
            gradient[upper] += weight * pull;
            gradient[lower] -= weight * pull;
            information[(upper, upper)] += weight * bend;
            information[(lower, lower)] += weight * bend;
            information[(lower, upper)] -= weight * bend;
        }
    }

    /// Adds a row's second derivatives to the upper triangle.
    pub(super) fn add_information(
        &self,
        information: &mut DMatrix<f64>,
        code: usize,
        densities: [f64; 2],
        row: &[f64],
    ) {
        let first = self.thresholds();
        let ends = [(code < first).then_some(code), code.checked_sub(1)];
        for (end, density) in ends.into_iter().zip(densities) {
            let Some(end) = end else { continue };
            information[(end, end)] += density;
            for (place, value) in row.iter().enumerate() {
                information[(end, first + place)] -= density * value;
            }
        }
        add_outer(information, first, row, densities[0] + densities[1]);
    }

    /// The row's share in the gradient, without [`Likelihood::apart`].
    pub(super) fn add_gradient(
        &self,
        gradient: &mut [f64],
        code: usize,
        part: RowPart,
        row: &[f64],
    ) {
        let first = self.thresholds();
        if code < first {
            gradient[code] += part.upper;
        }
        if code > 0 {
            gradient[code - 1] += part.lower;
        }
        for (value, x) in gradient[first..].iter_mut().zip(row) {
            *value += part.predictor * x;
        }
    }

    /// How a direction sorts the rows: none may move towards a bound of its category. Where some move away, no finite parameters are best.
    pub(super) fn sorting(&self, way: &DVector<f64>) -> Sorting {
        let first = self.thresholds();
        let tail = way.rows(first, way.len() - first).into_owned();
        let rows = self.basis.each_row().zip(&self.codes);
        sorting(rows.flat_map(|(row, &code)| {
            let along = dot(row, &tail);
            let up = (code < first).then(|| way[code] - along);
            let down = (code > 0).then(|| along - way[code - 1]);
            up.into_iter().chain(down)
        }))
    }
}

/// First derivative of `ln(1 - exp(-d))` and minus the second: `1 / (e^d - 1)` and `e^d / (e^d - 1)^2`.
pub(super) fn repulsion(distance: f64) -> (f64, f64) {
    let pull = distance.exp_m1().recip();
    (pull, pull * (1.0 + pull))
}

impl Surface for Likelihood {
    fn look(&self, at: &DVector<f64>) -> Option<(f64, Slope)> {
        let at = at.as_slice();
        if !self.rises(at) {
            return None;
        }
        let mut values = Vec::with_capacity(self.codes.len());
        let mut gradient = DVector::zeros(self.size());
        let mut information = DMatrix::zeros(self.size(), self.size());
        for (row, &code) in self.basis.each_row().zip(&self.codes) {
            let (part, value) = self.both(at, code, self.predictor(at, row));
            values.push(value);
            self.add_gradient(gradient.as_mut_slice(), code, part, row);
            self.add_information(&mut information, code, part.densities, row);
        }
        let weights: Vec<f64> = self.counts.iter().map(|&count| count as f64).collect();
        self.add_apart(at, &weights, gradient.as_mut_slice(), &mut information);
        mirror(&mut information);
        let value = crate::stats::numeric::sum(&values) + self.apart(at);
        Some((value, Slope { gradient, information }))
    }
}
