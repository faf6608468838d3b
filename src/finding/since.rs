//! What has changed since an earlier review of the same log.

use schemars::JsonSchema;
use serde::Serialize;

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Since {
    /// The last day of the earlier review's log, ISO 8601.
    pub last_day: Option<String>,
    /// Pieces and rated reeds that have come since; below zero where the earlier review had more.
    pub more_pieces: i64,
    pub more_reeds: i64,
    pub new_lots: Vec<String>,
    pub changes: Vec<ChangedAnswer>,
    /// All of it in words.
    pub sentences: Vec<String>,
}

/// An answer that reads otherwise now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ChangedAnswer {
    /// `factors`, `lots`, `decide` or `settings`
    pub question: String,
    /// The factor, its level, the lot or the setting.
    pub about: String,
    pub before: String,
    pub now: String,
}
