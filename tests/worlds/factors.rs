//! Which factors predict a good reed: what was planted is found at its size, and what was not planted is not found.

use canewright::demo::worlds::Factor;
use canewright::finding::{FactorResult, FactorsSection, Verdict};
use rand_chacha::ChaCha12Rng;
use serde_json::Value;

use super::super::simulation::Simulation;
use super::asked::{Log, factors};
use super::average::{Average, Of};
use super::oracle;
use super::sizes::FACTORS;

type Answer = Log<FactorsSection>;

fn stands_out(result: &FactorResult) -> bool {
    matches!(result.verdict, Verdict::Clear | Verdict::Leaning)
}

fn anything_stands_out(log: &Answer) -> Option<bool> {
    Some(log.answer.list.iter().any(stands_out))
}

fn covers(result: &FactorResult, truth: f64) -> Option<bool> {
    Some(result.low? <= truth && truth <= result.high?)
}

/// The points that one step of the answer is truly worth.
fn truth(log: &Answer, factor: &Factor, result: &FactorResult) -> Option<f64> {
    Some(log.world.total_effect(factor) * result.step? / factor.step)
}

/// Intervals that cover the true total effect within lots, among those that are given.
fn covered(log: &Answer) -> Option<(f64, f64)> {
    let within = |factor: &Factor| {
        let result = log.factor(factor.name).filter(|result| result.scope == "within lots")?;
        covers(result, truth(log, factor, result)?)
    };
    let told: Vec<bool> = log.world.factors.iter().filter_map(within).collect();
    Some((told.iter().filter(|&&covers| covers).count() as f64, told.len() as f64))
}

fn found(log: &Answer, name: &str) -> Option<bool> {
    log.factor(name).map(stands_out)
}

/// Glide and the ratings of the two worlds are the same but for rounding, so the same must be said of glide, whatever is said of the later factor.
fn told_the_same_directly(generator: &mut ChaCha12Rng) -> Option<bool> {
    const ROUNDING: f64 = 0.02;
    let way = factors("by way of later", &mut generator.clone())?;
    let direct = factors("the same directly", generator)?;
    let (way, direct) = (way.factor("glide")?, direct.factor("glide")?);
    let apart = |a: Option<f64>, b: Option<f64>| Some((a? - b?).abs());
    let most = apart(way.estimate, direct.estimate)?
        .max(apart(way.low, direct.low)?)
        .max(apart(way.high, direct.high)?);
    Some(most <= ROUNDING)
}

fn gloss_covered(log: &Answer) -> Option<bool> {
    let result = log.factor("gloss")?;
    covers(result, truth(log, &log.world.factors[log.world.place("gloss")?], result)?)
}

/// Found, less found by one who knows the model.
fn against_the_oracle(
    scenario: &'static str,
    generator: &mut ChaCha12Rng,
    name: &str,
) -> Option<(f64, f64)> {
    let log = factors(scenario, generator)?;
    let ours = found(&log, name)?;
    let oracle = oracle::finds(&log.world, &log.drawn, name)?;
    Some((f64::from(ours) - f64::from(oracle), 1.0))
}

fn tangled(log: &Answer, name: &str) -> Option<bool> {
    log.factor(name).map(|result| result.verdict == Verdict::Tangled)
}

/// A key of the result as it stands in `results.json`; null where it has none.
fn key(result: &FactorResult, key: &str) -> Value {
    serde_json::to_value(result)
        .ok()
        .and_then(|value| value.get(key).cloned())
        .unwrap_or(Value::Null)
}

fn number(value: &Value, key: &str) -> Option<f64> {
    value.get(key).and_then(Value::as_f64)
}

/// The key `spoilage` holds the change of pieces lost in ten for one more step; it is told where the whole interval lies above 0.
fn told_to_spoil(result: &FactorResult) -> bool {
    number(&key(result, "spoilage"), "low").is_some_and(|low| low > 0.0)
}

fn snug_told(log: &Answer) -> Option<bool> {
    log.factor("snug").map(told_to_spoil)
}

/// What spoils pieces and looks good among those that are left is not praised without that word.
fn snug_praised_unwarned(log: &Answer) -> Option<bool> {
    let result = log.factor("snug")?;
    Some(stands_out(result) && result.estimate? > 0.0 && !told_to_spoil(result))
}

/// One step of one reading is worth reliability times the true effect: 0.5 times 0.5 points (Carroll et al. 2006, section 3.2).
fn reading_covered(log: &Answer) -> Option<bool> {
    let result = log.factor("heft")?;
    covers(result, 0.25 * result.step?)
}

fn true_step_covered(log: &Answer) -> Option<bool> {
    let result = log.factor("heft")?;
    let corrected = key(result, "true_step");
    let truth = 0.5 * result.step?;
    Some(
        number(&corrected, "low").is_some_and(|low| low <= truth)
            && number(&corrected, "high").is_some_and(|high| truth <= high),
    )
}

/// Whether the best value, mm, lies in the interval of the sweet spot; an unbounded one covers anything, and none nothing.
fn best_covered(log: &Answer, best_mm: f64) -> Option<bool> {
    let spot = key(log.factor("tip_opening_mm")?, "sweet_spot");
    let is_unbounded = spot.get("unbounded") == Some(&Value::Bool(true));
    let holds = number(&spot, "low").is_some_and(|low| low <= best_mm)
        && number(&spot, "high").is_some_and(|high| best_mm <= high);
    Some(is_unbounded || holds)
}

fn inner_best_covered(log: &Answer) -> Option<bool> {
    best_covered(log, 1.23)
}

/// A best value where none is in reach: an interval of two finite ends that leaves out the true one.
fn best_invented(log: &Answer) -> Option<bool> {
    let spot = key(log.factor("tip_opening_mm")?, "sweet_spot");
    Some(!spot.is_null() && !best_covered(log, 1.55)?)
}

fn of(
    scenario: &'static str,
    generator: &mut ChaCha12Rng,
    take: fn(&Answer) -> Option<bool>,
) -> Option<bool> {
    take(factors(scenario, generator)?.as_ref())
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
const AT_LEAST_95: Promise = (0.95, (0.0, 0.05));
const AT_LEAST_80: Promise = (0.80, (0.0, 0.20));
const COVERS: Promise = (0.95, (0.02, 0.02));

pub const RATES: &[Simulation] = &[
    rate!(
        "nothing matters: something stands out",
        AT_MOST_FIVE,
        "nothing matters",
        anything_stands_out
    ),
    rate!(
        "assigned by lot quality: the days stand out",
        AT_MOST_FIVE,
        "assigned by lot quality",
        |log| found(log, "forming_days")
    ),
    rate!("fixed by lot: the days are tangled", AT_LEAST_95, "fixed by lot", |log| tangled(
        log,
        "forming_days"
    )),
    rate!("by way of later: the later one is covered", COVERS, "by way of later", gloss_covered),
    rate!(
        "follows what matters: the later one is covered",
        COVERS,
        "follows what matters",
        gloss_covered
    ),
    rate!(
        "follows what matters: the later one stands out",
        AT_MOST_FIVE,
        "follows what matters",
        |log| found(log, "gloss")
    ),
    Simulation {
        claim: "by way of later: its interval is the same directly",
        nominal: 1.0,
        slack: (0.0, 0.0),
        replicates: FACTORS,
        attempt: told_the_same_directly,
    },
    rate!(
        "read with error: a step of one reading is covered",
        COVERS,
        "read with error",
        reading_covered
    ),
    rate!(
        "follows what matters, few reeds: the later one is covered",
        COVERS,
        "follows what matters, few reeds",
        gloss_covered
    ),
    rate!(
        "follows what matters, few reeds: the later one stands out",
        AT_MOST_FIVE,
        "follows what matters, few reeds",
        |log| found(log, "gloss")
    ),
];

pub const AVERAGES: &[Average] = &[
    Average {
        claim: "identified: intervals within lots cover",
        promised: (0.93, 0.97),
        logs: FACTORS,
        of: Of::Share,
        attempt: |generator| covered(factors("identified", generator)?.as_ref()),
    },
    Average {
        claim: "nothing matters: intervals within lots cover",
        promised: (0.93, 0.97),
        logs: FACTORS,
        of: Of::Share,
        attempt: |generator| covered(factors("nothing matters", generator)?.as_ref()),
    },
    Average {
        claim: "by way of later: found as often as the same directly",
        promised: (-0.02, 0.02),
        logs: FACTORS,
        of: Of::Difference,
        attempt: |generator| {
            let way = found(factors("by way of later", &mut generator.clone())?.as_ref(), "glide")?;
            let direct = found(factors("the same directly", generator)?.as_ref(), "glide")?;
            Some((f64::from(way) - f64::from(direct), 1.0))
        },
    },
];

/// What the daily run leaves out, because it takes long.
pub const FURTHER_RATES: &[Simulation] = &[
    rate!(
        "nothing matters, 15 factors: something stands out",
        AT_MOST_FIVE,
        "nothing matters, 15 factors",
        anything_stands_out
    ),
    rate!(
        "nothing matters, 30 factors: something stands out",
        AT_MOST_FIVE,
        "nothing matters, 30 factors",
        anything_stands_out
    ),
    rate!("spoils the weak: it is told to spoil", AT_LEAST_80, "spoils the weak", snug_told),
    rate!(
        "spoils the weak and harms: it is told to spoil",
        AT_LEAST_80,
        "spoils the weak and harms",
        snug_told
    ),
    rate!(
        "spoils the weak: it is praised without a word",
        AT_MOST_FIVE,
        "spoils the weak",
        snug_praised_unwarned
    ),
    rate!(
        "spoils the weak and harms: it is praised without a word",
        AT_MOST_FIVE,
        "spoils the weak and harms",
        snug_praised_unwarned
    ),
    rate!("read with error: a true step is covered", COVERS, "read with error", true_step_covered),
    rate!(
        "sweet spot inside: its interval covers",
        COVERS,
        "sweet spot inside",
        inner_best_covered
    ),
    rate!("sweet spot outside: one is invented", AT_MOST_FIVE, "sweet spot outside", best_invented),
    rate!(
        "skill and habits move together: the idle one stands out",
        AT_MOST_FIVE,
        "skill and habits move together",
        |log| found(log, "grain")
    ),
    rate!("season: the idle one that goes with it stands out", AT_MOST_FIVE, "season", |log| {
        found(log, "grain")
    }),
];

const AS_OFTEN_AS_THE_ORACLE: (f64, f64) = (-0.02, f64::INFINITY);

macro_rules! power {
    ($claim:literal, $scenario:literal, $name:literal) => {
        Average {
            claim: $claim,
            promised: AS_OFTEN_AS_THE_ORACLE,
            logs: FACTORS,
            of: Of::Difference,
            attempt: |generator| against_the_oracle($scenario, generator, $name),
        }
    };
}

macro_rules! cover {
    ($claim:literal, $scenario:literal) => {
        Average {
            claim: $claim,
            promised: (0.93, 0.97),
            logs: FACTORS,
            of: Of::Share,
            attempt: |generator| covered(factors($scenario, generator)?.as_ref()),
        }
    };
}

/// What the daily run leaves out, because it takes long.
pub const FURTHER_AVERAGES: &[Average] = &[
    power!(
        "identified: 0.5 is found as often as by the true model's t test",
        "identified",
        "sheen"
    ),
    power!(
        "identified: -0.4 is found as often as by the true model's t test",
        "identified",
        "snug"
    ),
    power!(
        "identified: 0.3 is found as often as by the true model's t test",
        "identified",
        "glide"
    ),
    power!(
        "by way of later: found as often as by the true model's t test",
        "by way of later",
        "glide"
    ),
    cover!(
        "skill and habits move together: intervals within lots cover",
        "skill and habits move together"
    ),
    cover!("season: intervals within lots cover", "season"),
    cover!(
        "a lenient player comes late: intervals within lots cover",
        "a lenient player comes late"
    ),
    cover!("empty cells: intervals within lots cover", "empty cells"),
];
