//! The numbers of `blanks` and of `sort`.

use schemars::JsonSchema;
use serde::Serialize;

use super::LeftOut;
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
    /// The measurements it is foretold from, and `maker` where the log holds several.
    pub known: Vec<String>,
    pub sentence: String,
}

/// Whether dropping pieces by one early measurement pays.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SortResult {
    pub measure: String,
    pub unit: Option<String>,
    /// Pieces below are dropped; `null` for no lower limit.
    pub keep_low: Option<f64>,
    pub keep_high: Option<f64>,
    /// Share of the pieces dropped, each lot by the limits that the other lots chose; so are all that follow.
    pub dropped_share: f64,
    /// Good reeds per ten pieces worked on where none is dropped.
    pub good_per_ten_all: f64,
    /// The same where the pieces outside the limits are dropped.
    pub good_per_ten_kept: f64,
    /// The difference with its 95 % interval.
    pub gain: f64,
    pub low: f64,
    pub high: f64,
    pub p: f64,
    /// Benjamini-Hochberg adjusted over the measurements looked at together.
    pub q: f64,
    /// Share of the dropped pieces that became good reeds: sorting has the greater net benefit for whoever would not work on a piece with so small a chance.
    pub good_share_dropped: Option<f64>,
    pub minutes_per_good_all: Option<f64>,
    pub minutes_per_good_kept: Option<f64>,
    pub minutes_saved_per_good: Option<f64>,
    /// Price of the cane for one good reed, in the money of the log.
    pub cost_per_good_all: Option<f64>,
    /// The same with the dropped cane bought too.
    pub cost_per_good_kept: Option<f64>,
    /// From this worth of an hour of work on, in the money of the log, the minutes saved outweigh the cane dropped.
    pub hour_worth: Option<f64>,
    /// The decision curve.
    pub net_benefit: Vec<NetBenefit>,
    pub used: usize,
    pub left_out: Vec<LeftOut>,
    pub verdict: SortVerdict,
    pub sentence: String,
}

/// Net benefit per piece, in good reeds, at one exchange rate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct NetBenefit {
    /// The chance of a good reed below which a piece would not be worth its work: one over the number of pieces whose work a good reed is worth.
    pub threshold: f64,
    /// Working on all.
    pub all: f64,
    /// Working on those kept.
    pub kept: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
pub enum SortVerdict {
    /// The interval lies above no gain and reaches a good reed in ten pieces.
    #[serde(rename = "worth it")]
    WorthIt,
    #[serde(rename = "cannot tell")]
    CannotTell,
    /// The interval lies wholly below one good reed in ten pieces.
    #[serde(rename = "not worth it")]
    NotWorthIt,
}

impl SortVerdict {
    pub fn word(self) -> &'static str {
        match self {
            SortVerdict::WorthIt => "worth it",
            SortVerdict::CannotTell => "cannot tell",
            SortVerdict::NotWorthIt => "not worth it",
        }
    }
}
