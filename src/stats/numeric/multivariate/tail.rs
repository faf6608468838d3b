//! The tail of the largest statistic, by separation of variables.

use super::factor::{Factor, Row};
use super::lattice::{Lattice, average, average_to_error};
use super::rectangle::{between, draw_between, range_of};
use super::scale_quantiles::ScaleQuantiles;
use super::{Approximation, Sampling, Sides, one_tail};
use crate::stats::numeric::normal::mills_ratio;
use crate::stats::numeric::{normal_quantile, normal_sf};
use ndarray::Array2;
use std::f64::consts::TAU;

/// `P(some T_i passes) = sum_i P(T_i passes and no T_j before it does)`, prepared for any bound.
pub(super) struct TailPlan {
    df: f64,
    sides: Sides,
    scale: ScaleQuantiles,
    /// For every statistic but the first its variables, itself leading.
    terms: Vec<Factor>,
    axes: usize,
}

impl TailPlan {
    pub(super) fn new(correlation: &Array2<f64>, df: f64, sides: Sides) -> Self {
        let term = |leader: usize| {
            let variables: Vec<usize> = std::iter::once(leader).chain(0..leader).collect();
            Factor::new(correlation, &variables)
        };
        let terms: Vec<Factor> = (1..correlation.nrows()).map(term).collect();
        // one axis for the scale, one for each direction but the last
        let axes = terms.iter().map(Factor::rank).max().unwrap_or(1);
        Self { df, sides, scale: ScaleQuantiles::new(df), terms, axes }
    }

    /// The tail, with as many points as its error needs; also how many those were.
    pub(super) fn tail(&self, bound: f64, sampling: Sampling) -> (Approximation, usize) {
        let sum = |lattice: &Lattice, points: usize| self.sum(lattice, points, bound);
        let (mut found, points) = average_to_error(sampling, self.axes, sum);
        found.value = found.value.min(1.0);
        (found, points)
    }

    /// The tail with a given number of points.
    pub(super) fn mean(&self, bound: f64, seed: u64, points: usize) -> f64 {
        let sum = |lattice: &Lattice, points: usize| self.sum(lattice, points, bound);
        average(seed, self.axes, points, sum).value
    }

    fn sum(&self, lattice: &Lattice, points: usize, bound: f64) -> f64 {
        let tilt = Tilt::new(bound, self.df);
        let mut drawn = Vec::with_capacity(self.axes);
        let mut total = 0.0;
        for point in 0..points {
            let z = if self.scale.varies() {
                normal_quantile(lattice.coordinate(point, 0))
            } else {
                0.0
            };
            let edge = bound * self.scale.at(z) * tilt.shrink;
            for term in &self.terms {
                total += self.term(term, lattice, point, edge, tilt, &mut drawn);
            }
        }
        one_tail(bound, self.df, self.sides) + self.sides.tails() * total / points as f64
    }

    /// One term at one point: the leader passes the edge upwards (twice as much where both sides count), the others stay inside.
    fn term(
        &self,
        term: &Factor,
        lattice: &Lattice,
        point: usize,
        edge: f64,
        tilt: Tilt,
        drawn: &mut Vec<f64>,
    ) -> f64 {
        let inside = match self.sides {
            Sides::Two => (-edge, edge),
            Sides::Upper => (f64::NEG_INFINITY, edge),
        };
        drawn.clear();
        let mut product = 1.0;
        for (step, rows) in term.steps.iter().enumerate() {
            // the leader stands first of all and alone decides the lower end of the first range
            let followers: &[Row] = if step == 0 { &rows[1..] } else { rows };
            let (mut low, high) = range_of(followers, drawn, |_| inside);
            if step == 0 {
                product = tilt.weight(edge, low.max(edge), high);
                low = low.max(edge);
            } else {
                product *= between(low, high);
            }
            if product <= 0.0 {
                return 0.0;
            }
            if step + 1 < term.steps.len() {
                drawn.push(draw_between(low, high, lattice.coordinate(point, step + 1)));
            }
        }
        product
    }
}

/// The scale is drawn as if the leader had passed already: given `T = t`, `S sqrt(df + t^2)` is a chi variable. The weight that makes up for it turns the
/// steep normal tail into Mills' ratio, which hardly varies.
#[derive(Clone, Copy)]
struct Tilt {
    shrink: f64,
    /// `(df / (df + t^2))^(df / 2)`; none where the scale does not vary or the bound is no tail.
    factor: Option<f64>,
}

impl Tilt {
    fn new(bound: f64, df: f64) -> Self {
        if bound <= 0.0 || df > crate::stats::numeric::distributions::NEARLY_INFINITE {
            return Self { shrink: 1.0, factor: None };
        }
        let share = bound * bound / df;
        Self {
            shrink: (1.0 + share).sqrt().recip(),
            factor: Some((-0.5 * df * share.ln_1p()).exp()),
        }
    }

    /// The probability of the leader's range, from `low` to `high`, in the tilted measure.
    fn weight(self, edge: f64, low: f64, high: f64) -> f64 {
        match self.factor {
            None if high == f64::INFINITY => normal_sf(low),
            None => between(low, high),
            Some(factor) if high == f64::INFINITY && low == edge => {
                factor * mills_ratio(edge) / TAU.sqrt()
            }
            // another variable says the same and stays inside, so that nothing is left
            Some(_) if low >= high => 0.0,
            // it says the opposite
            Some(factor) => factor * (0.5 * edge * edge).exp() * between(low, high),
        }
    }
}
