//! The proportional-odds model with a random intercept.

use super::likelihood::{Likelihood, repulsion};
use super::{OrderedOutcome, fit_ordinal};
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_length};
use crate::stats::estimate::Estimate;
use crate::stats::logistic::marginal::{Conditional, Curve, Integrated, NODES, Node, members};
use crate::stats::logistic::{GroupEffect, pick};
use nalgebra::{DMatrix, DVector};

/// A fitted model `P(Y <= k) = 1 / (1 + exp(-(t_k - x'b - u_g)))`, `u_g ~ N(0, t^2)`: the cumulative-link mixed model with the logistic link.
#[derive(Debug, Clone)]
pub struct OrdinalMixedFit {
    /// Column names, as in the design.
    pub names: Vec<String>,
    /// One difference of log odds inside a group per unit of each column.
    pub coefficients: Vec<f64>,
    /// Thresholds in the average group; rising.
    pub thresholds: Vec<f64>,
    /// Standard deviation between groups, in log odds.
    pub sd_group: f64,
    /// Whether the best standard deviation is zero.
    pub at_boundary: bool,
    /// The integrated log-likelihood at its maximum.
    pub log_likelihood: f64,
    integrated: Integrated<Grouped>,
}

/// The model's rows by group.
#[derive(Debug, Clone)]
struct Grouped {
    likelihood: Likelihood,
    members: Vec<Vec<usize>>,
}

/// Maximum likelihood with the group effects integrated out (Hedeker & Gibbons 1994, Biometrics 50, 933-944) as by
/// [`fit_logistic_mixed`](crate::stats::logistic::fit_logistic_mixed). Errors come from the observed information of all parameters together.
///
/// # Errors
/// As [`fit_ordinal`]; `LengthMismatch` of the groups; `TooFewGroups` for one group; `NoDegreesOfFreedom` where every group has a single row; `Separation`
/// with the column `the groups` where their spread has no bound.
pub fn fit_ordinal_mixed(
    design: &Design,
    outcome: &OrderedOutcome,
    groups: &[usize],
) -> Result<OrdinalMixedFit, StatsError> {
    require_length("the list of groups", outcome.codes().len(), groups.len())?;
    let plain = fit_ordinal(design, outcome)?;
    let (codes, members) = members(groups);
    if codes.len() < 2 {
        return Err(StatsError::TooFewGroups { found: codes.len(), needed: 2 });
    }
    if members.iter().all(|rows| rows.len() == 1) {
        let what = "the spread between groups of one row".into();
        return Err(StatsError::NoDegreesOfFreedom { what });
    }
    let model = Grouped { likelihood: plain.likelihood, members };
    let integrated = Integrated::fit(model, codes, plain.top, NODES)?;
    let (thresholds, coefficients) =
        integrated.model.likelihood.in_the_design(integrated.parameters());
    Ok(OrdinalMixedFit {
        names: plain.names,
        coefficients,
        thresholds,
        sd_group: integrated.deviation(),
        at_boundary: integrated.deviation() == 0.0,
        log_likelihood: integrated.top.value,
        integrated,
    })
}

impl Grouped {
    fn row(&self, at: &[f64], row: usize) -> (usize, &[f64], f64) {
        let columns = self.likelihood.basis.row(row);
        (self.likelihood.codes[row], columns, self.likelihood.predictor(at, columns))
    }

    /// `ln(1 - exp(-d))` of the category's width; 0 for the outer ones.
    fn apart(&self, at: &[f64], code: usize) -> f64 {
        let (upper, lower) = self.likelihood.bounds(at, code);
        (-(lower - upper).exp_m1()).ln()
    }
}

/// What a row of a group adds to its curve.
struct Row {
    code: usize,
    predictor: f64,
    apart: f64,
}

impl Conditional for Grouped {
    /// With the parameters, of which the thresholds are not in the predictors.
    type Rows = (Vec<f64>, Vec<Row>);

    fn width(&self) -> usize {
        self.likelihood.size()
    }

    fn groups(&self) -> usize {
        self.members.len()
    }

    fn allows(&self, at: &[f64]) -> bool {
        self.likelihood.rises(at)
    }

    fn rows(&self, at: &[f64], group: usize) -> Self::Rows {
        let rows = self.members[group].iter().map(|&row| {
            let (code, _, predictor) = self.row(at, row);
            Row { code, predictor, apart: self.apart(at, code) }
        });
        (at.to_vec(), rows.collect())
    }

    fn curve(&self, (at, rows): &Self::Rows, shift: f64) -> Curve {
        let mut curve = Curve { value: 0.0, slope: 0.0, bend: 0.0 };
        for &Row { code, predictor, apart } in rows {
            let (part, value) = self.likelihood.both(at, code, predictor + shift);
            curve.value += value + apart;
            curve.slope += part.predictor;
            curve.bend += part.densities[0] + part.densities[1];
        }
        curve
    }

    fn derivatives(
        &self,
        at: &[f64],
        (group, _): (usize, &Self::Rows),
        nodes: &[Node],
        scores: &mut DMatrix<f64>,
        information: &mut DMatrix<f64>,
    ) {
        let (thresholds, width) = (self.likelihood.thresholds(), self.width());
        for &row in &self.members[group] {
            let (code, columns, predictor) = self.row(at, row);
            let (mut densities, mut leaning) = ([0.0; 2], [0.0; 2]);
            for (place, node) in nodes.iter().enumerate() {
                let part = self.likelihood.part(at, code, predictor + node.shift);
                let score = &mut scores.as_mut_slice()[place * (width + 1)..][..width];
                self.likelihood.add_gradient(score, code, part, columns);
                scores[(width, place)] += node.effect * part.predictor;
                let bend = part.densities[0] + part.densities[1];
                information[(width, width)] += node.share * node.effect * node.effect * bend;
                for side in 0..2 {
                    densities[side] += node.share * part.densities[side];
                    leaning[side] += node.share * node.effect * part.densities[side];
                }
            }
            self.likelihood.add_information(information, code, densities, columns);
            let mut last = information.column_mut(width);
            for (end, lean) in
                [(code < thresholds).then_some(code), code.checked_sub(1)].iter().zip(leaning)
            {
                if let Some(end) = end {
                    last[*end] -= lean;
                }
            }
            let both = leaning[0] + leaning[1];
            let tail = last.rows_mut(thresholds, columns.len());
            tail.into_iter().zip(columns).for_each(|(value, x)| *value += both * x);
            self.add_repulsion(at, code, scores, information);
        }
    }
}

impl Grouped {
    /// What keeps the bounds of a row's category apart; the same at every node.
    fn add_repulsion(
        &self,
        at: &[f64],
        code: usize,
        scores: &mut DMatrix<f64>,
        information: &mut DMatrix<f64>,
    ) {
        if code == 0 || code >= self.likelihood.thresholds() {
            return;
        }
        let (pull, bend) = repulsion(at[code] - at[code - 1]);
        for mut score in scores.column_iter_mut() {
            score[code] += pull;
            score[code - 1] -= pull;
        }
        information[(code, code)] += bend;
        information[(code - 1, code - 1)] += bend;
        information[(code - 1, code)] -= bend;
    }
}

impl OrdinalMixedFit {
    /// The contrast that picks one coefficient.
    ///
    /// # Errors
    /// `UnknownColumn`.
    pub fn pick(&self, name: &str) -> Result<Vec<f64>, StatsError> {
        pick(&self.names, name)
    }

    fn estimate(&self, value: f64, direction: DVector<f64>) -> Estimate {
        Estimate {
            value,
            standard_error: self.integrated.variance(&direction.push(0.0)).sqrt(),
            degrees_of_freedom: f64::INFINITY,
        }
    }

    /// `c'b` with the error of the observed information and the normal distribution.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let flat = vec![0.0; self.thresholds.len()];
        let direction = self.integrated.model.likelihood.direction(&flat, contrast)?;
        let value = contrast.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum();
        Ok(self.estimate(value, direction))
    }

    /// Threshold above category `place` (from 0), with its error.
    ///
    /// # Errors
    /// `UnknownLevel` for a category without an upper threshold.
    pub fn threshold(&self, place: usize) -> Result<Estimate, StatsError> {
        let unknown = || StatsError::UnknownLevel {
            factor: "the thresholds".into(),
            level: place.to_string(),
        };
        let value = *self.thresholds.get(place).ok_or_else(unknown)?;
        let mut picked = vec![0.0; self.thresholds.len()];
        picked[place] = 1.0;
        let nothing = vec![0.0; self.names.len()];
        let direction = self.integrated.model.likelihood.direction(&picked, &nothing)?;
        Ok(self.estimate(value, direction))
    }

    /// Every group's effect, in the order of their codes; positive where the group has higher categories.
    pub fn group_effects(&self) -> Vec<GroupEffect> {
        self.integrated.effects()
    }

    /// Likelihood-ratio statistic and p value of "groups do not differ", as for
    /// [`LogisticMixedFit`](crate::stats::logistic::LogisticMixedFit::test_of_groups).
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
}
