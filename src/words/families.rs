//! Sentences about kinds of reeds.

use super::digits::{level, plural};
use super::lists::and;
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
    if told.is_empty() { "close to the average in everything".to_owned() } else { and(&told) }
}

/// The section's answer.
///
/// `looked_at` is the number of kinds that was found before their stability was asked for.
pub fn answer(
    families: &[FamilyResult],
    looked_at: usize,
    pieces: usize,
    features: usize,
) -> String {
    let basis = format!(
        "{} by {}",
        plural(pieces, "piece", "pieces"),
        plural(features, "measurement", "measurements")
    );
    if families.len() < 2 && looked_at > 1 {
        return format!(
            "Treat your reeds as one family: a split into {looked_at} kinds was found, but it falls apart when the \
             pieces are drawn again ({basis})."
        );
    }
    if families.len() < 2 {
        return format!(
            "Your reeds are one family: no split into kinds stands out from chance ({basis})."
        );
    }
    let kinds = families.iter().map(|family| format!("{} with {}", family.n, family.words));
    format!(
        "Your reeds fall into {} kinds: {} ({basis}).",
        families.len(),
        and(&kinds.collect::<Vec<_>>())
    )
}

/// One sentence a family.
pub fn sentence(family: &FamilyResult) -> String {
    let rating = match (family.rating.rating, family.rating.low, family.rating.high) {
        (Some(estimate), Some(low), Some(high)) => {
            format!("rated {}", level(Interval { estimate, low, high }))
        }
        _ => "too few rated to say how they play".to_owned(),
    };
    format!(
        "Kind {}: {}, {}; {rating}.",
        family.family,
        plural(family.n, "piece", "pieces"),
        family.words
    )
}

/// Why a difference between kinds is no advice.
pub const CAVEAT: &str = "Nobody assigned the reeds to these kinds: a difference in rating between them may \
                          come from the lot, the season or the hand that made them.";

/// How the number of families was chosen.
pub const CRITERION: &str =
    "gap statistic, smallest number within one standard error, all families stable";

/// What a log with too few measurements holds.
pub fn too_few_measurements(unplaced: usize) -> String {
    let ignored = match unplaced {
        0 => String::new(),
        1 => "; one column of numbers has no stage of the making and does not count".to_owned(),
        more => format!("; {more} columns of numbers have no stage of the making and do not count"),
    };
    format!(
        "The log has fewer than two measurements that most pieces have and that differ{ignored}."
    )
}

/// What a log with too few whole pieces holds.
pub fn too_few(pieces: usize) -> String {
    match pieces {
        0 => "No piece has all of the measurements.".to_owned(),
        1 => "Only one piece has all of the measurements.".to_owned(),
        _ => format!("Only {pieces} pieces have all of the measurements."),
    }
}

/// The method in words.
pub fn model(measurements: &[String]) -> String {
    format!(
        "k-means on {}, each scaled to a standard deviation of one; the number of kinds by the gap statistic, and a kind \
         is believed when bootstrap resamples find it again (Jaccard similarity of 0.6 or more).",
        and(measurements)
    )
}

/// What the method takes for granted.
pub fn assumptions() -> Vec<String> {
    vec![
        "Kinds are round clouds of about equal spread.".to_owned(),
        "Pieces with an empty cell are left out.".to_owned(),
        "The range of a kind's rating takes reeds as independent of each other, also within a lot."
            .to_owned(),
    ]
}

/// Where the methods come from.
pub fn sources() -> Vec<String> {
    vec![
        "Tibshirani, Walther & Hastie 2001, JRSS B 63, 411–423".to_owned(),
        "Hennig 2007, Computational Statistics & Data Analysis 52, 258–271".to_owned(),
    ]
}
