//! Fit: one factor's effect among reeds of the same lot, and from lot to lot.

use super::super::scores::{ReedScores, group_means};
use super::model::{FEWEST_CLUSTERS, Model, correlation};
use super::sample::{Cells, Columns};
use crate::finding::{Band, Between};
use crate::stats::design::{Design, dot};
use crate::stats::linear::{Estimate, LinearFit, least_squares, linfa_coefficients};
use crate::stats::numeric::{mean, t_quantile, t_two_sided};
use crate::stats::robust::cluster_robust;

/// Less of the factor's variance than this, left after lots and other columns, makes it tangled (a variance
/// inflation factor above 6.7).
pub(super) const KEPT_SHARE: f64 = 0.15;
/// A correlation with another column from which on it is named as what the factor is tangled with.
const NAMED_FROM: f64 = 0.5;

/// The 95 % and 50 % intervals of `step` times an estimate.
pub(super) fn band(estimate: &Estimate, step: f64) -> Band {
    let centre = estimate.estimate * step;
    let reach = |level: f64| {
        t_quantile(0.5 + level / 2.0, estimate.df) * estimate.standard_error * step.abs()
    };
    let (wide, half) = (reach(0.95), reach(0.5));
    Band {
        estimate: centre,
        low: centre - wide,
        high: centre + wide,
        half_low: centre - half,
        half_high: centre + half,
    }
}

/// The effects of the factor's columns, in their order; none where the other columns explain one or the reeds leave
/// no degrees of freedom. The point comes from linfa-linear, its error from the orthogonal factorisation.
pub(super) fn within(model: &Model) -> Vec<Option<Estimate>> {
    let design = independent_but_own_last(model);
    let Some((points, fit)) = fitted(&design, &model.scores) else {
        return vec![None; model.own.len()];
    };
    let Ok(robust) = cluster_robust(&fit, &model.clusters) else {
        return vec![None; model.own.len()];
    };
    let one = |name: &String| {
        let at = design.position(name)?;
        let robust = robust.coefficient(at).ok()?;
        Some(Estimate { estimate: points[at], ..robust })
    };
    model.own.iter().map(one).collect()
}

/// With the factor's columns last, it is they that are found to be combinations of the others.
fn independent_but_own_last(model: &Model) -> Design {
    let mut design = model.design.without(&model.own);
    for name in &model.own {
        if let Some(column) = model.design.column(name) {
            // the column was accepted by the model's design already
            let _ = design.push(name, column.to_vec());
        }
    }
    design.independent().0
}

fn fitted(design: &Design, scores: &[f64]) -> Option<(Vec<f64>, LinearFit)> {
    if scores.len() <= design.width() + 1 {
        return None;
    }
    let points = linfa_coefficients(design, scores).ok()?;
    let fit = least_squares(design, scores).ok()?;
    (fit.residual_sum_of_squares() > 0.0).then_some((points, fit))
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
    let own: Vec<&[f64]> = model.own.iter().filter_map(|name| model.design.column(name)).collect();
    let total: f64 = raw.iter().map(|column| squares_around_mean(column)).sum();
    let among: f64 = own.iter().map(|column| dot(column, column)).sum();
    let others = model.design.without(&model.own).independent().0;
    let after = |column: &&[f64]| {
        least_squares(&others, column).map_or(0.0, |fit| fit.residual_sum_of_squares())
    };
    let after: f64 = own.iter().map(after).sum();
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

fn squares_around_mean(column: &[f64]) -> f64 {
    let centre = mean(column);
    column.iter().map(|value| (value - centre).powi(2)).sum()
}

/// The other columns that the factor goes with most, the closest first, three at most.
fn companions(model: &Model, own: &[&[f64]]) -> Vec<String> {
    let mut close: Vec<(f64, String)> = Vec::new();
    for (name, column) in model.design.names().iter().zip(model.design.columns()) {
        if model.own.contains(name) {
            continue;
        }
        let most = own.iter().map(|own| correlation(own, column).abs()).fold(0.0, f64::max);
        let label = name.split('#').next().unwrap_or(name).to_owned();
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
    let lots: Vec<u32> = pieces.iter().filter_map(|&piece| columns.lots[piece]).collect();
    let values: Vec<f64> = pieces.iter().filter_map(|&piece| cells[piece]).collect();
    if lots.len() != values.len() || values.len() != reeds.len() {
        return None;
    }
    let means = group_means(&values, &lots);
    if means.len() < FEWEST_CLUSTERS {
        return None;
    }
    let mut design = Design::new(reeds.len()).with_intercept();
    design.push("lot mean", lots.iter().map(|lot| means[lot]).collect()).ok()?;
    let outcome: Vec<f64> = reeds.iter().map(|&reed| scores.score[reed]).collect();
    if !design.independent().1.is_empty() {
        return None;
    }
    let (points, fit) = fitted(&design, &outcome)?;
    let robust = cluster_robust(&fit, &lots).ok()?.coefficient(1).ok()?;
    Some(Estimate { estimate: points[1], ..robust })
}

/// The between-lot effect beside the within-lot one, per `step`, with a test of whether they differ: the two
/// estimates are uncorrelated, so the squares of their errors add (degrees of freedom: Welch 1947, Biometrika 34, 28-35).
pub(super) fn beside(between: &Estimate, within: Option<&Estimate>, step: f64) -> Between {
    let shown = band(between, step);
    Between {
        estimate: shown.estimate,
        low: shown.low,
        high: shown.high,
        p_differs: within.map(|within| {
            let (a, b) = (between.standard_error.powi(2), within.standard_error.powi(2));
            let df = (a + b).powi(2) / (a * a / between.df + b * b / within.df);
            t_two_sided((between.estimate - within.estimate) / (a + b).sqrt(), df)
        }),
    }
}
