//! The numbers of `life`: the curve, the lots, what went with wearing out, and how many pieces it takes to keep reeds playing.

use schemars::JsonSchema;
use serde::Serialize;

use super::{LeftOut, Verdict};
use crate::catalogue::Stage;

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LifeSection {
    /// `hours` of playing, or `days` from the first playing to the last.
    pub unit: String,
    /// Reeds that were played.
    pub n: usize,
    /// Worn out, or spoiled while playing.
    pub retired: usize,
    /// Of `retired`: spoiled while playing.
    pub spoiled_in_play: usize,
    /// Still in use, lost or given away.
    pub censored: usize,
    /// By when one in four is retired; `null` where that was not reached.
    pub quartile: Option<f64>,
    pub quartile_low: Option<f64>,
    pub quartile_high: Option<f64>,
    /// By when half are retired; `null` where that was not reached.
    pub median: Option<f64>,
    pub median_low: Option<f64>,
    pub median_high: Option<f64>,
    /// The same limits for lots like these and not these alone; `null` with under five lots, or where an end was not reached.
    pub median_other_lots_low: Option<f64>,
    pub median_other_lots_high: Option<f64>,
    /// Mean life with no reed counted beyond `restricted_to`.
    pub restricted_mean: Option<f64>,
    pub restricted_mean_low: Option<f64>,
    pub restricted_mean_high: Option<f64>,
    /// The latest time with three reeds at risk.
    pub restricted_to: Option<f64>,
    /// One step a time at which a reed retired, after a first one at 0.
    pub curve: Vec<LifeStep>,
    pub by_lot: Vec<LotLife>,
    /// Whether lots differ; `null` where they cannot be compared.
    pub lots_differ: Option<LotsDiffer>,
    /// What went with wearing out sooner or later.
    pub hazards: Vec<Hazard>,
    /// Why there are no hazards, where there are none.
    pub not_modelled: Option<String>,
    /// How many pieces it takes to keep good reeds playing; `null` where the log does not say enough.
    pub renewal: Option<Renewal>,
    pub sentence: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct LifeStep {
    pub t: f64,
    /// Share of the reeds that last longer.
    pub s: f64,
    /// 95 % log-log limits, pointwise; `null` before the first end and where the curve is at 0.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Reeds still playing just before.
    pub at_risk: usize,
    pub retired: usize,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LotLife {
    pub lot: String,
    pub n: usize,
    pub retired: usize,
    /// How many would be retired if all lots wore alike; `null` where lots were not compared.
    pub expected: Option<f64>,
    pub median: Option<f64>,
    pub median_low: Option<f64>,
    pub median_high: Option<f64>,
    /// The longest life so far.
    pub longest: f64,
}

/// The log-rank test over lots.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LotsDiffer {
    pub statistic: f64,
    pub df: f64,
    pub p: f64,
    /// How often the lots' names were dealt anew; `null` where the chi-squared distribution was used.
    pub shuffles: Option<usize>,
    pub lots: usize,
    pub sentence: String,
}

/// One factor, or level, against the risk of wearing out.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Hazard {
    pub factor: String,
    pub stage: Stage,
    /// `number` or `choice`
    pub kind: String,
    /// For a choice: the level that is compared with `reference`.
    pub level: Option<String>,
    pub reference: Option<String>,
    pub verdict: Verdict,
    /// Hazard ratio for one `step` (or from `reference` to `level`).
    pub ratio: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub p: Option<f64>,
    /// Benjamini-Hochberg adjusted over the factors screened together.
    pub q: Option<f64>,
    /// `null` where the interval rests on the normal distribution.
    pub df: Option<f64>,
    pub step: Option<f64>,
    pub unit: Option<String>,
    /// `within lots` or `over all reeds`
    pub scope: String,
    /// Test that the ratio is the same early and late in a reed's life.
    pub ph_p: Option<f64>,
    /// The same, Benjamini-Hochberg adjusted over the factors.
    pub ph_q: Option<f64>,
    /// For a choice of more than two levels: the test that none of them differs.
    pub p_levels: Option<f64>,
    pub adjusted_for: Vec<String>,
    pub tangled_with: Vec<String>,
    /// Share of the factor's variance that is left after the other columns; 0 to 1.
    pub kept_share: Option<f64>,
    pub used: usize,
    /// Of `used`, those that were retired.
    pub retired: usize,
    pub left_out: Vec<LeftOut>,
    pub not_modelled: Option<String>,
    pub sentence: String,
}

/// How many pieces must be started to keep good reeds playing.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Renewal {
    /// `pieces a month`, or `pieces for ten hours of playing` where the log has no days.
    pub unit: String,
    /// Good reeds to keep playing; the pace for ten hours of playing does not depend on it.
    pub keep: usize,
    /// `asked for`, `in use at the end of the log` or `taken as three`
    pub keep_from: String,
    /// Days, or hours of playing, that a reed lasts on average.
    pub mean_life: f64,
    pub mean_life_low: f64,
    pub mean_life_high: f64,
    /// Whether reeds last longer than the log could see, so that the pace is more than it takes.
    pub at_most: bool,
    pub share_good: f64,
    /// Pieces of which it is known whether they became good reeds.
    pub share_of: usize,
    pub pace: f64,
    pub pace_low: f64,
    pub pace_high: f64,
    pub sentence: String,
}
