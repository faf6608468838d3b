//! Choices: rare kinds are joined or left out, and a kind is tangled where its lots cannot tell it from them.

use std::collections::{BTreeMap, BTreeSet};

use super::super::piece_set::PieceSet;
use super::fit::Answer;
use super::model::Model;
use super::sample::{Cells, FEWEST_IN_LEVEL};
use crate::study::Labels;
use crate::whole;
use crate::words::criteria::{NO_SHARED_LOT, ONE_LOT, REFERENCE_IN_ONE_LOT, joined_kinds};

/// So many kinds of a choice are told apart at most; the rarest of more are joined, so that a column of free text does
/// not take up every reed.
const MOST_KINDS: usize = 12;

/// A choice whose rare kinds are joined into one where they have enough rated reeds together.
pub(in crate::questions) fn joined(labels: &Labels, rated: &[usize]) -> Cells {
    let together = rare_together(&counts(&labels.codes, rated.iter().copied()));
    if together.is_empty() {
        return Cells::Choice(labels.codes.clone(), labels.levels.clone());
    }
    let (mut kept, mut names) = (Vec::new(), Vec::new());
    let mut moved_to = vec![0; labels.levels.len()];
    for (code, level) in (0..).zip(&labels.levels) {
        if together.contains(&code) {
            names.push(level.clone());
        } else {
            moved_to[code as usize] = whole::code(kept.len());
            kept.push(level.clone());
        }
    }
    // the joined kind stands last, so that on a tie it is never the one that others are held against
    together.iter().for_each(|code| moved_to[*code as usize] = whole::code(kept.len()));
    kept.push(joined_kinds(&names));
    let moved = |code: &Option<u32>| code.map(|code| moved_to[code as usize]);
    Cells::Choice(labels.codes.iter().map(moved).collect(), kept)
}

/// The kinds to join: none where they would still be too few, or where nothing would be left to hold them against.
fn rare_together(counts: &BTreeMap<u32, usize>) -> BTreeSet<u32> {
    let mut common: Vec<(usize, u32)> = counts
        .iter()
        .filter(|(_, reeds)| **reeds >= FEWEST_IN_LEVEL)
        .map(|(code, reeds)| (*reeds, *code))
        .collect();
    common.sort_by_key(|(reeds, code)| (std::cmp::Reverse(*reeds), *code));
    if common.len() > MOST_KINDS {
        common.truncate(MOST_KINDS - 1);
    }
    let told_apart: BTreeSet<u32> = common.into_iter().map(|(_, code)| code).collect();
    let rest: BTreeSet<u32> =
        counts.keys().filter(|code| !told_apart.contains(code)).copied().collect();
    let reeds: usize = rest.iter().map(|code| counts[code]).sum();
    let is_worth_it = !told_apart.is_empty() && rest.len() > 1 && reeds >= FEWEST_IN_LEVEL;
    if is_worth_it { rest } else { BTreeSet::new() }
}

/// How many of the pieces are of each kind that any of them is of.
fn counts(codes: &[Option<u32>], pieces: impl Iterator<Item = usize>) -> BTreeMap<u32, usize> {
    let mut counts: Vec<usize> = Vec::new();
    for code in pieces.filter_map(|piece| codes[piece]) {
        let code = code as usize;
        if code >= counts.len() {
            counts.resize(code + 1, 0);
        }
        counts[code] += 1;
    }
    let met = (0..).zip(counts).filter(|(_, reeds)| *reeds > 0);
    met.collect()
}

/// How many kinds have enough rated reeds to be told apart.
pub(super) fn kinds_with_enough(codes: &[Option<u32>], pieces: &[usize]) -> usize {
    counts(codes, pieces.iter().copied())
        .values()
        .filter(|reeds| **reeds >= FEWEST_IN_LEVEL)
        .count()
}

/// The pieces that are not of a kind with too few, and the names of those kinds.
pub(super) fn without_rare(cells: &Cells, mut pieces: PieceSet) -> (PieceSet, Vec<String>) {
    let Cells::Choice(codes, levels) = cells else { return (pieces, Vec::new()) };
    let counts = counts(codes, pieces.iter());
    let is_rare = |code: u32| counts.get(&code).is_some_and(|reeds| *reeds < FEWEST_IN_LEVEL);
    let rare: Vec<u32> = counts.keys().copied().filter(|&code| is_rare(code)).collect();
    if !rare.is_empty() {
        pieces.retain(|piece| codes[piece].is_none_or(|code| !is_rare(code)));
    }
    let names = rare.into_iter().filter_map(|code| levels.get(code as usize).cloned()).collect();
    (pieces, names)
}

/// What the lots and the test over all kinds leave of a choice; empty for a number.
pub(super) struct Kinds {
    /// For each kind beside the reference: what it cannot be told from.
    pub tied_to: Vec<Option<&'static str>>,
    /// The test that no kind differs, where there are more than two.
    pub p_levels: Option<f64>,
}

impl Kinds {
    pub fn of(model: &Model, answer: Option<&Answer>) -> Kinds {
        if model.reference.is_none() {
            return Kinds { tied_to: Vec::new(), p_levels: None };
        }
        let tied_to = tied(model);
        let p_levels = answer.and_then(|answer| overall(answer, &tied_to));
        Kinds { tied_to, p_levels }
    }

    pub fn tie(&self, own: usize) -> Option<&'static str> {
        self.tied_to.get(own).copied().flatten()
    }

    /// Whether reeds of the same lot tell the kind from the reference, be it by way of a third kind.
    pub fn can_compare(&self, own: usize) -> bool {
        self.tie(own) != Some(NO_SHARED_LOT)
    }
}

/// The joint test of all kinds that can be told from the reference.
fn overall(answer: &Answer, tied_to: &[Option<&'static str>]) -> Option<f64> {
    let told_apart: Vec<usize> = (0..tied_to.len())
        .filter(|&own| tied_to[own].is_none() && answer.effect(own).is_some())
        .collect();
    if told_apart.len() < 2 {
        return None;
    }
    answer.joint(&told_apart).map(|test| test.p_value()).filter(|p| p.is_finite())
}

fn tied(model: &Model) -> Vec<Option<&'static str>> {
    let kinds = model.raw.len();
    if model.lots < 2 {
        return vec![None; kinds];
    }
    let lots = lots_of_kinds(model);
    let reached = reached_from_reference(&lots);
    let tie = |own: usize| {
        if !reached[own] {
            Some(NO_SHARED_LOT)
        } else if lots[own].len() < 2 {
            Some(ONE_LOT)
        } else {
            (lots[kinds].len() < 2).then_some(REFERENCE_IN_ONE_LOT)
        }
    };
    (0..kinds).map(tie).collect()
}

/// The lots of each kind, those of the reference last.
fn lots_of_kinds(model: &Model) -> Vec<BTreeSet<usize>> {
    let kinds = model.raw.len();
    let mut lots = vec![BTreeSet::new(); kinds + 1];
    for (reed, &lot) in model.lot.iter().enumerate() {
        let own = model.raw.iter().position(|column| column[reed] > 0.5).unwrap_or(kinds);
        lots[own].insert(lot);
    }
    lots
}

/// Which kinds can be reached from the reference by stepping from kind to kind within a lot.
fn reached_from_reference(lots: &[BTreeSet<usize>]) -> Vec<bool> {
    let mut reached = vec![false; lots.len()];
    let mut waiting = vec![lots.len() - 1]; // the reference is always there
    while let Some(kind) = waiting.pop() {
        if std::mem::replace(&mut reached[kind], true) {
            continue;
        }
        waiting.extend((0..lots.len()).filter(|&other| !lots[other].is_disjoint(&lots[kind])));
    }
    reached
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(cells: &[&str]) -> Labels {
        let mut levels: Vec<String> = cells.iter().map(|&cell| cell.to_owned()).collect();
        levels.sort();
        levels.dedup();
        let code = |cell: &&str| levels.iter().position(|level| level == cell).map(|at| at as u32);
        Labels { codes: cells.iter().map(code).collect(), levels }
    }

    fn kinds(cells: &[&str]) -> (Vec<Option<u32>>, Vec<String>) {
        let rated: Vec<usize> = (0..cells.len()).collect();
        match joined(&labels(cells), &rated) {
            Cells::Choice(codes, levels) => (codes, levels),
            Cells::Number(_) => panic!("a choice stays a choice"),
        }
    }

    #[test]
    fn two_rare_kinds_with_three_reeds_together_become_one() {
        let (codes, levels) = kinds(&["none", "both", "none", "crosshatch", "none", "both"]);
        assert_eq!(levels, ["none", "both and crosshatch, joined"]);
        assert_eq!(codes, [0, 1, 0, 1, 0, 1].map(Some));
    }

    #[test]
    fn two_rare_kinds_with_two_reeds_together_stay_as_they_are() {
        let cells = ["none", "both", "none", "crosshatch", "none"];
        assert_eq!(kinds(&cells), (labels(&cells).codes, labels(&cells).levels));
    }

    #[test]
    fn where_every_kind_is_rare_nothing_is_joined_for_want_of_something_to_hold_it_against() {
        let cells = ["a", "b", "c", "d", "a"];
        assert_eq!(kinds(&cells).1, ["a", "b", "c", "d"]);
    }

    #[test]
    fn of_more_than_twelve_common_kinds_the_rarest_are_joined() {
        let names: Vec<String> = (0..14).map(|kind| format!("kind {kind:02}")).collect();
        let cells: Vec<&str> =
            (0..14).flat_map(|kind| std::iter::repeat_n(names[kind].as_str(), 20 - kind)).collect();
        let (_, levels) = kinds(&cells);
        assert_eq!(levels.len(), 12);
        assert_eq!(levels[11], "kind 11, kind 12 and kind 13, joined");
    }

    #[test]
    fn a_kind_is_reached_by_way_of_a_third_one() {
        let lots = |of: &[usize]| of.iter().copied().collect::<BTreeSet<usize>>();
        // the reference, last, shares lot 1 with the first kind, which shares lot 2 with the second; the third is alone
        let reached =
            reached_from_reference(&[lots(&[1, 2]), lots(&[2, 3]), lots(&[4, 5]), lots(&[0, 1])]);
        assert_eq!(reached, [true, true, false, true]);
    }
}
