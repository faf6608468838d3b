//! What a question gives back, before any page is made of it.
//!
//! A [`Finding`] holds the answer in words, the numbers behind it, the tables
//! and the data of the pictures, how it was computed, and what was used and
//! left out. Pages and pictures are drawn from it and from nothing else.

mod blanks;
mod charts;
mod decision;
mod drift;
#[cfg(test)]
pub mod example;
mod families;
mod handout;
mod in_short;
mod life;
mod losses;
mod makers;
mod products;
mod results;
mod since;
mod tables;
mod trial_plan;
mod trial_read;
mod trust;

pub use blanks::{BlankResult, NetBenefit, SortResult, SortVerdict};
pub use charts::{
    BestShown, BlankShown, CandidateShown, Chart, ChartKind, ControlShown, CurveShown, EffectShown,
    FactorLevelShown, FittedPoint, GoodLine, LevelShown, LifePoint, LotLifeShown, LotShown,
    MakerEffectsShown, MapShown, OverlapShown, PlottedPoint, PowerShown, RatioShown, SeriesPoint,
    ShareShown, StageShown,
};
pub use decision::{CandidateResult, DecisionResult, PracticeValue, Recommendation, TrialNeeded};
pub use drift::{
    BasePeriod, BladeWear, ChartSettingsShown, ControlChart, ControlPoint, DriftSection, LotSpread,
    MeasureDrift, NotCharted, SkillTrend, UnmovedSeries,
};
pub use families::{
    FamiliesSection, FamiliesTried, FamilyDifference, FamilyFeature, FamilyLot, FamilyMaker,
    FamilyMember, FamilyResult, ProfileComponent, ProfilePoint, ProfileShape, RatingShown,
};
pub use handout::{Handout, HandoutText};
pub use in_short::InShort;
pub use life::{Hazard, LifeSection, LifeStep, LotLife, LotsDiffer, Renewal};
pub use losses::{
    LossAtStage, LossFactor, LossReason, LossWorth, LossesSection, LostInAll, SparedInAQuarter,
    StageResult, StageWorth,
};
pub use makers::{
    EffectAcrossMakers, MakerEffect, MakerPractice, MakerResult, MakersSection, MakersVerdict,
    PracticeByMaker,
};
pub use products::{FactorFromSums, OutOfLot, ProductsSection, SlopeFromSums};
pub use results::{
    AskedAgain, Between, CriterionEffect, CriterionResult, Estimated, FactorResult, FactorsSection,
    FileSummary, LogSummary, LotResult, LotsSection, MadeBy, Predictive, ProblemShown, RestsOn,
    Results, Section, SettingsShown, Spread, SweetSpot, TrueStep,
};
pub use since::{ChangedAnswer, Since};
pub use tables::{Cell, Table, TableColumn};
pub use trial_plan::{TrialArm, TrialBlock, TrialOfAQuarter, TrialPlanSection, TrialSize};
pub use trial_read::{
    TrialArmResult, TrialComparison, TrialDeviation, TrialLook, TrialReadSection,
};
pub use trust::{
    CrossedReadings, IntraclassShown, MeasureTrust, PairKappa, PeopleWhoRead, PersonLevel,
    PlayerLeniency, PlayersTrust, RatingCeiling, RatingsNeeded, ReadTooSeldom, SamePlayer,
    TrustSection,
};

use schemars::JsonSchema;
use serde::Serialize;

/// An estimate with its 95 % interval. `low <= estimate <= high`, all finite.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Interval {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
}

/// An estimate with its 95 % interval and its 50 % interval, as pictures show it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    pub half_low: f64,
    pub half_high: f64,
}

impl Band {
    pub fn interval(self) -> Interval {
        Interval { estimate: self.estimate, low: self.low, high: self.high }
    }
}

/// What an interval says when it is held against the smallest difference worth having.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// The interval lies wholly beyond the smallest difference worth having.
    Clear,
    /// The interval excludes zero and reaches below the difference worth having.
    Leaning,
    /// The interval lies wholly inside the difference worth having.
    Negligible,
    /// Anything else: the log cannot say.
    Open,
    /// The log cannot separate this factor from something else.
    Tangled,
}

impl Verdict {
    /// Whether the interval excludes zero, all factors counted.
    pub fn stands_out(self) -> bool {
        matches!(self, Verdict::Clear | Verdict::Leaning)
    }

    pub fn word(self) -> &'static str {
        match self {
            Verdict::Clear => "clear",
            Verdict::Leaning => "leaning",
            Verdict::Negligible => "negligible",
            Verdict::Open => "open",
            Verdict::Tangled => "tangled",
        }
    }
}

/// Pieces or reeds that a model did not use, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct LeftOut {
    pub why: String,
    pub n: usize,
}

/// How an answer was computed, for the fold below the evidence.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Method {
    /// The model in words.
    pub model: String,
    /// What it takes for granted.
    pub assumptions: Vec<String>,
    /// Author, year, where.
    pub sources: Vec<String>,
    /// The seed, where chance was used.
    pub seed: Option<u64>,
}

/// The answer to one question.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The question's name in the registry: `lots`.
    pub question: &'static str,
    /// The question in a maker's words: “Which cane lots played well?”
    pub asked: String,
    /// One sentence with a size, a unit and how sure it is.
    pub answer: String,
    /// Further sentences, the most useful first.
    pub more: Vec<String>,
    /// Specific warnings about this answer.
    pub caveats: Vec<String>,
    pub charts: Vec<Chart>,
    pub tables: Vec<Table>,
    pub method: Method,
    /// How many pieces or reeds the answer rests on, and in which word: `(112, "reeds")`.
    pub used: (usize, &'static str),
    pub left_out: Vec<LeftOut>,
    /// The numbers, as they go to `results.json`.
    pub section: Section,
}
