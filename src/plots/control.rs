//! A measurement over time: single pieces, their weighted average, the centre and the limits.

use std::collections::BTreeSet;

use super::axes::{Labels, Panel, axis_title, dated_panel};
use super::canvas::{Anchor, Canvas, Mark, Pen, Point, SMALL, WIDTH, text_width, words};
use super::palette::Ink;
use super::scale::Range;
use super::spots;
use crate::finding::ControlShown;
use crate::whole;
use crate::words::digits;

pub fn draw(canvas: &mut Canvas, shown: &ControlShown) {
    let points: Vec<_> =
        shown.points.iter().filter(|point| point.x.is_finite() && point.y.is_finite()).collect();
    let limits = [shown.lower, shown.centre, shown.upper];
    let y_range =
        Range::covering(points.iter().map(|point| point.y)).including(limits).padded(0.05);
    let x_range = Range::covering(points.iter().map(|point| point.x)).padded(0.02);
    let labels = Labels { x: "", y: &shown.y_label };
    let right =
        limits.iter().map(|value| text_width(&label(*value, shown), SMALL)).fold(0.0, f64::max);
    let panel = dated_panel(canvas, labels, [x_range, y_range], right + 10.0);
    for (value, dash) in
        [(shown.centre, None), (shown.lower, Some([6.0, 4.0])), (shown.upper, Some([6.0, 4.0]))]
    {
        limit(canvas, &panel, value, dash, shown);
    }
    let dots: Vec<(Point, usize)> =
        points.iter().map(|point| ((panel.x.at(point.x), panel.y.at(point.y)), 1)).collect();
    spots::draw(canvas, &dots, dots.len());
    let average = shown.average.iter().filter(|[x, y]| x.is_finite() && y.is_finite());
    let line = average.map(|[x, y]| (panel.x.at(*x), panel.y.at(*y))).collect();
    canvas.path(line, Pen::new(Ink::River, 2.4));
    let flagged = points.iter().filter(|point| point.is_flagged);
    // several flags on one spot are one ring
    let rings: BTreeSet<(i64, i64)> =
        flagged.map(|point| (tenths(panel.x.at(point.x)), tenths(panel.y.at(point.y)))).collect();
    for (x, y) in rings {
        let at = (x as f64 / 10.0, y as f64 / 10.0);
        canvas.marks.push(Mark::Ring { at, radius: 5.0, pen: Pen::new(Ink::Clay, 1.8) });
    }
    dates(canvas, &panel, shown);
    axis_title(canvas, "day on which the piece was begun");
}

fn tenths(length: f64) -> i64 {
    whole::signed((length * 10.0).round())
}

fn label(value: f64, shown: &ControlShown) -> String {
    digits::number(value, digits::decimals((shown.upper - shown.lower) / 2.0))
}

/// A level across the panel with its number at the right.
fn limit(
    canvas: &mut Canvas,
    panel: &Panel,
    value: f64,
    dash: Option<[f64; 2]>,
    shown: &ControlShown,
) {
    if !value.is_finite() {
        return;
    }
    let y = panel.y.at(value);
    let (from, to) = ((panel.x.from, y), (panel.right(), y));
    let pen = Pen::new(Ink::Text, 1.3);
    match dash {
        Some(dash) => canvas.dashed(from, to, pen, dash),
        None => canvas.line(from, to, pen),
    }
    canvas.write(words(label(value, shown), (panel.right() + 5.0, y)).quiet());
}

/// The days below the panel, and the base period as a bar.
fn dates(canvas: &mut Canvas, panel: &Panel, shown: &ControlShown) {
    let y = panel.bottom();
    canvas.line((panel.x.from, y), (panel.right(), y), Pen::new(Ink::Quiet, 1.0));
    let [from, until] = shown.base.map(|day| panel.x.at(day));
    let bar = Pen::new(Ink::Cane, 5.0);
    canvas.line((from, y + 5.0), (until.max(from + 2.0), y + 5.0), bar);
    for (day, date) in shown.dates.iter().filter(|(day, _)| panel.x.range.holds(*day)) {
        let x = panel.x.at(*day);
        canvas.line((x, y), (x, y + 9.0), Pen::new(Ink::Quiet, 1.0));
        let half = text_width(date, SMALL) / 2.0;
        let middle = x.clamp(half + 2.0, WIDTH - half - 2.0);
        canvas.write(words(date.clone(), (middle, y + 19.0)).quiet().anchored(Anchor::Middle));
    }
    let key = words("base period", (from, y + 38.0)).quiet();
    canvas.line((from, y + 38.0), (from + 18.0, y + 38.0), bar);
    canvas.write(super::canvas::Words { at: (from + 24.0, y + 38.0), ..key });
    canvas.height = y + 52.0;
}
