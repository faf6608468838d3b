//! What can be wrong with a log, and what cannot be answered from one.
//!
//! A [`Problem`] is one thing found in one place: it says where, what was
//! found, what was expected and what to do. A [`Refusal`] is an answer: the
//! question was understood, and the log cannot carry it. An [`Error`] means the
//! work could not be done at all.

use std::fmt;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::Serialize;

/// How much a problem matters.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    Serialize,
    serde::Deserialize,
    JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Something was understood in one of several possible ways, and this says which.
    Remark,
    /// Probably a slip; the value was used as it stands.
    Warning,
    /// A cell became missing or a row was set aside.
    Error,
}

impl Severity {
    /// The word a page prints for this severity.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Remark => "remark",
            Severity::Warning => "warning",
            Severity::Error => "error",
        }
    }
}

impl fmt::Display for Severity {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.word())
    }
}

/// One rule that the reader applies: a stable code and three fixed headings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rule {
    /// Stable, in words, joined by dashes: `number-unreadable`.
    pub code: &'static str,
    pub severity: Severity,
    /// What the rule looks at.
    pub what_it_does: &'static str,
    /// What would go wrong without it.
    pub why_it_matters: &'static str,
    /// What the keeper of the log can do.
    pub what_to_do: &'static str,
}

/// Where in the log something was found. Lines count from 1 and include the header.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    pub file: String,
    pub line: Option<u64>,
    /// The header as it stands in the file.
    pub column: Option<String>,
}

impl Place {
    pub fn file(file: impl Into<String>) -> Self {
        Place { file: file.into(), line: None, column: None }
    }

    pub fn at_line(mut self, line: u64) -> Self {
        self.line = Some(line);
        self
    }

    pub fn in_column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(formatter, ", line {line}")?;
        }
        if let Some(column) = &self.column {
            // what stands in a study file is a key
            let what = if self.file.ends_with(".toml") { "key" } else { "column" };
            write!(formatter, ", {what} “{column}”")?;
        }
        Ok(())
    }
}

/// The line a problem stands on, so that a page can underline the cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Excerpt {
    /// The line as read, shortened around the cell when it is long.
    pub line: String,
    /// Where the cell starts in `line`, in characters.
    pub start: usize,
    /// How many characters the cell takes; zero for an empty cell.
    pub length: usize,
}

/// One thing found in one place of the log.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    pub code: &'static str,
    pub severity: Severity,
    pub place: Place,
    /// The cell's text, word for word (shortened only when it is very long).
    pub text: String,
    /// What was found, as a sentence.
    pub message: String,
    pub expected: String,
    /// What the keeper of the log can do.
    pub remedy: String,
    pub excerpt: Option<Excerpt>,
}

/// A row or a cell that was not used, word for word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetAside {
    pub file: String,
    pub line: u64,
    /// The column's header for a cell; none for a whole row.
    pub column: Option<String>,
    pub code: &'static str,
    pub reason: String,
    /// The cell, or all cells of the row in order.
    pub text: Vec<String>,
}

/// An answer that says why there is none: what the log holds and what it would take.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Refusal {
    /// The question's name in the registry.
    pub question: String,
    /// What the log holds, as a sentence.
    pub found: String,
    /// What it would take, as a sentence.
    pub takes: String,
}

impl fmt::Display for Refusal {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{} {}", self.found, self.takes)
    }
}

/// Why the work could not be done at all. The message names the remedy.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    #[error("{}: {}. Check that the path is spelled as it is on the disk and that it may be read.", path.display(), reason(source))]
    Read { path: PathBuf, source: std::io::Error },
    #[error("{}: {}. Check that the folder exists, may be written to and has room.", path.display(), reason(source))]
    Write { path: PathBuf, source: std::io::Error },
    #[error("{}: the file holds more than {} MiB, which is more than such a file can need. Check that it is the right one, or take out of it what does not belong there.", path.display(), most >> 20)]
    Large { path: PathBuf, most: u64 },
    /// The log could not be read; the problem says where and what to do.
    #[error("{}: {} Expected: {}. {}", .0.place, .0.message, .0.expected, .0.remedy)]
    Unreadable(Box<Problem>),
    /// The call itself cannot be carried out.
    #[error("{0}")]
    Call(String),
}

/// Why the system refused, in words; its own differ from one system to the next.
fn reason(source: &io::Error) -> String {
    let words = match source.kind() {
        ErrorKind::NotFound => "there is nothing of that name",
        ErrorKind::PermissionDenied => "it is not allowed",
        ErrorKind::IsADirectory => "it is a folder, not a file",
        ErrorKind::NotADirectory => "a part of the path is a file, not a folder",
        ErrorKind::AlreadyExists => "there is something of that name already",
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "there is no room left",
        ErrorKind::ReadOnlyFilesystem => "the disk can only be read",
        ErrorKind::InvalidInput | ErrorKind::InvalidFilename => "no file can have that name",
        // a link that leads to itself, a file larger than may be, and more: named as Rust names the kind
        kind => return format!("the system could not do it ({kind})"),
    };
    words.to_owned()
}

impl Error {
    pub fn reading(path: &Path, source: std::io::Error) -> Self {
        Error::Read { path: path.to_path_buf(), source }
    }

    pub fn writing(path: &Path, source: std::io::Error) -> Self {
        Error::Write { path: path.to_path_buf(), source }
    }
}
