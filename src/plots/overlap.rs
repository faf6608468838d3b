//! Which parts of a practice's range each lot saw: a grid of counts, a row a
//! lot and a column a part, the darker the more reeds.

use super::canvas::{Anchor, Canvas, Pen, SMALL, WIDTH, fitted, words};
use super::palette::Ink;
use crate::finding::OverlapShown;
use crate::words::digits;

const ROW: f64 = 28.0;
const HEAD: f64 = 46.0;
/// Where the names of the lots end and the grid begins.
const LEFT: f64 = 112.0;
/// So faint that a count stays legible on the fullest cell.
const DARKEST: f64 = 0.4;
const FAINTEST: f64 = 0.08;

pub fn draw(
    canvas: &mut Canvas,
    label: &str,
    parts: &[[String; 2]],
    lots: &[OverlapShown],
    more: usize,
) {
    canvas.write(words(fitted(label, WIDTH - LEFT, SMALL), (LEFT, canvas.height + 10.0)).quiet());
    canvas.height += 22.0;
    let width = (WIDTH - LEFT - 4.0) / parts.len().max(1) as f64;
    write_head(canvas, parts, width);
    let most = lots.iter().flat_map(|lot| lot.reeds.iter().copied()).max().unwrap_or(0);
    for lot in lots {
        row(canvas, lot, width, most);
    }
    if more > 0 {
        let text = format!("{} not shown", digits::plural(more, "more lot", "more lots"));
        canvas.write(words(text, (4.0, canvas.height + 12.0)).quiet());
        canvas.height += 24.0;
    }
    canvas.height += 4.0;
}

fn write_head(canvas: &mut Canvas, parts: &[[String; 2]], width: f64) {
    for (place, lines) in parts.iter().enumerate() {
        let middle = LEFT + (place as f64 + 0.5) * width;
        for (line, text) in lines.iter().enumerate() {
            let at = (middle, canvas.height + 10.0 + 18.0 * line as f64);
            let text = fitted(text, width - 2.0, SMALL);
            canvas.write(words(text, at).sized(SMALL).anchored(Anchor::Middle));
        }
    }
    canvas.height += HEAD;
}

fn row(canvas: &mut Canvas, lot: &OverlapShown, width: f64, most: usize) {
    let (top, middle) = (canvas.height, canvas.height + ROW / 2.0);
    let name = fitted(&lot.lot, LEFT - 10.0, SMALL);
    canvas.write(words(name, (4.0, middle)).sized(SMALL));
    for (place, &reeds) in lot.reeds.iter().enumerate() {
        let left = LEFT + place as f64 * width;
        let at = (left + width / 2.0, middle);
        if reeds == 0 {
            canvas.write(words("·", at).quiet().anchored(Anchor::Middle));
            continue;
        }
        let share = reeds as f64 / most.max(1) as f64;
        let pen = Pen::faint(Ink::River, FAINTEST + (DARKEST - FAINTEST) * share);
        canvas.rectangle((left + 1.0, top + 1.0), (left + width - 1.0, top + ROW - 1.0), pen);
        canvas.write(words(digits::count(reeds), at).sized(SMALL).anchored(Anchor::Middle));
    }
    canvas.height += ROW;
}
