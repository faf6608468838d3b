//! The plan of a trial, as its page, picture and JSON show it.

use schemars::JsonSchema;
use serde::Serialize;

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TrialPlanSection {
    pub factor: String,
    pub unit: Option<String>,
    pub arms: Vec<TrialArm>,
    pub blocks: Vec<TrialBlock>,
    pub pieces: usize,
    /// Rated reeds that the pieces give on average.
    pub reeds_expected: f64,
    /// Standard deviation of reeds within a block, from the log.
    pub sd_within: f64,
    /// As large as the spread may be with one chance in five.
    pub sd_within_high: f64,
    /// Reeds that the spread rests on, less one for each of their lots.
    pub sd_df: usize,
    /// Those reeds, and the lots they come from.
    pub sd_reeds: usize,
    pub sd_lots: usize,
    /// Ratings of a reed of the log on average.
    pub ratings_a_reed: f64,
    /// Pieces started in the last year of the log; `null` where it has no dates.
    pub pieces_in_last_year: Option<usize>,
    /// What a quarter of them would show.
    pub quarter: Option<TrialOfAQuarter>,
    /// Share of pieces spoiled before play; `null` where the log does not tell.
    pub spoilage: Option<f64>,
    /// The smallest difference worth having, in rating points.
    pub worthwhile: f64,
    pub power_wanted: f64,
    /// Chance that a comparison finds a true difference of `worthwhile`.
    pub power: f64,
    /// The same, were the spread as large as `sd_within_high`.
    pub power_if_spread_is_high: f64,
    /// Found with the chance `power_wanted`.
    pub smallest_difference: f64,
    /// Smaller and larger trials.
    pub sizes: Vec<TrialSize>,
    /// Shares of the rated reeds at which the trial may be looked at.
    pub looks: Vec<f64>,
    /// How pieces that are spoiled before play count.
    pub spoiled: String,
    pub made_on: String,
    pub seed: u64,
    /// SHA-256 of the plan file without the line of its checksum.
    pub checksum: String,
    pub sentence: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct TrialArm {
    /// `14 days`
    pub name: String,
    pub value: String,
    /// Whether the others are compared with it.
    pub present: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct TrialBlock {
    pub lot: String,
    pub maker: Option<String>,
    pub pieces: usize,
    /// Pieces of each arm, where they divide evenly.
    pub pieces_an_arm: Option<usize>,
}

/// A trial of as many pieces as the log holds of a quarter of a year.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct TrialOfAQuarter {
    pub pieces: usize,
    /// Found with the chance `power_wanted`.
    pub smallest_difference: f64,
}

/// What a trial of another size would show.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct TrialSize {
    pub pieces: usize,
    pub reeds_expected: f64,
    pub power: f64,
    pub smallest_difference: f64,
}
