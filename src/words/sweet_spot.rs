//! Sentences about factors whose effect bends.

use super::digits::{change, decimals, level, number};
use super::factors::{FactorWords, among_reeds, capitalised, estimate, judged, moved, on_reeds};
use crate::finding::{FactorResult, Interval, SweetSpot, Verdict};

/// How an effect that is not straight bends.
#[derive(Debug, Clone, PartialEq)]
pub enum Turn {
    /// Too little and too much are both worse.
    Best(Box<BestValue>),
    /// Too little and too much are both better.
    Worst { at: f64 },
    /// It turns nowhere in the middle; it is stronger at one end than at the other.
    Uneven,
}

/// A best value and how it was found.
#[derive(Debug, Clone, PartialEq)]
pub struct BestValue {
    pub spot: SweetSpot,
    /// Whether it was read off the spline because the parabola puts it elsewhere.
    pub by_spline: bool,
}

/// `Forming time: a best value in the middle, 10.2 days (8.9 to 11.4). From there to 4 days the rating moved by −1.2 (−1.8 to −0.6) among reeds of the same
/// lot; …`
pub fn sentence(result: &FactorResult, words: &FactorWords, turn: &Turn) -> String {
    let subject = capitalised(words.label);
    match turn {
        Turn::Best(best) => format!(
            "{subject}: {}. From there to {} {} moved by {}{}{} {}; {}.",
            best_value(result, best),
            in_unit(&number(best.spot.far_end, decimals_of(&best.spot)), result),
            words.outcome.subject(),
            change(best.spot.change_to_far_end),
            words.outcome.direction(best.spot.change_to_far_end),
            small_drop(result),
            among_reeds(result),
            on_reeds(result, words.lots)
        ),
        Turn::Worst { at } => format!(
            "{subject}: not straight, and worst in the middle, near {}; the log gives no best value. {}",
            in_unit(&rough(*at), result),
            straight(result, words)
        ),
        Turn::Uneven => format!(
            "{subject}: not straight, the same step goes with more at one end than at the other. {}",
            straight(result, words)
        ),
    }
}

fn best_value(result: &FactorResult, best: &BestValue) -> String {
    let spot = &best.spot;
    let beside = if best.by_spline {
        ", read off a free curve because a simple arch puts it elsewhere"
    } else {
        ""
    };
    let decimals = decimals_of(spot);
    let value = |value: f64| in_unit(&number(value, decimals), result);
    match (spot.low, spot.high) {
        (Some(low), Some(high)) => {
            let shown = level(Interval { estimate: spot.at, low, high });
            format!("a best value in the middle, {}{beside}", in_unit(&shown, result))
        }
        (Some(low), None) => {
            no_end(&value(spot.at), &format!("anything from {} up", value(low)), beside)
        }
        (None, Some(high)) => {
            no_end(&value(spot.at), &format!("anything up to {}", value(high)), beside)
        }
        (None, None) => no_end(&value(spot.at), "almost any other value", beside),
    }
}

fn no_end(at: &str, others: &str, beside: &str) -> String {
    format!(
        "a best value near {at}{beside}, but its interval has no end: {others} could be the best as well"
    )
}

/// Digits that what is known of the best value supports.
fn decimals_of(spot: &SweetSpot) -> usize {
    let reach = match (spot.low, spot.high) {
        (Some(low), Some(high)) => (high - low) / 2.0,
        (Some(low), None) => spot.at - low,
        (None, Some(high)) => high - spot.at,
        (None, None) => spot.spline.map_or(f64::NAN, |spline| (spline.high - spline.low) / 2.0),
    };
    decimals(reach)
}

/// Two digits of a value whose error nobody states.
fn rough(value: f64) -> String {
    number(value, decimals(value.abs()))
}

fn in_unit(value: &str, result: &FactorResult) -> String {
    match &result.unit {
        Some(unit) => format!("{value} {unit}"),
        None => value.to_owned(),
    }
}

fn small_drop(result: &FactorResult) -> &'static str {
    if result.verdict == Verdict::Negligible { ", too little to bother" } else { "" }
}

/// The straight line, where it is all there is to tell.
fn straight(result: &FactorResult, words: &FactorWords) -> String {
    match estimate(result) {
        Some(effect) => format!(
            "As a straight line: {}. {} {}; {}.",
            judged(result.verdict, effect, words.worthwhile),
            moved(result, words, effect),
            among_reeds(result),
            on_reeds(result, words.lots)
        ),
        None => String::new(),
    }
}

/// `forming time, best near 10.2 days`, in the section's answer.
pub fn named(label: &str, result: &FactorResult, spot: &SweetSpot) -> String {
    let at = in_unit(&number(spot.at, decimals_of(spot)), result);
    format!("{label}, {}: best near {at}, worse below and above", result.verdict.word())
}

/// Where the methods come from.
pub fn sources() -> Vec<String> {
    vec!["Best values: Fieller 1954, J. Royal Statistical Society B 16, 175–185".to_owned()]
}

/// How a picture with a curve is read.
pub const CURVE_READING: &str = "Every dot is a reed. The curve is the one found among reeds of the same lot, after what \
                                 came before in the making is taken into account; the shade is what that curve may well \
                                 be against the average reed. The ring above the axis is the best value and its bar the \
                                 range it may well have, with an arrow where that goes on.";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Estimated;

    fn spot(low: Option<f64>, high: Option<f64>) -> SweetSpot {
        let unbounded = low.is_none() || high.is_none();
        let spline = Some(Estimated { estimate: 9.5, low: 7.0, high: 13.0 });
        SweetSpot {
            at: 10.2,
            low,
            high,
            p_bend: 0.001,
            q_bend: Some(0.01),
            unbounded,
            spline,
            far_end: 4.0,
            change_to_far_end: Interval { estimate: -1.2, low: -1.8, high: -0.6 },
        }
    }

    #[test]
    fn a_best_value_has_its_interval_in_its_own_digits() {
        assert_eq!(decimals_of(&spot(Some(8.9), Some(11.4))), 1);
        assert_eq!(decimals_of(&spot(Some(-30.0), None)), 0);
    }

    #[test]
    fn a_value_without_a_known_error_has_two_digits() {
        assert_eq!((rough(10.24), rough(0.623)), ("10".to_owned(), "0.62".to_owned()));
    }
}
