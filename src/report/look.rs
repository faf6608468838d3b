//! How wide a terminal page is and whether it is coloured.

use std::io::IsTerminal;

use anstyle::{AnsiColor, Style};

const USUAL_WIDTH: usize = 80;
const NARROWEST: usize = 24;
/// Longer lines are tiring to read.
const WIDEST: usize = 100;

/// The look of a page on a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// Columns; at least 24.
    pub width: usize,
    pub colour: bool,
}

impl Look {
    pub fn new(width: usize, colour: bool) -> Look {
        Look { width: width.clamp(NARROWEST, WIDEST), colour }
    }

    /// 80 columns without colour: for a file or a pipe.
    pub fn plain() -> Look {
        Look::new(USUAL_WIDTH, false)
    }

    /// The terminal's width where standard output is one. Colour only on a
    /// terminal, never when `NO_COLOR` is set (no-color.org) or the terminal is `dumb`.
    pub fn of_standard_output() -> Look {
        if !std::io::stdout().is_terminal() {
            return Look::plain();
        }
        let width = terminal_size::terminal_size().map_or(USUAL_WIDTH, |(w, _)| usize::from(w.0));
        let is_refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let is_dumb = std::env::var_os("TERM").is_some_and(|value| value == "dumb");
        Look::new(width, !is_refused && !is_dumb)
    }

    pub(super) fn bold(self, text: &str) -> String {
        self.styled(Style::new().bold(), text)
    }

    pub(super) fn quiet(self, text: &str) -> String {
        self.styled(Style::new().dimmed(), text)
    }

    pub(super) fn warning(self, text: &str) -> String {
        self.styled(AnsiColor::Yellow.on_default().bold(), text)
    }

    fn styled(self, style: Style, text: &str) -> String {
        if self.colour { format!("{style}{text}{style:#}") } else { text.to_owned() }
    }
}
