//! Where the integral of a group is looked at, and what it comes to.

use super::{Conditional, Curve, Marginal, Node};
use crate::stats::logistic::quadrature::normal_quadrature;

/// Above this standard deviation, in log odds, of what is not known of a group's effect, no Gauss-Hermite nodes are taken. Up to it 25 of them leave the logarithm
/// of the integral an error below `1e-9` where groups differ by 1 or less, and of `3e-6` at worst, where they differ by 5 and two of ten thousand trials succeed.
const WIDE: f64 = 0.7;
/// Step of the trapezoidal rule in log odds, or in standard deviations of the group's own curve where those are less: errors about `exp(-2 pi^2 / 0.6)`.
const STEP: f64 = 0.6;
/// A node whose part is `exp(-40)` of the highest ends the sum; a log-concave integrand only falls from there.
const NEGLIGIBLE: f64 = 40.0;
const MOST_NODES: u32 = 4000;
/// So many steps are taken together.
const BLOCK: u32 = 8;
/// Up to these standard deviations a curve is so nearly a parabola that fewer nodes leave the logarithm of the integral an error of about `1e-9` at most, of
/// whatever outcomes the group is made (the error falls with a third of their number as power of the group's size: Liu & Pierce 1994, Biometrika 81, 624-629).
const NARROW: [(f64, usize); 3] = [(0.12, 11), (0.2, 15), (0.28, 19)];
/// A last Newton step of this size leaves an error of about its square.
const MODE_TOLERANCE: f64 = 1e-5;

/// A group's rows and the standard deviation between groups.
struct Integrand<'a, Model: Conditional> {
    model: &'a Model,
    rows: &'a Model::Rows,
    deviation: f64,
}

/// Gauss-Hermite nodes, fewer for what is narrow.
#[derive(Debug, Clone)]
pub(super) struct Rules {
    narrow: Vec<(f64, Vec<(f64, f64)>)>,
    others: Vec<(f64, f64)>,
}

impl Rules {
    /// With so many nodes at most.
    pub(super) fn new(most: usize) -> Self {
        let narrow = NARROW.iter().filter(|(_, count)| *count < most);
        let narrow = narrow.map(|&(up_to, count)| (up_to, normal_quadrature(count)));
        Self { narrow: narrow.collect(), others: normal_quadrature(most) }
    }

    /// Nodes for an effect of this standard deviation given the outcomes, in log odds.
    fn of(&self, deviation: f64) -> &[(f64, f64)] {
        let narrow = self.narrow.iter().find(|(up_to, _)| deviation <= *up_to);
        narrow.map_or(&self.others, |(_, nodes)| nodes)
    }

    /// Laplace's approximation stays what it is, however wide.
    fn is_laplace(&self) -> bool {
        self.others.len() == 1
    }
}

impl<Model: Conditional> Marginal<'_, Model> {
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

    /// The nodes of a group and the logarithm of the integral.
    pub(super) fn adapted(&self, rows: &Model::Rows, deviation: f64) -> (Vec<Node>, f64) {
        let (mode, curve) = self.mode(rows, deviation);
        let width = (1.0 + deviation * deviation * curve.bend).sqrt().recip();
        let wide = width * deviation > WIDE && !self.rules.is_laplace();
        let integrand = Integrand { model: self.model, rows, deviation };
        let mut nodes = if wide {
            integrand.steps(mode, STEP * deviation.recip().min(width))
        } else {
            integrand.hermite(mode, width, self.rules.of(width * deviation))
        };
        let most = nodes.iter().fold(f64::NEG_INFINITY, |most, node| most.max(node.share));
        let total: f64 = nodes.iter().map(|node| (node.share - most).exp()).sum();
        for node in &mut nodes {
            node.share = (node.share - most).exp() / total;
        }
        (nodes, most + total.ln())
    }
}

impl<Model: Conditional> Integrand<'_, Model> {
    /// Nodes at effects with logarithms of weights; their shares are still the logarithms of their parts of the integral.
    fn nodes(&self, places: impl Iterator<Item = (f64, f64)>) -> Vec<Node> {
        let (effects, weights): (Vec<f64>, Vec<f64>) = places.unzip();
        let shifts: Vec<f64> = effects.iter().map(|effect| self.deviation * effect).collect();
        let heights = self.model.heights(self.rows, &shifts);
        let terms = effects.iter().zip(&shifts).zip(weights.iter().zip(heights));
        terms
            .map(|((&effect, &shift), (weight, height))| Node {
                effect,
                shift,
                share: weight + height - 0.5 * effect * effect,
            })
            .collect()
    }

    /// Gauss-Hermite nodes moved and stretched to the group's own curve (Pinheiro & Bates 1995, Journal of Computational and Graphical Statistics 4, 12-35).
    fn hermite(&self, mode: f64, width: f64, nodes: &[(f64, f64)]) -> Vec<Node> {
        self.nodes(nodes.iter().map(|&(place, weight)| {
            (mode + width * place, width.ln() + weight.ln() + 0.5 * place * place)
        }))
    }

    /// Equal steps to both sides until nothing is left to add. The trapezoidal rule on the whole line converges exponentially as far as the integrand is
    /// analytic (Trefethen & Weideman 2014, SIAM Review 56, 385-458), here `pi / t` to both sides of the line, so that the step need only follow the
    /// deviation; polynomials do badly at the bends that a wide spread makes.
    fn steps(&self, mode: f64, step: f64) -> Vec<Node> {
        let log_weight = step.ln() - 0.5 * std::f64::consts::TAU.ln();
        let at = |numbers: std::ops::Range<u32>, sign: f64| {
            self.nodes(numbers.map(|number| (mode + sign * f64::from(number) * step, log_weight)))
        };
        let middle = at(0..1, 1.0);
        let least = middle[0].share - NEGLIGIBLE;
        let side = |sign: f64| {
            let mut found: Vec<Node> = vec![];
            for first in (1..MOST_NODES).step_by(BLOCK as usize) {
                let block = at(first..first + BLOCK, sign);
                let kept = block.iter().take_while(|node| node.share > least).count();
                found.extend(&block[..kept]);
                if kept < block.len() {
                    break;
                }
            }
            found
        };
        let mut nodes = side(-1.0);
        nodes.reverse();
        nodes.extend(middle);
        nodes.extend(side(1.0));
        nodes
    }
}
