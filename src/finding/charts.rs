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
    /// How many pieces each stage took.
    Losses { stages: Vec<StageShown> },
    /// The chance that trials of growing size find a difference, one curve a difference.
    PowerCurve {
        x_label: String,
        curves: Vec<PowerShown>,
        /// The size that is planned.
        planned: f64,
        /// The chance that was asked for.
        wanted: f64,
    },
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

/// The chance of finding one difference.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerShown {
    /// `0.5 points`
    pub label: String,
    /// Size and chance, sizes rising.
    pub points: Vec<[f64; 2]>,
}
