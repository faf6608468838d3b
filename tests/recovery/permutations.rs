//! Tests by rearranging what was seen: exact whatever the distribution.

use crate::recovery::promises::EXACT;
use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{equal_groups, normal, normals};
use canewright::stats::design::Design;
use canewright::stats::penalised::{Folds, leave_out_linear, predict_by_fold};
use canewright::stats::permutation::{MonteCarlo, monte_carlo, paired_signs, two_groups};
use canewright::stats::prediction::{Exchange, prediction_test};
use canewright::stats::products::Products;
use canewright::stats::rank::{Alternative, pearson};
use canewright::stats::resample::{permutation, replicate};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

pub const SIMULATIONS: &[Simulation] = &[
    Simulation {
        // 25 of the 512 patterns up to the sign
        nominal: 25.0 / 512.0,
        ..exact("counted_signs_fire_at_5_percent_with_10_pairs", (2_000, 50_000), |rng| {
            signs_fire(rng, 10)
        })
    },
    exact("random_signs_fire_at_5_percent_with_40_pairs", (1_000, 20_000), |rng| {
        signs_fire(rng, 40)
    }),
    Simulation {
        // 85 of the 1716 deals of 6 among 13
        nominal: 85.0 / 1716.0,
        ..exact("counted_deals_fire_at_5_percent_with_6_against_7", (1_000, 50_000), |rng| {
            deals_fire(rng, 6, 7)
        })
    },
    exact("random_deals_fire_at_5_percent_with_15_against_20", (500, 20_000), |rng| {
        deals_fire(rng, 15, 20)
    }),
    exact("random_orders_of_a_correlation_fire_at_5_percent", (500, 20_000), orders_fire),
    exact("prediction_test_within_groups_that_differ_fires_at_5_percent", (200, 10_000), |rng| {
        prediction_fires(rng, 1.0, Exchange::WithinGroups)
    }),
    exact(
        "prediction_test_of_groups_that_do_not_differ_fires_at_5_percent",
        (200, 10_000),
        |rng| prediction_fires(rng, 0.0, Exchange::Anywhere),
    ),
];

const fn exact(
    claim: &'static str,
    replicates: (usize, usize),
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation::test(claim, EXACT, replicates, attempt)
}

/// With 99 arrangements and the data the smallest five of a hundred p values are at most 0.05.
fn random(rng: &mut ChaCha12Rng) -> MonteCarlo {
    MonteCarlo { replicates: 99, seed: rng.random() }
}

/// Differences of long tails.
fn signs_fire(rng: &mut ChaCha12Rng, pairs: usize) -> Option<bool> {
    let differences: Vec<f64> = (0..pairs).map(|_| normal(rng).powi(3)).collect();
    let found = paired_signs(&differences, Alternative::TwoSided, &random(rng)).ok()?;
    Some(found.p_value() <= 0.05)
}

fn deals_fire(rng: &mut ChaCha12Rng, first: usize, second: usize) -> Option<bool> {
    let values: Vec<f64> = (0..first + second).map(|_| normal(rng).exp()).collect();
    let (one, other) = values.split_at(first);
    Some(two_groups(one, other, Alternative::TwoSided, &random(rng)).ok()?.p_value() <= 0.05)
}

fn orders_fire(rng: &mut ChaCha12Rng) -> Option<bool> {
    let x: Vec<f64> = (0..15).map(|_| normal(rng).exp()).collect();
    let y = normals(rng, 15);
    let observed = pearson(&x, &y).ok()?.value;
    let permuted = replicate(rng.random(), 99, |generator| {
        let moved: Vec<f64> = permutation(generator, 15).into_iter().map(|row| y[row]).collect();
        Some(pearson(&x, &moved).ok()?.value)
    });
    let permuted: Vec<f64> = permuted.into_iter().collect::<Option<_>>()?;
    Some(monte_carlo(observed, &permuted, Alternative::TwoSided).ok()?.p_value() <= 0.05)
}

/// Five groups of six rows and a column that differs between groups by chance alone.
fn prediction_fires(rng: &mut ChaCha12Rng, spread: f64, exchange: Exchange) -> Option<bool> {
    let groups = equal_groups(5, 6);
    let (effects, levels) = (normals(rng, 5), normals(rng, 5));
    let x: Vec<f64> = groups.iter().map(|&group| spread * levels[group] + normal(rng)).collect();
    let outcome: Vec<f64> =
        groups.iter().map(|&group| spread * effects[group] + normal(rng)).collect();
    let design = Design::builder(30).number("x", &x).build().ok()?;
    let folds = Folds::each_group(&groups).ok()?;
    let test = prediction_test(&outcome, &groups, &folds, exchange, 19, rng.random(), |outcome| {
        let products = Products::new(&design, outcome, &groups)?;
        predict_by_fold(&design, &folds, &leave_out_linear(&products, &folds, 0.0)?)
    });
    Some(test.ok()?.p_value <= 0.05)
}
