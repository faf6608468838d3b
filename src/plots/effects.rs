//! One row a factor: reeds of one lot compared with each other, and lots
//! compared with each other, against the smallest difference worth having.

use super::axes::{Strip, axis_below, axis_title, upright_grid};
use super::canvas::{Anchor, Canvas, Pen, Point, SMALL, WIDTH, words};
use super::palette::Ink;
use super::rows::draw_bands;
use super::scale::{Range, Scale};
use crate::finding::{Band, EffectShown, Interval};
use crate::whole;
use crate::words::{digits, labels};

const ROW: f64 = 82.0;
/// The two lines of text at the head of a row.
const TEXT_HEIGHT: f64 = 44.0;
const MARGIN: f64 = 22.0;
const MOST_ROWS: usize = 60;
/// An interval may be this many times as long as the middle one before it is cut at the edge.
const LONGEST: f64 = 3.0;

pub fn draw(canvas: &mut Canvas, rows: &[EffectShown], worthwhile: f64, unit: &str) {
    let shown = rows.get(..MOST_ROWS).unwrap_or(rows);
    let limit = limit(shown, worthwhile);
    let range = Range::new(-limit, limit);
    let scale = Scale { range, from: MARGIN, to: WIDTH - MARGIN };
    key(canvas, shown);
    let (top, bottom) = (canvas.height, canvas.height + ROW * shown.len() as f64);
    backdrop(canvas, &scale, worthwhile, [top, bottom]);
    for row in shown {
        draw_row(canvas, &scale, row);
    }
    axis_below(canvas, &scale, &range.ticks(5), true);
    axis_title(canvas, &format!("change, {unit}"));
    if rows.len() > shown.len() {
        let text = format!("{} more are in the table", digits::count(rows.len() - shown.len()));
        canvas.write(words(text, (8.0, canvas.height + 8.0)).quiet());
        canvas.height += 22.0;
    }
}

/// Half the width of the axis: all intervals, unless a few are far longer than the rest.
fn limit(rows: &[EffectShown], worthwhile: f64) -> f64 {
    let mut reach: Vec<f64> = rows
        .iter()
        .filter_map(|row| row.within.map(|band| band.low.abs().max(band.high.abs())))
        .chain(rows.iter().filter_map(|row| row.between.map(|i| i.low.abs().max(i.high.abs()))))
        .filter(|reach| reach.is_finite())
        .collect();
    reach.sort_by(f64::total_cmp);
    let worthwhile = if worthwhile.is_finite() { worthwhile.abs() } else { 0.0 };
    let widest = reach.last().copied().unwrap_or(1.0);
    let middle = reach.get(reach.len() / 2).copied().unwrap_or(1.0);
    let limit = widest.min(middle * LONGEST).max(worthwhile * 1.5);
    if limit > 0.0 { limit * 1.04 } else { 1.0 }
}

/// The band of what would not be worth the bother, the grid and the zero line.
fn backdrop(canvas: &mut Canvas, scale: &Scale, worthwhile: f64, [top, bottom]: [f64; 2]) {
    if worthwhile.is_finite() && worthwhile > 0.0 {
        let (from, to) = (scale.at(-worthwhile), scale.at(worthwhile));
        canvas.rectangle((from, top), (to, bottom), Pen::faint(Ink::Line, 0.45));
    }
    let rows = whole::part(((bottom - top) / ROW).round());
    let strips: Vec<Strip> = (0..rows)
        .map(|row| top + row as f64 * ROW)
        .map(|top| [top + TEXT_HEIGHT, top + ROW])
        .collect();
    upright_grid(canvas, scale, &scale.range.ticks(5), &strips);
    let zero = scale.at(0.0);
    for [top, bottom] in strips {
        canvas.line((zero, top), (zero, bottom), Pen::new(Ink::Text, 1.2));
    }
}

fn draw_row(canvas: &mut Canvas, scale: &Scale, row: &EffectShown) {
    let top = canvas.height;
    canvas.line((8.0, top), (WIDTH - 8.0, top), Pen::new(Ink::Line, 1.0));
    let verdict = words(labels::verdict(row.verdict), (WIDTH - 8.0, top + 14.0));
    canvas.write_line(words(&row.label, (8.0, top + 14.0)), verdict.anchored(Anchor::Right));
    let amount = row.within.map(Band::interval).or(row.between).filter(is_known);
    let amount = amount.map_or_else(String::new, digits::change);
    let right = words(amount, (WIDTH - 8.0, top + 34.0)).quiet().anchored(Anchor::Right);
    canvas.write_line(words(&row.step, (8.0, top + 34.0)).quiet(), right);
    if let Some(band) = row.within.filter(|band| is_known(&band.interval())) {
        draw_bands(canvas, scale, &[(top + 54.0, band)], Ink::River);
        arrows(canvas, scale, band.interval(), top + 54.0, Ink::River);
    }
    if let Some(between) = row.between.filter(is_known) {
        draw_between(canvas, scale, between, top + 69.0);
    }
    canvas.height += ROW;
}

pub fn is_known(interval: &Interval) -> bool {
    [interval.estimate, interval.low, interval.high].iter().all(|value| value.is_finite())
}

/// Lots compared with each other: a dashed interval around a ring.
fn draw_between(canvas: &mut Canvas, scale: &Scale, interval: Interval, y: f64) {
    let [low, x, high] = [interval.low, interval.estimate, interval.high].map(|v| scale.at(v));
    canvas.dashed((low, y), (high, y), Pen::new(Ink::Clay, 1.8), [7.0, 4.0]);
    if scale.range.holds(interval.estimate) {
        canvas.ring((x, y), 4.0, Pen::new(Ink::Clay, 2.0));
    }
    arrows(canvas, scale, interval, y, Ink::Clay);
}

/// Where an interval goes on beyond the edge of the axis.
pub fn arrows(canvas: &mut Canvas, scale: &Scale, interval: Interval, y: f64, ink: Ink) {
    let head =
        |x: f64, way: f64| -> Vec<Point> { vec![(x + way * 9.0, y), (x, y - 5.0), (x, y + 5.0)] };
    if interval.low < scale.range.low() {
        canvas.area(head(scale.from, -1.0), Pen::new(ink, 1.0));
    }
    if interval.high > scale.range.high() {
        canvas.area(head(scale.to, 1.0), Pen::new(ink, 1.0));
    }
}

/// Names the two comparisons; only those that are drawn.
fn key(canvas: &mut Canvas, rows: &[EffectShown]) {
    let has_between = rows.iter().any(|row| row.between.is_some());
    let y = canvas.height + 10.0;
    canvas.line((8.0, y), (40.0, y), Pen::new(Ink::River, 1.8));
    canvas.line((16.0, y), (32.0, y), Pen::new(Ink::River, 6.0));
    canvas.dot((24.0, y), 5.0, Pen::new(Ink::River, 1.0));
    canvas.write(words("within lots: thick half, thin 95 %", (46.0, y)).sized(SMALL));
    if has_between {
        canvas.height += 20.0;
        let y = canvas.height + 10.0;
        canvas.dashed((8.0, y), (40.0, y), Pen::new(Ink::Clay, 1.8), [7.0, 4.0]);
        canvas.ring((24.0, y), 4.0, Pen::new(Ink::Clay, 2.0));
        canvas.write(words("between lots: 95 %", (46.0, y)).sized(SMALL));
    }
    canvas.height += 20.0;
    let y = canvas.height + 10.0;
    canvas.rectangle((8.0, y - 7.0), (40.0, y + 7.0), Pen::faint(Ink::Line, 0.45));
    canvas.write(words("too small to be worth the bother", (46.0, y)).sized(SMALL));
    canvas.height += 26.0;
}
