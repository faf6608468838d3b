//! Sentences about cane lots.

use super::digits::{interval_decimals, level, number, percent, plural};
use super::lists::and;
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
            level(pooled),
            plural(lot.rated, "reed", "reeds"),
            number(raw, interval_decimals(pooled))
        ),
        _ => format!("{}: {} rated of {pieces}{lost}.", lot.lot, none_or(lot.rated)),
    }
}

fn none_or(rated: usize) -> String {
    if rated == 0 { "no reed".to_owned() } else { plural(rated, "reed", "reeds") }
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
    if standing.rated_lots < FEWEST_TO_RANK {
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
    let overall = number(standing.overall, 1);
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
        parts.push(format!("{} played better than the average of {overall}", and(better)));
    }
    if !worse.is_empty() {
        parts.push(format!("{} played worse than the average of {overall}", and(worse)));
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
        number(raw_best.raw_mean?, 1),
        plural(raw_best.rated, "reed", "reeds"),
        pooled_best.lot
    ))
}

/// Fewer lots are shown and not ranked.
pub const FEWEST_TO_RANK: usize = 5;

/// What a log with too few lots holds.
pub fn too_few(lots: usize) -> String {
    match lots {
        0 => "No rated reed has a lot.".to_owned(),
        _ => "All rated reeds are of one lot.".to_owned(),
    }
}

/// What these numbers cannot say.
pub const CAVEAT: &str = "A lot that was worked in a better season, or in a better way, looks better than its cane is: \
                          only the players' leniency is taken out.";

/// How the picture is read.
pub const READING: &str = "Every dot is a reed. The filled mark is the lot's pooled mean: thick for the middle half of \
                           what is plausible, thin for 95 %. The open mark is the plain mean of its own reeds; the line \
                           between the two shows how far few reeds are drawn towards the average of all.";

/// The model in words.
pub const MODEL: &str = "A mixed model of the reeds' scores with lots as random intercepts, by restricted maximum \
                         likelihood. The intervals of the pooled means come from draws that hold the uncertainty of \
                         the spread between lots too. A reed's score is the mean of its ratings with each \
                         player's leniency taken out.";

/// What the model takes for granted.
pub fn assumptions() -> Vec<String> {
    vec![
        "Lots differ from their average by normal amounts, and reeds scatter equally in every lot."
            .to_owned(),
        "Spoiled pieces have no rating; they are counted beside the mean, not in it.".to_owned(),
    ]
}

/// Where the methods come from.
pub fn sources() -> Vec<String> {
    vec![
        "Bates, Maechler, Bolker & Walker 2015, J. Statistical Software 67(1).".to_owned(),
        "Henderson 1975, Biometrics 31, 423–447".to_owned(),
        "Gelman 2006, Bayesian Analysis 1, 515–534".to_owned(),
    ]
}

/// The picture in words.
pub fn description(results: &[LotResult]) -> String {
    results.iter().filter(|lot| lot.rated > 0).map(sentence).collect::<Vec<_>>().join(" ")
}
