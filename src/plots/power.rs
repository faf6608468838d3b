//! The chance that a trial finds a difference, over its size: one curve a difference, named at its end, and the trial that is planned.

use super::axes::{Above, Labels, Level, Panel, panel_below};
use super::canvas::{Anchor, Canvas, Pen, Point, SMALL, fitted, words};
use super::palette::Ink;
use super::scale::Range;
use crate::finding::PowerShown;
use crate::words::digits;

const LABEL_ROOM: f64 = 106.0;
const LABEL_HEIGHT: f64 = 18.0;

pub fn draw(canvas: &mut Canvas, x_label: &str, curves: &[PowerShown], planned: f64, wanted: f64) {
    let shown: Vec<Vec<[f64; 2]>> = curves.iter().map(finite).collect();
    let sizes = shown.iter().flatten().map(|[size, _]| *size).chain([planned]);
    let x_range = Range::covering(sizes.filter(|size| size.is_finite())).padded(0.02);
    let labels = Labels { x: x_label, y: "chance to find the difference, %" };
    let asked_for = Level { at: 100.0 * wanted, name: "asked for".to_owned() };
    let above = Above { level: Some(asked_for).filter(|_| wanted.is_finite()), ..Above::default() };
    let panel = panel_below(canvas, labels, [x_range, Range::new(0.0, 100.0)], LABEL_ROOM, above);
    for (position, points) in shown.iter().enumerate() {
        let path: Vec<Point> = points.iter().map(|point| at(&panel, *point)).collect();
        canvas.path(path, Pen::new(Ink::of_series(position), 2.8));
    }
    name_at_ends(canvas, &panel, curves, &shown);
    // the last curve is the difference worth having
    if let Some(point) =
        shown.last().and_then(|points| points.iter().find(|[size, _]| *size == planned))
    {
        mark(canvas, &panel, *point);
    }
}

fn finite(curve: &PowerShown) -> Vec<[f64; 2]> {
    curve
        .points
        .iter()
        .filter(|point| point.iter().all(|value| value.is_finite()))
        .copied()
        .collect()
}

fn at(panel: &Panel, [size, chance]: [f64; 2]) -> Point {
    (panel.x.at(size), panel.y.at(100.0 * chance))
}

/// A ring on the curve, a line down to the axis, and the size beside it.
fn mark(canvas: &mut Canvas, panel: &Panel, point: [f64; 2]) {
    let (x, y) = at(panel, point);
    canvas.dashed((x, y), (x, panel.bottom()), Pen::new(Ink::Text, 1.2), [2.0, 4.0]);
    canvas.ring((x, y), 5.5, Pen::new(Ink::Text, 2.4));
    let text = format!("planned: {}", digits::number(point[0], 0));
    canvas.write(words(text, (x + 6.0, panel.bottom() - 12.0)).sized(SMALL).anchored(Anchor::Left));
}

/// Names at the height of their curve's end, from the top down, pushed apart where they would touch.
fn name_at_ends(
    canvas: &mut Canvas,
    panel: &Panel,
    curves: &[PowerShown],
    shown: &[Vec<[f64; 2]>],
) {
    let ends = shown.iter().zip(curves).enumerate();
    let mut ends: Vec<(Point, usize, &PowerShown)> = ends
        .filter_map(|(i, (points, curve))| Some((at(panel, *points.last()?), i, curve)))
        .collect();
    ends.sort_by(|(one, i, _), (other, j, _)| one.1.total_cmp(&other.1).then(i.cmp(j)));
    let mut free_from = panel.top() - LABEL_HEIGHT / 2.0;
    for ((x, end), position, curve) in ends {
        let y = end.max(free_from + LABEL_HEIGHT / 2.0);
        free_from = y + LABEL_HEIGHT / 2.0;
        let start = panel.right();
        canvas.line((x + 1.0, end), (start + 10.0, y), Pen::new(Ink::of_series(position), 1.5));
        let text = fitted(&curve.label, LABEL_ROOM - 14.0, SMALL);
        canvas.write(words(text, (start + 13.0, y)).sized(SMALL));
    }
}
