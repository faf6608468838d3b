//! One row an unfinished piece: its name, its chance, and the rating to expect with its range. Of many the first and the last are shown.

use super::axes::{LEVEL_NAME, Strip, axis_below, axis_title, upright_grid, upright_levels};
use super::canvas::{Anchor, Canvas, SMALL, WIDTH, words};
use super::factor_number::good_name;
use super::palette::Ink;
use super::rows::draw_bands;
use super::scale::{Range, Scale};
use crate::finding::{BlankShown, GoodLine};
use crate::words::digits;

const ROW: f64 = 30.0;
/// Where the names end and the ranges begin, and where they end before the chances.
const LEFT: f64 = 118.0;
const RIGHT: f64 = 88.0;
const FIRST_SHOWN: usize = 25;
const LAST_SHOWN: usize = 5;

pub fn draw(
    canvas: &mut Canvas,
    label: &str,
    blanks: &[BlankShown],
    good_at: Option<GoodLine>,
    range: [f64; 2],
) {
    let ends = blanks.iter().flat_map(|blank| [blank.rating.low, blank.rating.high]);
    let range = Range::new(range[0], range[1]).including(ends).padded(0.02);
    let scale = Scale { range, from: LEFT, to: WIDTH - RIGHT };
    let good = good_at.filter(|line| line.at.is_finite());
    let levels: Vec<(f64, String)> =
        good.map(|line| (line.at, good_name(line))).into_iter().collect();
    let head = canvas.height;
    canvas.height += LEVEL_NAME * levels.iter().filter(|(at, _)| range.holds(*at)).count() as f64;
    let placed = place(canvas, blanks);
    let bottom = canvas.height;
    let strips: Vec<Strip> = placed.iter().map(|(top, _)| [*top, top + ROW]).collect();
    let ticks = range.ticks(6);
    upright_grid(canvas, &scale, &ticks, &strips);
    canvas.height = head;
    if !levels.is_empty() {
        let at = (WIDTH - 4.0, head + LEVEL_NAME / 2.0);
        canvas.write(words("good", at).quiet().anchored(Anchor::Right));
    }
    upright_levels(canvas, &scale, &levels, &strips);
    canvas.height = bottom;
    placed.iter().for_each(|(top, blank)| write(canvas, blank, top + ROW / 2.0));
    let bands: Vec<_> = placed.iter().map(|(top, blank)| (top + ROW / 2.0, blank.rating)).collect();
    draw_bands(canvas, &scale, &bands, Ink::River);
    axis_below(canvas, &scale, &ticks, false);
    axis_title(canvas, label);
}

/// Each shown row with its top; says how many were skipped where they would stand.
fn place<'a>(canvas: &mut Canvas, blanks: &'a [BlankShown]) -> Vec<(f64, &'a BlankShown)> {
    let skipped = blanks.len().saturating_sub(FIRST_SHOWN + LAST_SHOWN);
    // a single row takes no more room than the line that stands for it
    let skipped = if skipped > 1 { skipped } else { 0 };
    let mut placed = Vec::new();
    for (position, blank) in blanks.iter().enumerate() {
        if skipped > 0 && (FIRST_SHOWN..FIRST_SHOWN + skipped).contains(&position) {
            if position == FIRST_SHOWN {
                let text = format!("{} between these are in the table", digits::count(skipped));
                let at = (WIDTH / 2.0, canvas.height + ROW / 2.0);
                canvas.write(words(text, at).quiet().anchored(Anchor::Middle));
                canvas.height += ROW;
            }
            continue;
        }
        placed.push((canvas.height, blank));
        canvas.height += ROW;
    }
    placed
}

fn write(canvas: &mut Canvas, blank: &BlankShown, middle: f64) {
    let name = super::canvas::fitted(&blank.piece, LEFT - 16.0, SMALL);
    canvas.write(words(name, (4.0, middle)).sized(SMALL));
    let right = words(&blank.beside, (WIDTH - 4.0, middle)).quiet().anchored(Anchor::Right);
    canvas.write(right);
}
