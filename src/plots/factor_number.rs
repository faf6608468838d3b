//! A measured factor against the rating: each reed, the fitted curve with its
//! interval, and the rating from which a reed is called good.

use super::axes::{Labels, Panel, level_across, panel};
use super::canvas::{Canvas, Pen, Point};
use super::palette::Ink;
use super::scale::Range;
use super::spots;
use crate::finding::{FittedPoint, GoodLine, PlottedPoint};
use crate::words::digits;

pub fn draw(
    canvas: &mut Canvas,
    labels: Labels,
    points: &[PlottedPoint],
    curve: &[FittedPoint],
    good_at: Option<GoodLine>,
    y_range: [f64; 2],
) {
    let known: Vec<&PlottedPoint> =
        points.iter().filter(|point| point.x.is_finite() && point.y.is_finite()).collect();
    let curve: Vec<&FittedPoint> = curve.iter().filter(|point| is_finite(point)).collect();
    let across = known.iter().map(|point| point.x).chain(curve.iter().map(|point| point.x));
    let x_range = Range::covering(across).padded(0.04);
    let y_range = Range::new(y_range[0], y_range[1]).including(known.iter().map(|point| point.y));
    let panel = panel(canvas, labels, [x_range, y_range.padded(0.03)], 10.0);
    if let Some(good_at) = good_at {
        level_across(canvas, &panel, good_at.at, &good_name(good_at));
    }
    band(canvas, &panel, &curve, Ink::River);
    let reeds: Vec<(Point, usize)> = known
        .iter()
        .map(|point| ((panel.x.at(point.x), panel.y.at(point.y)), point.reeds))
        .collect();
    spots::draw(canvas, &reeds, reeds.len());
    let line = curve.iter().map(|point| (panel.x.at(point.x), panel.y.at(point.fit))).collect();
    canvas.path(line, Pen::new(Ink::River, 3.0));
}

pub fn is_finite(point: &FittedPoint) -> bool {
    [point.x, point.fit, point.low, point.high].iter().all(|value| value.is_finite())
}

/// The interval around a curve, with its edges drawn.
pub fn band(canvas: &mut Canvas, panel: &Panel, curve: &[&FittedPoint], ink: Ink) {
    if curve.len() < 2 {
        return;
    }
    let edge = |value: fn(&FittedPoint) -> f64| -> Vec<Point> {
        curve.iter().map(|point| (panel.x.at(point.x), panel.y.at(value(point)))).collect()
    };
    let (low, high) = (edge(|point| point.low), edge(|point| point.high));
    let around = low.iter().copied().chain(high.iter().rev().copied()).collect();
    canvas.area(around, Pen::faint(ink, 0.16));
    for side in [low, high] {
        canvas.path(side, Pen { ink, width: 1.0, opacity: 0.6 });
    }
}

/// `good from 7`, `good up to 2.5`
pub fn good_name(good_at: GoodLine) -> String {
    let decimals = usize::from(good_at.at.fract() != 0.0);
    let side = if good_at.lower_is_better { "up to" } else { "from" };
    format!("good {side} {}", digits::number(good_at.at, decimals))
}
