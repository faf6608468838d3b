//! A measured factor against the rating: each reed, the fitted curve with its
//! interval, the best value where it has one, and the rating from which a reed is called good.

use super::axes::{Above, Labels, Level, Panel, panel_below};
use super::canvas::{Canvas, Pen, Point};
use super::palette::Ink;
use super::scale::Range;
use super::spots;
use crate::finding::{BestShown, FittedPoint, GoodLine, PlottedPoint};
use crate::words::digits;

/// How far above the axis the best value stands.
const ABOVE_AXIS: f64 = 9.0;
const ARROW: f64 = 5.0;

pub fn draw(
    canvas: &mut Canvas,
    labels: Labels,
    points: &[PlottedPoint],
    (curve, best): (&[FittedPoint], Option<BestShown>),
    good_at: Option<GoodLine>,
    y_range: [f64; 2],
) {
    let known: Vec<&PlottedPoint> =
        points.iter().filter(|point| point.x.is_finite() && point.y.is_finite()).collect();
    let curve: Vec<&FittedPoint> = curve.iter().filter(|point| is_finite(point)).collect();
    let across = known.iter().map(|point| point.x).chain(curve.iter().map(|point| point.x));
    let x_range = Range::covering(across).padded(0.04);
    let y_range = Range::new(y_range[0], y_range[1]).including(known.iter().map(|point| point.y));
    let above = Above { level: good_at.map(good_level), ..Above::default() };
    let panel = panel_below(canvas, labels, [x_range, y_range.padded(0.03)], 10.0, above);
    band(canvas, &panel, &curve, Ink::River);
    let reeds: Vec<(Point, usize)> = known
        .iter()
        .map(|point| ((panel.x.at(point.x), panel.y.at(point.y)), point.reeds))
        .collect();
    spots::draw(canvas, &reeds, reeds.len());
    let line = curve.iter().map(|point| (panel.x.at(point.x), panel.y.at(point.fit))).collect();
    canvas.path(line, Pen::new(Ink::River, 3.0));
    if let Some(best) = best {
        mark(canvas, &panel, best);
    }
}

/// The best value as a ring with its interval as a bar; an arrow at the edge where it goes on.
fn mark(canvas: &mut Canvas, panel: &Panel, best: BestShown) {
    if !panel.x.range.holds(best.at) {
        return;
    }
    let y = panel.bottom() - ABOVE_AXIS;
    let pen = Pen::new(Ink::Clay, 3.0);
    let end = |value: Option<f64>, edge: f64| {
        let inside = value.filter(|value| panel.x.range.holds(*value));
        (inside.map_or(edge, |value| panel.x.at(value)), inside.is_none())
    };
    let (left, goes_on_left) = end(best.low, panel.x.from);
    let (right, goes_on_right) = end(best.high, panel.right());
    canvas.line((left, y), (right, y), pen);
    for (x, inwards, goes_on) in [(left, ARROW, goes_on_left), (right, -ARROW, goes_on_right)] {
        if goes_on {
            let barbs = vec![(x + inwards, y - ARROW), (x, y), (x + inwards, y + ARROW)];
            canvas.path(barbs, Pen::new(Ink::Clay, 2.0));
        }
    }
    canvas.ring((panel.x.at(best.at), y), 5.0, pen);
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

pub fn good_level(good_at: GoodLine) -> Level {
    Level { at: good_at.at, name: good_name(good_at) }
}

/// `good from 7`, `good up to 2.5`
pub fn good_name(good_at: GoodLine) -> String {
    let decimals = usize::from(good_at.at.fract() != 0.0);
    let side = if good_at.lower_is_better { "up to" } else { "from" };
    format!("good {side} {}", digits::number(good_at.at, decimals))
}
