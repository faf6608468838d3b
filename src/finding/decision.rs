//! The key `decide` of the results: whether a practice should change.

use schemars::JsonSchema;
use serde::Serialize;

use super::LeftOut;
use crate::catalogue::Stage;

/// Whether one practice should change.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DecisionResult {
    pub factor: String,
    pub stage: Stage,
    pub unit: Option<String>,
    /// The present practice, which is one of the candidates.
    pub current: PracticeValue,
    pub recommendation: Recommendation,
    /// The candidate to switch to, or to try against the present practice.
    pub to: Option<PracticeValue>,
    /// What is lost on average by switching to the best candidate, and by staying, if that is not the best choice; good reeds per ten pieces.
    pub regret_switch: f64,
    pub regret_stay: f64,
    /// The smallest difference worth having, in good reeds per ten pieces.
    pub worthwhile: f64,
    /// Days that count as the present, and pieces started a day in them; `null` where the log has no dates.
    pub present_days: Option<u32>,
    pub pieces_a_day: Option<f64>,
    pub pieces_in_30_days: Option<f64>,
    pub tangled_with: Vec<String>,
    /// Share of the factor's variance that is left after lots and other columns; 0 to 1.
    pub kept_share: f64,
    /// `within lots` or `no lots`
    pub scope: String,
    pub candidates: Vec<CandidateResult>,
    /// Candidates that the log never saw.
    pub not_seen: Vec<String>,
    pub adjusted_for: Vec<String>,
    /// The trial that would tell `to` from the present practice.
    pub trial: Option<TrialNeeded>,
    /// The difference that as many pieces show as one student makes in a term.
    pub shown_by_a_student: Option<TrialNeeded>,
    /// Reeds that the model of the rating used, and lots among which they were compared.
    pub used: usize,
    pub lots: usize,
    /// Pieces that the model of good reeds used.
    pub pieces: usize,
    pub left_out: Vec<LeftOut>,
    pub sentence: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Recommendation {
    #[serde(rename = "switch")]
    Switch,
    #[serde(rename = "stay")]
    Stay,
    #[serde(rename = "try it first")]
    TryItFirst,
}

/// A number in the factor's unit, or the name of a kind.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum PracticeValue {
    Number(f64),
    Kind(String),
}

/// One value that a practice could have. Means are standardised over all pieces started.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CandidateResult {
    pub value: PracticeValue,
    /// Whether too few pieces or lots speak for it.
    pub thin: bool,
    pub rating: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub good_per_ten: Option<f64>,
    pub good_low: Option<f64>,
    pub good_high: Option<f64>,
    /// Rating less that at the present practice, with intervals that hold for all candidates together.
    pub difference: Option<f64>,
    pub diff_low: Option<f64>,
    pub diff_high: Option<f64>,
    /// The same for good reeds per ten pieces.
    pub good_difference: Option<f64>,
    pub good_diff_low: Option<f64>,
    pub good_diff_high: Option<f64>,
    /// What is lost on average by choosing it, if it is not the best choice; good reeds per ten pieces.
    pub regret: f64,
    /// What is lost on average against the present practice, where it gives fewer good reeds of ten.
    pub lost: f64,
    /// The chance that it gives more good reeds than the present practice.
    pub p_better: Option<f64>,
    /// Pieces started nearer to it than to any other candidate, and their lots.
    pub pieces: usize,
    pub lots: usize,
    /// For days of forming: how long a piece waits, and how many lie waiting at the present pace.
    pub waiting_days: Option<f64>,
    pub on_the_rack: Option<f64>,
}

/// Two arms in blocks of a lot, found with a power of 80 % at a false-alarm rate of 5 %.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct TrialNeeded {
    /// Pieces to start, those that will be spoiled among them.
    pub pieces: u64,
    /// The difference in rating points that it finds.
    pub difference: f64,
}
