//! Sentences about criteria beside the main one, kinds of a choice, and what is made of a profile.

use super::digits::{change, count, percent, plural};
use super::factors::{among_reeds, capitalised, on_reeds, step_more, which_way};
use super::given::given;
use super::lists::{and, few};
use crate::catalogue;
use crate::finding::{FactorResult, Interval};

/// A kind is tangled with the only lot that it was found in.
pub const ONE_LOT: &str = "the only lot that has it";
/// What a kind is held against was found in one lot.
pub const REFERENCE_IN_ONE_LOT: &str = "the only lot that has what it is held against";
/// No chain of lots leads from the kind to what it is held against.
pub const NO_SHARED_LOT: &str = "the lots";

/// Why the lots cannot tell a kind from the one it is held against.
pub(super) fn tied_to_lots(result: &FactorResult) -> Option<&'static str> {
    result.level.as_ref()?;
    match result.tangled_with.first().map(String::as_str) {
        Some(ONE_LOT) => Some(
            "All reeds with it are of one lot, so the log cannot tell it from whatever else was particular to that lot.",
        ),
        Some(REFERENCE_IN_ONE_LOT) => Some(
            "All reeds that it would be held against are of one lot, so the log cannot tell the two from whatever else was \
             particular to that lot.",
        ),
        Some(NO_SHARED_LOT) => Some(
            "No lot has both it and what it would be held against, so the log cannot tell the two from their lots.",
        ),
        _ => None,
    }
}

/// `both and crosshatch, joined`
pub fn joined_kinds(names: &[String]) -> String {
    format!("{}, joined", few(names))
}

/// What a row of a model is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    RatedReeds,
    /// Pieces that were at risk of being lost.
    Pieces,
    PlayedReeds,
}

impl Counted {
    /// `rated`, as the beginning of why a row was left out.
    pub fn state(self) -> &'static str {
        match self {
            Self::RatedReeds => "rated",
            Self::Pieces => "at risk",
            Self::PlayedReeds => "played",
        }
    }

    pub fn noun(self) -> &'static str {
        match self {
            Self::RatedReeds => "rated reeds",
            Self::Pieces => "pieces",
            Self::PlayedReeds => "played reeds",
        }
    }

    pub fn every_one(self) -> &'static str {
        match self {
            Self::RatedReeds => "every rated reed",
            Self::Pieces => "every piece",
            Self::PlayedReeds => "every played reed",
        }
    }

    fn short(self) -> &'static str {
        match self {
            Self::RatedReeds | Self::PlayedReeds => "reeds",
            Self::Pieces => "pieces",
        }
    }
}

/// `rated, but of a kind of shape with under 3 reeds (odd)`
pub fn rare_kinds(counted: Counted, label: &str, names: &[String], fewest: usize) -> String {
    let (state, noun) = (counted.state(), counted.short());
    format!("{state}, but of a kind of {label} with under {fewest} {noun} ({})", few(names))
}

/// Why a choice is not modelled whose kinds are too rare.
pub fn kinds_too_rare(counted: Counted, label: &str, enough: usize, fewest: usize) -> String {
    let which = if enough == 0 { "no kind has" } else { "only one kind has" };
    format!("{label}: {which} {fewest} {} or more", counted.noun())
}

/// What a feature of the profile is called.
pub fn feature(name: &str) -> String {
    match name {
        "profile_level" => "mean thickness of the spine",
        "profile_taper" => "rise of the spine over 10 mm",
        "profile_spine_to_rail" => "spine above the rails",
        "profile_spine_to_channel" => "spine above the channels",
        "profile_asymmetry" => "difference between left and right",
        other => other,
    }
    .to_owned()
}

/// `thickness 15 mm from the tip, left rail`
pub fn point(line: &str, from_tip_mm: f64) -> String {
    format!("thickness {} mm from the tip, {}", given(from_tip_mm), line.replace('_', " "))
}

/// How the profile's readings stand in the screen.
pub fn profile_features(labels: &[String], example: Option<&str>) -> String {
    let alone = match example {
        Some(name) => format!(
            " To ask about one reading alone, name it under [decide] in study.toml, as in [decide.{name}]."
        ),
        None => String::new(),
    };
    format!("The profile readings are looked at as {}, not one by one.{alone}", and(labels))
}

/// Why nothing is made of the profile's readings.
pub fn profile_not_used(fewest_distances: usize, covered: f64) -> String {
    format!(
        "The profile readings were not looked at: it takes readings of a line at the same {fewest_distances} distances from \
         the tip or more on at least {} of the rated reeds.",
        percent(covered)
    )
}

/// What a sentence about a criterion needs to know beside the result.
#[derive(Debug, Clone, Copy)]
pub struct CriterionWords<'a> {
    /// The criterion's name in the log: `response`.
    pub criterion: &'a str,
    pub target: Option<f64>,
    pub lower_is_better: bool,
    /// The factor: `gouge at the centre`.
    pub label: &'a str,
    pub higher_is: Option<&'a str>,
    pub lots: usize,
}

/// `Response: gouge at the centre, clear. Per 0.05 mm more response moved by −0.8 (−1.2 to −0.4) among reeds of the same lot; …`
pub fn sentence(result: &FactorResult, words: &CriterionWords) -> String {
    let Some(effect) = super::factors::estimate(result) else { return String::new() };
    let name = name(words.criterion, words.target);
    format!(
        "{}: {}, {}. {} {}; {}.",
        capitalised(&name),
        words.label,
        result.verdict.word(),
        moved(result, words, effect),
        among_reeds(result),
        on_reeds(result, words.lots)
    )
}

fn moved(result: &FactorResult, words: &CriterionWords, effect: Interval) -> String {
    let better = which_way(words.lower_is_better, effect);
    let subject = match words.target {
        Some(_) => "the distance from the ideal".to_owned(),
        None => plain_name(words.criterion),
    };
    let moved = change(effect);
    match (&result.level, &result.reference) {
        (Some(level), Some(reference)) => {
            format!("With “{level}” instead of “{reference}” {subject} moved by {moved}{better}")
        }
        _ => {
            let step = step_more(result, words.higher_is);
            format!("Per {step} {subject} moved by {moved}{better}")
        }
    }
}

/// `pitch`, or `pitch, distance from 5`
pub fn name(criterion: &str, target: Option<f64>) -> String {
    let plain = plain_name(criterion);
    match target {
        Some(target) => format!("{plain}, distance from {}", given(target)),
        None => plain,
    }
}

fn plain_name(criterion: &str) -> String {
    let known = catalogue::known(criterion).map(|known| known.label.to_owned());
    known.unwrap_or_else(|| super::lists::name(&criterion.replace('_', " ")))
}

fn plain_names(criteria: &[String]) -> String {
    few(&criteria.iter().map(|name| plain_name(name)).collect::<Vec<String>>())
}

/// Said where no factor stands out for any further criterion.
pub fn nothing_stands_out(criteria: &[String]) -> String {
    format!("Nothing stands out for {} either, all looked at together.", plain_names(criteria))
}

/// Criteria beyond those that are looked at.
pub fn passed_over(criteria: &[String], most: usize) -> Option<String> {
    let more = plural(criteria.len(), "further criterion was", "further criteria were");
    let said = || {
        format!(
            "The first {most} criteria beside the main one are looked at; {more} not: {}.",
            plain_names(criteria)
        )
    };
    (!criteria.is_empty()).then(said)
}

/// Criteria with too little to hold a factor against.
pub fn too_little(criteria: &[String], fewest: usize) -> Option<String> {
    let said = || {
        format!(
            "Not held against the factors: {}; it takes {fewest} reeds with marks that differ.",
            plain_names(criteria)
        )
    };
    (!criteria.is_empty()).then(said)
}

/// Criteria on another scale than the rating's.
pub fn own_scale(criteria: &[String]) -> Option<String> {
    let said = || {
        format!(
            "The marks for {} lie off the scale of the rating, so a difference there counts as worth having from one twentieth \
             of their spread on.",
            plain_names(criteria)
        )
    };
    (!criteria.is_empty()).then(said)
}

/// Criteria that were held against a part of the reeds.
pub fn thinned(criteria: &[String], most: usize) -> Option<String> {
    let said = || {
        format!(
            "For {}, {} reeds are looked at, chosen evenly over the lots and among the reeds of a lot.",
            plain_names(criteria),
            count(most)
        )
    };
    (!criteria.is_empty()).then(said)
}

/// The heading of the short table.
pub const TABLE_TITLE: &str = "What else of a reed went with the making";

/// What is taken for granted about kinds and criteria.
pub fn assumptions(has_criteria: bool) -> Vec<String> {
    let kinds = "A choice of several kinds counts once among the factors, by a test over all of its kinds; a kind stands out \
                 only where that test does. Rare kinds are joined.";
    let criteria = "The further criteria are screened as one family together, apart from the rating's own; nothing in it was \
                    asked about beforehand, and the smallest difference worth having is the rating's. There each reed \
                    counts once, by the mean of its marks.";
    std::iter::once(kinds).chain(has_criteria.then_some(criteria)).map(str::to_owned).collect()
}

/// Where the methods come from.
pub fn sources() -> Vec<String> {
    vec![
        "Which kinds of a choice differ: Marcus, Peritz & Gabriel 1976, Biometrika 63, 655–660; Shaffer 1986, J. American \
         Statistical Association 81, 826–831"
            .to_owned(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rare_kinds_are_joined_by_name_and_a_long_list_is_cut() {
        let names =
            |count: usize| -> Vec<String> { (0..count).map(|at| format!("k{at}")).collect() };
        assert_eq!(joined_kinds(&names(2)), "k0 and k1, joined");
        assert_eq!(joined_kinds(&names(9)), "k0, k1, k2, k3 and 5 more, joined");
    }

    #[test]
    fn a_criterion_is_called_what_the_catalogue_or_else_the_log_calls_it() {
        assert_eq!(name("response", None), "response");
        assert_eq!(name("warmth_of_tone", None), "warmth of tone");
        assert_eq!(name("pitch", Some(5.0)), "pitch, distance from 5");
    }

    #[test]
    fn criteria_passed_over_are_counted_and_named() {
        let said = passed_over(&["warmth".to_owned(), "focus".to_owned()], 8);
        assert_eq!(
            said.as_deref(),
            Some(
                "The first 8 criteria beside the main one are looked at; 2 further criteria were not: warmth and focus."
            )
        );
        assert_eq!(passed_over(&[], 8), None);
    }
}
