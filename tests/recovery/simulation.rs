//! One claim about a method in the long run, and the account of how it fared.

use canewright::stats::resample::replicate;
use libtest_mimic::{Failed, Trial};
use rand_chacha::ChaCha12Rng;
use statrs::distribution::{Binomial, DiscreteCDF};
use std::sync::Mutex;

/// The seed of every simulation; each replicate has a stream of its own.
const SEED: u64 = 20_260_101;
/// A rate fails when chance alone would bring it so far out this rarely.
const ALARM: f64 = 1e-4;
/// More replicates without an answer than this share fail the simulation.
const UNANSWERED: f64 = 0.02;

/// A share that a method promises, and a way to try it once.
#[derive(Clone, Copy)]
pub struct Simulation {
    pub claim: &'static str,
    /// The promised share.
    pub nominal: f64,
    /// How far below and above the promise the method may truly lie: 0 and 0 for an exact method, more for an approximate or a cautious one.
    pub slack: (f64, f64),
    /// Replicates of the everyday run and of the full one.
    pub replicates: (usize, usize),
    /// One replicate: did the interval cover, did the test fire; none where the method gave no answer.
    pub attempt: fn(&mut ChaCha12Rng) -> Option<bool>,
}

struct Rate {
    hits: usize,
    answered: usize,
    asked: usize,
}

static LINES: Mutex<Vec<Line>> = Mutex::new(Vec::new());

/// Whether the simulations run at full size.
pub fn is_full() -> bool {
    std::env::var("CANEWRIGHT_RECOVERY").is_ok_and(|value| value == "full")
}

/// How often a claim is tried: as many as `CANEWRIGHT_REPLICATES` says where it is set, else the everyday or the full number.
pub fn asked((everyday, full): (usize, usize)) -> usize {
    let given = std::env::var("CANEWRIGHT_REPLICATES").ok().and_then(|value| value.parse().ok());
    given.unwrap_or(if is_full() { full } else { everyday })
}

/// A claim and how it fared, for a table.
pub struct Line {
    pub claim: &'static str,
    /// Where the truth may lie.
    pub promised: (f64, f64),
    pub observed: f64,
    /// The Monte Carlo error of what was observed.
    pub error: f64,
    /// Logs, or replicates, that gave an answer.
    pub answered: usize,
}

/// The simulation as one trial of the test program.
pub fn trial(simulation: Simulation) -> Trial {
    Trial::test(simulation.claim, move || {
        let (line, verdict) = tried(&simulation);
        LINES.lock().map_err(|error| error.to_string())?.push(line);
        verdict
    })
}

/// Runs the simulation and judges it.
pub fn tried(simulation: &Simulation) -> (Line, Result<(), Failed>) {
    let rate = run(simulation);
    let observed = rate.hits as f64 / rate.answered as f64;
    let Simulation { claim, nominal, slack: (below, above), .. } = *simulation;
    let line = Line {
        claim,
        promised: ((nominal - below).max(0.0), (nominal + above).min(1.0)),
        observed,
        error: (observed * (1.0 - observed) / rate.answered as f64).sqrt(),
        answered: rate.answered,
    };
    (line, judge(simulation, &rate))
}

fn run(simulation: &Simulation) -> Rate {
    let asked = asked(simulation.replicates);
    let attempts = replicate(SEED, asked, |generator| (simulation.attempt)(generator));
    let answers: Vec<bool> = attempts.into_iter().flatten().collect();
    Rate { hits: answers.iter().filter(|&&hit| hit).count(), answered: answers.len(), asked }
}

fn judge(simulation: &Simulation, rate: &Rate) -> Result<(), Failed> {
    if (rate.answered as f64) < (1.0 - UNANSWERED) * rate.asked as f64 {
        return Err(format!("only {} of {} gave an answer", rate.answered, rate.asked).into());
    }
    let (below, above) = simulation.slack;
    let lowest = (simulation.nominal - below).max(0.0);
    let highest = (simulation.nominal + above).min(1.0);
    if at_most(rate, lowest) < ALARM || at_least(rate, highest) < ALARM {
        let Rate { hits, answered, .. } = rate;
        return Err(
            format!("{hits} of {answered}, where {lowest} to {highest} was promised").into()
        );
    }
    Ok(())
}

/// The chance of so few hits or fewer, if the share is `share`.
fn at_most(rate: &Rate, share: f64) -> f64 {
    match Binomial::new(share, rate.answered as u64) {
        Ok(binomial) => binomial.cdf(rate.hits as u64),
        Err(_) => 0.0,
    }
}

/// The chance of so many hits or more, if the share is `share`.
fn at_least(rate: &Rate, share: f64) -> f64 {
    match Binomial::new(share, rate.answered as u64) {
        Ok(_) if rate.hits == 0 => 1.0,
        Ok(binomial) => binomial.sf(rate.hits as u64 - 1),
        Err(_) => 0.0,
    }
}

/// Prints the promised and the observed share of every simulation that ran, with the Monte Carlo error.
pub fn print_rates() {
    let mut lines = LINES.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    lines.sort_by_key(|line| line.claim);
    println!("{:<84} promised       observed  error     of", "claim");
    for Line { claim, promised: (low, high), observed, error, answered } in lines.iter() {
        println!("{claim:<84} {low:6.3} {high:6.3}  {observed:8.4}  {error:.4} {answered:6}");
    }
}

/// The judge must be able to fail.
pub fn own_tests() -> Vec<Trial> {
    let coin = |share: f64, slack| Simulation {
        claim: "a coin",
        nominal: share,
        slack,
        replicates: (400, 400),
        attempt: |generator| Some(rand::RngExt::random_bool(generator, 0.5)),
    };
    let judged = move |simulation: Simulation| judge(&simulation, &run(&simulation)).is_ok();
    let expect = |holds: bool| if holds { Ok(()) } else { Err(Failed::from("the judge erred")) };
    vec![
        Trial::test("a_fair_coin_is_believed", move || expect(judged(coin(0.5, (0.0, 0.0))))),
        Trial::test("a_coin_said_to_be_bent_is_caught", move || {
            expect(!judged(coin(0.7, (0.0, 0.0))) && !judged(coin(0.3, (0.0, 0.0))))
        }),
        Trial::test("slack_lets_a_cautious_method_pass", move || {
            expect(judged(coin(0.3, (0.0, 0.25))) && !judged(coin(0.3, (0.25, 0.0))))
        }),
        Trial::test("a_method_that_seldom_answers_fails", move || {
            let silent = Simulation { attempt: |_| None, ..coin(0.5, (0.5, 0.5)) };
            expect(!judged(silent))
        }),
    ]
}
