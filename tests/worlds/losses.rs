//! What went with losing a piece: what was planted is found at its size, and what was not planted is not found.

use canewright::demo::worlds::Factor;
use canewright::finding::{LossFactor, LossesSection};
use rand_chacha::ChaCha12Rng;

use super::super::simulation::Simulation;
use super::asked::{Log, losses};
use super::average::{Average, Of};
use super::sizes::FACTORS;

type Answer = Log<LossesSection>;

fn factor<'a>(log: &'a Answer, name: &str) -> Option<&'a LossFactor> {
    log.answer.factors.iter().find(|result| result.factor == name)
}

fn anything_stands_out(log: &Answer) -> Option<bool> {
    Some(log.answer.factors.iter().any(|result| result.verdict.stands_out()))
}

fn snug_told(log: &Answer) -> Option<bool> {
    let snug = factor(log, "snug")?;
    Some(snug.verdict.stands_out() && snug.estimate? > 1.0)
}

/// The true odds ratio of one step of the answer.
fn truth(factor: &Factor, result: &LossFactor) -> Option<f64> {
    Some((factor.spoils * result.step? / factor.step).exp())
}

fn covers(factor: &Factor, result: &LossFactor) -> Option<bool> {
    let truth = truth(factor, result)?;
    Some(result.low? <= truth && truth <= result.high?)
}

fn snug_covered(log: &Answer) -> Option<(f64, f64)> {
    let snug = &log.world.factors[log.world.place("snug")?];
    Some((f64::from(covers(snug, factor(log, "snug")?)?), 1.0))
}

/// Intervals that cover, among those of all factors.
fn covered(log: &Answer) -> Option<(f64, f64)> {
    let told = log.world.factors.iter();
    let told: Vec<bool> = told.filter_map(|at| covers(at, factor(log, at.name)?)).collect();
    Some((told.iter().filter(|&&covers| covers).count() as f64, told.len() as f64))
}

fn of(
    scenario: &'static str,
    generator: &mut ChaCha12Rng,
    take: fn(&Answer) -> Option<bool>,
) -> Option<bool> {
    take(losses(scenario, generator)?.as_ref())
}

macro_rules! rate {
    ($claim:literal, $promised:expr, $scenario:literal, $take:expr) => {
        Simulation {
            claim: $claim,
            nominal: $promised.0,
            slack: $promised.1,
            replicates: FACTORS,
            attempt: |generator| of($scenario, generator, $take),
        }
    };
}

type Promise = (f64, (f64, f64));
const AT_MOST_FIVE: Promise = (0.05, (0.05, 0.0));
const AT_LEAST_80: Promise = (0.80, (0.0, 0.20));

pub const RATES: &[Simulation] = &[
    rate!(
        "nothing matters: something goes with losses",
        AT_MOST_FIVE,
        "nothing matters",
        anything_stands_out
    ),
    rate!("spoils the weak: it goes with losses", AT_LEAST_80, "spoils the weak", snug_told),
    rate!(
        "spoils the weak and harms: it goes with losses",
        AT_LEAST_80,
        "spoils the weak and harms",
        snug_told
    ),
];

/// What the daily run leaves out, because it takes long.
pub const FURTHER_RATES: &[Simulation] = &[rate!(
    "nothing matters, 30 factors: something goes with losses",
    AT_MOST_FIVE,
    "nothing matters, 30 factors",
    anything_stands_out
)];

macro_rules! cover {
    ($claim:literal, $scenario:literal, $take:expr) => {
        Average {
            claim: $claim,
            promised: (0.93, 0.97),
            logs: FACTORS,
            of: Of::Share,
            attempt: |generator| $take(losses($scenario, generator)?.as_ref()),
        }
    };
}

pub const AVERAGES: &[Average] = &[
    cover!("spoils alike: the odds of what spoils are covered", "spoils alike", snug_covered),
    cover!("spoils alike: the odds of all factors are covered", "spoils alike", covered),
    cover!("nothing matters: the odds of all factors are covered", "nothing matters", covered),
];
