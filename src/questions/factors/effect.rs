//! What a fitted effect is per step, and what the data leave of a factor.

use super::model::{Model, correlation};
use crate::finding::{Band, Between};
use crate::stats::Estimate;
use crate::stats::linear::least_squares;
use crate::stats::numeric::{mean, sum_of_squares, t_quantile};

/// Less of the factor's variance than this, left after lots and other columns, makes it tangled (a variance
/// inflation factor above 6.7).
pub(super) const KEPT_SHARE: f64 = 0.15;
/// A correlation with another column from which on it is named as what the factor is tangled with.
const NAMED_FROM: f64 = 0.5;

/// The 95 % and 50 % intervals of `step` times an estimate.
pub(super) fn band(estimate: &Estimate, step: f64) -> Band {
    let shown = estimate.scaled(step);
    let reach =
        |level: f64| t_quantile(0.5 + level / 2.0, shown.degrees_of_freedom) * shown.standard_error;
    let (wide, half) = (reach(0.95), reach(0.5));
    Band {
        estimate: shown.value,
        low: shown.value - wide,
        high: shown.value + wide,
        half_low: shown.value - half,
        half_high: shown.value + half,
    }
}

/// What the data leave of the factor once lots and the other columns are taken out.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Left {
    /// Share of the variance among reeds of the same lot.
    pub within_lots: f64,
    /// Share of the variance after lots and the other columns.
    pub kept: f64,
    /// Names of what it goes together with.
    pub with: Vec<String>,
}

pub(super) fn left(model: &Model, raw: &[Vec<f64>]) -> Left {
    let own: Vec<Vec<f64>> = columns_where(model, |name| model.own.contains(name));
    let total: f64 = raw.iter().map(|column| squares_around_mean(column)).sum();
    let among: f64 = own.iter().map(|column| sum_of_squares(column)).sum();
    let after: f64 = own.iter().map(|column| unexplained(model, column)).sum();
    let share = |part: f64| if total > 0.0 { (part / total).clamp(0.0, 1.0) } else { 0.0 };
    let within_lots = share(among);
    let mut with = companions(model, &own);
    if model.lots > 0 && within_lots < KEPT_SHARE {
        with.insert(0, "the lot".to_owned());
    } else if with.is_empty() && model.lots > 0 && within_lots < 0.5 {
        with.push("the lot".to_owned());
    }
    Left { within_lots, kept: share(after), with }
}

fn columns_where(model: &Model, wanted: impl Fn(&String) -> bool) -> Vec<Vec<f64>> {
    let names = model.design.names.iter().enumerate();
    names
        .filter(|(_, name)| wanted(name))
        .map(|(at, _)| model.design.matrix.column(at).to_vec())
        .collect()
}

/// The sum of squares of a column that the model's other columns do not explain.
fn unexplained(model: &Model, column: &[f64]) -> f64 {
    let others: Vec<usize> = (0..model.design.columns())
        .filter(|&at| !model.own.contains(&model.design.names[at]))
        .collect();
    if others.is_empty() {
        return sum_of_squares(column);
    }
    let others = model.design.select(&others).without_aliases().0;
    least_squares(&others, column).map_or(0.0, |fit| fit.residual_sum_of_squares)
}

fn squares_around_mean(column: &[f64]) -> f64 {
    let centre = mean(column).unwrap_or(0.0);
    column.iter().map(|value| (value - centre).powi(2)).sum()
}

/// The other columns that the factor goes with most, the closest first, three at most.
fn companions(model: &Model, own: &[Vec<f64>]) -> Vec<String> {
    let mut close: Vec<(f64, String)> = Vec::new();
    for (at, name) in model.design.names.iter().enumerate() {
        if model.own.contains(name) {
            continue;
        }
        let column = model.design.matrix.column(at).to_vec();
        let most = own.iter().map(|own| correlation(own, &column).abs()).fold(0.0, f64::max);
        let label = name.split_once('#').map_or(name.as_str(), |(_, label)| label).to_owned();
        match close.iter_mut().find(|(_, known)| *known == label) {
            Some((known, _)) => *known = known.max(most),
            None => close.push((most, label)),
        }
    }
    close.sort_by(|a, b| b.0.total_cmp(&a.0));
    close.into_iter().filter(|(r, _)| *r >= NAMED_FROM).map(|(_, label)| label).take(3).collect()
}

/// The between-lot effect per `step`, with the test of whether it differs from the within-lot one.
pub(super) fn beside(between: &Estimate, differs: Option<Estimate>, step: f64) -> Between {
    let shown = band(between, step);
    Between {
        estimate: shown.estimate,
        low: shown.low,
        high: shown.high,
        p_differs: differs.map(|differs| differs.p_value()),
    }
}
