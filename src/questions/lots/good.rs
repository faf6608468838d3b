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
use crate::stats::logistic::{BinomialOutcome, fit_logistic_mixed, log_logistic, logistic};
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
        let (average, spread) = (*fit.coefficients.first()?, fit.sd_group);
        return Some(
            counts.iter().map(|count| (count.lot, by_sides(count, average, spread))).collect(),
        );
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

/// The average and the spread taken as known.
fn by_sides(count: &Count, average: f64, spread: f64) -> Interval {
    let sides = Mode::of(count, average, spread).sides(count, average, spread);
    let at = |effect: f64| 10.0 * logistic(average + effect);
    let reach = normal_quantile(0.975);
    Interval {
        estimate: at(sides.effect),
        low: at(sides.effect - reach * sides.below),
        high: at(sides.effect + reach * sides.above),
    }
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
                average + mode.sides(count, average, spread).draw(generator)
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

    /// How far the deviation reaches to either side. Where no piece of a lot is good, or every one is, one side falls off much faster than the other.
    fn sides(&self, count: &Count, average: f64, spread: f64) -> Sides {
        let variance = (spread * spread).max(1e-12);
        let bad = count.known - count.good;
        let height_and_slope = |effect: f64| {
            let at = average + effect;
            let height = count.good * log_logistic(at) + bad * log_logistic(-at);
            let slope = count.good - count.known * logistic(at) - effect / variance;
            (height - 0.5 * effect * effect / variance, slope)
        };
        let (top, _) = height_and_slope(self.effect);
        // two standard deviations down a normal curve lies two below its top
        let side = |sign: f64| {
            let mut reach = 2.0 * self.error;
            for _ in 0..20 {
                let (height, slope) = height_and_slope(self.effect + sign * reach);
                let step = (top - height - 2.0) / (-sign * slope);
                if !step.is_finite() {
                    break;
                }
                reach -= step;
                if step.abs() < 1e-4 * reach {
                    break;
                }
            }
            if reach.is_finite() && reach > 0.0 { reach / 2.0 } else { self.error }
        };
        Sides { effect: self.effect, below: side(-1.0), above: side(1.0) }
    }
}

/// A normal curve of two halves (John 1982, Communications in Statistics A 11, 879-885, from memory): its top, and the standard deviation of either half.
struct Sides {
    effect: f64,
    below: f64,
    above: f64,
}

impl Sides {
    fn draw(&self, generator: &mut impl Rng) -> f64 {
        let is_below = generator.random::<f64>() * (self.below + self.above) < self.below;
        let far = normal(generator).abs();
        self.effect + if is_below { -far * self.below } else { far * self.above }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The share of the deviation's curve above a point, by adding it up.
    fn above(count: &Count, average: f64, spread: f64, from: f64) -> f64 {
        let height = |effect: f64| {
            let yes = logistic(average + effect);
            let likely = yes.powf(count.good) * (1.0 - yes).powf(count.known - count.good);
            likely * (-0.5 * (effect / spread).powi(2)).exp()
        };
        let sum = |from: f64| -> f64 {
            (0..40_000).map(|step| height(from + 1e-3 * f64::from(step))).sum()
        };
        sum(from) / sum(-20.0)
    }

    #[test]
    fn both_ends_of_a_lots_range_leave_about_a_fortieth_beyond_them_also_where_no_piece_is_good() {
        for (good, known) in [(0.0, 20.0), (1.0, 20.0), (10.0, 20.0), (20.0, 20.0), (0.0, 2.0)] {
            let count = Count { lot: 0, good, known };
            for spread in [0.5, 1.5, 3.0] {
                let sides = Mode::of(&count, -0.5, spread).sides(&count, -0.5, spread);
                let beyond = [
                    above(&count, -0.5, spread, sides.effect + 1.96 * sides.above),
                    1.0 - above(&count, -0.5, spread, sides.effect - 1.96 * sides.below),
                ];
                for share in beyond {
                    assert!(
                        (0.015..0.035).contains(&share),
                        "{good} of {known}, {spread}: {share}"
                    );
                }
            }
        }
    }

    #[test]
    fn a_lot_without_a_good_piece_is_not_thought_to_give_half_of_them() {
        let counts = [(0.0, 20.0), (14.0, 20.0), (16.0, 20.0), (0.0, 20.0), (12.0, 20.0)];
        let counts: Vec<Count> =
            (0..).zip(counts).map(|(lot, (good, known))| Count { lot, good, known }).collect();
        let found = per_ten(&counts, 1).unwrap();
        // with no good piece among 20 the exact upper end alone would be 1.7 of ten (Clopper & Pearson 1934)
        assert!(found[&0].high < 2.0 && found[&0].high > 0.5, "{:?}", found[&0]);
        assert!(found[&1].low < 7.0 && found[&1].high > 7.0);
    }
}
