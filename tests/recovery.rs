//! Simulated truth: intervals must cover it as often as they say, and a test of what is not there must fire as seldom as it says.
//!
//! The everyday run is small. `CANEWRIGHT_RECOVERY=full cargo test --test recovery` runs every simulation at full size and prints the same table.
//! A slack of up to 0.015 without a word of its own stands for the law of large samples on which the method rests, or, below, for what the p values of whole
//! counts cannot reach; where a method is known to be further off it says after whom.
//! Seeds are fixed: the table is the same on any machine and any number of threads.

mod recovery {
    pub mod agreement;
    pub mod categorical;
    pub mod charts;
    pub mod families;
    pub mod imputed;
    pub mod lifetime_curves;
    pub mod lifetime_models;
    pub mod lifetimes;
    pub mod linear;
    pub mod logistic;
    pub mod mixed;
    pub mod ordered;
    pub mod permutations;
    pub mod predicted;
    pub mod promises;
    pub mod proportion;
    pub mod ranks;
    pub mod sequential;
    pub mod simulation;
    pub mod terms;
    pub mod trials;
    pub mod variances;
    pub mod workshop;
}

use libtest_mimic::{Arguments, Trial};
use recovery::simulation::{self, Simulation};

const TOPICS: &[&[Simulation]] = &[
    recovery::linear::SIMULATIONS,
    recovery::mixed::SIMULATIONS,
    recovery::terms::SIMULATIONS,
    recovery::logistic::SIMULATIONS,
    recovery::categorical::SIMULATIONS,
    recovery::ordered::SIMULATIONS,
    recovery::lifetimes::SIMULATIONS,
    recovery::lifetime_models::SIMULATIONS,
    recovery::lifetime_curves::SIMULATIONS,
    recovery::ranks::SIMULATIONS,
    recovery::permutations::SIMULATIONS,
    recovery::variances::SIMULATIONS,
    recovery::families::SIMULATIONS,
    recovery::proportion::SIMULATIONS,
    recovery::sequential::SIMULATIONS,
    recovery::agreement::SIMULATIONS,
    recovery::imputed::SIMULATIONS,
    recovery::predicted::SIMULATIONS,
    recovery::trials::SIMULATIONS,
    recovery::charts::SIMULATIONS,
];

fn main() {
    let mut trials: Vec<Trial> = TOPICS.concat().into_iter().map(simulation::trial).collect();
    trials.extend(simulation::own_tests());
    let conclusion = libtest_mimic::run(&Arguments::from_args(), trials);
    simulation::print_rates();
    conclusion.exit();
}
