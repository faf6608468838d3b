//! What is charted: each measurement of the making, and the reed scores, in the order of the making.

use std::collections::BTreeMap;

use super::makers::Makers;
use crate::catalogue::Stage;
use crate::questions::scores;
use crate::study::{Factor, FactorKind, Study};

/// Larger series are charted as means of neighbouring pieces, so many points at most.
pub(super) const MOST_POINTS: usize = 1_000;

/// One measurement over time.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Series {
    pub measure: String,
    pub label: String,
    pub unit: Option<String>,
    /// Pieces with a day and a value.
    pub pieces: usize,
    pub pieces_a_point: usize,
    pub points: Vec<Point>,
    /// Names of the lots, by code.
    pub lots: Vec<String>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub day: i32,
    pub value: f64,
    /// None for a piece without one, and where a point stands for several pieces.
    pub lot: Option<usize>,
}

/// The pieces with a day, in the order of the making; on one day in the order of their numbers.
pub(super) fn order(study: &Study) -> Vec<(usize, i32)> {
    let days = study.making_days();
    let ids = study.ids();
    let mut order: Vec<(usize, i32)> =
        days.iter().enumerate().filter_map(|(piece, day)| Some((piece, (*day)?))).collect();
    order.sort_by(|a, b| a.1.cmp(&b.1).then_with(|| parts(ids[a.0]).cmp(parts(ids[b.0]))));
    order
}

/// A stretch of an id: digits count as a number, so that 9 comes before 10.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Part<'a> {
    Number(usize, &'a str),
    Text(&'a str),
}

fn parts(id: &str) -> impl Iterator<Item = Part<'_>> {
    let mut left = id;
    std::iter::from_fn(move || {
        let is_number = left.chars().next()?.is_ascii_digit();
        let end = left.find(|letter: char| letter.is_ascii_digit() != is_number);
        let (part, rest) = left.split_at(end.unwrap_or(left.len()));
        left = rest;
        let digits = part.trim_start_matches('0');
        Some(if is_number { Part::Number(digits.len(), digits) } else { Part::Text(part) })
    })
}

/// Numbers of the making, in the order of its stages.
pub(super) fn factors(study: &Study) -> Vec<&Factor> {
    let is_making = |stage: Stage| Stage::MAKING.contains(&stage) && stage != Stage::Play;
    let all = study.factors().iter();
    all.filter(|factor| factor.kind == FactorKind::Number && is_making(factor.stage)).collect()
}

/// All series, or the one that was asked for; none where there is no such measurement. Of several makers each has its mean taken out.
pub(super) fn series(
    study: &Study,
    asked: Option<&str>,
    order: &[(usize, i32)],
    makers: Option<&Makers>,
) -> Vec<Series> {
    let lots = study.lots();
    let lot: Vec<Option<usize>> =
        lots.codes.iter().map(|code| code.map(|code| code as usize)).collect();
    let outcome = study.outcome().criterion;
    let is_asked = |name: &str| asked.is_none_or(|asked| asked.trim().eq_ignore_ascii_case(name));
    let mut found: Vec<Series> = Vec::new();
    let named =
        asked.and_then(|name| study.factor_called(name)).filter(|f| f.kind == FactorKind::Number);
    let chosen = match asked {
        Some(_) => named.into_iter().collect(),
        None => factors(study),
    };
    for factor in chosen {
        let values = study.numbers(&factor.name);
        let alike = makers.map(|makers| makers.taken_out(&values));
        let values = alike.as_ref().unwrap_or(&values);
        let (label, unit) = (factor.label.clone(), factor.unit.clone());
        found.push(one(&factor.name, label, unit, values, order, (&lot, &lots.levels)));
    }
    if is_asked(&outcome) && found.iter().all(|series| series.measure != outcome) {
        let scored = scores::reed_scores(study);
        let mut values = vec![None; study.pieces()];
        for (piece, score) in scored.piece.iter().zip(&scored.score) {
            values[*piece] = Some(*score);
        }
        let values = makers.map(|makers| makers.taken_out(&values)).unwrap_or(values);
        let label = crate::words::drift::SCORE.to_owned();
        found.push(one(&outcome, label, None, &values, order, (&lot, &lots.levels)));
    }
    found
}

fn one(
    measure: &str,
    label: String,
    unit: Option<String>,
    values: &[Option<f64>],
    order: &[(usize, i32)],
    (lot, lots): (&[Option<usize>], &[String]),
) -> Series {
    let known = order.iter().filter_map(|&(piece, day)| Some((piece, day, values[piece]?)));
    let pieces = known.clone().count();
    let pieces_a_point = pieces.div_ceil(MOST_POINTS).max(1);
    let points = match pieces_a_point {
        1 => known.map(|(piece, day, value)| Point { day, value, lot: lot[piece] }).collect(),
        _ => means(known.map(|(_, day, value)| (day, value)), pieces_a_point),
    };
    Series {
        measure: measure.to_owned(),
        label,
        unit,
        pieces,
        pieces_a_point,
        points,
        lots: lots.to_vec(),
    }
}

/// Means of neighbouring pieces; a last group that is not full is left out, since its mean would vary more than the others.
fn means(mut known: impl Iterator<Item = (i32, f64)>, size: usize) -> Vec<Point> {
    let mut points = Vec::new();
    while let Some((day, first)) = known.next() {
        let (mut sum, mut count) = (first, 1);
        for (_, value) in known.by_ref().take(size - 1) {
            (sum, count) = (sum + value, count + 1);
        }
        if count == size {
            points.push(Point { day, value: sum / size as f64, lot: None });
        }
    }
    points
}

/// Points by lot: codes from 0 in the order in which lots first come, pieces without a lot being one more.
pub(super) fn lot_codes(points: &[Point]) -> Vec<usize> {
    let mut known: BTreeMap<Option<usize>, usize> = BTreeMap::new();
    points
        .iter()
        .map(|point| {
            let next = known.len();
            *known.entry(point.lot).or_insert(next)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tenth_reed_comes_after_the_ninth() {
        let mut ids = ["r10", "r9", "r009b", "24-100", "ä10", "24-99", "", "ä9"];
        ids.sort_by(|a, b| parts(a).cmp(parts(b)));
        assert_eq!(ids, ["", "24-99", "24-100", "r9", "r009b", "r10", "ä9", "ä10"]);
    }

    #[test]
    fn crowds_are_charted_as_means_of_as_many_pieces_each() {
        let means = means((0..7).map(|day| (day, f64::from(day))), 3);
        let told: Vec<(i32, f64)> = means.iter().map(|point| (point.day, point.value)).collect();
        assert_eq!(told, [(0, 1.0), (3, 4.0)]);
    }
}
