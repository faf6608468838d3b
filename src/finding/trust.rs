//! The numbers of `trust`: how measurements repeat, and how far players agree.

use schemars::JsonSchema;
use serde::Serialize;

use super::results::Estimated;

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TrustSection {
    /// Measurements that were read again on enough pieces.
    pub measures: Vec<MeasureTrust>,
    /// Measurements that were read again on too few pieces.
    pub too_few: Vec<ReadTooSeldom>,
    /// What several players' ratings of the same reeds say; `null` where too few reeds were rated by several.
    pub players: Option<PlayersTrust>,
    /// The same player's ratings of the same reed.
    pub same_player: Option<SamePlayer>,
    /// The largest correlation that anything can have with the reed scores, given the noise of the ratings; 0 to 1.
    pub rating_ceiling: Option<f64>,
    /// The same with what it rests on.
    pub ceiling: Option<RatingCeiling>,
    pub sentence: String,
}

/// How well one measurement repeats.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MeasureTrust {
    pub measure: String,
    pub unit: Option<String>,
    /// Pieces read twice or more; for a profile, points of pieces.
    pub n: usize,
    /// Readings of those.
    pub repeats: usize,
    /// Standard deviation of readings of one piece, whoever read it.
    pub within_sd: f64,
    pub within_low: Option<f64>,
    pub within_high: Option<f64>,
    /// Two readings of one piece differ by less in 95 of 100 pairs.
    pub repeatability: f64,
    pub repeatability_low: Option<f64>,
    pub repeatability_high: Option<f64>,
    /// Share of the variance among readings that is reading error; 0 to 1.
    pub share_of_spread: Option<f64>,
    pub share_of_spread_low: Option<f64>,
    pub share_of_spread_high: Option<f64>,
    /// The rest: what a true effect shrinks to; 0 to 1.
    pub reliability: Option<f64>,
    pub reliability_low: Option<f64>,
    pub reliability_high: Option<f64>,
    /// Where several people read the same pieces.
    pub people: Option<PeopleWhoRead>,
    pub sentence: String,
}

/// What differs from one person who reads to another.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PeopleWhoRead {
    pub people: usize,
    /// Standard deviation of one person's readings of one piece; `null` where nobody read a piece twice.
    pub same_person_sd: Option<f64>,
    /// How much higher than the average of these people each reads, on the same pieces; the tests are counted as many as there are people (Bonferroni).
    pub levels: Vec<PersonLevel>,
    /// Where they are two: how much higher the one who reads higher reads than the other.
    pub difference: Option<Estimated>,
    /// The split of the variance where everybody read the same pieces equally often.
    pub crossed: Option<CrossedReadings>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PersonLevel {
    pub person: String,
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    /// Whether it differs from the average, all people counted.
    pub stands_out: bool,
}

/// Variances, in the squared unit, by the method of moments.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct CrossedReadings {
    pub pieces: usize,
    pub people: usize,
    /// Readings of each piece by each person.
    pub readings: usize,
    /// The same person on the same piece.
    pub repeatability: f64,
    /// Different people on the same piece.
    pub reproducibility: f64,
    pub pieces_variance: f64,
    /// Of the variance that is measuring and not pieces, the share between people.
    pub share_between_people: f64,
    /// Whether people may differ more on some pieces than on others: a variance of its own, or pooled with the repeatability.
    pub interaction_kept: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ReadTooSeldom {
    pub measure: String,
    pub pieces: usize,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PlayersTrust {
    pub players: usize,
    /// Reeds that the intraclass correlation rests on.
    pub reeds: usize,
    /// `two-way` or `one-way`
    pub form: String,
    pub why: String,
    /// Share of the variance of one player's rating, as it stands, that is the reed.
    pub icc_single: Option<f64>,
    /// The same of the mean of as many players as rated a reed.
    pub icc_mean: Option<f64>,
    /// Interval of `icc_single`.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// The same with each player's leniency taken out, as canewright's reed scores do.
    pub consistency: Option<Estimated>,
    /// Every form of the intraclass correlation that these ratings carry.
    pub forms: Vec<IntraclassShown>,
    /// Krippendorff's alpha of the ratings as ordered categories.
    pub alpha: Option<f64>,
    pub alpha_low: Option<f64>,
    pub alpha_high: Option<f64>,
    pub kappa: Vec<PairKappa>,
    pub leniency: Vec<PlayerLeniency>,
    /// Where they are two: how much higher the one who rates higher rates than the other.
    pub difference: Option<Estimated>,
    /// Players whose reeds nobody else rated.
    pub apart: Vec<String>,
    /// Ratings by different players that bring the reed score to a reliability of 0.8.
    pub ratings_needed: Option<RatingsNeeded>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct IntraclassShown {
    /// `ICC(2,1)` in the notation of Shrout & Fleiss 1979.
    pub form: String,
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
}

/// Kappa of two players with quadratic weights.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PairKappa {
    pub players: [String; 2],
    pub reeds: usize,
    pub estimate: f64,
    /// `null` where the two agree on everything, so that no error is seen.
    pub low: Option<f64>,
    pub high: Option<f64>,
}

/// How much higher than the average of the players one rates the same reeds.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PlayerLeniency {
    pub player: String,
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    /// Reeds that this player and another rated.
    pub reeds: usize,
    /// Whether it differs from the average, all players counted.
    pub stands_out: bool,
}

/// `high` is `null` where the data cannot bound it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct RatingsNeeded {
    pub reliability: f64,
    pub estimate: usize,
    pub low: usize,
    pub high: Option<usize>,
}

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SamePlayer {
    /// Reeds rated more than once by the same player, each player apart.
    pub n: usize,
    pub ratings: usize,
    /// Standard deviation of one player's ratings of one reed.
    pub within_sd: f64,
    pub within_low: Option<f64>,
    pub within_high: Option<f64>,
    /// Two ratings of one reed by one player differ by less in 95 of 100 pairs; `null` where they never differed.
    pub repeatability: Option<Estimated>,
    pub reliability: Option<Estimated>,
    /// Mean change a month of 30.44 days on reeds rated on several days: of the rating, the reed's age or both.
    pub change_per_month: Option<Estimated>,
    /// The same on reeds marked as anchors, which are put away unplayed: of the rating alone.
    pub anchors_per_month: Option<Estimated>,
    pub anchors: usize,
    pub sentence: String,
}

/// What the noise of the ratings leaves to anything that foretells them.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RatingCeiling {
    /// Reliability of the reed scores as they were rated.
    pub reliability: Estimated,
    /// The largest correlation: its root.
    pub correlation: Estimated,
    /// The largest share of the scores' variance that can be foretold.
    pub r2: Estimated,
    /// Mean of one over the number of players that rated a reed.
    pub mean_share: f64,
    /// `several players` or `one player rating again`
    pub from: String,
}
