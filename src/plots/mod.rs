//! Chart data to SVG. Draws, never fits, bins or smooths.
//!
//! A picture is a list of marks on a `canvas`, painted through plotters by
//! `paint`. All pictures share the palette, the axes and the rows. They are
//! 440 units wide with text of 14 to 17, so that a telephone shows them legibly;
//! they follow the light or dark scheme of the page they stand in, or their own
//! viewer's when they stand alone.

mod axes;
mod blanks;
mod canvas;
mod classes;
#[cfg(test)]
mod colour_difference;
mod control;
mod curves;
mod decision;
mod effects;
mod factor_number;
mod foretold;
mod levels;
mod life;
mod life_lots;
#[cfg(test)]
mod life_tests;
mod losses;
mod makers;
mod map;
mod overlap;
mod paint;
mod pairs;
pub mod palette;
mod power;
mod ratios;
mod rows;
mod scale;
mod sorted;
mod spots;
mod stability;
#[cfg(test)]
mod tests;

use crate::finding::{Chart, ChartKind};

/// The picture as a whole SVG document that can also stand inside a page.
///
/// The same chart gives the same bytes. Text of the log is escaped and
/// shortened; ranges that cannot be drawn are mended (see `scale`).
pub fn svg(chart: &Chart) -> String {
    let mut canvas = canvas::Canvas::titled(&chart.title);
    match &chart.kind {
        ChartKind::Effects { rows, worthwhile, unit } => {
            effects::draw(&mut canvas, rows, *worthwhile, unit);
        }
        ChartKind::FactorNumber { x_label, y_label, points, curve, best, good_at, y_range } => {
            let labels = axes::Labels { x: x_label, y: y_label };
            let fitted = (curve.as_slice(), *best);
            factor_number::draw(&mut canvas, labels, points, fitted, *good_at, *y_range);
        }
        ChartKind::FactorChoice { y_label, levels, good_at, y_range } => {
            rows::draw_levels(&mut canvas, y_label, levels, *good_at, *y_range);
        }
        ChartKind::Foretold { x_label, y_label, points, average, good_at } => {
            let labels = axes::Labels { x: x_label, y: y_label };
            foretold::draw(&mut canvas, labels, points, *average, *good_at);
        }
        ChartKind::Shares { shares, x_label } => stability::draw(&mut canvas, shares, x_label),
        ChartKind::Lots { lots, overall, good_at, y_label, range } => {
            let guides = rows::Guides { overall: Some(*overall), good_at: *good_at };
            rows::draw_lots(&mut canvas, y_label, lots, guides, *range);
        }
        ChartKind::Overlap { label, parts, lots, more } => {
            overlap::draw(&mut canvas, label, parts, lots, *more);
        }
        ChartKind::Decision { x_label, y_label, candidates, reeds, good_at, y_range } => {
            let labels = axes::Labels { x: x_label, y: y_label };
            decision::draw(&mut canvas, labels, candidates, reeds, *good_at, *y_range);
        }
        ChartKind::Blanks { blanks, good_at, y_label, range } => {
            blanks::draw(&mut canvas, y_label, blanks, *good_at, *range);
        }
        ChartKind::Sorted { x_label, pieces, shares, keep, gain, worthwhile } => {
            sorted::draw(&mut canvas, x_label, pieces, shares, *keep);
            sorted::draw_gain(&mut canvas, *gain, *worthwhile);
        }
        ChartKind::MakerEffects { rows, more, worthwhile, unit } => {
            makers::draw(&mut canvas, rows, *more, *worthwhile, unit);
        }
        ChartKind::Losses { stages } => losses::draw(&mut canvas, stages),
        ChartKind::Life { x_label, points, until, going, at_risk, median } => {
            let beside = life::Beside { until: *until, going, at_risk, median: *median };
            life::draw(&mut canvas, x_label, points, &beside);
        }
        ChartKind::LifeLots { x_label, rows, until } => {
            life_lots::draw(&mut canvas, x_label, rows, *until);
        }
        ChartKind::Ratios { x_label, rows, worthwhile } => {
            ratios::draw(&mut canvas, x_label, rows, *worthwhile);
        }
        ChartKind::PowerCurve { x_label, curves, planned, wanted } => {
            power::draw(&mut canvas, x_label, curves, *planned, *wanted);
        }
        ChartKind::Pairs { x_label, y_label, points, apart, range } => {
            let labels = axes::Labels { x: x_label, y: y_label };
            pairs::draw(&mut canvas, labels, points, *apart, *range);
        }
        ChartKind::Levels { rows, x_label } => levels::draw(&mut canvas, rows, x_label),
        ChartKind::Control(shown) => control::draw(&mut canvas, shown),
        ChartKind::Map { x_label, y_label, families } => {
            map::draw(&mut canvas, axes::Labels { x: x_label, y: y_label }, families);
        }
        ChartKind::Curves { x_label, y_label, curves } => {
            curves::draw(&mut canvas, axes::Labels { x: x_label, y: y_label }, curves);
        }
    }
    spots::say_several(&mut canvas);
    let captions =
        paint::Captions { name: &chart.name, title: &chart.title, description: &chart.description };
    paint::paint(&canvas, &captions)
}

/// A picture by [`svg`] without its style sheet, for a page that carries
/// [`palette::style_sheet`] once for all its pictures.
pub fn for_page(picture: &str) -> String {
    picture.replacen(&paint::style_element(), "", 1)
}
