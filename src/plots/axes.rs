//! The frame around a picture: a panel with two axes, and the single axis
//! below a list of rows.

use super::canvas::{Anchor, BODY, Canvas, Pen, SMALL, WIDTH, fitted, text_width, words};
use super::palette::Ink;
use super::scale::{Range, Scale, Ticks};

/// The names of the axes with their units.
#[derive(Debug, Clone, Copy)]
pub struct Labels<'a> {
    pub x: &'a str,
    pub y: &'a str,
}

const PANEL_HEIGHT: f64 = 280.0;
const GRID: Pen = Pen::new(Ink::Line, 1.0);

/// A panel with both scales.
pub struct Panel {
    pub x: Scale,
    pub y: Scale,
}

impl Panel {
    pub fn top(&self) -> f64 {
        self.y.to
    }

    pub fn bottom(&self) -> f64 {
        self.y.from
    }

    pub fn right(&self) -> f64 {
        self.x.to
    }
}

/// Draws the axes of a panel and keeps `right_margin` free for labels.
pub fn panel(
    canvas: &mut Canvas,
    labels: Labels,
    [x_range, y_range]: [Range; 2],
    right_margin: f64,
) -> Panel {
    let panel = dated_panel(canvas, labels, [x_range, y_range], right_margin);
    axis_below(canvas, &panel.x, &x_range.ticks(5), false);
    axis_title(canvas, labels.x);
    panel
}

/// A panel whose lower axis is left to the caller, who knows its days.
pub fn dated_panel(
    canvas: &mut Canvas,
    labels: Labels,
    [x_range, y_range]: [Range; 2],
    right_margin: f64,
) -> Panel {
    let y_ticks = y_range.ticks(5);
    let left = y_ticks
        .values
        .iter()
        .map(|value| text_width(&y_ticks.label(*value), SMALL))
        .fold(0.0, f64::max)
        + 14.0;
    canvas.write(words(fitted(labels.y, WIDTH - 8.0, BODY), (4.0, canvas.height + 10.0)));
    let top = canvas.height + 30.0;
    let panel = Panel {
        x: Scale { range: x_range, from: left, to: WIDTH - right_margin },
        y: Scale { range: y_range, from: top + PANEL_HEIGHT, to: top },
    };
    horizontal_grid(canvas, &panel, &y_ticks);
    canvas.height = panel.bottom();
    panel
}

fn horizontal_grid(canvas: &mut Canvas, panel: &Panel, ticks: &Ticks) {
    for value in &ticks.values {
        let y = panel.y.at(*value);
        canvas.line((panel.x.from, y), (panel.x.to, y), GRID);
        let label = words(ticks.label(*value), (panel.x.from - 7.0, y)).quiet();
        canvas.write(label.anchored(Anchor::Right));
    }
}

/// A line, ticks and their labels below what has been drawn so far. Labels
/// that would touch the one before are left out.
pub fn axis_below(canvas: &mut Canvas, scale: &Scale, ticks: &Ticks, is_signed: bool) {
    let y = canvas.height;
    canvas.line((scale.from, y), (scale.to, y), Pen::new(Ink::Quiet, 1.0));
    let mut free_from = 0.0;
    for value in &ticks.values {
        let x = scale.at(*value);
        canvas.line((x, y), (x, y + 5.0), Pen::new(Ink::Quiet, 1.0));
        let text = if is_signed { ticks.signed_label(*value) } else { ticks.label(*value) };
        let half = text_width(&text, SMALL) / 2.0;
        let middle = x.clamp(half, WIDTH - half);
        if middle - half < free_from {
            continue;
        }
        free_from = middle + half + 4.0;
        canvas.write(words(text, (middle, y + 15.0)).quiet().anchored(Anchor::Middle));
    }
    canvas.height += 26.0;
}

/// The name of the axis below it.
pub fn axis_title(canvas: &mut Canvas, title: &str) {
    let text = fitted(title, WIDTH - 16.0, BODY);
    canvas.write(words(text, (WIDTH / 2.0, canvas.height + 10.0)).anchored(Anchor::Middle));
    canvas.height += 26.0;
}

/// From top to bottom, where a row has no text that a line would strike through.
pub type Strip = [f64; 2];

/// Upright grid lines behind rows.
pub fn upright_grid(canvas: &mut Canvas, scale: &Scale, ticks: &Ticks, strips: &[Strip]) {
    for value in &ticks.values {
        let x = scale.at(*value);
        for [top, bottom] in strips {
            canvas.line((x, *top), (x, *bottom), GRID);
        }
    }
}

/// Upright dashed lines through all rows, the names above them: the lowest
/// level's to the left of its line, the others' to the right, each on a line of its own.
pub fn upright_levels(
    canvas: &mut Canvas,
    scale: &Scale,
    levels: &[(f64, String)],
    strips: &[Strip],
) {
    let shown: Vec<_> = levels.iter().filter(|(value, _)| scale.range.holds(*value)).collect();
    let lowest = shown.iter().map(|(value, _)| *value).fold(f64::INFINITY, f64::min);
    let bottom = canvas.height + LEVEL_NAME * shown.len() as f64;
    for (value, name) in &shown {
        let (x, middle) = (scale.at(*value), canvas.height + LEVEL_NAME / 2.0);
        let whole = [[middle - 7.0, bottom]];
        for [top, bottom] in whole.iter().chain(strips) {
            canvas.dashed((x, *top), (x, *bottom), Pen::new(Ink::Text, 1.2), [8.0, 6.0]);
        }
        let half = text_width(name, SMALL) / 2.0;
        let aside = if *value == lowest { x - half - 7.0 } else { x + half + 7.0 };
        let at = (aside.clamp(half + 2.0, WIDTH - half - 2.0), middle);
        canvas.write(words(name.clone(), at).quiet().anchored(Anchor::Middle));
        canvas.height += LEVEL_NAME;
    }
}

/// The height of the line that a level's name stands on.
pub const LEVEL_NAME: f64 = 18.0;
/// A dashed level across a panel with its name at the right end.
pub fn level_across(canvas: &mut Canvas, panel: &Panel, value: f64, name: &str) {
    if !panel.y.range.holds(value) {
        return;
    }
    let y = panel.y.at(value);
    let pen = Pen::new(Ink::Text, 1.2);
    canvas.dashed((panel.x.from, y), (panel.right(), y), pen, [6.0, 4.0]);
    let above = if y - 16.0 < panel.top() { 10.0 } else { -10.0 };
    let label = words(name, (panel.right() - 2.0, y + above)).quiet();
    canvas.write(label.anchored(Anchor::Right));
}
