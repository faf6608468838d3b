//! The numbers of `losses`: the stages, what went with losing a piece, and what lost pieces took.

use schemars::JsonSchema;
use serde::Serialize;

use super::results::{Between, Estimated};
use super::{LeftOut, Verdict};
use crate::catalogue::Stage;

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LossesSection {
    pub overall: LostInAll,
    pub stages: Vec<StageResult>,
    /// What went with pieces being lost before their first note.
    pub factors: Vec<LossFactor>,
    /// Why there are no factors, where there are none.
    pub not_modelled: Option<String>,
    /// What the lost pieces took, where prices or minutes are known.
    pub worth: Option<LossWorth>,
}

/// Pieces spoiled at whatever stage, of all that were started.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct LostInAll {
    pub pieces: usize,
    pub lost: usize,
    pub share: f64,
    pub low: f64,
    pub high: f64,
}

/// One factor, or level, against the odds of losing a piece at the factor's stage or later, before the first note.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LossFactor {
    pub factor: String,
    pub stage: Stage,
    /// `number` or `choice`
    pub kind: String,
    /// For a choice: the level that is compared with `reference`.
    pub level: Option<String>,
    pub verdict: Verdict,
    /// Odds ratio of a loss for one `step` (or from `reference` to `level`).
    pub estimate: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub p: Option<f64>,
    /// Benjamini-Hochberg adjusted over the factors screened together.
    pub q: Option<f64>,
    /// `null` where the interval rests on the normal distribution or on the likelihood.
    pub df: Option<f64>,
    pub step: Option<f64>,
    pub unit: Option<String>,
    /// `within lots`, `between lots` or `no lots`
    pub scope: String,
    /// Odds ratio of the mean of the lot.
    pub between: Option<Between>,
    /// For a choice of more than two levels: the test that none of them differs.
    pub p_levels: Option<f64>,
    /// Change in lost pieces, in ten that got as far as the factor, for one `step`.
    pub lost_per_ten: Option<Estimated>,
    pub reference: Option<String>,
    pub adjusted_for: Vec<String>,
    pub tangled_with: Vec<String>,
    /// Share of the factor's variance that is left after the other columns; 0 to 1.
    pub kept_share: Option<f64>,
    /// The same at each stage that lost at least ten pieces.
    pub by_stage: Vec<LossAtStage>,
    /// Pieces the model used, and how many of them were lost.
    pub used: usize,
    pub lost: usize,
    pub left_out: Vec<LeftOut>,
    /// Why there is no estimate, where there is none.
    pub not_modelled: Option<String>,
    pub sentence: String,
}

/// One factor against being lost at one stage, over the pieces that came to it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LossAtStage {
    pub stage: Stage,
    /// Pieces the model used, and how many of them were lost there.
    pub used: usize,
    pub lost: usize,
    /// Odds ratio for one `step`.
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    pub p: f64,
}

/// What the spoiled pieces took; prices in the money of the log.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LossWorth {
    pub lost: usize,
    /// Lost pieces whose lot has a price, and what their cane cost.
    pub priced: usize,
    pub cane: Option<f64>,
    /// Pieces that became good reeds, and the cane lost for each of them.
    pub good: usize,
    pub cane_per_good: Option<f64>,
    /// Lost pieces with minutes of scraping in the log, and their sum.
    pub timed: usize,
    pub minutes: Option<f64>,
    pub by_stage: Vec<StageWorth>,
    pub quarter: Option<SparedInAQuarter>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct StageWorth {
    /// `null` where the log does not say at which stage.
    pub stage: Option<Stage>,
    pub lost: usize,
    pub priced: usize,
    pub cane: Option<f64>,
    pub timed: usize,
    pub minutes: Option<f64>,
}

/// What one lost piece fewer in ten would spare in 91 days at the present making rate.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SparedInAQuarter {
    /// Pieces started in the last `days` days of the log.
    pub started: usize,
    pub days: usize,
    pub pieces: f64,
    /// At the mean price of the pieces started in those days.
    pub cane: Option<f64>,
    /// At the mean minutes of a lost piece.
    pub minutes: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct StageResult {
    pub stage: Stage,
    pub entered: usize,
    pub lost: usize,
    pub share: f64,
    pub low: f64,
    pub high: f64,
    pub by: Vec<LossReason>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct LossReason {
    pub reason: String,
    pub n: usize,
}
