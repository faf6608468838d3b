//! Reading a log for a verb, with a word about its problems on standard error.

use std::io::Write;

use jiff::civil::Date;

use super::arguments::Asked;
use super::progress;
use crate::intake::{self, ReadOptions, Reading};
use crate::problem::{Error, Severity};
use crate::report::{Look, problems_page};
use crate::words;

/// Reads the log that was named.
///
/// # Errors
/// Where it cannot be read at all.
pub fn read(asked: &Asked) -> Result<Reading, Error> {
    let options = ReadOptions {
        from: asked.from.map(day),
        until: asked.until.map(day),
        ..ReadOptions::default()
    };
    progress::during("reading", asked.quiet, || intake::read(&asked.logs, &options))
}

/// Days since 1970-01-01. A calendar date of jiff lies within the years -9999 to 9999, which fits.
fn day(date: Date) -> i32 {
    (date - Date::constant(1970, 1, 1)).get_days()
}

/// Whether `--strict` ends the work here; then the problems are told.
pub fn stopped(asked: &Asked, reading: &Reading) -> bool {
    if asked.strict && reading.has_errors() {
        let page = problems_page(&reading.problems, &Look::plain());
        say(
            asked,
            &format!("{page}Stopped, because --strict was asked for and the log has errors.\n"),
        );
        return true;
    }
    let count =
        |severity| reading.problems.iter().filter(|problem| problem.severity == severity).count();
    let (errors, warnings) = (count(Severity::Error), count(Severity::Warning));
    if errors + warnings > 0 {
        let logs: Vec<String> = asked.logs.iter().map(|log| log.display().to_string()).collect();
        let found = words::check::found(errors, warnings);
        say(asked, &format!("{found} in the log; see: canewright check {}\n", logs.join(" ")));
    }
    false
}

fn say(asked: &Asked, text: &str) {
    if !asked.quiet {
        let _ = std::io::stderr().lock().write_all(text.as_bytes());
    }
}
