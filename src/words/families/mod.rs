//! Sentences about kinds of reeds.

pub mod method;
pub mod pictures;

use super::digits::{change, count, decimals, level, number, percent, plural};
use super::factors::OutcomeWords;
use super::given::given;
use super::lists::{and, few, name};
use crate::finding::{Estimated, FamilyDifference, FamilyResult, Interval, ProfileShape};

/// Where a family differs from the other pieces.
#[derive(Debug, Clone, PartialEq)]
pub enum UnusualAt {
    Measure { label: String, unit: Option<String>, higher_is: Option<String> },
    Profile { line: &'static str, from_tip_mm: f64 },
}

/// How far a family's mean lies from that of the other pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct Unusual {
    pub at: UnusualAt,
    pub difference: Interval,
}

impl Unusual {
    /// The measurement's name and its unit.
    pub fn measure(&self) -> (String, Option<String>) {
        match &self.at {
            UnusualAt::Measure { label, unit, .. } => (label.clone(), unit.clone()),
            UnusualAt::Profile { line, from_tip_mm } => {
                (point(line, *from_tip_mm), Some("mm".to_owned()))
            }
        }
    }

    /// `hardness 7.0 higher (softer)`, `spine 12 mm from the tip 0.04 mm thinner`
    fn words(&self) -> String {
        let Interval { estimate, low, high } = self.difference;
        let size = number(estimate.abs(), decimals((high - low) / 2.0));
        let is_more = estimate > 0.0;
        match &self.at {
            UnusualAt::Measure { label, unit, higher_is } => {
                let unit = unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
                let side = if is_more { "higher" } else { "lower" };
                let meaning = match higher_is {
                    Some(higher) if is_more => format!(" ({})", name(higher)),
                    Some(higher) => format!(" (a higher reading is {})", name(higher)),
                    None => String::new(),
                };
                format!("{} {size}{unit} {side}{meaning}", name(label))
            }
            UnusualAt::Profile { line, from_tip_mm } => {
                let side = if is_more { "thicker" } else { "thinner" };
                format!("{} {size} mm {side}", point(line, *from_tip_mm))
            }
        }
    }
}

/// `spine 12 mm from the tip`
fn point(line: &str, from_tip_mm: f64) -> String {
    format!("{line} {} mm from the tip", given(from_tip_mm))
}

/// The two or three most unusual features, against the pieces of the other kinds.
pub fn description(unusual: &[Unusual]) -> String {
    if unusual.is_empty() {
        return "close to the average in everything".to_owned();
    }
    and(&unusual.iter().map(Unusual::words).collect::<Vec<_>>())
}

/// What a component of the profile is called among the measurements.
pub fn component(number: usize) -> String {
    format!("profile component {number}")
}

pub fn component_heading(number: usize) -> String {
    format!("component {number}, mm")
}

/// The section's answer. `unstable` is a number of kinds that was found but does not come back.
pub fn answer(
    families: &[FamilyResult],
    unstable: Option<usize>,
    pieces: usize,
    features: usize,
) -> String {
    let basis = format!(
        "{} by {}",
        plural(pieces, "piece", "pieces"),
        plural(features, "measurement", "measurements")
    );
    match unstable {
        Some(kinds) => format!(
            "Treat your reeds as one family: a split into {kinds} kinds was found, but a kind of it is too small or is lost when \
             the pieces are drawn again ({basis})."
        ),
        None if families.len() < 2 => {
            format!(
                "Your reeds are one family: no split into kinds stands out from chance ({basis})."
            )
        }
        None => {
            let kinds = families.iter().map(|family| {
                format!("kind {}, {} with {}", family.family, count(family.n), family.words)
            });
            format!(
                "Your reeds fall into {} kinds: {} ({basis}; each kind against all others).",
                families.len(),
                kinds.collect::<Vec<_>>().join("; ")
            )
        }
    }
}

/// How one family was rated.
pub fn sentence(family: &FamilyResult) -> String {
    let kind = format!("Kind {}, {}", family.family, plural(family.n, "piece", "pieces"));
    match (family.rating.rating, family.rating.low, family.rating.high) {
        (Some(estimate), Some(low), Some(high)) => format!(
            "{kind}: rated {} on average, from {}.",
            level(Interval { estimate, low, high }),
            plural(family.rated, "rated reed", "rated reeds")
        ),
        _ if family.rated == 0 => format!("{kind}: none of them was rated."),
        _ => format!(
            "{kind}: how they play cannot be told from {}.",
            plural(family.rated, "rated reed", "rated reeds")
        ),
    }
}

/// How the families differ in rating: those that do, or that none is known to.
pub fn differences(differences: &[FamilyDifference], outcome: OutcomeWords) -> Vec<String> {
    let excludes_zero = |difference: &Estimated| difference.low > 0.0 || difference.high < 0.0;
    let told = |difference: &FamilyDifference| {
        let FamilyDifference { family, against, difference } = difference;
        let Estimated { estimate, low, high } = *difference;
        let moved = change(Interval { estimate, low, high });
        (*family, *against, moved)
    };
    let clear: Vec<String> = differences
        .iter()
        .filter(|one| excludes_zero(&one.difference))
        .map(|one| {
            let (family, against, moved) = told(one);
            let verb = if outcome.is_distance {
                "lay from the ideal, against"
            } else {
                "was rated, against"
            };
            let better = match (outcome.lower_is_better, one.difference.estimate > 0.0) {
                (true, true) => ", which is worse here",
                (true, false) => ", which is better here",
                _ => "",
            };
            format!("Kind {family} {verb} kind {against}: {moved} points{better}.")
        })
        .collect();
    if !clear.is_empty() {
        return clear;
    }
    let largest = differences
        .iter()
        .max_by(|a, b| a.difference.estimate.abs().total_cmp(&b.difference.estimate.abs()));
    largest
        .map(|one| {
            let (family, against, moved) = told(one);
            let which = if differences.len() > 1 { "; the largest difference" } else { "" };
            format!(
                "Which kind is rated higher is open{which}: kind {family} against kind {against} {moved} points."
            )
        })
        .into_iter()
        .collect()
}

/// Families that may be no more than a lot.
pub fn lots(families: &[FamilyResult]) -> Vec<String> {
    let told = |family: &FamilyResult| {
        let lot = family.lot.as_ref()?;
        Some(format!(
            "{} come from lot “{}”: the kind may be no more than that lot.",
            most_of(family, "lot", lot.n, lot.of),
            name(&lot.lot)
        ))
    };
    families.iter().filter_map(told).collect()
}

/// Families that may be no more than one maker's habits.
pub fn makers(families: &[FamilyResult]) -> Vec<String> {
    let told = |family: &FamilyResult| {
        let maker = family.maker.as_ref()?;
        Some(format!(
            "{} were made by “{}”: the kind may be no more than that maker’s habits.",
            most_of(family, "maker", maker.n, maker.of),
            name(&maker.maker)
        ))
    };
    families.iter().filter_map(told).collect()
}

/// `18 of the 20 pieces of kind 2`, or of those of which it is known.
fn most_of(family: &FamilyResult, what: &str, n: usize, of: usize) -> String {
    let known = if of < family.n { format!(" whose {what} is known") } else { String::new() };
    format!(
        "{} of the {} of kind {}{known}",
        count(n),
        plural(of, "piece", "pieces"),
        family.family
    )
}

/// The kinds that are not compared on the rating, and why; `all` where no two kinds are.
pub fn tangled(kinds: &[usize], all: bool) -> Option<String> {
    let named: Vec<String> = kinds.iter().map(usize::to_string).collect();
    match kinds {
        [] => None,
        _ if all => Some(
            "The kinds cannot be told from who made or played their reeds, so they are not compared on the rating."
                .to_owned(),
        ),
        [one] => Some(format!(
            "Kind {one} cannot be told from who made or played its reeds, so it is not compared with the others on the rating."
        )),
        _ => Some(format!(
            "Kinds {} cannot be told from who made or played their reeds, so they are not compared with the others on the rating.",
            and(&named)
        )),
    }
}

/// By what the kinds were found.
pub fn told_by(labels: &[String]) -> String {
    format!(
        "The kinds lie apart in {}; the other measurements did not help to tell them.",
        few(labels)
    )
}

/// What the profiles differ by.
pub fn profile(profile: &ProfileShape) -> String {
    let first = profile.components.first().map_or(0.0, |component| component.explained);
    format!(
        "The profiles of {} differ along one shape by {} of their variance.",
        plural(profile.pieces, "piece", "pieces"),
        percent(first)
    )
}

/// Where another way of parting parts otherwise.
pub fn agreement(index: f64) -> Option<String> {
    const AGREE_FROM: f64 = 0.8;
    (index < AGREE_FROM).then(|| {
        format!(
            "A mixture of normal clouds parts the same pieces otherwise (agreement {} of 1), so where one kind ends and the next \
             begins is not settled.",
            number(index.max(0.0), 2)
        )
    })
}

/// On how many pieces the number was chosen.
pub fn sampled(looked_at: usize, pieces: usize) -> Option<String> {
    (looked_at < pieces).then(|| {
        format!(
            "Whether there are kinds and how many was judged by {} of the {} pieces, drawn by chance; the others count with the kind \
             that they are nearest to.",
            count(looked_at),
            count(pieces)
        )
    })
}

/// Numbers that are choices.
pub fn choices(labels: &[String]) -> Option<String> {
    let [verb, noun] = if labels.len() == 1 { ["takes", "a choice"] } else { ["take", "choices"] };
    (!labels.is_empty()).then(|| {
        format!(
            "Not among the measurements, because {} {verb} fewer than six different values and so {} {noun}.",
            few(labels),
            if labels.len() == 1 { "is" } else { "are" }
        )
    })
}

/// Measurements with too many gaps.
pub fn given_up(labels: &[String]) -> Option<String> {
    (!labels.is_empty()).then(|| {
        format!(
            "Not among the measurements, because too many pieces lack {}: {}.",
            if labels.len() == 1 { "it" } else { "them" },
            few(labels)
        )
    })
}

/// Profiles that could not be used.
pub const PROFILE_UNUSED: &str = "The profile readings are not among the measurements: too few pieces were read along the same stretch \
                                  of the blade.";

/// Why a difference between kinds is no advice.
pub const CAVEAT: &str = "Nobody assigned the reeds to these kinds: a difference in rating between them may \
                          come from the lot, the season or the hand that made them.";

/// What one family leaves open.
pub const MISSED: &str = "Kinds that overlap much, or hold few pieces, would not have been seen; and a choice, such as the shape, is no \
                          measurement and makes no kind here.";

/// What a log with too few measurements holds.
pub fn too_few_measurements(unplaced: usize, choices: usize) -> String {
    let ignored = match unplaced {
        0 => String::new(),
        1 => "; one column of numbers has no stage of the making and does not count".to_owned(),
        more => format!("; {more} columns of numbers have no stage of the making and do not count"),
    };
    let chosen = match choices {
        0 => String::new(),
        1 => "; one number takes fewer than six different values and is a choice".to_owned(),
        more => format!("; {more} numbers take fewer than six different values and are choices"),
    };
    format!(
        "The log has fewer than two measurements that most pieces have and that differ{ignored}{chosen}."
    )
}

/// What a log with too few whole pieces holds.
pub fn too_few(pieces: usize) -> String {
    match pieces {
        0 => "No piece has all of the measurements.".to_owned(),
        1 => "Only one piece has all of the measurements.".to_owned(),
        _ => format!("Only {pieces} pieces have all of the measurements."),
    }
}

/// What stood in the model of the ratings beside the kinds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RatingWords {
    /// As columns: `players`, `makers`.
    pub fixed: Vec<&'static str>,
    /// Deviating at random: `lots`, `reeds`.
    pub random: Vec<&'static str>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unusual(at: UnusualAt, estimate: f64, reach: f64) -> Unusual {
        let difference = Interval { estimate, low: estimate - reach, high: estimate + reach };
        Unusual { at, difference }
    }

    fn hardness(higher_is: Option<&str>) -> UnusualAt {
        let higher_is = higher_is.map(str::to_owned);
        UnusualAt::Measure { label: "hardness".to_owned(), unit: None, higher_is }
    }

    #[test]
    fn a_kind_is_told_by_size_unit_and_side() {
        let gouge = UnusualAt::Measure {
            label: "gouge at the centre".to_owned(),
            unit: Some("mm".to_owned()),
            higher_is: None,
        };
        let spine = UnusualAt::Profile { line: "spine", from_tip_mm: 12.5 };
        let told = description(&[
            unusual(gouge, 0.141, 0.012),
            unusual(hardness(Some("softer")), -7.0, 0.4),
            unusual(spine, -0.04, 0.01),
        ]);
        assert_eq!(
            told,
            "gouge at the centre 0.141 mm higher, hardness 7.00 lower (a higher reading is softer) and spine 12.5 mm from \
             the tip 0.040 mm thinner"
        );
        assert_eq!(description(&[]), "close to the average in everything");
    }

    #[test]
    fn an_interval_that_holds_zero_is_open_and_one_that_does_not_is_told() {
        let difference = |low, high| FamilyDifference {
            family: 1,
            against: 2,
            difference: Estimated { estimate: 0.5 * (low + high), low, high },
        };
        let outcome = OutcomeWords { lower_is_better: false, is_distance: false };
        let open = differences(&[difference(-0.4, 0.8)], outcome);
        assert_eq!(
            open,
            [
                "Which kind is rated higher is open: kind 1 against kind 2 +0.2 (−0.4 to +0.8) points."
            ]
        );
        let marks = OutcomeWords { lower_is_better: true, is_distance: false };
        let clear = differences(&[difference(-0.4, 0.8), difference(0.2, 1.4)], marks);
        assert_eq!(
            clear,
            ["Kind 1 was rated, against kind 2: +0.8 (+0.2 to +1.4) points, which is worse here."]
        );
        assert!(differences(&[], outcome).is_empty());
    }
}
