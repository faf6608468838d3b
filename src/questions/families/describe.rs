//! Say: what is unusual in a family, and whether it is a lot under another name.

use std::collections::BTreeMap;

use super::kinds::Kinds;
use super::measure::Measured;
use crate::finding::{FamilyFeature, Interval};
use crate::stats::numeric::{mean, normal_quantile, standard_deviation, variance};
use crate::study::Labels;
use crate::words::families::{Unusual, UnusualAt};

const MOST_TOLD: usize = 3;
/// A family's mean must lie so many standard deviations of all pieces from that of the others to be told.
const LEAST_DEVIATION: f64 = 0.5;
/// From this share of a family on it may be no more than its lot or its maker.
const MOSTLY: f64 = 0.8;

/// The most unusual features of a family, the most unusual first.
pub(super) fn unusual(measured: &Measured, kinds: &Kinds, family: usize) -> Vec<Unusual> {
    let own: Vec<bool> = kinds.labels.iter().map(|&label| label == family).collect();
    let mut found: Vec<(f64, Unusual)> = Vec::new();
    for feature in measured.features.iter().filter(|feature| feature.component.is_none()) {
        let at = UnusualAt::Measure {
            label: feature.label.clone(),
            unit: feature.unit.clone(),
            higher_is: feature.higher_is.clone(),
        };
        found.extend(apart(&feature.values, &own, at));
    }
    found.extend(unusual_point(measured, &own));
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().take(MOST_TOLD).map(|(_, unusual)| unusual).collect()
}

/// The point of the profile at which the family is farthest from the others.
fn unusual_point(measured: &Measured, own: &[bool]) -> Option<(f64, Unusual)> {
    let profile = measured.profile.as_ref().filter(|_| !measured.profile_unused)?;
    let points = profile.curves.grid.iter().enumerate().filter_map(|(at, point)| {
        let thickness = |piece: &usize| profile.curves.by_piece.get(piece).map(|curve| curve[at]);
        let values: Option<Vec<f64>> = measured.pieces.iter().map(thickness).collect();
        let at = UnusualAt::Profile { line: point.line, from_tip_mm: point.from_tip_mm };
        apart(&values?, own, at)
    });
    points.max_by(|a, b| a.0.total_cmp(&b.0))
}

/// How many standard deviations the family lies from the others, where that is far and no accident; the interval is Welch's, with the normal quantile.
fn apart(values: &[f64], own: &[bool], at: UnusualAt) -> Option<(f64, Unusual)> {
    let side = |wanted: bool| -> Vec<f64> {
        let pairs = values.iter().zip(own).filter(|(_, own)| **own == wanted);
        pairs.map(|(value, _)| *value).collect()
    };
    let (inside, outside) = (side(true), side(false));
    let estimate = mean(&inside).ok()? - mean(&outside).ok()?;
    let square = |side: &[f64]| Some(variance(side).ok()? / side.len() as f64);
    let reach = normal_quantile(0.975) * (square(&inside)? + square(&outside)?).sqrt();
    let deviation = estimate.abs() / standard_deviation(values).ok()?;
    let is_told = deviation >= LEAST_DEVIATION && estimate.abs() > reach;
    let difference = Interval { estimate, low: estimate - reach, high: estimate + reach };
    is_told.then_some((deviation, Unusual { at, difference }))
}

pub(super) fn feature(unusual: &Unusual) -> FamilyFeature {
    let Interval { estimate, low, high } = unusual.difference;
    let (measure, unit) = unusual.measure();
    FamilyFeature { measure, unit, difference: estimate, low, high }
}

/// The commonest lot or maker of a family, with how many of its pieces are of it and of how many that is known.
pub(super) struct Mostly {
    pub name: String,
    pub n: usize,
    pub of: usize,
}

/// None unless most of the family is of one lot or maker, and the other pieces are not.
pub(super) fn mostly_one(
    labels: &Labels,
    measured: &Measured,
    kinds: &Kinds,
    family: usize,
) -> Option<Mostly> {
    let mut counts: BTreeMap<u32, [usize; 2]> = BTreeMap::new();
    let mut known = [0_usize; 2];
    for (&piece, &label) in measured.pieces.iter().zip(&kinds.labels) {
        if let Some(code) = labels.codes[piece] {
            let side = usize::from(label != family);
            counts.entry(code).or_default()[side] += 1;
            known[side] += 1;
        }
    }
    // the first by name among equals
    let (&code, [n, elsewhere]) =
        counts.iter().max_by_key(|(code, [own, _])| (*own, std::cmp::Reverse(**code)))?;
    let share = |n: usize, of: usize| n as f64 / of.max(1) as f64;
    // of a few known ones the many others say nothing
    let pieces = kinds.labels.iter().filter(|&&label| label == family).count();
    let is_known = 2 * known[0] > pieces;
    let is_mostly =
        is_known && share(*n, known[0]) >= MOSTLY && share(*elsewhere, known[1]) < 0.5 * MOSTLY;
    is_mostly.then(|| Mostly { name: labels.name(code).to_owned(), n: *n, of: known[0] })
}
