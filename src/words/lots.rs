//! Sentences about cane lots.

use super::digits::{count_in_words, interval_decimals, level, number, percent, plural};
use super::factors::capitalised;
use super::given::given;
use super::lists::{capital_lot, few, lot, says_lot};
use crate::finding::{Interval, LotResult};

/// Values of the key `advice`.
pub const BUY_AGAIN: &str = "buy again";
pub const AVOID: &str = "avoid";
pub const KEEP_TRYING: &str = "keep trying";
/// A lot with fewer rated reeds is tried further.
pub const FEWEST_REEDS: usize = 5;
/// The chance from which on a lot is bought again or avoided.
pub const SURE: f64 = 0.8;

/// Gives each lot its sentences; `worthwhile` is the smallest difference worth having.
pub fn put(results: &mut [LotResult], worthwhile: f64) {
    let middle = middle_cost(results);
    for result in results {
        let parts = [
            Some(rating(result)),
            per_ten(result),
            cost(result, middle),
            advice(result, worthwhile),
        ];
        result.sentence = parts.into_iter().flatten().collect::<Vec<_>>().join(" ");
    }
}

/// What a good reed costs in the middle one of the lots with a price; none under three.
fn middle_cost(results: &[LotResult]) -> Option<f64> {
    let mut costs: Vec<f64> = results.iter().filter_map(|lot| lot.cost_per_good).collect();
    costs.sort_by(f64::total_cmp);
    if costs.len() < 3 { None } else { costs.get(costs.len() / 2).copied() }
}

fn per_ten(lot: &LotResult) -> Option<String> {
    let good = Interval { estimate: lot.good_per_ten?, low: lot.good_low?, high: lot.good_high? };
    Some(format!("Good reeds of ten pieces: {}.", level(good)))
}

fn cost(lot: &LotResult, middle: Option<f64>) -> Option<String> {
    let cost = lot.cost_per_good?;
    let dearer = middle.filter(|middle| {
        lot.advice.as_deref() == Some(BUY_AGAIN)
            && number(cost, 2) != number(*middle, 2)
            && cost > *middle
    });
    let beside = dearer.map_or(String::new(), |middle| {
        format!(", more than in the middle lot ({})", number(middle, 2))
    });
    Some(format!(
        "One good reed takes cane for {} in the money of the log{beside}.",
        number(cost, 2)
    ))
}

fn advice(lot: &LotResult, worthwhile: f64) -> Option<String> {
    let (by, sure, above) = (given(worthwhile), percent(SURE), lot.p_above?);
    Some(match lot.advice.as_deref()? {
        BUY_AGAIN => format!(
            "Buy again: the chance that it plays better than the average of the lots by {by} or more is {}.",
            percent(above)
        ),
        AVOID => format!(
            "Avoid: the chance that it plays worse than the average of the lots by {by} or more is {sure} at least."
        ),
        _ if lot.rated < FEWEST_REEDS => {
            format!("Keep trying: fewer than {} rated reeds.", count_in_words(FEWEST_REEDS))
        }
        _ => format!(
            "Keep trying: under {sure} sure that it plays better than the average of the lots by {by} ({}), or worse by as \
             much.",
            percent(above)
        ),
    })
}

/// How one lot's reeds were rated.
pub fn rating(lot: &LotResult) -> String {
    let lost = match lot.spoiled {
        0 => String::new(),
        spoiled => format!(", {spoiled} spoiled"),
    };
    let pieces = plural(lot.pieces, "piece", "pieces");
    match (pooled(lot), lot.raw_mean) {
        (Some(pooled), Some(raw)) => format!(
            "{}: {} pooled; {} rated of {pieces}{lost}; their own mean is {}.",
            capital_lot(&lot.lot),
            level(pooled),
            plural(lot.rated, "reed", "reeds"),
            number(raw, interval_decimals(pooled))
        ),
        _ => format!("{}: {} rated of {pieces}{lost}.", capital_lot(&lot.lot), none_or(lot.rated)),
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
    /// Lots to buy again, and lots to avoid.
    pub buy: Vec<String>,
    pub avoid: Vec<String>,
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
            capitalised(&in_words(standing.rated_lots, "lot", "lots"))
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
        ([], []) => format!(
            "No lot can be told from the average of {overall}; {share}.{}",
            advised(standing)
        ),
        (better, worse) => {
            format!("{}; {share}.{}", told_apart(better, worse, &overall), advised(standing))
        }
    }
}

/// ` Buy again: lots 3 and 7. Avoid: lot 5.`
fn advised(standing: &Standing) -> String {
    let side = |lots: &[String], what: &str| match lots {
        [] => String::new(),
        lots => format!(" {what}: {}.", named(lots, "lot")),
    };
    side(&standing.buy, "Buy again") + &side(&standing.avoid, "Avoid")
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

/// `Lots 1, 2 and 3`: a lot may be called by a number alone. Where a name says the word itself each is named in full.
fn named(lots: &[String], word: &str) -> String {
    if lots.iter().any(|lot| says_lot(lot)) {
        let each: Vec<String> = lots.iter().map(|name| lot(name)).collect();
        let named = few(&each);
        return if word.starts_with(char::is_uppercase) { capitalised(&named) } else { named };
    }
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

/// That the best plain mean is one of few reeds, what pooling did to it, and which lot stands first then.
pub fn lucky(raw_best: &LotResult, first: &LotResult, overall: f64) -> Option<String> {
    let (own, raw) = (pooled(raw_best)?, raw_best.raw_mean?);
    let shown = interval_decimals(own);
    let then = if first.lot == raw_best.lot {
        "and still stands first".to_owned()
    } else {
        format!(
            "and {} with {} stands first at {}",
            lot(&first.lot),
            plural(first.rated, "reed", "reeds"),
            level(pooled(first)?)
        )
    };
    let kept = (own.estimate - overall) / (raw - overall);
    let kept = if (0.0..1.0).contains(&kept) {
        format!(", with {} of its lead left,", percent(kept))
    } else {
        String::new()
    };
    Some(format!(
        "{} has the best plain mean ({}), but over only {}. A mean of few reeds is often luck: drawn towards the average \
         of all lots it stands at {}{kept} {then}.",
        capital_lot(&raw_best.lot),
        number(raw, shown),
        plural(raw_best.rated, "reed", "reeds"),
        level(own),
    ))
}

/// Lots that enter the sentence on evenness have this many reeds.
const FEWEST_FOR_SCATTER: usize = 5;

/// Which lot's reeds scatter least and which most, where the lots differ in that.
pub fn evenness(results: &[LotResult], p: f64) -> Option<String> {
    let mut lots: Vec<(f64, &LotResult)> = results
        .iter()
        .filter(|lot| lot.rated >= FEWEST_FOR_SCATTER)
        .filter_map(|lot| Some((lot.spread?, lot)))
        .collect();
    lots.sort_by(|a, b| a.0.total_cmp(&b.0));
    let ([even, .., uneven], true) = (lots.as_slice(), p <= 0.05) else { return None };
    let told = |(spread, result): &(f64, &LotResult)| {
        format!(
            "{} in {} ({})",
            number(*spread, 1),
            lot(&result.lot),
            plural(result.rated, "reed", "reeds")
        )
    };
    Some(format!(
        "The lots are not equally even: of those with five rated reeds or more, reeds scatter least, by {}, and most, by {}.",
        told(even),
        told(uneven)
    ))
}

/// Title of the table with the scatter of each lot.
pub fn evenness_title(adjusted: bool) -> &'static str {
    if adjusted {
        "How even each lot is, and its mean with the making taken out"
    } else {
        "How even each lot is"
    }
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

/// What stood in the model of the ratings beside the lots.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RatingWords {
    pub tubes: bool,
    pub reeds: bool,
    pub players: bool,
}

const DRAWS_HOLD: &str = "The draws hold the uncertainty of the spread between lots too.";

/// The model in words.
pub fn model(ratings: Option<RatingWords>, draws: Option<usize>, score: &str) -> String {
    let draws = draws.map(super::digits::count);
    let means = match (ratings, draws) {
        (_, None) => "A mixed model of the reeds' scores with lots as random intercepts, by restricted maximum likelihood. So \
                      many lots leave hardly a doubt of the spread between them: it is taken at its likeliest, and the intervals \
                      and chances follow from the normal distribution."
            .to_owned(),
        (Some(ratings), Some(draws)) => {
            let mut terms = vec!["lots"];
            terms.extend(ratings.tubes.then_some("tubes"));
            terms.extend(ratings.reeds.then_some("reeds"));
            let players = if ratings.players { " and the players beside them" } else { "" };
            format!(
                "The pooled means come from a mixed model of the ratings, one row each, with {} as random \
                 intercepts{players}. Their intervals and the chances come from {draws} joint draws under a mixed model \
                 of the reeds' scores with lots as random intercepts, moved to those means and widened where their error \
                 is larger. {DRAWS_HOLD}",
                super::lists::and(&terms)
            )
        }
        (None, Some(draws)) => format!(
            "A mixed model of the reeds' scores with lots as random intercepts, by restricted maximum likelihood. The \
             intervals of the pooled means and the chances come from {draws} joint draws. {DRAWS_HOLD}"
        ),
    };
    format!(
        "{means} {score} Good reeds of ten pieces come from a \
         logistic model of all pieces whose end is known, with lots as random intercepts: a spoiled piece counts as not \
         good. Buy again and avoid: a chance of {} at least that the lot plays better, or worse, than the average of the \
         lots by the smallest difference worth having, over {} rated reeds or more.",
        percent(SURE),
        count_in_words(FEWEST_REEDS)
    )
}

/// How many pieces are out of the good reeds of ten.
pub fn unknown(pieces: usize) -> Option<String> {
    (pieces > 0).then(|| {
        format!(
            "The good reeds of ten pieces leave out {}: unfinished, or without a rating that counts.",
            plural(pieces, "piece", "pieces")
        )
    })
}

/// What the adjusted means are adjusted for.
pub fn taken_out(labels: &[String], reeds: usize) -> String {
    format!(
        "The adjusted means read every lot at the same {}, from {} without gaps in them; a practice that went from lot to lot \
         is hard to tell from the lots.",
        few(labels),
        plural(reeds, "reed", "reeds")
    )
}

/// Where the making was to be taken out and could not be.
pub const NOTHING_TAKEN_OUT: &str = "The making could not be taken out of the lots' means: no practice is recorded for \
                                     enough rated reeds and varies among them.";

/// What the rarer kinds are called together.
pub const OTHERS: &str = "others";

/// Two short lines for a part of a range: its lowest and its highest value.
pub fn part(low: Option<f64>, high: Option<f64>) -> [String; 2] {
    match (low, high) {
        (Some(low), Some(high)) if low != high => [given(low), format!("to {}", given(high))],
        (Some(low), _) => [given(low), String::new()],
        _ => [String::new(), String::new()],
    }
}

/// `time on the forming pin, days`
pub fn with_unit(label: &str, unit: Option<&str>) -> String {
    unit.map_or_else(|| label.to_owned(), |unit| format!("{label}, {unit}"))
}

/// Title of an overlap grid.
pub fn overlap_title(label: &str) -> String {
    format!("What each lot saw: {label}")
}

/// How an overlap grid is read.
pub const OVERLAP_READING: &str = "A row is a lot, a column a part of the practice's range; the number says how many of \
                                   the lot's rated reeds lie there, a dot that none does. Where lots do not share their \
                                   columns, the lot and the practice cannot be told apart.";

/// An overlap grid in words.
pub fn overlap(label: &str, lots: usize, in_one_part: usize) -> String {
    let all = match in_one_part {
        0 => "every lot saw more than one part of the range".to_owned(),
        _ => format!("{in_one_part} of them saw only one part of the range"),
    };
    format!("{}, by {label}: {all}.", plural(lots, "lot", "lots"))
}

/// What the model takes for granted.
pub fn assumptions(ratings: Option<RatingWords>) -> Vec<String> {
    let scores = match ratings {
        Some(_) => SCORES_IN_THE_DRAWS,
        None => super::factors::SCORES_TAKEN_AS_KNOWN,
    };
    vec![
        "Lots differ from their average by normal amounts, and reeds scatter equally in every lot."
            .to_owned(),
        "Spoiled pieces have no rating; they are counted beside the mean, not in it.".to_owned(),
        "The log odds of a good reed differ between lots by normal amounts.".to_owned(),
        "A lot of few reeds may be anything: its chance of being the best can be large beside a middling mean.".to_owned(),
        scores.to_owned(),
    ]
}

const SCORES_IN_THE_DRAWS: &str = "In the draws each reed counts once, however many ratings it has, and the players' leniency \
                                   is taken as known.";

/// Where the methods come from.
pub fn sources() -> Vec<String> {
    vec![
        "Bates, Maechler, Bolker & Walker 2015, J. Statistical Software 67(1)".to_owned(),
        "Henderson 1975, Biometrics 31, 423–447".to_owned(),
        "Gelman 2006, Bayesian Analysis 1, 515–534".to_owned(),
        "Good reeds: Pinheiro & Bates 1995, J. Computational & Graphical Statistics 4, 12–35"
            .to_owned(),
        "Scatter: Brown & Forsythe 1974, J. American Statistical Association 69, 364–367"
            .to_owned(),
    ]
}

/// The picture in words.
pub fn description(results: &[LotResult]) -> String {
    results.iter().filter(|lot| lot.rated > 0).map(rating).collect::<Vec<_>>().join(" ")
}
