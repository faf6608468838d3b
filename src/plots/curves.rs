//! Curves along the blade, one a family, each named at its end.

use super::axes::{Labels, Panel, panel};
use super::canvas::{Canvas, Pen, Point, SMALL, fitted, words};
use super::factor_number::{band, is_finite};
use super::palette::{Ink, in_turn};
use super::scale::Range;
use crate::finding::{CurveShown, FittedPoint};

const LABEL_ROOM: f64 = 150.0;
const LABEL_HEIGHT: f64 = 18.0;
/// Solid first; families beyond the fifth repeat the colours in dashes.
const DASHES: [Option<[f64; 2]>; 3] = [None, Some([10.0, 5.0]), Some([3.0, 4.0])];

pub fn draw(canvas: &mut Canvas, labels: Labels, curves: &[CurveShown]) {
    let shown: Vec<Vec<&FittedPoint>> = curves
        .iter()
        .map(|curve| curve.points.iter().filter(|point| is_finite(point)).collect())
        .collect();
    let all = || shown.iter().flatten();
    let x_range = Range::covering(all().map(|point| point.x)).padded(0.02);
    let y_range =
        Range::covering(all().flat_map(|point| [point.low, point.fit, point.high])).padded(0.05);
    let panel = panel(canvas, labels, [x_range, y_range], LABEL_ROOM);
    for (position, points) in shown.iter().enumerate() {
        band(canvas, &panel, points, Ink::of_series(position));
    }
    for (position, points) in shown.iter().enumerate() {
        line(canvas, &panel, points, position);
    }
    name_at_ends(canvas, &panel, curves, &shown);
}

fn line(canvas: &mut Canvas, panel: &Panel, points: &[&FittedPoint], position: usize) {
    let path: Vec<Point> =
        points.iter().map(|point| (panel.x.at(point.x), panel.y.at(point.fit))).collect();
    let pen = Pen::new(Ink::of_series(position), 2.8);
    match (in_turn(DASHES, position / Ink::SERIES.len()), path.as_slice()) {
        (Some(dashes), _) => canvas.dashed_path(&path, pen, dashes),
        (None, &[only]) => canvas.dot(only, 4.0, pen),
        (None, _) => canvas.path(path, pen),
    }
}

/// Names stand at the height of their curve's end, pushed apart where they would touch.
fn name_at_ends(
    canvas: &mut Canvas,
    panel: &Panel,
    curves: &[CurveShown],
    shown: &[Vec<&FittedPoint>],
) {
    let mut ends: Vec<(f64, usize, &CurveShown)> = shown
        .iter()
        .zip(curves)
        .enumerate()
        .filter_map(|(position, (points, curve))| {
            points.last().map(|point| (panel.y.at(point.fit), position, curve))
        })
        .collect();
    ends.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
    let needed = ends.len() as f64 * LABEL_HEIGHT;
    let lowest_start = (panel.bottom() - needed).max(panel.top());
    let mut free_from = panel.top();
    for (rank, (end, position, curve)) in ends.into_iter().enumerate() {
        let latest = lowest_start + rank as f64 * LABEL_HEIGHT + LABEL_HEIGHT / 2.0;
        let y = end.min(latest).max(free_from + LABEL_HEIGHT / 2.0);
        free_from = y + LABEL_HEIGHT / 2.0;
        if free_from > panel.bottom() + LABEL_HEIGHT {
            break;
        }
        let x = panel.right();
        canvas.line((x + 1.0, end), (x + 12.0, y), Pen::new(Ink::of_series(position), 1.5));
        let text = fitted(&curve.label, LABEL_ROOM - 18.0, SMALL);
        canvas.write(words(text, (x + 15.0, y)).sized(SMALL));
    }
}
