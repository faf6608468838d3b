//! A likelihood from which a normal effect of each group is integrated out.

use super::newton::{Climb, Slope, Surface, Top, climb};
use super::quadrature::normal_quadrature;
use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{chi_squared_quantile, chi_squared_sf, find_root};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Gauss-Hermite nodes a group.
pub(crate) const NODES: usize = 25;
/// Above this standard deviation, in log odds, of what is not known of a group's effect, 25 Gauss-Hermite nodes have less than nine digits.
const WIDE: f64 = 0.7;
/// Step of the trapezoidal rule in units of one log odds: an error of `exp(-2 pi^2 / 0.8)`.
const STEP: f64 = 0.8;
/// A node whose part is `exp(-40)` of the highest ends the sum; a log-concave integrand only falls from there.
const NEGLIGIBLE: f64 = 40.0;
const MOST_NODES: u32 = 4000;
/// Standard deviations from which the climb may start; between groups of yes/no outcomes more than the last is hardly ever seen.
const STARTS: [f64; 5] = [0.25, 0.5, 1.0, 2.0, 4.0];
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
    /// Number of parameters.
    fn width(&self) -> usize;
    /// Number of groups.
    fn groups(&self) -> usize;
    /// Whether the parameters are allowed.
    fn allows(&self, at: &[f64]) -> bool;
    /// The curve of one group.
    fn curve(&self, at: &[f64], group: usize, shift: f64) -> Curve;
    /// Puts the derivative of the group's log-likelihood by the parameters at every node in a column of `scores`; adds to the top left of `information` the mean
    /// over the nodes of minus the second derivatives, and to its last column the mean of effect times minus the derivative by parameter and shift. Only the
    /// upper triangle is filled.
    fn derivatives(
        &self,
        at: &[f64],
        group: usize,
        nodes: &[Node],
        scores: &mut DMatrix<f64>,
        information: &mut DMatrix<f64>,
    );
}

/// The integrated likelihood. Its parameters are those of the conditional model and, last, the standard deviation of the group effects, unless that is held.
pub(crate) struct Marginal<'model, Model> {
    model: &'model Model,
    nodes: Vec<(f64, f64)>,
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
        Self { model, nodes: normal_quadrature(nodes), held: None }
    }

    fn holding(&self, deviation: f64) -> Self {
        Self { model: self.model, nodes: self.nodes.clone(), held: Some(deviation) }
    }

    /// The conditional parameters and the standard deviation; its sign has no meaning.
    fn split<'a>(&self, at: &'a DVector<f64>) -> (&'a [f64], f64) {
        let (parameters, rest) = at.as_slice().split_at(self.model.width());
        (parameters, self.held.unwrap_or_else(|| rest.first().copied().unwrap_or(0.0).abs()))
    }

    /// The most likely effect of a group in standard deviations, and the curve there: a maximum of `curve(t v) - v^2 / 2`, which is strictly concave.
    pub(crate) fn mode(&self, at: &[f64], deviation: f64, group: usize) -> (f64, Curve) {
        let height = |curve: &Curve, effect: f64| curve.value - 0.5 * effect * effect;
        let mut effect = 0.0;
        let mut curve = self.model.curve(at, group, 0.0);
        for _ in 0..100 {
            let slope = deviation * curve.slope - effect;
            let step = slope / (1.0 + deviation * deviation * curve.bend);
            if step.abs() <= 1e-12 * (1.0 + effect.abs()) {
                break;
            }
            let mut share = 1.0;
            let before = height(&curve, effect);
            loop {
                let next = effect + share * step;
                let there = self.model.curve(at, group, deviation * next);
                if height(&there, next) >= before - 1e-13 * (1.0 + before.abs()) || share < 1e-9 {
                    (effect, curve) = (next, there);
                    break;
                }
                share *= 0.5;
            }
        }
        (effect, curve)
    }

    /// The nodes of a group, the curves there, and the logarithm of the integral.
    fn adapted(&self, at: &[f64], deviation: f64, group: usize) -> (Vec<Node>, Vec<Curve>, f64) {
        let (mode, curve) = self.mode(at, deviation, group);
        let width = (1.0 + deviation * deviation * curve.bend).sqrt().recip();
        let wide = width * deviation > WIDE && self.nodes.len() > 1;
        let (mut nodes, curves) = if wide {
            self.steps(at, deviation, group, mode, STEP / deviation)
        } else {
            self.hermite(at, deviation, group, mode, width)
        };
        let most = nodes.iter().fold(f64::NEG_INFINITY, |most, node| most.max(node.share));
        let total: f64 = nodes.iter().map(|node| (node.share - most).exp()).sum();
        for node in &mut nodes {
            node.share = (node.share - most).exp() / total;
        }
        (nodes, curves, most + total.ln())
    }

    /// A node at an effect, its share still the logarithm of its part of the integral.
    fn node(
        &self,
        at: &[f64],
        deviation: f64,
        group: usize,
        effect: f64,
        weight: f64,
    ) -> (Node, Curve) {
        let shift = deviation * effect;
        let curve = self.model.curve(at, group, shift);
        (Node { effect, shift, share: weight + curve.value - 0.5 * effect * effect }, curve)
    }

    /// Gauss-Hermite nodes moved and stretched to the group's own curve (Pinheiro & Bates 1995, Journal of Computational and Graphical Statistics 4, 12-35).
    fn hermite(
        &self,
        at: &[f64],
        deviation: f64,
        group: usize,
        mode: f64,
        width: f64,
    ) -> (Vec<Node>, Vec<Curve>) {
        let nodes = self.nodes.iter().map(|&(place, weight)| {
            let log_weight = width.ln() + weight.ln() + 0.5 * place * place;
            self.node(at, deviation, group, mode + width * place, log_weight)
        });
        nodes.unzip()
    }

    /// Equal steps to both sides until nothing is left to add. The trapezoidal rule on the whole line converges exponentially as far as the integrand is
    /// analytic (Trefethen & Weideman 2014, SIAM Review 56, 385-458), here `pi / t` to both sides of the line, so that the step need only follow the
    /// deviation; polynomials do badly at the bends that a wide spread makes.
    fn steps(
        &self,
        at: &[f64],
        deviation: f64,
        group: usize,
        mode: f64,
        step: f64,
    ) -> (Vec<Node>, Vec<Curve>) {
        let log_weight = step.ln() - 0.5 * std::f64::consts::TAU.ln();
        let place = |number: f64| self.node(at, deviation, group, mode + number * step, log_weight);
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
        let (nodes, curves, _) = self.adapted(at, deviation, group);
        let (width, size) = (self.model.width(), self.model.width() + 1);
        let mut scores = DMatrix::zeros(size, nodes.len());
        let mut information = DMatrix::zeros(size, size);
        self.model.derivatives(at, group, &nodes, &mut scores, &mut information);
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

    /// The maximum, from `start`, the parameters where groups do not differ; the standard deviation comes last and is 0 where groups differ no more than chance.
    ///
    /// # Errors
    /// `Separation` where the standard deviation grows without end; `NotConverged`.
    pub(crate) fn maximum(&self, start: &Top) -> Result<Top, StatsError> {
        let flat = start.at.push(0.0);
        let mut best = Top { at: flat.clone(), value: start.value };
        let mut warm = start.at.clone();
        for deviation in STARTS {
            let Some(top) = self.at_deviation(deviation, &warm) else { continue };
            warm = top.at.clone();
            if top.value > best.value {
                best = Top { at: top.at.push(deviation), value: top.value };
            }
        }
        let last = flat.len() - 1;
        if best.at[last] == 0.0 {
            // minus twice the derivative by the variance at zero, by symmetry
            if self.slope(&flat).information[(last, last)] >= 0.0 {
                return Ok(best);
            }
            best.at[last] = 0.1;
        }
        let runaway = |way: &DVector<f64>| way[last].abs() > RUNAWAY;
        match climb(self, best.at, None, MOST_STEPS, runaway) {
            Climb::Top(mut top) => {
                top.at[last] = top.at[last].abs();
                let nothing = top.at[last] < 1e-6 || top.value <= start.value;
                Ok(if nothing { Top { at: flat, value: start.value } } else { top })
            }
            Climb::Astray(_) => {
                Err(StatsError::Separation { columns: vec!["the groups".into()], complete: false })
            }
            Climb::Tired => Err(StatsError::NotConverged { what: "the random intercept".into() }),
        }
    }
}

impl<Model: Conditional> Surface for Marginal<'_, Model> {
    fn value(&self, at: &DVector<f64>) -> f64 {
        let (parameters, deviation) = self.split(at);
        if !self.model.allows(parameters) {
            return f64::NEG_INFINITY;
        }
        let values = self.each_group(|group| self.adapted(parameters, deviation, group).2);
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

/// The fit of a model with a random intercept, in working coordinates.
#[derive(Debug, Clone)]
pub(crate) struct Integrated<Model> {
    pub(crate) model: Model,
    /// Codes of the groups, rising.
    pub(crate) codes: Vec<usize>,
    /// Parameters and, last, the standard deviation between groups.
    pub(crate) top: Top,
    /// Of the information at the top; without the standard deviation where that is 0.
    factor: Cholesky<f64, Dyn>,
    /// The maximum without group effects.
    pub(crate) flat: Top,
}

/// The effect of a group on the scale of the linear predictor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupEffect {
    /// Code of the group.
    pub group: usize,
    /// The most likely effect given the outcomes and the estimates, drawn towards 0 the more the less is known of the group.
    pub effect: f64,
    /// Its error `1 / sqrt(1 / t^2 + sum w)`, with the estimates taken as known.
    pub standard_error: f64,
}

impl<Model: Conditional> Integrated<Model> {
    /// Fits from the maximum without group effects.
    ///
    /// # Errors
    /// `Separation`, `NotConverged`.
    pub(crate) fn fit(
        model: Model,
        codes: Vec<usize>,
        flat: Top,
        nodes: usize,
    ) -> Result<Self, StatsError> {
        let marginal = Marginal::new(&model, nodes);
        let top = marginal.maximum(&flat)?;
        let mut information = marginal.slope(&top.at).information;
        let width = model.width();
        if top.at[width] == 0.0 {
            information = information.view((0, 0), (width, width)).into_owned();
        }
        let failed = || StatsError::NotConverged { what: "the random intercept".into() };
        let factor = Cholesky::new(information).ok_or_else(failed)?;
        Ok(Self { model, codes, top, factor, flat })
    }

    pub(crate) fn parameters(&self) -> &[f64] {
        &self.top.at.as_slice()[..self.model.width()]
    }

    pub(crate) fn deviation(&self) -> f64 {
        self.top.at[self.model.width()]
    }

    /// `d'(A)^-1 d` for a slope by all parameters and the standard deviation, whose part is dropped where it is 0.
    pub(crate) fn variance(&self, slope: &DVector<f64>) -> f64 {
        let kept = slope.rows(0, self.factor.l_dirty().nrows()).into_owned();
        kept.dot(&self.factor.solve(&kept))
    }

    /// Every group's effect.
    pub(crate) fn effects(&self) -> Vec<GroupEffect> {
        let groups = self.codes.iter().enumerate();
        groups
            .map(|(place, &group)| {
                let (effect, standard_error, _) = self.effect(place);
                GroupEffect { group, effect, standard_error }
            })
            .collect()
    }

    /// A group's effect, its error given the estimates, and its slope by the estimates.
    pub(crate) fn effect(&self, group: usize) -> (f64, f64, DVector<f64>) {
        let (width, deviation) = (self.model.width(), self.deviation());
        let marginal = Marginal::new(&self.model, 1);
        let (mode, curve) = marginal.mode(self.parameters(), deviation, group);
        let tightness = 1.0 + deviation * deviation * curve.bend;
        let mut scores = DMatrix::zeros(width + 1, 1);
        let mut mixed = DMatrix::zeros(width + 1, width + 1);
        let node = Node { effect: 1.0, shift: deviation * mode, share: 1.0 };
        self.model.derivatives(self.parameters(), group, &[node], &mut scores, &mut mixed);
        let mut slope: DVector<f64> = mixed.column(width) * (-deviation * deviation / tightness);
        slope[width] = mode + deviation * (curve.slope - deviation * mode * curve.bend) / tightness;
        (deviation * mode, deviation / tightness.sqrt(), slope)
    }

    /// Test that groups do not differ: twice the rise of the log-likelihood, whose p value is half the chi-squared tail because the standard deviation lies on
    /// its boundary (Self & Liang 1987, Journal of the American Statistical Association 82, 605-610).
    pub(crate) fn test_of_groups(&self) -> (f64, f64) {
        let statistic = 2.0 * (self.top.value - self.flat.value).max(0.0);
        (statistic, if statistic > 0.0 { 0.5 * chi_squared_sf(statistic, 1.0) } else { 1.0 })
    }

    /// Profile-likelihood interval of the standard deviation; its lower end is 0 where that is not contradicted.
    pub(crate) fn deviation_interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        let drop = chi_squared_quantile(level, 1.0);
        let marginal = Marginal::new(&self.model, NODES);
        let start = DVector::from_column_slice(self.parameters());
        let excess = |deviation: f64| {
            let top = marginal.at_deviation(deviation, &start);
            top.map_or(f64::NAN, |top| 2.0 * (self.top.value - top.value) - drop)
        };
        let best = self.deviation();
        let low = if 2.0 * (self.top.value - self.flat.value) <= drop {
            Some(0.0)
        } else {
            find_root_roughly(excess, 0.0, best)
        };
        let mut far = best.max(0.25) * 2.0;
        while far < RUNAWAY && excess(far) <= 0.0 {
            far *= 2.0;
        }
        match (low, find_root_roughly(excess, best, far)) {
            (Some(low), Some(high)) => Ok((low, high)),
            _ => Err(StatsError::NotConverged { what: "the profile of the likelihood".into() }),
        }
    }
}

/// A root to eight digits or so by halving, for functions that cost a fit each.
fn find_root_roughly(function: impl Fn(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    let rounded = |x: f64| {
        let value = function(x);
        if value.abs() < 1e-8 { 0.0 } else { value }
    };
    find_root(rounded, low, high)
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
    (0..model.groups()).map(|group| marginal.adapted(at, deviation, group).2).sum()
}
