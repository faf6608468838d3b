//! The stages kept apart: what cracks a piece on the pin need not make it leak at the wires.
//!
//! The odds of a loss at one stage are those of the pieces that came to it (cause-specific odds); a piece that was lost earlier is not among them.

use super::super::again::binary::Binary;
use super::super::again::change::Asked;
use super::super::again::pieces::Table;
use super::fit::One;
use crate::catalogue::Stage;
use crate::finding::LossAtStage;

/// A stage with fewer lost pieces has no line of its own.
const FEWEST_LOST: usize = 10;

/// One entry for each stage, from the factor's own on, that lost enough of the pieces at hand.
pub(super) fn by_stage(one: &One, asked: Asked) -> Vec<LossAtStage> {
    let own = one.log.columns.factors[one.at].0.stage;
    let later = Stage::MAKING.into_iter().filter(|stage| *stage >= own && *stage < Stage::Play);
    later.filter_map(|stage| at_stage(one, asked, stage)).collect()
}

fn at_stage(one: &One, asked: Asked, stage: Stage) -> Option<LossAtStage> {
    let outcome = one.pieces.spoiled_at(stage);
    let table = Table::of(one.log, &outcome, one.at)?;
    let lost = table.outcome.successes().iter().sum::<f64>() as usize;
    if lost < FEWEST_LOST {
        return None;
    }
    let odds = Binary::of_losses(&table)?.odds(&table, asked)?;
    Some(LossAtStage {
        stage,
        used: table.design.rows(),
        lost,
        estimate: odds.ratio.estimate,
        low: odds.ratio.low,
        high: odds.ratio.high,
        p: odds.p,
    })
}
