//! Fit: how many of ten pieces of each lot become good reeds.
//!
//! A logistic model of `good` with lots as random intercepts (Pinheiro & Bates 1995): the estimate is each lot's
//! conditional mode. Its interval comes from draws of the average and of the spread between lots in proportion to their
//! likelihood, the spread uniform beforehand (Gelman 2006), and of each lot's log odds given those. With
//! the spread taken at its likeliest, which with few lots is often zero, the intervals would be too narrow.

use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;

use rand::RngExt;

use super::fit::middle;
use crate::finding::Interval;
use crate::stats::design::Design;
use crate::stats::logistic::{BinomialOutcome, fit_logistic_mixed, log_logistic, logistic};
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
        // of very many lots most have the same counts as another
        let mut found: HashMap<[u64; 2], Interval> = HashMap::new();
        let one = |count: &Count| {
            let alike = [count.good, count.known].map(f64::to_bits);
            *found.entry(alike).or_insert_with(|| as_known(count, average, spread))
        };
        return Some(counts.iter().map(|count| count.lot).zip(counts.iter().map(one)).collect());
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
fn as_known(count: &Count, average: f64, spread: f64) -> Interval {
    let curve = Curve::of(count, average, spread);
    let at = |effect: f64| 10.0 * logistic(average + effect);
    let estimate = at(Mode::of(count, average, spread).effect);
    let [low, high] = [0.025, 0.975].map(|share| at(curve.quantile(share)));
    Interval { estimate, low: low.min(estimate), high: high.max(estimate) }
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
        // most draws fall into few cells: the curves of a cell are found when it is first drawn
        let curves: Vec<OnceLock<Vec<Curve>>> =
            self.cells.iter().map(|_| OnceLock::new()).collect();
        let all = replicate(seed ^ APART, DRAWS, |generator| {
            let level = total * generator.random::<f64>();
            let cell = self.shares.partition_point(|&share| share <= level);
            let (average, spread) = self.cells.get(cell).copied()?;
            let of_lots = curves.get(cell)?.get_or_init(|| {
                counts.iter().map(|count| Curve::of(count, average, spread)).collect()
            });
            let draw = |curve: &Curve| average + curve.quantile(generator.random());
            Some(of_lots.iter().map(draw).collect())
        });
        all.into_iter().collect()
    }
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

    /// Where the log density has fallen by two to one side, as two standard deviations down a normal curve. Where no piece of a lot is good, or every one is, one side
    /// falls off much faster than the other.
    fn half_width(&self, height: &impl Fn(f64) -> f64, top: f64, sign: f64) -> f64 {
        let fallen = |reach: f64| top - height(self.effect + sign * reach) >= 2.0;
        let (mut inside, mut outside) = (0.0, 2.0 * self.error);
        while !fallen(outside) && outside.is_finite() {
            (inside, outside) = (outside, 2.0 * outside);
        }
        for _ in 0..12 {
            let middle = 0.5 * (inside + outside);
            (inside, outside) = if fallen(middle) { (inside, middle) } else { (middle, outside) };
        }
        outside
    }
}

/// What a lot's deviation may be, given average and spread: its density added up from end to end.
struct Curve {
    from: f64,
    step: f64,
    /// Cumulated shares, from 0 to 1.
    shares: Vec<f64>,
}

impl Curve {
    /// Steps from end to end.
    const STEPS: usize = 160;
    /// The ends lie so many half widths from the top, as eight standard deviations of a normal curve; what lies beyond is next to nothing.
    const REACH: f64 = 4.0;

    fn of(count: &Count, average: f64, spread: f64) -> Self {
        let mode = Mode::of(count, average, spread);
        let variance = (spread * spread).max(1e-12);
        let height = |effect: f64| {
            let (at, bad) = (average + effect, count.known - count.good);
            let likely = count.good * log_logistic(at) + bad * log_logistic(-at);
            likely - 0.5 * effect * effect / variance
        };
        let top = height(mode.effect);
        let [below, above] = [-1.0, 1.0].map(|sign| mode.half_width(&height, top, sign));
        let from = mode.effect - Self::REACH * below;
        let step = Self::REACH * (below + above) / Self::STEPS as f64;
        let density = |number: usize| (height(from + step * number as f64) - top).exp();
        let mut shares = vec![0.0; Self::STEPS + 1];
        let mut before = density(0);
        for number in 1..=Self::STEPS {
            let here = density(number);
            shares[number] = shares[number - 1] + 0.5 * (before + here);
            before = here;
        }
        let whole = shares[Self::STEPS];
        shares.iter_mut().for_each(|share| *share /= whole);
        Self { from, step, shares }
    }

    /// The deviation that such a share lies below.
    fn quantile(&self, share: f64) -> f64 {
        let above = self.shares.partition_point(|known| *known <= share).clamp(1, Self::STEPS);
        let (low, high) = (self.shares[above - 1], self.shares[above]);
        let part = if high > low { ((share - low) / (high - low)).clamp(0.0, 1.0) } else { 0.5 };
        self.from + self.step * ((above - 1) as f64 + part)
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
    fn each_end_of_a_lots_range_leaves_a_fortieth_beyond_it_also_where_no_piece_is_good() {
        for (good, known) in [(0.0, 20.0), (1.0, 20.0), (10.0, 20.0), (20.0, 20.0), (0.0, 2.0)] {
            let count = Count { lot: 0, good, known };
            for spread in [0.5, 1.5, 3.0] {
                let curve = Curve::of(&count, -0.5, spread);
                let beyond = [
                    above(&count, -0.5, spread, curve.quantile(0.975)),
                    1.0 - above(&count, -0.5, spread, curve.quantile(0.025)),
                ];
                for share in beyond {
                    assert!((share - 0.025).abs() < 1e-3, "{good} of {known}, {spread}: {share}");
                }
            }
        }
    }

    #[test]
    fn lots_that_do_not_differ_have_no_deviation() {
        let curve = Curve::of(&Count { lot: 0, good: 3.0, known: 9.0 }, -0.5, 0.0);
        assert!(curve.quantile(0.025).abs() < 1e-5 && curve.quantile(0.975).abs() < 1e-5);
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
