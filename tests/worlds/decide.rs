//! Should a practice change: what is truly lost by doing what is recommended, against three simpler habits.
//!
//! The truth is counted in good reeds of ten pieces started. To stay and to try it first cost what staying costs.

use canewright::demo::worlds::{Factor, Made, World};
use canewright::finding::{CandidateResult, DecisionResult, PracticeValue, Recommendation};
use canewright::stats::Estimate;
use canewright::stats::design::Design;
use canewright::stats::linear::least_squares;
use canewright::stats::numeric::normal_cdf;
use rand_chacha::ChaCha12Rng;

use super::super::simulation::Simulation;
use super::asked::{Log, decision};
use super::average::{Average, Of};
use super::sizes::DECISIONS;

const DAYS: &str = "forming_days";
const FREE: &str = "forming time, free of the lots";
const TANGLED: &str = "forming time, tangled with the lots";
const CONFOUNDED: &str = "forming time, better lots formed longer";
const IDLE: &str = "forming time, nothing to gain";
const AS_IT_IS: &str = "forming time, best as it is";
const SPOILS: &str = "forming time, longer spoils more";
const HARMFUL: &str = "forming time, its own for each lot and harmful";
const HARMS: &str = "forming time, better lots formed longer and harmed";
const FEW: &str = "forming time, a small log";
const LITTLE: &str = "forming time, a little to gain";
const KINDS: &str = "a choice of three kinds";
/// Every world with its practice.
const WORLDS: [(&str, &str); 11] = [
    (HARMFUL, DAYS),
    (HARMS, DAYS),
    (FREE, DAYS),
    (TANGLED, DAYS),
    (CONFOUNDED, DAYS),
    (IDLE, DAYS),
    (AS_IT_IS, DAYS),
    (SPOILS, DAYS),
    (FEW, DAYS),
    (LITTLE, DAYS),
    (KINDS, "slope"),
];
/// The mark of a good reed in every world.
const GOOD_AT: f64 = 10.5;
/// A plain mean of fewer reeds is not looked at.
const FEWEST_REEDS: usize = 5;
const FOUND_AT: f64 = 0.05;
/// What must be won over all worlds together, good reeds of ten.
const CLEARLY: f64 = 0.05;

type Decision = Log<DecisionResult>;

/// A way to choose one of the candidates; none to stay.
type Habit = fn(&Decision, &Factor) -> Option<usize>;

/// How many of ten pieces would be good by the maker's own rating with every other factor at its centre: the lot, the day and the rating's own scatter averaged
/// over, in the middle of the log. By the trapezoidal rule over the piece's own luck.
fn good_of_ten(world: &World, practice: usize, steps: f64) -> f64 {
    let mut values = vec![0.0; world.factors.len()];
    values[practice] = steps;
    let level = world.base + world.by_factors(&values);
    let scatter = world.lot_sd.hypot(world.rating_sd);
    let (mut good, mut all) = (0.0, 0.0);
    for step in -400..=400 {
        let luck = f64::from(step) / 80.0;
        let weight = (-0.5 * luck * luck).exp();
        let kept = 1.0 - world.chance_of_loss(&values, luck);
        good += weight * kept * normal_cdf((level + world.reed_sd * luck - GOOD_AT) / scatter);
        all += weight;
    }
    10.0 * good / all
}

/// A candidate in steps from the centre.
fn steps(factor: &Factor, value: &PracticeValue) -> Option<f64> {
    match value {
        PracticeValue::Number(value) => Some((value - factor.centre) / factor.step),
        PracticeValue::Kind(kind) => {
            let place = factor.kinds.iter().position(|known| known == kind)?;
            Some(place as f64 - (factor.kinds.len() - 1) as f64 / 2.0)
        }
    }
}

fn truth(log: &Decision, factor: &Factor) -> Option<Vec<f64>> {
    let place = log.world.place(factor.name)?;
    let of =
        |one: &CandidateResult| Some(good_of_ten(&log.world, place, steps(factor, &one.value)?));
    log.answer.candidates.iter().map(of).collect()
}

fn present(answer: &DecisionResult) -> Option<usize> {
    answer.candidates.iter().position(|one| one.value == answer.current)
}

fn recommended(log: &Decision, _: &Factor) -> Option<usize> {
    let to =
        log.answer.to.as_ref().filter(|_| log.answer.recommendation == Recommendation::Switch)?;
    log.answer.candidates.iter().position(|one| one.value == *to)
}

fn always_stay(_: &Decision, _: &Factor) -> Option<usize> {
    None
}

fn score(piece: &Made) -> f64 {
    piece.ratings.iter().map(|(_, mark)| mark).sum::<f64>() / piece.ratings.len() as f64
}

/// Rated reeds: the value in steps, and the plain mean of the marks.
fn rated(log: &Decision, factor: &Factor) -> Vec<(f64, f64)> {
    let place = log.world.place(factor.name).expect("a factor of the world");
    let pieces = log.drawn.pieces.iter().filter(|piece| !piece.ratings.is_empty());
    pieces.map(|piece| (piece.values[place], score(piece))).collect()
}

/// The scores of the reeds nearest to each candidate.
fn near(log: &Decision, factor: &Factor) -> Vec<Vec<f64>> {
    let at: Vec<f64> =
        log.answer.candidates.iter().filter_map(|one| steps(factor, &one.value)).collect();
    let mut scores = vec![Vec::new(); at.len()];
    for (value, score) in rated(log, factor) {
        let nearest = (0..at.len())
            .min_by(|&a, &b| (at[a] - value).abs().total_cmp(&(at[b] - value).abs()))
            .expect("a candidate");
        scores[nearest].push(score);
    }
    scores
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn best_mean(scores: &[Vec<f64>]) -> Option<usize> {
    (0..scores.len())
        .filter(|place| scores[*place].len() >= FEWEST_REEDS)
        .max_by(|&a, &b| mean(&scores[a]).total_cmp(&mean(&scores[b])))
}

fn best_plain_mean(log: &Decision, factor: &Factor) -> Option<usize> {
    best_mean(&near(log, factor))
}

/// For a number the best end of the plain regression line, for kinds the best plain mean; where the p value of that against nothing, or against the present
/// kind, is under 0.05.
fn where_p_is_small(log: &Decision, factor: &Factor) -> Option<usize> {
    let scores = near(log, factor);
    if !factor.kinds.is_empty() {
        let (best, now) = (best_mean(&scores)?, present(&log.answer)?);
        let side = |place: usize, is: f64| scores[place].iter().map(move |score| (is, *score));
        let slope = line(side(best, 1.0).chain(side(now, 0.0)).unzip())?;
        return (best != now && slope.p_value() < FOUND_AT).then_some(best);
    }
    let slope = line(rated(log, factor).into_iter().unzip())?;
    let supported: Vec<usize> =
        (0..scores.len()).filter(|place| scores[*place].len() >= FEWEST_REEDS).collect();
    let end = if slope.value > 0.0 { supported.last() } else { supported.first() };
    end.copied().filter(|_| slope.p_value() < FOUND_AT)
}

/// The slope of the plain regression of the marks on the values.
fn line((values, marks): (Vec<f64>, Vec<f64>)) -> Option<Estimate> {
    let design = Design::builder(values.len()).intercept().number("value", &values).build().ok()?;
    least_squares(&design, &marks).ok()?.classical(&[0.0, 1.0]).ok()
}

/// What is truly lost by the recommendation, less what is lost by another habit.
fn against(
    scenario: &'static str,
    practice: &str,
    other: Habit,
    generator: &mut ChaCha12Rng,
) -> Option<f64> {
    let log = decision(scenario, practice, generator)?;
    let factor = log.world.factors.iter().find(|factor| factor.name == practice)?;
    let (truth, now) = (truth(&log, factor)?, present(&log.answer)?);
    let given = |habit: Habit| truth[habit(&log, factor).unwrap_or(now)];
    Some(given(other) - given(recommended))
}

fn overall(other: Habit, generator: &mut ChaCha12Rng) -> Option<(f64, f64)> {
    let each: Option<Vec<f64>> = WORLDS
        .iter()
        .map(|(scenario, practice)| against(scenario, practice, other, &mut generator.clone()))
        .collect();
    Some((mean(&each?), 1.0))
}

/// A world in which each lot had its own days and the plain means tell the truth, and its twin in which they look the same and tell the contrary: no log tells
/// the one from the other, so a habit is judged by what it loses in both.
fn twins(other: Habit, generator: &mut ChaCha12Rng) -> Option<(f64, f64)> {
    let one = against(TANGLED, DAYS, other, &mut generator.clone())?;
    let twin = against(HARMFUL, DAYS, other, generator)?;
    Some(((one + twin) / 2.0, 1.0))
}

fn switches(scenario: &'static str, generator: &mut ChaCha12Rng) -> Option<bool> {
    let log = decision(scenario, DAYS, generator)?;
    Some(log.answer.recommendation == Recommendation::Switch)
}

fn says_tangled(generator: &mut ChaCha12Rng) -> Option<bool> {
    let log = decision(TANGLED, DAYS, generator)?;
    Some(!log.answer.tangled_with.is_empty() && log.answer.sentence.contains("tangled"))
}

macro_rules! difference {
    ($claim:literal, $promised:expr, $take:expr) => {
        Average {
            claim: $claim,
            promised: $promised,
            logs: DECISIONS,
            of: Of::Difference,
            attempt: $take,
        }
    };
}

macro_rules! no_more {
    ($claim:literal, $scenario:expr, $practice:expr, $habit:expr) => {
        difference!($claim, NO_MORE, |generator| Some((
            against($scenario, $practice, $habit, generator)?,
            1.0
        )))
    };
}

const NO_MORE: (f64, f64) = (-10.0, 0.0);
const LESS: (f64, f64) = (-10.0, -CLEARLY);

pub const AVERAGES: &[Average] = &[
    difference!("loses less over all worlds than staying", LESS, |generator| overall(
        always_stay,
        generator
    )),
    difference!("loses less over all worlds than the best mean", LESS, |generator| overall(
        best_plain_mean,
        generator
    )),
    difference!("loses less over all worlds than p < 0.05", LESS, |generator| overall(
        where_p_is_small,
        generator
    )),
    difference!("loses no more than staying: tangled and its twin", NO_MORE, |generator| twins(
        always_stay,
        generator
    )),
    difference!("loses no more than the best mean: tangled and its twin", NO_MORE, |generator| {
        twins(best_plain_mean, generator)
    }),
    difference!("loses no more than p < 0.05: tangled and its twin", NO_MORE, |generator| twins(
        where_p_is_small,
        generator
    )),
    no_more!("loses no more than staying: free", FREE, DAYS, always_stay),
    no_more!("loses no more than the best mean: free", FREE, DAYS, best_plain_mean),
    no_more!("loses no more than p < 0.05: free", FREE, DAYS, where_p_is_small),
    no_more!("loses no more than staying: confounded", CONFOUNDED, DAYS, always_stay),
    no_more!("loses no more than the best mean: confounded", CONFOUNDED, DAYS, best_plain_mean),
    no_more!("loses no more than p < 0.05: confounded", CONFOUNDED, DAYS, where_p_is_small),
    no_more!("loses no more than staying: confounded, harmful", HARMS, DAYS, always_stay),
    no_more!("loses no more than the best mean: confounded, harmful", HARMS, DAYS, best_plain_mean),
    no_more!("loses no more than p < 0.05: confounded, harmful", HARMS, DAYS, where_p_is_small),
    no_more!("loses no more than staying: idle", IDLE, DAYS, always_stay),
    no_more!("loses no more than the best mean: idle", IDLE, DAYS, best_plain_mean),
    no_more!("loses no more than p < 0.05: idle", IDLE, DAYS, where_p_is_small),
    no_more!("loses no more than staying: best as it is", AS_IT_IS, DAYS, always_stay),
    no_more!("loses no more than the best mean: best as it is", AS_IT_IS, DAYS, best_plain_mean),
    no_more!("loses no more than p < 0.05: best as it is", AS_IT_IS, DAYS, where_p_is_small),
    no_more!("loses no more than staying: spoils more", SPOILS, DAYS, always_stay),
    no_more!("loses no more than the best mean: spoils more", SPOILS, DAYS, best_plain_mean),
    no_more!("loses no more than p < 0.05: spoils more", SPOILS, DAYS, where_p_is_small),
    no_more!("loses no more than staying: a small log", FEW, DAYS, always_stay),
    no_more!("loses no more than the best mean: a small log", FEW, DAYS, best_plain_mean),
    no_more!("loses no more than p < 0.05: a small log", FEW, DAYS, where_p_is_small),
    no_more!("loses no more than staying: a little to gain", LITTLE, DAYS, always_stay),
    no_more!("loses no more than the best mean: a little to gain", LITTLE, DAYS, best_plain_mean),
    no_more!("loses no more than p < 0.05: a little to gain", LITTLE, DAYS, where_p_is_small),
    no_more!("loses no more than staying: three kinds", KINDS, "slope", always_stay),
    no_more!("loses no more than the best mean: three kinds", KINDS, "slope", best_plain_mean),
    no_more!("loses no more than p < 0.05: three kinds", KINDS, "slope", where_p_is_small),
];

macro_rules! never_switches {
    ($claim:literal, $scenario:expr) => {
        Simulation {
            claim: $claim,
            nominal: 0.0,
            slack: (0.0, 0.05),
            replicates: DECISIONS,
            attempt: |generator| switches($scenario, generator),
        }
    };
}

pub const RATES: &[Simulation] = &[
    never_switches!("switches where better lots were formed longer", CONFOUNDED),
    never_switches!("switches where each lot was formed for its own time", TANGLED),
    never_switches!("switches where better lots were formed longer, which harmed", HARMS),
    never_switches!("switches where each lot had its own time, which harmed", HARMFUL),
    Simulation {
        claim: "says tangled where each lot was formed for its own time",
        nominal: 1.0,
        slack: (0.05, 0.0),
        replicates: DECISIONS,
        attempt: says_tangled,
    },
];
