//! Curves of survival and their intervals.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{SLOPE, covers, normals};
use canewright::stats::design::Design;
use canewright::stats::survival::{
    Lifetimes, SurvivalCurve, Ties, fit_cox, kaplan_meier, nelson_aalen, restricted_mean_difference,
};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, Exp};

pub const SIMULATIONS: &[Simulation] = &[
    Simulation::interval(
        "kaplan_meier_interval_at_a_time_covers_with_60_rows",
        (0.01, 0.015),
        (1_000, 50_000),
        |rng| {
            let curve = kaplan_meier(&lifetimes(rng, 60)?);
            Some(covers(curve.interval_at(15.0, 0.95).ok()??, 1.0 - 15.0 / 40.0))
        },
    ),
    Simulation::interval(
        "nelson_aalen_interval_at_a_time_covers_with_60_rows",
        (0.015, 0.015),
        (1_000, 50_000),
        |rng| {
            let hazard = nelson_aalen(&lifetimes(rng, 60)?);
            Some(covers(hazard.interval_at(15.0, 0.95).ok()??, -(1.0 - 15.0_f64 / 40.0).ln()))
        },
    ),
    Simulation::interval(
        "interval_of_the_median_life_covers_with_60_rows",
        // whole events: the interval ends at one of them
        (0.015, 0.02),
        (1_000, 50_000),
        |rng| {
            let found = kaplan_meier(&lifetimes(rng, 60)?).median(0.95).ok()?;
            let (low, high) = (found.low.unwrap_or(0.0), found.high.unwrap_or(f64::INFINITY));
            Some(covers((low, high), 20.0))
        },
    ),
    Simulation::interval(
        "interval_of_a_difference_of_restricted_means_covers_with_60_rows_each",
        (0.015, 0.005),
        (1_000, 50_000),
        |rng| {
            let (first, second): (SurvivalCurve, SurvivalCurve) =
                (kaplan_meier(&lifetimes(rng, 60)?), kaplan_meier(&lifetimes(rng, 60)?));
            let found = restricted_mean_difference(&first, &second, 20.0).ok()?;
            Some(covers(found.interval(0.95).ok()?, 0.0))
        },
    ),
    Simulation::interval(
        "interval_of_a_predicted_survival_covers_with_60_rows",
        (0.015, 0.015),
        (500, 20_000),
        prediction_covers,
    ),
];

/// Lives of 0 to 40 hours, each moment as likely; a quarter are lost on the way.
fn lifetimes(rng: &mut ChaCha12Rng, rows: usize) -> Option<Lifetimes> {
    let lives: Vec<f64> = (0..rows).map(|_| rng.random_range(0.001..40.0)).collect();
    let lost: Vec<f64> = (0..rows).map(|_| rng.random_range(0.001..80.0)).collect();
    watched(&lives, &lost)
}

fn watched(lives: &[f64], lost: &[f64]) -> Option<Lifetimes> {
    let pairs = || lives.iter().zip(lost);
    let times: Vec<f64> = pairs().map(|(life, lost)| life.min(*lost)).collect();
    Lifetimes::new(&times, &pairs().map(|(life, lost)| life <= lost).collect::<Vec<_>>()).ok()
}

/// Survival beyond 15 hours at `x` of 1 where the hazard is `0.05 exp(slope x)` at all times.
fn prediction_covers(rng: &mut ChaCha12Rng) -> Option<bool> {
    let x = normals(rng, 60);
    let life = |x: f64| Some(Exp::new(0.05 * (SLOPE * x).exp()).ok()?.sample(rng));
    let lives: Vec<f64> = x.iter().copied().map(life).collect::<Option<_>>()?;
    let lost: Vec<f64> = (0..60).map(|_| rng.random_range(5.0..60.0)).collect();
    let design = Design::builder(60).number("x", &x).build().ok()?;
    let fit = fit_cox(&design, &watched(&lives, &lost)?, None, Ties::Efron).ok()?;
    let curve = fit.baseline().predict(&[1.0], 0).ok()?;
    Some(covers(curve.interval_at(15.0, 0.95).ok()??, (-0.75 * SLOPE.exp()).exp()))
}
