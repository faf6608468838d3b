//! What a plan must hold for its trial to be read: a file that was changed by hand may hold anything.

use std::collections::BTreeSet;

use super::{ARMS, Plan};

/// What is wrong, and with which key.
pub(super) struct Fault {
    pub key: &'static str,
    pub found: String,
    pub expected: &'static str,
}

/// Most pieces a plan may hold; a hand-made file cannot ask for more room than that.
const MOST_PIECES: usize = 100_000;

pub(super) fn check(plan: &Plan) -> Result<(), Fault> {
    day(plan)?;
    arms(plan)?;
    outcome(plan)?;
    analysis(plan)?;
    reckoned(plan)?;
    blocks(plan)?;
    pieces(plan)
}

fn require(
    holds: bool,
    key: &'static str,
    found: impl Into<String>,
    expected: &'static str,
) -> Result<(), Fault> {
    if holds { Ok(()) } else { Err(Fault { key, found: found.into(), expected }) }
}

fn day(plan: &Plan) -> Result<(), Fault> {
    let is_day = plan.made_on.parse::<jiff::civil::Date>().is_ok();
    require(is_day, "made_on", "The day of the plan is no date.", "a day such as 2025-11-30")
}

fn arms(plan: &Plan) -> Result<(), Fault> {
    let count = plan.arms.len();
    require(
        ARMS.contains(&count),
        "arms",
        format!("The plan has {count} arms."),
        "two to four arms",
    )?;
    let present = plan.arms.iter().filter(|arm| arm.present).count();
    let found = format!("{present} arms are called the present practice.");
    require(present == 1, "arms", found, "exactly one with `present = true`")?;
    let distinct: BTreeSet<&str> = plan.arms.iter().map(|arm| arm.value.trim()).collect();
    require(distinct.len() == count, "arms", "Two arms have the same value.", "arms that differ")
}

fn outcome(plan: &Plan) -> Result<(), Fault> {
    let outcome = &plan.outcome;
    let [low, high] = outcome.scale;
    let is_scale = low.is_finite() && high.is_finite() && low < high;
    require(is_scale, "scale", "The scale has no width.", "two numbers, the lower first")?;
    let others = [Some(outcome.good_at), outcome.target];
    let are_numbers = others.iter().flatten().all(|value| value.is_finite());
    require(
        are_numbers,
        "good_at",
        "A mark of the outcome is no number.",
        "a number on the scale",
    )?;
    let is_positive = outcome.worthwhile > 0.0 && outcome.worthwhile.is_finite();
    let found = "The smallest difference worth having is not above 0.";
    require(is_positive, "worthwhile", found, "a number above 0")
}

fn analysis(plan: &Plan) -> Result<(), Fault> {
    let analysis = &plan.analysis;
    let is_level = analysis.level > 0.5 && analysis.level < 1.0;
    require(is_level, "level", "The level of the intervals is no share.", "a number such as 0.95")?;
    let looks = &analysis.looks;
    let rises = looks.is_sorted_by(|one, next| one < next);
    let ends = looks.first().is_some_and(|first| *first > 0.0) && looks.last() == Some(&1.0);
    let expected = "shares that rise, the last of them 1.0";
    require(rises && ends, "looks", "The looks do not lead to the end of the trial.", expected)
}

fn reckoned(plan: &Plan) -> Result<(), Fault> {
    let reckoned = &plan.reckoned;
    let numbers =
        [reckoned.sd_within, reckoned.power, reckoned.smallest_difference, reckoned.reeds];
    let are_sound = numbers.iter().all(|number| number.is_finite() && *number > 0.0);
    let is_share = (0.0..1.0).contains(&reckoned.spoilage);
    let found = "What the size rests on is not in numbers above 0.";
    require(are_sound && is_share, "reckoned", found, "finite numbers, the spoilage below 1")
}

fn blocks(plan: &Plan) -> Result<(), Fault> {
    let sizes = plan.blocks.iter().map(|block| block.pieces);
    let total = sizes.clone().fold(0_usize, usize::saturating_add);
    let are_filled = total > 0 && sizes.clone().all(|pieces| pieces > 0);
    require(are_filled, "blocks", "A block holds no piece.", "at least one piece in every block")?;
    let found = format!("The plan holds {total} pieces.");
    require(total <= MOST_PIECES, "blocks", found, "at most 100,000 pieces")
}

fn pieces(plan: &Plan) -> Result<(), Fault> {
    let turns = plan.blocks.iter().enumerate();
    let planned: BTreeSet<(usize, usize)> = turns
        .flat_map(|(block, planned)| (1..=planned.pieces).map(move |order| (block + 1, order)))
        .collect();
    let listed: BTreeSet<(usize, usize)> =
        plan.pieces.iter().map(|piece| (piece.block, piece.order)).collect();
    let is_complete = listed == planned && plan.pieces.len() == planned.len();
    let found = "The pieces do not fill the blocks.";
    require(is_complete, "pieces", found, "each turn of each block once")?;
    let labels: BTreeSet<&str> = plan.pieces.iter().map(|piece| piece.label.as_str()).collect();
    let are_distinct = labels.len() == plan.pieces.len();
    require(
        are_distinct,
        "pieces",
        "Two pieces have the same label.",
        "a label of its own for each piece",
    )
}
