//! Sentences about cane lots.

use super::digits::{interval_decimals, level, number, percent, plural};
use super::lists::{few, name};
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
            "Lot {}: {} pooled; {} rated of {pieces}{lost}; their own mean is {}.",
            name(&lot.lot),
            level(pooled),
            plural(lot.rated, "reed", "reeds"),
            number(raw, interval_decimals(pooled))
        ),
        _ => format!("Lot {}: {} rated of {pieces}{lost}.", name(&lot.lot), none_or(lot.rated)),
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
    /// Share of the differences between reeds that lies between lots.
    pub share_between: Interval,
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
    if standing.boundary {
        return format!(
            "The lots cannot be told apart: what differs between the {} is no more than chance among their reeds would \
             give.",
            plural(standing.rated_lots, "rated lot", "rated lots")
        );
    }
    let share = share_between(standing.share_between);
    let overall = number(standing.overall, 1);
    match (standing.better.as_slice(), standing.worse.as_slice()) {
        ([], []) => format!("No lot can be told from the average of {overall}; {share}."),
        (better, worse) => format!("{}; {share}.", told_apart(better, worse, &overall)),
    }
}

/// `8 % (0 % to 40 %) of the differences between reeds lie between lots`
fn share_between(share: Interval) -> String {
    format!(
        "{} ({} to {}) of the differences between reeds lie between lots",
        percent(share.estimate),
        percent(share.low),
        percent(share.high)
    )
}

fn told_apart(better: &[String], worse: &[String], overall: &str) -> String {
    let side = |lots: &[String], word: &str| {
        format!("{} played {word} than the average of {overall}", named(lots, "Lot"))
    };
    match (better, worse) {
        (better, []) => side(better, "better"),
        ([], worse) => side(worse, "worse"),
        (better, worse) => {
            format!("{}, and {} played worse", side(better, "better"), named(worse, "lot"))
        }
    }
}

/// `Lots 1, 2 and 3`: a lot may be called by a number alone.
fn named(lots: &[String], word: &str) -> String {
    let many = if lots.len() == 1 { "" } else { "s" };
    format!("{word}{many} {}", few(lots))
}

fn in_words(n: usize, one: &str, many: &str) -> String {
    const WORDS: [&str; 5] = ["no", "one", "two", "three", "four"];
    match WORDS.get(n) {
        Some(word) => format!("{word} {}", if n == 1 { one } else { many }),
        None => plural(n, one, many),
    }
}

/// That the best plain mean is one of few reeds, and where the lot stands once that is taken into account.
pub fn lucky(raw_best: &LotResult) -> Option<String> {
    let pooled = pooled(raw_best)?;
    Some(format!(
        "Lot {} has the best plain mean ({}), but over only {}. A mean of few reeds is often luck: drawn towards the average \
         of all lots it stands at {}.",
        name(&raw_best.lot),
        number(raw_best.raw_mean?, interval_decimals(pooled)),
        plural(raw_best.rated, "reed", "reeds"),
        level(pooled)
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
pub fn caveats(players: usize, makers: usize) -> Vec<String> {
    let taken_out = if players > 1 {
        "only the players' leniency is taken out"
    } else {
        "nothing else is taken out"
    };
    let mut caveats = vec![format!(
        "A lot that was worked in a better season, or in a better way, looks better than its cane is: {taken_out}."
    )];
    if makers > 1 {
        caveats.push(format!(
            "The log pools {makers} makers. Lots of different makers differ by the hand and the ear as well as by the \
             cane, so compare the lots of one maker."
        ));
    }
    caveats
}

/// Why the rated reeds of the lots cannot be compared.
pub fn not_comparable(reeds_in_largest_lot: usize, all_alike: bool) -> String {
    match (reeds_in_largest_lot, all_alike) {
        (_, true) => "Every rated reed has the same score.".to_owned(),
        (0 | 1, _) => "Every lot has only one rated reed.".to_owned(),
        _ => "The reeds of each lot were all rated alike, so chance within a lot cannot be seen."
            .to_owned(),
    }
}

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
        super::factors::SCORES_TAKEN_AS_KNOWN.to_owned(),
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
