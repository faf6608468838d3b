//! What the same pieces would have shown in another order.
//!
//! A permutation test (Good 2005, Permutation, Parametric and Bootstrap Tests of Hypotheses, chapter 3): if nothing moved, any order of the pieces was as likely. Lots
//! differ and are used one after the other, so whole lots change places and pieces change places within their lot; with too few lots for that, only movement within
//! lots is judged. Where lots are alike once a slow movement is taken out, any order is as likely. What is compared is the greatest reach of the cumulative sum about the overall mean, large after a step (Page 1955, Biometrika 42, 523-527), and the
//! slope of a line, large after a slow drift; neither needs a base period. The flags of each shuffle come from its own base period, so that the error of the limits is counted.

use rand_chacha::ChaCha12Rng;

use super::apart::lots_are_alike;
use super::chart::charts;
use super::series::Point;
use super::series::lot_codes;
use super::settings::ChartSettings;
use crate::questions::scores::{centred_within, group_means};
use crate::stats::resample::{Groups, permutation, stream};

/// So many shuffles for the test, and of them so many for the flags that chance brings.
pub(super) const SHUFFLES: usize = 999;
const COUNTED: usize = 199;
/// With fewer lots a change of lots has too few orders to be judged.
const FEWEST_LOTS: usize = 6;

/// What is shuffled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shuffled {
    WholeOrder,
    LotsTogether,
    WithinLots,
}

impl Shuffled {
    pub fn word(self) -> &'static str {
        match self {
            Shuffled::WholeOrder => "whole order",
            Shuffled::LotsTogether => "lots kept together",
            Shuffled::WithinLots => "within lots",
        }
    }
}

/// A series made ready to be shuffled.
pub(super) struct Shuffler {
    pub shuffled: Shuffled,
    lots: Vec<usize>,
    members: Groups,
    /// Mean of each lot, and each value's distance from it.
    means: Vec<f64>,
    rest: Vec<f64>,
    /// The values whose charts are held against the shuffles.
    pub judged: Vec<f64>,
}

impl Shuffler {
    pub fn new(points: &[Point]) -> Self {
        let values: Vec<f64> = points.iter().map(|point| point.value).collect();
        let lots = lot_codes(points);
        let means: Vec<f64> = group_means(&values, &lots).into_values().collect();
        let rest = centred_within(&values, &lots);
        let shuffled = match means.len() {
            0 | 1 => Shuffled::WholeOrder,
            FEWEST_LOTS.. if lots_are_alike(points) => Shuffled::WholeOrder,
            FEWEST_LOTS.. => Shuffled::LotsTogether,
            _ => Shuffled::WithinLots,
        };
        let centre = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let judged = match shuffled {
            Shuffled::WithinLots => rest.iter().map(|rest| centre + rest).collect(),
            Shuffled::WholeOrder | Shuffled::LotsTogether => values,
        };
        Self { shuffled, members: Groups::of(&lots), lots, means, rest, judged }
    }

    /// The same pieces in another order.
    fn shuffle(&self, generator: &mut ChaCha12Rng) -> Vec<f64> {
        match self.shuffled {
            Shuffled::WholeOrder => {
                let order = permutation(generator, self.judged.len());
                order.into_iter().map(|place| self.judged[place]).collect()
            }
            Shuffled::WithinLots => {
                let order = self.members.permutation(generator);
                order.into_iter().map(|place| self.judged[place]).collect()
            }
            Shuffled::LotsTogether => {
                let moved = permutation(generator, self.means.len());
                let order = self.members.permutation(generator);
                let of = order.into_iter().zip(&self.lots);
                of.map(|(place, lot)| self.means[moved[*lot]] + self.rest[place]).collect()
            }
        }
    }
}

/// What shuffles say of a series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Chance {
    /// Share of shuffles that move as far, the series itself counted as one.
    pub p: f64,
    /// Mean number of flagged points of the individuals chart, the weighted average and the sums.
    pub flagged: [f64; 3],
}

pub(super) fn chance(
    shuffler: &Shuffler,
    base: usize,
    settings: &ChartSettings,
    seed: u64,
) -> Chance {
    let mut all = vec![movement(&shuffler.judged)];
    let mut counted: Vec<[usize; 3]> = Vec::with_capacity(COUNTED);
    // each shuffle has a stream of its own; they are short, and threads are given whole series instead
    for shuffle in 0..SHUFFLES {
        let values = shuffler.shuffle(&mut stream(seed, shuffle as u64));
        all.push(movement(&values));
        if shuffle < COUNTED {
            counted.extend(charts(&values, base, settings).ok().map(|charts| charts.flagged()));
        }
    }
    let mean = |kind: usize| {
        let all: usize = counted.iter().map(|flagged| flagged[kind]).sum();
        all as f64 / counted.len().max(1) as f64
    };
    Chance { p: combined(&all), flagged: [mean(0), mean(1), mean(2)] }
}

/// The greatest distance from zero of the cumulative sum of the values less their mean, which is large after a step; and the size of the sum of those sums, which is
/// the slope of a straight line in other units, large after a slow drift.
fn movement(values: &[f64]) -> [f64; 2] {
    let centre = values.iter().sum::<f64>() / values.len().max(1) as f64;
    let (mut sum, mut most, mut slope) = (0.0_f64, 0.0_f64, 0.0_f64);
    for value in values {
        sum += value - centre;
        most = most.max(sum.abs());
        slope += sum;
    }
    [most, slope.abs()]
}

/// The p of the first among all, by the smaller of its two shares (Westfall & Young 1993, Resampling-Based Multiple Testing, chapter 2): each entry's smaller share is found
/// in the same way, so that looking twice costs what it must and no more.
fn combined(all: &[[f64; 2]]) -> f64 {
    let shares = |kind: usize| -> Vec<usize> {
        let mut sorted: Vec<f64> = all.iter().map(|found| found[kind]).collect();
        sorted.sort_by(f64::total_cmp);
        // sums in another order may differ in the last digit
        let below = |value: f64| sorted.partition_point(|other| *other < value * (1.0 - 1e-9));
        all.iter().map(|found| all.len() - below(found[kind])).collect()
    };
    let smaller: Vec<usize> =
        shares(0).into_iter().zip(shares(1)).map(|(reach, slope)| reach.min(slope)).collect();
    let first = smaller.first().copied().unwrap_or(0);
    let as_small = smaller.iter().filter(|share| **share <= first).count();
    as_small as f64 / all.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the mean is 2, the sums are -1, -2, -1, 0, and in turn -1, 0, -1, 0.
    #[test]
    fn a_step_reaches_as_far_as_the_readings_before_it_lie_below_the_mean() {
        assert_eq!(movement(&[1.0, 1.0, 3.0, 3.0]), [2.0, 4.0]);
        assert_eq!(movement(&[1.0, 3.0, 1.0, 3.0]), [1.0, 2.0]);
    }

    /// Shares by reach 2, 4, 1, 3 of 4, by slope 4, 1, 2, 4: the smaller are 2, 1, 1, 3, and three of them are no larger than the first.
    #[test]
    fn two_looks_are_paid_for() {
        let all = [[3.0, 1.0], [1.0, 9.0], [4.0, 8.0], [2.0, 1.0]];
        assert_eq!(combined(&all), 0.75);
    }

    /// Of the 6 orders of two low and two high readings two reach as far as the step.
    #[test]
    fn the_share_of_shuffles_is_that_of_all_orders() {
        let point = |day: i32, value| Point { day, value, lot: None };
        let points = [point(0, 1.0), point(1, 1.0), point(2, 3.0), point(3, 3.0)];
        let found = chance(&Shuffler::new(&points), 4, &ChartSettings::default(), 7);
        assert!((found.p - 1.0 / 3.0).abs() < 0.05, "{found:?}");
    }
}
