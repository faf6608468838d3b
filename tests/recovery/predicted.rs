//! What will come, curves, and an effect after adjusters were chosen.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{SLOPE, covers, equal_groups, normal, normals};
use canewright::stats::conformal::{CrossConformal, Exchangeable};
use canewright::stats::design::Design;
use canewright::stats::linear::least_squares;
use canewright::stats::penalised::{
    DoubleSelectionOptions, Folds, GridOptions, double_selection, leave_out_linear,
};
use canewright::stats::products::Products;
use canewright::stats::smooth::{SmoothingSpline, Smoothness};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

pub const SIMULATIONS: &[Simulation] = &[
    // 80 % is promised whatever the rule, near 90 % is usual (Barber, Candes, Ramdas & Tibshirani 2021)
    conformal("jackknife_plus_interval_of_a_new_row_covers_with_30_rows", |rng| {
        row_is_covered(rng, &equal_groups(30, 1), 0.0, Exchangeable::Rows)
    }),
    conformal("jackknife_plus_interval_of_a_row_of_a_new_group_covers_with_25_groups", |rng| {
        row_is_covered(rng, &equal_groups(25, 4), 1.0, Exchangeable::Groups)
    }),
    Simulation::interval(
        "interval_after_double_selection_covers_with_60_rows_and_12_candidates",
        // right in large samples only (Belloni, Chernozhukov & Hansen 2014)
        (0.025, 0.01),
        (30, 1_500),
        selected_is_covered,
    ),
    Simulation::interval(
        "interval_of_a_smooth_curve_covers_on_average_with_60_rows",
        // averaged over the curve, and the penalty taken as known (Wahba 1983, tables 1 and 2)
        (0.03, 0.03),
        (60, 5_000),
        curve_is_covered,
    ),
];

const fn conformal(
    claim: &'static str,
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation { claim, nominal: 0.9, slack: (0.03, 0.05), replicates: (300, 10_000), attempt }
}

/// A row of one group more, by least squares on one column; errors have long tails.
fn row_is_covered(
    rng: &mut ChaCha12Rng,
    groups: &[usize],
    spread: f64,
    exchangeable: Exchangeable,
) -> Option<bool> {
    let rows = groups.len();
    let effects = normals(rng, groups.last()? + 2);
    let x = normals(rng, rows + 1);
    let groups_and_new = groups.iter().copied().chain([groups.last()? + 1]);
    let outcome: Vec<f64> = groups_and_new
        .zip(&x)
        .map(|(group, x)| x + spread * effects[group] + normal(rng).powi(3))
        .collect();
    let (seen, folds) = (&outcome[..rows], Folds::each_group(groups).ok()?);
    let design = Design::builder(rows).number("x", &x[..rows]).build().ok()?;
    let products = Products::new(&design, seen, groups).ok()?;
    let rules = leave_out_linear(&products, &folds, 0.0).ok()?;
    let found = CrossConformal::linear(&design, seen, groups, &folds, rules).ok()?;
    let interval = found.interval_at(&x[rows..], 0.9, exchangeable).ok()?;
    Some(covers((interval.low, interval.high), outcome[rows]))
}

/// Two of twelve candidates move the factor, and one of them and a third the outcome; the interval is CR2's.
fn selected_is_covered(rng: &mut ChaCha12Rng) -> Option<bool> {
    const ROWS: usize = 60;
    let groups = equal_groups(15, 4);
    let columns: Vec<Vec<f64>> = (0..12).map(|_| normals(rng, ROWS)).collect();
    let factor: Vec<f64> =
        (0..ROWS).map(|row| 0.7 * (columns[0][row] + columns[1][row]) + normal(rng)).collect();
    let outcome: Vec<f64> = (0..ROWS)
        .map(|row| SLOPE * factor[row] + columns[0][row] - columns[2][row] + normal(rng))
        .collect();
    let named =
        columns.iter().enumerate().fold(Design::builder(ROWS), |builder, (place, values)| {
            builder.number(&place.to_string(), values)
        });
    let candidates = named.build().ok()?;
    let alone = Design::builder(ROWS).number("factor", &factor).build().ok()?;
    let grid = GridOptions { steps: 20, ..GridOptions::default() };
    let options = DoubleSelectionOptions { grid, folds: 5, seed: rng.random() };
    let kept = double_selection(&candidates, &alone, &outcome, &groups, &options).ok()?;
    let builder = Design::builder(ROWS).intercept().number("factor", &factor);
    let places = kept.names().into_iter().map(|name| candidates.column(name));
    let builder = places
        .flatten()
        .fold(builder, |builder, place| builder.number(&candidates.names[place], &columns[place]));
    let fit = least_squares(&builder.build().ok()?, &outcome).ok()?;
    let found = fit.clustered(&groups).ok()?.contrast(&fit.pick("factor").ok()?).ok()?;
    Some(covers(found.interval(0.95).ok()?, SLOPE))
}

/// One knot, drawn by lot, of a wave.
fn curve_is_covered(rng: &mut ChaCha12Rng) -> Option<bool> {
    let x: Vec<f64> = (0..60).map(|_| rng.random_range(0.0..1.0)).collect();
    let wave = |x: f64| (6.0 * x).sin();
    let outcome: Vec<f64> = x.iter().map(|x| wave(*x) + 0.5 * normal(rng)).collect();
    let spline = SmoothingSpline::new(&x, &outcome).ok()?;
    let penalty = spline.choose(Smoothness::RestrictedLikelihood).ok()?.penalty;
    let fit = spline.fit(penalty).ok()?;
    let knot = rng.random_range(0..fit.knots.len());
    let half = 1.959_964 * fit.standard_errors().ok()?[knot];
    Some((fit.values[knot] - wave(fit.knots[knot])).abs() <= half)
}
