//! Good or not, over all pieces started and finished, so that a factor cannot look better only because it spoils the weak ones.

use super::binary::Binary;
use super::change::Asked;
use super::pieces::{Pieces, Table};
use super::{Answers, Log};
use crate::words::again::AgainWords;

/// A random intercept a lot by adaptive quadrature; Firth's penalty where there are no lots, or where something foretells the outcome without error.
pub(super) fn answer(
    log: &Log,
    pieces: &Pieces,
    at: usize,
    asked: &[Option<Asked>],
    answers: &mut [Answers],
    words: &mut AgainWords,
) {
    let stage = log.columns.factors[at].0.stage;
    let Some(table) = Table::of(log, pieces.good(stage), at) else { return };
    let mixed = Binary::mixed(&table);
    words.good_mixed |= mixed.is_some();
    let Some(fit) = mixed.or_else(|| Binary::firth(&table)) else { return };
    words.good_firth |= matches!(fit, Binary::Firth(..));
    words.thinned |= table.thinned;
    for (asked, answer) in asked.iter().zip(answers) {
        answer.good = asked.and_then(|asked| fit.log_odds(&table, asked));
        answer.good_per_ten = asked.and_then(|asked| fit.per_ten(&table, asked));
    }
}
