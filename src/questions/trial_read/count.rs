//! Good reeds of ten pieces, spoiled ones counted as not good.

use super::fit::{Mark, arm_column, band, comparable, design, distinct};
use super::pieces::TrialPiece;
use crate::finding::Interval;
use crate::stats::logistic::{BinomialOutcome, fit_firth, with_number};
use crate::stats::proportion::{clopper_pearson, newcombe_difference};

/// Out of so many pieces.
const TEN: f64 = 10.0;

/// Good reeds and known pieces of one arm.
fn counted(pieces: &[TrialPiece], arm: usize) -> (u64, u64) {
    let known: Vec<bool> =
        pieces.iter().filter(|piece| piece.arm == arm).filter_map(|piece| piece.good).collect();
    (known.iter().filter(|good| **good).count() as u64, known.len() as u64)
}

/// With the exact interval.
pub(super) fn per_ten(pieces: &[TrialPiece], arm: usize) -> Option<Interval> {
    let (good, known) = counted(pieces, arm);
    let share = clopper_pearson(good, known, 0.95).ok()?;
    Some(Interval { estimate: TEN * share.share, low: TEN * share.low, high: TEN * share.high })
}

/// The difference of two arms' counts as they are.
pub(super) fn difference(pieces: &[TrialPiece], arm: usize, present: usize) -> Option<Interval> {
    let (one, other) = (counted(pieces, arm), counted(pieces, present));
    let found = newcombe_difference(one, other, 0.95).ok()?;
    Some(Interval { estimate: TEN * found.share, low: TEN * found.low, high: TEN * found.high })
}

/// The difference over all pieces of the trial had each been made either way: logistic regression on arms and blocks with Firth's penalty, standardised.
pub(super) fn over_blocks(pieces: &[TrialPiece], arm: usize, present: usize) -> Option<Interval> {
    let known = |piece: &TrialPiece| {
        let score = f64::from(u8::from(piece.good?));
        Some(Mark { block: piece.block, arm: piece.arm, score })
    };
    let marks = comparable(&pieces.iter().filter_map(known).collect::<Vec<_>>(), present);
    let others: Vec<usize> = distinct(marks.iter().map(|mark| mark.arm))
        .into_iter()
        .filter(|other| *other != present)
        .collect();
    let blocks = distinct(marks.iter().map(|mark| mark.block));
    let design = design(&marks, &others, blocks.get(1..)?).ok()?;
    let outcome: Vec<f64> = marks.iter().map(|mark| mark.score).collect();
    let fit = fit_firth(&design, &BinomialOutcome::binary(&outcome).ok()?).ok()?;
    let nobody = others
        .iter()
        .try_fold(design, |design, other| with_number(&design, &arm_column(*other), 0.0))
        .ok()?;
    let all = with_number(&nobody, &arm_column(arm), 1.0).ok()?;
    let difference = fit.standardised(&all).ok()?.minus(&fit.standardised(&nobody).ok()?);
    let estimate = fit.error_of(&difference).ok()?.scaled(TEN);
    let found = band(&estimate, 0.05).interval();
    [found.low, found.high].iter().all(|end| end.is_finite()).then_some(found)
}
