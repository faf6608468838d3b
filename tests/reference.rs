//! Values from outside: certified, published, or agreed upon by two independent programs.
//!
//! Each case is a folder of `tests/reference` with the data and an `expected.json` that carries source, licence, tolerances and how the values were verified.
//! Tolerances are those of the case. A value in neither list of a check (compared, or named as `later`) fails it. Three cases may not be copied: they are
//! read where the variable `CANEWRIGHT_REFERENCE_CASES` says, and are reported as ignored where it says nothing.
//!
//! After the checks a table gives, for every case, how many values were compared and the digits of agreement of the worst; `CANEWRIGHT_DIGITS=all` prints
//! every value.

mod reference {
    pub mod case;
    pub mod categorical;
    pub mod charts;
    pub mod harness;
    pub mod lifetimes;
    pub mod linear;
    pub mod mixed;
    pub mod others;
    pub mod penalised;
    pub mod ranks;
    pub mod raters;
    pub mod simultaneous;
}

use libtest_mimic::{Arguments, Trial};
use reference::case::Check;
use reference::harness;

const TOPICS: &[&[(&str, Check)]] = &[
    reference::categorical::CHECKS,
    reference::charts::CHECKS,
    reference::lifetimes::CHECKS,
    reference::linear::CHECKS,
    reference::mixed::CHECKS,
    reference::others::CHECKS,
    reference::penalised::CHECKS,
    reference::ranks::CHECKS,
    reference::raters::CHECKS,
    reference::simultaneous::CHECKS,
];

fn main() {
    // a failed comparison panics with its numbers, which the report below repeats; some panics are provoked
    std::panic::set_hook(Box::new(|_| {}));
    let checks: Vec<(&str, Check)> = TOPICS.concat();
    let mut trials: Vec<Trial> =
        checks.iter().map(|&(case, check)| harness::trial(case, check)).collect();
    trials.extend(harness::own_tests(checks.iter().map(|(case, _)| *case).collect()));
    let conclusion = libtest_mimic::run(&Arguments::from_args(), trials);
    harness::print_agreements();
    conclusion.exit();
}
