//! What a fit with a random intercept tells.

use super::{Conditional, Marginal, NODES, Node, RUNAWAY, Top, not_converged};
use crate::stats::error::{StatsError, require_level};
use crate::stats::logistic::newton::Slope;
use crate::stats::numeric::{chi_squared_quantile, chi_squared_sf, find_root};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

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
        let (top, Slope { mut information, .. }) = marginal.maximum(&flat)?;
        let width = model.width();
        if top.at[width] == 0.0 {
            information = information.view((0, 0), (width, width)).into_owned();
        }
        let factor = Cholesky::new(information).ok_or_else(not_converged)?;
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
        let rows = self.model.rows(self.parameters(), group);
        let (mode, curve) = marginal.mode(&rows, deviation);
        let tightness = 1.0 + deviation * deviation * curve.bend;
        let mut scores = DMatrix::zeros(width + 1, 1);
        let mut mixed = DMatrix::zeros(width + 1, width + 1);
        let node = Node { effect: 1.0, shift: deviation * mode, share: 1.0 };
        let at = self.parameters();
        self.model.derivatives(at, (group, &rows), &[node], &mut scores, &mut mixed);
        let mut slope: DVector<f64> = mixed.column(width) * (-deviation * deviation / tightness);
        slope[width] = mode + deviation * (curve.slope - deviation * mode * curve.bend) / tightness;
        (deviation * mode, deviation / tightness.sqrt(), slope)
    }

    /// Test that groups do not differ: twice the rise of the log-likelihood, whose p value is half the chi-squared tail because the standard deviation lies
    /// on its boundary (Self & Liang 1987, Journal of the American Statistical Association 82, 605-610).
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
