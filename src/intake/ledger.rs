//! Where the checks write down what they find.
//!
//! A column of a million bad cells must not drown a page: of one rule in one
//! column so many problems are kept in full and the rest is counted. What was
//! set aside is kept whole.

use std::collections::HashMap;

use super::excerpt;
use super::records::Table;
use crate::problem::{Place, Problem, Rule, SetAside, Severity};

/// What a problem says: found, expected, and a remedy where the rule's own is not near enough.
#[derive(Debug, Default)]
pub(super) struct Words {
    pub found: String,
    pub expected: String,
    pub remedy: Option<String>,
}

impl Words {
    pub fn new(found: impl Into<String>, expected: impl Into<String>) -> Words {
        Words { found: found.into(), expected: expected.into(), remedy: None }
    }

    pub fn remedy(mut self, remedy: impl Into<String>) -> Words {
        self.remedy = Some(remedy.into());
        self
    }
}

/// One cell of one table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell<'a> {
    pub table: &'a Table,
    pub row: usize,
    pub column: usize,
}

impl<'a> Cell<'a> {
    pub fn text(self) -> &'a str {
        self.table.raw(self.row, self.column)
    }

    pub fn header(self) -> &'a str {
        self.table.heading(self.column)
    }

    fn place(self) -> Place {
        Place::file(&self.table.file).at_line(self.table.line(self.row)).in_column(self.header())
    }
}

/// Rule, severity, file and column.
type Kind = (&'static str, Severity, String, Option<String>);

#[derive(Debug)]
pub(super) struct Ledger {
    problems: Vec<Problem>,
    set_aside: Vec<SetAside>,
    counts: HashMap<Kind, usize>,
    kept_of_a_kind: usize,
}

impl Ledger {
    pub fn new(kept_of_a_kind: usize) -> Ledger {
        Ledger {
            problems: Vec::new(),
            set_aside: Vec::new(),
            counts: HashMap::new(),
            kept_of_a_kind,
        }
    }

    /// One in which nothing stands, with the same limits.
    pub fn empty(&self) -> Ledger {
        Ledger::new(self.kept_of_a_kind)
    }

    /// Takes over what another found, with no more of a kind kept than of one file: two files may have one name.
    pub fn take(&mut self, other: Ledger) {
        let mut seen: HashMap<Kind, usize> = HashMap::new();
        for problem in other.problems {
            let Place { file, column, .. } = &problem.place;
            let kind = (problem.code, problem.severity, file.clone(), column.clone());
            // a problem of a whole file is not counted
            let is_kept = !other.counts.contains_key(&kind) || {
                let before = self.counts.get(&kind).copied().unwrap_or(0);
                let count = seen.entry(kind).or_insert(before);
                *count += 1;
                *count <= self.kept_of_a_kind
            };
            if is_kept {
                self.problems.push(problem);
            }
        }
        self.set_aside.extend(other.set_aside);
        for (kind, count) in other.counts {
            *self.counts.entry(kind).or_default() += count;
        }
    }

    /// A problem of one cell. An error's cell is set aside word for word.
    pub fn cell(&mut self, rule: &Rule, cell: Cell, words: Words) {
        self.cell_as(rule, rule.severity, cell, words);
    }

    /// A problem of one cell that weighs other than the rule usually does.
    pub fn cell_as(&mut self, rule: &Rule, severity: Severity, cell: Cell, words: Words) {
        if severity == Severity::Error {
            self.set_aside.push(SetAside {
                file: cell.table.file.clone(),
                line: cell.table.line(cell.row),
                column: Some(cell.header().to_owned()),
                code: rule.code,
                reason: words.found.clone(),
                text: vec![cell.text().to_owned()],
            });
        }
        if self.is_kept(rule, severity, &cell.place()) {
            let excerpt = excerpt::of(cell.table, Some(cell.row), Some(cell.column));
            let mut problem = problem(rule, cell.place(), words);
            problem.severity = severity;
            problem.text = shortened(cell.text());
            problem.excerpt = Some(excerpt);
            self.problems.push(problem);
        }
    }

    /// A record that belongs to no table, word for word. What was found is said elsewhere.
    pub fn aside(&mut self, aside: SetAside) {
        self.set_aside.push(aside);
    }

    /// A row that is not used, word for word.
    pub fn row_aside(&mut self, rule: &Rule, table: &Table, row: usize, words: Words) {
        self.long_row_aside(rule, table, row, &[], words);
    }

    /// A row that is not used, with the cells that stand beyond the header.
    pub fn long_row_aside(
        &mut self,
        rule: &Rule,
        table: &Table,
        row: usize,
        beyond: &[String],
        words: Words,
    ) {
        self.set_aside.push(SetAside {
            file: table.file.clone(),
            line: table.line(row),
            column: None,
            code: rule.code,
            reason: words.found.clone(),
            text: [&table.row_cells(row), beyond].concat(),
        });
        self.row(rule, table, row, words);
    }

    /// A problem of a row that is used.
    pub fn row(&mut self, rule: &Rule, table: &Table, row: usize, words: Words) {
        let place = Place::file(&table.file).at_line(table.line(row));
        if self.is_kept(rule, rule.severity, &place) {
            let mut problem = problem(rule, place, words);
            let excerpt = excerpt::of(table, Some(row), None);
            problem.text = excerpt.line.clone();
            problem.excerpt = Some(excerpt);
            self.problems.push(problem);
        }
    }

    /// A problem of a whole column: it stands at the header.
    pub fn column(&mut self, rule: &Rule, table: &Table, column: usize, words: Words) {
        self.column_as(rule, rule.severity, table, column, words);
    }

    /// A problem of a whole column that weighs other than the rule usually does.
    pub fn column_as(
        &mut self,
        rule: &Rule,
        severity: Severity,
        table: &Table,
        column: usize,
        words: Words,
    ) {
        let header = table.heading(column);
        let place = Place::file(&table.file).at_line(table.header_line).in_column(header);
        if self.is_kept(rule, severity, &place) {
            let mut problem = problem(rule, place, words);
            problem.severity = severity;
            problem.text = shortened(header);
            problem.excerpt = Some(excerpt::of(table, None, Some(column)));
            self.problems.push(problem);
        }
    }

    /// A problem of a whole file.
    pub fn file(&mut self, rule: &Rule, place: Place, words: Words) {
        self.problems.push(problem(rule, place, words));
    }

    fn is_kept(&mut self, rule: &Rule, severity: Severity, place: &Place) -> bool {
        let key = (rule.code, severity, place.file.clone(), place.column.clone());
        let count = self.counts.entry(key).or_default();
        *count += 1;
        *count <= self.kept_of_a_kind
    }

    /// All problems, with one more for each kind of which some were counted only.
    pub fn close(mut self) -> (Vec<Problem>, Vec<SetAside>) {
        let mut counted: Vec<_> =
            self.counts.into_iter().filter(|(_, count)| *count > self.kept_of_a_kind).collect();
        counted.sort_by(|(one, _), (other, _)| {
            (one.0, &one.2, &one.3).cmp(&(other.0, &other.2, &other.3))
        });
        for ((code, severity, file, column), count) in counted {
            let more = count - self.kept_of_a_kind;
            self.problems.push(Problem {
                code,
                severity,
                place: Place { file, line: None, column },
                text: String::new(),
                message: format!("And {more} more like these."),
                expected: "the same as above".into(),
                remedy: "What is set aside is listed whole in set_aside.csv.".into(),
                excerpt: None,
            });
        }
        (self.problems, self.set_aside)
    }
}

/// A problem without excerpt, as a whole file has it.
pub(super) fn problem(rule: &Rule, place: Place, words: Words) -> Problem {
    Problem {
        code: rule.code,
        severity: rule.severity,
        place,
        text: String::new(),
        message: words.found,
        expected: words.expected,
        remedy: words.remedy.unwrap_or_else(|| rule.what_to_do.to_owned()),
        excerpt: None,
    }
}

/// Longest text of a cell that a problem carries, in characters.
const LONGEST_TEXT: usize = 240;

fn shortened(text: &str) -> String {
    match first(text, LONGEST_TEXT) {
        Some(start) => format!("{start}…"),
        None => text.to_owned(),
    }
}

/// A cell's text as a message quotes it: on one line, without control characters, short.
pub(super) fn quoted(text: &str) -> String {
    let clean: String = text.trim().chars().map(excerpt::printable).collect();
    match first(&clean, 60) {
        Some(start) => format!("“{start}…”"),
        None => format!("“{clean}”"),
    }
}

/// So many characters of a text that has more.
fn first(text: &str, characters: usize) -> Option<&str> {
    text.char_indices().nth(characters).and_then(|(end, _)| text.get(..end))
}

/// A count with its noun in the right number: `1 cell`, `2 cells`.
pub(super) fn counted(count: f64, noun: &str) -> String {
    let ending = if count == 1.0 { "" } else { "s" };
    format!("{} {noun}{ending}", super::checks::rounded(count))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::{ReadOptions, dialect, records};

    const RULE: Rule = Rule {
        code: "odd",
        severity: Severity::Error,
        what_it_does: "",
        why_it_matters: "",
        what_to_do: "",
    };

    fn found(table: &Table, rows: &[usize], column: usize) -> Ledger {
        let mut ledger = Ledger::new(3);
        for &row in rows {
            ledger.cell(&RULE, Cell { table, row, column }, Words::new("odd", "even"));
        }
        ledger
    }

    #[test]
    fn what_two_found_of_one_kind_is_kept_and_counted_as_if_one_had_found_it() {
        let text = "reed,note\n1,a\n2,b\n3,c\n4,d\n";
        let options = ReadOptions::default();
        let table = records::read("reeds.csv", text.into(), dialect::find(text), &options).table;
        let mut first = found(&table, &[0, 1], 1);
        first.take(found(&table, &[2, 3], 1));
        first.take(found(&table, &[0, 1, 2, 3], 0));
        let (problems, set_aside) = first.close();
        let told: Vec<(Option<&str>, Option<u64>, &str)> = problems
            .iter()
            .map(|one| (one.place.column.as_deref(), one.place.line, one.message.as_str()))
            .collect();
        let (note, reed) = (Some("note"), Some("reed"));
        let more = "And 1 more like these.";
        assert_eq!(
            told,
            [
                (note, Some(2), "odd"),
                (note, Some(3), "odd"),
                (note, Some(4), "odd"),
                (reed, Some(2), "odd"),
                (reed, Some(3), "odd"),
                (reed, Some(4), "odd"),
                (note, None, more),
                (reed, None, more),
            ]
        );
        assert_eq!(set_aside.len(), 8);
    }
}
