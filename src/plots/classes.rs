//! What plotters wrote, rewritten so that a style sheet can choose its colours.
//!
//! plotters writes a colour into every element. Here each element also gets
//! the class of its ink, so that a style sheet decides between light and dark;
//! the written colour stays for viewers that know no style sheets. Runs of
//! equal dots or lines become one path, which keeps a crowd of reeds small.

use std::fmt::Write as _;

use super::palette::{Ink, hex};

/// From this many equal dots in a row on they are written as a path.
const CROWD: usize = 12;
/// Dots of one path do not darken each other, so a large crowd takes several paths.
const DOTS_OF_A_PATH: usize = 60;
const MOST_PATHS: usize = 8;
/// Lines and marks of so many points are joined; a longer line is a curve and stays by itself.
const POINTS_OF_A_MARK: usize = 5;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Joins {
    Dots,
    Lines,
    Nothing,
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
        self.attributes
            .iter()
            .copied()
            .filter(|(name, _)| !matches!(*name, "cx" | "cy" | "points"))
            .collect()
    }

    fn points(&self) -> usize {
        self.get("points").matches(',').count()
    }

    /// What a run of equal elements may be joined into.
    fn joins(&self) -> Joins {
        match self.tag {
            "circle" if self.get("stroke") == "none" => Joins::Dots,
            "polyline" if (2..=POINTS_OF_A_MARK).contains(&self.points()) => Joins::Lines,
            _ => Joins::Nothing,
        }
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
        let classes: Vec<String> = [("fill", "f"), ("stroke", "s")]
            .into_iter()
            .filter_map(|(name, short)| {
                let value = self.get(name);
                let ink = Ink::ALL.into_iter().find(|ink| hex(ink.light()) == value)?;
                Some(format!("{short}-{}", ink.name()))
            })
            .collect();
        if classes.is_empty() { String::new() } else { format!(" class=\"{}\"", classes.join(" ")) }
    }
}

fn rounded(size: &str) -> String {
    size.parse::<f64>().map_or_else(|_| size.to_owned(), |size| format!("{}", size.round()))
}

/// The elements of plotters' document without its own `<svg>`.
pub fn with_classes(drawn: &str) -> String {
    let mut lines = drawn.lines().filter(|line| !line.is_empty()).peekable();
    let mut written = String::with_capacity(drawn.len());
    while let Some(line) = lines.next() {
        let Some(first) = Element::read(line).filter(|element| element.tag != "svg") else {
            continue;
        };
        if first.tag == "text" {
            let content = lines.next().unwrap_or_default();
            lines.next(); // plotters closes the element on a line of its own
            let _ = writeln!(written, "<text{}>{content}</text>", first.written(&[]));
            continue;
        }
        let (joins, look) = (first.joins(), first.look());
        let mut run = vec![first];
        while let Some(next) = lines.peek().and_then(|line| Element::read(line)) {
            if joins == Joins::Nothing || next.joins() != joins || next.look() != look {
                break;
            }
            run.push(next);
            lines.next();
        }
        written.push_str(&joined(&run, joins));
    }
    written
}

fn joined(run: &[Element], joins: Joins) -> String {
    match joins {
        Joins::Dots if run.len() >= CROWD => {
            let paths = run.len().div_ceil(DOTS_OF_A_PATH).min(MOST_PATHS);
            (0..paths).map(|path| round_dots(run.iter().skip(path).step_by(paths))).collect()
        }
        Joins::Lines if run.len() > 1 => one_path(run),
        _ => run.iter().map(|one| format!("<{}{}/>\n", one.tag, one.written(&[]))).collect(),
    }
}

/// Separate lines as one path; a path goes on to further points without another letter.
fn one_path(run: &[Element]) -> String {
    let pieces = run.iter().map(|line| format!("M{}", line.get("points").replacen(' ', "L", 1)));
    let d: String = pieces.collect();
    let attributes = run.first().map_or_else(String::new, |line| line.written(&["points"]));
    format!("<path{attributes} d=\"{d}\"/>\n")
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
