//! What to beware of in a plan.

use std::collections::BTreeSet;

use super::{LotsWords, PlanWords, reckoned_points, times};
use crate::finding::TrialPlanSection;
use crate::words::digits::{count, plural};
use crate::words::lists::{name, or};
use crate::words::spelling::did_you_mean;

/// Specific warnings.
pub fn caveats(plan: &TrialPlanSection, words: &PlanWords) -> Vec<String> {
    let one_lot = (plan.blocks.len() == 1).then(|| {
        "One lot alone: what the trial shows holds for that cane, and says little of the next lot. `--lots` names more.".to_owned()
    });
    let new = (words.lots == LotsWords::New).then(|| {
        "The lots stand for cane that is still to be chosen. Once you know it, plan again with its names as your log will write them, \
         such as `--lots \"A,B,C,D\"`, before the first piece is made."
            .to_owned()
    });
    let at_hand = (words.lots == LotsWords::AtHand).then(|| {
        "The lots are those with cane left by the log (bought less started). `--lots` names others.".to_owned()
    });
    let elsewhere = words.present_elsewhere.map(|present| {
        let first = plan.arms.first().map_or("", |arm| arm.name.as_str());
        format!(
            "Your present practice, {}, is not in the trial; the others are compared with {}.",
            name(present),
            name(first)
        )
    });
    let untried = (!words.untried.is_empty()).then(|| {
        format!(
            "The log holds nothing like {}: how reeds made so scatter, and how many of them spoil, is not known.{}",
            or(&words.untried.iter().map(|arm| name(arm)).collect::<Vec<_>>()),
            meant(words.untried, words.known_kinds)
        )
    });
    let no_lots = (!words.has_lots).then(|| {
        "The log names no lot, so the scatter holds the differences between lots too, and the size is on the safe side.".to_owned()
    });
    let misspelt = misspelt_lots(plan, words);
    let more = [misspelt, large(plan), uncertain(plan)];
    [new, at_hand, one_lot, elsewhere, untried, no_lots].into_iter().chain(more).flatten().collect()
}

fn meant(asked: &[String], known: &[String]) -> String {
    asked.iter().map(|asked| did_you_mean(asked, known)).collect()
}

/// Lots that the log does not know by that name and knows by one much like it. Names that differ in figures alone, such as L9 and L10, are different lots.
fn misspelt_lots(plan: &TrialPlanSection, words: &PlanWords) -> Option<String> {
    let without_figures = |lot: &str| lot.replace(|sign: char| sign.is_ascii_digit(), "");
    let lots: BTreeSet<&str> = plan.blocks.iter().map(|block| block.lot.as_str()).collect();
    let is_new = |lot: &&str| {
        words.lots == LotsWords::Named && !words.known_lots.iter().any(|known| known == lot)
    };
    let told = lots.into_iter().filter(is_new).filter_map(|lot| {
        let others =
            words.known_lots.iter().filter(|known| without_figures(known) != without_figures(lot));
        let hint = did_you_mean(lot, &others.collect::<Vec<_>>());
        (!hint.is_empty())
            .then(|| format!("The log has no lot {}, so it is taken as new cane.{hint}", name(lot)))
    });
    let told: Vec<String> = told.collect();
    (!told.is_empty()).then(|| told.join(" "))
}

/// More than is made in a year: what a quarter of the year's making would show.
fn large(plan: &TrialPlanSection) -> Option<String> {
    let year = plan.pieces_in_last_year.filter(|year| plan.pieces > *year)?;
    let quarter = plan.quarter.map_or(String::new(), |quarter| {
        format!(
            " A quarter of a year's, `--pieces {}`, would show {} {}.",
            quarter.pieces,
            reckoned_points(quarter.smallest_difference),
            times(plan.power_wanted)
        )
    });
    Some(format!(
        "{} are more than the {} started in the last year of the log.{quarter}",
        plural(plan.pieces, "piece", "pieces"),
        count(year)
    ))
}

/// Where the spread is not well known the power is not either.
fn uncertain(plan: &TrialPlanSection) -> Option<String> {
    let matters = plan.power - plan.power_if_spread_is_high > 0.05;
    matters.then(|| {
        format!(
            "The scatter is an estimate: with one chance in five it is {} or more, and then the trial shows the difference only {}.",
            reckoned_points(plan.sd_within_high),
            times(plan.power_if_spread_is_high)
        )
    })
}
