//! The page of one finding on a terminal.

use unicode_width::UnicodeWidthStr;

use super::look::Look;
use super::{cautions, terminal_table};
use crate::finding::{Finding, Handout, Method, Since, Table};
use crate::problem::Refusal;
use crate::words::labels::plain;
use crate::words::wrap::wrapped;
use crate::words::{digits, lists};

/// Heads what has changed since an earlier review.
const SINCE: &str = "What has changed since the last review?";

/// One finding: the question, the answer, what to beware of, the tables, and
/// how it was computed.
pub fn page(finding: &Finding, look: &Look) -> String {
    let mut page = Page { look: *look, text: String::new() };
    page.title(&finding.asked);
    page.paragraph(&finding.answer);
    for sentence in &finding.more {
        page.paragraph(sentence);
    }
    page.caveats(&finding.caveats);
    for table in &finding.tables {
        page.table(table);
    }
    page.method(finding);
    if cautions::belong_to(finding.question) {
        page.caution_box();
    }
    page.text
}

/// The question, its answer and what else is told in sentences.
pub fn sentences(finding: &Finding, look: &Look) -> String {
    let mut page = Page { look: *look, text: String::new() };
    page.title(&finding.asked);
    page.paragraph(&finding.answer);
    for sentence in &finding.more {
        page.paragraph(sentence);
    }
    page.text
}

/// The tables alone.
pub fn tables(finding: &Finding, look: &Look) -> String {
    let mut page = Page { look: *look, text: String::new() };
    for table in &finding.tables {
        page.table(table);
    }
    page.text
}

/// The question and its answer alone, for the end of a review.
pub fn brief(finding: &Finding, look: &Look) -> String {
    let mut page = Page { look: *look, text: String::new() };
    page.title(&finding.asked);
    page.paragraph(&finding.answer);
    page.text
}

/// A question that the log cannot carry: what it holds and what it would take.
pub fn refusal_page(refusal: &Refusal, look: &Look) -> String {
    let mut page = Page { look: *look, text: String::new() };
    page.title(&format!("No answer yet: {}", refusal.question));
    page.paragraph(&refusal.found);
    page.paragraph(&refusal.takes);
    page.text
}

/// The page for a studio, without its picture.
pub fn handout_page(handout: &Handout, look: &Look) -> String {
    let mut page = Page { look: *look, text: String::new() };
    page.title(&handout.question);
    handout.answer.iter().for_each(|sentence| page.paragraph(sentence));
    page.table(&handout.counts);
    page.paragraph(&handout.rated);
    page.heading("What I would do");
    handout.would_do.iter().for_each(|sentence| page.paragraph(sentence));
    page.list("What this cannot tell you", &handout.cannot_tell, |_| "-".to_owned());
    page.list("Test it yourself", &handout.copy_it, |place| format!("{}.", place + 1));
    page.paragraph(&handout.rests_on);
    page.caution_box();
    page.text
}

/// What has changed since an earlier review.
pub fn since_page(since: &Since, look: &Look) -> String {
    let mut page = Page { look: *look, text: String::new() };
    page.title(SINCE);
    since.sentences.iter().for_each(|sentence| page.paragraph(sentence));
    page.text
}

struct Page {
    look: Look,
    text: String,
}

impl Page {
    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn title(&mut self, title: &str) {
        for line in wrapped(&plain(title), self.look.width) {
            self.line(&self.look.bold(&line));
        }
        self.line("");
    }

    fn heading(&mut self, heading: &str) {
        self.line(&self.look.bold(heading));
    }

    fn list(&mut self, heading: &str, items: &[String], mark: impl Fn(usize) -> String) {
        self.heading(heading);
        for (place, item) in items.iter().enumerate() {
            self.hanging(&mark(place), item);
        }
        self.line("");
    }

    fn paragraph(&mut self, text: &str) {
        for line in wrapped(&plain(text), self.look.width) {
            self.line(&line);
        }
        self.line("");
    }

    /// Lines behind a mark, all indented alike.
    fn hanging(&mut self, mark: &str, text: &str) {
        let indent = mark.width() + 1;
        let room = self.look.width.saturating_sub(indent);
        for (i, line) in wrapped(&plain(text), room).iter().enumerate() {
            let start = if i == 0 { format!("{mark} ") } else { " ".repeat(indent) };
            self.line(&format!("{start}{line}"));
        }
    }

    fn caveats(&mut self, caveats: &[String]) {
        if caveats.is_empty() {
            return;
        }
        self.line(&self.look.warning("Take care"));
        for caveat in caveats {
            self.hanging(" ", caveat);
            self.line("");
        }
    }

    fn table(&mut self, table: &Table) {
        for line in wrapped(&plain(&table.title), self.look.width) {
            self.line(&self.look.bold(&line));
        }
        for line in terminal_table::lines(table, self.look.width) {
            self.line(&line);
        }
        self.line("");
    }

    fn method(&mut self, finding: &Finding) {
        self.line(&self.look.quiet("How this was computed"));
        self.paragraph(&rests_on(finding));
        let Method { model, assumptions, sources, seed } = &finding.method;
        if !model.is_empty() {
            self.paragraph(model);
        }
        for assumption in assumptions {
            self.hanging("·", assumption);
        }
        if !assumptions.is_empty() {
            self.line("");
        }
        if !sources.is_empty() {
            self.paragraph(&format!("Sources: {}.", sources.join("; ")));
        }
        if let Some(seed) = seed {
            self.paragraph(&format!("Seed {seed}."));
        }
    }

    fn caution_box(&mut self) {
        let inside = self.look.width - 4; // a look is at least 24 wide
        let title = format!("┌─ {} ", cautions::TITLE);
        let rule = "─".repeat((self.look.width - 1).saturating_sub(title.width()));
        self.line(&format!("{title}{rule}┐"));
        for line in wrapped(&cautions::SENTENCES.join(" "), inside) {
            let room = " ".repeat(inside.saturating_sub(line.width()));
            self.line(&format!("│ {line}{room} │"));
        }
        self.line(&format!("└{}┘", "─".repeat(self.look.width - 2)));
    }
}

/// `This rests on 112 reeds. Left out: 5 without a rating and 2 without a lot.`
pub(super) fn rests_on(finding: &Finding) -> String {
    let (number, word) = finding.used;
    let used = format!("This rests on {} {word}.", digits::count(number));
    if finding.left_out.is_empty() {
        return used;
    }
    let left_out: Vec<String> = finding
        .left_out
        .iter()
        .map(|left_out| format!("{} ({})", digits::count(left_out.n), left_out.why))
        .collect();
    format!("{used} Left out: {}.", lists::and(&left_out))
}
