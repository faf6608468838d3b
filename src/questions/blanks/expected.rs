//! What is expected of each piece, and in which order to finish them.

use rayon::prelude::*;

use super::super::score_range;
use super::Bench;
use super::arrival::Arrivals;
use super::rules::{Foretelling, Rules};
use super::select::{Known, Unfinished};
use crate::study::{Better, Study};

/// A distribution is kept as so many equal shares.
const SHARES: usize = 200;

/// One piece of which something is foretold.
#[derive(Debug, Clone)]
pub(super) struct Expected {
    /// Place among the unfinished pieces.
    pub at: usize,
    pub rating: f64,
    /// Nine of ten such reeds.
    pub low: f64,
    pub high: f64,
    /// The middle half.
    pub half_low: f64,
    pub half_high: f64,
    /// The chance of a good reed if it comes to its first note.
    pub good_if_played: f64,
    /// The chance of coming there; none where the log does not tell of losses.
    pub arrives: Option<f64>,
    /// Whether rated reeds of its lot had a say.
    pub by_lot: bool,
    /// The chance that it does better than the first; a half for the first itself.
    pub outdoes_first: f64,
    /// Middles of equal shares of what it may come to, rising.
    shares: Vec<f64>,
}

impl Expected {
    /// The chance of a good reed with the losses on the way counted, as far as the log tells of them.
    pub fn good(&self) -> f64 {
        self.good_if_played * self.arrives.unwrap_or(1.0)
    }
}

/// The pieces by their chance of a good reed, the best first, and the places of those of which their columns foretell nothing.
pub(super) fn expected(
    study: &Study,
    bench: &Bench,
    unfinished: &Unfinished,
    known: &Known,
) -> (Vec<Expected>, Vec<usize>) {
    let arrivals = Arrivals::of(study);
    let measured = bench.without_maker(&known.all());
    let (mut found, mut untold) = (Vec::new(), Vec::new());
    for (set, factors) in known.sets.iter().enumerate() {
        let own: Vec<usize> =
            (0..unfinished.pieces.len()).filter(|&at| known.set_of[at] == Some(set)).collect();
        // the set of all measurements was asked already
        let own_measured = bench.without_maker(factors);
        let has_a_say = own_measured == measured || bench.has_a_say(&own_measured);
        let places = bench.measured.places(factors);
        let rules = if has_a_say { Rules::of(bench, &places).ok() } else { None };
        let told = |&at: &usize| {
            let piece = unfinished.pieces[at];
            let row = bench.measured.row(bench.columns, &places, piece);
            let lot = rated_lot(bench, piece);
            let foretelling = rules.as_ref()?.foretell(&row, lot).ok()?;
            let arrives = arrivals.as_ref().map(|known| known.from(unfinished.stage[at]));
            Some(of(study, at, &foretelling, arrives))
        };
        let each: Vec<(usize, Option<Expected>)> =
            own.into_par_iter().map(|at| (at, told(&at))).collect();
        for (at, one) in each {
            match one {
                Some(one) => found.push(one),
                None => untold.push(at),
            }
        }
    }
    untold.sort_unstable();
    (in_order(study, found), untold)
}

/// The lot of a piece, where rated reeds came of it.
fn rated_lot(bench: &Bench, piece: usize) -> Option<usize> {
    let lot = bench.columns.lots[piece]? as usize;
    bench.rated_lots.contains(&lot).then_some(lot)
}

fn of(study: &Study, at: usize, foretelling: &Foretelling, arrives: Option<f64>) -> Expected {
    let distribution = &foretelling.distribution;
    let shares = distribution.quantiles(SHARES);
    // no rating lies beyond the scale
    let [lowest, highest] = score_range(study);
    let within = |value: f64| value.clamp(lowest, highest);
    Expected {
        at,
        rating: within(distribution.centre()),
        low: within(foretelling.interval.low),
        high: within(foretelling.interval.high),
        half_low: within(shares[SHARES / 4]),
        half_high: within(shares[SHARES - 1 - SHARES / 4]),
        good_if_played: foretelling.good,
        arrives,
        by_lot: foretelling.by_lot,
        outdoes_first: 0.5,
        shares,
    }
}

/// By the chance of a good reed, then by the rating, then by name.
fn in_order(study: &Study, mut found: Vec<Expected>) -> Vec<Expected> {
    let sign = if study.outcome().better == Better::Lower { -1.0 } else { 1.0 };
    found.sort_by(|a, b| {
        let by_good = b.good().total_cmp(&a.good());
        by_good.then((sign * b.rating).total_cmp(&(sign * a.rating))).then(a.at.cmp(&b.at))
    });
    if let Some(first) = found.first().cloned() {
        for other in found.iter_mut().skip(1) {
            other.outdoes_first = outdoes(other, &first, sign);
        }
    }
    found
}

/// The chance that one piece does better than another, a piece lost on the way doing worst; what is equal counts half. The two are taken as independent.
fn outdoes(one: &Expected, other: &Expected, sign: f64) -> f64 {
    let (here, there) = (one.arrives.unwrap_or(1.0), other.arrives.unwrap_or(1.0));
    let lost = 1.0 - there;
    here * lost + here * there * above(&one.shares, &other.shares, sign) + 0.5 * (1.0 - here) * lost
}

/// The share of pairs in which the first is above the second times the sign, equals half; both rising.
fn above(one: &[f64], other: &[f64], sign: f64) -> f64 {
    let (mut below, mut up_to, mut twice) = (0, 0, 0);
    for value in one {
        while other.get(below).is_some_and(|theirs| theirs < value) {
            below += 1;
        }
        while other.get(up_to).is_some_and(|theirs| theirs <= value) {
            up_to += 1;
        }
        twice += below + up_to;
    }
    let share = twice as f64 / (2 * one.len() * other.len()).max(1) as f64;
    if sign < 0.0 { 1.0 - share } else { share }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_share_of_pairs_counts_equals_half() {
        // 2 beats 1 and ties 2; 3 beats both: 3.5 of 4 pairs
        assert_eq!(above(&[2.0, 3.0], &[1.0, 2.0], 1.0), 3.5 / 4.0);
        assert_eq!(above(&[2.0, 3.0], &[1.0, 2.0], -1.0), 0.5 / 4.0);
    }
}
