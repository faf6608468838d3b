//! `results.json`: everything that was computed, under keys that others rely on.
//!
//! The JSON Schema that `canewright schema` prints is derived from these types.
//! A number that was not computed is `null`; a section that was not asked is absent.

use schemars::JsonSchema;
use serde::Serialize;

use super::drift::DriftSection;
use super::families::FamiliesSection;
use super::life::LifeSection;
use super::losses::LossesSection;
use super::makers::MakersSection;
use super::{
    BlankResult, DecisionResult, InShort, Interval, LeftOut, ProductsSection, Since, SortResult,
    TrialPlanSection, TrialReadSection, TrustSection, Verdict,
};
use crate::catalogue::Stage;
use crate::problem::{Refusal, Severity};

/// The whole of `results.json`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Results {
    /// Raised whenever a key changes its meaning or goes away.
    pub format: u32,
    pub made_by: MadeBy,
    pub seed: u64,
    pub log: LogSummary,
    pub settings: SettingsShown,
    pub problems: Vec<ProblemShown>,
    /// Questions that this log cannot carry, and what it would take.
    pub refusals: Vec<Refusal>,
    /// What each answer rests on, in the order of the answers.
    pub rests_on: Vec<RestsOn>,
    /// The three to five answers that matter most, where all questions were asked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub in_short: Vec<InShort>,
    /// What has changed since an earlier review, where one was named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub since: Option<Since>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub factors: Option<FactorsSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lots: Option<LotsSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub decide: Option<Vec<DecisionResult>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub losses: Option<LossesSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub life: Option<LifeSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trust: Option<TrustSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drift: Option<DriftSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub families: Option<FamiliesSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub blanks: Option<Vec<BlankResult>>,
    /// How well reeds are foretold from what the unfinished pieces have.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub blanks_foretold: Option<Predictive>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sort: Option<Vec<SortResult>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub makers: Option<MakersSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trial_plan: Option<TrialPlanSection>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trial_read: Option<TrialReadSection>,
}

/// How many pieces or reeds an answer rests on, and what became of the rest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct RestsOn {
    pub question: String,
    pub used: usize,
    /// `reeds`, `pieces` or what else was counted.
    pub of: String,
    pub left_out: Vec<LeftOut>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct MadeBy {
    pub name: String,
    pub version: String,
}

/// What the log holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct LogSummary {
    pub files: Vec<FileSummary>,
    /// Pieces of cane that were started.
    pub pieces: usize,
    /// Pieces with at least one rating that counts.
    pub reeds: usize,
    /// Ratings of the outcome that speak for their reeds.
    pub ratings: usize,
    pub lots: usize,
    /// Rows that were not used.
    pub rows_set_aside: usize,
    /// Rows and single cells that were not used; `set_aside.csv` holds them word for word.
    pub rows_and_cells_set_aside: usize,
    /// ISO 8601 dates of the first and last piece started.
    pub first_day: Option<String>,
    pub last_day: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FileSummary {
    pub name: String,
    pub sha256: String,
    pub rows: usize,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SettingsShown {
    pub title: String,
    pub scale: [f64; 2],
    pub good_at: f64,
    pub worthwhile: f64,
    pub outcome: String,
    /// The ideal, where it lies in the middle of the scale; then `good_at` is the farthest that a good reed may be from it.
    pub target: Option<f64>,
    /// `all`, `last` or `after N ratings`
    pub settled: String,
    /// `high` or `low`
    pub best: String,
    pub window: u32,
    /// Which of the above were found from the data or left at their default.
    pub not_given: Vec<String>,
}

/// One problem as it stands in `results.json`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ProblemShown {
    pub code: String,
    pub severity: Severity,
    pub file: String,
    pub line: Option<u64>,
    pub column: Option<String>,
    pub text: String,
    pub message: String,
}

/// The numbers of one question.
#[derive(Debug, Clone, PartialEq)]
pub enum Section {
    Factors(FactorsSection),
    Lots(LotsSection),
    Decide(Vec<DecisionResult>),
    Losses(LossesSection),
    Life(LifeSection),
    Trust(TrustSection),
    Drift(DriftSection),
    Families(FamiliesSection),
    /// The pieces, and how well reeds are foretold from what these pieces have.
    Blanks(Vec<BlankResult>, Option<Predictive>),
    Sort(Vec<SortResult>),
    Makers(MakersSection),
    TrialPlan(TrialPlanSection),
    TrialRead(TrialReadSection),
    /// An answer that starts from sums by lot; it is part of no `results.json`.
    Products(ProductsSection),
    /// The soundness of the log stands in `log`, `settings` and `problems`.
    Check,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FactorsSection {
    /// Whether the measurements say anything about reeds of a lot that the model has not seen.
    pub predictive: Option<Predictive>,
    pub list: Vec<FactorResult>,
    /// The same screen for every further criterion of the ratings.
    pub criteria: Vec<CriterionResult>,
}

/// How well reeds of one lot are foretold from the reeds of the others.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Predictive {
    /// Share of the variance foretold; below 0 where the average foretells better.
    pub r2_out_of_lot: f64,
    /// Mean absolute error of the measurements, in rating points.
    pub mae_out_of_lot: f64,
    /// The same where each lot is foretold by the pooled mean of its own other reeds.
    pub mae_lot_means: Option<f64>,
    /// The same where every reed is foretold by the average.
    pub mae_nothing: f64,
    /// Permutation test of "the measurements foretell nothing".
    pub p: f64,
    pub used: usize,
    pub sentence: String,
}

/// The factors held against one criterion.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CriterionResult {
    pub criterion: String,
    /// The ideal, where it lies in the middle of the scale; then the distance from it is what is modelled.
    pub target: Option<f64>,
    pub list: Vec<CriterionEffect>,
}

/// One factor, or level, against one criterion.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CriterionEffect {
    pub factor: String,
    pub level: Option<String>,
    /// For a choice: the level that `level` is compared with.
    pub reference: Option<String>,
    /// For a number: the step that the estimate is for, the same as in `factors.list`.
    pub step: Option<f64>,
    pub verdict: Verdict,
    pub estimate: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub p: Option<f64>,
    /// Adjusted over all factors and criteria together.
    pub q: Option<f64>,
    pub used: usize,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FactorResult {
    pub factor: String,
    pub stage: Stage,
    /// `number` or `choice`
    pub kind: String,
    /// For a choice: the level that is compared with `reference`.
    pub level: Option<String>,
    pub verdict: Verdict,
    /// Change of the rating for one `step` (or from `reference` to `level`).
    pub estimate: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub p: Option<f64>,
    /// Benjamini-Hochberg adjusted over the factors screened together.
    pub q: Option<f64>,
    pub df: Option<f64>,
    pub step: Option<f64>,
    pub unit: Option<String>,
    /// `within lots`, `between lots` or `no lots`
    pub scope: String,
    pub between: Option<Between>,
    /// For a choice of more than two levels: the test that none of them differs.
    pub p_levels: Option<f64>,
    pub sweet_spot: Option<SweetSpot>,
    /// Where a curve is worst in the middle of the data, in the factor's unit; `null` for all others.
    pub worst_at: Option<f64>,
    /// Change in good reeds per ten pieces started for one `step`; spoiled pieces count as not good.
    pub good_per_ten: Option<Estimated>,
    /// Change in pieces spoiled before the first note, in ten that got as far as the factor, for one `step`.
    pub spoilage: Option<Estimated>,
    pub reference: Option<String>,
    pub adjusted_for: Vec<String>,
    pub tangled_with: Vec<String>,
    /// Share of the factor's variance that is left after the other columns; 0 to 1.
    pub kept_share: Option<f64>,
    /// The effect for one true step, where repeat readings tell how well the factor is read.
    pub true_step: Option<TrueStep>,
    /// How the spread of the reeds changes, whatever their mean does.
    pub spread: Option<Spread>,
    /// The same question asked in other ways.
    pub asked_again: AskedAgain,
    /// How often the factor is kept when the choice is made on half of the lots; 0 to 1.
    pub stability: Option<f64>,
    /// Reeds the model used.
    pub used: usize,
    pub left_out: Vec<LeftOut>,
    /// Why there is no estimate, where there is none.
    pub not_modelled: Option<String>,
    pub sentence: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Between {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    /// Test of whether the between-lot and the within-lot effect differ.
    pub p_differs: Option<f64>,
}

/// An estimate with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Estimated {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
}

/// A best value inside the range of the data.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SweetSpot {
    /// In the factor's unit.
    pub at: f64,
    /// `null` where that side has no end.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Test of the bend against the straight line.
    pub p_bend: f64,
    /// Benjamini-Hochberg adjusted over all bends looked for.
    pub q_bend: Option<f64>,
    /// Whether the data cannot close the interval.
    pub unbounded: bool,
    /// The best value by the spline, with the middle 95 % of draws.
    pub spline: Option<Estimated>,
    /// Of the ends of the middle four fifths of the reeds the one that is further away in rating, in the factor's unit.
    pub far_end: f64,
    /// How the rating moves from the best value to that end.
    pub change_to_far_end: Interval,
}

/// An effect corrected for the error of the readings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct TrueStep {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    /// Share of the variance among readings that is no reading error; 0 to 1.
    pub reliability: f64,
    /// Pieces read twice or more, by which the error is known.
    pub pieces: usize,
}

/// Ratio of the reeds' standard deviation for one step, or from `reference` to `level`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Spread {
    pub ratio: f64,
    pub low: f64,
    pub high: f64,
    pub p: f64,
    /// Benjamini-Hochberg adjusted over all spreads looked at.
    pub q: Option<f64>,
}

/// Answers of other models to the same question; `null` where one could not be fitted.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct AskedAgain {
    /// Log odds of a higher category for one step, ratings taken as ordered categories.
    pub ordered: Option<Estimated>,
    /// Log odds of a good reed for one step, over all pieces started and finished.
    pub good: Option<Estimated>,
    /// Odds ratio of being spoiled before the first note for one step.
    pub spoiled: Option<Estimated>,
    /// The effect with the empty cells of the columns adjusted for filled in twenty ways.
    pub imputed: Option<Estimated>,
    /// Share of the cells that were filled in.
    pub imputed_share: Option<f64>,
    /// What a reader must know where the answers do not agree.
    pub differs: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LotsSection {
    /// The average of the lots.
    pub overall: Option<f64>,
    /// Share of the differences between reeds that lies between lots.
    pub share_between: Option<Estimated>,
    pub sd_between: Option<f64>,
    pub sd_within: Option<f64>,
    pub icc: Option<f64>,
    /// Test of whether the lots' reeds are equally even (Brown & Forsythe 1974).
    pub p_spread: Option<f64>,
    pub list: Vec<LotResult>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LotResult {
    pub lot: String,
    /// Pieces started.
    pub pieces: usize,
    pub spoiled: usize,
    /// Reeds rated.
    pub rated: usize,
    pub raw_mean: Option<f64>,
    pub pooled_mean: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// The pooled mean with the making taken out, where it was asked for.
    pub adjusted: Option<Estimated>,
    /// Good reeds per ten pieces started, drawn towards the average of the lots.
    pub good_per_ten: Option<f64>,
    pub good_low: Option<f64>,
    pub good_high: Option<f64>,
    /// Price of the pieces that one good reed takes, in the money of the log.
    pub cost_per_good: Option<f64>,
    /// Chance of being the best of the lots shown.
    pub p_best: Option<f64>,
    /// Chance of beating the average of the lots by the smallest difference worth having.
    pub p_above: Option<f64>,
    /// Standard deviation of the lot's reeds about their mean.
    pub spread: Option<f64>,
    /// `buy again`, `avoid` or `keep trying`; `null` where lots are not ranked.
    pub advice: Option<String>,
    pub sentence: String,
}
