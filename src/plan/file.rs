//! The plan as a TOML file, with a checksum of itself.

use std::ops::Range;
use std::path::Path;

use super::{Plan, checks, sha256};
use crate::disk;
use crate::problem::{Error, Place, Problem, Severity};

/// A plan of as many pieces as may be takes less.
const MOST_BYTES: u64 = 16 << 20;

/// The version that this program writes and reads.
pub const FORMAT: u32 = 1;

const HEADING: &str = "\
# The plan of a trial, fixed before the first piece was made. Do not change it: the checksum tells.
# The arms of the pieces are not in here; they are in the key and can be drawn again from the seed.
";

/// A plan as it was found.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadPlan {
    pub plan: Plan,
    /// Whether the file is, but for its line endings, word for word what was written.
    pub unchanged: bool,
    /// Whether the seed still gives the key that the plan was sealed with.
    pub key_holds: bool,
}

/// Reads a plan file.
///
/// # Errors
/// [`Error::Read`] where the disk refuses; [`Error::Unreadable`] where the file is no plan of this format.
pub fn read(path: &Path) -> Result<ReadPlan, Error> {
    let bytes = disk::read(path, MOST_BYTES)?;
    let shown = path.display().to_string();
    let text = String::from_utf8(bytes).map_err(|error| {
        let read = error.as_bytes().iter().take(error.utf8_error().valid_up_to());
        let line = 1 + read.filter(|byte| **byte == b'\n').count() as u64;
        let words = ("The file is not text in UTF-8.", "a plan file as it was written", RESTORE);
        unreadable(Place::file(&shown).at_line(line), "", words)
    })?;
    parse(&shown, &text)
}

/// Reads the text of a plan file; `file` is its name in problems.
///
/// # Errors
/// [`Error::Unreadable`] where the text is no plan of this format.
pub fn parse(file: &str, text: &str) -> Result<ReadPlan, Error> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).replace("\r\n", "\n");
    require_format(file, &text)?;
    let plan: Plan = toml::from_str(&text).map_err(|error| not_toml(file, &text, &error))?;
    checks::check(&plan).map_err(|fault| {
        let place = at_key(file, &text, fault.key);
        unreadable(place, fault.key, (&fault.found, fault.expected, RESTORE))
    })?;
    let key_holds = sha256(&plan.key()) == plan.key_sha256;
    Ok(ReadPlan { unchanged: is_sealed(&text), key_holds, plan })
}

/// The file's text.
pub(super) fn text(plan: &Plan) -> String {
    sealed(&unsealed(plan), &plan.checksum)
}

pub(super) fn checksum(plan: &Plan) -> String {
    sha256(&without_checksum(&unsealed(plan)))
}

/// The text with an empty checksum. A plan always has one: it holds no map and no number without a TOML form but the seed, which is text.
fn unsealed(plan: &Plan) -> String {
    let plan = Plan { checksum: String::new(), ..plan.clone() };
    let body = toml::to_string(&plan).unwrap_or_default();
    format!("{HEADING}\n{body}")
}

const START: &str = "checksum = ";

/// Puts a checksum into its line, which stands before any text that a maker wrote.
fn sealed(unsealed: &str, checksum: &str) -> String {
    // a plan that was read may hold any text here
    let checksum = toml::Value::from(checksum);
    unsealed.replacen(&format!("{START}\"\"\n"), &format!("{START}{checksum}\n"), 1)
}

fn without_checksum(text: &str) -> String {
    let mut is_found = false;
    let is_kept = |line: &&str| {
        let is_the_one = !is_found && line.starts_with(START);
        is_found |= is_the_one;
        !is_the_one
    };
    text.split_inclusive('\n').filter(is_kept).collect()
}

/// Whether the checksum's line is exactly the one that the rest asks for.
fn is_sealed(text: &str) -> bool {
    let line = text.split_inclusive('\n').find(|line| line.starts_with(START));
    let expected = format!("{START}\"{}\"\n", sha256(&without_checksum(text)));
    line == Some(expected.as_str())
}

/// Another version's file has other keys, so that the version is read first.
fn require_format(file: &str, text: &str) -> Result<(), Error> {
    let table: toml::Table = toml::from_str(text).map_err(|error| not_toml(file, text, &error))?;
    match table.get("format").and_then(toml::Value::as_integer) {
        Some(format) if format == i64::from(FORMAT) => Ok(()),
        Some(format) => {
            let found = format!("The plan has format {format}.");
            let remedy =
                "Read it with the version of canewright that wrote it, or with a newer one.";
            let words = (found.as_str(), "format 1, the only one that this version knows", remedy);
            Err(unreadable(at_key(file, text, "format"), "format", words))
        }
        None => {
            let words = ("The file does not say that it is a plan.", "a key `format`", RESTORE);
            Err(unreadable(Place::file(file), "", words))
        }
    }
}

const RESTORE: &str =
    "Give the plan file as `canewright trial plan` wrote it, from a copy if need be.";

fn not_toml(file: &str, text: &str, error: &toml::de::Error) -> Error {
    let place = Place::file(file);
    let place = match error.span() {
        Some(Range { start, .. }) => place.at_line(line_of(text, start)),
        None => place,
    };
    let found = format!("The plan cannot be read ({}).", error.message().trim_end_matches('.'));
    unreadable(place, "", (&found, "a plan file as it was written", RESTORE))
}

fn line_of(text: &str, at: usize) -> u64 {
    1 + text.bytes().take(at).filter(|byte| *byte == b'\n').count() as u64
}

/// The first line that sets a key or opens its table.
fn at_key(file: &str, text: &str, key: &str) -> Place {
    let opens = |line: &str| {
        let line = line.trim_start_matches('[');
        line.strip_prefix(key).is_some_and(|rest| rest.trim_start().starts_with(['=', ']']))
    };
    let place = Place::file(file);
    match text.lines().position(opens) {
        Some(line) => place.at_line(line as u64 + 1).in_column(key),
        None => place,
    }
}

/// What was found, what was expected and what to do.
fn unreadable(place: Place, text: &str, (found, expected, remedy): (&str, &str, &str)) -> Error {
    Error::Unreadable(Box::new(Problem {
        code: "trial-plan-unreadable",
        severity: Severity::Error,
        place,
        text: text.to_owned(),
        message: found.to_owned(),
        expected: expected.to_owned(),
        remedy: remedy.to_owned(),
        excerpt: None,
    }))
}

/// A whole number as text.
pub(super) mod as_text {
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(value: &u64, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(value)
    }

    pub fn deserialize<'a, D: Deserializer<'a>>(deserializer: D) -> Result<u64, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(|_| D::Error::custom("a seed is a whole number in quotes"))
    }
}
