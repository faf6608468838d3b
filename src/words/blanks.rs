//! Sentences about unfinished pieces.

use super::digits::{count, count_in_words, level, number, percent, plural};
use super::factors::OutcomeWords;
use super::lists::{few, name};
use super::stages::doing;
use crate::finding::{BlankResult, Interval, Predictive};

pub const TAKES_UNFINISHED: &str = "It takes a piece with the fate “unfinished”, or one with neither a rating nor a fate nor a playing or finishing date.";
pub const TAKES_MEASURED: &str = "It takes a measurement that an unfinished piece and most rated reeds have, such as hardness, gouge or days on the pin.";
pub const TAKES_REEDS: &str =
    "It takes 30 rated reeds in three lots before a piece can be foretold.";
pub const TAKES_SPREAD: &str = "It takes ratings that differ before a piece can be foretold.";
pub const TAKES_FORETELLING: &str = "It takes measurements that foretell reeds of a lot not seen before; more rated reeds may show that they do.";

/// What a log without an unfinished piece holds.
pub fn none_unfinished(pieces: usize) -> String {
    match pieces {
        0 => "The log holds no piece.".to_owned(),
        1 => "The one piece of the log is rated, finished or spoiled.".to_owned(),
        _ => format!("None of the {} pieces of the log is unfinished.", count(pieces)),
    }
}

/// Where no unfinished piece has a measurement that counts.
pub fn nothing_measured(unfinished: usize) -> String {
    match unfinished {
        1 => "The unfinished piece has no measurement that most rated reeds have too.".to_owned(),
        _ => format!(
            "None of the {} unfinished pieces has a measurement that most rated reeds have too.",
            count(unfinished)
        ),
    }
}

pub fn too_few(reeds: usize, lots: usize, unfinished: usize) -> String {
    format!(
        "The {} cannot be foretold from {} in {}.",
        pieces(unfinished),
        plural(reeds, "rated reed", "rated reeds"),
        plural(lots, "lot", "lots")
    )
}

pub fn all_alike(unfinished: usize) -> String {
    format!(
        "Every rated reed has the same score, so nothing is foretold of the {}.",
        pieces(unfinished)
    )
}

/// Why the pieces are not told apart.
pub fn any_order(predictive: &Predictive, unfinished: usize, has_makers: bool) -> String {
    let advice = match (unfinished, has_makers) {
        (1, _) => "So nothing is foretold of the unfinished piece.".to_owned(),
        (_, false) => format!("Finish the {} in any order.", pieces(unfinished)),
        (_, true) => format!(
            "As far as measurements go, finish the {} in any order; how the reeds of the makers differ is a question of its own (`canewright makers`).",
            pieces(unfinished)
        ),
    };
    format!("{} {advice}", predictive.sentence)
}

fn pieces(unfinished: usize) -> String {
    plural(unfinished, "unfinished piece", "unfinished pieces")
}

/// The chance in words that stay between the ends: `62 %`.
fn chance(share: f64) -> String {
    percent(share)
}

fn expectation(blank: &BlankResult) -> Option<Interval> {
    Some(Interval { estimate: blank.rating?, low: blank.low?, high: blank.high? })
}

/// `R210: rating 7.4 expected, 5.6 to 9.2 in nine cases of ten; good with a chance of 62 % if it comes to its first note, 55 % with the losses on the way counted.`
pub fn sentence(blank: &BlankResult, outcome: OutcomeWords) -> String {
    let piece = name(&blank.piece);
    match (expectation(blank), blank.p_good_if_played) {
        (Some(expected), Some(played)) => {
            format!("{piece}: {}; {}.", rating(expected, outcome), good(blank, played))
        }
        _ => format!("{piece}: what is measured of it so far foretells nothing."),
    }
}

/// `7.4 expected (5.6 to 9.2 in nine cases of ten)`
fn rating(expected: Interval, outcome: OutcomeWords) -> String {
    let shown = level(expected);
    let (estimate, range) = shown.split_once(" (").unwrap_or((&shown, ""));
    let range = range.trim_end_matches(')');
    let what = if outcome.is_distance { "a distance of " } else { "a rating of " };
    format!("{what}{estimate} to be expected, {range} in nine cases of ten")
}

fn good(blank: &BlankResult, played: f64) -> String {
    match blank.p_good {
        Some(counted) => format!(
            "a good reed with a chance of {} if it comes to its first note, {} counting losses on the way",
            chance(played),
            chance(counted)
        ),
        None => {
            format!("a good reed with a chance of {} if it comes to its first note", chance(played))
        }
    }
}

/// Which to finish first. `toss_up` pieces from the first on can hardly be told apart.
pub fn answer(list: &[BlankResult], toss_up: usize, outcome: OutcomeWords) -> String {
    let told = list.iter().filter(|blank| blank.rating.is_some()).count();
    let Some(first) = list.first() else { return String::new() };
    let opening = match told {
        1 => "One unfinished piece is foretold.".to_owned(),
        _ if toss_up == told && told > 1 => format!(
            "The {} unfinished pieces can hardly be told apart: any order will do, with {} first by a little.",
            count_in_words(told),
            name(&first.piece)
        ),
        _ if toss_up > 1 => format!(
            "Of {} begin with {}, in any order: these {} can hardly be told apart.",
            pieces(told),
            few(&list.iter().take(toss_up).map(|blank| blank.piece.clone()).collect::<Vec<_>>()),
            count_in_words(toss_up)
        ),
        _ => format!("Of {} finish {} first.", pieces(told), name(&first.piece)),
    };
    format!("{opening} {}", sentence(first, outcome))
}

/// How far the first and the last lie apart, in cases of a hundred.
pub fn spread(list: &[BlankResult]) -> Option<String> {
    let told: Vec<&BlankResult> = list.iter().filter(|blank| blank.rating.is_some()).collect();
    let (first, last) = (told.first()?, told.last()?);
    let outdone = last.p_outdoes_first.filter(|_| told.len() > 1)?;
    Some(format!(
        "Single reeds scatter: even {}, the least promising, would do better than {} in {} of a hundred such pairs.",
        name(&last.piece),
        name(&first.piece),
        number(100.0 * outdone, 0)
    ))
}

/// How pieces of new lots stand.
pub fn new_lots(new: usize, told: usize, has_makers: bool) -> Option<String> {
    let whose = match (new, told) {
        (0, _) => return None,
        (1, 1) => "It comes of a lot".to_owned(),
        (new, told) if new == told => "All of them come of lots".to_owned(),
        (1, _) => "One of them comes of a lot".to_owned(),
        (some, _) => {
            format!("{} of them come of lots", super::factors::capitalised(&count_in_words(some)))
        }
    };
    let from = if has_makers { "the measurements and the maker" } else { "the measurements" };
    Some(format!(
        "{whose} without a rated reed: foretold from {from} alone, with a range that has room for a better or a worse lot."
    ))
}

/// What these numbers cannot say.
pub fn caveats(has_fates: bool, tells_of_losses: bool, outside: &[String]) -> Vec<String> {
    let mut said = Vec::new();
    if !has_fates {
        said.push(
            "The log has no column of fates, so every piece without a rating, a playing or a finishing date counts as unfinished; write a fate where one was \
             spoiled, lost or given away."
                .to_owned(),
        );
    }
    if !tells_of_losses {
        said.push("The log does not tell of pieces lost on the way, so the chances hold for pieces that come to their first note.".to_owned());
    }
    if !outside.is_empty() {
        said.push(format!(
            "{} beyond anything that was rated so far: the line is drawn on there, and no reed vouches for it.",
            match outside {
                [one] => format!("{} was measured", name(one)),
                many => format!("{} were measured", few(many)),
            }
        ));
    }
    said
}

/// Where a piece stands: `forming`.
pub fn stands(blank: &BlankResult) -> String {
    blank.stage.map_or("not known", doing).to_owned()
}

/// What the column of makers is called among those that a piece is foretold from.
pub const MAKER: &str = "maker";

pub const LEFT_OUT: &str = "what is measured of it so far foretells nothing";
pub const LEFT_OUT_DONE: &str = "no longer unfinished: rated, spoiled or gone";
pub const LEFT_OUT_BARE: &str = "unfinished, without a measurement that most rated reeds have too";

pub const TITLE: &str = "What the unfinished pieces may come to";

/// The picture in words.
pub fn description(list: &[BlankResult]) -> String {
    let told = list.iter().filter(|blank| blank.rating.is_some()).count();
    format!(
        "{}, the most promising first, each with the rating to expect and its range.",
        pieces(told)
    )
}

pub const READING: &str = "Each row is an unfinished piece, the best chance of a good reed first. The dot is the rating to expect; half of such reeds fall on the \
                           thick bar, nine of ten on the thin line; at the end stands the chance of a good reed. Ranges that overlap are the rule: one reed tells little of the next.";

/// Beside the name of a piece in the picture: `55 %`.
pub fn beside(blank: &BlankResult) -> String {
    let share = blank.p_good.or(blank.p_good_if_played);
    share.map_or(String::new(), chance)
}

/// The method in words.
pub fn model(reeds: usize, lots: usize, has_makers: bool) -> String {
    let and_maker = if has_makers { " and from who makes it" } else { "" };
    format!(
        "Each piece is foretold from measurements that it has{and_maker}, by the elastic net of {} in {}, its penalty chosen among them. A piece of a lot with rated reeds also gets the \
         mean error of those reeds, drawn towards nothing by the spread between and within lots; its range rests on the errors at reeds held out, one in twenty at \
         a time. A piece of a new lot is foretold by rules that have not seen a lot, its range by the errors at the lots held out, each lot with the same say. The chance of a \
         good reed is the share of those errors that would bring it to the line, the line drawn so that the reeds held out had as many good ones as they were given. Losses on the way: the share of pieces that came from the same stage to their \
         first note.",
        plural(reeds, "rated reed", "rated reeds"),
        plural(lots, "lot", "lots")
    )
}

/// What the method takes for granted.
pub fn assumptions() -> Vec<String> {
    [
        "The unfinished pieces are made, measured and rated like the rated reeds: what changed since is not foreseen.",
        "The ranges of pieces of known lots hold nine of ten whatever the errors look like, on average over pieces; those of new lots come near it when lots are many.",
        "Scores are the means of a reed's ratings, with the players' leniency taken out.",
        "Pieces are compared as if what befalls one told nothing of another.",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// Where the methods come from.
pub fn sources() -> Vec<String> {
    [
        "Cross-conformal ranges: Barber, Candès, Ramdas & Tibshirani 2021, Annals of Statistics 49, 486–507",
        "Lots: Dunn, Wasserman & Ramdas 2022, Journal of the American Statistical Association 118, 2491–2502; Henderson 1975, Biometrics 31, 423–447",
        "Chances: Vovk, Nouretdinov, Manokhin & Gammerman 2018, Proceedings of Machine Learning Research 91, 37–51",
        "Elastic net: Zou & Hastie 2005, JRSS B 67, 301–320",
    ]
    .map(str::to_owned)
    .to_vec()
}
