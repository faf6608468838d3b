//! Fit: one factor's effect among reeds of the same lot, and from lot to lot.

use super::super::scores::{ReedScores, group_means};
use super::model::{FEWEST_CLUSTERS, Model, correlation};
use super::sample::{Cells, Columns};
use crate::finding::{Band, Between};
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::linear::{ClusterRobust, LinearFit, least_squares, least_squares_linfa};
use crate::stats::numeric::{mean, sum_of_squares, t_quantile, t_two_sided};

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

/// The effects of the factor's columns, in their order; none where the other columns explain one or the reeds leave
/// no degrees of freedom. The point comes from linfa-linear, its error from the orthogonal factorisation.
pub(super) fn within(model: &Model) -> Vec<Option<Estimate>> {
    let design = with_own_last(model);
    let Some((points, fit)) = fitted(&design, &model.scores, &model.raw_scores) else {
        return vec![None; model.own.len()];
    };
    let Ok(robust) = fit.clustered(&model.clusters) else {
        return vec![None; model.own.len()];
    };
    model.own.iter().map(|name| effect(&design, &points, &fit, &robust, name)).collect()
}

fn effect(
    design: &Design,
    points: &[f64],
    fit: &LinearFit,
    robust: &ClusterRobust,
    name: &str,
) -> Option<Estimate> {
    let at = design.column(name).ok()?;
    let robust = robust.contrast(&fit.pick(name).ok()?).ok()?;
    Some(Estimate { value: points[at], ..robust })
}

/// With the factor's columns last, it is they that are found to be combinations of the others.
fn with_own_last(model: &Model) -> Design {
    let (own, others): (Vec<usize>, Vec<usize>) =
        (0..model.design.columns()).partition(|&at| model.own.contains(&model.design.names[at]));
    model.design.select(&[others, own].concat()).without_aliases().0
}

/// The point fit and the factorisation; none where scores, `raw` before anything was taken out of them, leave no error.
fn fitted(design: &Design, scores: &[f64], raw: &[f64]) -> Option<(Vec<f64>, LinearFit)> {
    if scores.len() <= design.columns() + 1 {
        return None;
    }
    let points = least_squares_linfa(design, scores).ok()?;
    let fit = least_squares(design, scores).ok()?;
    // what is left of equal scores is rounding and no chance to measure an effect against
    (fit.residual_sum_of_squares > 1e-20 * sum_of_squares(raw)).then_some((points, fit))
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

/// The effect of a number from lot to lot: the scores on the lots' means of the factor, reeds of a lot as one
/// cluster. Not adjusted for anything that also differs between lots.
pub(super) fn between(
    columns: &Columns,
    scores: &ReedScores,
    reeds: &[usize],
    at: usize,
) -> Option<Estimate> {
    let Cells::Number(cells) = &columns.factors[at].1 else { return None };
    let pieces: Vec<usize> = reeds.iter().map(|&reed| scores.piece[reed]).collect();
    let lots: Vec<usize> =
        pieces.iter().filter_map(|&piece| columns.lots[piece].map(|lot| lot as usize)).collect();
    let values: Vec<f64> = pieces.iter().filter_map(|&piece| cells[piece]).collect();
    if lots.len() != values.len() || values.len() != reeds.len() {
        return None;
    }
    let means = group_means(&values, &lots);
    if means.len() < FEWEST_CLUSTERS {
        return None;
    }
    let lot_means: Vec<f64> = lots.iter().map(|lot| means[lot]).collect();
    let design =
        Design::builder(reeds.len()).intercept().number(LOT_MEAN, &lot_means).build().ok()?;
    let outcome: Vec<f64> = reeds.iter().map(|&reed| scores.score[reed]).collect();
    let (points, fit) = fitted(&design, &outcome, &outcome)?;
    effect(&design, &points, &fit, &fit.clustered(&lots).ok()?, LOT_MEAN)
}

const LOT_MEAN: &str = "lot mean";

/// The between-lot effect beside the within-lot one, per `step`, with a comparison of the two: the two
/// estimates are uncorrelated, so the squares of their errors add (degrees of freedom: Welch 1947, Biometrika 34, 28-35).
pub(super) fn beside(between: &Estimate, within: Option<&Estimate>, step: f64) -> Between {
    let shown = band(between, step);
    Between {
        estimate: shown.estimate,
        low: shown.low,
        high: shown.high,
        p_differs: within.map(|within| {
            let (a, b) = (between.standard_error.powi(2), within.standard_error.powi(2));
            let df = (a + b).powi(2)
                / (a * a / between.degrees_of_freedom + b * b / within.degrees_of_freedom);
            t_two_sided((between.value - within.value) / (a + b).sqrt(), df)
        }),
    }
}
