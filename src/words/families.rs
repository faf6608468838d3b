//! Sentences about kinds of reeds.

use super::digits::{level_interval, number, plural};
use super::lists::list;
use crate::finding::{FamilyResult, Interval};

/// How far a family's mean lies from the mean of all, in standard deviations of all.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    pub label: String,
    pub deviation: f64,
}

/// The two or three most unusual features: `more scraping time, less hardness`.
pub fn description(features: &[Feature]) -> String {
    let mut ordered: Vec<&Feature> = features.iter().collect();
    ordered.sort_by(|a, b| b.deviation.abs().total_cmp(&a.deviation.abs()));
    let told: Vec<String> = ordered
        .iter()
        .take(3)
        .filter(|feature| feature.deviation.abs() >= 0.3)
        .map(|feature| {
            let side = if feature.deviation > 0.0 { "higher" } else { "lower" };
            format!("{side} {}", feature.label)
        })
        .collect();
    if told.is_empty() { "close to the average in everything".to_owned() } else { list(told) }
}

/// The section's answer.
pub fn answer(families: &[FamilyResult], pieces: usize, features: usize) -> String {
    let basis = format!(
        "{} by {}",
        plural(pieces, "piece", "pieces"),
        plural(features, "measurement", "measurements")
    );
    if families.len() < 2 {
        return format!(
            "Your reeds are one family: no split into kinds stands out from chance ({basis})."
        );
    }
    let kinds = families.iter().map(|family| format!("{} with {}", family.n, family.words));
    format!("Your reeds fall into {} kinds: {} ({basis}).", families.len(), list(kinds))
}

/// One sentence a family.
pub fn sentence(family: &FamilyResult) -> String {
    let rating = match (family.rating.rating, family.rating.low, family.rating.high) {
        (Some(estimate), Some(low), Some(high)) => {
            format!("rated {}", level_interval(Interval { estimate, low, high }))
        }
        _ => "too few rated to say how they play".to_owned(),
    };
    format!("Kind {}: {}, {}; {rating}.", number(family.family as f64), plural(family.n, "piece", "pieces"), family.words)
}

/// Why a difference between kinds is no advice.
pub const CAVEAT: &str = "Nobody assigned the reeds to these kinds: a difference in rating between them may \
                          come from the lot, the season or the hand that made them.";
