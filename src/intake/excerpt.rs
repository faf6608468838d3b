//! The line that a problem stands on, short and safe to print.

use super::records::Table;
use crate::problem::Excerpt;

/// About how many characters of a line are shown.
const WIDTH: usize = 120;

/// How much of a long line is shown before its cell.
const BEFORE: usize = 40;

/// The line of a row, or the header without one, shortened around a cell.
pub(super) fn of(table: &Table, row: Option<usize>, column: Option<usize>) -> Excerpt {
    let (raw, span) = table.raw_line(row, column);
    let (from, to) = span.unwrap_or((0, 0));
    around(raw, from, to)
}

fn around(raw: &str, from: usize, to: usize) -> Excerpt {
    // a cell's bounds are bytes of ASCII delimiters, hence character boundaries
    let before = raw.get(..from).unwrap_or_default();
    let cell = raw.get(from..to).unwrap_or_default();
    let after = raw.get(to..).unwrap_or_default();
    let before_length = before.chars().count();
    let total =
        before_length + cell.chars().take(WIDTH).count() + after.chars().take(WIDTH).count();
    let dropped = if total > WIDTH { before_length.saturating_sub(BEFORE) } else { 0 };
    let mut line: String = if dropped > 0 { "…".into() } else { String::new() };
    line.extend(before.chars().skip(dropped).map(printable));
    let start = line.chars().count();
    let length = push_up_to(&mut line, cell, WIDTH - start.min(WIDTH / 2));
    let room = WIDTH.saturating_sub(start + length);
    push_up_to(&mut line, after, room);
    Excerpt { line, start, length }
}

/// Adds a text up to so many characters, the last of them an ellipsis where it was cut.
fn push_up_to(line: &mut String, text: &str, room: usize) -> usize {
    let length = text.chars().take(room + 1).count();
    if length <= room {
        line.extend(text.chars().map(printable));
        return length;
    }
    line.extend(text.chars().take(room.saturating_sub(1)).map(printable));
    line.push('…');
    room.max(1)
}

/// A character that a terminal may print: control characters become their pictures, and
/// what would turn the direction of writing becomes a replacement mark.
pub(super) fn printable(character: char) -> char {
    match character {
        '\u{0}'..='\u{1f}' => char::from_u32(0x2400 + character as u32).unwrap_or('\u{fffd}'),
        '\u{7f}' => '\u{2421}',
        '\u{80}'..='\u{9f}'
        | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{feff}' => '\u{fffd}',
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn cell_of(excerpt: &Excerpt) -> String {
        excerpt.line.chars().skip(excerpt.start).take(excerpt.length).collect()
    }

    #[test]
    fn a_short_line_is_shown_whole() {
        let excerpt = around("a,bad,c", 2, 5);
        assert_eq!((excerpt.line.as_str(), excerpt.start, excerpt.length), ("a,bad,c", 2, 3));
    }

    #[test]
    fn a_long_line_is_cut_around_its_cell() {
        let raw = format!("{},bad,{}", "x".repeat(300), "y".repeat(300));
        let excerpt = around(&raw, 301, 304);
        assert_eq!(cell_of(&excerpt), "bad");
        assert!(excerpt.line.chars().count() <= WIDTH + 1);
    }

    #[test]
    fn control_characters_cannot_reach_a_terminal() {
        let excerpt = around("a,\u{1b}[31mred\u{202e},c", 2, 13);
        assert!(excerpt.line.starts_with("a,\u{241b}[31mred\u{fffd}"));
    }

    proptest! {
        #[test]
        fn the_cell_lies_within_the_line_however_long_both_are(before in 0usize..400, cell in 0usize..400, after in 0usize..400) {
            let raw = format!("{}{}{}", "ä".repeat(before), "c".repeat(cell), "b".repeat(after));
            let excerpt = around(&raw, 2 * before, 2 * before + cell);
            let length = excerpt.line.chars().count();
            prop_assert!(excerpt.start + excerpt.length <= length);
            prop_assert!(length <= 2 * WIDTH);
            prop_assert_eq!(cell_of(&excerpt).chars().next(), if cell > 0 { Some('c') } else { None });
        }
    }
}
