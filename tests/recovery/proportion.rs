//! Exact intervals of a share.

use crate::recovery::simulation::Simulation;
use crate::recovery::workshop::covers;
use canewright::stats::proportion::{clopper_pearson, wilson};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

/// Never below the promise, and often above it: the price of being exact (Clopper & Pearson 1934; Brown, Cai & DasGupta 2001).
const fn exact(claim: &'static str, attempt: fn(&mut ChaCha12Rng) -> Option<bool>) -> Simulation {
    Simulation { claim, nominal: 0.95, slack: (0.0, 0.05), replicates: (2_000, 50_000), attempt }
}

pub const SIMULATIONS: &[Simulation] = &[
    exact("clopper_pearson_covers_a_share_of_3_in_100_with_20_trials", |rng| share(rng, 0.03, 20)),
    exact("clopper_pearson_covers_a_share_of_3_in_10_with_40_trials", |rng| share(rng, 0.3, 40)),
    exact("clopper_pearson_covers_a_share_of_1_in_2_with_12_trials", |rng| share(rng, 0.5, 12)),
    // about as often as promised over all shares, and more or less at one of them (Brown, Cai & DasGupta 2001, Statistical Science 16, 101-133)
    Simulation {
        slack: (0.02, 0.02),
        ..exact("wilson_covers_shares_of_all_sizes_with_20_trials", any_share)
    },
];

fn share(rng: &mut ChaCha12Rng, truth: f64, trials: u64) -> Option<bool> {
    let successes = (0..trials).filter(|_| rng.random_bool(truth)).count() as u64;
    let found = clopper_pearson(successes, trials, 0.95).ok()?;
    Some(covers((found.low, found.high), truth))
}

/// A share of 0 to 1, drawn by lot.
fn any_share(rng: &mut ChaCha12Rng) -> Option<bool> {
    let truth: f64 = rng.random();
    let successes = (0..20).filter(|_| rng.random_bool(truth)).count() as u64;
    let found = wilson(successes, 20, 0.95).ok()?;
    Some(covers((found.low, found.high), truth))
}
