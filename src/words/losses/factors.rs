//! Sentences about what went with losing a piece.

use crate::catalogue::Stage;
use crate::finding::{Estimated, FactorResult, Interval, LossFactor, Verdict};
use crate::words::criteria::{NO_SHARED_LOT, ONE_LOT, REFERENCE_IN_ONE_LOT};
use crate::words::digits::{change, count, count_in_words, level, percent, plural};
use crate::words::factors::{capitalised, estimate, excludes_zero, step_more};
use crate::words::lists::{and, few, name};
use crate::words::stages::doing;

pub const NO_FACTOR: &str =
    "No column of the log is of a stage of the making, so nothing was held against the losses.";
/// Why pieces are in no model.
pub const UNKNOWN: &str = "neither lost before the first note nor played yet";
pub const LOST_EARLIER: &str = "lost at an earlier stage";
pub const THINNED: &str =
    "at risk, but of lots that were not taken because there are very many pieces";

/// Why nothing is modelled of a log.
pub fn too_few(lost: usize, kept: usize, fewest: usize) -> String {
    let fewest = count_in_words(fewest);
    if lost <= kept {
        format!(
            "What went with losing a piece was not asked: {} {} lost before the first note, and it takes {fewest}.",
            only(lost),
            was(lost)
        )
    } else {
        format!(
            "What went with losing a piece was not asked: {} came through to the first note, and it takes {fewest}.",
            only(kept)
        )
    }
}

fn only(pieces: usize) -> String {
    match pieces {
        0 => "no piece".to_owned(),
        1 => "only one piece".to_owned(),
        some => format!("only {} pieces", count_in_words(some)),
    }
}

fn was(pieces: usize) -> &'static str {
    if pieces < 2 { "was" } else { "were" }
}

/// Why one factor is not modelled.
pub fn too_few_later(label: &str, lost: usize, kept: usize, fewest: usize) -> String {
    let fewest = count_in_words(fewest);
    if lost <= kept {
        format!(
            "{label}: {} {} lost at its stage or later, and it takes {fewest}",
            only(lost),
            was(lost)
        )
    } else {
        format!("{label}: {} came through, and it takes {fewest}", only(kept))
    }
}

pub fn too_few_known(label: &str, fewest: usize) -> String {
    format!(
        "{label}: of the pieces with every cell that it takes, fewer than {} were lost or came through",
        count_in_words(fewest)
    )
}

pub fn no_chance(label: &str) -> String {
    format!("{label}: the pieces leave no chance to measure what it went with")
}

/// What a sentence needs to know beside the result, whose estimate is in lost pieces of ten.
#[derive(Debug, Clone, Copy)]
pub struct LossWords<'a> {
    pub label: &'a str,
    pub higher_is: Option<&'a str>,
    pub lots: usize,
    pub lost: usize,
    pub odds: Option<Estimated>,
}

/// `Days on the pin: clear. 7 days more went with +2.1 (+1.2 to +3.0) lost pieces in ten among pieces of the same lot, …`
pub fn sentence(result: &FactorResult, words: &LossWords) -> String {
    let subject = match &result.level {
        Some(level) => format!("{} “{}”", words.label, name(level)),
        None => words.label.to_owned(),
    };
    let subject = capitalised(&subject);
    match (result.verdict, estimate(result)) {
        (Verdict::Tangled, _) => format!("{subject}: tangled. {}", tangled(result)),
        (verdict, Some(effect)) => format!(
            "{subject}: {}. {} {}{}; {}.",
            judged(verdict, effect),
            capitalised(&moved(result, words.higher_is, effect)),
            among_pieces(result),
            odds(words.odds),
            on_pieces(result, words)
        ),
        (_, None) => match &result.not_modelled {
            Some(why) => format!("{subject}: open. It was not modelled: {why}."),
            None => format!("{subject}: open. It was not modelled."),
        },
    }
}

fn judged(verdict: Verdict, effect: Interval) -> String {
    match verdict {
        Verdict::Open if excludes_zero(effect) => {
            "open, with so many factors looked at chance may well give as much".to_owned()
        }
        Verdict::Negligible => "negligible, under one piece in ten either way".to_owned(),
        Verdict::Open => "open, the log cannot say".to_owned(),
        other => other.word().to_owned(),
    }
}

/// `7 days more went with +2.1 (+1.2 to +3.0) lost pieces in ten`
fn moved(result: &FactorResult, higher_is: Option<&str>, effect: Interval) -> String {
    format!("{} went with {} lost pieces in ten", changed(result, higher_is), change(effect))
}

fn changed(result: &FactorResult, higher_is: Option<&str>) -> String {
    match (&result.level, &result.reference) {
        (Some(level), Some(reference)) => {
            format!("“{}” instead of “{}”", name(level), name(reference))
        }
        _ => step_more(result, higher_is),
    }
}

fn odds(odds: Option<Estimated>) -> String {
    odds.map_or(String::new(), |odds| {
        let Estimated { estimate, low, high } = odds;
        format!(", the odds of a loss times {}", level(Interval { estimate, low, high }))
    })
}

fn among_pieces(result: &FactorResult) -> &'static str {
    match result.scope.as_str() {
        "within lots" => "among pieces of the same lot",
        "between lots" => "from lot to lot",
        _ => "over all pieces",
    }
}

/// `24 of 150 pieces lost, in 12 lots`
fn on_pieces(result: &FactorResult, words: &LossWords) -> String {
    let lost = format!("{} of {} lost", count(words.lost), plural(result.used, "piece", "pieces"));
    match result.scope.as_str() {
        "no lots" => lost,
        _ => format!("{lost}, in {}", plural(words.lots, "lot", "lots")),
    }
}

fn tangled(result: &FactorResult) -> String {
    let tie = result.level.as_ref().and(result.tangled_with.first()).map(String::as_str);
    match tie {
        Some(ONE_LOT) => return "All pieces with it are of one lot, so the log cannot tell it from whatever else was particular to that lot.".to_owned(),
        Some(REFERENCE_IN_ONE_LOT) => return "All pieces that it would be held against are of one lot, so the log cannot tell the two from whatever else was particular to that lot.".to_owned(),
        Some(NO_SHARED_LOT) => return "No lot has both it and what it would be held against, so the log cannot tell the two from their lots.".to_owned(),
        _ => {}
    }
    let share = match result.kept_share {
        Some(share) if result.scope != "between lots" => {
            format!("only {} of its differences are its own", percent(share))
        }
        _ => "it hardly differs among pieces of the same lot".to_owned(),
    };
    let with = and(&result.tangled_with);
    format!(
        "It goes together with {with}: {share}, so the log cannot say whether it alone went with losses."
    )
}

/// What stands out of all that was held against the losses, in a sentence; the results with their labels.
pub fn answer(told: &[(&FactorResult, &str, Option<&str>)]) -> String {
    let modelled =
        count_of(told, |result| result.estimate.is_some() || result.verdict == Verdict::Tangled);
    let standing: Vec<String> = [Verdict::Clear, Verdict::Leaning]
        .into_iter()
        .flat_map(|verdict| told.iter().filter(move |(result, ..)| result.verdict == verdict))
        .filter_map(|&(result, label, higher_is)| {
            let effect = estimate(result)?;
            let word = result.verdict.word();
            Some(format!("{label}, {word}: {}", moved(result, higher_is, effect)))
        })
        .collect();
    let tangled = tangled_names(told);
    match (modelled, standing.is_empty()) {
        (0, _) => "None of what was decided on the way could be held against the losses; the table says why.".to_owned(),
        (1, true) if tangled.is_empty() => {
            "The one factor held against the losses does not stand out from chance.".to_owned()
        }
        (_, true) => format!(
            "Of the {} held against the losses none stands out from chance{tangled}.",
            plural(modelled, "factor", "factors")
        ),
        (_, false) => format!("What went with it: {}{tangled}.", standing.join("; ")),
    }
}

fn tangled_names(told: &[(&FactorResult, &str, Option<&str>)]) -> String {
    let mut names: Vec<String> = told
        .iter()
        .filter(|(result, ..)| result.verdict == Verdict::Tangled)
        .map(|(_, label, _)| (*label).to_owned())
        .collect();
    names.dedup();
    match names.len() {
        0 => String::new(),
        1 => format!("; {} is tangled with other things", few(&names)),
        _ => format!("; {} are tangled with other things", few(&names)),
    }
}

fn count_of(
    told: &[(&FactorResult, &str, Option<&str>)],
    counted: impl Fn(&FactorResult) -> bool,
) -> usize {
    let kept = told.iter().filter(|(result, ..)| counted(result));
    let mut names: Vec<&str> = kept.map(|(result, ..)| result.factor.as_str()).collect();
    names.dedup();
    names.len()
}

/// A time spent at the stage that spoils ends when the piece does.
pub fn cut_short(label: &str, stage: Stage, pieces: usize) -> String {
    format!(
        "{}: a piece that is spoiled while {} has been there for a shorter time than it was meant to be, which makes a short time look as if it spoiled; \
         {} lost there with a time in the log.",
        capitalised(label),
        doing(stage),
        match pieces {
            1 => "one piece was".to_owned(),
            some => format!("{some} pieces were"),
        }
    )
}

/// The lost pieces lack a cell more often than the others; each label with how many of how many.
pub fn lost_without(labels: &[(String, usize, usize)]) -> String {
    let each: Vec<String> = labels
        .iter()
        .map(|(label, without, lost)| format!("{} ({without} of {lost})", name(label)))
        .collect();
    format!(
        "Lost pieces have no cell far more often than the others for {}; they are in no model of it, and the losses that are left may not speak for all.",
        and(&each)
    )
}

/// How it was asked.
pub fn methods(mixed: bool, firth: bool) -> Vec<String> {
    let how = match (mixed, firth) {
        (true, true) => {
            "a random intercept a lot where five lots or more differ, else Firth's penalty with intervals from its likelihood"
        }
        (true, false) => "a random intercept a lot",
        _ => "Firth's penalty, intervals from its likelihood",
    };
    vec![
        format!(
            "Lost before the first note or not, over the pieces that got as far as the factor: one logistic model a factor with {how}. What is adjusted for are \
             the factors of earlier stages and of the same stage, with fewer of them where there are under five pieces of the rarer kind a column; \
             later ones stay out."
        ),
        "Lost pieces in ten are the average over the pieces at hand, each half a step further on, less the same half a step back. A verdict holds their interval \
         against one piece in ten, and also needs a p, adjusted over all factors, of at most 0.05."
            .to_owned(),
        "A cell is empty without regard to what became of the piece; what was decided with an eye on the piece's weakness is not told from what weakened it."
            .to_owned(),
    ]
}

pub fn sources(mixed: bool) -> Vec<String> {
    let mixed = mixed.then_some(
        "Random intercepts: Pinheiro & Bates 1995, J. Computational and Graphical Statistics 4, 12–35",
    );
    [
        "Yes or no: Firth 1993, Biometrika 80, 27–38; Heinze & Schemper 2002, Statistics in Medicine 21, 2409–2419",
        "Standardisation: Lane & Nelder 1982, Biometrics 38, 613–621",
        "Many factors at once: Benjamini & Hochberg 1995, JRSS B 57, 289–300",
    ]
    .into_iter()
    .chain(mixed)
    .map(str::to_owned)
    .collect()
}

/// The picture in words.
pub fn description(list: &[LossFactor]) -> String {
    let of = |verdict: Verdict| list.iter().filter(|factor| factor.verdict == verdict).count();
    format!(
        "What each factor went with in lost pieces of ten: {} clear, {} leaning, {} negligible, {} open or not modelled, {} tangled.",
        of(Verdict::Clear),
        of(Verdict::Leaning),
        of(Verdict::Negligible),
        of(Verdict::Open),
        of(Verdict::Tangled)
    )
}

/// How the picture is read.
pub const READING: &str = "Each row is a factor. To the right of the line more pieces were lost, to the left fewer; the thin line is the range that the change may well have, and the \
                           grey band is under one piece in ten.";

/// A stage as a table names it.
pub fn stage(stage: Stage) -> String {
    doing(stage).to_owned()
}

/// `24 of 150`
pub fn lost_of(lost: usize, pieces: usize) -> String {
    format!("{} of {}", count(lost), count(pieces))
}
