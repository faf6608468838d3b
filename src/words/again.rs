//! Sentences about the same question asked in other ways.

use super::digits::{change, percent};
use super::factors::{FactorWords, step_in_words};
use crate::finding::{Estimated, FactorResult, Interval};

/// What was asked of a factor, so that the text says what was done with this log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct AgainWords {
    pub ordered: bool,
    /// Whether marks were grouped into ten categories.
    pub grouped: bool,
    /// Whether good or not was asked with lots that deviate at random, and with Firth's penalty.
    pub good_mixed: bool,
    pub good_firth: bool,
    pub spoiled: bool,
    /// Whether cells are empty often enough to be filled in, and whether they were.
    pub gaps: bool,
    pub imputed: bool,
    /// Whether the reeds were too many to ask of all.
    pub thinned: bool,
}

impl AgainWords {
    /// What was done for either factor.
    pub fn and(self, other: Self) -> Self {
        Self {
            ordered: self.ordered || other.ordered,
            grouped: self.grouped || other.grouped,
            good_mixed: self.good_mixed || other.good_mixed,
            good_firth: self.good_firth || other.good_firth,
            spoiled: self.spoiled || other.spoiled,
            gaps: self.gaps || other.gaps,
            imputed: self.imputed || other.imputed,
            thinned: self.thinned || other.thinned,
        }
    }
}

fn interval(answer: Estimated) -> Interval {
    Interval { estimate: answer.estimate, low: answer.low, high: answer.high }
}

/// `Per 7 days more` or `With “crosshatch” instead of “none”`.
fn for_the_change(result: &FactorResult, words: &FactorWords) -> String {
    match (&result.level, &result.reference) {
        (Some(level), Some(reference)) => format!("With “{level}” instead of “{reference}”"),
        _ => format!("Per {}", step_in_words(result, words)),
    }
}

/// Spoiled pieces went along with the factor. `is_flattered` where the side that spoils more is also the side that is rated better.
pub fn survivors(
    result: &FactorResult,
    words: &FactorWords,
    spoilage: Estimated,
    is_flattered: bool,
) -> String {
    let lost = format!(
        "{} the pieces spoiled before the first note moved by {} in ten",
        for_the_change(result, words),
        change(interval(spoilage))
    );
    let good = result.good_per_ten.map_or(String::new(), |good| {
        format!("; over all pieces started, good reeds moved by {} in ten", change(interval(good)))
    });
    let warning = if is_flattered {
        " The ratings tell of the reeds that were left, and may flatter what spoils the weak ones."
    } else {
        ""
    };
    format!("{lost}{good}.{warning}")
}

/// The rating says one thing, the count of good reeds the other.
pub fn good_is_opposite(result: &FactorResult, words: &FactorWords, good: Estimated) -> String {
    format!(
        "Counted in good reeds over all pieces started, it is the other way round: {} they moved by {} in ten.",
        uncapitalised(&for_the_change(result, words)),
        change(interval(good))
    )
}

/// The rating moved, and hardly any more of the pieces became good reeds.
pub fn good_is_little(result: &FactorResult, words: &FactorWords, good: Estimated) -> String {
    format!(
        "In good reeds over all pieces started it is little: {} they moved by {} in ten.",
        uncapitalised(&for_the_change(result, words)),
        change(interval(good))
    )
}

/// The rating does not stand out, the count of good reeds does.
pub fn good_is_more(result: &FactorResult, words: &FactorWords, good: Estimated) -> String {
    format!(
        "The ratings alone do not show it, but {} good reeds over all pieces started moved by {} in ten.",
        uncapitalised(&for_the_change(result, words)),
        change(interval(good))
    )
}

pub const ORDERED_IS_OPPOSITE: &str = "Where only the order of the marks counts, and not how far apart they are, it is the other way round.";
pub const ORDERED_IS_OPEN: &str = "Where only the order of the marks counts, and not how far apart they are, it does not stand out.";
pub const UNEVEN: &str = "It may not be the same all along the scale: low marks and high ones went along with it differently.";

/// The headline stands out, and with the empty cells filled in it does not.
pub fn imputed_is_open(imputed: Estimated) -> String {
    format!(
        "With the empty cells of the other columns filled in it does not hold: {}.",
        change(interval(imputed))
    )
}

/// The headline does not stand out, and with the empty cells filled in it does.
pub fn imputed_is_more(imputed: Estimated) -> String {
    format!(
        "With the empty cells of the other columns filled in it would stand out: {}.",
        change(interval(imputed))
    )
}

fn uncapitalised(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_lowercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// As a warning: `Days on the pin: …`.
pub fn caveat(result: &FactorResult, label: &str) -> Option<String> {
    let told = &result.asked_again.differs;
    let subject = match &result.level {
        Some(level) => format!("{label} “{level}”"),
        None => label.to_owned(),
    };
    let text = || format!("{}: {}", super::factors::capitalised(&subject), told.join(" "));
    (!told.is_empty()).then(text)
}

/// What was asked again, and how.
pub fn methods(words: AgainWords, shares: &[f64]) -> Vec<String> {
    let good = match (words.good_mixed, words.good_firth) {
        (true, true) => {
            "a random intercept a lot, and Firth's penalty where something foretells the outcome without error or lots cannot be told apart"
        }
        (true, false) => "a random intercept a lot",
        _ => "Firth's penalty",
    };
    let grouped = if words.grouped {
        " More than twelve different marks are grouped into ten by their quantiles."
    } else {
        ""
    };
    let most = shares.iter().copied().fold(0.0, f64::max);
    [
        (
            words.ordered,
            format!(
                "Asked again of the ratings as ordered categories: proportional odds on the same columns, errors robust to lots.{grouped}"
            ),
        ),
        (
            words.good_mixed || words.good_firth,
            format!(
                "Asked again of good reeds over all pieces that were started, got as far as the factor and are through: logistic regression with {good}, \
                 with fewer adjusters where the rarer outcome has under five pieces a column. Good reeds in ten are the average over the pieces at \
                 hand, each half a step further on, less the same half a step back."
            ),
        ),
        (
            words.spoiled,
            "Asked again of pieces spoiled before the first note, at the factor's stage or later: logistic regression with Firth's penalty, errors robust to \
             lots. One such interval in twenty leaves out zero by chance; none is adjusted for the number of factors."
                .to_owned(),
        ),
        (
            words.imputed,
            format!(
                "Asked again with empty cells of what is adjusted for filled in (up to {} of them): twenty tables by chained equations, one mixed model of the \
                 reeds' scores each, pooled by Rubin's rules.",
                percent(most)
            ),
        ),
        (
            words.gaps && !words.imputed,
            "The cells of what is adjusted for have gaps that could not be filled in: too many reeds, or too few for the columns.".to_owned(),
        ),
        (
            words.thinned,
            "There are very many reeds, so the other ways of asking take some of them, chosen evenly over the lots and among the reeds of a lot.".to_owned(),
        ),
    ]
    .into_iter()
    .filter_map(|(is_done, text)| is_done.then_some(text))
    .collect()
}

/// Where the methods come from.
pub fn sources(words: AgainWords) -> Vec<String> {
    [
        (words.ordered, "Proportional odds: McCullagh 1980, JRSS B 42, 109–142; Peterson & Harrell 1990, Applied Statistics 39, 205–217"),
        (
            words.good_mixed,
            "Random intercepts: Pinheiro & Bates 1995, J. Computational and Graphical Statistics 4, 12–35",
        ),
        (
            words.good_firth || words.spoiled,
            "Yes or no: Firth 1993, Biometrika 80, 27–38; Heinze & Schemper 2002, Statistics in Medicine 21, 2409–2419",
        ),
        (
            words.good_mixed || words.good_firth || words.spoiled,
            "Standardisation: Lane & Nelder 1982, Biometrics 38, 613–621",
        ),
        (
            words.imputed,
            "Empty cells: van Buuren 2018, Flexible Imputation of Missing Data; Barnard & Rubin 1999, Biometrika 86, 948–955",
        ),
    ]
    .into_iter()
    .filter(|(is_done, _)| *is_done)
    .map(|(_, text)| text.to_owned())
    .collect()
}
