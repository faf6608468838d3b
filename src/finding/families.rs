//! The section `families` of `results.json`.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Estimated, Interval};

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FamiliesSection {
    pub k: usize,
    /// How `k` was chosen.
    pub criterion: String,
    /// Share of single clouds of the same shape that are as clustered as the pieces; at most 0.01 where families are looked for.
    pub p_one: f64,
    /// What spoke for which number of families; empty where the pieces are no more clustered than one cloud.
    pub tried: Vec<FamiliesTried>,
    /// The measurements in which the pieces are most clustered, and by which families were looked for.
    pub told_by: Vec<String>,
    /// Bootstrap Jaccard stability of every family, from 0 to 1; empty for one family.
    pub stability: Vec<f64>,
    /// Adjusted Rand index of the families with those of a Gaussian mixture of as many components.
    pub agreement: Option<f64>,
    pub list: Vec<FamilyResult>,
    /// Differences in rating between families, the intervals together at 95 %.
    pub differences: Vec<FamilyDifference>,
    pub assigned: Vec<FamilyMember>,
    /// Pieces on which the number of families was chosen; the others went to the nearest family.
    pub looked_at: usize,
    /// Share of the total variance of the measurements that each principal component explains.
    pub explained: Vec<f64>,
    /// The principal components of the profiles, where most pieces were read.
    pub profile: Option<ProfileShape>,
    pub sentence: String,
}

/// What speaks for one number of families.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FamiliesTried {
    pub k: usize,
    /// Gap statistic against one cloud of the same shape, and its simulation error.
    pub gap: f64,
    pub gap_error: f64,
    /// Mean silhouette; `null` for one family.
    pub silhouette: Option<f64>,
    /// Bayesian criterion of the best Gaussian mixture, smaller is better; `null` where none could be fitted.
    pub bayesian: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FamilyResult {
    pub family: usize,
    pub n: usize,
    pub words: String,
    /// Reeds of it that were rated.
    pub rated: usize,
    #[serde(flatten)]
    pub rating: RatingShown,
    /// What is most unusual in it, held against the pieces of the other families.
    pub features: Vec<FamilyFeature>,
    /// Its commonest lot, where most of the family comes from it.
    pub lot: Option<FamilyLot>,
    /// Its commonest maker, where there are several and most of the family is of this one.
    pub maker: Option<FamilyMaker>,
}

/// The family's mean less that of all other pieces, with the 95 % interval of the difference.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FamilyFeature {
    pub measure: String,
    pub unit: Option<String>,
    pub difference: f64,
    pub low: f64,
    pub high: f64,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FamilyLot {
    pub lot: String,
    /// Pieces of the family from this lot.
    pub n: usize,
    /// Pieces of the family whose lot is known.
    pub of: usize,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FamilyMaker {
    pub maker: String,
    /// Pieces of the family that this maker made.
    pub n: usize,
    /// Pieces of the family whose maker is known.
    pub of: usize,
}

/// How much higher `family` was rated than `against`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct FamilyDifference {
    pub family: usize,
    pub against: usize,
    #[serde(flatten)]
    pub difference: Estimated,
}

/// Mean rating of a family with its interval; `null` where too few are rated.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct RatingShown {
    pub rating: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

impl From<Option<Interval>> for RatingShown {
    fn from(interval: Option<Interval>) -> Self {
        RatingShown {
            rating: interval.map(|interval| interval.estimate),
            low: interval.map(|interval| interval.low),
            high: interval.map(|interval| interval.high),
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FamilyMember {
    pub piece: String,
    pub family: usize,
}

/// Profiles as a mean curve and what departs from it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ProfileShape {
    /// Pieces that were read along all of it.
    pub pieces: usize,
    pub points: Vec<ProfilePoint>,
    pub components: Vec<ProfileComponent>,
}

/// One point of the common grid and the mean thickness there, in mm.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ProfilePoint {
    /// `spine`, `channels` or `rails`
    pub line: String,
    pub from_tip_mm: f64,
    pub mean: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ProfileComponent {
    /// Share of the total variance of the profiles.
    pub explained: f64,
    /// Whether it enters the families as a measurement.
    pub kept: bool,
    /// What one standard deviation of the component adds at each point, in mm.
    pub one_sd: Vec<f64>,
}
