//! Simulated truth: intervals must cover it as often as they say, and a test of what is not there must fire as seldom as it says.
//!
//! The everyday run is small. `CANEWRIGHT_RECOVERY=full cargo test --test recovery` runs every simulation at full size and prints the same table.
//! Seeds are fixed: the table is the same on any machine and any number of threads.

mod recovery {
    pub mod categorical;
    pub mod lifetimes;
    pub mod linear;
    pub mod mixed;
    pub mod proportion;
    pub mod ranks;
    pub mod sequential;
    pub mod simulation;
    pub mod workshop;
}

use libtest_mimic::{Arguments, Trial};
use recovery::simulation::{self, Simulation};

const TOPICS: &[&[Simulation]] = &[
    recovery::linear::SIMULATIONS,
    recovery::mixed::SIMULATIONS,
    recovery::categorical::SIMULATIONS,
    recovery::lifetimes::SIMULATIONS,
    recovery::ranks::SIMULATIONS,
    recovery::proportion::SIMULATIONS,
    recovery::sequential::SIMULATIONS,
];

fn main() {
    let mut trials: Vec<Trial> = TOPICS.concat().into_iter().map(simulation::trial).collect();
    trials.extend(simulation::own_tests());
    let conclusion = libtest_mimic::run(&Arguments::from_args(), trials);
    simulation::print_rates();
    conclusion.exit();
}
