//! From findings to pages: the terminal, JSON, Markdown, HTML, CSV and Parquet.
//!
//! Everything that a page says comes from a [`Finding`], [`Results`] or a
//! [`Problem`]; nothing is computed here but the layout. Text of a log is
//! treated as hostile: it is escaped for the format it goes to, and characters
//! that steer a terminal or a reader are replaced.

mod cautions;
mod cells;
mod csv_files;
mod folder;
mod handout;
mod html;
mod json;
mod look;
mod markdown;
mod parquet_files;
mod problems_page;
mod table_view;
mod template;
mod terminal;
mod terminal_table;
mod trial_folder;
mod trial_sheet;
mod view;

#[cfg(test)]
mod tests;

pub use csv_files::rows as csv_rows;
pub use folder::write_folder;
pub use handout::{handout, write_handout};
pub use json::{handout_json, json, refusal_json, schema, section_json};
pub use look::Look;
pub use problems_page::problems_page;
pub use terminal::{brief, handout_page, page, refusal_page, sentences, since_page, tables};
pub use trial_folder::write_trial;

use crate::finding::{Finding, Handout, Results};
use crate::problem::{Problem, SetAside};

/// Everything that a review folder is made of.
///
/// The title, the log's summary, the settings, the refusals and the seed stand in `results`.
#[derive(Debug, Clone, Copy)]
pub struct Review<'a> {
    pub results: &'a Results,
    /// In the order in which the page answers them.
    pub findings: &'a [Finding],
    /// With their excerpts and remedies; `results.problems` is what the JSON shows of them.
    pub problems: &'a [Problem],
    pub set_aside: &'a [SetAside],
    /// The page for a studio, where the log can carry one.
    pub handout: Option<&'a Handout>,
    /// Whether the tables are written as Parquet too.
    pub parquet: bool,
}
