//! What is being done, on standard error, when it takes over half a second.

use std::io::IsTerminal;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// Shows `text` while `work` runs: only on a terminal, only once half a second has passed, and never with `--quiet`.
pub fn during<T>(text: &'static str, quiet: bool, work: impl FnOnce() -> T) -> T {
    if !is_shown(quiet) {
        return work();
    }
    let bar = drawn(ProgressBar::new_spinner(), "{spinner} {msg} {elapsed}");
    bar.set_message(text);
    let result = work();
    bar.finish_and_clear();
    result
}

/// Several pieces of work, with a bar that says how many are done; shown when [`during`] would show.
pub struct Steps(Option<ProgressBar>);

impl Steps {
    pub fn of(count: usize, quiet: bool) -> Steps {
        let bar =
            || drawn(ProgressBar::new(count as u64), "{bar:20} {pos} of {len}: {msg} {elapsed}");
        Steps(is_shown(quiet).then(bar))
    }

    /// Shows `text` while one of them runs.
    pub fn during<T>(&self, text: &'static str, work: impl FnOnce() -> T) -> T {
        let Some(bar) = &self.0 else { return work() };
        bar.set_message(text);
        let result = work();
        bar.inc(1);
        result
    }
}

impl Drop for Steps {
    fn drop(&mut self) {
        if let Some(bar) = &self.0 {
            bar.finish_and_clear();
        }
    }
}

fn is_shown(quiet: bool) -> bool {
    !quiet && std::io::stderr().is_terminal()
}

fn drawn(bar: ProgressBar, template: &str) -> ProgressBar {
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style);
    }
    // the first tick draws, and it comes after half a second
    bar.enable_steady_tick(Duration::from_millis(500));
    bar
}
