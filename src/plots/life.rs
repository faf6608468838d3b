//! The share of reeds that last longer than a time, as a flight of steps with its band; how many are still playing stands below.

use super::axes::{Labels, Panel, panel};
use super::canvas::{Anchor, Canvas, Pen, Point, SMALL, text_width, words};
use super::palette::Ink;
use super::scale::Range;
use crate::finding::{BestShown, LifePoint};
use crate::whole;
use crate::words::digits;

const TICK: f64 = 5.0;
const RIGHT_MARGIN: f64 = 14.0;

/// What one picture holds beside the curve.
pub struct Beside<'a> {
    pub until: f64,
    pub going: &'a [[f64; 2]],
    pub at_risk: &'a [(f64, usize)],
    pub median: Option<BestShown>,
}

pub fn draw(canvas: &mut Canvas, x_label: &str, points: &[LifePoint], beside: &Beside) {
    let known: Vec<&LifePoint> =
        points.iter().filter(|point| point.t.is_finite() && point.share.is_finite()).collect();
    let until = if beside.until.is_finite() { beside.until.max(0.0) } else { 0.0 };
    let labels = Labels { x: x_label, y: "still good to play, %" };
    let across = Range::new(0.0, if until > 0.0 { until } else { 1.0 });
    let panel = panel(canvas, labels, [across, Range::new(0.0, 100.0)], RIGHT_MARGIN);
    shade(canvas, &panel, &known, until);
    let path = steps(&known, until, |point| point.share);
    canvas.path(placed(&panel, &path), Pen::new(Ink::River, 2.8));
    ticks(canvas, &panel, beside.going);
    if let Some(median) = beside.median {
        mark_median(canvas, &panel, median);
    }
    numbers_below(canvas, &panel, beside.at_risk);
}

/// Corners of the flight of steps.
fn steps(points: &[&LifePoint], until: f64, height: impl Fn(&LifePoint) -> f64) -> Vec<Point> {
    let mut path: Vec<Point> = Vec::with_capacity(2 * points.len() + 1);
    for point in points {
        if let Some(&(_, before)) = path.last() {
            path.push((point.t, before));
        }
        path.push((point.t, height(point)));
    }
    if let Some(&(_, last)) = path.last() {
        path.push((until, last));
    }
    path
}

fn placed(panel: &Panel, path: &[Point]) -> Vec<Point> {
    path.iter().map(|&(t, share)| (panel.x.at(t), panel.y.at(100.0 * share))).collect()
}

/// The band of each stretch on which it is known.
fn shade(canvas: &mut Canvas, panel: &Panel, points: &[&LifePoint], until: f64) {
    let stretches = points.chunk_by(|a, b| a.band.is_some() == b.band.is_some());
    let mut place = 0;
    for stretch in stretches {
        place += stretch.len();
        let end = points.get(place).map_or(until, |next| next.t);
        let edge = |of: fn([f64; 2]) -> f64| {
            placed(panel, &steps(stretch, end, |point| point.band.map_or(0.0, of)))
        };
        if stretch.first().is_some_and(|point| point.band.is_some()) {
            let (low, high) = (edge(|[low, _]| low), edge(|[_, high]| high));
            let around = low.iter().copied().chain(high.iter().rev().copied()).collect();
            canvas.area(around, Pen::faint(Ink::River, 0.16));
            for side in [low, high] {
                canvas.path(side, Pen { ink: Ink::River, width: 1.0, opacity: 0.6 });
            }
        }
    }
}

/// One upright tick for the reeds that had not ended at a place.
fn ticks(canvas: &mut Canvas, panel: &Panel, going: &[[f64; 2]]) {
    let pixel = |at: f64| whole::signed(at.round());
    let mut places: Vec<(i64, i64)> = going
        .iter()
        .filter(|[t, share]| t.is_finite() && share.is_finite())
        .map(|[t, share]| (pixel(panel.x.at(*t)), pixel(panel.y.at(100.0 * share))))
        .collect();
    places.dedup();
    for (x, y) in places {
        let (x, y) = (x as f64, y as f64);
        canvas.line((x, y - TICK), (x, y + TICK), Pen::new(Ink::Text, 1.0));
    }
}

/// By when half had ended, at the height of one half: a ring with its interval, an arrow where that goes on.
fn mark_median(canvas: &mut Canvas, panel: &Panel, median: BestShown) {
    let y = panel.y.at(50.0);
    interval(canvas, &panel.x, median, y);
}

/// A ring with the interval about it.
pub fn interval(canvas: &mut Canvas, x: &super::scale::Scale, shown: BestShown, y: f64) {
    let pen = Pen::new(Ink::Clay, 3.0);
    let goes_on = shown.high.is_none_or(|high| high > x.range.high());
    let left = x.at(shown.low.unwrap_or(x.range.low()));
    let right = shown.high.map_or(x.to, |high| x.at(high));
    canvas.line((left, y), (right, y), pen);
    if goes_on {
        let barbs = vec![(right - TICK, y - TICK), (right, y), (right - TICK, y + TICK)];
        canvas.path(barbs, Pen::new(Ink::Clay, 2.0));
    }
    canvas.ring((x.at(shown.at), y), 5.0, pen);
}

/// How many were still playing at round times, each below its time.
fn numbers_below(canvas: &mut Canvas, panel: &Panel, at_risk: &[(f64, usize)]) {
    canvas.write(words("reeds still playing", (4.0, canvas.height + 10.0)).quiet());
    canvas.height += 22.0;
    let mut free_from = 0.0;
    for (time, reeds) in at_risk.iter().filter(|(time, _)| panel.x.range.holds(*time)) {
        let text = digits::count(*reeds);
        let half = text_width(&text, SMALL) / 2.0;
        let middle = panel.x.at(*time).max(half + 2.0);
        if middle - half < free_from {
            continue;
        }
        free_from = middle + half + 4.0;
        canvas.write(
            words(text, (middle, canvas.height + 8.0)).sized(SMALL).anchored(Anchor::Middle),
        );
    }
    canvas.height += 24.0;
}
