//! Which reeds speak for a log of very many.
//!
//! A model of a hundred thousand rows takes minutes and tells nothing that a part of them would not: the error of an effect over 5,000 reeds is far below any
//! difference worth having. Reeds are compared with others of their lot, so lots are chosen, evenly through their names, and taken whole; of fewer than a
//! hundred lots all are taken, and evenly chosen reeds of each. Nothing is drawn, so that no seed changes what is told.

use std::collections::BTreeSet;

use super::scores::{ReedScores, count_out};
use crate::finding::LeftOut;
use crate::words::many as words;

/// Up to so many reeds all are taken.
pub(super) const MOST_REEDS: usize = 5_000;
/// So many lots are taken at least, where there are as many.
const FEWEST_LOTS: usize = 100;

/// Whether each row is taken, by the code of its lot; rows without one are together. None where all are. The lots of `also` are among those taken.
///
/// The lots are gone through twice and kept nowhere: of a million reeds that would be done for every factor.
pub(super) fn taken(
    lots: impl Iterator<Item = Option<u32>> + Clone,
    also: &BTreeSet<u32>,
) -> Option<Vec<bool>> {
    // rows without a lot come first
    let place = |lot: Option<u32>| lot.map_or(0, |code| code as usize + 1);
    let mut rows: Vec<usize> = Vec::new();
    for lot in lots.clone().map(place) {
        if lot >= rows.len() {
            rows.resize(lot + 1, 0);
        }
        rows[lot] += 1;
    }
    let all: usize = rows.iter().sum();
    if all <= MOST_REEDS {
        return None;
    }
    let met: Vec<usize> = (0..rows.len()).filter(|&lot| rows[lot] > 0).collect();
    let parts = all.div_ceil(MOST_REEDS);
    let apart = parts.min(met.len() / FEWEST_LOTS).max(1);
    let mut is_chosen = vec![false; rows.len()];
    met.iter().step_by(apart).for_each(|&lot| is_chosen[lot] = true);
    for code in also.iter().filter(|code| rows.get(place(Some(**code))).is_some_and(|n| *n > 0)) {
        is_chosen[place(Some(*code))] = true;
    }
    // chosen rows are numbered lot by lot, those of a lot in their order
    let mut chosen = 0;
    let mut next: Vec<usize> = Vec::with_capacity(rows.len());
    for (rows, is_chosen) in rows.iter().zip(&is_chosen) {
        next.push(chosen);
        chosen += if *is_chosen { *rows } else { 0 };
    }
    let is_taken = |lot: Option<u32>| {
        let lot = place(lot);
        let number = next[lot];
        next[lot] += 1;
        is_chosen[lot] && number * MOST_REEDS % chosen < MOST_REEDS
    };
    Some(lots.map(is_taken).collect())
}

/// The scores of the reeds that are taken; what is passed over is counted.
pub(super) fn scores_taken(
    all: &ReedScores,
    lots: &[Option<u32>],
    left_out: &mut Vec<LeftOut>,
) -> ReedScores {
    let lots = all.piece.iter().map(|&piece| lots[piece]);
    let Some(taken) = taken(lots, &BTreeSet::new()) else { return all.clone() };
    let rows = || (0..taken.len()).filter(|&row| taken[row]);
    let scores = ReedScores {
        piece: rows().map(|row| all.piece[row]).collect(),
        score: rows().map(|row| all.score[row]).collect(),
        leniency: all.leniency.clone(),
        caveat: all.caveat.clone(),
    };
    count_out(left_out, words::PASSED_OVER, all.piece.len() - scores.piece.len());
    scores
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken_of(rows: usize, lot: impl Fn(usize) -> u32 + Copy) -> Vec<(usize, u32)> {
        let taken = taken((0..rows).map(|row| Some(lot(row))), &BTreeSet::new()).unwrap();
        (0..rows).filter(|&row| taken[row]).map(|row| (row, lot(row))).collect()
    }

    #[test]
    fn five_thousand_reeds_are_all_taken() {
        assert_eq!(taken(std::iter::repeat_n(None, MOST_REEDS), &BTreeSet::new()), None);
    }

    #[test]
    fn of_many_lots_some_are_taken_whole() {
        // 10,000 reeds in 250 lots of 40: every second lot
        let found = taken_of(10_000, |row| (row / 40) as u32);
        assert_eq!(found.len(), MOST_REEDS);
        assert!(found.iter().all(|(_, lot)| lot % 2 == 0));
    }

    #[test]
    fn of_few_lots_all_are_taken_and_reeds_of_each_as_many() {
        let found = taken_of(100_000, |row| (row % 25) as u32);
        assert_eq!(found.len(), MOST_REEDS);
        let of_lot = |lot| found.iter().filter(|(_, own)| *own == lot).count();
        assert!((0..25).all(|lot| of_lot(lot) == MOST_REEDS / 25));
    }

    #[test]
    fn reeds_without_lots_are_taken_evenly() {
        let taken = taken(std::iter::repeat_n(None, 15_000), &BTreeSet::new()).unwrap();
        let rows: Vec<usize> = (0..taken.len()).filter(|&row| taken[row]).collect();
        assert_eq!(rows[..3], [0, 3, 6]);
        assert_eq!(rows.len(), MOST_REEDS);
    }

    #[test]
    fn a_lot_that_is_asked_for_is_taken() {
        let lots = (0..20_000).map(|row| Some(row / 40));
        let taken = taken(lots, &BTreeSet::from([3])).unwrap();
        assert!((120..160).any(|row| taken[row]));
    }
}
