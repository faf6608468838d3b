//! Logs with planted truth, read and asked as any log is: do the answers find what was planted, and nothing else?
//!
//! The everyday run takes a few logs of each world. `CANEWRIGHT_RECOVERY=full cargo test --test worlds` takes 200 of each and prints the same table.
//! `CANEWRIGHT_WORLDS=all` tries further claims, which the daily run leaves out because they take long. Seeds are fixed: the table is the same on any machine.

#[path = "recovery/simulation.rs"]
mod simulation;

mod worlds {
    pub mod asked;
    pub mod average;
    pub mod blanks;
    pub mod claims;
    pub mod decide;
    pub mod drift;
    pub mod factors;
    pub mod families;
    pub mod few;
    pub mod life;
    pub mod losses;
    pub mod lots;
    pub mod makers;
    pub mod oracle;
    pub mod sizes;
    pub mod sort;
    pub mod trial;
    pub mod trust;
}

use libtest_mimic::{Arguments, Trial};
use worlds::average;
use worlds::claims::{CLAIMS, Claims, FURTHER};

fn main() {
    let mut arguments = Arguments::from_args();
    // each claim uses all threads by itself, and claims about the same world share its answers
    arguments.test_threads.get_or_insert(1);
    let mut claims: Vec<&Claims> = CLAIMS.iter().collect();
    if std::env::var("CANEWRIGHT_WORLDS").is_ok_and(|which| which == "all") {
        claims.extend(&FURTHER);
    }
    let rates = claims.iter().flat_map(|claims| {
        claims.rates.iter().map(|rate| simulation::trial(*rate).with_kind(claims.about))
    });
    let averages = claims.iter().flat_map(|claims| {
        claims.averages.iter().map(|taken| average::trial(*taken).with_kind(claims.about))
    });
    let mut trials: Vec<Trial> = rates.chain(averages).collect();
    trials.extend(simulation::own_tests());
    trials.extend(average::own_tests());
    let conclusion = libtest_mimic::run(&arguments, trials);
    simulation::print_rates();
    average::print_averages();
    conclusion.exit();
}
