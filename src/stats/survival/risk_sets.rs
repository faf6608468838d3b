//! Who is at risk when something ends: one walk through the times, latest first.

use super::Lifetimes;
use crate::stats::error::{StatsError, require_length};
use std::collections::BTreeMap;
use std::ops::Range;

/// One time at which rows of a stratum ended. Ranges are places, see [`RiskSets`].
#[derive(Debug, Clone)]
pub(super) struct RiskSet {
    pub time: f64,
    /// Places at risk here that were not at risk at the later times.
    pub joining: Range<usize>,
    /// Places that end here: the tail of `joining`.
    pub ending: Range<usize>,
    /// Positions in `departures` whose rows had not entered yet.
    pub leaving: Range<usize>,
}

/// The risk sets of one stratum, latest time first.
#[derive(Debug, Clone)]
pub(super) struct Stratum {
    pub code: usize,
    pub rows: usize,
    /// The longest time watched.
    pub followed_until: f64,
    pub sets: Vec<RiskSet>,
}

/// All risk sets; building them costs one sort, walking them one pass.
#[derive(Debug, Clone)]
pub(super) struct RiskSets {
    /// The row of each place: by stratum, latest time first, rows that end after rows that are censored at the same time.
    pub order: Vec<usize>,
    /// Places by stratum, latest entry first; empty without delayed entry.
    pub departures: Vec<usize>,
    pub strata: Vec<Stratum>,
}

impl RiskSets {
    /// Strata by code; without codes all rows are one stratum of code 0.
    pub fn new(lifetimes: &Lifetimes, strata: Option<&[usize]>) -> Result<Self, StatsError> {
        if let Some(codes) = strata {
            require_length("the list of strata", lifetimes.rows(), codes.len())?;
        }
        let code = |row: usize| strata.map_or(0, |codes| codes[row]);
        let mut order: Vec<usize> = (0..lifetimes.rows()).collect();
        order.sort_by(|&a, &b| {
            let by_stratum = code(a).cmp(&code(b));
            let by_time = lifetimes.times[b].total_cmp(&lifetimes.times[a]);
            by_stratum.then(by_time).then(lifetimes.ended[a].cmp(&lifetimes.ended[b]))
        });
        let mut rows_of: BTreeMap<usize, usize> = BTreeMap::new();
        order.iter().for_each(|&row| *rows_of.entry(code(row)).or_default() += 1);
        let departures = departures(lifetimes, &order, &code);
        let mut start = 0;
        let strata = rows_of.into_iter().map(|(code, rows)| {
            let places = start..start + rows;
            start += rows;
            stratum(lifetimes, &order, &departures, code, places)
        });
        let strata = strata.collect();
        Ok(Self { order, departures, strata })
    }
}

fn departures(
    lifetimes: &Lifetimes,
    order: &[usize],
    code: &impl Fn(usize) -> usize,
) -> Vec<usize> {
    let Some(entries) = &lifetimes.entries else { return Vec::new() };
    let mut places: Vec<usize> = (0..order.len()).collect();
    places.sort_by(|&a, &b| {
        let by_stratum = code(order[a]).cmp(&code(order[b]));
        by_stratum.then(entries[order[b]].total_cmp(&entries[order[a]]))
    });
    places
}

fn stratum(
    lifetimes: &Lifetimes,
    order: &[usize],
    departures: &[usize],
    code: usize,
    places: Range<usize>,
) -> Stratum {
    let time = |place: usize| lifetimes.times[order[place]];
    let entry =
        |position: usize| lifetimes.entries.as_ref().map(|e| e[order[departures[position]]]);
    let mut sets = Vec::new();
    // departures of a stratum fill the same positions as its places, or there are none at all
    let mut left = if departures.is_empty() { 0 } else { places.start };
    let mut joined = places.start;
    let mut place = places.start;
    while place < places.end {
        if !lifetimes.ended[order[place]] {
            place += 1;
            continue;
        }
        let first = place;
        while place < places.end && time(place) == time(first) {
            place += 1;
        }
        let gone = left;
        while left < places.end && entry(left).is_some_and(|entry| entry >= time(first)) {
            left += 1;
        }
        sets.push(RiskSet {
            time: time(first),
            joining: joined..place,
            ending: first..place,
            leaving: gone..left,
        });
        joined = place;
    }
    Stratum { code, rows: places.len(), followed_until: time(places.start), sets }
}

/// A time of an event and how many rows were at risk and ended, from [`Stratum::counts`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Count {
    pub time: f64,
    pub at_risk: usize,
    pub events: usize,
}

impl Stratum {
    /// The counts of each event time, earliest first.
    pub fn counts(&self) -> Vec<Count> {
        let mut at_risk = 0;
        let each = self.sets.iter().map(|set| {
            // whoever leaves has joined before
            at_risk = at_risk + set.joining.len() - set.leaving.len();
            Count { time: set.time, at_risk, events: set.ending.len() }
        });
        let mut counts: Vec<Count> = each.collect();
        counts.reverse();
        counts
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn one(lifetimes: &Lifetimes) -> Stratum {
        RiskSets::new(lifetimes, None).unwrap().strata.remove(0)
    }

    #[test]
    fn a_row_censored_at_an_event_time_is_still_at_risk() {
        let lifetimes = Lifetimes::new(&[2.0, 2.0, 1.0], &[false, true, false]).unwrap();
        assert_eq!(one(&lifetimes).counts(), [Count { time: 2.0, at_risk: 2, events: 1 }]);
    }

    #[test]
    fn strata_are_walked_apart() {
        let lifetimes = Lifetimes::new(&[1.0, 2.0, 3.0], &[true; 3]).unwrap();
        let sets = RiskSets::new(&lifetimes, Some(&[8, 5, 8])).unwrap();
        assert_eq!(sets.strata[0].counts(), [Count { time: 2.0, at_risk: 1, events: 1 }]);
        assert_eq!(sets.strata[1].counts()[0], Count { time: 1.0, at_risk: 2, events: 1 });
    }

    proptest! {
        #[test]
        fn counts_are_those_of_the_definition(
            rows in prop::collection::vec((0_u8..9, 1_u8..6, any::<bool>()), 1..40)
        ) {
            let entries: Vec<f64> = rows.iter().map(|row| f64::from(row.0)).collect();
            let times: Vec<f64> = rows.iter().map(|row| f64::from(row.0 + row.1)).collect();
            let ended: Vec<bool> = rows.iter().map(|row| row.2).collect();
            let lifetimes = Lifetimes::new(&times, &ended).unwrap().entering_at(&entries).unwrap();
            for count in one(&lifetimes).counts() {
                let events = (0..rows.len()).filter(|&i| ended[i] && times[i] == count.time).count();
                prop_assert_eq!(count.at_risk, lifetimes.at_risk(count.time));
                prop_assert_eq!(count.events, events);
            }
        }
    }
}
