//! One row a lot or a level: its name, its reeds, and the mean with its
//! intervals above them.

use super::axes::{LEVEL_NAME, Strip, axis_below, axis_title, upright_grid, upright_levels};
use super::canvas::{Anchor, Canvas, Mark, Pen, Point, SMALL, WIDTH, words};
use super::factor_number::good_name;
use super::palette::Ink;
use super::scale::{Range, Scale};
use super::spots;
use crate::finding::{Band, FactorLevelShown, GoodLine, LotShown};
use crate::words::digits;

const ROW: f64 = 68.0;
const TEXT_HEIGHT: f64 = 22.0;
const MARGIN: f64 = 14.0;
/// A picture with more rows than this shows the first and the last ones.
const FIRST_SHOWN: usize = 30;
const LAST_SHOWN: usize = 15;

/// Values with an upright line through all rows.
pub struct Guides {
    pub overall: Option<f64>,
    pub good_at: Option<GoodLine>,
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
    let place_of_reed = key_of_lots(canvas);
    let radius = draw(canvas, label, &rows, guides, range);
    spots::in_key(canvas, place_of_reed, radius);
}

pub fn draw_levels(
    canvas: &mut Canvas,
    label: &str,
    levels: &[FactorLevelShown],
    good_at: Option<GoodLine>,
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

/// Returns the radius of a single reed.
fn draw(canvas: &mut Canvas, label: &str, rows: &[Row], guides: Guides, range: [f64; 2]) -> f64 {
    let reeds = rows.iter().flat_map(|row| row.reeds.iter().copied());
    let range = Range::new(range[0], range[1]).including(reeds).padded(0.02);
    let scale = Scale { range, from: MARGIN, to: WIDTH - MARGIN };
    let skipped = rows.len().saturating_sub(FIRST_SHOWN + LAST_SHOWN);
    let guides = named(guides);
    let shown_guides = guides.iter().filter(|(value, _)| range.holds(*value)).count();
    let head = canvas.height;
    canvas.height += LEVEL_NAME * shown_guides as f64;
    let placed = place(canvas, rows, skipped);
    let bottom = canvas.height;
    let strips: Vec<Strip> = placed.iter().map(|(top, _)| [top + TEXT_HEIGHT, top + ROW]).collect();
    let ticks = range.ticks(6);
    upright_grid(canvas, &scale, &ticks, &strips);
    canvas.height = head;
    upright_levels(canvas, &scale, &guides, &strips);
    canvas.height = bottom;
    let radius = draw_rows(canvas, &scale, &placed);
    axis_below(canvas, &scale, &ticks, false);
    axis_title(canvas, label);
    radius
}

fn named(guides: Guides) -> Vec<(f64, String)> {
    let overall = guides
        .overall
        .filter(|value| value.is_finite())
        .map(|value| (value, format!("all lots {}", digits::number(value, 1))));
    let good = guides.good_at.filter(|line| line.at.is_finite());
    overall.into_iter().chain(good.map(|line| (line.at, good_name(line)))).collect()
}

fn say_skipped(canvas: &mut Canvas, skipped: usize) {
    let text = format!("{} between these are in the table", digits::count(skipped));
    let at = (WIDTH / 2.0, canvas.height + 10.0);
    canvas.write(words(text, at).quiet().anchored(Anchor::Middle));
    canvas.height += 24.0;
}

/// Each shown row with its top; says how many were skipped where they would stand.
fn place<'a>(canvas: &mut Canvas, rows: &'a [Row<'a>], skipped: usize) -> Vec<(f64, &'a Row<'a>)> {
    let mut placed = Vec::new();
    for (position, row) in rows.iter().enumerate() {
        if skipped == 0 || position < FIRST_SHOWN || position >= FIRST_SHOWN + skipped {
            placed.push((canvas.height, row));
            canvas.height += ROW;
        } else if position == FIRST_SHOWN {
            say_skipped(canvas, skipped);
        }
    }
    placed
}

/// Layer by layer, so that equal marks follow each other and become one element. Returns the radius of a single reed.
fn draw_rows(canvas: &mut Canvas, scale: &Scale, placed: &[(f64, &Row)]) -> f64 {
    for (top, row) in placed {
        write_row(canvas, row, *top);
    }
    let reeds: Vec<(Point, usize)> = placed
        .iter()
        .flat_map(|(top, row)| row.reeds.iter().map(move |score| (*score, top + 50.0)))
        .filter(|(score, _)| score.is_finite())
        .map(|(score, y)| ((scale.at(score), y), 1))
        .collect();
    let radius = spots::draw(canvas, &reeds, reeds.len());
    let means: Vec<(f64, Band)> = placed
        .iter()
        .filter_map(|(top, row)| Some((top + 29.0, row.mean.filter(is_known)?)))
        .collect();
    draw_bands(canvas, scale, &means, Ink::River);
    let raw: Vec<(Point, Point)> = placed
        .iter()
        .filter_map(|(top, row)| {
            let (mean, raw) = (row.mean.filter(is_known)?, row.raw_mean.filter(|r| r.is_finite())?);
            Some(((scale.at(raw), top + 36.0), (scale.at(mean.estimate), top + 29.0)))
        })
        .collect();
    draw_pulls(canvas, &raw);
    radius
}

fn write_row(canvas: &mut Canvas, row: &Row, top: f64) {
    let reeds = digits::plural(row.reeds.len(), "reed", "reeds");
    let said = match row.mean.filter(is_known) {
        Some(mean) => format!("{}, {reeds}", digits::level(mean.interval())),
        None => reeds,
    };
    let right = words(said, (WIDTH - 8.0, top + 12.0)).quiet().anchored(Anchor::Right);
    canvas.write_line(words(row.label, (8.0, top + 12.0)), right);
}

fn is_known(band: &Band) -> bool {
    [band.estimate, band.low, band.high, band.half_low, band.half_high]
        .iter()
        .all(|value| value.is_finite())
}

/// The raw mean as an open ring, joined to the pooled one by the pull between them.
fn draw_pulls(canvas: &mut Canvas, pulls: &[(Point, Point)]) {
    for (raw, pooled) in pulls {
        canvas.line(*raw, *pooled, Pen::new(Ink::Cane, 1.6));
    }
    for (raw, _) in pulls {
        canvas.dot(*raw, 3.6, Pen::new(Ink::Page, 1.0));
    }
    for (raw, _) in pulls {
        canvas.marks.push(Mark::Ring { at: *raw, radius: 3.6, pen: Pen::new(Ink::Cane, 2.0) });
    }
}

/// Intervals at their heights, thick for half and thin for 95 %, with a dot at the estimate.
pub fn draw_bands(canvas: &mut Canvas, scale: &Scale, bands: &[(f64, Band)], ink: Ink) {
    let mut lines = |from: fn(&Band) -> f64, to: fn(&Band) -> f64, width: f64| {
        for (y, band) in bands {
            let ends = ((scale.at(from(band)), *y), (scale.at(to(band)), *y));
            canvas.line(ends.0, ends.1, Pen::new(ink, width));
        }
    };
    lines(|band| band.low, |band| band.high, 1.8);
    lines(|band| band.half_low, |band| band.half_high, 6.0);
    for (y, band) in bands {
        canvas.dot((scale.at(band.estimate), *y), 5.0, Pen::new(ink, 1.0));
    }
}

/// The four marks of a lot's row with their names; returns where that of a reed belongs.
fn key_of_lots(canvas: &mut Canvas) -> Point {
    let y = canvas.height + 10.0;
    canvas.line((8.0, y), (44.0, y), Pen::new(Ink::River, 1.8));
    canvas.line((18.0, y), (34.0, y), Pen::new(Ink::River, 6.0));
    canvas.dot((26.0, y), 5.0, Pen::new(Ink::River, 1.0));
    canvas.write(words("pooled mean: thick half, thin 95 %", (50.0, y)).sized(SMALL));
    let y = y + 20.0;
    canvas.ring((26.0, y), 3.6, Pen::new(Ink::Cane, 2.0));
    canvas.write(words("raw mean, pulled to the pooled one", (50.0, y)).sized(SMALL));
    canvas.write(words("a reed", (360.0, y)).sized(SMALL));
    canvas.height += 46.0;
    (350.0, y)
}
