//! How well each measurement repeats: the readings of pieces that were read more than once.

use std::collections::{BTreeMap, BTreeSet};

use super::people;
use crate::catalogue;
use crate::finding::{MeasureTrust, PlottedPoint, ReadTooSeldom};
use crate::stats::agreement::intraclass_one_way;
use crate::stats::repeatability::{Repeatability, repeat_readings};
use crate::study::{RepeatReading, Study};
use crate::words;

/// It takes so many pieces read twice or more.
pub(super) const FEWEST_PIECES: usize = 8;

/// One measurement, and what its picture shows.
pub(super) struct Measured {
    pub result: MeasureTrust,
    pub label: String,
    /// First reading against each later one.
    pub pairs: Vec<PlottedPoint>,
}

/// What was measured, in a sentence and in which unit.
pub(super) struct Named {
    pub measure: String,
    pub label: String,
    pub unit: Option<String>,
}

/// Everything that was read again, by the name of the measure; and what was read again too seldom.
pub(super) fn measures(study: &Study) -> (Vec<Measured>, Vec<ReadTooSeldom>) {
    let mut by_measure: BTreeMap<String, Vec<RepeatReading>> = BTreeMap::new();
    for reading in study.readings() {
        by_measure.entry(reading.measure.clone()).or_default().push(reading);
    }
    let (mut found, mut too_few) = (Vec::new(), Vec::new());
    for (measure, readings) in by_measure {
        let readings = read_again(readings);
        let pieces = distinct(readings.iter().map(|reading| reading.piece));
        if pieces >= FEWEST_PIECES {
            found.extend(measured(named(study, measure), &readings));
        } else if pieces > 0 {
            too_few.push(ReadTooSeldom { measure, pieces });
        }
    }
    (found, too_few)
}

/// The readings of pieces that were read twice or more, each piece's together and the first reading first.
fn read_again(mut readings: Vec<RepeatReading>) -> Vec<RepeatReading> {
    readings.sort_by(|a, b| {
        let order = (a.piece, a.repeat, &a.by).cmp(&(b.piece, b.repeat, &b.by));
        order.then(a.value.total_cmp(&b.value))
    });
    let of_pieces = readings.chunk_by(|a, b| a.piece == b.piece);
    of_pieces.filter(|readings| readings.len() > 1).flatten().cloned().collect()
}

fn distinct(codes: impl Iterator<Item = usize>) -> usize {
    codes.collect::<BTreeSet<_>>().len()
}

pub(super) fn named(study: &Study, measure: String) -> Named {
    if let Some(factor) = study.factor(&measure) {
        return Named { measure, label: factor.label.clone(), unit: factor.unit.clone() };
    }
    let known = catalogue::known(&measure);
    let label = known.map_or_else(
        || words::lists::name(&measure.replace('_', " ")),
        |known| known.label.to_owned(),
    );
    let unit = known.and_then(|known| known.unit).map(|unit| unit.symbol().to_owned());
    Named { measure, label, unit }
}

/// None only where the readings cannot be squared.
fn measured(named: Named, readings: &[RepeatReading]) -> Option<Measured> {
    let values: Vec<f64> = readings.iter().map(|reading| reading.value).collect();
    let pieces: Vec<usize> = readings.iter().map(|reading| reading.piece).collect();
    let repeated = repeat_readings(&values, &pieces).ok()?;
    let share = Reliability::of(&values, &pieces);
    let people = people::people(readings);
    let result = result(&named, &repeated, share, people);
    Some(Measured { result, label: named.label, pairs: pairs(readings) })
}

/// Share of the spread of single readings that is the pieces', with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Reliability {
    pub estimate: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

impl Reliability {
    /// Nothing where readings never differ, or those of a piece never do: their error cannot be seen then.
    fn of(values: &[f64], pieces: &[usize]) -> Self {
        let Ok(found) = intraclass_one_way(values, pieces) else { return Self::default() };
        let Ok((low, high)) = found.interval(0.95) else { return Self::default() };
        let share = |value: f64| Some(value.clamp(0.0, 1.0));
        Self { estimate: share(found.coefficient), low: share(low), high: share(high) }
    }
}

/// The numbers of one measurement; the sentence is said last.
pub(super) fn result(
    named: &Named,
    repeated: &Repeatability,
    reliability: Reliability,
    people: Option<crate::finding::PeopleWhoRead>,
) -> MeasureTrust {
    let within = repeated.within_standard_deviation;
    let interval = repeated.within_interval(0.95).ok().filter(|_| within > 0.0);
    // the coefficient is a multiple of the standard deviation, and so are its ends
    let multiple = if within > 0.0 { repeated.coefficient() / within } else { 0.0 };
    let mut result = MeasureTrust {
        measure: named.measure.clone(),
        unit: named.unit.clone(),
        n: repeated.subjects,
        repeats: repeated.readings,
        within_sd: within,
        within_low: interval.map(|ends| ends.0),
        within_high: interval.map(|ends| ends.1),
        repeatability: repeated.coefficient(),
        repeatability_low: interval.map(|ends| ends.0 * multiple),
        repeatability_high: interval.map(|ends| ends.1 * multiple),
        share_of_spread: reliability.estimate.map(|share| 1.0 - share),
        share_of_spread_low: reliability.high.map(|share| 1.0 - share),
        share_of_spread_high: reliability.low.map(|share| 1.0 - share),
        reliability: reliability.estimate,
        reliability_low: reliability.low,
        reliability_high: reliability.high,
        people,
        sentence: String::new(),
    };
    result.sentence = words::trust::measures::sentence(&named.label, &result);
    result
}

/// The first reading of each piece with each later one.
fn pairs(readings: &[RepeatReading]) -> Vec<PlottedPoint> {
    readings
        .chunk_by(|a, b| a.piece == b.piece)
        .filter_map(|piece| piece.split_first())
        .flat_map(|(first, later)| {
            later.iter().map(|later| PlottedPoint { x: first.value, y: later.value, reeds: 1 })
        })
        .collect()
}
