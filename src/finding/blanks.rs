//! The numbers of `blanks` and of `sort`.

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::Stage;

/// What is foretold of one unfinished piece; the list has the most promising first and those of which nothing is foretold last.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BlankResult {
    pub piece: String,
    pub lot: Option<String>,
    /// The furthest stage that it is known to have come to.
    pub stage: Option<Stage>,
    /// The rating to expect; `null` where its measurements so far foretell nothing.
    pub rating: Option<f64>,
    /// The range in which nine of ten such reeds fall.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Chance of a good reed, losses on the way counted; `null` where the log does not tell of losses.
    pub p_good: Option<f64>,
    /// Chance of a good reed if it comes to its first note.
    pub p_good_if_played: Option<f64>,
    /// Chance of coming to the first note from where it stands.
    pub p_arrives: Option<f64>,
    /// Chance of doing better than the first of the list; a half for the first itself.
    pub p_outdoes_first: Option<f64>,
    /// Whether rated reeds of its own lot had a say.
    pub lot_is_known: bool,
    /// The measurements it is foretold from.
    pub known: Vec<String>,
    pub sentence: String,
}
