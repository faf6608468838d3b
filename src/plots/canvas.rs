//! What a picture consists of before it is painted: a list of marks in the
//! units of the picture's own width, 440 to the column.

use super::palette::Ink;
use crate::whole;
use crate::words::labels::plain;
use crate::words::wrap::wrapped;

/// Narrow, so that text is legible when a telephone shows the picture at 300 pixels.
pub const WIDTH: f64 = 440.0;
pub const BODY: f64 = 16.0;
pub const SMALL: f64 = 14.0;
const TITLE: f64 = 16.5;
const LINE_OF_TITLE: f64 = 22.0;
/// How much wider than the plain face a bold one is.
const BOLD: f64 = 1.12;

pub type Point = (f64, f64);

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    pub ink: Ink,
    pub width: f64,
    pub opacity: f64,
}

impl Pen {
    pub const fn new(ink: Ink, width: f64) -> Pen {
        Pen { ink, width, opacity: 1.0 }
    }

    pub const fn faint(ink: Ink, opacity: f64) -> Pen {
        Pen { ink, width: 1.0, opacity }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Left,
    Middle,
    Right,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    pub text: String,
    /// The middle of the line's height.
    pub at: Point,
    pub size: f64,
    pub anchor: Anchor,
    pub ink: Ink,
    pub is_bold: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    Path { points: Vec<Point>, pen: Pen },
    Area { points: Vec<Point>, pen: Pen },
    Dot { at: Point, radius: f64, pen: Pen },
    Ring { at: Point, radius: f64, pen: Pen },
    Words(Words),
}

/// The marks in the order in which they are painted.
#[derive(Debug, Default)]
pub struct Canvas {
    pub marks: Vec<Mark>,
    /// Where the next row begins; in the end the height of the picture.
    pub height: f64,
    pub has_dots_of_several: bool,
}

impl Canvas {
    /// A canvas with the title written at its head.
    pub fn titled(title: &str) -> Canvas {
        let mut canvas = Canvas { height: 4.0, ..Canvas::default() };
        let mut lines = lines_of_title(&plain(title), WIDTH - 8.0);
        let is_cut = lines.len() > 2;
        lines.truncate(2);
        if let (true, Some(last)) = (is_cut, lines.last_mut()) {
            last.push('…');
        }
        for line in lines {
            let at = (4.0, canvas.height + LINE_OF_TITLE / 2.0);
            canvas.write(Words { is_bold: true, size: TITLE, ..words(line, at) });
            canvas.height += LINE_OF_TITLE;
        }
        canvas.height += 6.0;
        canvas
    }

    pub fn line(&mut self, from: Point, to: Point, pen: Pen) {
        self.path(vec![from, to], pen);
    }

    pub fn path(&mut self, points: Vec<Point>, pen: Pen) {
        if points.len() > 1 {
            self.marks.push(Mark::Path { points, pen });
        }
    }

    pub fn area(&mut self, points: Vec<Point>, pen: Pen) {
        self.marks.push(Mark::Area { points, pen });
    }

    pub fn rectangle(&mut self, (x0, y0): Point, (x1, y1): Point, pen: Pen) {
        self.area(vec![(x0, y0), (x1, y0), (x1, y1), (x0, y1)], pen);
    }

    pub fn dot(&mut self, at: Point, radius: f64, pen: Pen) {
        self.marks.push(Mark::Dot { at, radius, pen });
    }

    /// A ring with the page's colour inside.
    pub fn ring(&mut self, at: Point, radius: f64, pen: Pen) {
        self.dot(at, radius, Pen::new(Ink::Page, 1.0));
        self.marks.push(Mark::Ring { at, radius, pen });
    }

    pub fn write(&mut self, words: Words) {
        if !words.text.is_empty() {
            self.marks.push(Mark::Words(words));
        }
    }

    /// Left-aligned text and right-aligned text on one line; the left one yields.
    pub fn write_line(&mut self, left: Words, right: Words) {
        let room = WIDTH - 16.0 - text_width(&right.text, right.size);
        let text = fitted(&left.text, room, left.size);
        self.write(Words { text, ..left });
        self.write(right);
    }

    pub fn dashed(&mut self, from: Point, to: Point, pen: Pen, [dash, gap]: [f64; 2]) {
        self.dashed_path(&[from, to], pen, [dash, gap]);
    }

    /// A path in dashes; the dashes run on around its corners.
    pub fn dashed_path(&mut self, points: &[Point], pen: Pen, [dash, gap]: [f64; 2]) {
        let mut walked = 0.0;
        for &[from, to] in points.array_windows() {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            self.dashes_of_one_line(from, to, walked, pen, [dash, gap]);
            walked = (walked + length) % (dash + gap);
        }
    }

    fn dashes_of_one_line(
        &mut self,
        from: Point,
        to: Point,
        walked: f64,
        pen: Pen,
        [dash, gap]: [f64; 2],
    ) {
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        let along = |distance: f64| {
            let part = distance / length;
            (from.0 + part * (to.0 - from.0), from.1 + part * (to.1 - from.1))
        };
        let mut start = -walked;
        while start < length {
            let (a, b) = (start.max(0.0), (start + dash).min(length));
            if b > a {
                self.line(along(a), along(b), pen);
            }
            start += dash + gap;
        }
    }
}

/// Body text in the colour of text, from its left end.
pub fn words(text: impl Into<String>, at: Point) -> Words {
    Words {
        text: text.into(),
        at,
        size: BODY,
        anchor: Anchor::Left,
        ink: Ink::Text,
        is_bold: false,
    }
}

impl Words {
    pub fn quiet(self) -> Words {
        Words { ink: Ink::Quiet, size: SMALL, ..self }
    }

    pub fn sized(self, size: f64) -> Words {
        Words { size, ..self }
    }

    pub fn anchored(self, anchor: Anchor) -> Words {
        Words { anchor, ..self }
    }
}

/// As few lines as hold it; with words of uneven width a line may hold fewer than the mean says.
fn lines_of_title(title: &str, room: f64) -> Vec<String> {
    let width = BOLD * text_width(title, TITLE);
    let columns = unicode_width::UnicodeWidthStr::width(title) as f64;
    let that_fit = if width <= room { columns } else { 0.93 * columns * room / width };
    wrapped(title, whole::part(that_fit.max(1.0)))
}

/// Estimated from the widest of the faces in common use, so that a label has room in any.
pub fn text_width(text: &str, size: f64) -> f64 {
    text.chars().map(character_width).sum::<f64>() * size
}

/// In units of the size, after the advance widths of DejaVu Sans 2.37.
fn character_width(character: char) -> f64 {
    let columns = unicode_width::UnicodeWidthChar::width(character).unwrap_or(0) as f64;
    let of_one_column = match character {
        ' ' | '.' | ',' | ':' | ';' | '\'' | '!' | '|' | '/' | 'i' | 'j' | 'l' | 'I' => 0.34,
        '(' | ')' | '[' | ']' | '-' | 'f' | 'r' | 't' => 0.41,
        '\u{202F}' | '\u{2009}' => 0.2,
        'm' | 'w' | 'M' | 'W' | '%' | '…' | '—' => 0.98,
        '+' | '−' | '×' | '=' | '<' | '>' | '≈' | '±' => 0.84,
        '0'..='9' => 0.64,
        _ if character.is_uppercase() => 0.73,
        _ => 0.62,
    };
    columns * of_one_column
}

/// A label cut to a width, with an ellipsis where something was cut. A number at its end, which
/// often is all that tells two names apart, is kept.
pub fn fitted(text: &str, width: f64, size: f64) -> String {
    let text = plain(text.trim());
    if text_width(&text, size) <= width {
        return text;
    }
    let end = number_at_end(&text).filter(|end| text_width(end, size) < width / 3.0).unwrap_or("");
    let mut room = (width - text_width(end, size)) / size - character_width('…');
    let fits = |character: &char| {
        room -= character_width(*character);
        room >= 0.0
    };
    let kept: String = text.chars().take_while(fits).collect();
    format!("{}…{end}", kept.trim_end())
}

/// The last word with the space before it, if there is a digit in it.
fn number_at_end(text: &str) -> Option<&str> {
    let end = text.get(text.rfind(' ')?..)?;
    end.contains(|character: char| character.is_ascii_digit()).then_some(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_is_cut_to_its_width_and_keeps_a_number_at_its_end() {
        let long = "Nether Willow water meadow south of the mill 22";
        let cut = fitted(long, 160.0, SMALL);
        assert!(cut.starts_with("Nether Will") && cut.ends_with("… 22"), "{cut}");
        assert!(text_width(&cut, SMALL) <= 160.0, "{cut}");
        assert_eq!(fitted("Saltmarsh 6", 160.0, SMALL), "Saltmarsh 6");
        assert!(fitted(&long.replace(" 22", ""), 160.0, SMALL).ends_with('…'));
    }

    #[test]
    fn a_number_that_would_take_the_room_of_the_name_is_cut_with_it() {
        let cut = fitted("Lot 20251231235959000000000", 120.0, SMALL);
        assert!(cut.ends_with('…'), "{cut}");
        assert!(text_width(&cut, SMALL) <= 120.0, "{cut}");
    }

    #[test]
    fn a_date_has_the_room_that_a_wide_face_takes() {
        // measured in Chromium with DejaVu Sans 2.37 at 14: 81.4
        let estimated = text_width("2024-09-03", SMALL);
        assert!((81.4..95.0).contains(&estimated), "{estimated}");
    }

    #[test]
    fn a_title_breaks_only_where_it_must() {
        assert_eq!(lines_of_title("Reeds still good to play, by hours of playing", 432.0).len(), 1);
        assert_eq!(lines_of_title(&"WOMBAT ".repeat(5), 432.0).len(), 2);
    }
}
