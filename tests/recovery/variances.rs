//! Means of a few groups: tables of variance, differences, and the shape of one sample.

use crate::recovery::promises::EXACT;
use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{covers, equal_groups, normal, normals};
use canewright::stats::anova::{one_way, sequential_anova};
use canewright::stats::describe::shapiro_wilk;
use canewright::stats::design::Design;
use canewright::stats::effect_size::{
    StandardisedDifference, paired_difference, student_difference, welch_difference,
};
use rand_chacha::ChaCha12Rng;

pub const SIMULATIONS: &[Simulation] = &[
    Simulation::test(
        "analysis_of_variance_fires_at_5_percent_with_4_groups_of_6",
        EXACT,
        (2_000, 50_000),
        |rng| Some(one_way(&normals(rng, 24), &equal_groups(4, 6)).ok()?.test().p_value() < 0.05),
    ),
    Simulation::test(
        "second_term_of_a_table_of_variance_fires_at_5_percent_beside_a_first_that_matters",
        EXACT,
        (1_000, 50_000),
        second_term_fires,
    ),
    Simulation::interval(
        "student_interval_of_a_difference_covers_with_6_against_9",
        EXACT,
        (2_000, 50_000),
        |rng| {
            let found = student_difference(&normals(rng, 6), &normals(rng, 9)).ok()?;
            Some(covers(found.interval(0.95).ok()?, 0.0))
        },
    ),
    Simulation::interval(
        "welch_interval_covers_with_6_against_9_of_thrice_the_spread",
        // Satterthwaite's degrees of freedom are an approximation (Welch 1947, Biometrika 34, 28-35); R 4.2.2, t.test on the same design covers in 95.0 % of 20,000 runs
        (0.01, 0.01),
        (2_000, 50_000),
        |rng| {
            let wide: Vec<f64> = normals(rng, 9).iter().map(|value| 3.0 * value).collect();
            let found = welch_difference(&normals(rng, 6), &wide).ok()?;
            Some(covers(found.interval(0.95).ok()?, 0.0))
        },
    ),
    Simulation::interval(
        "paired_interval_of_a_difference_covers_with_8_pairs",
        EXACT,
        (2_000, 50_000),
        |rng| {
            let first = normals(rng, 8);
            let second: Vec<f64> = first.iter().map(|value| value + 0.5 * normal(rng)).collect();
            Some(covers(paired_difference(&first, &second).ok()?.interval(0.95).ok()?, 0.0))
        },
    ),
    Simulation::interval(
        "interval_of_a_standardised_difference_covers_with_6_against_9",
        EXACT,
        (200, 10_000),
        |rng| {
            let shifted: Vec<f64> = normals(rng, 6).iter().map(|value| value + 0.8).collect();
            let found = StandardisedDifference::of(&shifted, &normals(rng, 9)).ok()?;
            Some(covers(found.interval(0.95).ok()?, 0.8))
        },
    ),
    Simulation::test(
        "shapiro_wilk_fires_at_5_percent_with_20_normal_values",
        // the p value is an approximation made by simulation (Royston 1995)
        (0.005, 0.005),
        (2_000, 50_000),
        |rng| Some(shapiro_wilk(&normals(rng, 20)).ok()?.p_value < 0.05),
    ),
];

/// Six blocks that differ, and three arms in them that do not, with a piece lost.
fn second_term_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let level = |row: usize| (row / 3, row % 3);
    let names = |of: fn((usize, usize)) -> usize| -> Vec<String> {
        (0..17).map(|row| of(level(row)).to_string()).collect()
    };
    let (blocks, arms) = (names(|(block, _)| block), names(|(_, arm)| arm));
    let effects = normals(rng, 6);
    let outcome: Vec<f64> = (0..17).map(|row| 2.0 * effects[row / 3] + normal(rng)).collect();
    let builder = Design::builder(17).intercept().choice("block", &blocks, None);
    let design = builder.choice("arm", &arms, None).build().ok()?;
    let table = sequential_anova(&design, &[("block", 5), ("arm", 2)], &outcome).ok()?;
    Some(table.rows.last()?.test?.p_value() < 0.05)
}
