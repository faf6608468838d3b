//! Which reeds speak for a log of very many.
//!
//! A model of a hundred thousand rows takes minutes and tells nothing that a part of them would not: the error of an effect over 5,000 reeds is far below any
//! difference worth having. Reeds are compared with others of their lot, so lots are chosen, evenly through their names, and taken whole; of fewer than a
//! hundred lots all are taken, and evenly chosen reeds of each. Nothing is drawn, so that no seed changes what is told.

use std::collections::BTreeSet;

use super::piece_set::PieceSet;
use super::scores::{ReedScores, count_out};
use crate::finding::LeftOut;
use crate::words::many as words;

/// Up to so many reeds all are taken.
pub(super) const MOST_REEDS: usize = 5_000;
/// So many lots are taken at least, where there are as many.
const FEWEST_LOTS: usize = 100;

/// Whether each row is taken, by the code of its lot; rows without one are together. None where all are. The lots of `also` are among those taken.
///
/// The lots are gone through twice and kept nowhere.
pub(super) fn taken(
    lots: impl Iterator<Item = Option<u32>> + Clone,
    also: &BTreeSet<u32>,
) -> Option<Vec<bool>> {
    let mut rows: Vec<usize> = Vec::new();
    for lot in lots.clone().map(place) {
        if lot >= rows.len() {
            rows.resize(lot + 1, 0);
        }
        rows[lot] += 1;
    }
    let mut choice = Choice::of(&rows, also)?;
    Some(lots.map(|lot| choice.takes_next_of(place(lot))).collect())
}

/// Rows without a lot come first.
fn place(lot: Option<u32>) -> usize {
    lot.map_or(0, |code| code as usize + 1)
}

/// Which rows of which lots are taken.
struct Choice {
    is_chosen: Vec<bool>,
    /// Rows of all chosen lots.
    chosen: usize,
    /// Chosen rows are numbered lot by lot, those of a lot in their order: the number of each lot's next.
    next: Vec<usize>,
}

impl Choice {
    /// By the number of rows that each lot has; none where all are taken.
    fn of(rows: &[usize], also: &BTreeSet<u32>) -> Option<Choice> {
        let all: usize = rows.iter().sum();
        if all <= MOST_REEDS {
            return None;
        }
        let met: Vec<usize> = (0..rows.len()).filter(|&lot| rows[lot] > 0).collect();
        let parts = all.div_ceil(MOST_REEDS);
        let apart = parts.min(met.len() / FEWEST_LOTS).max(1);
        let mut is_chosen = vec![false; rows.len()];
        met.iter().step_by(apart).for_each(|&lot| is_chosen[lot] = true);
        let also = also.iter().map(|code| place(Some(*code)));
        for lot in also.filter(|lot| rows.get(*lot).is_some_and(|rows| *rows > 0)) {
            is_chosen[lot] = true;
        }
        let mut chosen = 0;
        let mut next: Vec<usize> = Vec::with_capacity(rows.len());
        for (rows, is_chosen) in rows.iter().zip(&is_chosen) {
            next.push(chosen);
            chosen += if *is_chosen { *rows } else { 0 };
        }
        Some(Choice { is_chosen, chosen, next })
    }

    fn takes_next_of(&mut self, lot: usize) -> bool {
        let number = self.next[lot];
        self.next[lot] += 1;
        self.is_chosen[lot] && number * MOST_REEDS % self.chosen < MOST_REEDS
    }
}

/// The pieces of each lot, so that of a million only those of the chosen lots are looked at.
pub(super) struct ByLot {
    /// Lot by lot, those without one first.
    pieces: Vec<u32>,
    starts: Vec<usize>,
}

impl ByLot {
    /// By the code of each piece's lot.
    pub fn of(lots: &[Option<u32>]) -> ByLot {
        let mut starts = vec![0; lots.iter().copied().map(place).max().map_or(0, |last| last + 2)];
        lots.iter().for_each(|&lot| starts[place(lot) + 1] += 1);
        for lot in 1..starts.len() {
            starts[lot] += starts[lot - 1];
        }
        let mut next = starts.clone();
        let mut pieces = vec![0; lots.len()];
        for (piece, &lot) in (0..).zip(lots) {
            let next = &mut next[place(lot)];
            pieces[*next] = piece;
            *next += 1;
        }
        ByLot { pieces, starts }
    }

    fn lots(&self) -> impl Iterator<Item = &[u32]> {
        self.starts.windows(2).map(|ends| &self.pieces[ends[0]..ends[1]])
    }

    /// Those of these pieces that are taken, rising; none where all are.
    pub fn taken(&self, among: &PieceSet) -> Option<Vec<usize>> {
        let of_lot = |pieces: &[u32]| -> usize {
            pieces.iter().filter(|&&piece| among.holds(piece as usize)).count()
        };
        let rows: Vec<usize> = self.lots().map(of_lot).collect();
        let mut choice = Choice::of(&rows, &BTreeSet::new())?;
        let mut taken = Vec::with_capacity(MOST_REEDS);
        for (lot, pieces) in self.lots().enumerate().filter(|(lot, _)| rows[*lot] > 0) {
            if choice.is_chosen[lot] {
                let own = pieces.iter().map(|&piece| piece as usize);
                let own = own.filter(|&piece| among.holds(piece));
                taken.extend(own.filter(|_| choice.takes_next_of(lot)));
            }
        }
        taken.sort_unstable();
        Some(taken)
    }
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
    let piece = rows().map(|row| all.piece[row]).collect();
    let score = rows().map(|row| all.score[row]).collect();
    let mut scores = ReedScores::of(piece, score);
    (scores.leniency, scores.caveat) = (all.leniency.clone(), all.caveat.clone());
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

    #[test]
    fn the_same_pieces_are_taken_by_their_lots_as_row_by_row() {
        // 30,000 pieces of lots of many sizes, scattered, some without one; every seventh piece is not among them
        let lots: Vec<Option<u32>> = (0..30_000_u32)
            .map(|piece| (piece % 11 > 0).then(|| (piece * 7919 % 30_000).isqrt()))
            .collect();
        let among = PieceSet::marked((0..lots.len()).map(|piece| piece % 7 > 0));
        let row_by_row = taken(among.iter().map(|piece| lots[piece]), &BTreeSet::new()).unwrap();
        let expected: Vec<usize> = among
            .iter()
            .zip(row_by_row)
            .filter(|(_, taken)| *taken)
            .map(|(piece, _)| piece)
            .collect();
        assert_eq!(ByLot::of(&lots).taken(&among), Some(expected));
        let few = PieceSet::of(&(0..MOST_REEDS).collect::<Vec<_>>(), lots.len());
        assert_eq!(ByLot::of(&lots).taken(&few), None);
    }
}
