//! Dropping pieces by an early measurement: what means nothing is not called worth it, and the judged gain is the true one.

use std::sync::{Arc, OnceLock};

use canewright::demo::worlds::{Loss, World, scenarios};
use canewright::finding::{Section, SortResult, SortVerdict};
use rand::RngExt;
use rand_chacha::ChaCha12Rng;

use super::super::simulation::Simulation;
use super::asked::{Log, ask, kept, studied};
use super::average::{Average, Of};
use super::sizes::SORTED;

type Answer = Log<Vec<SortResult>>;

const GOOD_AT: f64 = 10.5;
/// Pieces of the large draw that tells the true gain: so many lots of so many.
const LARGE: [usize; 2] = [150, 60];

/// Sheen of the cane is worth `effect` points a step; one player rates, skill stands still.
fn sheen(effect: f64) -> World {
    let mut world = World {
        players: scenarios::one_player().players,
        trend: 0.0,
        loss: Loss::ONE_IN_TEN,
        ..scenarios::few(&[13; 14])
    };
    let factors = world.factors.iter_mut();
    factors.filter(|factor| factor.name == "sheen").for_each(|factor| factor.effect = effect);
    world
}

fn world(name: &str) -> World {
    sheen(if name == "sheen tells" { 1.0 } else { 0.0 })
}

fn told(name: &'static str, generator: &mut ChaCha12Rng) -> Option<Arc<Answer>> {
    let seed = generator.random();
    kept(("sort", name, seed), || {
        let world = world(name);
        let drawn = world.draw(seed);
        match ask("sort", &studied(&drawn.files)).ok()?.section {
            Section::Sort(answer) => Some(Log { world, drawn, answer }),
            _ => None,
        }
    })
}

/// What sheen reads and whether the piece is good, in a draw so large that chance hardly counts; made once a world.
fn large(name: &str) -> &'static [(f64, f64)] {
    static DRAWN: [OnceLock<Vec<(f64, f64)>>; 2] = [OnceLock::new(), OnceLock::new()];
    DRAWN[usize::from(name == "sheen tells")].get_or_init(|| {
        let world = World { lots: vec![LARGE[1]; LARGE[0]], ..world(name) };
        let sheen = world.place("sheen").expect("a factor of the world");
        let drawn = world.draw(77).pieces.into_iter().map(|piece| {
            let mark = piece.ratings.first().map(|(_, mark)| *mark);
            (piece.readings[sheen][0], f64::from(mark.is_some_and(|mark| mark >= GOOD_AT)))
        });
        drawn.collect()
    })
}

/// Good reeds more of ten that these limits give.
fn true_gain(name: &str, result: &SortResult) -> f64 {
    let share = |keeps: &dyn Fn(f64) -> bool| {
        let kept: Vec<f64> =
            large(name).iter().filter(|(value, _)| keeps(*value)).map(|(_, good)| *good).collect();
        kept.iter().sum::<f64>() / kept.len() as f64
    };
    let [low, high] = [result.keep_low, result.keep_high];
    let inside = |value: f64| {
        low.is_none_or(|low| value > low - 1e-9) && high.is_none_or(|high| value < high + 1e-9)
    };
    10.0 * (share(&inside) - share(&|_| true))
}

fn of_sheen(log: &Answer) -> Option<&SortResult> {
    log.answer.iter().find(|result| result.measure == "sheen")
}

/// The judged gain less the true one of the limits that were chosen.
fn off(name: &'static str, generator: &mut ChaCha12Rng) -> Option<(f64, f64)> {
    let log = told(name, generator)?;
    let result = of_sheen(&log)?;
    Some((result.gain - true_gain(name, result), 1.0))
}

fn covered(name: &'static str, generator: &mut ChaCha12Rng) -> Option<(f64, f64)> {
    let log = told(name, generator)?;
    let result = of_sheen(&log)?;
    let truth = true_gain(name, result);
    Some((f64::from(result.low <= truth && truth <= result.high), 1.0))
}

pub const AVERAGES: &[Average] = &[
    Average {
        // a true gain of 1.8; lots fewer than all choose a little worse, so the judgement is on the careful side
        claim: "sort: the judged gain is at most the true one and a quarter reed below it at most, sheen tells",
        promised: (-0.25, 0.05),
        logs: SORTED,
        of: Of::Difference,
        attempt: |generator| off("sheen tells", generator),
    },
    Average {
        claim: "sort: the judged gain is the true one, nothing tells",
        promised: (-0.1, 0.1),
        logs: SORTED,
        of: Of::Difference,
        attempt: |generator| off("nothing tells", generator),
    },
    Average {
        claim: "sort: the interval holds the true gain, sheen tells",
        promised: (0.94, 1.0),
        logs: SORTED,
        of: Of::Share,
        attempt: |generator| covered("sheen tells", generator),
    },
];

fn worth_it(name: &'static str, generator: &mut ChaCha12Rng) -> Option<bool> {
    let log = told(name, generator)?;
    Some(log.answer.iter().any(|result| result.verdict == SortVerdict::WorthIt))
}

pub const RATES: &[Simulation] = &[
    Simulation {
        claim: "sort: nothing tells, and something is called worth it",
        nominal: 0.05,
        slack: (0.05, 0.0),
        replicates: SORTED,
        attempt: |generator| worth_it("nothing tells", generator),
    },
    Simulation {
        claim: "sort: sheen tells, and something is called worth it",
        nominal: 0.7,
        slack: (0.0, 0.3),
        replicates: SORTED,
        attempt: |generator| worth_it("sheen tells", generator),
    },
];
