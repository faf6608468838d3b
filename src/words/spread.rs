//! Sentences about how even the reeds are, and about readings that err.

use super::digits::{change, decimals, number, percent, plural};
use super::factors::{FactorWords, step_in_words};
use super::lists::few;
use crate::finding::{FactorResult, Interval, Spread, TrueStep};

/// `Reeds with “crosshatch” were less even: their spread was 1.8 (1.3 to 2.5) times that of “none”.`
pub fn sentence(result: &FactorResult, words: &FactorWords, spread: &Spread) -> String {
    let even = if spread.ratio > 1.0 { "less even" } else { "more even" };
    let times = times(spread);
    match (&result.level, &result.reference) {
        (Some(level), Some(reference)) => format!(
            "Reeds with “{level}” were {even}: their spread was {times} times that of “{reference}”."
        ),
        _ => format!(
            "Per {} the reeds were {even}: their spread was {times} times as large.",
            step_in_words(result, words)
        ),
    }
}

/// A ratio reads further up than down, so the nearer end decides the digits.
fn times(spread: &Spread) -> String {
    let places = decimals((spread.ratio - spread.low).min(spread.high - spread.ratio));
    let [ratio, low, high] =
        [spread.ratio, spread.low, spread.high].map(|value| number(value, places));
    format!("{ratio} ({low} to {high})")
}

/// What the effect is for one true step.
pub fn corrected(found: &TrueStep, pieces: usize) -> String {
    let effect = Interval { estimate: found.estimate, low: found.low, high: found.high };
    format!(
        "Corrected for its own reading error a true step went with {}: {} of what the effect rests on is no reading \
         error, by {}.",
        change(effect),
        percent(found.reliability),
        read_twice(pieces)
    )
}

fn read_twice(pieces: usize) -> String {
    format!("{} read twice or more", plural(pieces, "piece", "pieces"))
}

/// What was done about readings that err.
pub fn reading_error(corrected: &[String], too_few: &[String], fewest: usize) -> Vec<String> {
    let mut notes = Vec::new();
    if !corrected.is_empty() {
        notes.push(format!(
            "A reading that errs makes its effect look smaller. For a true step only the error of a single reading of the \
             factor itself is corrected ({}), not those of what it is adjusted for.",
            few(corrected)
        ));
    }
    if !too_few.is_empty() {
        notes.push(format!(
            "Too few pieces were read twice to correct for the reading error of {}: it takes {fewest}.",
            few(too_few)
        ));
    }
    notes
}

/// Where the methods come from.
pub fn spread_sources() -> Vec<String> {
    vec![
        "Spread: Brown & Forsythe 1974, J. American Statistical Association 69, 364–367; Layard 1973, the same 68, 195–198; \
         Harvey 1976, Econometrica 44, 461–465"
            .to_owned(),
    ]
}

/// Where the correction comes from.
pub fn reading_error_sources() -> Vec<String> {
    vec![
        "Reading error: Carroll, Ruppert, Stefanski & Crainiceanu 2006, Measurement Error in Nonlinear Models, 2nd ed., \
         chapters 3 and 4"
            .to_owned(),
    ]
}
