//! What a trial said, as it stands in the results.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Interval, Verdict};

/// The reading of one trial.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TrialReadSection {
    pub title: String,
    pub factor: String,
    /// Day on which the plan was made.
    pub made_on: String,
    /// Whether the plan file is word for word what was written.
    pub plan_unchanged: bool,
    /// Whether the seed still gives the key that the plan was sealed with.
    pub key_holds: bool,
    /// Pieces of the plan.
    pub planned: usize,
    /// Of them, pieces that are in the log.
    pub made: usize,
    /// Reeds with a mark, spoiled pieces included where the plan gives them the worst mark.
    pub rated: usize,
    pub spoiled: usize,
    /// Pieces whose mark is still to come.
    pub open: usize,
    /// Share of the expected marks that is there; 1 when none is to come.
    pub information: f64,
    /// Marks that the trial gives in all, as far as is known by now.
    pub marks_expected: f64,
    /// The smallest difference worth having, in rating points, as planned.
    pub worthwhile: f64,
    /// Marks that are compared, and the lots they come from.
    pub marks_compared: usize,
    pub lots_compared: usize,
    /// Marks that no comparison uses, because their lots hold no reed of the arm that the others are compared with.
    pub marks_apart: usize,
    /// Pieces in the log of which it does not say how they were made.
    pub made_unknown: usize,
    /// Pieces of the trial's lots, started since the plan, that carry no label of it.
    pub unlabelled: usize,
    pub look: TrialLook,
    pub arms: Vec<TrialArmResult>,
    /// Each arm with the present practice, as allocated.
    pub comparisons: Vec<TrialComparison>,
    pub deviations: Vec<TrialDeviation>,
    pub sentence: String,
}

/// What reading at this point allows.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TrialLook {
    /// Number of this look, counting those that the plan puts before it.
    pub number: usize,
    /// Looks that the plan allows.
    pub planned: usize,
    /// Whether marks are still to come.
    pub early: bool,
    /// Whether the plan allows a look at about this point.
    pub foreseen: bool,
    /// The two-sided p value at or below which this look may end the trial.
    pub nominal_level: f64,
    /// Whether a comparison reached it.
    pub reached: bool,
    /// Chance of a false alarm of reading now and again at the end, where the plan allows no look.
    pub false_alarm: Option<f64>,
}

/// One arm.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TrialArmResult {
    pub arm: String,
    pub present: bool,
    pub pieces: usize,
    pub spoiled: usize,
    pub rated: usize,
    /// Mean of its marks as they are.
    pub raw_mean: Option<f64>,
    /// Mean mark over the blocks as the model sees them.
    pub mean: Option<Interval>,
    /// Good reeds of ten pieces whose outcome is known.
    pub good_per_ten: Option<Interval>,
}

/// One arm against the present practice.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TrialComparison {
    pub arm: String,
    pub instead_of: String,
    /// Difference of the mean marks; the interval holds at this look and for all arms together. An end that is infinite is null.
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    pub standard_error: f64,
    pub df: f64,
    pub p: f64,
    pub verdict: Verdict,
    /// The same by what was made, where that is another thing than what was allocated.
    pub as_made: Option<Interval>,
    /// Estimate and interval that allow for the looks before.
    pub after_looks: Option<Interval>,
    /// Difference in good reeds of ten pieces, of the counts as they are.
    pub good_per_ten: Option<Interval>,
    /// The same over the blocks, by logistic regression.
    pub good_per_ten_over_blocks: Option<Interval>,
    pub sentence: String,
}

/// One piece that was not treated as planned.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct TrialDeviation {
    pub label: String,
    /// `made otherwise`, `another lot`, ...
    pub what: String,
    pub planned: String,
    pub found: String,
}
