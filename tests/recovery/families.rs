//! Several questions at once: how often anything is found where nothing is.

use crate::recovery::promises::EXACT;
use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{equal_groups, normal, normals};
use canewright::stats::StatsError;
use canewright::stats::anova::one_way;
use canewright::stats::multiplicity::{
    Family, GroupMeans, benjamini_hochberg, benjamini_yekutieli, bonferroni, dunnett, hochberg,
    holm, simultaneous, tukey_kramer,
};
use canewright::stats::numeric::{Sampling, Sides, normal_sf};
use ndarray::Array2;
use rand::RngExt;
use rand_chacha::ChaCha12Rng;
use std::sync::LazyLock;

type Adjust = fn(&[f64]) -> Result<Vec<f64>, StatsError>;

pub const SIMULATIONS: &[Simulation] = &[
    // equal sizes make it exact (Tukey 1953)
    Simulation::test(
        "tukey_finds_any_pair_in_5_percent_with_4_groups_of_6",
        EXACT,
        (2, 200),
        |rng| pair_is_found(&means(rng, &equal_groups(4, 6))?),
    ),
    // unequal sizes make it cautious, and never more than that (Hayter 1984, Annals of Statistics 12, 61-75)
    Simulation::test(
        "tukey_kramer_finds_any_pair_in_5_percent_with_groups_of_4_7_10_and_15",
        (0.01, 0.0),
        (2, 200),
        |rng| pair_is_found(&means(rng, &unequal_groups())?),
    ),
    Simulation::test(
        "dunnett_finds_anything_in_5_percent_with_groups_of_4_7_10_and_15",
        EXACT,
        (2, 200),
        |rng| {
            let found = dunnett(&means(rng, &unequal_groups())?, 0, 0.95, Sides::Two).ok()?;
            Some(found.estimates.iter().any(|one| one.p_value.value < 0.05))
        },
    ),
    Simulation::test("one_sided_dunnett_interval_misses_in_5_percent", EXACT, (2, 200), |rng| {
        let found = dunnett(&means(rng, &equal_groups(4, 6))?, 0, 0.95, Sides::Upper).ok()?;
        Some(found.estimates.iter().any(|one| one.low > 0.0))
    }),
    Simulation::test(
        "simultaneous_intervals_of_neighbours_miss_in_5_percent",
        // the lattice's own error, a thousandth of the critical value at most
        (0.002, 0.002),
        (4, 200),
        neighbours_miss,
    ),
    critical("largest_of_4_equal_groups_pairs_is_beyond_tukeys_bound_in_5_percent", EXACT, |rng| {
        is_beyond(rng, &equal_groups(4, 6), &PAIRS, REACH.tukey)
    }),
    // cautious as above
    critical("largest_of_unequal_groups_pairs_is_beyond_tukeys_bound", (0.01, 0.0), |rng| {
        is_beyond(rng, &unequal_groups(), &PAIRS, REACH.tukey_kramer)
    }),
    critical("largest_against_a_control_is_beyond_dunnetts_bound_in_5_percent", EXACT, |rng| {
        is_beyond(rng, &unequal_groups(), &PAIRS[..3], REACH.dunnett)
    }),
    critical("largest_of_neighbours_is_beyond_the_simultaneous_bound_in_5_percent", EXACT, |rng| {
        is_beyond(rng, &unequal_groups(), &[(0, 1), (1, 2), (2, 3)], REACH.neighbours)
    }),
    // 1 - (1 - 0.05 / 15)^15
    adjusted("bonferroni_finds_anything_in_5_percent_of_empty_families", 0.048_9, |rng| {
        anything(rng, bonferroni)
    }),
    adjusted("holm_finds_anything_in_5_percent_of_empty_families", 0.048_9, |rng| {
        anything(rng, holm)
    }),
    // 1 - (1 - 0.05 / 10)^10: what is found leaves the others ten
    adjusted("holm_finds_what_is_not_there_beside_five_that_are_in_5_percent", 0.048_9, |rng| {
        let found = holm(&mixed_family(rng)).ok()?;
        Some(found[5..].iter().any(|p| *p <= 0.05))
    }),
    Simulation {
        // a little below Simes's test, which is exact where p values are independent (Hochberg 1988, Biometrika 75, 800-802)
        slack: (0.003, 0.0),
        ..adjusted("hochberg_finds_anything_in_5_percent_of_empty_families", 0.05, |rng| {
            anything(rng, hochberg)
        })
    },
    // 0.05 over 1 + 1/2 + ... + 1/15 (Benjamini & Yekutieli 2001, Annals of Statistics 29, 1165-1188)
    adjusted("benjamini_yekutieli_finds_anything_in_empty_families", 0.015_068, |rng| {
        anything(rng, benjamini_yekutieli)
    }),
    // the share of ten empty among fifteen (Benjamini & Hochberg 1995): a finding drawn by lot is false as often as the false discovery rate
    adjusted(
        "benjamini_hochberg_finding_is_false_in_2_of_3_of_5_percent",
        0.05 * 10.0 / 15.0,
        |rng| {
            let found = benjamini_hochberg(&mixed_family(rng)).ok()?;
            let findings: Vec<usize> = (0..15).filter(|&place| found[place] <= 0.05).collect();
            Some(!findings.is_empty() && findings[rng.random_range(0..findings.len())] >= 5)
        },
    ),
];

const fn adjusted(
    claim: &'static str,
    nominal: f64,
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation { claim, nominal, slack: EXACT, replicates: (4_000, 50_000), attempt }
}

/// Bounds of families of 5 percent, looked up once: enough runs to see a wrong digit.
const fn critical(
    claim: &'static str,
    slack: (f64, f64),
    attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
) -> Simulation {
    Simulation::test(claim, slack, (2_000, 50_000), attempt)
}

const PAIRS: [(usize, usize); 6] = [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)];

/// How many standard errors the intervals of a family reach. That depends on the sizes of the groups alone.
struct Reach {
    tukey: f64,
    tukey_kramer: f64,
    dunnett: f64,
    neighbours: f64,
}

static REACH: LazyLock<Reach> = LazyLock::new(|| {
    let (equal, unequal) = (flat(vec![6; 4]), flat(vec![4, 7, 10, 15]));
    let of_pairs = |groups: &GroupMeans| {
        let pairs = tukey_kramer(groups, 0.95).expect("pairs");
        pairs[0].high / pairs[0].difference.standard_error
    };
    let dunnett = dunnett(&unequal, 0, 0.95, Sides::Two).expect("three against a control");
    Reach {
        tukey: of_pairs(&equal),
        tukey_kramer: of_pairs(&unequal),
        dunnett: dunnett.critical_value.value,
        neighbours: neighbours(&unequal, 1).expect("neighbours").critical_value.value,
    }
});

/// Means that are all zero, of groups with a residual variance of 1.
fn flat(sizes: Vec<usize>) -> GroupMeans {
    let degrees_of_freedom = sizes.iter().sum::<usize>() as f64 - 4.0;
    GroupMeans { means: vec![0.0; 4], sizes, residual_variance: 1.0, degrees_of_freedom }
}

/// Whether any difference is more standard errors from zero.
fn is_beyond(
    rng: &mut ChaCha12Rng,
    groups: &[usize],
    pairs: &[(usize, usize)],
    reach: f64,
) -> Option<bool> {
    let groups = means(rng, groups)?;
    let share = |place: usize| 1.0 / groups.sizes[place] as f64;
    let beyond = |&(i, j): &(usize, usize)| {
        let error = (groups.residual_variance * (share(i) + share(j))).sqrt();
        (groups.means[i] - groups.means[j]).abs() > reach * error
    };
    Some(pairs.iter().any(beyond))
}

fn unequal_groups() -> Vec<usize> {
    [4, 7, 10, 15].iter().enumerate().flat_map(|(code, &size)| vec![code; size]).collect()
}

/// Groups that do not differ.
fn means(rng: &mut ChaCha12Rng, groups: &[usize]) -> Option<GroupMeans> {
    Some(one_way(&normals(rng, groups.len()), groups).ok()?.groups)
}

fn pair_is_found(groups: &GroupMeans) -> Option<bool> {
    Some(tukey_kramer(groups, 0.95).ok()?.iter().any(|pair| pair.p_value < 0.05))
}

/// Each of four groups less the one before it.
fn neighbours(groups: &GroupMeans, seed: u64) -> Option<Family> {
    let values: Vec<f64> = groups.means.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let variance = |place: usize| groups.residual_variance / groups.sizes[place] as f64;
    let covariance = Array2::from_shape_fn((3, 3), |(i, j)| match i.abs_diff(j) {
        0 => variance(i) + variance(i + 1),
        1 => -variance(i.max(j)),
        _ => 0.0,
    });
    let (df, sampling) = (groups.degrees_of_freedom, Sampling::from_seed(seed));
    simultaneous(&values, &covariance, df, 0.95, Sides::Two, sampling).ok()
}

fn neighbours_miss(rng: &mut ChaCha12Rng) -> Option<bool> {
    let family = neighbours(&means(rng, &unequal_groups())?, rng.random())?;
    Some(family.estimates.iter().any(|one| one.low > 0.0 || one.high < 0.0))
}

/// Fifteen factors that do nothing.
fn anything(rng: &mut ChaCha12Rng, adjust: Adjust) -> Option<bool> {
    let p: Vec<f64> = (0..15).map(|_| two_sided(normal(rng))).collect();
    Some(adjust(&p).ok()?.iter().any(|p| *p <= 0.05))
}

/// Five factors that cannot be missed, and ten that do nothing.
fn mixed_family(rng: &mut ChaCha12Rng) -> Vec<f64> {
    let shift = |place| if place < 5 { 9.0 } else { 0.0 };
    (0..15).map(|place| two_sided(shift(place) + normal(rng))).collect()
}

fn two_sided(statistic: f64) -> f64 {
    2.0 * normal_sf(statistic.abs())
}
