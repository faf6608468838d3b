//! Several people who read the same pieces: who reads higher, and how much of the error is theirs.

use std::collections::{BTreeMap, BTreeSet};

use crate::finding::{CrossedReadings, Estimated, PeopleWhoRead, PersonLevel};
use crate::stats::agreement::{joined_raters, rater_levels};
use crate::stats::repeatability::{Interaction, crossed_study, repeat_readings};
use crate::study::RepeatReading;

/// It takes so many pieces that two people read.
const FEWEST_SHARED: usize = 5;
/// More people than this are not compared one by one.
const MOST_PEOPLE: usize = 25;
/// The interaction is pooled with the repeatability unless its test falls below this: the usual custom of measurement studies (AIAG 2010 takes 0.25; from memory).
const POOLED_FROM: f64 = 0.25;

/// Readings with a name, as columns.
struct Columns {
    values: Vec<f64>,
    pieces: Vec<usize>,
    people: Vec<usize>,
}

/// None where fewer than two people are named, or they read too few pieces in common.
pub(super) fn people(readings: &[RepeatReading]) -> Option<PeopleWhoRead> {
    let names: BTreeSet<&str> = readings.iter().filter_map(|r| r.by.as_deref()).collect();
    let names: Vec<&str> = names.into_iter().collect();
    let named = readings.iter().filter_map(|reading| {
        let person = names.binary_search(&reading.by.as_deref()?).ok()?;
        Some((reading.value, reading.piece, person))
    });
    let mut columns = Columns { values: Vec::new(), pieces: Vec::new(), people: Vec::new() };
    for (value, piece, person) in named {
        columns.values.push(value);
        columns.pieces.push(piece);
        columns.people.push(person);
    }
    if names.len() < 2 || columns.shared() < FEWEST_SHARED {
        return None;
    }
    let levels = columns.levels(&names);
    Some(PeopleWhoRead {
        people: names.len(),
        same_person_sd: columns.same_person_sd(names.len()),
        difference: of_two(levels.iter().map(|level| (level.estimate, level.low, level.high))),
        levels,
        crossed: columns.crossed(),
    })
}

/// How much higher the higher of two levels lies than the other: they lie evenly about their average, so it is twice either. None for more or fewer.
pub(super) fn of_two(levels: impl Iterator<Item = (f64, f64, f64)>) -> Option<Estimated> {
    let levels: Vec<(f64, f64, f64)> = levels.collect();
    let [one, other] = levels.as_slice() else { return None };
    let (estimate, low, high) = if one.0 > other.0 { *one } else { *other };
    Some(Estimated { estimate: 2.0 * estimate, low: 2.0 * low, high: 2.0 * high })
}

impl Columns {
    /// Who read each piece, and how often.
    fn readers(&self) -> BTreeMap<usize, BTreeMap<usize, usize>> {
        let mut readers: BTreeMap<usize, BTreeMap<usize, usize>> = BTreeMap::new();
        for (&piece, &person) in self.pieces.iter().zip(&self.people) {
            *readers.entry(piece).or_default().entry(person).or_default() += 1;
        }
        readers
    }

    fn shared(&self) -> usize {
        self.readers().values().filter(|people| people.len() > 1).count()
    }

    fn same_person_sd(&self, people: usize) -> Option<f64> {
        let cells: Vec<usize> =
            self.pieces.iter().zip(&self.people).map(|(piece, by)| piece * people + by).collect();
        repeat_readings(&self.values, &cells).ok().map(|found| found.within_standard_deviation)
    }

    /// Nobody is compared with people whose pieces they did not read.
    fn levels(&self, names: &[&str]) -> Vec<PersonLevel> {
        let joined = joined_raters(&self.pieces, &self.people).unwrap_or_default();
        if joined.len() > MOST_PEOPLE {
            return Vec::new();
        }
        let kept = self.of(|_, person| joined.binary_search(&person).is_ok());
        let Ok(found) = rater_levels(&kept.values, &kept.pieces, &kept.people) else {
            return Vec::new();
        };
        let level = |(code, level): &(usize, crate::stats::Estimate)| {
            let (low, high) = level.interval(0.95).ok()?;
            let person = (*names.get(*code)?).to_owned();
            let stands_out = found.stands_out(level);
            Some(PersonLevel { person, estimate: level.value, low, high, stands_out })
        };
        found
            .levels
            .iter()
            .filter(|(_, level)| level.standard_error > 0.0)
            .filter_map(level)
            .collect()
    }

    fn of(&self, keep: impl Fn(usize, usize) -> bool) -> Self {
        let mut kept = Self { values: Vec::new(), pieces: Vec::new(), people: Vec::new() };
        for ((&value, &piece), &person) in self.values.iter().zip(&self.pieces).zip(&self.people) {
            if keep(piece, person) {
                kept.values.push(value);
                kept.pieces.push(piece);
                kept.people.push(person);
            }
        }
        kept
    }

    /// The split over the pieces that everybody read equally often; the commonest number of readings is taken.
    fn crossed(&self) -> Option<CrossedReadings> {
        let people: BTreeSet<usize> = self.people.iter().copied().collect();
        let times = |readers: &BTreeMap<usize, usize>| {
            let times: BTreeSet<usize> = readers.values().copied().collect();
            let is_even = readers.len() == people.len() && times.len() == 1;
            times.first().copied().filter(|_| is_even)
        };
        let readers = self.readers();
        let even: BTreeMap<usize, usize> =
            readers.iter().filter_map(|(piece, by)| Some((*piece, times(by)?))).collect();
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for times in even.values() {
            *counts.entry(*times).or_default() += 1;
        }
        let (readings, pieces) =
            counts.into_iter().max_by_key(|(times, pieces)| (*pieces, *times))?;
        if pieces < FEWEST_SHARED {
            return None;
        }
        let kept = self.of(|piece, _| even.get(&piece) == Some(&readings));
        let study = crossed_study(&kept.values, &kept.pieces, &kept.people).ok()?;
        let is_kept = study.interaction_test().is_ok_and(|test| test.p_value() < POOLED_FROM);
        let split = if is_kept { Interaction::Kept } else { Interaction::Pooled };
        let found = study.components(split).ok()?;
        let (repeatability, reproducibility) =
            (found.repeatability.variance, found.reproducibility());
        let measuring = repeatability + reproducibility;
        Some(CrossedReadings {
            pieces,
            people: people.len(),
            readings,
            repeatability,
            reproducibility,
            share_between_people: if measuring > 0.0 { reproducibility / measuring } else { 0.0 },
            pieces_variance: found.part.variance,
            interaction_kept: is_kept,
        })
    }
}
