//! Ordered categories in groups, and their likelihood ratio.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{Workshop, covers, normal, normals};
use canewright::stats::design::Design;
use canewright::stats::logistic::logistic;
use canewright::stats::ordinal::{OrderedOutcome, OrdinalMixedFit, fit_ordinal, fit_ordinal_mixed};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

/// Where the five categories part.
const STEPS: [f64; 4] = [-1.5, -0.4, 0.6, 1.7];

pub const SIMULATIONS: &[Simulation] = &[
    Simulation::test(
        "ordinal_likelihood_ratio_fires_at_5_percent_with_60_rows",
        // R 4.2.2, MASS, polr on the same design fires in 7.4 % of 500 runs (standard error 1.2)
        (0.0, 0.025),
        (500, 20_000),
        ratio_fires,
    ),
    Simulation::interval(
        "ordinal_interval_of_a_mean_score_covers_with_100_rows",
        (0.015, 0.01),
        (400, 20_000),
        score_is_covered,
    ),
    Simulation::test(
        "ordinal_clustered_t_of_a_slope_fires_too_often_with_25_groups",
        // R 4.2.2, sandwich 3.0.2, vcovCL of MASS polr with the same correction and t on the same design fires in 8.4 % of 500 runs
        (0.0, 0.05),
        (200, 10_000),
        |rng| clustered_fires(rng, 25),
    ),
    Simulation::test(
        "ordinal_clustered_t_of_a_slope_fires_too_often_with_10_groups",
        // the same: 8.1 % of 800 runs
        (0.0, 0.06),
        (400, 10_000),
        |rng| clustered_fires(rng, 10),
    ),
    Simulation::test(
        "mixed_ordinal_wald_of_a_slope_fires_at_5_percent_with_10_groups",
        (0.01, 0.015),
        (30, 1_500),
        |rng| mixed_fires(rng, 10, "x"),
    ),
    Simulation::test(
        "mixed_ordinal_wald_of_a_group_level_slope_fires_at_5_percent_with_25_groups",
        // the normal law, with no degrees of freedom for 25 groups
        (0.01, 0.025),
        (10, 800),
        |rng| mixed_fires(rng, 25, "z"),
    ),
    Simulation::test(
        "mixed_ordinal_test_of_groups_that_do_not_differ_fires_at_5_percent",
        // as for yes and no: the mixture weighs its half of zeros too lightly with 10 groups
        (0.04, 0.005),
        (30, 1_500),
        |rng| Some(mixed(rng, 10, 0.0)?.test_of_groups().1 < 0.05),
    ),
    Simulation::interval(
        "mixed_ordinal_profile_interval_of_the_spread_between_25_groups_covers",
        // maximum likelihood finds too little spread, as for normal outcomes (see `mixed`)
        (0.03, 0.02),
        (2, 300),
        |rng| Some(covers(mixed(rng, 25, 0.9)?.sd_interval(0.95).ok()?, 0.9)),
    ),
];

/// Proportional odds about what each row is expected to be.
fn grades(rng: &mut ChaCha12Rng, expected: impl Iterator<Item = f64>) -> Option<OrderedOutcome> {
    let grade = |expected: f64| {
        let share: f64 = rng.random_range(1e-9..1.0);
        let heard = expected + (share / (1.0 - share)).ln();
        STEPS.iter().filter(|&&step| heard > step).count() as f64
    };
    OrderedOutcome::new(&expected.map(grade).collect::<Vec<_>>()).ok()
}

fn ratio_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let (x, z) = (normals(rng, 60), normals(rng, 60));
    let outcome = grades(rng, std::iter::repeat_n(0.0, 60))?;
    let design = Design::builder(60).number("x", &x).number("z", &z).build().ok()?;
    Some(fit_ordinal(&design, &outcome).ok()?.likelihood_ratio().p_value() < 0.05)
}

/// At `x` of 1, where each step is passed with the chance that the model gives it.
fn score_is_covered(rng: &mut ChaCha12Rng) -> Option<bool> {
    let x = normals(rng, 100);
    let outcome = grades(rng, x.iter().map(|x| 0.8 * x))?;
    let design = Design::builder(100).number("x", &x).build().ok()?;
    let found = fit_ordinal(&design, &outcome).ok()?.mean_score(&[1.0]).ok()?;
    let truth = STEPS.iter().map(|step| logistic(0.8 - step)).sum();
    Some(covers(found.interval(0.95).ok()?, truth))
}

/// Groups of 4 to 16 rows; `x` lies half between and half inside them, `z` between; neither matters.
fn grouped(
    rng: &mut ChaCha12Rng,
    groups: usize,
    spread: f64,
) -> Option<(Workshop, OrderedOutcome)> {
    let workshop = Workshop::draw(rng, groups);
    // effects have a standard deviation of 0.6
    let outcome = grades(rng, workshop.effects.iter().map(|effect| spread / 0.6 * effect))?;
    Some((workshop, outcome))
}

fn clustered_fires(rng: &mut ChaCha12Rng, groups: usize) -> Option<bool> {
    let (workshop, outcome) = grouped(rng, groups, 0.6)?;
    let fit = fit_ordinal(&workshop.columns_alone(), &outcome).ok()?;
    let robust = fit.clustered(&workshop.groups).ok()?;
    Some(robust.contrast(&fit.pick("x").ok()?).ok()?.p_value() < 0.05)
}

fn mixed(rng: &mut ChaCha12Rng, groups: usize, spread: f64) -> Option<OrdinalMixedFit> {
    let (mut workshop, outcome) = grouped(rng, groups, spread)?;
    workshop.x.iter_mut().for_each(|x| *x = normal(rng));
    fit_ordinal_mixed(&workshop.columns_alone(), &outcome, &workshop.groups).ok()
}

fn mixed_fires(rng: &mut ChaCha12Rng, groups: usize, column: &str) -> Option<bool> {
    let fit = mixed(rng, groups, 0.6)?;
    Some(fit.contrast(&fit.pick(column).ok()?).ok()?.p_value() < 0.05)
}
