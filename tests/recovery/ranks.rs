//! Tests by ranks, by permutation and of spread: what is not there is found as seldom as promised.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{covers, normal, normals};
use canewright::stats::multiplicity::benjamini_hochberg;
use canewright::stats::numeric::normal_sf;
use canewright::stats::rank::{
    Alternative, SpreadCentre, friedman, kendall, kruskal_wallis, mann_whitney, pearson,
    signed_rank, spearman, spread_test,
};
use ndarray::Array2;
use rand_chacha::ChaCha12Rng;
use std::f64::consts::PI;

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
    Simulation::test(
        "exact_spearman_fires_at_5_percent_with_7_pairs",
        (0.008, 0.0),
        (300, 50_000),
        |rng| Some(spearman(&normals(rng, 7), &normals(rng, 7)).ok()?.exact_p_value()? < 0.05),
    ),
    fires("spearman_fires_at_5_percent_with_30_pairs", (0.005, 0.005), |rng| {
        Some(spearman(&normals(rng, 30), &normals(rng, 30)).ok()?.p_value() < 0.05)
    }),
    fires("spearman_fires_at_5_percent_with_30_pairs_of_4_grades", (0.01, 0.01), |rng| {
        Some(spearman(&grades(rng, 30), &grades(rng, 30)).ok()?.p_value() < 0.05)
    }),
    fires("kendall_fires_at_5_percent_with_12_pairs", (0.01, 0.0), |rng| {
        Some(kendall(&normals(rng, 12), &normals(rng, 12)).ok()?.p_value() < 0.05)
    }),
    fires("kendall_fires_at_5_percent_with_30_pairs_of_4_grades", (0.01, 0.005), |rng| {
        Some(kendall(&grades(rng, 30), &grades(rng, 30)).ok()?.p_value() < 0.05)
    }),
    fires("signed_rank_fires_at_5_percent_with_12_differences", (0.01, 0.0), |rng| {
        let differences: Vec<f64> = (0..12).map(|_| normal(rng).powi(3)).collect();
        Some(signed_rank(&differences).ok()?.p_value(Alternative::TwoSided) < 0.05)
    }),
    fires("signed_rank_fires_at_5_percent_with_40_whole_differences", (0.01, 0.0), |rng| {
        let differences: Vec<f64> = (0..40).map(|_| (1.5 * normal(rng)).round()).collect();
        Some(signed_rank(&differences).ok()?.p_value(Alternative::TwoSided) < 0.05)
    }),
    fires("mann_whitney_fires_at_5_percent_with_30_against_40_grades", (0.01, 0.005), |rng| {
        let found = mann_whitney(&grades(rng, 30), &grades(rng, 40)).ok()?;
        Some(found.p_value(Alternative::TwoSided) < 0.05)
    }),
    fires("friedman_fires_at_5_percent_with_12_blocks_of_4", (0.01, 0.005), |rng| {
        let blocks = normals(rng, 12);
        let values = Array2::from_shape_fn((12, 4), |(block, _)| blocks[block] + normal(rng));
        Some(friedman(&values).ok()?.p_value() < 0.05)
    }),
    // the mean as centre is right for normal values in equal groups, a little often in small ones (Brown & Forsythe 1974, table 1)
    fires("levene_fires_at_5_percent_with_4_groups_of_12", (0.0, 0.02), |rng| {
        let groups: Vec<usize> = (0..48).map(|row| row % 4).collect();
        let found = spread_test(&normals(rng, 48), &groups, SpreadCentre::Mean).ok()?;
        Some(found.p_value() < 0.05)
    }),
    fires("pearson_fires_at_5_percent_with_8_pairs", (0.0, 0.0), |rng| {
        Some(pearson(&normals(rng, 8), &normals(rng, 8)).ok()?.p_value() < 0.05)
    }),
    covered("pearson_interval_covers_with_20_pairs", (0.005, 0.005), |rng| {
        let (first, second) = related(rng, 20);
        Some(covers(pearson(&first, &second).ok()?.interval(0.95).ok()?, 0.6))
    }),
    // the rank correlation of normal pairs (Pearson 1907); the interval is an approximation (Bonett & Wright 2000)
    covered("spearman_interval_covers_with_40_pairs", (0.01, 0.01), |rng| {
        let (first, second) = related(rng, 40);
        let truth = 6.0 / PI * (0.3_f64).asin();
        Some(covers(spearman(&first, &second).ok()?.interval(0.95).ok()?, truth))
    }),
    covered("interval_of_a_shift_covers_with_8_against_11", (0.0, 0.02), |rng| {
        let first: Vec<f64> = (0..8).map(|_| 3.0 + skewed(rng)).collect();
        let second: Vec<f64> = (0..11).map(|_| skewed(rng)).collect();
        Some(covers(mann_whitney(&first, &second).ok()?.shift_interval(0.95).ok()?, 3.0))
    }),
];

const fn covered(
    claim: &'static str,
    slack: (f64, f64),
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation::interval(claim, slack, (2_000, 50_000), attempt)
}

/// Grades 0 to 3, with many ties.
fn grades(rng: &mut ChaCha12Rng, count: usize) -> Vec<f64> {
    let grade = |value: f64| [-0.7, 0.4, 1.2].iter().filter(|&&step| value > step).count() as f64;
    normals(rng, count).into_iter().map(grade).collect()
}

/// Normal pairs with a correlation of 0.6.
fn related(rng: &mut ChaCha12Rng, pairs: usize) -> (Vec<f64>, Vec<f64>) {
    let first = normals(rng, pairs);
    let second = first.iter().map(|value| 0.6 * value + 0.8 * normal(rng)).collect();
    (first, second)
}

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
