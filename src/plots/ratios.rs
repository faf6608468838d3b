//! One row a factor: how many times as high a risk was, on an axis of equal ratios.

use super::axes::{Strip, axis_title};
use super::canvas::{Anchor, Canvas, Pen, SMALL, WIDTH, text_width, words};
use super::effects::{arrows, is_known};
use super::palette::Ink;
use super::rows::draw_bands;
use super::scale::{Range, Scale};
use crate::finding::{Band, RatioShown};
use crate::words::given::given;
use crate::words::labels;
use crate::words::life::hazards::times;

const ROW: f64 = 68.0;
/// The two lines of text at the head of a row.
const TEXT_HEIGHT: f64 = 44.0;
const MARGIN: f64 = 22.0;
const MOST_ROWS: usize = 60;
/// An interval may be this many times as long as the middle one before it is cut at the edge.
const LONGEST: f64 = 3.0;
/// An axis reaches as far as this at least.
const NARROWEST: f64 = 0.3;
/// A thousand times: an estimate beyond stands at the edge with its arrow.
const WIDEST: f64 = 3.0 * std::f64::consts::LN_10;
/// Ratios that an axis may name, with their inverses.
const NAMED: [f64; 9] = [1.25, 1.5, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0, 1e3];
const MOST_NAMED: usize = 3;

pub fn draw(canvas: &mut Canvas, x_label: &str, rows: &[RatioShown], worthwhile: f64) {
    let shown = rows.get(..MOST_ROWS).unwrap_or(rows);
    let worthwhile = if worthwhile.is_finite() { worthwhile.max(1.0).ln() } else { 0.0 };
    let limit = limit(shown, worthwhile);
    let scale = Scale { range: Range::new(-limit, limit), from: MARGIN, to: WIDTH - MARGIN };
    key(canvas);
    let top = canvas.height;
    let bottom = top + ROW * shown.len() as f64;
    let (from, to) = (scale.at(-worthwhile), scale.at(worthwhile));
    canvas.rectangle((from, top), (to, bottom), Pen::faint(Ink::Line, 0.45));
    let ticks = ticks(limit);
    grid(canvas, &scale, &ticks, shown.len());
    for row in shown {
        draw_row(canvas, &scale, row);
    }
    axis(canvas, &scale, &ticks);
    axis_title(canvas, x_label);
    if rows.len() > shown.len() {
        let text = format!("{} more are in the table", rows.len() - shown.len());
        canvas.write(words(text, (8.0, canvas.height + 8.0)).quiet());
        canvas.height += 22.0;
    }
}

/// Half the width of the axis: all intervals, unless a few are far longer than the rest; and all estimates that can be believed.
fn limit(rows: &[RatioShown], worthwhile: f64) -> f64 {
    let reach = |band: &Band| band.low.abs().max(band.high.abs());
    let mut reaches: Vec<f64> =
        rows.iter().map(|row| reach(&row.logarithm)).filter(|reach| reach.is_finite()).collect();
    reaches.sort_by(f64::total_cmp);
    let widest = reaches.last().copied().unwrap_or(1.0);
    let middle = reaches.get(reaches.len() / 2).copied().unwrap_or(1.0);
    let estimates = rows.iter().map(|row| row.logarithm.estimate.abs());
    let farthest = estimates.filter(|far| far.is_finite()).fold(0.0, f64::max);
    let limit = widest.min(middle * LONGEST).max(farthest * 1.2);
    limit.max(worthwhile * 1.5).clamp(NARROWEST, WIDEST) * 1.04
}

/// 1 and a few round ratios on either side of it, as far as the axis reaches.
fn ticks(limit: f64) -> Vec<f64> {
    let inside: Vec<f64> = NAMED.into_iter().filter(|ratio| ratio.ln() <= limit).collect();
    let every = inside.len().div_ceil(MOST_NAMED).max(1);
    let above: Vec<f64> = inside.iter().rev().step_by(every).copied().collect();
    above.iter().map(|ratio| 1.0 / ratio).chain([1.0]).chain(above.iter().rev().copied()).collect()
}

fn grid(canvas: &mut Canvas, scale: &Scale, ticks: &[f64], rows: usize) {
    let top = canvas.height;
    let strips = (0..rows)
        .map(|row| top + row as f64 * ROW)
        .map(|top| -> Strip { [top + TEXT_HEIGHT, top + ROW] });
    for [top, bottom] in strips {
        for ratio in ticks {
            let x = scale.at(ratio.ln());
            let pen =
                if *ratio == 1.0 { Pen::new(Ink::Text, 1.2) } else { Pen::new(Ink::Line, 1.0) };
            canvas.line((x, top), (x, bottom), pen);
        }
    }
}

fn draw_row(canvas: &mut Canvas, scale: &Scale, row: &RatioShown) {
    let top = canvas.height;
    canvas.line((8.0, top), (WIDTH - 8.0, top), Pen::new(Ink::Line, 1.0));
    let verdict = words(labels::verdict(row.verdict), (WIDTH - 8.0, top + 14.0));
    canvas.write_line(words(&row.label, (8.0, top + 14.0)), verdict.anchored(Anchor::Right));
    let known = is_known(&row.ratio) && is_known(&row.logarithm.interval());
    let amount = if known { format!("× {}", times(row.ratio)) } else { String::new() };
    let right = words(amount, (WIDTH - 8.0, top + 34.0)).quiet().anchored(Anchor::Right);
    canvas.write_line(words(&row.step, (8.0, top + 34.0)).quiet(), right);
    if known {
        draw_bands(canvas, scale, &[(top + 55.0, row.logarithm)], Ink::River);
        arrows(canvas, scale, row.logarithm.interval(), top + 55.0, Ink::River);
    }
    canvas.height += ROW;
}

fn axis(canvas: &mut Canvas, scale: &Scale, ticks: &[f64]) {
    let y = canvas.height;
    canvas.line((scale.from, y), (scale.to, y), Pen::new(Ink::Quiet, 1.0));
    let mut free_from = 0.0;
    for ratio in ticks {
        let x = scale.at(ratio.ln());
        canvas.line((x, y), (x, y + 5.0), Pen::new(Ink::Quiet, 1.0));
        let text = given((1000.0 * ratio).round() / 1000.0);
        let half = text_width(&text, SMALL) / 2.0;
        let middle = x.clamp(half, WIDTH - half);
        if middle - half >= free_from {
            free_from = middle + half + 4.0;
            canvas.write(words(text, (middle, y + 15.0)).quiet().anchored(Anchor::Middle));
        }
    }
    canvas.height += 26.0;
}

fn key(canvas: &mut Canvas) {
    let y = canvas.height + 10.0;
    canvas.line((8.0, y), (40.0, y), Pen::new(Ink::River, 1.8));
    canvas.line((16.0, y), (32.0, y), Pen::new(Ink::River, 6.0));
    canvas.dot((24.0, y), 5.0, Pen::new(Ink::River, 1.0));
    canvas.write(words("thick half, thin 95 %", (46.0, y)).sized(SMALL));
    canvas.rectangle((228.0, y - 7.0), (260.0, y + 7.0), Pen::faint(Ink::Line, 0.45));
    canvas.write(words("too small to matter", (266.0, y)).sized(SMALL));
    canvas.height += 26.0;
}
