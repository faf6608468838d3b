//! Sentences about which factors went with a good reed.

use super::digits::{interval, number, percent, plural};
use super::lists::list;
use crate::finding::{FactorResult, Interval, Verdict};

/// What a sentence needs to know beside the result.
#[derive(Debug, Clone, Copy)]
pub struct FactorWords<'a> {
    /// `gouge at the centre`
    pub label: &'a str,
    /// What a higher reading means (`softer`), where the study file says.
    pub higher_is: Option<&'a str>,
    /// Lots among which reeds of the same lot were compared.
    pub lots: usize,
    pub worthwhile: f64,
}

/// `Forming time: open. Per 7 days more the rating moved by +0.2 (−0.3 to +0.7) among reeds of the same lot; …`
pub fn sentence(result: &FactorResult, words: &FactorWords) -> String {
    let subject = capitalised(&subject(result, words));
    match (result.verdict, estimate(result)) {
        (Verdict::Tangled, _) => format!("{subject}: tangled. {}", tangled(result)),
        (verdict, Some(effect)) => format!(
            "{subject}: {}. {} {}; {}.",
            judged(verdict, words.worthwhile),
            moved(result, words, effect),
            among(result),
            basis(result, words)
        ),
        (_, None) => format!("{subject}: open. {}", not_fitted(result)),
    }
}

fn subject(result: &FactorResult, words: &FactorWords) -> String {
    match &result.level {
        Some(level) => format!("{} “{level}”", words.label),
        None => words.label.to_owned(),
    }
}

fn judged(verdict: Verdict, worthwhile: f64) -> String {
    match verdict {
        Verdict::Negligible => format!("negligible, under {} either way", number(worthwhile)),
        Verdict::Open => "open, the log cannot say".to_owned(),
        other => other.word().to_owned(),
    }
}

fn moved(result: &FactorResult, words: &FactorWords, effect: Interval) -> String {
    let moved = interval(effect);
    match (&result.level, &result.reference) {
        (Some(level), Some(reference)) => {
            format!("Against “{reference}”, reeds with “{level}” were rated {moved}")
        }
        _ => format!("Per {} the rating moved by {moved}", step_in_words(result, words)),
    }
}

/// `7 days more`, `2 softer`, `2 of a higher reading`
pub fn step_in_words(result: &FactorResult, words: &FactorWords) -> String {
    let step = number(result.step.unwrap_or(1.0));
    match (&result.unit, words.higher_is) {
        (Some(unit), Some(higher)) => format!("{step} {unit} {higher}"),
        (Some(unit), None) => format!("{step} {unit} more"),
        (None, Some(higher)) => format!("{step} {}", higher_units(&step, higher)),
        (None, None) => format!("{step} of a higher reading"),
    }
}

fn higher_units(step: &str, higher: &str) -> String {
    let units = if step == "1" { "unit" } else { "units" };
    format!("{units} {higher}")
}

fn among(result: &FactorResult) -> &'static str {
    match result.scope.as_str() {
        "within lots" => "among reeds of the same lot",
        "between lots" => "from lot to lot",
        _ => "over all reeds",
    }
}

fn basis(result: &FactorResult, words: &FactorWords) -> String {
    let reeds = plural(result.used, "reed", "reeds");
    match result.scope.as_str() {
        "no lots" => reeds,
        _ => format!("{reeds} in {}", plural(words.lots, "lot", "lots")),
    }
}

fn tangled(result: &FactorResult) -> String {
    let with = list(result.tangled_with.iter().cloned());
    let share = match result.kept_share {
        Some(share) if result.scope != "between lots" => {
            format!("only {} of its differences are its own", percent(share))
        }
        _ => "it hardly differs among reeds of the same lot".to_owned(),
    };
    format!("It goes together with {with}: {share}, so the log cannot say what it does alone.")
}

fn not_fitted(result: &FactorResult) -> String {
    match result.left_out.first() {
        Some(left_out) => format!("It was not modelled: {} ({}).", left_out.why, left_out.n),
        None => "It was not modelled.".to_owned(),
    }
}

fn estimate(result: &FactorResult) -> Option<Interval> {
    Some(Interval { estimate: result.estimate?, low: result.low?, high: result.high? })
}

/// The section's answer: how many factors stand out, the strongest with its size.
pub fn answer(list_of: &[(FactorResult, String)]) -> String {
    let with = |verdict: Verdict| {
        list_of.iter().filter(move |(result, _)| result.verdict == verdict).collect::<Vec<_>>()
    };
    let (clear, leaning) = (with(Verdict::Clear), with(Verdict::Leaning));
    let screened = factors_in(list_of);
    let rest = rest(with(Verdict::Tangled).as_slice(), with(Verdict::Negligible).as_slice());
    if clear.is_empty() && leaning.is_empty() {
        return format!(
            "None of the {} looked at stands out from chance in this log{rest}.",
            plural(screened, "factor", "factors")
        );
    }
    let mut parts = Vec::new();
    if !clear.is_empty() {
        parts.push(format!("clear: {}", list(clear.iter().map(|entry| named(entry)))));
    }
    if !leaning.is_empty() {
        parts.push(format!("leaning: {}", list(leaning.iter().map(|entry| named(entry)))));
    }
    format!(
        "Of {} looked at, {} with the rating in rating points: {}{rest}.",
        plural(screened, "factor", "factors"),
        if clear.len() + leaning.len() == 1 { "one went" } else { "these went" },
        parts.join("; ")
    )
}

fn factors_in(list_of: &[(FactorResult, String)]) -> usize {
    let mut names: Vec<&str> = list_of.iter().map(|(result, _)| result.factor.as_str()).collect();
    names.dedup();
    names.len()
}

fn named((result, label): &(FactorResult, String)) -> String {
    let effect = estimate(result).map(interval).unwrap_or_default();
    match (&result.level, result.step, &result.unit) {
        (Some(level), _, _) => format!("{label} “{level}”, {effect}"),
        (None, Some(step), Some(unit)) => {
            format!("{label}, {effect} per {} {unit}", number(step))
        }
        (None, Some(step), None) => format!("{label}, {effect} per {}", number(step)),
        (None, None, _) => format!("{label}, {effect}"),
    }
}

fn rest(tangled: &[&(FactorResult, String)], negligible: &[&(FactorResult, String)]) -> String {
    let mut rest = String::new();
    if !tangled.is_empty() {
        let verb = if tangled.len() == 1 { "is" } else { "are" };
        rest += &format!("; {} {verb} tangled with other things", list(labels(tangled)));
    }
    if !negligible.is_empty() {
        let verb = if negligible.len() == 1 { "matters" } else { "matter" };
        rest += &format!("; {} {verb} too little to bother", list(labels(negligible)));
    }
    rest
}

fn labels(of: &[&(FactorResult, String)]) -> Vec<String> {
    let mut labels: Vec<String> = of.iter().map(|(_, label)| label.clone()).collect();
    labels.dedup();
    labels
}

/// With the first letter in upper case.
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}
