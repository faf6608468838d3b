//! A likelihood from which a normal effect of each group is integrated out.

mod integrated;

pub use integrated::GroupEffect;
pub(crate) use integrated::Integrated;

use super::newton::{Climb, Slope, Surface, Top, climb, climb_a_little};
use super::quadrature::normal_quadrature;
use crate::stats::error::StatsError;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Gauss-Hermite nodes a group.
pub(crate) const NODES: usize = 25;
/// Above this standard deviation, in log odds, of what is not known of a group's effect, 25 Gauss-Hermite nodes may have less than nine
/// digits.
const WIDE: f64 = 0.7;
/// Step of the trapezoidal rule in log odds, or in standard deviations of the group's own curve where those are less: errors about `exp(-2 pi^2 / 0.6)`.
const STEP: f64 = 0.6;
/// A node whose part is `exp(-40)` of the highest ends the sum; a log-concave integrand only falls from there.
const NEGLIGIBLE: f64 = 40.0;
const MOST_NODES: u32 = 4000;
/// Below this standard deviation a curve is so nearly a parabola that few nodes have all digits (the error falls with a third of their number as power of the
/// group's size: Liu & Pierce 1994, Biometrika 81, 624-629).
const NARROW: f64 = 0.15;
const FEW_NODES: usize = 11;
/// A last Newton step of this size leaves an error of about its square.
const MODE_TOLERANCE: f64 = 1e-5;
/// Standard deviations at which the search for a start looks.
const STARTS: [f64; 3] = [0.3, 1.0, 3.0];
/// Where to start when the best of them is zero and the likelihood rises from there.
const SMALL: f64 = 0.1;
/// Nodes of that search.
const ROUGH_NODES: usize = 5;
/// Steps at each of them: the other parameters move little from one to the next.
const ROUGH_STEPS: usize = 2;
/// A standard deviation of this many units of log odds means that groups foretell the outcome without error.
const RUNAWAY: f64 = 40.0;
const MOST_STEPS: usize = 100;

/// The log-likelihood of a group's rows as a function of a shift of all their linear predictors.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Curve {
    pub(crate) value: f64,
    pub(crate) slope: f64,
    /// Minus the second derivative, never negative.
    pub(crate) bend: f64,
}

/// One node of a group's integral: the effect in standard deviations, the shift it makes, and its share of the integral.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node {
    pub(crate) effect: f64,
    pub(crate) shift: f64,
    pub(crate) share: f64,
}

/// A model of the rows once the effect of their group is given; log-concave in parameters and shift together.
pub(crate) trait Conditional: Sync {
    /// What the rows of a group are at some parameters, whatever shifts them.
    type Rows;
    /// Number of parameters.
    fn width(&self) -> usize;
    /// Number of groups.
    fn groups(&self) -> usize;
    /// Whether the parameters are allowed.
    fn allows(&self, at: &[f64]) -> bool;
    /// The rows of one group.
    fn rows(&self, at: &[f64], group: usize) -> Self::Rows;
    /// Their curve.
    fn curve(&self, rows: &Self::Rows, shift: f64) -> Curve;
    /// Puts the derivative of the group's log-likelihood by the parameters at every node in a column of `scores`; adds to the top left of `information` the
    /// mean over the nodes of minus the second derivatives, and to its last column the mean of effect times minus the derivative by parameter and shift.
    /// Only the upper triangle is filled.
    fn derivatives(
        &self,
        at: &[f64],
        members: (usize, &Self::Rows),
        nodes: &[Node],
        scores: &mut DMatrix<f64>,
        information: &mut DMatrix<f64>,
    );
}

/// The integrated likelihood. Its parameters are those of the conditional model and, last, the standard deviation of the group effects, unless that is held.
pub(crate) struct Marginal<'model, Model> {
    model: &'model Model,
    nodes: Vec<(f64, f64)>,
    few_nodes: Vec<(f64, f64)>,
    /// The standard deviation where it is not a parameter.
    held: Option<f64>,
}

/// What one group gives.
struct Part {
    gradient: DVector<f64>,
    information: DMatrix<f64>,
}

impl<'model, Model: Conditional> Marginal<'model, Model> {
    pub(crate) fn new(model: &'model Model, nodes: usize) -> Self {
        let few_nodes = normal_quadrature(nodes.min(FEW_NODES));
        Self { model, nodes: normal_quadrature(nodes), few_nodes, held: None }
    }

    fn holding(&self, deviation: f64) -> Self {
        let (nodes, few_nodes) = (self.nodes.clone(), self.few_nodes.clone());
        Self { model: self.model, nodes, few_nodes, held: Some(deviation) }
    }

    /// The conditional parameters and the standard deviation; its sign has no meaning.
    fn split<'a>(&self, at: &'a DVector<f64>) -> (&'a [f64], f64) {
        let (parameters, rest) = at.as_slice().split_at(self.model.width());
        (parameters, self.held.unwrap_or_else(|| rest.first().copied().unwrap_or(0.0).abs()))
    }

    /// The most likely effect of a group in standard deviations, and the curve there: a maximum of `curve(t v) - v^2 / 2`, which is strictly concave.
    pub(crate) fn mode(&self, rows: &Model::Rows, deviation: f64) -> (f64, Curve) {
        let height = |curve: &Curve, effect: f64| curve.value - 0.5 * effect * effect;
        let mut effect = 0.0;
        let mut curve = self.model.curve(rows, 0.0);
        for _ in 0..100 {
            let slope = deviation * curve.slope - effect;
            let step = slope / (1.0 + deviation * deviation * curve.bend);
            let last = step.abs() <= MODE_TOLERANCE * (1.0 + effect.abs());
            let mut share = 1.0;
            let before = height(&curve, effect);
            loop {
                let next = effect + share * step;
                let there = self.model.curve(rows, deviation * next);
                if height(&there, next) >= before - 1e-13 * (1.0 + before.abs()) || share < 1e-9 {
                    (effect, curve) = (next, there);
                    break;
                }
                share *= 0.5;
            }
            if last {
                break;
            }
        }
        (effect, curve)
    }

    /// The nodes of a group, the curves there, and the logarithm of the integral.
    fn adapted(&self, rows: &Model::Rows, deviation: f64) -> (Vec<Node>, Vec<Curve>, f64) {
        let (mode, curve) = self.mode(rows, deviation);
        let width = (1.0 + deviation * deviation * curve.bend).sqrt().recip();
        let wide = width * deviation > WIDE && self.nodes.len() > 1;
        let (mut nodes, curves) = if wide {
            self.steps(rows, deviation, mode, STEP * deviation.recip().min(width))
        } else {
            self.hermite(rows, deviation, mode, width)
        };
        let most = nodes.iter().fold(f64::NEG_INFINITY, |most, node| most.max(node.share));
        let total: f64 = nodes.iter().map(|node| (node.share - most).exp()).sum();
        for node in &mut nodes {
            node.share = (node.share - most).exp() / total;
        }
        (nodes, curves, most + total.ln())
    }

    /// A node at an effect, its share still the logarithm of its part of the integral.
    fn node(&self, rows: &Model::Rows, deviation: f64, effect: f64, weight: f64) -> (Node, Curve) {
        let shift = deviation * effect;
        let curve = self.model.curve(rows, shift);
        (Node { effect, shift, share: weight + curve.value - 0.5 * effect * effect }, curve)
    }

    /// Gauss-Hermite nodes moved and stretched to the group's own curve (Pinheiro & Bates 1995, Journal of Computational and Graphical Statistics 4, 12-35).
    fn hermite(
        &self,
        rows: &Model::Rows,
        deviation: f64,
        mode: f64,
        width: f64,
    ) -> (Vec<Node>, Vec<Curve>) {
        let narrow = width * deviation < NARROW;
        let nodes = if narrow { &self.few_nodes } else { &self.nodes };
        let nodes = nodes.iter().map(|&(place, weight)| {
            let log_weight = width.ln() + weight.ln() + 0.5 * place * place;
            self.node(rows, deviation, mode + width * place, log_weight)
        });
        nodes.unzip()
    }

    /// Equal steps to both sides until nothing is left to add. The trapezoidal rule on the whole line converges exponentially as far as the integrand is
    /// analytic (Trefethen & Weideman 2014, SIAM Review 56, 385-458), here `pi / t` to both sides of the line, so that the step need only follow the
    /// deviation; polynomials do badly at the bends that a wide spread makes.
    fn steps(
        &self,
        rows: &Model::Rows,
        deviation: f64,
        mode: f64,
        step: f64,
    ) -> (Vec<Node>, Vec<Curve>) {
        let log_weight = step.ln() - 0.5 * std::f64::consts::TAU.ln();
        let place = |number: f64| self.node(rows, deviation, mode + number * step, log_weight);
        let middle = place(0.0);
        let counts = |(node, _): &(Node, Curve)| node.share > middle.0.share - NEGLIGIBLE;
        let side = |sign: f64| {
            (1..MOST_NODES)
                .map(move |number| sign * f64::from(number))
                .map(place)
                .take_while(counts)
        };
        let mut pairs: Vec<(Node, Curve)> = side(-1.0).collect();
        pairs.reverse();
        pairs.push(middle);
        pairs.extend(side(1.0));
        pairs.into_iter().unzip()
    }

    /// Gradient `E[s]` and information `E[-H] - Cov[s]` of a group (Louis 1982, Journal of the Royal Statistical Society B 44, 226-233), where the means
    /// are over the effect given the outcomes, and `s`, `H` are the derivatives with the effect known.
    fn part(&self, at: &[f64], deviation: f64, group: usize) -> Part {
        let rows = self.model.rows(at, group);
        let (nodes, curves, _) = self.adapted(&rows, deviation);
        let (width, size) = (self.model.width(), self.model.width() + 1);
        let mut scores = DMatrix::zeros(size, nodes.len());
        let mut information = DMatrix::zeros(size, size);
        self.model.derivatives(at, (group, &rows), &nodes, &mut scores, &mut information);
        for (place, (node, curve)) in nodes.iter().zip(&curves).enumerate() {
            scores[(width, place)] = node.effect * curve.slope;
            information[(width, width)] += node.share * node.effect.powi(2) * curve.bend;
        }
        let shares = DVector::from_iterator(nodes.len(), nodes.iter().map(|node| node.share));
        let gradient = &scores * &shares;
        for (mut score, share) in scores.column_iter_mut().zip(shares.iter()) {
            score -= &gradient;
            score *= share.sqrt();
        }
        information.fill_lower_triangle_with_upper_triangle();
        information -= &scores * scores.transpose();
        Part { gradient, information }
    }

    /// Every group's result, in the order of the groups whatever thread computed it.
    fn each_group<Output: Send>(
        &self,
        function: impl Fn(usize) -> Output + Sync + Send,
    ) -> Vec<Output> {
        (0..self.model.groups()).into_par_iter().map(function).collect()
    }

    /// The maximum over the other parameters at a standard deviation.
    fn at_deviation(&self, deviation: f64, start: &DVector<f64>) -> Option<Top> {
        match climb(&self.holding(deviation), start.clone(), None, MOST_STEPS, |_| false) {
            Climb::Top(top) => Some(top),
            _ => None,
        }
    }

    /// The maximum, from `start`, the parameters where groups do not differ; the standard deviation comes last and is 0 where groups differ no more than
    /// chance.
    ///
    /// # Errors
    /// `Separation` where the standard deviation grows without end; `NotConverged`.
    pub(crate) fn maximum(&self, start: &Top) -> Result<Top, StatsError> {
        let flat = Top { at: start.at.push(0.0), value: start.value };
        let last = flat.at.len() - 1;
        let mut promising = self.promising(&flat);
        if promising[last] == 0.0 {
            // minus twice the derivative by the variance at zero, by symmetry
            if self.slope(&flat.at).information[(last, last)] >= 0.0 {
                return Ok(flat);
            }
            promising[last] = SMALL;
        }
        let runaway = |way: &DVector<f64>| way[last].abs() > RUNAWAY;
        match climb(self, promising, None, MOST_STEPS, runaway) {
            Climb::Top(mut top) => {
                top.at[last] = top.at[last].abs();
                let nothing = top.at[last] < 1e-6 || top.value <= flat.value;
                Ok(if nothing { flat } else { top })
            }
            Climb::Astray(_) => {
                let columns = vec!["the groups".into()];
                Err(StatsError::Separation { columns, complete: false })
            }
            Climb::Tired => Err(StatsError::NotConverged { what: "the random intercept".into() }),
        }
    }

    /// The best of a few standard deviations, zero among them, by rough integrals.
    fn promising(&self, flat: &Top) -> DVector<f64> {
        let rough = Self::new(self.model, ROUGH_NODES.min(self.nodes.len()));
        let mut warm = flat.at.rows(0, self.model.width()).into_owned();
        let mut best = flat.clone();
        for deviation in STARTS {
            let held = rough.holding(deviation);
            let Some(top) = climb_a_little(&held, warm.clone(), ROUGH_STEPS) else { continue };
            warm = top.at.clone();
            if top.value > best.value {
                best = Top { at: top.at.push(deviation), value: top.value };
            }
        }
        best.at
    }
}

impl<Model: Conditional> Surface for Marginal<'_, Model> {
    fn value(&self, at: &DVector<f64>) -> f64 {
        let (parameters, deviation) = self.split(at);
        if !self.model.allows(parameters) {
            return f64::NEG_INFINITY;
        }
        let values =
            self.each_group(|group| self.adapted(&self.model.rows(parameters, group), deviation).2);
        crate::stats::numeric::sum(&values)
    }

    /// The derivatives are those of the integral, from which quadrature strays by so much.
    fn resolution(&self) -> f64 {
        1e-9
    }

    fn slope(&self, at: &DVector<f64>) -> Slope {
        let (parameters, deviation) = self.split(at);
        let size = self.model.width() + 1;
        let mut gradient = DVector::zeros(size);
        let mut information = DMatrix::zeros(size, size);
        for part in self.each_group(|group| self.part(parameters, deviation, group)) {
            gradient += part.gradient;
            information += part.information;
        }
        if self.held.is_some() {
            let width = self.model.width();
            gradient = gradient.rows(0, width).into_owned();
            information = information.view((0, 0), (width, width)).into_owned();
        } else if at[size - 1] < 0.0 {
            gradient[size - 1] *= -1.0;
            for place in 0..size - 1 {
                information[(place, size - 1)] *= -1.0;
                information[(size - 1, place)] *= -1.0;
            }
        }
        Slope { gradient, information }
    }
}

/// Rows of every group, and the groups' codes, rising.
pub(crate) fn members(groups: &[usize]) -> (Vec<usize>, Vec<Vec<usize>>) {
    let mut rows: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (row, &group) in groups.iter().enumerate() {
        rows.entry(group).or_default().push(row);
    }
    rows.into_iter().unzip()
}

/// Value of a group's part, for those who need no derivatives.
#[cfg(test)]
pub(crate) fn log_integral<Model: Conditional>(
    model: &Model,
    at: &[f64],
    deviation: f64,
    nodes: usize,
) -> f64 {
    let marginal = Marginal::new(model, nodes);
    (0..model.groups()).map(|group| marginal.adapted(&model.rows(at, group), deviation).2).sum()
}
