//! Reeds with the same score stand beside each other, so that each is seen.

use std::collections::BTreeMap;

use super::canvas::{Canvas, Pen, Point, words};
use super::palette::Ink;
use crate::whole;

/// Steps aside for the second, third, … reed on one spot.
const ASIDE: [Point; 29] = [
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
    (10.0, 5.0),
    (-10.0, 5.0),
    (10.0, -5.0),
    (-10.0, -5.0),
    (10.0, 10.0),
    (-10.0, 10.0),
    (10.0, -10.0),
    (-10.0, -10.0),
    (5.0, 12.5),
    (-5.0, 12.5),
    (5.0, -12.5),
    (-5.0, -12.5),
    (0.0, 15.0),
    (0.0, -15.0),
];
const RADIUS: f64 = 2.7;
const LARGEST_RADIUS: f64 = 12.0;
const SMALLEST_RADIUS: f64 = 0.8;
const SEVERAL: &str = "the larger a dot, the more it stands for";
const PEN: Pen = Pen::faint(Ink::Text, 0.42);
/// From this many reeds on those on one spot are drawn as one larger dot.
const CROWD: usize = 2000;
/// The side of a spot when there is a crowd.
const COARSE: f64 = 6.0;
const FINE: f64 = 1.0;

/// Where the reeds stand and how many there are at each place. Returns the radius of a single one.
pub fn draw(canvas: &mut Canvas, reeds: &[(Point, usize)], shown_in_all: usize) -> f64 {
    let dots = if shown_in_all > CROWD { heaped(reeds) } else { beside_each_other(reeds) };
    let most = dots.iter().map(|(number, _)| *number).max().unwrap_or(1);
    canvas.has_dots_of_several |= most > 1;
    // equal dots one after another are written together
    let mut sized: Vec<(i64, Point)> =
        dots.into_iter().map(|(number, at)| (tenths_of_radius(number, most), at)).collect();
    sized.sort_by_key(|(tenths, _)| *tenths);
    for (tenths, at) in sized {
        canvas.dot(at, tenths as f64 / 10.0, PEN);
    }
    tenths_of_radius(1, most) as f64 / 10.0
}

/// The mark of a single reed in a key, of the radius that [`draw`] returned.
pub fn in_key(canvas: &mut Canvas, at: Point, radius: f64) {
    canvas.dot(at, radius, PEN);
}

/// A line below a picture some of whose dots are several reeds.
pub fn say_several(canvas: &mut Canvas) {
    if canvas.has_dots_of_several {
        canvas.write(words(SEVERAL, (8.0, canvas.height + 10.0)).quiet());
        canvas.height += 24.0;
    }
}

/// One dot a spot.
fn heaped(reeds: &[(Point, usize)]) -> Vec<(usize, Point)> {
    let mut spots: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    for (at, number) in reeds {
        *spots.entry(spot(*at, COARSE)).or_default() += (*number).max(1);
    }
    spots.into_iter().map(|(spot, number)| (number, middle(spot, COARSE))).collect()
}

/// A dot for each, those on one spot around it; one dot for more than there is room for.
fn beside_each_other(reeds: &[(Point, usize)]) -> Vec<(usize, Point)> {
    let mut spots: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for (at, number) in reeds {
        spots.entry(spot(*at, FINE)).or_default().push((*number).max(1));
    }
    let mut dots = Vec::new();
    for (spot, numbers) in spots {
        let (x, y) = middle(spot, FINE);
        if numbers.len() > ASIDE.len() {
            dots.push((numbers.iter().sum(), (x, y)));
            continue;
        }
        let places = ASIDE.iter().map(|(right, down)| (x + right, y + down));
        dots.extend(numbers.into_iter().zip(places));
    }
    dots
}

fn spot((x, y): Point, side: f64) -> (i64, i64) {
    (whole::signed((x / side).round()), whole::signed((y / side).round()))
}

fn middle((column, row): (i64, i64), side: f64) -> Point {
    (column as f64 * side, row as f64 * side)
}

/// The area of a dot grows with the number of reeds; where the largest would hide the rest, all are smaller.
fn tenths_of_radius(number: usize, most: usize) -> i64 {
    let unit = RADIUS.min(LARGEST_RADIUS / (most as f64).sqrt());
    let radius = (unit * (number as f64).sqrt()).max(SMALLEST_RADIUS);
    whole::signed((radius * 10.0).round())
}
