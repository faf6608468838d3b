//! What is being done, on standard error, when it takes over half a second.

use std::io::IsTerminal;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// Shows `text` while `work` runs: only on a terminal, only once half a second has passed, and never with `--quiet`.
pub fn during<T>(text: &'static str, quiet: bool, work: impl FnOnce() -> T) -> T {
    if quiet || !std::io::stderr().is_terminal() {
        return work();
    }
    let bar = ProgressBar::new_spinner().with_message(text);
    if let Ok(style) = ProgressStyle::with_template("{spinner} {msg} {elapsed}") {
        bar.set_style(style);
    }
    // the first tick draws, and it comes after half a second
    bar.enable_steady_tick(Duration::from_millis(500));
    let result = work();
    bar.finish_and_clear();
    result
}
