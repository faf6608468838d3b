//! One row a lot or a level: its name, its reeds, and the mean with its
//! intervals above them.

use super::axes::{axis_below, axis_title, upright_grid, upright_levels};
use super::canvas::{Anchor, Canvas, Pen, SMALL, WIDTH, words};
use super::factor_number::good_name;
use super::palette::Ink;
use super::scale::{Range, Scale};
use super::spots;
use crate::finding::{Band, FactorLevelShown, LotShown};
use crate::words::digits;

const ROW: f64 = 68.0;
const MARGIN: f64 = 14.0;
/// A picture with more rows than this shows the first and the last ones.
const FIRST_SHOWN: usize = 40;
const LAST_SHOWN: usize = 20;

/// Values with an upright line through all rows.
pub struct Guides {
    pub overall: Option<f64>,
    pub good_at: Option<f64>,
}

struct Row<'a> {
    label: &'a str,
    reeds: &'a [f64],
    mean: Option<Band>,
    raw_mean: Option<f64>,
}

/// Lots in the order in which they come: the best first.
pub fn draw_lots(
    canvas: &mut Canvas,
    label: &str,
    lots: &[LotShown],
    guides: Guides,
    range: [f64; 2],
) {
    let rows: Vec<Row> = lots
        .iter()
        .map(|lot| Row {
            label: &lot.lot,
            reeds: &lot.reeds,
            mean: Some(lot.pooled),
            raw_mean: lot.raw_mean,
        })
        .collect();
    key_of_lots(canvas);
    draw(canvas, label, &rows, guides, range);
}

pub fn draw_levels(
    canvas: &mut Canvas,
    label: &str,
    levels: &[FactorLevelShown],
    good_at: Option<f64>,
    range: [f64; 2],
) {
    let rows: Vec<Row> = levels
        .iter()
        .map(|level| Row {
            label: &level.level,
            reeds: &level.reeds,
            mean: level.mean,
            raw_mean: None,
        })
        .collect();
    draw(canvas, label, &rows, Guides { overall: None, good_at }, range);
}

fn draw(canvas: &mut Canvas, label: &str, rows: &[Row], guides: Guides, range: [f64; 2]) {
    let reeds = rows.iter().flat_map(|row| row.reeds.iter().copied());
    let range = Range::new(range[0], range[1]).including(reeds).padded(0.02);
    let scale = Scale { range, from: MARGIN, to: WIDTH - MARGIN };
    let skipped = rows.len().saturating_sub(FIRST_SHOWN + LAST_SHOWN);
    let skipped_height = if skipped > 0 { 24.0 } else { 0.0 };
    let guides = named(guides);
    let shown_guides = guides.iter().filter(|(value, _)| range.holds(*value)).count();
    let top = canvas.height + 18.0 * shown_guides as f64;
    let bottom = top + (rows.len() - skipped) as f64 * ROW + skipped_height;
    let ticks = range.ticks(6);
    upright_grid(canvas, &scale, &ticks, [top, bottom]);
    upright_levels(canvas, &scale, &guides, bottom);
    canvas.height = top;
    let shown_in_all = rows.iter().map(|row| row.reeds.len()).sum();
    for (position, row) in rows.iter().enumerate() {
        if skipped == 0 || position < FIRST_SHOWN || position >= FIRST_SHOWN + skipped {
            draw_row(canvas, &scale, row, shown_in_all);
        } else if position == FIRST_SHOWN {
            say_skipped(canvas, skipped);
        }
    }
    axis_below(canvas, &scale, &ticks, false);
    axis_title(canvas, label);
}

fn named(guides: Guides) -> Vec<(f64, String)> {
    let overall = guides
        .overall
        .filter(|value| value.is_finite())
        .map(|value| (value, format!("all lots {}", digits::number(value, 1))));
    let good = guides.good_at.filter(|value| value.is_finite());
    overall.into_iter().chain(good.map(|value| (value, good_name(value)))).collect()
}

fn say_skipped(canvas: &mut Canvas, skipped: usize) {
    let text = format!("{} between these are in the table", digits::count(skipped));
    let at = (WIDTH / 2.0, canvas.height + 10.0);
    canvas.write(words(text, at).quiet().anchored(Anchor::Middle));
    canvas.height += 24.0;
}

fn draw_row(canvas: &mut Canvas, scale: &Scale, row: &Row, shown_in_all: usize) {
    let top = canvas.height;
    let known = row.mean.filter(is_known);
    let reeds = digits::plural(row.reeds.len(), "reed", "reeds");
    let said = match known {
        Some(mean) => format!("{}, {reeds}", digits::level(mean.interval())),
        None => reeds,
    };
    let right = words(said, (WIDTH - 8.0, top + 12.0)).quiet().anchored(Anchor::Right);
    canvas.write_line(words(row.label, (8.0, top + 12.0)), right);
    let at = top + 50.0;
    let spots: Vec<_> = row
        .reeds
        .iter()
        .filter(|score| score.is_finite())
        .map(|score| ((scale.at(*score), at), 1))
        .collect();
    spots::draw(canvas, &spots, shown_in_all);
    if let Some(mean) = known {
        draw_mean(canvas, scale, mean, row.raw_mean, top + 29.0);
    }
    canvas.height += ROW;
}

fn is_known(band: &Band) -> bool {
    [band.estimate, band.low, band.high, band.half_low, band.half_high]
        .iter()
        .all(|value| value.is_finite())
}

/// Thin for 95 %, thick for half, a dot for the mean; the raw mean is an open
/// ring, joined to the dot by the pull between them.
fn draw_mean(canvas: &mut Canvas, scale: &Scale, mean: Band, raw_mean: Option<f64>, y: f64) {
    draw_band(canvas, scale, mean, y, Ink::River);
    let x = scale.at(mean.estimate);
    let Some(raw) = raw_mean.filter(|raw| raw.is_finite()) else { return };
    let from = scale.at(raw);
    canvas.line((from, y + 7.0), (x, y), Pen::new(Ink::Cane, 1.6));
    canvas.ring((from, y + 7.0), 3.6, Pen::new(Ink::Cane, 2.0));
}

/// An interval, thick for half and thin for 95 %, with a dot at the estimate.
pub fn draw_band(canvas: &mut Canvas, scale: &Scale, band: Band, y: f64, ink: Ink) {
    let [low, half_low, x, half_high, high] =
        [band.low, band.half_low, band.estimate, band.half_high, band.high].map(|v| scale.at(v));
    canvas.line((low, y), (high, y), Pen::new(ink, 1.8));
    canvas.line((half_low, y), (half_high, y), Pen::new(ink, 6.0));
    canvas.dot((x, y), 5.0, Pen::new(ink, 1.0));
}

/// The four marks of a lot's row with their names.
fn key_of_lots(canvas: &mut Canvas) {
    let y = canvas.height + 10.0;
    canvas.line((8.0, y), (44.0, y), Pen::new(Ink::River, 1.8));
    canvas.line((18.0, y), (34.0, y), Pen::new(Ink::River, 6.0));
    canvas.dot((26.0, y), 5.0, Pen::new(Ink::River, 1.0));
    canvas.write(words("pooled mean: thick half, thin 95 %", (50.0, y)).sized(SMALL));
    canvas.ring((316.0, y), 3.6, Pen::new(Ink::Cane, 2.0));
    canvas.write(words("raw mean", (324.0, y)).sized(SMALL));
    canvas.dot((410.0, y), 2.7, Pen::faint(Ink::Text, 0.42));
    canvas.write(words("a reed", (418.0, y)).sized(SMALL));
    canvas.height += 26.0;
}
