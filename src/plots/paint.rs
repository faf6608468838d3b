//! From marks to SVG, through plotters; then fixed colours become classes.
//!
//! plotters writes a colour into every element. Here each element also gets
//! the class of its ink, so that a style sheet decides between light and dark;
//! the written colour stays for viewers that know no style sheets. Runs of
//! equal dots become one path, which keeps a crowd of reeds small.

use std::fmt::Write as _;

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::canvas::{Anchor, Canvas, Mark, Pen, Point, WIDTH, Words};
use super::palette::{Ink, hex, style_sheet};
use crate::words::labels::{file_stem, plain};

/// plotters draws in whole pixels; ten of them make one unit of a picture.
const FINENESS: f64 = 10.0;
/// plotters divides font sizes by this before it writes them.
const FONT_FACTOR: f64 = 1.24;
/// From this many equal dots in a row on they are written as a path.
const CROWD: usize = 12;
/// Dots of one path do not darken each other, so a large crowd takes several paths.
const DOTS_OF_A_PATH: usize = 60;
const MOST_PATHS: usize = 8;

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
    let (title, description) = (escaped(captions.title), escaped(captions.description));
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
    let size = (pixels(WIDTH) as u32, pixels(height) as u32);
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
    (length * FINENESS).round().clamp(-1e6, 1e6) as i32
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
    ShapeStyle {
        color: colour(pen.ink, pen.opacity),
        filled,
        stroke_width: pixels(pen.width) as u32,
    }
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

/// One element that plotters wrote.
struct Element<'a> {
    tag: &'a str,
    attributes: Vec<(&'a str, &'a str)>,
}

impl<'a> Element<'a> {
    /// Reads `<tag a="b" …>` or `<tag … />`; text never begins with `<`, plotters escapes it.
    fn read(line: &'a str) -> Option<Element<'a>> {
        let inside = line.strip_prefix('<')?.trim_end_matches('>').trim_end_matches('/');
        let (tag, mut rest) = inside.split_once(' ')?;
        let mut attributes = Vec::new();
        while let Some((name, after)) = rest.split_once("=\"") {
            let (value, after) = after.split_once('"')?;
            attributes.push((name.trim(), value.trim()));
            rest = after;
        }
        Some(Element { tag, attributes })
    }

    fn get(&self, name: &str) -> &'a str {
        self.attributes.iter().find(|(known, _)| *known == name).map_or("", |(_, value)| value)
    }

    /// What remains of the element's look once its place is taken away.
    fn look(&self) -> Vec<(&'a str, &'a str)> {
        self.attributes.iter().copied().filter(|(name, _)| !matches!(*name, "cx" | "cy")).collect()
    }

    fn is_filled_circle(&self) -> bool {
        self.tag == "circle" && self.get("stroke") == "none"
    }

    /// The attributes as they are written: classes first, what says nothing left out.
    fn written(&self, skipped: &[&str]) -> String {
        let mut text = self.classes();
        for (name, value) in &self.attributes {
            let says_nothing = matches!(
                (*name, *value),
                ("opacity", "1") | ("stroke", "none") | ("text-anchor", "start")
            ) || *name == "font-family"
                || (*name == "stroke-width" && self.get("stroke") == "none");
            if says_nothing || skipped.contains(name) {
                continue;
            }
            let value = if *name == "font-size" { rounded(value) } else { (*value).to_owned() };
            // writing to a string cannot fail
            let _ = write!(text, " {name}=\"{value}\"");
        }
        text
    }

    fn classes(&self) -> String {
        let classes: Vec<String> = ["fill", "stroke"]
            .into_iter()
            .filter_map(|name| {
                let value = self.get(name);
                let ink = Ink::ALL.into_iter().find(|ink| hex(ink.light()) == value)?;
                Some(format!("{}-{}", &name[..1], ink.name())) // both names are ASCII
            })
            .collect();
        if classes.is_empty() { String::new() } else { format!(" class=\"{}\"", classes.join(" ")) }
    }
}

fn rounded(size: &str) -> String {
    size.parse::<f64>().map_or_else(|_| size.to_owned(), |size| format!("{}", size.round()))
}

fn with_classes(drawn: &str) -> String {
    let mut lines = drawn.lines().filter(|line| !line.is_empty()).peekable();
    let mut written = String::with_capacity(drawn.len());
    while let Some(line) = lines.next() {
        if line.starts_with("<svg") || line.starts_with("</svg") {
            continue;
        }
        match Element::read(line) {
            Some(first) if first.is_filled_circle() => {
                let mut run = vec![first];
                while let Some(next) = lines.peek().and_then(|line| Element::read(line)) {
                    if !next.is_filled_circle() || next.look() != run[0].look() {
                        break;
                    }
                    run.push(next);
                    lines.next();
                }
                written.push_str(&circles(&run));
            }
            Some(text) if text.tag == "text" => {
                let content = lines.next().unwrap_or_default();
                lines.next(); // plotters closes the element on a line of its own
                let _ = writeln!(written, "<text{}>{content}</text>", text.written(&[]));
            }
            Some(element) => {
                let _ = writeln!(written, "<{}{}/>", element.tag, element.written(&[]));
            }
            None => {}
        }
    }
    written
}

fn circles(run: &[Element]) -> String {
    if run.len() < CROWD {
        return run.iter().map(|circle| format!("<circle{}/>\n", circle.written(&[]))).collect();
    }
    let paths = run.len().div_ceil(DOTS_OF_A_PATH).min(MOST_PATHS);
    (0..paths).map(|path| round_dots(run.iter().skip(path).step_by(paths))).collect()
}

/// Dots as round caps of strokes without length: a tenth of the bytes of circles.
fn round_dots<'a>(mut dots: impl Iterator<Item = &'a Element<'a>>) -> String {
    let Some(first) = dots.next() else { return String::new() };
    let place = |dot: &Element| format!("M{} {}h0", dot.get("cx"), dot.get("cy"));
    let d: String = std::iter::once(place(first)).chain(dots.map(place)).collect();
    let width = first.get("r").parse::<u32>().unwrap_or(1) * 2;
    let fill = first.get("fill").to_owned();
    let stroked = Element {
        tag: "path",
        attributes: vec![("opacity", first.get("opacity")), ("stroke", &fill)],
    };
    format!(
        "<path{} stroke-width=\"{width}\" stroke-linecap=\"round\" d=\"{d}\"/>\n",
        stroked.written(&[])
    )
}
