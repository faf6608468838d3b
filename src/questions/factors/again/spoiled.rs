//! Spoiled before the first note or not, for a factor of the making.

use super::binary::Binary;
use super::change::Asked;
use super::pieces::{Pieces, Table};
use super::{Answers, Log};
use crate::words::again::AgainWords;

pub(super) fn answer(
    log: &Log,
    pieces: &Pieces,
    at: usize,
    asked: &[Option<Asked>],
    answers: &mut [Answers],
    words: &mut AgainWords,
) {
    let stage = log.columns.factors[at].0.stage;
    let Some(outcome) = pieces.spoiled(stage) else { return };
    let Some(table) = Table::of(log, outcome, at) else { return };
    let Some(fit) = Binary::firth(&table) else { return };
    words.spoiled = true;
    words.thinned |= table.thinned;
    for (asked, answer) in asked.iter().zip(answers) {
        answer.spoiled = asked.and_then(|asked| fit.log_odds(&table, asked));
        answer.spoilage = asked.and_then(|asked| fit.per_ten(&table, asked));
    }
}
