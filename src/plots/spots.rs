//! Reeds with the same score stand beside each other, so that each is seen.

use std::collections::BTreeMap;

use super::canvas::{Canvas, Pen, Point};
use super::palette::Ink;
use crate::whole;

/// Steps aside for the second, third, … reed on one spot.
const ASIDE: [Point; 15] = [
    (0.0, 0.0),
    (0.0, 5.0),
    (0.0, -5.0),
    (5.0, 2.5),
    (-5.0, 2.5),
    (5.0, -2.5),
    (-5.0, -2.5),
    (5.0, 7.5),
    (-5.0, 7.5),
    (5.0, -7.5),
    (-5.0, -7.5),
    (0.0, 10.0),
    (0.0, -10.0),
    (10.0, 0.0),
    (-10.0, 0.0),
];
const RADIUS: f64 = 2.7;
const LARGEST_RADIUS: f64 = 12.0;
/// From this many reeds on those on one spot are drawn as one larger dot.
const CROWD: usize = 2000;
/// The side of a spot when there is a crowd.
const COARSE: f64 = 6.0;
const FINE: f64 = 1.0;

/// Where the reeds stand and how many there are at each place.
pub fn draw(canvas: &mut Canvas, reeds: &[(Point, usize)], shown_in_all: usize) {
    let is_crowd = shown_in_all > CROWD;
    let side = if is_crowd { COARSE } else { FINE };
    let mut spots: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for ((x, y), number) in reeds {
        let spot = (whole::signed((x / side).round()), whole::signed((y / side).round()));
        spots.entry(spot).or_default().push((*number).max(1));
    }
    // equal dots one after another are written together
    let mut dots: Vec<(i64, Point)> = Vec::new();
    for ((column, row), numbers) in spots {
        let at = (column as f64 * side, row as f64 * side);
        if is_crowd {
            dots.push((tenths_of_radius(numbers.iter().sum()), at));
        } else {
            dots.extend(numbers.iter().zip(ASIDE.iter().cycle()).map(|(number, aside)| {
                (tenths_of_radius(*number), (at.0 + aside.0, at.1 + aside.1))
            }));
        }
    }
    dots.sort_by_key(|(tenths, _)| *tenths);
    for (tenths, at) in dots {
        canvas.dot(at, tenths as f64 / 10.0, Pen::faint(Ink::Text, 0.42));
    }
}

/// The area of a dot grows with the number of reeds.
fn tenths_of_radius(number: usize) -> i64 {
    let radius = (RADIUS * (number as f64).sqrt()).min(LARGEST_RADIUS);
    whole::signed((radius * 10.0).round())
}
