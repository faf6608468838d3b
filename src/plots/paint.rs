//! From marks to SVG, through plotters; [`classes`](super::classes) then lets a
//! style sheet choose the colours.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::canvas::{Anchor, Canvas, Mark, Pen, Point, WIDTH, Words};
use super::classes::with_classes;
use super::palette::{Ink, hex, style_sheet};
use crate::whole;
use crate::words::labels::{file_stem, plain, shortened};

/// plotters draws in whole pixels; ten of them make one unit of a picture.
const FINENESS: f64 = 10.0;
/// plotters divides font sizes by this before it writes them.
const FONT_FACTOR: f64 = 1.24;

const LONGEST_TITLE: usize = 120;
/// What a reader who does not see the picture is told; the page and its tables tell the rest.
const LONGEST_DESCRIPTION: usize = 800;

/// What stands in the head of an SVG for those who do not see it.
pub struct Captions<'a> {
    pub name: &'a str,
    pub title: &'a str,
    pub description: &'a str,
}

/// The whole SVG. The same canvas and captions give the same bytes.
pub fn paint(canvas: &Canvas, captions: &Captions) -> String {
    let height = canvas.height.ceil().max(1.0);
    let mut drawn = String::new();
    draw(&canvas.marks, height, &mut drawn);
    let mut svg = head(captions, height);
    svg.push_str(&with_classes(&drawn));
    svg.push_str("</svg>\n");
    svg
}

fn head(captions: &Captions, height: f64) -> String {
    let id = file_stem(captions.name);
    let (title, description) = (
        escaped(&shortened(captions.title, LONGEST_TITLE)),
        escaped(&shortened(captions.description, LONGEST_DESCRIPTION)),
    );
    let (wide, high) = (WIDTH * FINENESS, height * FINENESS);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"cw\" width=\"{WIDTH}\" height=\"{height}\" \
         viewBox=\"0 0 {wide} {high}\" role=\"img\" aria-labelledby=\"{id}-title {id}-desc\" \
         font-family=\"system-ui,-apple-system,'Segoe UI',sans-serif\">\n\
         <title id=\"{id}-title\">{title}</title>\n<desc id=\"{id}-desc\">{description}</desc>\n\
         {}<rect class=\"f-page\" width=\"{wide}\" height=\"{high}\" fill=\"{}\"/>\n",
        style_element(),
        hex(Ink::Page.light()),
    )
}

/// The style sheet as it stands in each picture.
pub fn style_element() -> String {
    format!("<style>{}</style>\n", style_sheet())
}

fn escaped(text: &str) -> String {
    plain(text)
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// plotters fails only where its target cannot be written, and a string always can.
fn draw(marks: &[Mark], height: f64, target: &mut String) {
    let size = (breadth(WIDTH), breadth(height));
    let area = SVGBackend::with_string(target, size).into_drawing_area();
    for mark in marks {
        let drawn = match mark {
            Mark::Path { points, pen } => {
                area.draw(&PathElement::new(placed(points), style(*pen, false)))
            }
            Mark::Area { points, pen } => {
                area.draw(&Polygon::new(placed(points), style(*pen, true)))
            }
            Mark::Dot { at, radius, pen } => {
                area.draw(&Circle::new(point(*at), pixels(*radius), style(*pen, true)))
            }
            Mark::Ring { at, radius, pen } => {
                area.draw(&Circle::new(point(*at), pixels(*radius), style(*pen, false)))
            }
            Mark::Words(words) => {
                area.draw(&Text::new(plain(&words.text), point(words.at), font(words)))
            }
        };
        debug_assert!(drawn.is_ok());
    }
    let presented = area.present();
    debug_assert!(presented.is_ok());
}

fn pixels(length: f64) -> i32 {
    whole::small((length * FINENESS).round().clamp(-1e6, 1e6))
}

/// [`pixels`] of what cannot be less than nothing.
fn breadth(length: f64) -> u32 {
    pixels(length).max(0).unsigned_abs()
}

fn point((x, y): Point) -> (i32, i32) {
    (pixels(x), pixels(y))
}

fn placed(points: &[Point]) -> Vec<(i32, i32)> {
    points.iter().copied().map(point).collect()
}

fn colour(ink: Ink, opacity: f64) -> RGBAColor {
    let [red, green, blue] = ink.light();
    RGBAColor(red, green, blue, opacity)
}

fn style(pen: Pen, filled: bool) -> ShapeStyle {
    ShapeStyle { color: colour(pen.ink, pen.opacity), filled, stroke_width: breadth(pen.width) }
}

fn font(words: &Words) -> TextStyle<'static> {
    let anchor = match words.anchor {
        Anchor::Left => HPos::Left,
        Anchor::Middle => HPos::Center,
        Anchor::Right => HPos::Right,
    };
    let weight = if words.is_bold { FontStyle::Bold } else { FontStyle::Normal };
    let size = words.size * FINENESS * FONT_FACTOR;
    TextStyle {
        font: ("sans-serif", size, weight).into_font(),
        color: colour(words.ink, 1.0).to_backend_color(),
        pos: Pos::new(anchor, VPos::Center),
    }
}
