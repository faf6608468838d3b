//! The logistic model with a random intercept.

use super::grouped::Grouped;
use super::marginal::{GroupEffect, Integrated, NODES, members};
use super::outcome::{BinomialOutcome, logistic_both};
use super::quadrature::normal_quadrature;
use super::standardised::{Standardised, require_columns};
use super::{fit_logistic, pick};
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::Estimate;
use nalgebra::DVector;

/// Nodes for a mean over the group effect, where nothing tells the nodes where to go.
const AVERAGING_NODES: usize = 61;

/// A fitted model `P(success) = 1 / (1 + exp(-(x'b + u_g)))`, `u_g ~ N(0, t^2)`.
#[derive(Debug, Clone)]
pub struct LogisticMixedFit {
    /// Column names, as in the design.
    pub names: Vec<String>,
    /// One difference of log odds inside a group per unit of each column: larger than the difference over all groups, which
    /// [`LogisticMixedFit::standardised`] gives on the scale of probabilities.
    pub coefficients: Vec<f64>,
    /// Standard deviation `t` between groups, in log odds.
    pub sd_group: f64,
    /// Whether the best `t` is zero. A normal result: the groups differ no more than chance makes them.
    pub at_boundary: bool,
    /// The integrated log-likelihood at its maximum, with the binomial coefficients of counts.
    pub log_likelihood: f64,
    integrated: Integrated<Grouped>,
}

/// Maximum likelihood with the group effects integrated out by adaptive Gauss-Hermite quadrature with 25 nodes (Pinheiro & Bates 1995), fewer for a group of
/// so many rows that its curve is nearly a parabola, and by the trapezoidal rule for a group so small that it is far from one; gradient and information by Louis
/// (1982). Errors come from the observed information of coefficients and standard deviation together.
///
/// # Errors
/// As [`fit_logistic`]; `LengthMismatch` of the groups; `TooFewGroups` for one group; `NoDegreesOfFreedom` where every group has a single trial; `Separation`
/// with the column `the groups` where the outcome is foretold once the group is known, so that their spread has no bound.
pub fn fit_logistic_mixed(
    design: &Design,
    outcome: &BinomialOutcome,
    groups: &[usize],
) -> Result<LogisticMixedFit, StatsError> {
    fit_with_nodes(design, outcome, groups, NODES)
}

pub(super) fn fit_with_nodes(
    design: &Design,
    outcome: &BinomialOutcome,
    groups: &[usize],
    nodes: usize,
) -> Result<LogisticMixedFit, StatsError> {
    require_length("the list of groups", outcome.rows(), groups.len())?;
    let plain = fit_logistic(design, outcome)?;
    let (codes, members) = members(groups);
    if codes.len() < 2 {
        return Err(StatsError::TooFewGroups { found: codes.len(), needed: 2 });
    }
    let trials = |rows: &Vec<usize>| rows.iter().map(|&row| outcome.trials()[row]).sum::<f64>();
    if members.iter().all(|rows| trials(rows) <= 1.0) {
        let what = "the spread between groups of one trial".into();
        return Err(StatsError::NoDegreesOfFreedom { what });
    }
    let flat = plain.top.clone();
    let model = Grouped::new(plain.likelihood, members);
    let integrated = Integrated::fit(model, codes, flat, nodes)?;
    let coefficients = integrated.model.likelihood.basis.coefficients(integrated.parameters()).1;
    Ok(LogisticMixedFit {
        names: plain.names,
        coefficients,
        sd_group: integrated.deviation(),
        at_boundary: integrated.deviation() == 0.0,
        log_likelihood: integrated.top.value + outcome.constant(),
        integrated,
    })
}

impl LogisticMixedFit {
    /// The contrast that picks one coefficient.
    ///
    /// # Errors
    /// `UnknownColumn`.
    pub fn pick(&self, name: &str) -> Result<Vec<f64>, StatsError> {
        pick(&self.names, name)
    }

    /// A slope by the coefficients and the standard deviation, in working coordinates.
    fn direction(&self, contrast: &[f64], by_deviation: f64) -> Result<DVector<f64>, StatsError> {
        let basis = &self.integrated.model.likelihood.basis;
        Ok(basis.direction(0.0, contrast)?.push(by_deviation))
    }

    fn combine(&self, contrast: &[f64]) -> f64 {
        contrast.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum()
    }

    /// `c'b` with the error of the observed information and the normal distribution. With under some ten groups the error is too small for a column that does
    /// not vary inside groups.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let variance = self.integrated.variance(&self.direction(contrast, 0.0)?);
        Ok(normal(self.combine(contrast), variance))
    }

    /// Every group's effect, in the order of their codes.
    pub fn group_effects(&self) -> Vec<GroupEffect> {
        self.integrated.effects()
    }

    /// Log odds `x'b + u_g` of a group at a row of the design. The error holds that of the effect given the estimates and, by the delta method, that of the
    /// estimates, which the effect follows (Booth & Hobert 1998, Journal of the American Statistical Association 93, 262-272).
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the row; `UnknownLevel` for a group that was not in the data.
    pub fn group_log_odds(&self, group: usize, row: &[f64]) -> Result<Estimate, StatsError> {
        let direction = self.direction(row, 0.0)?;
        let place = self.integrated.codes.binary_search(&group).map_err(|_| {
            StatsError::UnknownLevel { factor: "the groups".into(), level: group.to_string() }
        })?;
        let (effect, error, slope) = self.integrated.effect(place);
        let variance = error * error + self.integrated.variance(&(direction + slope));
        Ok(normal(self.combine(row) + effect, variance))
    }

    /// Likelihood-ratio statistic and p value of "groups do not differ". The p value is half the chi-squared tail because the standard deviation lies on its
    /// boundary (Self & Liang 1987, Journal of the American Statistical Association 82, 605-610).
    pub fn test_of_groups(&self) -> (f64, f64) {
        self.integrated.test_of_groups()
    }

    /// Profile-likelihood interval of the standard deviation between groups; its lower end is 0 where that is not contradicted.
    ///
    /// # Errors
    /// `OutOfRange` for the level; `NotConverged` where the data do not bound it.
    pub fn sd_interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        self.integrated.deviation_interval(level)
    }

    /// Mean probability of a success over the rows of the fit, weighted by their trials, in groups drawn anew from all groups, had their columns been those
    /// of `counterfactual`: the group effect is integrated out by Gauss-Hermite quadrature. The last entry of the gradient is by the standard deviation.
    ///
    /// # Errors
    /// `LengthMismatch` for another number of rows or columns; `UnknownColumn` for other columns.
    pub fn standardised(&self, counterfactual: &Design) -> Result<Standardised, StatsError> {
        require_columns(&self.names, counterfactual)?;
        let trials = self.integrated.model.likelihood.outcome.trials();
        require_length("the list of rows", trials.len(), counterfactual.rows())?;
        let nodes = normal_quadrature(AVERAGING_NODES);
        let mut value = 0.0;
        let mut gradient = vec![0.0; self.names.len() + 1];
        for (row, weight) in counterfactual.matrix.rows().into_iter().zip(trials) {
            let predictor = row.iter().zip(&self.coefficients).map(|(x, b)| x * b).sum();
            let [mean, slope, by_deviation] = self.averaged(predictor, &nodes);
            value += weight * mean;
            gradient.iter_mut().zip(row).for_each(|(sum, x)| *sum += weight * slope * x);
            gradient[self.names.len()] += weight * by_deviation;
        }
        let all: f64 = trials.iter().sum();
        gradient.iter_mut().for_each(|slope| *slope /= all);
        Ok(Standardised { value: value / all, gradient })
    }

    /// The probability averaged over the group effect, and its derivatives by predictor and standard deviation.
    fn averaged(&self, predictor: f64, nodes: &[(f64, f64)]) -> [f64; 3] {
        let mut sums = [0.0; 3];
        for (place, share) in nodes {
            let (yes, no) = logistic_both(predictor + self.sd_group * place);
            let terms = [yes, yes * no, yes * no * place];
            sums.iter_mut().zip(terms).for_each(|(sum, term)| *sum += share * term);
        }
        sums
    }

    /// A mean with the error of coefficients and standard deviation, by the delta method.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for a gradient of another fit.
    pub fn error_of(&self, mean: &Standardised) -> Result<Estimate, StatsError> {
        require_length("the gradient", self.names.len() + 1, mean.gradient.len())?;
        require_finite("the gradient", &mean.gradient)?;
        // the length was checked
        let (by_columns, by_deviation) = mean.gradient.split_at(self.names.len());
        let direction = self.direction(by_columns, by_deviation[0])?;
        Ok(normal(mean.value, self.integrated.variance(&direction)))
    }
}

fn normal(value: f64, variance: f64) -> Estimate {
    Estimate { value, standard_error: variance.sqrt(), degrees_of_freedom: f64::INFINITY }
}

/// The integrated log-likelihood at given working parameters.
#[cfg(test)]
pub(super) fn integrated_log_likelihood(
    fit: &LogisticMixedFit,
    deviation: f64,
    nodes: usize,
) -> f64 {
    let integrated = &fit.integrated;
    super::marginal::log_integral(&integrated.model, integrated.parameters(), deviation, nodes)
}
