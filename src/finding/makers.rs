//! The numbers of `makers`: each maker, their practices, and the effects that hold for all or differ.

use schemars::JsonSchema;
use serde::Serialize;

use super::results::Estimated;
use crate::catalogue::Stage;

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MakersSection {
    /// By name.
    pub list: Vec<MakerResult>,
    /// Whether makers can be told from players, so that mean ratings are compared.
    pub means_compared: bool,
    /// Why they are not, where they are not.
    pub means_not_compared: Option<String>,
    /// Test of whether the plain means differ.
    pub p_means: Option<f64>,
    /// Those in which the makers overlap least first.
    pub practices: Vec<PracticeByMaker>,
    /// One a measurement that two makers or more can speak about: those that differ first, then those that hold for all.
    pub effects: Vec<EffectAcrossMakers>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MakerResult {
    pub maker: String,
    /// Pieces started.
    pub pieces: usize,
    /// `null` where the maker's log tells of no piece what became of it.
    pub spoiled: Option<usize>,
    /// Spoiled pieces of ten started, with the exact interval.
    pub spoiled_per_ten: Option<Estimated>,
    /// Reeds rated.
    pub rated: usize,
    /// Good reeds per ten pieces with a known end, with the exact interval; spoiled pieces count as not good.
    pub good_per_ten: Option<Estimated>,
    /// Ratings that the maker gave to reeds of their own; `null` where no player bears the maker's name.
    pub by_own_hand: Option<usize>,
    /// Ratings by anybody, or by nobody named.
    pub ratings: usize,
    /// Mean score with players' leniency taken out; drawn towards the average of the makers where there are five or more. `null` where means are not compared.
    pub mean: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub sentence: String,
}

/// One practice of the making, maker by maker.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PracticeByMaker {
    pub factor: String,
    pub stage: Stage,
    /// `number` or `choice`
    pub kind: String,
    pub unit: Option<String>,
    /// Share of the pieces that two makers have in common, averaged over pairs of makers with at least eight pieces; 0 to 1.
    pub overlap: Option<f64>,
    pub list: Vec<MakerPractice>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MakerPractice {
    pub maker: String,
    /// Pieces with a value.
    pub pieces: usize,
    /// Of a number: the middle value, and between which the middle half lies.
    pub median: Option<f64>,
    pub quarter: Option<f64>,
    pub three_quarters: Option<f64>,
    /// Of a choice: the commonest kind, and its share.
    pub commonest: Option<String>,
    pub share: Option<f64>,
}

/// One measurement's effect within each maker's reeds.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct EffectAcrossMakers {
    pub factor: String,
    pub unit: Option<String>,
    /// The step that all estimates are for, the same for all makers.
    pub step: f64,
    pub verdict: MakersVerdict,
    /// The mean of the makers' effects, weighted by how well each is known.
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    pub p: f64,
    /// Benjamini-Hochberg adjusted over the measurements.
    pub q: f64,
    /// Test of whether the makers' effects differ.
    pub p_differs: f64,
    pub q_differs: f64,
    /// By name; makers with too few reeds to tell are not among them.
    pub list: Vec<MakerEffect>,
    pub sentence: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MakerEffect {
    pub maker: String,
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    pub df: f64,
    /// Reeds it rests on, and their lots; 0 where lots are not compared within.
    pub used: usize,
    pub lots: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
pub enum MakersVerdict {
    /// The makers' effects differ by more than chance gives, all measurements counted.
    #[serde(rename = "differs")]
    Differs,
    /// The common effect stands out, all measurements counted, and no maker's reeds speak against it.
    #[serde(rename = "holds for all")]
    HoldsForAll,
    #[serde(rename = "cannot tell")]
    CannotTell,
}

impl MakersVerdict {
    pub fn word(self) -> &'static str {
        match self {
            MakersVerdict::Differs => "differs",
            MakersVerdict::HoldsForAll => "holds for all",
            MakersVerdict::CannotTell => "cannot tell",
        }
    }
}
