//! Least squares with errors that allow for groups.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::{BETWEEN, SLOPE, Workshop, covers};
use canewright::stats::linear::least_squares;
use ndarray::Array2;
use rand_chacha::ChaCha12Rng;

pub const SIMULATIONS: &[Simulation] = &[
    robust("cr2_interval_of_a_slope_covers_with_6_groups", |rng| slope_is_covered(rng, 6)),
    robust("cr2_interval_of_a_slope_covers_with_10_groups", |rng| slope_is_covered(rng, 10)),
    robust("cr2_interval_of_a_slope_covers_with_25_groups", |rng| slope_is_covered(rng, 25)),
    robust("cr2_interval_of_a_group_level_slope_covers_with_10_groups", |rng| {
        between_is_covered(rng, 10)
    }),
    robust("cr2_interval_of_a_group_level_slope_covers_with_25_groups", |rng| {
        between_is_covered(rng, 25)
    }),
    Simulation {
        claim: "cr2_joint_test_fires_at_5_percent_with_10_groups",
        nominal: 0.05,
        // cautious with few clusters (Pustejovsky & Tipton 2018, section 4)
        slack: (0.045, 0.01),
        replicates: (2_000, 20_000),
        attempt: |rng| joint_fires(rng, 10),
    },
];

/// CR2 with Satterthwaite degrees of freedom is an approximation that is cautious with few, unequal clusters (Pustejovsky & Tipton 2018, section 4).
const fn robust(claim: &'static str, attempt: fn(&mut ChaCha12Rng) -> Option<bool>) -> Simulation {
    Simulation { claim, nominal: 0.95, slack: (0.01, 0.03), replicates: (2_000, 20_000), attempt }
}

fn slope_is_covered(rng: &mut ChaCha12Rng, groups: usize) -> Option<bool> {
    column_is_covered(rng, groups, "x", SLOPE)
}

fn between_is_covered(rng: &mut ChaCha12Rng, groups: usize) -> Option<bool> {
    column_is_covered(rng, groups, "z", BETWEEN)
}

fn column_is_covered(
    rng: &mut ChaCha12Rng,
    groups: usize,
    column: &str,
    truth: f64,
) -> Option<bool> {
    let workshop = Workshop::draw(rng, groups);
    let outcome = workshop.outcome(rng, SLOPE, BETWEEN, 0.5);
    let fit = least_squares(&workshop.design(), &outcome).ok()?;
    let contrast = fit.pick(column).ok()?;
    let found = fit.clustered(&workshop.groups).ok()?.contrast(&contrast).ok()?;
    Some(covers(found.interval(0.95).ok()?, truth))
}

fn joint_fires(rng: &mut ChaCha12Rng, groups: usize) -> Option<bool> {
    let workshop = Workshop::draw(rng, groups);
    let outcome = workshop.outcome(rng, 0.0, 0.0, 0.5);
    let fit = least_squares(&workshop.design(), &outcome).ok()?;
    let both = Array2::from_shape_fn((2, 3), |(i, j)| f64::from(u8::from(j == i + 1)));
    let test = fit.clustered(&workshop.groups).ok()?.joint(&both).ok()?;
    Some(test.p_value() < 0.05)
}
