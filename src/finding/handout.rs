//! The page for a studio: one question, every reed, and what a player may do about it.

use serde::Serialize;

use super::{Chart, Table};

/// All text of the page, and its picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Handout {
    /// `Days on the pin: 5, 10 or 20?`
    pub question: String,
    /// The log's title, where names may be told.
    pub title: Option<String>,
    /// What the reeds say, in a sentence or two.
    pub answer: Vec<String>,
    pub chart: Chart,
    pub counts: Table,
    /// How the reeds were judged.
    pub rated: String,
    pub would_do: Vec<String>,
    pub cannot_tell: Vec<String>,
    pub copy_it: Vec<String>,
    pub rests_on: String,
    pub seed: u64,
}

/// What `--json` gives of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HandoutText<'a> {
    pub question: &'a str,
    pub title: Option<&'a str>,
    pub answer: &'a [String],
    pub rated: &'a str,
    pub would_do: &'a [String],
    pub cannot_tell: &'a [String],
    pub copy_it: &'a [String],
    pub rests_on: &'a str,
    pub seed: u64,
}

impl Handout {
    pub fn text(&self) -> HandoutText<'_> {
        HandoutText {
            question: &self.question,
            title: self.title.as_deref(),
            answer: &self.answer,
            rated: &self.rated,
            would_do: &self.would_do,
            cannot_tell: &self.cannot_tell,
            copy_it: &self.copy_it,
            rests_on: &self.rests_on,
            seed: self.seed,
        }
    }
}
