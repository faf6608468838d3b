//! Sentences about what went with wearing out sooner or later.

use crate::finding::{FactorResult, Hazard, Interval, Verdict};
use crate::words::criteria::{NO_SHARED_LOT, ONE_LOT, REFERENCE_IN_ONE_LOT};
use crate::words::digits::{count, count_in_words, decimals, number, percent, plural};
use crate::words::factors::{capitalised, step_more};
use crate::words::lists::{and, few, name};

pub const WITHIN_LOTS: &str = "within lots";
pub const OVER_ALL: &str = "over all reeds";
pub const NO_FACTOR: &str = "No column of the log is of a stage of the making, so nothing was held against how long reeds lasted.";
pub const THINNED: &str =
    "played, but of lots that were not taken because there are very many reeds";

/// Why nothing is modelled of a log.
pub fn too_few(retired: usize, fewest: usize) -> String {
    let found = match retired {
        0 => "no reed is".to_owned(),
        1 => "only one reed is".to_owned(),
        some => format!("only {} reeds are", count_in_words(some)),
    };
    format!(
        "What went with wearing out was not asked: {found} worn out so far, and it takes {}.",
        count_in_words(fewest)
    )
}

/// Why one factor is not modelled.
pub fn too_few_known(label: &str, retired: usize, fewest: usize) -> String {
    format!(
        "{label}: of the reeds with every cell that it takes {} worn out, and it takes {}",
        match retired {
            0 => "none is".to_owned(),
            1 => "only one is".to_owned(),
            some => format!("only {} are", count_in_words(some)),
        },
        count_in_words(fewest)
    )
}

pub fn no_chance(label: &str) -> String {
    format!("{label}: the reeds leave no chance to measure what it went with")
}

/// What a sentence needs to know beside the result, whose estimate is the logarithm of a ratio.
#[derive(Debug, Clone, Copy)]
pub struct HazardWords<'a> {
    pub label: &'a str,
    pub higher_is: Option<&'a str>,
    pub lots: usize,
    pub retired: usize,
    pub ratio: Option<Interval>,
    pub in_hours: bool,
    /// Whether the ratio grew in the course of a reed's life; none where it is not known to have changed.
    pub grows: Option<bool>,
}

/// `Density: clear. 0.05 g/cm³ more went with 0.62 (0.47 to 0.81) times the risk of wearing out at any hour of playing, among reeds of the same lot, so such
/// reeds lasted longer; 60 of 96 reeds worn out, in 9 lots.`
pub fn sentence(result: &FactorResult, words: &HazardWords) -> String {
    let subject = match &result.level {
        Some(level) => format!("{} “{}”", words.label, name(level)),
        None => words.label.to_owned(),
    };
    let subject = capitalised(&subject);
    let told = match (result.verdict, words.ratio) {
        (Verdict::Tangled, _) => return format!("{subject}: tangled. {}", tangled(result)),
        (verdict, Some(ratio)) => format!(
            "{subject}: {}. {} went with {} times the risk of wearing out at any {}, {}{}; {}.",
            judged(verdict, ratio),
            capitalised(&step(result, words.higher_is)),
            times(ratio),
            if words.in_hours { "hour of playing" } else { "day" },
            compared(&result.scope),
            lasted(verdict, ratio),
            on_reeds(result, words)
        ),
        (_, None) => match &result.not_modelled {
            Some(why) => format!("{subject}: open. It was not modelled: {why}."),
            None => format!("{subject}: open. It was not modelled."),
        },
    };
    match words.grows {
        Some(grows) => format!("{told} {}", not_in_step(grows)),
        None => told,
    }
}

/// Beyond these a ratio says no more than that it cannot be told.
const SMALLEST: f64 = 0.001;
const LARGEST: f64 = 1000.0;

/// `0.62 (0.47 to 0.81)`, with the digits that the shorter side of the interval supports.
pub fn times(ratio: Interval) -> String {
    let shown = decimals(ratio.estimate - ratio.low).min(3);
    let told = |value: f64| match value {
        small if small < SMALLEST => format!("under {}", number(SMALLEST, 3)),
        large if large > LARGEST => format!("over {}", number(LARGEST, 0)),
        between => number(between, shown),
    };
    let [estimate, low, high] = [ratio.estimate, ratio.low, ratio.high].map(told);
    format!("{estimate} ({low} to {high})")
}

fn leaves_out_one(ratio: Interval) -> bool {
    ratio.low > 1.0 || ratio.high < 1.0
}

fn judged(verdict: Verdict, ratio: Interval) -> String {
    match verdict {
        Verdict::Open if leaves_out_one(ratio) => {
            "open, with so many factors looked at chance may well give as much".to_owned()
        }
        Verdict::Negligible => "negligible, within a fifth or so either way".to_owned(),
        Verdict::Open => "open, the log cannot say".to_owned(),
        other => other.word().to_owned(),
    }
}

/// Which way, only where the interval says so and all factors are counted.
fn lasted(verdict: Verdict, ratio: Interval) -> &'static str {
    match verdict.stands_out() {
        true if ratio.low > 1.0 => ", so such reeds lasted less long",
        true if ratio.high < 1.0 => ", so such reeds lasted longer",
        _ => "",
    }
}

fn not_in_step(grows: bool) -> &'static str {
    if grows {
        "The risk was not in step all along: what it is multiplied by rose in the course of a reed's life, and the one number is an average."
    } else {
        "The risk was not in step all along: what it is multiplied by fell in the course of a reed's life, and the one number is an average."
    }
}

fn step(result: &FactorResult, higher_is: Option<&str>) -> String {
    match (&result.level, &result.reference) {
        (Some(level), Some(reference)) => {
            format!("“{}” instead of “{}”", name(level), name(reference))
        }
        _ => step_more(result, higher_is),
    }
}

/// One factor, or level, as the answer names it.
#[derive(Debug, Clone, Copy)]
pub struct ToldFactor<'a> {
    pub result: &'a FactorResult,
    pub label: &'a str,
    pub higher_is: Option<&'a str>,
    pub ratio: Option<Interval>,
}

/// Which reeds were compared.
pub fn compared(scope: &str) -> &'static str {
    if scope == WITHIN_LOTS { "among reeds of the same lot" } else { "over all reeds" }
}

/// `60 of 96 reeds worn out, in 9 lots`
fn on_reeds(result: &FactorResult, words: &HazardWords) -> String {
    let reeds = plural(result.used, "reed", "reeds");
    let lots = match words.lots {
        0 => String::new(),
        lots => format!(", in {}", plural(lots, "lot", "lots")),
    };
    format!("{} of {reeds} worn out{lots}", count(words.retired))
}

/// `60 of 96`
pub fn retired_of(retired: usize, reeds: usize) -> String {
    format!("{} of {}", count(retired), count(reeds))
}

fn tangled(result: &FactorResult) -> String {
    let tie = result.level.as_ref().and(result.tangled_with.first()).map(String::as_str);
    match tie {
        Some(ONE_LOT) => return "All reeds with it are of one lot, so the log cannot tell it from whatever else was particular to that lot.".to_owned(),
        Some(REFERENCE_IN_ONE_LOT) => return "All reeds that it would be held against are of one lot, so the log cannot tell the two from whatever else was particular to that lot.".to_owned(),
        Some(NO_SHARED_LOT) => return "No lot has both it and what it would be held against, so the log cannot tell the two from their lots.".to_owned(),
        _ => {}
    }
    let share = match result.kept_share {
        Some(share) if share > 0.0 => {
            format!("only {} of its differences are its own", percent(share))
        }
        _ => "it hardly differs among reeds of the same lot".to_owned(),
    };
    let with = and(&result.tangled_with);
    format!(
        "It goes together with {with}: {share}, so the log cannot say whether it alone went with how long reeds lasted."
    )
}

/// What stands out of all, in a sentence.
pub fn answer(told: &[ToldFactor]) -> String {
    let mut modelled: Vec<&str> = told
        .iter()
        .map(|told| told.result)
        .filter(|result| result.estimate.is_some() || result.verdict == Verdict::Tangled)
        .map(|result| result.factor.as_str())
        .collect();
    modelled.dedup();
    let standing: Vec<String> = [Verdict::Clear, Verdict::Leaning]
        .into_iter()
        .flat_map(|verdict| told.iter().filter(move |told| told.result.verdict == verdict))
        .filter_map(standing)
        .collect();
    let tangled = tangled_names(told);
    match (modelled.len(), standing.is_empty()) {
        (0, _) => "None of what was decided on the way could be held against how long reeds lasted; the table says why.".to_owned(),
        (1, true) if tangled.is_empty() => {
            "The one factor held against how long reeds lasted does not stand out from chance.".to_owned()
        }
        (some, true) => format!(
            "Of the {} held against how long reeds lasted none stands out from chance{tangled}.",
            plural(some, "factor", "factors")
        ),
        (_, false) => format!("What went with how long they lasted: {}{tangled}.", standing.join("; ")),
    }
}

/// `density, 0.05 g/cm³ more, clear: a longer life, 0.62 (0.47 to 0.81) times the risk of wearing out`
fn standing(told: &ToldFactor) -> Option<String> {
    let ratio = told.ratio?;
    let life = if ratio.high < 1.0 { "longer" } else { "shorter" };
    Some(format!(
        "{}, {}, {}: a {life} life, {} times the risk of wearing out",
        told.label,
        step(told.result, told.higher_is),
        told.result.verdict.word(),
        times(ratio)
    ))
}

fn tangled_names(told: &[ToldFactor]) -> String {
    let tangled = told.iter().filter(|told| told.result.verdict == Verdict::Tangled);
    let mut names: Vec<String> = tangled.map(|told| told.label.to_owned()).collect();
    names.dedup();
    match names.len() {
        0 => String::new(),
        1 => format!("; {} is tangled with other things", few(&names)),
        _ => format!("; {} are tangled with other things", few(&names)),
    }
}

/// How it was asked.
pub fn methods() -> Vec<String> {
    vec![
        "What went with wearing out: proportional hazards, one model a factor, Efron's ties. Reeds of the same lot are compared with each other: every lot is a \
         stratum with a baseline of its own, because lots that last differently under one common baseline pull every ratio towards 1. A factor that is the \
         same all through each lot is compared over all reeds, its error found by leaving out one lot after another (the sandwich, where there are over 80 lots). \
         What is adjusted for are the factors of earlier stages and of the same stage, with fewer of them where there are under five retired reeds a column; \
         later ones stay out. Of over 5\u{202f}000 reeds every second lot is taken, or third, and so on."
            .to_owned(),
        "A verdict holds the interval of the ratio against 4/5 to 5/4, and also needs a p, adjusted over all factors, of at most 0.05. Whether a ratio is the \
         same early and late is tested by scaled Schoenfeld residuals against the share retired, adjusted over the factors."
            .to_owned(),
    ]
}

pub fn sources() -> Vec<String> {
    [
        "Proportional hazards: Cox 1972, JRSS B 34, 187–220; ties: Efron 1977, J. American Statistical Association 72, 557–565",
        "The same early and late: Grambsch & Therneau 1994, Biometrika 81, 515–526",
        "Errors over lots: Lipsitz, Dear & Zhao 1994, Biometrics 50, 842–846; Lin & Wei 1989, J. American Statistical Association 84, 1074–1078",
        "Many factors at once: Benjamini & Hochberg 1995, JRSS B 57, 289–300",
    ]
    .map(str::to_owned)
    .to_vec()
}

pub const AXIS: &str = "risk of wearing out, times";

/// The picture in words.
pub fn description(list: &[Hazard]) -> String {
    let of = |verdict: Verdict| list.iter().filter(|hazard| hazard.verdict == verdict).count();
    format!(
        "What the risk of wearing out is multiplied by for each factor: {} clear, {} leaning, {} negligible, {} open, {} tangled.",
        of(Verdict::Clear),
        of(Verdict::Leaning),
        of(Verdict::Negligible),
        of(Verdict::Open),
        of(Verdict::Tangled)
    )
}

/// How the picture is read.
pub const READING: &str = "Each row is a factor. To the right of the line reeds wore out sooner, to the left they lasted longer; the thin line is the range that the ratio may \
                           well have, the thick one its middle half, and the grey band is too small to matter.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ratio_has_the_digits_of_its_shorter_side_and_no_more_than_can_be_believed() {
        let told = |estimate, low, high| times(Interval { estimate, low, high });
        assert_eq!(told(0.62, 0.47, 0.81), "0.62 (0.47 to 0.81)");
        assert_eq!(told(2.9, 1.0, 8.3), "2.9 (1.0 to 8.3)");
        assert_eq!(told(1e-7, 0.0, 3.8e6), "under 0.001 (under 0.001 to over 1\u{202F}000)");
    }
}
