//! `check --explain CODE`: one rule of the reader, under its three headings.

use crate::intake;
use crate::problem::Error;
use crate::words::spelling::did_you_mean;

/// The page of one rule.
///
/// # Errors
/// Where no rule has that code; the nearest one is named.
pub fn rule(code: &str) -> Result<String, Error> {
    let rules = intake::rules();
    match rules.iter().find(|rule| rule.code == code) {
        Some(rule) => Ok(format!(
            "{} ({})\n\nWhat it does\n  {}\n\nWhy it matters\n  {}\n\nWhat to do\n  {}\n",
            rule.code, rule.severity, rule.what_it_does, rule.why_it_matters, rule.what_to_do
        )),
        None => Err(Error::Call(unknown(code, rules.iter().map(|rule| rule.code)))),
    }
}

fn unknown(code: &str, known: impl Iterator<Item = &'static str>) -> String {
    let known: Vec<&str> = known.collect();
    let hint = did_you_mean(code, &known);
    format!("No rule has the code “{code}”.{hint} All codes:\n  {}", known.join("\n  "))
}
