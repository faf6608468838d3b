//! One row each with an estimate and its interval, about zero.

use super::axes::{Strip, axis_below, axis_title, upright_grid};
use super::canvas::{Anchor, Canvas, Pen, WIDTH, words};
use super::palette::Ink;
use super::scale::{Range, Scale};
use crate::finding::LevelShown;
use crate::words::digits;

const ROW: f64 = 46.0;
const MARGIN: f64 = 14.0;

pub fn draw(canvas: &mut Canvas, rows: &[LevelShown], x_label: &str) {
    let ends = rows.iter().flat_map(|row| [row.level.low, row.level.high]);
    let range = Range::covering(ends).including([0.0]).padded(0.05);
    let scale = Scale { range, from: MARGIN, to: WIDTH - MARGIN };
    let top = canvas.height;
    let strips: Vec<Strip> = (0..rows.len())
        .map(|row| top + row as f64 * ROW)
        .map(|top| [top + 22.0, top + ROW - 2.0])
        .collect();
    let ticks = range.ticks(6);
    upright_grid(canvas, &scale, &ticks, &strips);
    for [above, below] in &strips {
        let zero = scale.at(0.0);
        canvas.line((zero, *above), (zero, *below), Pen::new(Ink::Text, 1.2));
    }
    for row in rows {
        draw_row(canvas, &scale, row);
    }
    axis_below(canvas, &scale, &ticks, true);
    axis_title(canvas, x_label);
}

fn draw_row(canvas: &mut Canvas, scale: &Scale, row: &LevelShown) {
    let (top, middle) = (canvas.height, canvas.height + 33.0);
    let said = format!("{}, {}", digits::change(row.level), digits::plural(row.n, "reed", "reeds"));
    let right = words(said, (WIDTH - 8.0, top + 12.0)).quiet().anchored(Anchor::Right);
    canvas.write_line(words(&row.label, (8.0, top + 12.0)), right);
    let ends = ((scale.at(row.level.low), middle), (scale.at(row.level.high), middle));
    canvas.line(ends.0, ends.1, Pen::new(Ink::River, 2.0));
    canvas.dot((scale.at(row.level.estimate), middle), 5.0, Pen::new(Ink::River, 1.0));
    canvas.height += ROW;
}
