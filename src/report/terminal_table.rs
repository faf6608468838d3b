//! Tables on a terminal: columns aligned on the decimal point, or one block a
//! row where the terminal is too narrow for columns.

use unicode_width::UnicodeWidthStr;

use super::cells::{CellText, TableText, table_text};
use crate::finding::Table;
use crate::words::labels::shortened;
use crate::words::wrap::wrapped;

const GAP: usize = 2;
/// Headings wrap within this many columns, or within the column's cells.
const HEADING: usize = 11;
const LONGEST_TEXT: usize = 200;
/// Longer words may be broken.
const LONGEST_WORD: usize = 24;
/// A text column wraps within as few columns as this before the table becomes blocks.
const NARROWEST_TEXT: usize = 11;

/// The lines of a table in at most `width` columns.
pub fn lines(table: &Table, width: usize) -> Vec<String> {
    let text = table_text(table);
    if text.rows.is_empty() {
        return vec!["(no rows)".to_owned()];
    }
    let cells = aligned_cells(&text);
    match narrowed(widths(&text, &cells), &floors(&text, &cells), width) {
        Some(widths) => columns(&text, &cells, &widths),
        None => blocks(&text, width),
    }
}

/// Column widths that fit: text columns give way, the widest first, down to their floors; numbers have none to give.
fn narrowed(mut widths: Vec<usize>, floors: &[usize], width: usize) -> Option<Vec<usize>> {
    let total = |widths: &[usize]| widths.iter().map(|width| width + GAP).sum::<usize>() - GAP;
    while total(&widths) > width {
        let can_give = widths.iter_mut().zip(floors).filter(|(width, floor)| **width > **floor);
        let (widest, _) = can_give.max_by_key(|(width, _)| **width)?;
        *widest -= 1;
    }
    Some(widths)
}

/// How narrow each column may become: a text to its longest word, a number not at all.
fn floors(text: &TableText, cells: &[Vec<String>]) -> Vec<usize> {
    let longest_word = |i: usize| {
        let words = column(cells, i).flat_map(|cell| cell.split(' '));
        words.map(|word| word.width()).max().unwrap_or(0).min(LONGEST_WORD)
    };
    let floor = |(i, is_number): (usize, &bool)| {
        if *is_number { usize::MAX } else { longest_word(i).max(NARROWEST_TEXT) }
    };
    text.is_number.iter().enumerate().map(floor).collect()
}

fn column(cells: &[Vec<String>], place: usize) -> impl Iterator<Item = &String> {
    cells.iter().filter_map(move |row| row.get(place))
}

/// Each cell padded behind its fraction, so that right-aligned points meet.
fn aligned_cells(text: &TableText) -> Vec<Vec<String>> {
    let aligned = |(cell, (is_number, fraction)): (&CellText, (&bool, &usize))| match is_number {
        true => {
            let missing = fraction - cell.fraction.chars().count();
            format!("{}{}", cell.joined(), " ".repeat(missing))
        }
        false => shortened(&cell.joined(), LONGEST_TEXT),
    };
    // text.is_number and text.fraction have one entry a column
    let columns = || text.is_number.iter().zip(&text.fraction);
    text.rows.iter().map(|row| row.iter().zip(columns()).map(aligned).collect()).collect()
}

fn widths(text: &TableText, cells: &[Vec<String>]) -> Vec<usize> {
    text.headings
        .iter()
        .enumerate()
        .map(|(i, heading)| {
            let widest = column(cells, i).map(|cell| cell.width()).max().unwrap_or(0);
            let heading = wrapped(heading, widest.max(HEADING));
            heading.iter().map(|line| line.width()).max().unwrap_or(0).max(widest)
        })
        .collect()
}

fn columns(text: &TableText, cells: &[Vec<String>], widths: &[usize]) -> Vec<String> {
    let headings: Vec<Vec<String>> =
        text.headings.iter().zip(widths).map(|(heading, width)| wrapped(heading, *width)).collect();
    let tall = headings.iter().map(Vec::len).max().unwrap_or(0);
    let heading_line = |line: usize| -> Vec<String> {
        let of = |heading: &Vec<String>| {
            // short headings stand at the foot
            let place = (line + heading.len()).checked_sub(tall);
            place.and_then(|place| heading.get(place)).cloned().unwrap_or_default()
        };
        headings.iter().map(of).collect()
    };
    let line = |cells: &[String]| join(cells, widths, &text.is_number);
    let mut lines: Vec<String> = (0..tall).map(|i| line(&heading_line(i))).collect();
    lines.push(widths.iter().map(|width| "─".repeat(*width)).collect::<Vec<_>>().join("  "));
    for row in cells {
        lines.extend(wrapped_row(row, widths, &text.is_number).iter().map(|row| line(row)));
    }
    lines
}

/// A row as one line or several, where a text wraps within its column; numbers stand on the first.
fn wrapped_row(row: &[String], widths: &[usize], is_number: &[bool]) -> Vec<Vec<String>> {
    let parts: Vec<Vec<String>> = row
        .iter()
        .zip(widths.iter().zip(is_number))
        .map(
            |(cell, (width, is_number))| {
                if *is_number { vec![cell.clone()] } else { wrapped(cell, *width) }
            },
        )
        .collect();
    let tall = parts.iter().map(Vec::len).max().unwrap_or(1);
    let part = |line: usize| {
        parts.iter().map(|cell| cell.get(line).cloned().unwrap_or_default()).collect()
    };
    (0..tall).map(part).collect()
}

fn join(cells: &[String], widths: &[usize], is_number: &[bool]) -> String {
    let padded: Vec<String> = cells
        .iter()
        .zip(widths)
        .zip(is_number)
        .map(|((cell, width), is_number)| {
            let room = " ".repeat(width.saturating_sub(cell.width()));
            if *is_number { format!("{room}{cell}") } else { format!("{cell}{room}") }
        })
        .collect();
    padded.join("  ").trim_end().to_owned()
}

/// The first cell as a heading, the others below it with their names.
fn blocks(text: &TableText, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for row in &text.rows {
        let said = text.headings.iter().zip(row).filter(|(_, cell)| !cell.is_missing());
        for (i, (heading, cell)) in said.enumerate() {
            let indent = if i == 0 { "" } else { "  " };
            let said = format!("{heading}: {}", cell.joined());
            let room = width.saturating_sub(indent.len());
            lines.extend(wrapped(&said, room).into_iter().map(|line| format!("{indent}{line}")));
        }
        lines.push(String::new());
    }
    lines.pop();
    lines
}
