//! Sentences about which factors went with a good reed.

mod method;

use crate::catalogue::Stage;
use crate::finding::{FactorResult, Interval, Verdict};
use crate::words::criteria::tied_to_lots;
use crate::words::digits::{change, percent, plural};
use crate::words::given::given;
use crate::words::lists::{and, few};

pub(super) use method::SCORES_TAKEN_AS_KNOWN;
pub use method::{ModelWords, assumptions, leniency, model, score, sources, stayed_out};

/// What the rating is, as sentences about its changes need it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OutcomeWords {
    /// Whether a lower rating is the better one: school marks, or a distance from an ideal.
    pub lower_is_better: bool,
    /// Whether the number is the distance from an ideal in the middle of the scale.
    pub is_distance: bool,
}

impl OutcomeWords {
    /// `the rating`, as the subject of a sentence.
    pub(super) fn subject(self) -> &'static str {
        if self.is_distance { "the distance from the ideal" } else { "the rating" }
    }

    /// What a change means where the direction is not the usual one.
    pub(super) fn direction(self, effect: Interval) -> &'static str {
        which_way(self.lower_is_better, effect)
    }

    /// The axis of a rating.
    pub fn axis(self) -> String {
        match (self.is_distance, self.lower_is_better) {
            (true, _) => "distance from the ideal (0 is best)".to_owned(),
            (false, true) => "rating (lower is better)".to_owned(),
            (false, false) => "rating".to_owned(),
        }
    }

    /// The unit of a change.
    pub fn points(self) -> String {
        let better = if self.lower_is_better { " (lower is better)" } else { "" };
        format!("rating points{better}")
    }
}

/// What stands behind a change of a rating of which lower is better: which way it went where its interval says so, else the direction of the scale.
pub(super) fn which_way(lower_is_better: bool, effect: Interval) -> &'static str {
    match lower_is_better {
        true if effect.high < 0.0 => ", which is better here",
        true if effect.low > 0.0 => ", which is worse here",
        true => ", lower being better",
        false => "",
    }
}

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
    pub outcome: OutcomeWords,
}

/// `Forming time: open. Per 7 days more the rating moved by +0.2 (−0.3 to +0.7) among reeds of the same lot; …`
pub fn sentence(result: &FactorResult, words: &FactorWords) -> String {
    let subject = capitalised(&subject(result, words));
    match (result.verdict, estimate(result)) {
        (Verdict::Tangled, _) => format!("{subject}: tangled. {}", tangled(result)),
        (verdict, Some(effect)) => format!(
            "{subject}: {}. {} {}; {}.",
            judged(verdict, effect, words.worthwhile),
            moved(result, words, effect),
            among_reeds(result),
            on_reeds(result, words.lots)
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

pub(super) fn judged(verdict: Verdict, effect: Interval, worthwhile: f64) -> String {
    match verdict {
        Verdict::Open if excludes_zero(effect) => {
            "open, with so many factors looked at chance may well give as much".to_owned()
        }
        Verdict::Negligible => format!("negligible, under {} either way", given(worthwhile)),
        Verdict::Open => "open, the log cannot say".to_owned(),
        other => other.word().to_owned(),
    }
}

/// Whether the interval lies on one side of zero.
pub fn excludes_zero(effect: Interval) -> bool {
    effect.low > 0.0 || effect.high < 0.0
}

pub(super) fn moved(result: &FactorResult, words: &FactorWords, effect: Interval) -> String {
    let moved = change(effect);
    let direction = words.outcome.direction(effect);
    match (&result.level, &result.reference) {
        (Some(level), Some(reference)) => {
            let rated = if words.outcome.is_distance {
                "lay further from the ideal by"
            } else {
                "were rated"
            };
            format!("Against “{reference}”, reeds with “{level}” {rated} {moved}{direction}")
        }
        _ => {
            let subject = words.outcome.subject();
            format!("Per {} {subject} moved by {moved}{direction}", step_in_words(result, words))
        }
    }
}

/// `7 days more`, `2 softer`, `2 of a higher reading`
pub fn step_in_words(result: &FactorResult, words: &FactorWords) -> String {
    step_more(result, words.higher_is)
}

/// The same, given what a higher reading means.
pub fn step_more(result: &FactorResult, higher_is: Option<&str>) -> String {
    let step = given(result.step.unwrap_or(1.0));
    match (&result.unit, higher_is) {
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

/// `among reeds of the same lot`
pub fn among_reeds(result: &FactorResult) -> &'static str {
    match result.scope.as_str() {
        "within lots" => "among reeds of the same lot",
        "between lots" => "from lot to lot",
        _ => "over all reeds",
    }
}

/// `31 reeds in 6 lots`
pub fn on_reeds(result: &FactorResult, lots: usize) -> String {
    let reeds = plural(result.used, "reed", "reeds");
    match result.scope.as_str() {
        "no lots" => reeds,
        _ => format!("{reeds} in {}", plural(lots, "lot", "lots")),
    }
}

fn tangled(result: &FactorResult) -> String {
    if let Some(said) = tied_to_lots(result) {
        return said.to_owned();
    }
    let with = and(&result.tangled_with);
    let share = match result.kept_share {
        Some(share) if result.scope != "between lots" => {
            format!("only {} of its differences are its own", percent(share))
        }
        _ => "it hardly differs among reeds of the same lot".to_owned(),
    };
    format!("It goes together with {with}: {share}, so the log cannot say what it does alone.")
}

fn not_fitted(result: &FactorResult) -> String {
    match &result.not_modelled {
        Some(why) => format!("It was not modelled: {why}."),
        None => "It was not modelled.".to_owned(),
    }
}

/// The headline effect, where there is one.
pub fn estimate(result: &FactorResult) -> Option<Interval> {
    Some(Interval { estimate: result.estimate?, low: result.low?, high: result.high? })
}

/// The section's answer: how many factors stand out, the strongest first, each with its size.
pub fn answer(list_of: &[(FactorResult, String)], outcome: OutcomeWords) -> String {
    let with = |verdict: Verdict| -> Vec<&(FactorResult, String)> {
        list_of.iter().filter(|(result, _)| result.verdict == verdict).collect()
    };
    let modelled = factors_in(list_of, |result| {
        result.estimate.is_some() || result.verdict == Verdict::Tangled
    });
    let standing: Vec<String> = [Verdict::Clear, Verdict::Leaning]
        .into_iter()
        .flat_map(&with)
        .map(|entry| named(entry, outcome))
        .collect();
    let rest = rest(&with(Verdict::Tangled), &with(Verdict::Negligible));
    if modelled == 0 {
        return "None of the columns could be held against the rating; the table says why."
            .to_owned();
    }
    let looked_at = if modelled == 1 {
        "The one factor looked at".to_owned()
    } else {
        format!("None of the {modelled} factors looked at")
    };
    match standing.len() {
        0 if modelled == 1 => {
            format!("{looked_at} does not stand out from chance in this log{rest}.")
        }
        0 => format!("{looked_at} stands out from chance in this log{rest}."),
        _ => format!("{}{rest}.", capitalised(&standing.join("; "))),
    }
}

fn factors_in(
    list_of: &[(FactorResult, String)],
    counted: impl Fn(&FactorResult) -> bool,
) -> usize {
    let mut names: Vec<&str> = list_of
        .iter()
        .filter(|(result, _)| counted(result))
        .map(|(result, _)| result.factor.as_str())
        .collect();
    names.dedup();
    names.len()
}

/// `hardness, clear: −0.5 rating points (−0.9 to −0.1) per 3 softer`
fn named((result, label): &(FactorResult, String), outcome: OutcomeWords) -> String {
    if let Some(spot) = &result.sweet_spot {
        return super::sweet_spot::named(label, result, spot);
    }
    let Some(effect) = estimate(result) else { return label.clone() };
    let moved = format!("{} rating points{}", change(effect), outcome.direction(effect));
    let word = result.verdict.word();
    match (&result.level, &result.reference, result.step) {
        (Some(level), Some(reference), _) => {
            format!("{label}, {word}: {moved} for {level} instead of {reference}")
        }
        (_, _, Some(step)) => {
            let unit = result.unit.as_deref().map_or(String::new(), |unit| format!(" {unit}"));
            format!("{label}, {word}: {moved} per {}{unit} more", given(step))
        }
        _ => format!("{label}, {word}: {moved}"),
    }
}

fn rest(tangled: &[&(FactorResult, String)], negligible: &[&(FactorResult, String)]) -> String {
    let mut rest = String::new();
    if !tangled.is_empty() {
        let labels = labels(tangled);
        let verb = if labels.len() == 1 { "is" } else { "are" };
        rest += &format!("; {} {verb} tangled with other things", few(&labels));
    }
    if !negligible.is_empty() {
        let labels = labels(negligible);
        let verb = if labels.len() == 1 { "matters" } else { "matter" };
        rest += &format!(
            "; for a usual step, and as a straight line, {} {verb} too little to bother",
            few(&labels)
        );
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

/// `hardness`, `scoring: crosshatch`
pub fn named_with_level(label: &str, result: &FactorResult) -> String {
    match &result.level {
        Some(level) => format!("{label}: {level}"),
        None => label.to_owned(),
    }
}

/// `+7 days`, `+2 softer`, `crosshatch, not none`
pub fn step_shown(result: &FactorResult, higher_is: Option<&str>) -> String {
    match (&result.level, &result.reference, result.step) {
        (Some(level), Some(reference), _) => format!("{level}, not {reference}"),
        (_, _, Some(step)) => {
            let unit = result.unit.as_deref().or(higher_is).unwrap_or("");
            format!("+{} {unit}", given(step)).trim_end().to_owned()
        }
        _ => String::new(),
    }
}

/// A verdict as a table shows it: its word, or why there is none.
pub fn verdict_shown(result: &FactorResult) -> String {
    match (result.verdict, result.estimate) {
        (Verdict::Open, None) => "not modelled".to_owned(),
        (verdict, _) => verdict.word().to_owned(),
    }
}

/// `gouge at the centre (mm)`
pub fn axis(label: &str, unit: Option<&str>) -> String {
    match unit {
        Some(unit) => format!("{label} ({unit})"),
        None => label.to_owned(),
    }
}

/// A picture's title: `Gouge at the centre against the rating`.
pub fn against(label: &str) -> String {
    format!("{} against the rating", capitalised(label))
}

/// How the picture of all factors is read; `between` where what went from lot to lot is marked in it.
pub fn effects_reading(between: bool) -> String {
    let open_mark = " The open mark is what went from lot to lot, where longer habits and better cane may hide.";
    format!(
        "Each row is a factor, and how far the rating moved for the step named beside it. The thick line holds the middle half of what is plausible, the thin line \
         95 %. Inside the shaded band a difference is too small to bother.{}",
        if between { open_mark } else { "" }
    )
}

/// What keeps reeds of the same lot from being compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lots {
    /// They are compared, or the log names none.
    Sound,
    TooSmall,
    /// All rated reeds are of one.
    One,
}
/// How the picture of a number is read.
pub const NUMBER_READING: &str = "Every dot is a reed. The line has the slope found among reeds of the same lot, after \
                                  what came before in the making is taken into account; the shade is what that slope \
                                  may well be. The dots also differ by lot and by all else.";
/// How the picture of a choice is read.
pub const CHOICE_READING: &str = "Every dot is a reed. The bars are the plain means of each choice with the range they \
                                  may well have; the verdict compares reeds of the same lot and is the one to go by.";

/// Warnings about this answer.
///
/// `only_straight` holds the names of the numbers in which no bend was looked for.
pub fn caveats(
    list_of: &[(FactorResult, String)],
    only_straight: &[String],
    lots: Lots,
) -> Vec<String> {
    let mut caveats = vec![
        "This is what went together in the log. Whether changing a practice changes the reeds takes a trial."
            .to_owned(),
    ];
    if !only_straight.is_empty() {
        caveats.push(format!(
            "Only a straight effect was looked for in {}: a best value in the middle, with too little and too much both \
             worse, would not show there. A curve takes 30 rated reeds and six different values.",
            few(only_straight)
        ));
    }
    match lots {
        Lots::Sound => {}
        Lots::TooSmall => caveats.push(
            "The lots have too few rated reeds each to compare reeds of the same lot, so lots and methods are mixed \
             here: a method used on good cane looks good."
                .to_owned(),
        ),
        Lots::One => caveats.push(
            "All rated reeds are of one lot, so the log cannot say whether this holds in another."
                .to_owned(),
        ),
    }
    let unplaced = labels_where(list_of, |result| result.stage == Stage::Unplaced);
    if !unplaced.is_empty() {
        let (has, is) = if unplaced.len() == 1 { ("has", "is") } else { ("have", "are") };
        caveats.push(format!(
            "{} {has} no stage of the making and so {is} not adjusted for what came before; give {} a stage in \
             study.toml.",
            few(&unplaced),
            if unplaced.len() == 1 { "it" } else { "them" }
        ));
    }
    let not_modelled = labels_where(list_of, |result| {
        result.estimate.is_none() && result.verdict != Verdict::Tangled
    });
    caveats.extend(not_modelled_why(list_of, &not_modelled));
    caveats
}

fn labels_where(
    list_of: &[(FactorResult, String)],
    wanted: impl Fn(&FactorResult) -> bool,
) -> Vec<String> {
    let mut labels: Vec<String> = list_of
        .iter()
        .filter(|(result, _)| wanted(result))
        .map(|(_, label)| label.clone())
        .collect();
    labels.dedup();
    labels
}

/// Why factors were not modelled, the first reasons in full.
fn not_modelled_why(list_of: &[(FactorResult, String)], labels: &[String]) -> Option<String> {
    const SHOWN: usize = 4;
    if labels.is_empty() {
        return None;
    }
    let why = |label: &String| {
        let (result, _) = list_of.iter().find(|(_, known)| known == label)?;
        result.not_modelled.clone()
    };
    let mut reasons: Vec<String> = labels.iter().filter_map(why).collect();
    reasons.dedup();
    let more = reasons.len().saturating_sub(SHOWN);
    reasons.truncate(SHOWN);
    let more = if more > 0 { format!("; and {more} more") } else { String::new() };
    Some(format!("Not modelled: {}{more}.", reasons.join("; ")))
}

/// The picture of all factors in words.
pub fn description<'a>(results: impl Iterator<Item = &'a FactorResult>) -> String {
    let standing: Vec<String> = results
        .filter(|result| matches!(result.verdict, Verdict::Clear | Verdict::Leaning))
        .map(|result| result.sentence.clone())
        .collect();
    if standing.is_empty() {
        "No factor stands out: every interval reaches across zero or is tangled.".to_owned()
    } else {
        standing.join(" ")
    }
}
