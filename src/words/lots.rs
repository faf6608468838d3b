//! Sentences about cane lots.

use super::digits::{level_interval, number, percent, plural};
use super::lists::list;
use crate::finding::{Interval, LotResult};

/// What one lot showed.
pub fn sentence(lot: &LotResult) -> String {
    let lost = match lot.spoiled {
        0 => String::new(),
        spoiled => format!(", {spoiled} spoiled"),
    };
    let pieces = plural(lot.pieces, "piece", "pieces");
    match (pooled(lot), lot.raw_mean) {
        (Some(pooled), Some(raw)) => format!(
            "{}: {} pooled; {} rated of {pieces}{lost}; their own mean is {}.",
            lot.lot,
            level_interval(pooled),
            plural(lot.rated, "reed", "reeds"),
            number(rounded(raw, 2))
        ),
        _ => format!("{}: {} rated of {pieces}{lost}.", lot.lot, none_or(lot.rated)),
    }
}

fn none_or(rated: usize) -> String {
    if rated == 0 { "no reed".to_owned() } else { plural(rated, "reed", "reeds") }
}

fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals);
    (value * scale).round() / scale
}

fn pooled(lot: &LotResult) -> Option<Interval> {
    Some(Interval { estimate: lot.pooled_mean?, low: lot.low?, high: lot.high? })
}

/// How the lots stand against the average of all lots.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Lots whose whole interval is better than the average, the best first.
    pub better: Vec<String>,
    /// Lots whose whole interval is worse.
    pub worse: Vec<String>,
    pub overall: f64,
    pub icc: f64,
    pub boundary: bool,
    pub rated_lots: usize,
}

/// The section's answer.
pub fn answer(standing: &Standing) -> String {
    if standing.rated_lots < 5 {
        return format!(
            "{} with rated reeds are too few to rank; it takes five. What each showed stands below.",
            super::factors::capitalised(&in_words(standing.rated_lots, "lot", "lots"))
        );
    }
    let share = percent(standing.icc);
    if standing.boundary {
        return format!(
            "The lots cannot be told apart: what differs between the {} is no more than chance among their \
             reeds would give.",
            plural(standing.rated_lots, "rated lot", "rated lots")
        );
    }
    let overall = number(rounded(standing.overall, 1));
    match (standing.better.as_slice(), standing.worse.as_slice()) {
        ([], []) => format!(
            "No lot can be told from the average of {overall}; about {share} of the differences between reeds lie \
             between lots."
        ),
        (better, worse) => format!(
            "{}; about {share} of the differences between reeds lie between lots.",
            super::factors::capitalised(&told_apart(better, worse, &overall))
        ),
    }
}

fn told_apart(better: &[String], worse: &[String], overall: &str) -> String {
    let mut parts = Vec::new();
    if !better.is_empty() {
        parts.push(format!("{} played better than the average of {overall}", list(better.iter().cloned())));
    }
    if !worse.is_empty() {
        parts.push(format!("{} played worse than the average of {overall}", list(worse.iter().cloned())));
    }
    parts.join(", and ")
}

fn in_words(n: usize, one: &str, many: &str) -> String {
    const WORDS: [&str; 5] = ["no", "one", "two", "three", "four"];
    match WORDS.get(n) {
        Some(word) => format!("{word} {}", if n == 1 { one } else { many }),
        None => plural(n, one, many),
    }
}

/// Why the best raw mean is not the best lot, where it is not.
pub fn lucky(raw_best: &LotResult, pooled_best: &LotResult) -> Option<String> {
    if raw_best.lot == pooled_best.lot {
        return None;
    }
    Some(format!(
        "{} has the best plain mean ({}), but over only {}; {} is the better bet, because a mean of few reeds is \
         often luck and is drawn towards the average of all.",
        raw_best.lot,
        number(rounded(raw_best.raw_mean?, 1)),
        plural(raw_best.rated, "reed", "reeds"),
        pooled_best.lot
    ))
}
