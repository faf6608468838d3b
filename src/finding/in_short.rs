//! The answers that a review opens with.

use schemars::JsonSchema;
use serde::Serialize;

/// One of the three to five answers that matter most, in the order of what acting on them may be worth.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct InShort {
    pub question: String,
    /// The beginning of its answer.
    pub sentence: String,
    /// Good reeds in ten pieces that acting on it may bring; `null` where that cannot be counted so.
    pub worth: Option<f64>,
}
