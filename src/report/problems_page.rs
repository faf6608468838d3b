//! What is wrong with a log, on a terminal: grouped by rule, the cell underlined.

use ariadne::{Config, Label, Report, ReportKind, Source};

use super::look::Look;
use crate::problem::{Excerpt, Problem};
use crate::words::digits;
use crate::words::labels::plain;
use crate::words::wrap::wrapped;

/// How many problems of a kind are shown one by one.
pub const SHOWN_OF_A_KIND: usize = 20;
/// What ariadne writes to the left of a line, and to the right of a mark under its end.
const MARGIN: usize = 16;
/// ariadne's heading, its frame and an empty line.
const LINES_ABOVE: usize = 3;

/// All problems of one rule, in the order of the log.
pub struct Group<'a> {
    pub code: &'static str,
    pub problems: Vec<&'a Problem>,
}

/// Groups by rule: the most severe first, then as they first occur.
pub fn grouped(problems: &[Problem]) -> Vec<Group<'_>> {
    let mut groups: Vec<Group> = Vec::new();
    let mut place_of = std::collections::HashMap::new();
    for problem in problems {
        let place = *place_of.entry(problem.code).or_insert_with(|| {
            groups.push(Group { code: problem.code, problems: Vec::new() });
            groups.len() - 1
        });
        // every place is that of a group
        if let Some(group) = groups.get_mut(place) {
            group.problems.push(problem);
        }
    }
    groups.sort_by_key(|group| std::cmp::Reverse(group.problems.iter().map(|p| p.severity).max()));
    groups
}

/// Every problem with its place, the cell underlined, what was expected and
/// what to do. The first 20 of a kind are shown, the others counted.
pub fn problems_page(problems: &[Problem], look: &Look) -> String {
    let mut page = String::new();
    for group in grouped(problems) {
        page.push_str(&group_page(&group, *look));
    }
    page
}

fn group_page(group: &Group, look: Look) -> String {
    let number = group.problems.len();
    let severity = group.problems.iter().map(|p| p.severity).max().map_or("", |s| s.word());
    let times = digits::plural(number, "time", "times");
    let heading = wrapped(&format!("{severity}: {}, {times}", group.code), look.width);
    let mut page: String = heading.iter().map(|line| format!("{}\n", look.bold(line))).collect();
    page.push('\n');
    let remedy = common_remedy(&group.problems);
    for problem in group.problems.iter().take(SHOWN_OF_A_KIND) {
        page.push_str(&problem_lines(problem, look, remedy.is_none()));
    }
    if number > SHOWN_OF_A_KIND {
        let more = digits::count(number - SHOWN_OF_A_KIND);
        page.push_str(&paragraph(&format!("… and {more} more of this kind."), look));
        page.push('\n');
    }
    if let Some(remedy) = remedy {
        page.push_str(&paragraph(&format!("What to do: {remedy}"), look));
        page.push('\n');
    }
    page
}

/// The remedy, where all problems of the group share it.
fn common_remedy<'a>(problems: &[&'a Problem]) -> Option<&'a str> {
    let (first, rest) = problems.split_first()?;
    let is_shared = !rest.is_empty() && rest.iter().all(|problem| problem.remedy == first.remedy);
    is_shared.then_some(first.remedy.as_str())
}

fn problem_lines(problem: &Problem, look: Look, with_remedy: bool) -> String {
    let mut lines = paragraph(&format!("{}: {}", problem.place, problem.message), look);
    match &problem.excerpt {
        Some(excerpt) => lines.push_str(&underlined(problem, excerpt, look)),
        None if !problem.text.is_empty() => {
            lines.push_str(&paragraph(&format!("Found: “{}”", problem.text), look));
        }
        None => {}
    }
    if !problem.expected.is_empty() {
        lines.push_str(&paragraph(&format!("Expected: {}", problem.expected), look));
    }
    if with_remedy && !problem.remedy.is_empty() {
        lines.push_str(&paragraph(&format!("What to do: {}", problem.remedy), look));
    }
    lines.push('\n');
    lines
}

fn paragraph(text: &str, look: Look) -> String {
    let mut lines = wrapped(&plain(text), look.width).join("\n");
    lines.push('\n');
    lines
}

/// The line with the cell underlined, drawn by ariadne. Only the line and its
/// marks are kept: the place and the message stand above already, and the
/// number that ariadne 0.6 writes beside the line leaves its own offset out.
fn underlined(problem: &Problem, excerpt: &Excerpt, look: Look) -> String {
    let (line, start, end) = around_the_cell(excerpt, look.width.saturating_sub(MARGIN).max(8));
    let span = (plain(&problem.place.file), start..end);
    let report = Report::build(ReportKind::Error, span.clone())
        .with_config(Config::default().with_color(look.colour))
        .with_label(Label::new(span.clone()).with_message("here"))
        .finish();
    let mut drawn = Vec::new();
    if report.write((span.0, Source::from(line)), &mut drawn).is_err() {
        return String::new(); // memory can always be written to
    }
    let drawn = String::from_utf8_lossy(&drawn).replacen("1 │", "  │", 1);
    drawn.lines().skip(LINES_ABOVE).take(3).map(|line| format!("{}\n", line.trim_end())).collect()
}

/// A part of the line around the cell, and where the cell stands in it, in characters.
fn around_the_cell(excerpt: &Excerpt, room: usize) -> (String, usize, usize) {
    let mut line: Vec<char> = plain(&excerpt.line).chars().collect();
    line.push(' '); // an empty last cell still has a place to underline
    let start = excerpt.start.min(line.len() - 1);
    let from = if line.len() <= room { 0 } else { start.saturating_sub(room / 3) };
    let to = (from + room).min(line.len());
    let mut shown: Vec<char> = line.iter().copied().take(to).skip(from).collect();
    if let (true, Some(first)) = (from > 0, shown.first_mut()) {
        *first = '…';
    }
    if let (true, Some(last)) = (to < line.len(), shown.last_mut()) {
        *last = '…';
    }
    let start = start - from;
    let end = (start + excerpt.length.max(1)).min(shown.len());
    (shown.into_iter().collect(), start, end.max(start + 1))
}
