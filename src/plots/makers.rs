//! One block a measurement, one row in it a maker: the effect among that maker's reeds, over the effect of all makers together.

use super::axes::{axis_below, axis_title};
use super::canvas::{Anchor, Canvas, Pen, SMALL, WIDTH, fitted, text_width, words};
use super::effects::{arrows, is_known};
use super::palette::Ink;
use super::scale::{Range, Scale};
use crate::finding::{Interval, MakerEffectsShown};
use crate::words::digits;
use crate::words::labels::plain;

/// The two lines of text at the head of a block, and the height of a maker's row.
const HEAD: f64 = 46.0;
const ROW: f64 = 24.0;
/// What is kept free for the makers' names.
const NAMES: f64 = 112.0;
/// Letters at the end of a long name that stay.
const LAST_KEPT: usize = 5;
const MARGIN: f64 = 22.0;
/// An interval may be this many times as long as the middle one before it is cut at the edge.
const LONGEST: f64 = 3.0;

pub fn draw(
    canvas: &mut Canvas,
    rows: &[MakerEffectsShown],
    more: usize,
    worthwhile: f64,
    unit: &str,
) {
    let limit = limit(rows, worthwhile);
    let range = Range::new(-limit, limit);
    let scale = Scale { range, from: NAMES + MARGIN, to: WIDTH - MARGIN };
    for row in rows {
        block(canvas, &scale, row, worthwhile);
    }
    axis_below(canvas, &scale, &range.ticks(5), true);
    axis_title(canvas, &format!("change, {unit}"));
    if more > 0 {
        note(canvas, &format!("{} more are in the table", digits::count(more)));
    }
}

/// Half the width of the axis: all intervals, unless a few are far longer than the rest.
fn limit(rows: &[MakerEffectsShown], worthwhile: f64) -> f64 {
    let intervals = rows.iter().flat_map(|row| row.makers.iter().map(|(_, interval)| interval));
    let mut reach: Vec<f64> = intervals
        .filter(|interval| is_known(interval))
        .map(|interval| interval.low.abs().max(interval.high.abs()))
        .collect();
    reach.sort_by(f64::total_cmp);
    let worthwhile = if worthwhile.is_finite() { worthwhile.abs() } else { 0.0 };
    let widest = reach.last().copied().unwrap_or(1.0);
    let middle = reach.get(reach.len() / 2).copied().unwrap_or(1.0);
    let limit = widest.min(middle * LONGEST).max(worthwhile * 1.5);
    if limit > 0.0 { limit * 1.04 } else { 1.0 }
}

fn block(canvas: &mut Canvas, scale: &Scale, row: &MakerEffectsShown, worthwhile: f64) {
    let top = canvas.height;
    canvas.line((8.0, top), (WIDTH - 8.0, top), Pen::new(Ink::Line, 1.0));
    let verdict = words(&row.verdict, (WIDTH - 8.0, top + 14.0));
    canvas.write_line(words(&row.label, (8.0, top + 14.0)), verdict.anchored(Anchor::Right));
    let known = is_known(&row.all);
    let amount = if known { format!("all {}", digits::change(row.all)) } else { String::new() };
    let right = words(amount, (WIDTH - 8.0, top + 34.0)).quiet().anchored(Anchor::Right);
    canvas.write_line(words(&row.step, (8.0, top + 34.0)).quiet(), right);
    let (first, last) = (top + HEAD, top + HEAD + ROW * row.makers.len() as f64);
    backdrop(canvas, scale, worthwhile, [first, last]);
    if known {
        let (low, high) = within(scale, row.all);
        canvas.rectangle((low, first), (high, last), Pen::faint(Ink::Cane, 0.3));
    }
    for (at, (maker, interval)) in row.makers.iter().enumerate() {
        let y = first + ROW * (at as f64 + 0.5);
        canvas.write(words(named(maker), (8.0, y)).sized(SMALL));
        if is_known(interval) {
            mark(canvas, scale, *interval, y);
        }
    }
    canvas.height = last + 8.0;
    if row.more > 0 {
        note(canvas, &format!("{} more makers are in the table", digits::count(row.more)));
    }
}

fn backdrop(canvas: &mut Canvas, scale: &Scale, worthwhile: f64, [top, bottom]: [f64; 2]) {
    if worthwhile.is_finite() && worthwhile > 0.0 {
        let (from, to) = (scale.at(-worthwhile), scale.at(worthwhile));
        canvas.rectangle((from, top), (to, bottom), Pen::faint(Ink::Line, 0.45));
    }
    for value in scale.range.ticks(5).values {
        let x = scale.at(value);
        canvas.line((x, top), (x, bottom), Pen::new(Ink::Line, 1.0));
    }
    let zero = scale.at(0.0);
    canvas.line((zero, top), (zero, bottom), Pen::new(Ink::Text, 1.2));
}

fn mark(canvas: &mut Canvas, scale: &Scale, interval: Interval, y: f64) {
    let (low, high) = within(scale, interval);
    canvas.line((low, y), (high, y), Pen::new(Ink::River, 2.0));
    if scale.range.holds(interval.estimate) {
        canvas.dot((scale.at(interval.estimate), y), 5.0, Pen::new(Ink::River, 1.0));
    }
    arrows(canvas, scale, interval, y, Ink::River);
}

/// A name that is too long keeps its beginning and its end: makers of one studio may share either.
fn named(maker: &str) -> String {
    let whole = plain(maker);
    let whole = whole.trim();
    if fitted(whole, NAMES, SMALL) == whole {
        return whole.to_owned();
    }
    let last: Vec<char> = whole.chars().rev().take(LAST_KEPT).collect();
    let last: String = last.into_iter().rev().collect();
    let beginning = fitted(whole, NAMES - text_width(&last, SMALL), SMALL);
    fitted(&format!("{beginning}{last}"), NAMES, SMALL)
}

/// The ends of an interval, cut at the edges of the axis.
fn within(scale: &Scale, interval: Interval) -> (f64, f64) {
    let cut = |value: f64| scale.at(value.clamp(scale.range.low(), scale.range.high()));
    (cut(interval.low), cut(interval.high))
}

fn note(canvas: &mut Canvas, text: &str) {
    canvas.write(words(text, (8.0, canvas.height + 8.0)).quiet());
    canvas.height += 22.0;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_names_of_one_beginning_are_told_apart_by_their_ends() {
        let [one, other] = ["11", "12"].map(|n| named(&format!("a maker with a long name {n}")));
        assert!(one != other && one.ends_with("11") && one.contains('…'), "{one} {other}");
        assert!(text_width(&named(&"竹".repeat(300)), SMALL) <= NAMES);
        assert_eq!(named("ann"), "ann");
    }
}
