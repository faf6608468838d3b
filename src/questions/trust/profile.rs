//! How well the thickness of the blade repeats: points of the profile that were read more than once.

use std::collections::BTreeMap;

use super::measures::{FEWEST_PIECES, Measured, Named, Reliability, result};
use crate::finding::{PlottedPoint, ReadTooSeldom};
use crate::stats::repeatability::repeat_readings;
use crate::study::{ProfileReading, Study};
use crate::whole;

/// The name under which profile readings stand in the results.
const PROFILE: &str = "profile_mm";

/// One point of one piece: the piece, where, on which line.
type Point<'a> = (usize, i64, &'a str);

/// The readings of a point that was read more than once, the first first.
struct ReadAgain<'a> {
    point: Point<'a>,
    readings: Vec<&'a ProfileReading>,
}

/// None where no point was read again; too few where under eight pieces were.
pub(super) fn profile(study: &Study) -> Option<Result<Measured, ReadTooSeldom>> {
    let points = read_again(study.profile());
    let pieces: std::collections::BTreeSet<usize> =
        points.iter().map(|again| again.point.0).collect();
    if pieces.is_empty() {
        return None;
    }
    if pieces.len() < FEWEST_PIECES {
        return Some(Err(ReadTooSeldom { measure: PROFILE.to_owned(), pieces: pieces.len() }));
    }
    measured(&points).map(Ok)
}

/// Rising by piece, place and line.
fn read_again(all: &[ProfileReading]) -> Vec<ReadAgain<'_>> {
    // points are told apart to a tenth of a millimetre, as everywhere
    let point = |reading: &ProfileReading| whole::signed((reading.from_tip_mm * 10.0).round());
    let mut placed: Vec<(Point, &ProfileReading)> = all
        .iter()
        .map(|reading| ((reading.piece, point(reading), reading.line.as_str()), reading))
        .collect();
    placed.sort_by(|(a, first), (b, second)| {
        let by_repeat = || first.repeat.cmp(&second.repeat);
        let by_value = || first.thickness_mm.total_cmp(&second.thickness_mm);
        a.cmp(b).then_with(by_repeat).then_with(by_value)
    });
    let points = placed.chunk_by(|(a, _), (b, _)| a == b);
    points
        .filter(|readings| readings.len() > 1)
        .map(|readings| ReadAgain {
            point: readings[0].0, // of two at least
            readings: readings.iter().map(|(_, reading)| *reading).collect(),
        })
        .collect()
}

fn measured(points: &[ReadAgain]) -> Option<Measured> {
    let (mut values, mut codes) = (Vec::new(), Vec::new());
    for (code, again) in points.iter().enumerate() {
        for reading in &again.readings {
            values.push(reading.thickness_mm);
            codes.push(code);
        }
    }
    let repeated = repeat_readings(&values, &codes).ok()?;
    let named = Named {
        measure: PROFILE.to_owned(),
        label: "thickness at a point".to_owned(),
        unit: Some("mm".to_owned()),
    };
    let estimate = reliability(points, repeated.within_standard_deviation.powi(2));
    let share = Reliability { estimate, ..Reliability::default() };
    let pairs = points
        .iter()
        .filter_map(|again| again.readings.split_first())
        .flat_map(|(first, later)| {
            later.iter().map(|later| PlottedPoint {
                x: first.thickness_mm,
                y: later.thickness_mm,
                reeds: 1,
            })
        })
        .collect();
    Some(Measured { result: result(&named, &repeated, share, None), label: named.label, pairs })
}

/// Share of the variance among pieces at the same point that is no error, over all points by the method of moments. Points of one piece go together, so no
/// interval is claimed.
fn reliability(points: &[ReadAgain], within: f64) -> Option<f64> {
    if within <= 0.0 {
        return None;
    }
    let mut at: BTreeMap<(i64, &str), Vec<(f64, f64)>> = BTreeMap::new();
    for ReadAgain { point: (_, place, line), readings } in points {
        let count = readings.len() as f64;
        let mean = readings.iter().map(|reading| reading.thickness_mm).sum::<f64>() / count;
        at.entry((*place, line)).or_default().push((mean, count));
    }
    let (mut squares, mut free, mut error) = (0.0, 0.0, 0.0);
    for pieces in at.values().filter(|pieces| pieces.len() > 1) {
        let count = pieces.len() as f64;
        let centre = pieces.iter().map(|(mean, _)| mean).sum::<f64>() / count;
        squares += pieces.iter().map(|(mean, _)| (mean - centre).powi(2)).sum::<f64>();
        free += count - 1.0;
        // the mean of a point's readings carries a part of the error
        error += within * (count - 1.0) / count * pieces.iter().map(|(_, n)| 1.0 / n).sum::<f64>();
    }
    if free == 0.0 {
        return None;
    }
    let between = ((squares - error) / free).max(0.0);
    Some(between / (between + within))
}
