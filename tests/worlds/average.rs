//! Claims about averages over logs: a share of many intervals in each log, or the difference between two answers to the same log.

use canewright::stats::numeric::{sum, t_quantile};
use canewright::stats::resample::replicate;
use libtest_mimic::{Failed, Trial};
use rand_chacha::ChaCha12Rng;
use std::sync::Mutex;

use super::super::simulation::{Line, asked};

/// The seed of every claim; each log has a stream of its own. The same as of the claims about rates, so that worlds are shared.
const SEED: u64 = 20_260_101;
/// An average fails when chance alone would bring it so far out this rarely.
const ALARM: f64 = 1e-4;
/// More logs without an answer than this share fail the claim.
const UNANSWERED: f64 = 0.02;

/// An average that a method promises, and a way to take it from one log.
#[derive(Clone, Copy)]
pub struct Average {
    pub claim: &'static str,
    /// Where the true average may lie.
    pub promised: (f64, f64),
    /// Logs of the everyday run and of the full one.
    pub logs: (usize, usize),
    pub of: Of,
    /// A sum and how many things it is over; none where the log got no answer.
    pub attempt: fn(&mut ChaCha12Rng) -> Option<(f64, f64)>,
}

#[derive(Clone, Copy, PartialEq)]
pub enum Of {
    /// Things that hold or do not.
    Share,
    /// Differences, one a log.
    Difference,
}

struct Observed {
    average: f64,
    error: f64,
    answered: usize,
    asked: usize,
    /// Over how many things.
    over: f64,
}

static LINES: Mutex<Vec<Line>> = Mutex::new(Vec::new());

/// The claim as one trial of the test program.
pub fn trial(average: Average) -> Trial {
    Trial::test(average.claim, move || {
        let (line, verdict) = tried(&average);
        LINES.lock().map_err(|error| error.to_string())?.push(line);
        verdict
    })
}

/// Takes the average and judges it.
pub fn tried(average: &Average) -> (Line, Result<(), Failed>) {
    let observed = run(average);
    let verdict = judge(average, &observed);
    let Observed { average: taken, error, answered, .. } = observed;
    let line =
        Line { claim: average.claim, promised: average.promised, observed: taken, error, answered };
    (line, verdict)
}

/// Average and its error over logs: sums over sums, with the error by the residual of each log (the ratio estimator: Cochran 1977,
/// Sampling Techniques, chapter 6; from memory).
fn run(claim: &Average) -> Observed {
    let asked = asked(claim.logs);
    let logs: Vec<(f64, f64)> = replicate(SEED, asked, |generator| (claim.attempt)(generator))
        .into_iter()
        .flatten()
        .collect();
    let total =
        |part: &dyn Fn(&(f64, f64)) -> f64| sum(&logs.iter().map(part).collect::<Vec<f64>>());
    let (answered, over) = (logs.len(), total(&|log| log.1));
    let average = total(&|log| log.0) / over;
    let squares = total(&|log| (log.0 - average * log.1).powi(2));
    let logs = answered as f64;
    let error = (squares * logs / (logs - 1.0)).sqrt() / over;
    Observed { average, error, answered, asked, over }
}

fn judge(claim: &Average, observed: &Observed) -> Result<(), Failed> {
    let Observed { average, answered, asked, .. } = *observed;
    if (answered as f64) < (1.0 - UNANSWERED) * asked as f64 || answered < 2 || !average.is_finite()
    {
        return Err(format!("only {answered} of {asked} gave an answer").into());
    }
    let reach = t_quantile(1.0 - ALARM, answered as f64 - 1.0);
    let (low, high) = claim.promised;
    let beyond = |end: f64, by: f64| by > reach * error_at(claim, observed, end);
    if beyond(low, low - average) || beyond(high, average - high) {
        return Err(
            format!("{average} over {answered} logs, where {low} to {high} was promised").into()
        );
    }
    Ok(())
}

/// A few logs that all agree show no scatter; the error of a share is at least that of as many free trials with the promised share.
fn error_at(claim: &Average, observed: &Observed, end: f64) -> f64 {
    match claim.of {
        Of::Share => observed.error.max((end * (1.0 - end)).max(0.0).sqrt() / observed.over.sqrt()),
        Of::Difference => observed.error,
    }
}

/// Prints the promised and the observed average of every claim that was tried, with the Monte Carlo error.
pub fn print_averages() {
    let mut lines = LINES.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    lines.sort_by_key(|line| line.claim);
    println!("{:<84} promised          observed  error   logs", "claim about an average");
    for Line { claim, promised: (low, high), observed, error, answered } in lines.iter() {
        println!("{claim:<84} {low:7.3} {high:7.3}  {observed:8.4}  {error:.4} {answered:6}");
    }
}

/// The judge must be able to fail.
pub fn own_tests() -> Vec<Trial> {
    let coins = |promised| Average {
        claim: "ten coins",
        promised,
        logs: (100, 100),
        of: Of::Share,
        attempt: |generator| {
            let heads = (0..10).filter(|_| rand::RngExt::random_bool(generator, 0.5)).count();
            Some((heads as f64, 10.0))
        },
    };
    let same = move |attempt| Average { of: Of::Difference, attempt, ..coins((0.0, 1.0)) };
    let holds = |claim: Average| judge(&claim, &run(&claim)).is_ok();
    let expect = |right: bool| if right { Ok(()) } else { Err(Failed::from("the judge erred")) };
    vec![
        Trial::test("fair_coins_are_believed", move || expect(holds(coins((0.5, 0.5))))),
        Trial::test("coins_said_to_be_bent_are_caught", move || {
            expect(!holds(coins((0.6, 1.0))) && !holds(coins((0.0, 0.4))))
        }),
        Trial::test("a_small_difference_that_is_always_there_is_caught", move || {
            expect(!holds(same(|_| Some((-0.01, 1.0)))) && holds(same(|_| Some((0.0, 1.0)))))
        }),
        Trial::test("a_method_that_seldom_answers_an_average_fails", move || {
            expect(!holds(same(|_| None)))
        }),
    ]
}
