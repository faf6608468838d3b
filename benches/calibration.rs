//! How often the answers are right, on invented workshops whose truth is known: the table of `reports/calibration.md`.
//!
//! `CANEWRIGHT_RECOVERY=full cargo bench --bench calibration > reports/calibration.md`; an hour or so. The claims are those of `tests/worlds`: logs are written as files, read as any log is, and
//! asked, all in this process. `CANEWRIGHT_REPLICATES=20` takes so many logs of each claim; `CANEWRIGHT_RECOVERY=full` the number that each claim states, 200 and more.

#[path = "../tests/recovery/simulation.rs"]
#[allow(dead_code, reason = "the tests print and judge by themselves")]
mod simulation;

#[path = "../tests/worlds"]
#[allow(dead_code, reason = "the tests print and judge by themselves")]
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

use simulation::Line;
use worlds::average;
use worlds::claims::{CLAIMS, Claims, FURTHER};

const HEAD: &str = "# How often the answers are right

Every line is a claim about answers to **invented** logs, drawn anew each time from a workshop whose truth is known (`src/demo/worlds`): written to files, read and asked as
any log is. *Promised* is where the truth of the claim may lie; *error* is the Monte Carlo error of what was observed; *answers* counts the logs, or the trials, that gave one. A
line is marked only where it lies outside its promise by more than such errors explain (one chance in 10,000).
Written by

```sh
CANEWRIGHT_RECOVERY=full cargo bench --bench calibration > reports/calibration.md
```
";

fn main() {
    println!("{HEAD}");
    // both questions of a world are asked of the same logs, which are kept in memory until the claims about them are through
    let threads = rayon::ThreadPoolBuilder::new().stack_size(1 << 28).build();
    let threads = threads.expect("threads can be had");
    for claims in CLAIMS.iter().chain(&FURTHER) {
        threads.install(|| about(claims));
    }
}

fn about(Claims { about, rates, averages }: &Claims) {
    println!("## {about}\n\n| claim | promised | observed | error | answers | |");
    println!("| --- | --- | --- | --- | --- | --- |");
    let rates = rates.iter().map(simulation::tried);
    let averages = averages.iter().map(average::tried);
    rates.chain(averages).for_each(|(line, verdict)| print(&line, verdict.is_ok()));
    println!();
}

fn print(line: &Line, holds: bool) {
    let Line { claim, promised: (low, high), observed, error, answered } = line;
    let promised = match (low.is_finite() && *low > -9.0, high.is_finite()) {
        (true, true) => format!("{low:.3} to {high:.3}"),
        (true, false) => format!("{low:.3} or more"),
        (false, _) => format!("{high:.3} or less"),
    };
    let claim = claim.replace('|', "\\|");
    let mark = if holds { "" } else { "**outside**" };
    println!("| {claim} | {promised} | {observed:.4} | {error:.4} | {answered} | {mark} |");
}
