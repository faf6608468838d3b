//! The known columns, one entry each.

use super::{Stage, Unit};

/// What a column's cells hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    Id,
    Number,
    Choice,
    YesNo,
    Date,
    Text,
    Rating,
}

/// A closed range in the column's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    pub low: f64,
    pub high: f64,
}

/// One known column.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// The name in the study file, in results and in the tidy log.
    pub name: &'static str,
    /// What pages call it: `gouge at the centre`.
    pub label: &'static str,
    /// Headers as people type them, in the reader's folded form.
    pub synonyms: &'static [&'static str],
    pub stage: Stage,
    pub kind: Kind,
    pub unit: Option<Unit>,
    /// Outside: a warning.
    pub usual: Option<Range>,
    /// Outside: an error for that cell.
    pub possible: Option<Range>,
    /// The change that effects are reported for.
    pub step: Option<f64>,
    pub meaning: &'static str,
    /// Where the ranges come from.
    pub provenance: &'static str,
}

/// All known columns, in the order of the making.
pub const COLUMNS: &[Column] = &[];

/// The column of that catalogue name.
pub fn known(name: &str) -> Option<&'static Column> {
    COLUMNS.iter().find(|column| column.name == name)
}

/// The column that a header, in the reader's folded form, means.
pub fn find(folded_header: &str) -> Option<&'static Column> {
    known(folded_header)
        .or_else(|| COLUMNS.iter().find(|column| column.synonyms.contains(&folded_header)))
}
