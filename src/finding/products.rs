//! The numbers of an answer that starts from sums by lot.

use schemars::JsonSchema;
use serde::Serialize;

/// What a table of reeds that was summed lot by lot says about each of its factors.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ProductsSection {
    /// The column that is foretold.
    pub score: String,
    /// Reeds that the model rests on.
    pub used: usize,
    pub lots: usize,
    /// Standard deviation between lots, the factors taken out.
    pub sd_between: f64,
    /// Standard deviation between reeds of one lot, the factors taken out.
    pub sd_within: f64,
    /// Share of that spread that lies between lots.
    pub icc: f64,
    /// How well reeds of one lot are foretold from the reeds of the others; `null` where the others do not carry all factors.
    pub out_of_lot: Option<OutOfLot>,
    pub list: Vec<FactorFromSums>,
}

/// Errors for reeds of a lot by a line fitted to the other lots.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct OutOfLot {
    /// 0 for a line no better than the mean of the other lots.
    pub r2: f64,
    /// Root mean square error in units of the score.
    pub error: f64,
    /// The same for the mean of the other lots.
    pub error_of_mean: f64,
}

/// One factor, in units of the score for one unit more of it, the other factors held.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FactorFromSums {
    pub factor: String,
    /// Among reeds of the same lot, by the mixed model; `null` where the factor does not vary within lots.
    pub within: Option<SlopeFromSums>,
    /// The same by least squares with errors robust by lot; `null` under three lots that tell of it.
    pub robust: Option<SlopeFromSums>,
    /// From lot to lot, by the mixed model; `null` where lots do not differ in the factor or are too few.
    pub between: Option<SlopeFromSums>,
    /// Of a difference between `within` and `between`.
    pub p_differs: Option<f64>,
    /// Of `within`, adjusted for looking at all factors together.
    pub q: Option<f64>,
    pub sentence: String,
}

/// A slope with its error and its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct SlopeFromSums {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    pub standard_error: f64,
    pub df: f64,
    pub p: f64,
}
