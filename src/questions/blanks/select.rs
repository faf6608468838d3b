//! Select: the unfinished pieces, and the columns that each is foretold from.

use std::collections::{BTreeMap, BTreeSet};

use super::super::factors::levels;
use super::super::factors::sample::Cells;
use super::super::scores::ReedScores;
use super::Bench;
use crate::catalogue::Stage;
use crate::study::{Factor, FactorKind, Fate, Study};
use crate::words::blanks::MAKER;

/// So many sets of columns are foretold from; a piece with a rarer set is foretold from the largest of these that its own holds.
const MOST_SETS: usize = 12;

pub(super) struct Unfinished {
    /// Rows of the pieces, by their names.
    pub pieces: Vec<usize>,
    /// The furthest stage that each is known to have come to.
    pub stage: Vec<Option<Stage>>,
}

/// Pieces that are unfinished and not rated; the reader counts those as unfinished of which a log tells no end.
pub(super) fn unfinished(study: &Study) -> Unfinished {
    let (fates, scores, ids) = (study.fates(), study.reed_scores(), study.ids());
    let is_open =
        |piece: &usize| scores[*piece].is_none() && fates[*piece] == Some(Fate::Unfinished);
    let mut pieces: Vec<usize> = (0..study.pieces()).filter(is_open).collect();
    pieces.sort_by(|&a, &b| ids[a].cmp(ids[b]));
    let furthest = study.furthest_stages();
    let before_play = |stage: Stage| stage.min(Stage::Finish);
    let stage = pieces.iter().map(|&piece| furthest[piece].map(before_play)).collect();
    Unfinished { pieces, stage }
}

/// Who makes each piece, as a column to foretell from; none where one makes them all. Makers of few rated reeds are joined into one.
pub(super) fn maker(study: &Study, scores: &ReedScores) -> Option<(Factor, Cells)> {
    let makers = study.several_makers()?;
    let factor = Factor {
        name: MAKER.to_owned(),
        label: MAKER.to_owned(),
        header: String::new(),
        stage: Stage::Bookkeeping,
        kind: FactorKind::Choice,
        unit: None,
        step: None,
        higher_is: None,
        asked_beforehand: false,
    };
    Some((factor, levels::joined(makers, &scores.piece)))
}

/// The sets of columns that pieces are foretold from, and which piece from which.
pub(super) struct Known {
    /// Positions in the columns' factors, rising.
    pub sets: Vec<Vec<usize>>,
    /// One entry an unfinished piece; none where it has no column, or none of the sets.
    pub set_of: Vec<Option<usize>>,
}

impl Known {
    /// Every factor of any set.
    pub fn all(&self) -> Vec<usize> {
        self.sets.iter().flatten().copied().collect::<BTreeSet<_>>().into_iter().collect()
    }
}

pub(super) fn known(bench: &Bench, unfinished: &Unfinished) -> Known {
    let of_making = |at: &usize| bench.columns.factors[*at].0.stage != Stage::Play;
    let own = |piece: &usize| -> Vec<usize> {
        let known: Vec<usize> =
            bench.measured.known(bench.columns, *piece).into_iter().filter(of_making).collect();
        // who makes a piece is no measurement of it
        if bench.without_maker(&known).is_empty() { Vec::new() } else { known }
    };
    let own: Vec<Vec<usize>> = unfinished.pieces.iter().map(own).collect();
    let sets = commonest(&own);
    let holds = |own: &[usize], set: &[usize]| set.iter().all(|at| own.binary_search(at).is_ok());
    let largest = |own: &Vec<usize>| {
        let held = (0..sets.len()).filter(|&set| holds(own, &sets[set]));
        held.max_by_key(|&set| (sets[set].len(), std::cmp::Reverse(set)))
    };
    Known { set_of: own.iter().map(largest).collect(), sets }
}

/// The commonest sets that hold anything, the larger and then the earlier columns first where as many pieces have them.
fn commonest(own: &[Vec<usize>]) -> Vec<Vec<usize>> {
    let mut counts: BTreeMap<&Vec<usize>, usize> = BTreeMap::new();
    for set in own.iter().filter(|set| !set.is_empty()) {
        *counts.entry(set).or_default() += 1;
    }
    let mut sets: Vec<(&Vec<usize>, usize)> = counts.into_iter().collect();
    sets.sort_by_key(|(set, count)| (std::cmp::Reverse((*count, set.len())), (*set).clone()));
    sets.into_iter().take(MOST_SETS).map(|(set, _)| set.clone()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_commonest_sets_are_kept_and_pieces_without_any_column_make_none() {
        let own = [vec![0, 1], vec![0], vec![0, 1], vec![]];
        assert_eq!(commonest(&own), [vec![0, 1], vec![0]]);
        let many: Vec<Vec<usize>> = (0..20).map(|at| vec![at]).collect();
        assert_eq!(commonest(&many).len(), MOST_SETS);
    }
}
