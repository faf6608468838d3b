//! Trials as large as the formulas ask find what is there as often as promised.

use crate::recovery::promises::EXACT;
use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{equal_groups, normal, normals};
use canewright::stats::anova::{one_way, sequential_anova};
use canewright::stats::design::Design;
use canewright::stats::effect_size::{paired_difference, student_difference};
use canewright::stats::numeric::{Sides, find_root_within};
use canewright::stats::power::{
    ArmsLayout, ArmsTrial, ExactTest, ProportionsTrial, TwoArmsLayout, TwoArmsTrial,
    pieces_for_assurance,
};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use statrs::distribution::{Discrete, Hypergeometric};
use std::sync::LazyLock;

pub const SIMULATIONS: &[Simulation] = &[
    found("two_arms_of_9_and_18_find_their_smallest_difference", (500, 20_000), |rng| {
        let trial = two_arms(TwoArmsLayout::Independent { ratio: 2.0 });
        let shift = trial.smallest_difference(9.0, 0.8).ok()?;
        let first: Vec<f64> = normals(rng, 9).iter().map(|value| value + shift).collect();
        Some(student_difference(&first, &normals(rng, 18)).ok()?.p_value() < 0.05)
    }),
    found("eight_pairs_find_their_smallest_difference", (500, 20_000), |rng| {
        let shift = two_arms(TwoArmsLayout::Paired).smallest_difference(8.0, 0.8).ok()?;
        let base = normals(rng, 8);
        let other: Vec<f64> = base.iter().map(|value| value + shift + normal(rng)).collect();
        Some(paired_difference(&other, &base).ok()?.p_value() < 0.05)
    }),
    found("two_arms_in_6_blocks_find_their_smallest_difference", (200, 10_000), |rng| {
        let layout = TwoArmsLayout::Blocked { pieces_per_arm: 2.0 };
        let shift = two_arms(layout).smallest_difference(6.0, 0.8).ok()?;
        blocked_arms_fire(rng, &[0.0, shift])
    }),
    found("four_arms_of_7_find_their_smallest_effect", (300, 20_000), |rng| {
        let trial = ArmsTrial { layout: ArmsLayout::Independent, arms: 4, significance: 0.05 };
        let shifts = ends_apart(trial.smallest_effect(7.0, 0.8).ok()?);
        let groups = equal_groups(4, 7);
        let values: Vec<f64> = groups.iter().map(|&arm| shifts[arm] + normal(rng)).collect();
        Some(one_way(&values, &groups).ok()?.test().p_value() < 0.05)
    }),
    found("four_arms_in_6_blocks_find_their_smallest_effect", (200, 10_000), |rng| {
        let layout = ArmsLayout::Blocked { pieces_per_arm: 2.0 };
        let trial = ArmsTrial { layout, arms: 4, significance: 0.05 };
        blocked_arms_fire(rng, &ends_apart(trial.smallest_effect(6.0, 0.8).ok()?))
    }),
    found(
        "fishers_test_of_25_against_30_finds_shares_as_often_as_counted",
        (2_000, 50_000),
        |rng| fisher_fires(rng, *FOUND_SHARE),
    ),
    Simulation::test(
        "fishers_test_of_25_against_30_fires_at_most_at_5_percent",
        // conditional on the margin: cautious (Fisher 1935)
        (0.04, 0.0),
        (2_000, 50_000),
        |rng| fisher_fires(rng, 0.3),
    ),
    Simulation {
        nominal: 0.9,
        // whole pieces: at least the assurance, and not by more than one piece brings
        slack: (0.0, 0.05),
        ..found("enough_pieces_are_left_as_often_as_assured", (2_000, 50_000), |rng| {
            let started = pieces_for_assurance(20, 0.25, 0.9).ok()?;
            Some((0..started).filter(|_| rng.random_bool(0.75)).count() >= 20)
        })
    },
];

const fn found(
    claim: &'static str,
    replicates: (usize, usize),
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation { claim, nominal: 0.8, slack: EXACT, replicates, attempt }
}

fn two_arms(layout: TwoArmsLayout) -> TwoArmsTrial {
    TwoArmsTrial { layout, standard_deviation: 1.0, significance: 0.05, sides: Sides::Two }
}

/// Four means of which the outer ones are apart and the inner ones in the middle, with Cohen's f: `f^2 = 2 end^2 / 4`.
fn ends_apart(effect: f64) -> [f64; 4] {
    let end = 2.0_f64.sqrt() * effect;
    [-end, 0.0, 0.0, end]
}

/// Six blocks that differ, with two pieces of each arm.
fn blocked_arms_fire(rng: &mut ChaCha12Rng, shifts: &[f64]) -> Option<bool> {
    let arms = shifts.len();
    let rows = 12 * arms;
    let effects = normals(rng, 6);
    let place = |row: usize| (row / (2 * arms), row % arms);
    let outcome: Vec<f64> = (0..rows)
        .map(|row| 2.0 * effects[place(row).0] + shifts[place(row).1] + normal(rng))
        .collect();
    let blocks: Vec<String> = (0..rows).map(|row| place(row).0.to_string()).collect();
    let levels: Vec<String> = (0..rows).map(|row| place(row).1.to_string()).collect();
    let builder = Design::builder(rows).intercept().choice("block", &blocks, None);
    let design = builder.choice("arm", &levels, None).build().ok()?;
    let table = sequential_anova(&design, &[("block", 5), ("arm", arms - 1)], &outcome).ok()?;
    Some(table.rows.last()?.test?.p_value() < 0.05)
}

/// The share of the second arm at which a trial is said to find it different from 0.3 with power 0.8.
static FOUND_SHARE: LazyLock<f64> = LazyLock::new(|| {
    let (test, sides) = (ExactTest::Fisher, Sides::Two);
    let trial = ProportionsTrial { test, significance: 0.05, sides };
    let excess = |share| trial.power(25, 30, [0.3, share]).expect("a share") - 0.8;
    find_root_within(excess, 0.31, 0.99, 1e-10).expect("a share with that power")
});

/// Fisher's test written out: the probability of all tables with these margins at most as probable as the one seen.
fn fisher_fires(rng: &mut ChaCha12Rng, share: f64) -> Option<bool> {
    let mut successes =
        |trials: u64, share| (0..trials).filter(|_| rng.random_bool(share)).count() as u64;
    let (first, second) = (successes(25, 0.3), successes(30, share));
    let tables = Hypergeometric::new(55, first + second, 25).ok()?;
    let seen = tables.pmf(first);
    let possible = (first + second).saturating_sub(30)..=(first + second).min(25);
    let tail: f64 =
        possible.map(|count| tables.pmf(count)).filter(|p| *p <= seen * (1.0 + 1e-7)).sum();
    Some(tail < 0.05)
}
