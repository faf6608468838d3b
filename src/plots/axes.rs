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
/// The height of a further line above a panel.
const LINE_ABOVE: f64 = 20.0;
/// The piece of a dashed line beside its name.
const SAMPLE: f64 = 26.0;
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

/// A dashed level across a panel, `good from 7`.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    pub at: f64,
    pub name: String,
}

/// What stands between the name of the upright axis and the panel.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Above {
    pub level: Option<Level>,
    /// Height that the caller writes in.
    pub room: f64,
}

/// Draws the axes of a panel and keeps `right_margin` free for labels.
pub fn panel(canvas: &mut Canvas, labels: Labels, ranges: [Range; 2], right_margin: f64) -> Panel {
    panel_below(canvas, labels, ranges, right_margin, Above::default())
}

/// Like [`panel`]. A level's name stands above the panel with a piece of its line, where no reed
/// and no curve lies under it.
pub fn panel_below(
    canvas: &mut Canvas,
    labels: Labels,
    [x_range, y_range]: [Range; 2],
    right_margin: f64,
    above: Above,
) -> Panel {
    let level = above.level.filter(|level| y_range.holds(level.at));
    let is_crowded = level.as_ref().is_some_and(|level| {
        text_width(labels.y, BODY) + text_width(&level.name, SMALL) + SAMPLE + 30.0 > WIDTH
    });
    let line_of_level = if is_crowded { LINE_ABOVE } else { 0.0 };
    let y_of_name = canvas.height + 10.0 + line_of_level;
    let panel =
        framed(canvas, labels, [x_range, y_range], right_margin, line_of_level + above.room);
    if let Some(level) = level {
        across(canvas, &panel, &level, y_of_name);
    }
    axis_below(canvas, &panel.x, &x_range.ticks(5), false);
    axis_title(canvas, labels.x);
    panel
}

fn across(canvas: &mut Canvas, panel: &Panel, level: &Level, y_of_name: f64) {
    let y = panel.y.at(level.at);
    let start = WIDTH - 4.0 - text_width(&level.name, SMALL);
    let lines = [(panel.x.from, panel.right(), y), (start - 6.0 - SAMPLE, start - 6.0, y_of_name)];
    for (from, to, y) in lines {
        canvas.dashed((from, y), (to, y), Pen::new(Ink::Text, 1.2), [6.0, 4.0]);
    }
    canvas.write(words(level.name.clone(), (start, y_of_name)).quiet());
}

/// A panel whose lower axis is left to the caller, who knows its days.
pub fn dated_panel(
    canvas: &mut Canvas,
    labels: Labels,
    ranges: [Range; 2],
    right_margin: f64,
) -> Panel {
    framed(canvas, labels, ranges, right_margin, 0.0)
}

fn framed(
    canvas: &mut Canvas,
    labels: Labels,
    [x_range, y_range]: [Range; 2],
    right_margin: f64,
    room_above: f64,
) -> Panel {
    let y_ticks = y_range.ticks(5);
    let left = y_ticks
        .values
        .iter()
        .map(|value| text_width(&y_ticks.label(*value), SMALL))
        .fold(0.0, f64::max)
        + 12.0;
    canvas.write(words(fitted(labels.y, WIDTH - 8.0, BODY), (4.0, canvas.height + 10.0)));
    let top = canvas.height + 30.0 + room_above;
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

#[cfg(test)]
mod tests {
    use super::super::canvas::Mark;
    use super::*;

    fn name_of_level(y_label: &str) -> (Panel, f64) {
        let mut canvas = Canvas::default();
        let labels = Labels { x: "days", y: y_label };
        let level = Some(Level { at: 6.5, name: "good from 6.5".to_owned() });
        let ranges = [Range::new(0.0, 30.0), Range::new(1.0, 10.0)];
        let above = Above { level, ..Above::default() };
        let panel = panel_below(&mut canvas, labels, ranges, 10.0, above);
        let written = |mark: &Mark| match mark {
            Mark::Words(words) if words.text == "good from 6.5" => Some(words.at.1),
            _ => None,
        };
        (panel, canvas.marks.iter().find_map(written).expect("the level is named"))
    }

    #[test]
    fn a_level_is_named_above_its_panel_where_nothing_is_drawn() {
        let (panel, y) = name_of_level("rating");
        assert!(y + SMALL / 2.0 < panel.top());
    }

    #[test]
    fn beside_a_long_name_of_the_axis_a_level_is_named_on_a_line_of_its_own() {
        let (panel, y) = name_of_level("chance to find the difference, per cent");
        assert!(y > 10.0 + BODY && y + SMALL / 2.0 < panel.top());
    }
}
