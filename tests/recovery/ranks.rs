//! Tests by ranks, by permutation and of spread: what is not there is found as seldom as promised.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::normal;
use canewright::stats::multiplicity::benjamini_hochberg;
use canewright::stats::numeric::normal_sf;
use canewright::stats::rank::{
    Alternative, SpreadCentre, kruskal_wallis, mann_whitney, spread_test,
};
use rand_chacha::ChaCha12Rng;

pub const SIMULATIONS: &[Simulation] = &[
    // exact tests of few rows cannot reach 5 percent from below
    fires("mann_whitney_fires_at_5_percent_with_8_against_11", (0.02, 0.0), mann_whitney_fires),
    fires("kruskal_wallis_fires_at_5_percent_with_4_groups_of_8", (0.02, 0.005), kruskal_fires),
    fires("brown_forsythe_fires_at_5_percent_with_4_groups_of_12", (0.025, 0.005), spread_fires),
    fires(
        "benjamini_hochberg_finds_anything_in_5_percent_of_empty_families",
        (0.0, 0.0),
        family_fires,
    ),
];

const fn fires(
    claim: &'static str,
    slack: (f64, f64),
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation { claim, nominal: 0.05, slack, replicates: (4_000, 50_000), attempt }
}

/// A skewed number: tests by ranks may not care.
fn skewed(rng: &mut ChaCha12Rng) -> f64 {
    normal(rng).exp()
}

fn mann_whitney_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let first: Vec<f64> = (0..8).map(|_| skewed(rng)).collect();
    let second: Vec<f64> = (0..11).map(|_| skewed(rng)).collect();
    Some(mann_whitney(&first, &second).ok()?.p_value(Alternative::TwoSided) < 0.05)
}

fn kruskal_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let values: Vec<f64> = (0..32).map(|_| skewed(rng)).collect();
    let groups: Vec<usize> = (0..32).map(|row| row % 4).collect();
    Some(kruskal_wallis(&values, &groups).ok()?.p_value() < 0.05)
}

fn spread_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let values: Vec<f64> = (0..48).map(|_| normal(rng)).collect();
    let groups: Vec<usize> = (0..48).map(|row| row % 4).collect();
    Some(spread_test(&values, &groups, SpreadCentre::Median).ok()?.p_value() < 0.05)
}

/// Fifteen factors that do nothing: the false discovery rate is then the chance of finding any (Benjamini & Hochberg 1995).
fn family_fires(rng: &mut ChaCha12Rng) -> Option<bool> {
    let p: Vec<f64> = (0..15).map(|_| 2.0 * normal_sf(normal(rng).abs())).collect();
    Some(benjamini_hochberg(&p).ok()?.iter().any(|q| *q <= 0.05))
}
