//! The stages kept apart: what cracks a piece on the pin need not make it leak at the wires.
//!
//! The odds of a loss at one stage are those of the pieces that came to it (cause-specific odds); a piece that was lost earlier is not among them.

use super::super::again::Log;
use super::super::again::binary::Binary;
use super::super::again::change::Asked;
use super::super::again::pieces::{Pieces, Table};
use crate::catalogue::Stage;
use crate::finding::LossAtStage;
use crate::whole;

/// A stage with fewer lost pieces has no line of its own.
const FEWEST_LOST: usize = 10;

/// One factor's model of the losses at one stage.
pub(super) struct AtStage {
    stage: Stage,
    table: Table,
    lost: usize,
    fit: Binary,
}

/// One for each stage, from the factor's own on, that lost enough of the pieces at hand.
pub(super) fn stages(log: &Log, pieces: &Pieces, at: usize) -> Vec<AtStage> {
    let own = log.columns.factors[at].0.stage;
    let later = Stage::MAKING.into_iter().filter(|stage| *stage >= own && *stage < Stage::Play);
    later.filter_map(|stage| AtStage::of(log, pieces, at, stage)).collect()
}

impl AtStage {
    fn of(log: &Log, pieces: &Pieces, at: usize, stage: Stage) -> Option<Self> {
        let table = Table::of(log, pieces.spoiled_at(stage), at)?;
        let lost = whole::part(table.outcome.successes().iter().sum());
        if lost < FEWEST_LOST {
            return None;
        }
        let fit = Binary::of_losses(&table)?;
        Some(Self { stage, table, lost, fit })
    }

    pub fn told(&self, asked: Asked) -> Option<LossAtStage> {
        let odds = self.fit.odds(&self.table, asked)?;
        Some(LossAtStage {
            stage: self.stage,
            used: self.table.design.rows(),
            lost: self.lost,
            estimate: odds.ratio.estimate,
            low: odds.ratio.low,
            high: odds.ratio.high,
            p: odds.p,
        })
    }
}
