//! One row a factor: the share in which it was kept, as a bar and a number.

use super::axes::{Strip, axis_below, axis_title, upright_grid};
use super::canvas::{Anchor, Canvas, Pen, WIDTH, words};
use super::palette::Ink;
use super::scale::{Range, Scale};
use crate::finding::ShareShown;
use crate::words::digits;

const ROW: f64 = 44.0;
const MARGIN: f64 = 14.0;
const MOST_ROWS: usize = 60;

pub fn draw(canvas: &mut Canvas, shares: &[ShareShown], x_label: &str) {
    let shown = shares.get(..MOST_ROWS).unwrap_or(shares);
    let range = Range::new(0.0, 100.0);
    let scale = Scale { range, from: MARGIN, to: WIDTH - MARGIN };
    let top = canvas.height;
    let strips: Vec<Strip> = (0..shown.len())
        .map(|row| top + row as f64 * ROW)
        .map(|top| [top + 22.0, top + ROW])
        .collect();
    let ticks = range.ticks(5);
    upright_grid(canvas, &scale, &ticks, &strips);
    for row in shown {
        draw_row(canvas, &scale, row);
    }
    axis_below(canvas, &scale, &ticks, false);
    axis_title(canvas, x_label);
    if shares.len() > shown.len() {
        let text =
            format!("{} more are in results.json", digits::count(shares.len() - shown.len()));
        canvas.write(words(text, (8.0, canvas.height + 8.0)).quiet());
        canvas.height += 22.0;
    }
}

fn draw_row(canvas: &mut Canvas, scale: &Scale, row: &ShareShown) {
    let top = canvas.height;
    let known = row.share.is_finite();
    let share = if known { digits::percent(row.share) } else { "–".to_owned() };
    let share = words(share, (WIDTH - 8.0, top + 12.0)).quiet();
    canvas.write_line(words(&row.label, (8.0, top + 12.0)), share.anchored(Anchor::Right));
    if known {
        let (middle, end) = (top + 33.0, scale.at(100.0 * row.share.clamp(0.0, 1.0)));
        canvas.rectangle(
            (scale.from, middle - 5.0),
            (end, middle + 5.0),
            Pen::faint(Ink::River, 0.6),
        );
        canvas.dot((end, middle), 5.0, Pen::new(Ink::River, 1.0));
    }
    canvas.height += ROW;
}
