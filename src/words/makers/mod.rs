//! Sentences about several makers.

mod method;

use super::digits::{change, count_in_words, level, percent, plural};
use super::factors::{OutcomeWords, capitalised, excludes_zero};
use super::given::given;
use super::lists::{and, few, name};
use crate::finding::{
    EffectAcrossMakers, Estimated, Interval, MakerEffect, MakerPractice, MakerResult,
    MakersVerdict, PracticeByMaker,
};

pub use method::{assumptions, model, sources};

pub const TAKES_MAKERS: &str = "It takes two: name the log of each, as in `canewright makers LOG LOG`, or keep a column “maker” in reeds.csv.";
pub const WITHOUT_MAKER: &str = "without a maker";
pub const ALL_MAKERS: &str = "(all together)";
/// Under this share in common, pieces lie mostly apart.
const MOSTLY_APART: f64 = 0.5;
/// So many practices, and so many makers of each, are named in a sentence.
const PRACTICES_TOLD: usize = 3;
const MAKERS_TOLD: usize = 4;

pub fn too_few_makers(makers: usize) -> String {
    match makers {
        0 => "The log names no maker.".to_owned(),
        _ => "The log is of one maker.".to_owned(),
    }
}

/// Why mean ratings of makers are not compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotCompared {
    /// Fewer than two makers have a rated reed.
    OneRated,
    /// Some ratings bear no player's name.
    Nameless,
    /// Each player rated the reeds of one maker only.
    EachTheirOwn,
    /// Some players rated for several makers, but not enough to compare all players.
    PlayersApart,
}

impl NotCompared {
    pub fn told(self) -> &'static str {
        match self {
            NotCompared::OneRated => {
                "Fewer than two makers have a rated reed, so mean ratings are not compared."
            }
            NotCompared::Nameless => {
                "Some ratings bear no player's name, so a difference between makers cannot be told from a difference between players: mean ratings are not compared, \
                 and shares of good reeds are as each maker's players saw them."
            }
            NotCompared::EachTheirOwn => {
                "Each player rated the reeds of one maker only, so a difference between makers cannot be told from a difference between players: mean ratings are not \
                 compared, and shares of good reeds are as each maker's players saw them."
            }
            NotCompared::PlayersApart => {
                "The players share too few reeds or lots to be compared with each other, so a difference between makers cannot be told from one between players: mean \
                 ratings are not compared, and shares of good reeds are as each maker's players saw them."
            }
        }
    }
}

/// Whether a player's name is a maker's, whatever the case and the space around it.
pub fn same_person(maker: &str, player: &str) -> bool {
    maker.trim().to_lowercase() == player.trim().to_lowercase()
}

/// What a measurement is called, and what a higher reading means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EffectLabel {
    pub label: String,
    pub higher_is: Option<String>,
}

fn shown(estimated: Estimated) -> Interval {
    Interval { estimate: estimated.estimate, low: estimated.low, high: estimated.high }
}

/// `ann started 40 pieces: 4 spoiled, 1.0 (0.3 to 2.4) of ten; 30 reeds rated; …`
pub fn of_maker(result: &MakerResult) -> String {
    let mut parts = Vec::new();
    if let (Some(spoiled), Some(share)) = (result.spoiled, result.spoiled_per_ten) {
        parts.push(format!("{} spoiled, {} of ten", spoiled, level(shown(share))));
    }
    parts.push(format!("{} rated", plural(result.rated, "reed", "reeds")));
    if let Some(good) = result.good_per_ten {
        parts.push(format!("good reeds of ten pieces with a known end: {}", level(shown(good))));
    }
    if let Some(own) = result.by_own_hand.filter(|_| result.ratings > 0) {
        let all = plural(result.ratings, "rating", "ratings");
        parts.push(format!("{own} of {all} by their own hand"));
    }
    format!(
        "{} started {}: {}.",
        name(&result.maker),
        plural(result.pieces, "piece", "pieces"),
        parts.join("; ")
    )
}

/// How far the mean ratings lie apart; none where they are not known of two makers.
pub fn means(list: &[MakerResult], p_differ: Option<f64>, outcome: OutcomeWords) -> Option<String> {
    let of = |result: &MakerResult| {
        let mean = Interval { estimate: result.mean?, low: result.low?, high: result.high? };
        Some((mean, name(&result.maker)))
    };
    let mut known: Vec<(Interval, String)> = list.iter().filter_map(of).collect();
    known.sort_by(|(a, _), (b, _)| a.estimate.total_cmp(&b.estimate));
    let ([(low, one), .., (high, other)], Some(p)) = (known.as_slice(), p_differ) else {
        return None;
    };
    let verdict = match p <= 0.05 {
        true => "The makers differ by more than chance gives.",
        false => "The logs cannot tell whether the makers differ.",
    };
    let ideal = if outcome.is_distance { " (a distance from the ideal)" } else { "" };
    Some(format!(
        "With the players' leniency taken out, the mean rating{ideal} goes from {} for {one} to {} for {other}. {verdict}",
        level(*low),
        level(*high),
    ))
}

/// In which practices the makers' pieces lie apart; none where none can be compared.
pub fn practices(list: &[(PracticeByMaker, String)]) -> Option<String> {
    let overlap = |practice: &PracticeByMaker| practice.overlap;
    let known: Vec<(&PracticeByMaker, &String, f64)> = list
        .iter()
        .filter_map(|(practice, label)| Some((practice, label, overlap(practice)?)))
        .collect();
    let (_, least, share) = known.first()?;
    if *share >= MOSTLY_APART {
        return Some(format!(
            "In every practice that can be compared two makers have half of their pieces in common or more; least in {least} ({}, pairs of makers averaged).",
            percent(*share)
        ));
    }
    let apart = known.iter().filter(|(.., share)| *share < MOSTLY_APART);
    let count = apart.clone().count();
    let mut told: Vec<String> = apart
        .take(PRACTICES_TOLD)
        .map(|(practice, label, share)| {
            format!("{label} ({} in common; {})", percent(*share), usual(practice))
        })
        .collect();
    if count > PRACTICES_TOLD {
        told.push(format!("{} more", count_in_words(count - PRACTICES_TOLD)));
    }
    Some(format!("Two makers' pieces lie mostly apart in {}.", and(&told)))
}

/// `1.3 mm for ann, 1.42 mm for ben`
fn usual(practice: &PracticeByMaker) -> String {
    let unit = practice.unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
    let one = |own: &MakerPractice| {
        let value = match (own.median, &own.commonest) {
            (Some(median), _) => format!("{}{unit}", given(median)),
            (None, Some(kind)) => format!("mostly {}", name(kind)),
            (None, None) => return None,
        };
        Some(format!("{value} for {}", name(&own.maker)))
    };
    let mut told: Vec<String> = practice.list.iter().filter_map(one).collect();
    if told.len() > MAKERS_TOLD + 1 {
        let more = told.len() - MAKERS_TOLD;
        told.truncate(MAKERS_TOLD);
        told.push(format!("{} more", count_in_words(more)));
    }
    told.join(", ")
}

fn of_effect(effect: &MakerEffect) -> Interval {
    Interval { estimate: effect.estimate, low: effect.low, high: effect.high }
}

fn common(effect: &EffectAcrossMakers) -> Interval {
    Interval { estimate: effect.estimate, low: effect.low, high: effect.high }
}

/// `+1 mm`, `+2 softer`
pub fn step(effect: &EffectAcrossMakers, label: &EffectLabel) -> String {
    let step = given(effect.step);
    match (&effect.unit, &label.higher_is) {
        (Some(unit), Some(higher)) => format!("+{step} {unit} {higher}"),
        (Some(unit), None) => format!("+{step} {unit}"),
        (None, Some(higher)) => format!("+{step} {higher}"),
        (None, None) => format!("+{step}"),
    }
}

fn among(effect: &EffectAcrossMakers) -> &'static str {
    match effect.list.iter().all(|own| own.lots > 0) {
        true => "among reeds of the same maker and lot",
        false => "among reeds of the same maker",
    }
}

/// One measurement's sentence.
pub fn effect(effect: &EffectAcrossMakers, label: &EffectLabel, outcome: OutcomeWords) -> String {
    let subject = outcome.subject();
    let opening = format!("for {} {subject} moved", step(effect, label));
    let (named, among) = (capitalised(&label.label), among(effect));
    let makers = match effect.list.len() {
        2 => "both".to_owned(),
        n => format!("all {}", count_in_words(n)),
    };
    let over_all = change(common(effect));
    match effect.verdict {
        MakersVerdict::Differs => {
            format!("{named} differs: {opening} by {}, {among}.", each(effect, outcome))
        }
        MakersVerdict::HoldsForAll => {
            let alone = effect.list.iter().filter(|own| excludes_zero(of_effect(own))).count();
            format!(
                "{named} holds for {makers} makers: {opening} by {over_all}{}, {among}. No maker's reeds speak against it; {} show it by themselves.",
                outcome.direction(common(effect)),
                match alone {
                    0 => "those of none".to_owned(),
                    _ => format!("those of {}", count_in_words(alone)),
                }
            )
        }
        MakersVerdict::CannotTell => format!(
            "{named}: the logs cannot tell whether its effect holds for all or differs; {opening} by {over_all} over {makers} makers, {among}."
        ),
    }
}

/// Each maker's effect; of many the lowest and the highest.
fn each(effect: &EffectAcrossMakers, outcome: OutcomeWords) -> String {
    let one = |own: &MakerEffect| {
        let moved = of_effect(own);
        format!("{}{} for {}", change(moved), outcome.direction(moved), name(&own.maker))
    };
    if effect.list.len() <= MAKERS_TOLD {
        return and(&effect.list.iter().map(one).collect::<Vec<_>>());
    }
    let by_size = |a: &&MakerEffect, b: &&MakerEffect| a.estimate.total_cmp(&b.estimate);
    let ends = [effect.list.iter().min_by(by_size), effect.list.iter().max_by(by_size)];
    let told: Vec<String> = ends.into_iter().flatten().map(one).collect();
    format!("{} over {} makers", told.join(" up to "), count_in_words(effect.list.len()))
}

/// The answer: how many makers, and what differs and holds.
pub fn answer(makers: &[MakerResult], effects: &[(EffectAcrossMakers, EffectLabel)]) -> String {
    let pieces: usize = makers.iter().map(|maker| maker.pieces).sum();
    let counted = format!(
        "{} makers started {}.",
        capitalised(&count_in_words(makers.len())),
        plural(pieces, "piece", "pieces")
    );
    if effects.is_empty() {
        return format!(
            "{counted} No measurement can be held against the ratings of two makers or more, so nothing is said of what holds for all."
        );
    }
    let of = |verdict: MakersVerdict| -> Vec<String> {
        let told = effects.iter().filter(|(effect, _)| effect.verdict == verdict);
        told.map(|(_, label)| label.label.clone()).collect()
    };
    let mut said = counted;
    for (verdict, opening) in [
        (MakersVerdict::Differs, "Differs between makers"),
        (MakersVerdict::HoldsForAll, "Holds for all makers"),
        (MakersVerdict::CannotTell, "The logs cannot tell whether it holds for all"),
    ] {
        let labels = of(verdict);
        if !labels.is_empty() {
            said += &format!(" {opening}: {}.", few(&labels));
        }
    }
    said
}

pub const SCALE_USE: &str = "Where makers are rated by different players, one who uses more of the scale makes every effect of that maker look larger: a difference in size alone may be one of \
                             players, one in direction is not.";

/// Warnings about this answer.
pub fn enough(makers: usize, with_enough: usize, looked_at: usize) -> Vec<String> {
    let mut said = Vec::new();
    if with_enough < makers {
        said.push(format!(
            "{} of {} makers have eight rated reeds or more; effects are told of them alone.",
            capitalised(&count_in_words(with_enough)),
            count_in_words(makers)
        ));
    }
    if looked_at < with_enough {
        said.push(format!(
            "Effects are told of the {} makers with most rated reeds.",
            count_in_words(looked_at)
        ));
    }
    said
}

pub const TITLE: &str = "One measurement, each maker";
pub const READING: &str = "Each block is a measurement, each line in it a maker: how far the rating moved for the step named, among that maker's own reeds, with the range it may well have. The \
                           broad pale line is all makers together. The grey band holds what is too small to be worth the bother.";

pub fn description(effects: &[(EffectAcrossMakers, EffectLabel)]) -> String {
    let told =
        effects.iter().map(|(effect, label)| format!("{}: {}", label.label, effect.verdict.word()));
    format!("{}.", told.collect::<Vec<_>>().join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(maker: &str, estimate: f64) -> MakerEffect {
        MakerEffect {
            maker: maker.to_owned(),
            estimate,
            low: estimate - 0.3,
            high: estimate + 0.3,
            df: 20.0,
            used: 30,
            lots: 4,
        }
    }

    fn across(verdict: MakersVerdict, list: Vec<MakerEffect>) -> EffectAcrossMakers {
        EffectAcrossMakers {
            factor: "hardness".to_owned(),
            unit: None,
            step: 2.0,
            verdict,
            estimate: 0.5,
            low: 0.2,
            high: 0.8,
            p: 0.01,
            q: 0.02,
            p_differs: 0.5,
            q_differs: 0.5,
            list,
            sentence: String::new(),
        }
    }

    fn said(verdict: MakersVerdict, list: Vec<MakerEffect>) -> String {
        let label =
            EffectLabel { label: "hardness".to_owned(), higher_is: Some("softer".to_owned()) };
        effect(&across(verdict, list), &label, OutcomeWords::default())
    }

    #[test]
    fn what_differs_is_told_maker_by_maker() {
        let told = said(MakersVerdict::Differs, vec![own("ann", 0.5), own("ben", -0.5)]);
        assert_eq!(
            told,
            "Hardness differs: for +2 softer the rating moved by +0.5 (+0.2 to +0.8) for ann and −0.5 (−0.8 to −0.2) for ben, among reeds of the same maker and lot."
        );
    }

    #[test]
    fn what_holds_for_all_says_how_many_show_it_by_themselves() {
        let told = said(MakersVerdict::HoldsForAll, vec![own("ann", 0.5), own("ben", 0.2)]);
        assert!(told.starts_with("Hardness holds for both makers: for +2 softer"), "{told}");
        assert!(
            told.ends_with(
                "No maker's reeds speak against it; those of one show it by themselves."
            ),
            "{told}"
        );
    }

    #[test]
    fn an_open_question_is_not_called_the_same() {
        let told = said(MakersVerdict::CannotTell, vec![own("ann", 0.5), own("ben", 0.2)]);
        assert!(told.contains("cannot tell whether its effect holds for all or differs"), "{told}");
    }

    #[test]
    fn a_player_is_the_maker_whatever_the_case() {
        assert!(same_person("Ann ", "ann") && !same_person("ann", "anna"));
    }
}
