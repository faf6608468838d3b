//! The numbers of `drift`: control charts of the making, and whether their signals are more than chance brings.

use schemars::JsonSchema;
use serde::Serialize;

use super::results::Estimated;

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DriftSection {
    pub charts: Vec<ControlChart>,
    /// One entry a series: each measurement of the making, then the reed score.
    pub measures: Vec<MeasureDrift>,
    /// The flags on the series that are not shown to have moved.
    pub unmoved: UnmovedSeries,
    /// Series that could not be charted, and why.
    pub not_charted: Vec<NotCharted>,
    pub skill: Option<SkillTrend>,
    /// Measurements against the pieces made since the blade was sharpened.
    pub wear: Vec<BladeWear>,
    pub settings: ChartSettingsShown,
    pub sentence: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ControlChart {
    pub measure: String,
    /// `individuals`, `ewma`, `cusum up`, `cusum down` or `lot means`
    pub kind: String,
    pub center: f64,
    /// `null` for a sum that has an upper limit only; for an average, what its limits tend to.
    pub lower: Option<f64>,
    pub upper: Option<f64>,
    pub points: Vec<ControlPoint>,
    /// Points with a flag.
    pub signals: usize,
    /// Flags that the same pieces bring in shuffled order, on average; `null` for lot means.
    pub signals_by_chance: Option<f64>,
    pub sentence: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ControlPoint {
    pub date: String,
    pub value: f64,
    /// Which rule the point completes, in words.
    pub flag: Option<String>,
    /// The lot whose mean it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MeasureDrift {
    pub measure: String,
    pub unit: Option<String>,
    /// Pieces with a day and a value.
    pub n: usize,
    /// Pieces behind each point; more than one in large logs.
    pub pieces_a_point: usize,
    /// The first points, from which the limits come.
    pub base: BasePeriod,
    /// Standard deviation from one point to the next.
    pub sigma: f64,
    /// `whole order`, `lots kept together` or `within lots`: what was shuffled.
    pub shuffled: String,
    /// Share of shuffles that move as far: by the reach of their cumulative sum or the slope of a line, both looks counted.
    pub p: f64,
    /// Benjamini-Hochberg adjusted over all series.
    pub q: f64,
    /// Whether the series moves farther than its own pieces in shuffled order, all series counted.
    pub moved: bool,
    /// Flagged points over the three charts, and the same in shuffled order on average.
    pub flagged: usize,
    pub flagged_by_chance: f64,
    /// Mean of the present practice less that of the base period.
    pub change: Option<Estimated>,
    /// Mean of all pieces less the target, where one was given.
    pub off_target: Option<Estimated>,
    pub lots: Option<LotSpread>,
    pub sentence: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct BasePeriod {
    pub points: usize,
    pub from: String,
    pub until: String,
    pub why: String,
}

/// Spread between and within lots.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct LotSpread {
    pub lots: usize,
    pub sd_between: f64,
    /// Share of the variance that lies between lots.
    pub share_between: f64,
    pub sd_within: f64,
    /// Test that the lots have the same mean.
    pub p: f64,
    /// Lot means beyond the limits that the spread within lots allows.
    pub beyond: usize,
}

/// Flags of all these series together, and what chance alone would bring.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct UnmovedSeries {
    pub series: usize,
    pub flagged: usize,
    pub flagged_by_chance: f64,
}

impl UnmovedSeries {
    pub fn of(measures: &[MeasureDrift]) -> UnmovedSeries {
        let unmoved = || measures.iter().filter(|found| !found.moved);
        UnmovedSeries {
            series: unmoved().count(),
            flagged: unmoved().map(|found| found.flagged).sum(),
            flagged_by_chance: unmoved().map(|found| found.flagged_by_chance).sum(),
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct NotCharted {
    pub measure: String,
    pub why: String,
}

/// Whether more or fewer pieces become good reeds as time goes by.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SkillTrend {
    pub pieces: usize,
    pub good: usize,
    /// Days from the first to the last of these pieces.
    pub days: i32,
    /// Odds ratio of a good reed, last day against first.
    pub odds: Estimated,
    /// Fitted good reeds of ten pieces on the first and on the last day.
    pub first_per_ten: f64,
    pub last_per_ten: f64,
    /// `lots as random intercepts` or `Firth's likelihood`
    pub model: String,
    pub sentence: String,
}

/// One measurement against the pieces since sharpening, each sharpening compared with itself.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BladeWear {
    pub measure: String,
    pub unit: Option<String>,
    pub pieces: usize,
    pub sharpenings: usize,
    /// Change for ten more pieces on the same edge.
    pub per_ten_pieces: Estimated,
    pub p: f64,
    /// Benjamini-Hochberg adjusted over the measurements looked at.
    pub q: f64,
    pub sentence: String,
}

/// How the charts were drawn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ChartSettingsShown {
    /// Weight of the newest point in the weighted average, and the width of its limits in standard deviations.
    pub weight: f64,
    pub width: f64,
    /// Slack and decision of the cumulative sums, in standard deviations of a point.
    pub slack: f64,
    pub decision: f64,
    pub shuffles: usize,
}
