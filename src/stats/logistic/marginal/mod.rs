//! A likelihood from which a normal effect of each group is integrated out.

mod integrated;
mod nodes;

pub use integrated::GroupEffect;
pub(crate) use integrated::Integrated;

use super::newton::{Climb, Slope, Surface, Top, climb, one_step};
use crate::stats::error::StatsError;
use nalgebra::{DMatrix, DVector};
use nodes::Rules;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Gauss-Hermite nodes a group, at most.
pub(crate) const NODES: usize = 25;
/// Standard deviations at which the search for a start looks.
const STARTS: [f64; 3] = [0.3, 1.0, 3.0];
/// Where to start when the best of them is zero and the likelihood rises from there.
const SMALL: f64 = 0.1;
/// Nodes of that search.
const ROUGH_NODES: usize = 5;
/// A smaller standard deviation is none: where the likelihood is flat at zero, the climb ends a little beside it.
const NOTHING: f64 = 1e-5;
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
    /// The first group whose rows and outcomes are the same as this one's, so that nothing is summed up twice.
    fn first_alike(&self, group: usize) -> usize {
        group
    }
    /// The rows of one group.
    fn rows(&self, at: &[f64], group: usize) -> Self::Rows;
    /// Their curve.
    fn curve(&self, rows: &Self::Rows, shift: f64) -> Curve;
    /// The values alone of their curve at many shifts.
    fn heights(&self, rows: &Self::Rows, shifts: &[f64]) -> Vec<f64> {
        shifts.iter().map(|&shift| self.curve(rows, shift).value).collect()
    }
    /// Fills the columns of `scores`, which come as zeros, with the derivative of the group's log-likelihood at every node, by the parameters and, last, by the standard deviation
    /// (effect times that by the shift); and `information`, zeros too, with the mean over the nodes of minus the second derivatives. Only the upper triangle counts.
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
    most_nodes: usize,
    rules: Rules,
    /// The standard deviation where it is not a parameter.
    held: Option<f64>,
}

/// What one group gives.
struct Part {
    value: f64,
    gradient: DVector<f64>,
    information: DMatrix<f64>,
}

impl<'model, Model: Conditional> Marginal<'model, Model> {
    pub(crate) fn new(model: &'model Model, nodes: usize) -> Self {
        Self { model, most_nodes: nodes, rules: Rules::new(nodes), held: None }
    }

    fn holding(&self, deviation: f64) -> Self {
        Self { rules: self.rules.clone(), held: Some(deviation), ..*self }
    }

    /// The conditional parameters and the standard deviation; its sign has no meaning.
    fn split<'a>(&self, at: &'a DVector<f64>) -> (&'a [f64], f64) {
        let (parameters, rest) = at.as_slice().split_at(self.model.width());
        (parameters, self.held.unwrap_or_else(|| rest.first().copied().unwrap_or(0.0).abs()))
    }

    /// The logarithm of the integral, gradient `E[s]` and information `E[-H] - Cov[s]` of a group (Louis 1982, Journal of the Royal Statistical Society B 44, 226-233), where the means
    /// are over the effect given the outcomes, and `s`, `H` are the derivatives with the effect known.
    fn part(&self, at: &[f64], deviation: f64, group: usize) -> Part {
        let rows = self.model.rows(at, group);
        let (nodes, value) = self.adapted(&rows, deviation);
        let size = self.model.width() + 1;
        let mut scores = DMatrix::zeros(size, nodes.len());
        let mut information = DMatrix::zeros(size, size);
        self.model.derivatives(at, (group, &rows), &nodes, &mut scores, &mut information);
        let shares = DVector::from_iterator(nodes.len(), nodes.iter().map(|node| node.share));
        let gradient = &scores * &shares;
        for (mut score, share) in scores.column_iter_mut().zip(shares.iter()) {
            score -= &gradient;
            score *= share.sqrt();
        }
        information.fill_lower_triangle_with_upper_triangle();
        information -= &scores * scores.transpose();
        Part { value, gradient, information }
    }

    /// Tells of every group's result, in the order of the groups whatever thread computed it.
    fn each_group<Output: Send>(
        &self,
        function: impl Fn(usize) -> Output + Sync + Send,
        tell: impl FnMut(&Output),
    ) {
        let first = |group: usize| self.model.first_alike(group);
        let of_firsts: Vec<Option<Output>> = (0..self.model.groups())
            .into_par_iter()
            .map(|group| (first(group) == group).then(|| function(group)))
            .collect();
        let each = (0..self.model.groups()).filter_map(|group| of_firsts[first(group)].as_ref());
        each.for_each(tell);
    }

    /// The maximum over the other parameters at a standard deviation.
    fn at_deviation(&self, deviation: f64, start: &DVector<f64>) -> Option<Top> {
        match climb(&self.holding(deviation), start.clone(), None, MOST_STEPS, |_| false) {
            Climb::Top(top, _) => Some(top),
            _ => None,
        }
    }

    /// The maximum, from `start`, the parameters where groups do not differ; the standard deviation comes last and is 0 where groups differ no more than
    /// chance.
    ///
    /// # Errors
    /// `Separation` where the standard deviation grows without end; `NotConverged`.
    pub(crate) fn maximum(&self, start: &Top) -> Result<(Top, Slope), StatsError> {
        let flat = Top { at: start.at.push(0.0), value: start.value };
        let last = flat.at.len() - 1;
        let mut promising = self.promising(&flat);
        if promising[last] == 0.0 {
            // minus twice the derivative by the variance at zero, by symmetry
            let slope = self.slope_at(&flat)?;
            if slope.information[(last, last)] >= 0.0 {
                return Ok((flat, slope));
            }
            promising[last] = SMALL;
        }
        let runaway = |way: &DVector<f64>| way[last].abs() > RUNAWAY;
        match climb(self, promising, None, MOST_STEPS, runaway) {
            Climb::Top(mut top, slope) => {
                if top.at[last].abs() < NOTHING || top.value <= flat.value {
                    let slope = self.slope_at(&flat)?;
                    return Ok((flat, slope));
                }
                if top.at[last] < 0.0 {
                    top.at[last] *= -1.0;
                    let slope = self.slope_at(&top)?;
                    return Ok((top, slope));
                }
                Ok((top, slope))
            }
            Climb::Astray(_) => {
                let columns = vec!["the groups".into()];
                Err(StatsError::Separation { columns, complete: false })
            }
            Climb::Tired => Err(not_converged()),
        }
    }

    fn slope_at(&self, top: &Top) -> Result<Slope, StatsError> {
        Ok(self.look(&top.at).ok_or_else(not_converged)?.1)
    }

    /// The best of a few standard deviations, zero among them, by rough integrals.
    fn promising(&self, flat: &Top) -> DVector<f64> {
        let rough = Self::new(self.model, ROUGH_NODES.min(self.most_nodes));
        let mut warm = flat.at.rows(0, self.model.width()).into_owned();
        let mut best = flat.clone();
        for deviation in STARTS {
            let held = rough.holding(deviation);
            // the other parameters move little from one to the next
            let Some(top) = one_step(&held, &warm) else { continue };
            warm = top.at.clone();
            if top.value > best.value {
                best = Top { at: top.at.push(deviation), value: top.value };
            }
        }
        best.at
    }
}

impl<Model: Conditional> Surface for Marginal<'_, Model> {
    fn value(&self, at: &DVector<f64>) -> Option<f64> {
        let (parameters, deviation) = self.split(at);
        if !self.model.allows(parameters) {
            return None;
        }
        let mut values = Vec::with_capacity(self.model.groups());
        self.each_group(
            |group| self.adapted(&self.model.rows(parameters, group), deviation).1,
            |value| values.push(*value),
        );
        Some(crate::stats::numeric::sum(&values))
    }

    /// The derivatives are those of the integral, from which quadrature strays by so much.
    fn resolution(&self) -> f64 {
        1e-9
    }

    fn look(&self, at: &DVector<f64>) -> Option<(f64, Slope)> {
        let (parameters, deviation) = self.split(at);
        if !self.model.allows(parameters) {
            return None;
        }
        let size = self.model.width() + 1;
        let mut values = Vec::with_capacity(self.model.groups());
        let mut gradient = DVector::zeros(size);
        let mut information = DMatrix::zeros(size, size);
        self.each_group(
            |group| self.part(parameters, deviation, group),
            |part| {
                values.push(part.value);
                gradient += &part.gradient;
                information += &part.information;
            },
        );
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
        Some((crate::stats::numeric::sum(&values), Slope { gradient, information }))
    }
}

fn not_converged() -> StatsError {
    StatsError::NotConverged { what: "the random intercept".into() }
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
    (0..model.groups()).map(|group| marginal.adapted(&model.rows(at, group), deviation).1).sum()
}
