//! The data of every picture. A picture draws what stands here and computes
//! nothing: curves arrive fitted, crowds arrive counted.

use super::{Band, Interval, Verdict};

/// One picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// File stem under `plots/`: `factor_forming_days`.
    pub name: String,
    pub title: String,
    /// What the picture shows, in a sentence for those who do not see it.
    pub description: String,
    /// How to read it, in a sentence or two.
    pub reading: String,
    pub kind: ChartKind,
}

/// The rating from which on a reed is good.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GoodLine {
    pub at: f64,
    /// Whether reeds below it are the good ones.
    pub lower_is_better: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub enum ChartKind {
    /// One row a factor, within lots and between lots.
    Effects {
        rows: Vec<EffectShown>,
        /// The smallest difference worth having, drawn as a band around zero.
        worthwhile: f64,
        /// `rating points`
        unit: String,
    },
    /// A numeric factor against the rating.
    FactorNumber {
        x_label: String,
        y_label: String,
        points: Vec<PlottedPoint>,
        curve: Vec<FittedPoint>,
        /// The best value, where the curve has one in the middle.
        best: Option<BestShown>,
        good_at: Option<GoodLine>,
        /// The whole scale, so that a small difference does not look large.
        y_range: [f64; 2],
    },
    /// A choice against the rating.
    FactorChoice {
        y_label: String,
        levels: Vec<FactorLevelShown>,
        good_at: Option<GoodLine>,
        y_range: [f64; 2],
    },
    /// What reeds were foretold to be against what they were rated.
    Foretold {
        x_label: String,
        y_label: String,
        points: Vec<PlottedPoint>,
        /// The mean of all reeds.
        average: f64,
        good_at: Option<GoodLine>,
    },
    /// Shares from none to all, the largest first.
    Shares { shares: Vec<ShareShown>, x_label: String },
    /// Lots, sorted by the pooled mean, the best first.
    Lots {
        lots: Vec<LotShown>,
        overall: f64,
        good_at: Option<GoodLine>,
        y_label: String,
        range: [f64; 2],
    },
    /// How many reeds of each lot lie in each part of a practice's range.
    Overlap {
        /// `time on the forming pin, days`
        label: String,
        /// Each part in at most two short lines.
        parts: Vec<[String; 2]>,
        lots: Vec<OverlapShown>,
        /// Lots that are not shown.
        more: usize,
    },
    /// What each value of a practice gives: the rating above, good reeds of ten pieces below.
    Decision {
        x_label: String,
        y_label: String,
        candidates: Vec<CandidateShown>,
        /// The rated reeds; for a choice, `x` is the place of the candidate.
        reeds: Vec<PlottedPoint>,
        good_at: Option<GoodLine>,
        y_range: [f64; 2],
    },
    /// Unfinished pieces, the most promising first: the rating to expect, thin for nine of ten and thick for half.
    Blanks { blanks: Vec<BlankShown>, good_at: Option<GoodLine>, y_label: String, range: [f64; 2] },
    /// Pieces by one measurement (`y` is 1 for a good reed and 0 for none), the share of good reeds, what is kept, and the judged gain of ten pieces.
    Sorted {
        x_label: String,
        pieces: Vec<PlottedPoint>,
        shares: Vec<FittedPoint>,
        keep: [Option<f64>; 2],
        gain: Interval,
        worthwhile: f64,
    },
    /// One block a measurement, one row in it a maker, about zero.
    MakerEffects {
        rows: Vec<MakerEffectsShown>,
        /// Measurements that are not shown.
        more: usize,
        /// The smallest difference worth having, drawn as a band around zero.
        worthwhile: f64,
        /// `rating points`
        unit: String,
    },
    /// How many pieces each stage took.
    Losses { stages: Vec<StageShown> },
    /// The share of reeds that last longer than a time.
    Life {
        x_label: String,
        /// One point a step, the first at 0 with share 1.
        points: Vec<LifePoint>,
        /// The longest time watched; the curve runs on to it.
        until: f64,
        /// Where reeds stood that had not ended, and the curve's height there.
        going: Vec<[f64; 2]>,
        /// How many reeds were still played at round times.
        at_risk: Vec<(f64, usize)>,
        /// By when half had ended, with its interval; a side that was not reached is none.
        median: Option<BestShown>,
    },
    /// One row a lot: each reed's life, and by when half of them had ended.
    LifeLots { x_label: String, rows: Vec<LotLifeShown>, until: f64 },
    /// One row a factor: how many times as high a risk was.
    Ratios {
        x_label: String,
        rows: Vec<RatioShown>,
        /// Ratios up to this, and down to its inverse, are too small to matter.
        worthwhile: f64,
    },
    /// The chance that trials of growing size find a difference, one curve a difference.
    PowerCurve {
        x_label: String,
        curves: Vec<PowerShown>,
        /// The size that is planned.
        planned: f64,
        /// The chance that was asked for.
        wanted: f64,
    },
    /// Two readings or ratings of the same thing against each other.
    Pairs {
        x_label: String,
        y_label: String,
        points: Vec<PlottedPoint>,
        /// How far from the line of equals 95 of 100 pairs lie, drawn as a band.
        apart: Option<f64>,
        /// At least this range is shown.
        range: Option<[f64; 2]>,
    },
    /// One row each with an estimate and its interval, about zero.
    Levels { rows: Vec<LevelShown>, x_label: String },
    /// A measurement over time with its limits.
    Control(ControlShown),
    /// Pieces on the two components along which they differ most, each with the mark of its family.
    Map { x_label: String, y_label: String, families: Vec<MapShown> },
    /// Curves of thickness along the blade, one a family.
    Curves { x_label: String, y_label: String, curves: Vec<CurveShown> },
}

#[derive(Debug, Clone, PartialEq)]
pub struct EffectShown {
    pub label: String,
    /// `+1 day`, `crosshatch instead of none`
    pub step: String,
    pub within: Option<Band>,
    pub between: Option<Interval>,
    pub verdict: Verdict,
}

/// One measurement's effect, maker by maker.
#[derive(Debug, Clone, PartialEq)]
pub struct MakerEffectsShown {
    pub label: String,
    /// `+1 day`
    pub step: String,
    /// `holds for all`
    pub verdict: String,
    /// All makers together.
    pub all: Interval,
    pub makers: Vec<(String, Interval)>,
    /// Makers that are not shown.
    pub more: usize,
}

/// One estimate about zero.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelShown {
    pub label: String,
    pub level: Interval,
    /// Reeds that it rests on.
    pub n: usize,
}

/// One series on its control chart; `x` counts days.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlShown {
    pub y_label: String,
    pub points: Vec<SeriesPoint>,
    /// Day and value of the weighted average.
    pub average: Vec<[f64; 2]>,
    pub centre: f64,
    pub lower: f64,
    pub upper: f64,
    /// First and last day of the base period.
    pub base: [f64; 2],
    /// Days that are named on the axis.
    pub dates: Vec<(f64, String)>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesPoint {
    pub x: f64,
    pub y: f64,
    pub is_flagged: bool,
}

/// A share between 0 and 1.
#[derive(Debug, Clone, PartialEq)]
pub struct ShareShown {
    pub label: String,
    pub share: f64,
}

/// One reed, or a count of reeds where there are over 2,000.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlottedPoint {
    pub x: f64,
    pub y: f64,
    pub reeds: usize,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedPoint {
    pub x: f64,
    pub fit: f64,
    pub low: f64,
    pub high: f64,
}

/// A best value with its 95 % interval; a side without an end is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BestShown {
    pub at: f64,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

/// One value that a practice could have.
#[derive(Debug, Clone, PartialEq)]
pub struct CandidateShown {
    /// `28`, `crosshatch`
    pub label: String,
    /// Its value, or for a choice its place.
    pub x: f64,
    pub rating: Option<Interval>,
    pub good_per_ten: Option<Interval>,
    pub is_present: bool,
    /// Whether too few pieces or lots speak for it.
    pub is_thin: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub struct FactorLevelShown {
    pub level: String,
    pub reeds: Vec<f64>,
    pub mean: Option<Band>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct LotShown {
    pub lot: String,
    pub raw_mean: Option<f64>,
    pub pooled: Band,
    /// Each reed's score.
    pub reeds: Vec<f64>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OverlapShown {
    pub lot: String,
    /// Rated reeds, one count a part.
    pub reeds: Vec<usize>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct StageShown {
    pub stage: String,
    pub entered: usize,
    pub lost: usize,
    /// Share lost of those that entered, with the exact interval.
    pub share: Interval,
    /// Reasons and counts, the commonest first.
    pub reasons: Vec<(String, usize)>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct BlankShown {
    pub piece: String,
    /// `55 %`
    pub beside: String,
    pub rating: Band,
}

#[derive(Debug, Clone, PartialEq)]
pub struct CurveShown {
    pub label: String,
    /// Points in order of `x`; `low` and `high` hold the middle half of the curves.
    pub points: Vec<FittedPoint>,
}

/// The share that lasts longer than `t`, with its 95 % limits where they are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LifePoint {
    pub t: f64,
    pub share: f64,
    pub band: Option<[f64; 2]>,
}

/// The lives of one lot's reeds.
#[derive(Debug, Clone, PartialEq)]
pub struct LotLifeShown {
    pub lot: String,
    /// `9 of 14 ended, half by 18 h`
    pub told: String,
    /// By when half had ended; none where that was not reached.
    pub median: Option<BestShown>,
    pub ended: Vec<f64>,
    pub going: Vec<f64>,
}

/// A ratio with its intervals, as written and as its logarithm stands on the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct RatioShown {
    pub label: String,
    /// `+1 day`, `crosshatch, not none`
    pub step: String,
    pub ratio: Interval,
    pub logarithm: Band,
    pub verdict: Verdict,
}

/// The pieces of one family on the map.
#[derive(Debug, Clone, PartialEq)]
pub struct MapShown {
    pub label: String,
    pub points: Vec<[f64; 2]>,
    /// Where its middle lies.
    pub middle: [f64; 2],
}

/// The chance of finding one difference.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerShown {
    /// `0.5 points`
    pub label: String,
    /// Size and chance, sizes rising.
    pub points: Vec<[f64; 2]>,
}
