//! Fit: how many of ten pieces of each lot become good reeds.
//!
//! A logistic model of `good` with lots as random intercepts (Pinheiro & Bates 1995): the estimate is each lot's
//! conditional mode. Its interval comes from draws of the average and of the spread between lots in proportion to their
//! likelihood, the spread uniform beforehand (Gelman 2006), and of each lot's log odds about their mode given those. With
//! the spread taken at its likeliest, which with few lots is often zero, the intervals would be too narrow.

use std::collections::BTreeMap;

use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use super::fit::middle;
use crate::finding::Interval;
use crate::stats::design::Design;
use crate::stats::logistic::{
    BinomialOutcome, LogisticMixedFit, fit_logistic_mixed, log_logistic, logistic,
};
use crate::stats::numeric::normal_quantile;
use crate::stats::resample::replicate;
use crate::study::Study;

/// Above so many lots the spread between them is known well enough to be taken at its likeliest.
const MOST_LOTS_DRAWN: usize = 200;
const DRAWS: usize = 2_000;
/// Points of the grid of spreads, and of the averages beside each.
const SPREADS: usize = 30;
const AVERAGES: usize = 17;
/// The averages reach so many of their errors to either side.
const REACH: f64 = 4.5;
/// No spread between lots is wider than this many log odds.
const WIDEST: f64 = 6.0;
/// The grid of spreads ends where the log-likelihood has fallen by this much.
const NEGLIGIBLE: f64 = 8.0;
/// Keeps these draws apart from those of the means.
const APART: u64 = 0x676F_6F64;

/// Good reeds per ten pieces.
#[derive(Debug, Default)]
pub(super) struct Good {
    /// By lot.
    pub per_ten: BTreeMap<usize, Interval>,
    /// Pieces of lots of which it is not known whether they became good.
    pub unknown: usize,
}

/// Good pieces and all whose end is known, of one lot.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Count {
    lot: usize,
    good: f64,
    known: f64,
}

pub(super) fn good(study: &Study, seed: u64) -> Good {
    let mut counts: BTreeMap<usize, Count> = BTreeMap::new();
    let mut unknown = 0;
    for (lot, good) in study.lots().codes.iter().copied().zip(study.good()) {
        let Some(lot) = lot.map(|lot| lot as usize) else { continue };
        let Some(good) = good else {
            unknown += 1;
            continue;
        };
        let count = counts.entry(lot).or_insert(Count { lot, good: 0.0, known: 0.0 });
        count.good += f64::from(u8::from(good));
        count.known += 1.0;
    }
    let counts: Vec<Count> = counts.into_values().collect();
    Good { per_ten: per_ten(&counts, seed).unwrap_or_default(), unknown }
}

/// None where the model cannot be fitted: no piece is good, or all are, or every lot has one piece.
fn per_ten(counts: &[Count], seed: u64) -> Option<BTreeMap<usize, Interval>> {
    let design = Design::builder(counts.len()).intercept().build().ok()?;
    let successes: Vec<f64> = counts.iter().map(|count| count.good).collect();
    let trials: Vec<f64> = counts.iter().map(|count| count.known).collect();
    let lots: Vec<usize> = counts.iter().map(|count| count.lot).collect();
    let outcome = BinomialOutcome::counts(&successes, &trials).ok()?;
    let fit = fit_logistic_mixed(&design, &outcome, &lots).ok()?;
    if counts.len() > MOST_LOTS_DRAWN {
        return counts.iter().map(|count| Some((count.lot, by_error(&fit, count.lot)?))).collect();
    }
    let drawn = Grid::new(counts, *fit.coefficients.first()?).draws(counts, seed)?;
    let one = |(place, count): (usize, &Count)| {
        let estimate = 10.0 * logistic(fit.group_log_odds(count.lot, &[1.0]).ok()?.value);
        let own: Vec<f64> = drawn.iter().map(|draw| 10.0 * logistic(draw[place])).collect();
        let (low, high) = middle(own);
        let interval = Interval { estimate, low: low.min(estimate), high: high.max(estimate) };
        Some((count.lot, interval))
    };
    counts.iter().enumerate().map(one).collect()
}

fn by_error(fit: &LogisticMixedFit, lot: usize) -> Option<Interval> {
    let found = fit.group_log_odds(lot, &[1.0]).ok()?;
    let half = normal_quantile(0.975) * found.standard_error;
    let at = |shift: f64| 10.0 * logistic(found.value + shift);
    Some(Interval { estimate: at(0.0), low: at(-half), high: at(half) })
}

/// The likelihood over averages and spreads, summed up.
struct Grid {
    /// Average and spread of each cell, in log odds.
    cells: Vec<(f64, f64)>,
    /// Cumulated shares.
    shares: Vec<f64>,
}

impl Grid {
    fn new(counts: &[Count], centre: f64) -> Self {
        let all: f64 = counts.iter().map(|count| count.known).sum();
        let share = logistic(centre);
        let alone = 1.0 / (all * share * (1.0 - share)).max(0.5);
        let widest = widest(counts, centre);
        let (mut cells, mut heights) = (Vec::new(), Vec::new());
        for point in 0..SPREADS {
            // squared spacing: fine near zero, where few lots put their weight
            let part = (point as f64 + 0.5) / SPREADS as f64;
            let spread = widest * part * part;
            let error = (alone + spread * spread / counts.len().max(1) as f64).sqrt();
            for place in 0..AVERAGES {
                let along = 2.0 * place as f64 / (AVERAGES - 1) as f64 - 1.0;
                let average = centre + REACH * error * along;
                cells.push((average, spread));
                // the cell is as wide as its spacings: `part` for the spread, `error` for the average
                heights.push(log_likelihood(counts, average, spread) + (part * error).ln());
            }
        }
        let most = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut total = 0.0;
        let shares = heights.iter().map(|height| {
            total += (height - most).exp();
            total
        });
        Self { cells, shares: shares.collect() }
    }

    /// Draws of the lots' log odds; none where the likelihood has no sum.
    fn draws(&self, counts: &[Count], seed: u64) -> Option<Vec<Vec<f64>>> {
        let total = self.shares.last().copied().filter(|total| total.is_finite())?;
        let all = replicate(seed ^ APART, DRAWS, |generator| {
            let level = total * generator.random::<f64>();
            let cell = self.shares.partition_point(|&share| share <= level);
            let (average, spread) = self.cells.get(cell).copied()?;
            let each = counts.iter().map(|count| {
                let mode = Mode::of(count, average, spread);
                average + mode.effect + mode.error * normal(generator)
            });
            Some(each.collect())
        });
        all.into_iter().collect()
    }
}

fn normal(generator: &mut impl Rng) -> f64 {
    StandardNormal.sample(generator)
}

/// The spread at which the likelihood of the average's likeliest value has fallen away.
fn widest(counts: &[Count], centre: f64) -> f64 {
    let mut most = log_likelihood(counts, centre, 0.0);
    let mut spread = 0.25;
    while spread < WIDEST {
        let here = log_likelihood(counts, centre, spread);
        most = most.max(here);
        if here < most - NEGLIGIBLE {
            break;
        }
        spread *= 1.3;
    }
    spread.min(WIDEST)
}

/// By Laplace's approximation in each lot.
fn log_likelihood(counts: &[Count], average: f64, spread: f64) -> f64 {
    counts.iter().map(|count| Mode::of(count, average, spread).log_integral).sum()
}

/// A lot's likeliest deviation in log odds, given average and spread.
struct Mode {
    effect: f64,
    /// Of the deviation about the likeliest one.
    error: f64,
    log_integral: f64,
}

impl Mode {
    fn of(count: &Count, average: f64, spread: f64) -> Self {
        let variance = (spread * spread).max(1e-12);
        let mut effect = 0.0;
        for _ in 0..30 {
            let yes = logistic(average + effect);
            let slope = count.good - count.known * yes - effect / variance;
            let bend = count.known * yes * (1.0 - yes) + 1.0 / variance;
            // a step of one log odds at most: farther the bend is not what it was
            let step = (slope / bend).clamp(-1.0, 1.0);
            effect += step;
            if step.abs() < 1e-9 {
                break;
            }
        }
        let at = average + effect;
        let yes = logistic(at);
        let relative = 1.0 + variance * count.known * yes * (1.0 - yes);
        let bad = count.known - count.good;
        let height = count.good * log_logistic(at) + bad * log_logistic(-at);
        Self {
            effect,
            error: (variance / relative).sqrt(),
            log_integral: height - 0.5 * (effect * effect / variance + relative.ln()),
        }
    }
}
