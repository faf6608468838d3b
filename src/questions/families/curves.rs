//! Profiles on a common grid.
//!
//! Repeats at a point are averaged, then left and right. Spine, channels and rails stay apart: a blade with thin rails and one with a thin spine are not the
//! same blade. Each line has its own grid: the distances from the tip at which most of its pieces were read, or, where the readers chose their distances freely,
//! even steps between the ends that most pieces reach. Between two readings a piece's thickness is interpolated in a straight line; beyond its readings nothing is made up.

use std::collections::BTreeMap;

use crate::stats::numeric::quantile_of_sorted;
use crate::study::ProfileReading;
use crate::whole;

/// Distances are told apart to a tenth of a millimetre.
const TENTHS: f64 = 10.0;
/// A distance stands on the grid when this share of the line's pieces was read there.
const READ_BY: f64 = 0.5;
const FEWEST_POINTS: usize = 3;
/// Points of a grid in even steps.
const EVEN_POINTS: usize = 9;
/// The share of the pieces that may fall short of each end of such a grid.
const FALL_SHORT: f64 = 0.1;
/// A line is used when this share of the finished pieces can be read along all of it.
const FEWEST_KNOWN: f64 = 0.6;

/// One point of the grid.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct GridPoint {
    pub line: &'static str,
    pub from_tip_mm: f64,
}

/// Whole curves: one thickness a grid point.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Curves {
    pub grid: Vec<GridPoint>,
    pub by_piece: BTreeMap<usize, Vec<f64>>,
}

/// Thickness by distance in tenths of a millimetre.
type Along = BTreeMap<i64, f64>;
type ByPiece = BTreeMap<usize, Along>;

impl Curves {
    /// None where too few of the judging pieces have a line of three points.
    pub fn of(readings: &[ProfileReading], judges: &[usize]) -> Option<Self> {
        let known = |by_piece: &BTreeMap<usize, Vec<f64>>| {
            judges.iter().filter(|piece| by_piece.contains_key(piece)).count() as f64
        };
        let needed = (FEWEST_KNOWN * judges.len() as f64).max(1.0);
        let mut curves: Option<Self> = None;
        for (line, pieces) in lines(readings) {
            let Some(own) = on_grid(line, &pieces).filter(|own| known(&own.by_piece) >= needed)
            else {
                continue;
            };
            let joined = match &curves {
                Some(before) => before.joined(&own),
                None => own,
            };
            // a line that was read on other pieces than the lines before it would take their pieces away
            if known(&joined.by_piece) >= needed {
                curves = Some(joined);
            }
        }
        curves
    }

    fn joined(&self, other: &Self) -> Self {
        let grid = self.grid.iter().chain(&other.grid).cloned().collect();
        let both = |(piece, own): (&usize, &Vec<f64>)| {
            let other = other.by_piece.get(piece)?;
            Some((*piece, own.iter().chain(other).copied().collect()))
        };
        Self { grid, by_piece: self.by_piece.iter().filter_map(both).collect() }
    }
}

/// The spine first, as the line that most makers read.
fn lines(readings: &[ProfileReading]) -> Vec<(&'static str, ByPiece)> {
    const LINES: [(&str, [&str; 2]); 3] = [
        ("spine", ["spine", "spine"]),
        ("channels", ["left_channel", "right_channel"]),
        ("rails", ["left_rail", "right_rail"]),
    ];
    LINES.map(|(line, sides)| (line, averaged(readings, sides))).into_iter().collect()
}

/// Repeats averaged, then the two sides.
fn averaged(readings: &[ProfileReading], [left, right]: [&str; 2]) -> ByPiece {
    let is_own = |reading: &&ProfileReading| {
        (reading.line == left || reading.line == right)
            && reading.thickness_mm.is_finite()
            && reading.from_tip_mm.is_finite()
    };
    let placed = readings.iter().filter(is_own).map(|reading| {
        let tenths = whole::signed((reading.from_tip_mm * TENTHS).round());
        ((reading.piece, tenths, reading.line.as_str()), reading.thickness_mm)
    });
    let sides = means_of_alike(placed.collect());
    let sides = sides.into_iter().map(|((piece, tenths, _), mean)| ((piece, tenths), mean));
    let mut by_piece = ByPiece::new();
    for ((piece, tenths), mean) in means_of_alike(sides.collect()) {
        by_piece.entry(piece).or_default().insert(tenths, mean);
    }
    by_piece
}

/// The mean of the values under each key, by rising key.
fn means_of_alike<Key: Ord + Copy>(mut values: Vec<(Key, f64)>) -> Vec<(Key, f64)> {
    // stable, so that the values of a key are summed up in the order in which they came
    values.sort_by_key(|(key, _)| *key);
    let alike = values.chunk_by(|one, next| one.0 == next.0).filter_map(|alike| {
        let sum: f64 = alike.iter().map(|(_, value)| value).sum();
        Some((alike.first()?.0, sum / alike.len() as f64))
    });
    alike.collect()
}

fn on_grid(line: &'static str, pieces: &ByPiece) -> Option<Curves> {
    let grid = read_by_most(pieces).or_else(|| even_steps(pieces))?;
    let curve = |(piece, along): (&usize, &Along)| {
        let thicknesses: Option<Vec<f64>> =
            grid.iter().map(|&tenths| interpolated(along, tenths)).collect();
        Some((*piece, thicknesses?))
    };
    let by_piece = pieces.iter().filter_map(curve).collect();
    let point = |&tenths: &f64| GridPoint { line, from_tip_mm: tenths / TENTHS };
    Some(Curves { grid: grid.iter().map(point).collect(), by_piece })
}

fn read_by_most(pieces: &ByPiece) -> Option<Vec<f64>> {
    let mut counts: BTreeMap<i64, usize> = BTreeMap::new();
    pieces.values().flat_map(BTreeMap::keys).for_each(|&at| *counts.entry(at).or_default() += 1);
    let needed = READ_BY * pieces.len() as f64;
    let kept: Vec<f64> = counts
        .into_iter()
        .filter(|(_, count)| *count as f64 >= needed)
        .map(|(tenths, _)| tenths as f64)
        .collect();
    (kept.len() >= FEWEST_POINTS).then_some(kept)
}

fn even_steps(pieces: &ByPiece) -> Option<Vec<f64>> {
    let long = || pieces.values().filter(|along| along.len() >= FEWEST_POINTS);
    let sorted = |end: fn(&Along) -> Option<i64>| {
        let mut ends: Vec<f64> = long().filter_map(end).map(|tenths| tenths as f64).collect();
        ends.sort_by(f64::total_cmp);
        ends
    };
    let starts = sorted(|along| along.keys().next().copied());
    let ends = sorted(|along| along.keys().next_back().copied());
    if starts.is_empty() {
        return None;
    }
    let from = quantile_of_sorted(&starts, 1.0 - FALL_SHORT).ceil();
    let to = quantile_of_sorted(&ends, FALL_SHORT).floor();
    let step = (to - from) / (EVEN_POINTS - 1) as f64;
    (step > 0.0).then(|| (0..EVEN_POINTS).map(|place| from + step * place as f64).collect())
}

/// On the straight line between the readings on either side; none beyond the last.
fn interpolated(along: &Along, tenths: f64) -> Option<f64> {
    let (&low, &thin) = along.range(..=whole::signed(tenths.floor())).next_back()?;
    let (&high, &thick) = along.range(whole::signed(tenths.ceil())..).next()?;
    let share = if high > low { (tenths - low as f64) / (high - low) as f64 } else { 0.0 };
    Some(thin + share * (thick - thin))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(piece: usize, from_tip_mm: f64, line: &str, thickness_mm: f64) -> ProfileReading {
        ProfileReading { piece, from_tip_mm, line: line.to_owned(), repeat: 1, thickness_mm }
    }

    fn spine(piece: usize, at: &[f64]) -> Vec<ProfileReading> {
        at.iter().map(|&at| reading(piece, at, "spine", 0.1 + 0.02 * at)).collect()
    }

    /// Left twice 0.30 and 0.34, right once 0.40: 0.32 and 0.40, together 0.36.
    #[test]
    fn repeats_are_averaged_before_the_sides() {
        let readings = [
            reading(0, 5.0, "left_rail", 0.30),
            reading(0, 5.0, "left_rail", 0.34),
            reading(0, 5.0, "right_rail", 0.40),
        ];
        let rails = averaged(&readings, ["left_rail", "right_rail"]);
        assert!((rails[&0][&50] - 0.36).abs() < 1e-12);
    }

    #[test]
    fn a_piece_read_elsewhere_is_interpolated_and_never_beyond_its_readings() {
        let mut readings: Vec<ProfileReading> =
            (0..4).flat_map(|piece| spine(piece, &[2.0, 10.0, 20.0])).collect();
        readings.extend(spine(4, &[1.0, 8.0, 14.0, 22.0]));
        readings.extend(spine(5, &[4.0, 10.0, 20.0]));
        let curves = Curves::of(&readings, &[0, 1, 2, 3, 4, 5]).unwrap();
        let at: Vec<f64> = curves.grid.iter().map(|point| point.from_tip_mm).collect();
        assert_eq!(at, [2.0, 10.0, 20.0]);
        // the line is straight, so what is interpolated is exact
        for (found, at) in curves.by_piece[&4].iter().zip([2.0, 10.0, 20.0]) {
            assert!((found - (0.1 + 0.02 * at)).abs() < 1e-12);
        }
        assert!(!curves.by_piece.contains_key(&5), "it starts at 4 mm");
    }

    #[test]
    fn distances_chosen_freely_give_a_grid_in_even_steps() {
        let readings: Vec<ProfileReading> = (0..10)
            .flat_map(|piece| {
                let shift = 0.1 * piece as f64;
                spine(piece, &[1.0 + shift, 7.0 + shift, 15.0 + shift, 24.0 + shift])
            })
            .collect();
        let judges: Vec<usize> = (0..10).collect();
        let curves = Curves::of(&readings, &judges).unwrap();
        assert_eq!(curves.grid.len(), EVEN_POINTS);
        assert!(curves.by_piece.len() >= 8, "{}", curves.by_piece.len());
    }

    #[test]
    fn a_line_read_on_few_pieces_stays_out_and_the_others_keep_theirs() {
        let mut readings: Vec<ProfileReading> =
            (0..10).flat_map(|piece| spine(piece, &[2.0, 10.0, 20.0])).collect();
        for at in [2.0, 10.0, 20.0] {
            readings.push(reading(0, at, "left_rail", 0.3));
        }
        let judges: Vec<usize> = (0..10).collect();
        let curves = Curves::of(&readings, &judges).unwrap();
        assert!(curves.grid.iter().all(|point| point.line == "spine"));
        assert_eq!(curves.by_piece.len(), 10);
        assert_eq!(Curves::of(&readings[..6], &judges), None);
    }
}
