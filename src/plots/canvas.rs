//! What a picture consists of before it is painted: a list of marks in the
//! units of the picture's own width, 440 to the column.

use super::palette::Ink;
use crate::words::labels::plain;
use crate::words::wrap::wrapped;

/// Narrow, so that text is legible when a telephone shows the picture at 300 pixels.
pub const WIDTH: f64 = 440.0;
pub const BODY: f64 = 16.0;
pub const SMALL: f64 = 14.0;
const TITLE: f64 = 16.5;
const LINE_OF_TITLE: f64 = 22.0;
/// The mean width of a character of a title, in units of its size; bold faces are wide.
const CHARACTER_OF_TITLE: f64 = 0.625;

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
}

impl Canvas {
    /// A canvas with the title written at its head.
    pub fn titled(title: &str) -> Canvas {
        let mut canvas = Canvas { marks: Vec::new(), height: 4.0 };
        let mut lines = wrapped(&plain(title), columns_of_title(WIDTH - 8.0));
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
        for pair in points.windows(2) {
            let [from, to] = [pair[0], pair[1]]; // windows(2) holds two
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

/// How many characters of a title fit.
fn columns_of_title(width: f64) -> usize {
    (width / (TITLE * CHARACTER_OF_TITLE)).max(1.0) as usize
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
        _ if character.is_uppercase() => 0.73,
        _ => 0.62,
    };
    columns * of_one_column
}

/// A label cut to a width, the last sign an ellipsis where something was cut.
pub fn fitted(text: &str, width: f64, size: f64) -> String {
    let text = plain(text.trim());
    if text_width(&text, size) <= width {
        return text;
    }
    let mut room = width / size - character_width('…');
    let fits = |character: &char| {
        room -= character_width(*character);
        room >= 0.0
    };
    let kept: String = text.chars().take_while(fits).collect();
    format!("{}…", kept.trim_end())
}
