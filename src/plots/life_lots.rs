//! One row a lot: each reed's life, and by when half of them had ended.

use super::axes::{Strip, axis_below, axis_title, upright_grid};
use super::canvas::{Anchor, Canvas, Pen, Point, SMALL, WIDTH, words};
use super::life::interval;
use super::palette::{Ink, in_turn};
use super::scale::{Range, Scale};
use crate::finding::LotLifeShown;
use crate::whole;
use crate::words::digits;
use std::collections::BTreeMap;

const ROW: f64 = 62.0;
const TEXT_HEIGHT: f64 = 22.0;
const MARGIN: f64 = 14.0;
const RADIUS: f64 = 3.0;
/// A picture with more rows than this shows the first and the last ones.
const FIRST_SHOWN: usize = 30;
const LAST_SHOWN: usize = 15;
/// Steps up and down for the second, third, … reed on one spot.
const ASIDE: [f64; 5] = [0.0, 5.0, -5.0, 2.5, -2.5];

pub fn draw(canvas: &mut Canvas, x_label: &str, rows: &[LotLifeShown], until: f64) {
    let range = Range::new(0.0, if until.is_finite() && until > 0.0 { until } else { 1.0 });
    let scale = Scale { range, from: MARGIN, to: WIDTH - MARGIN };
    key(canvas);
    let skipped = rows.len().saturating_sub(FIRST_SHOWN + LAST_SHOWN);
    let shown = (0..rows.len())
        .filter(|row| skipped == 0 || *row < FIRST_SHOWN || *row >= FIRST_SHOWN + skipped);
    let shown: Vec<usize> = shown.collect();
    let top = canvas.height;
    let strips: Vec<Strip> = (0..shown.len())
        .map(|place| top + place as f64 * ROW)
        .map(|top| [top + TEXT_HEIGHT, top + ROW])
        .collect();
    let ticks = range.ticks(5);
    upright_grid(canvas, &scale, &ticks, &strips);
    for row in shown.into_iter().filter_map(|row| rows.get(row)) {
        draw_row(canvas, &scale, row);
    }
    axis_below(canvas, &scale, &ticks, false);
    axis_title(canvas, x_label);
    if skipped > 0 {
        let text = format!("{} lots in the middle are in the table", digits::count(skipped));
        canvas.write(words(text, (8.0, canvas.height + 8.0)).quiet());
        canvas.height += 22.0;
    }
}

fn draw_row(canvas: &mut Canvas, scale: &Scale, row: &LotLifeShown) {
    let top = canvas.height;
    let right = words(&row.told, (WIDTH - 8.0, top + 12.0)).quiet().anchored(Anchor::Right);
    canvas.write_line(words(&row.lot, (8.0, top + 12.0)), right);
    if let Some(median) = row.median {
        interval(canvas, scale, median, top + 30.0);
    }
    let mut taken: BTreeMap<i64, usize> = BTreeMap::new();
    let mut place = |time: f64| -> Point {
        let x = scale.at(time);
        let before = taken.entry(whole::signed((x / RADIUS).round())).or_default();
        let aside = in_turn(ASIDE, *before);
        *before += 1;
        (x, top + 48.0 + aside)
    };
    let finite =
        |times: &[f64]| times.iter().copied().filter(|t| t.is_finite()).collect::<Vec<_>>();
    for time in finite(&row.ended) {
        let at = place(time);
        canvas.dot(at, RADIUS, Pen::faint(Ink::Text, 0.6));
    }
    for time in finite(&row.going) {
        let at = place(time);
        canvas.ring(at, RADIUS, Pen::new(Ink::Text, 1.2));
    }
    canvas.height += ROW;
}

/// The three marks with their names.
fn key(canvas: &mut Canvas) {
    let y = canvas.height + 10.0;
    canvas.dot((12.0, y), RADIUS, Pen::faint(Ink::Text, 0.6));
    canvas.write(words("worn out", (22.0, y)).sized(SMALL));
    canvas.ring((112.0, y), RADIUS, Pen::new(Ink::Text, 1.2));
    canvas.write(words("not ended when last seen", (122.0, y)).sized(SMALL));
    let y = y + 20.0;
    canvas.line((8.0, y), (44.0, y), Pen::new(Ink::Clay, 3.0));
    canvas.ring((26.0, y), 5.0, Pen::new(Ink::Clay, 3.0));
    canvas.write(words("half worn out by, with 95 %", (52.0, y)).sized(SMALL));
    canvas.height += 46.0;
}
