//! One score a reed: the mean of its ratings, with each player's leniency taken out.
//!
//! Players differ in how high they rate. Where several players rated the same reeds, the difference between them
//! is estimated from those reeds alone (least squares with a level for each reed), so that a player who was given the
//! better reeds does not look lenient. Where no reed was rated by two players, it is estimated from reeds of the same
//! lot instead, and that is said.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use super::piece_set::PieceSet;
use crate::finding::LeftOut;
use crate::stats::design::Design;
use crate::stats::linear::least_squares;
use crate::study::{Fate, RatingRows, Study};
use crate::whole;

/// Scores of the rated reeds, in the order of the pieces.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ReedScores {
    /// Row of the piece; each stands once. Whoever wants others makes new scores.
    pub piece: Vec<usize>,
    pub score: Vec<f64>,
    /// How much higher than the average of all ratings each player rates.
    pub leniency: Vec<(String, f64)>,
    /// What a reader must know about how leniency was found.
    pub caveat: Option<String>,
    set: OnceLock<PieceSet>,
}

impl ReedScores {
    /// Scores that are not made of players' ratings.
    pub fn of(piece: Vec<usize>, score: Vec<f64>) -> Self {
        Self { piece, score, leniency: Vec::new(), caveat: None, set: OnceLock::new() }
    }

    /// The scored pieces, of a log of so many.
    pub fn set(&self, pieces: usize) -> &PieceSet {
        self.set.get_or_init(|| PieceSet::of(&self.piece, pieces))
    }
}

/// The scores of all reeds with a rating that counts; those that [`prepare`] found, where it did.
pub(super) fn reed_scores(study: &Study) -> Arc<ReedScores> {
    study.shared().unwrap_or_else(|| Arc::new(scores_of(study, study.rating_rows())))
}

/// Finds the scores once for all questions.
pub(super) fn prepare(study: &Study) {
    study.share(scores_of(study, study.rating_rows()));
}

/// The scores of the reeds in these ratings.
pub(super) fn scores_of(study: &Study, rows: &RatingRows) -> ReedScores {
    let (leniency, caveat) = leniency(study, rows);
    let mut by_piece = vec![(0.0, 0_usize); study.pieces()];
    for (row, (&piece, &score)) in rows.piece.iter().zip(&rows.score).enumerate() {
        let shift = rows.player.codes[row].map_or(0.0, |player| leniency[player as usize]);
        let sum = &mut by_piece[piece]; // a row of the pieces
        *sum = (sum.0 + score - shift, sum.1 + 1);
    }
    let rated = || by_piece.iter().enumerate().filter(|(_, (_, ratings))| *ratings > 0);
    let piece = rated().map(|(piece, _)| piece).collect();
    let score = rated().map(|(_, (sum, ratings))| sum / *ratings as f64).collect();
    let leniency = rows.player.levels.iter().cloned().zip(leniency).collect();
    ReedScores { leniency, caveat, ..ReedScores::of(piece, score) }
}

/// One shift a player, zero on average over the ratings.
fn leniency(study: &Study, rows: &RatingRows) -> (Vec<f64>, Option<String>) {
    let players = rows.player.levels.len();
    if players < 2 {
        return (vec![0.0; players], None);
    }
    let reeds: Vec<Option<usize>> = rows.piece.iter().map(|&piece| Some(piece)).collect();
    if let Some(shifts) = shifts_within(rows, &reeds) {
        return (centred(rows, shifts), None);
    }
    let lot_of = &study.lots().codes;
    let lots: Vec<Option<usize>> =
        rows.piece.iter().map(|&piece| lot_of[piece].map(|lot| lot as usize)).collect();
    match shifts_within(rows, &lots) {
        Some(shifts) => (centred(rows, shifts), Some(BY_LOT.to_owned())),
        None => (vec![0.0; players], Some(NOT_FOUND.to_owned())),
    }
}

const BY_LOT: &str = "Too few reeds were rated by several players to compare the players on the same reeds; their \
                      leniency is judged from reeds of the same lot instead.";
const NOT_FOUND: &str = "The players rated different reeds of different lots, so a lenient player cannot be told from \
                         better reeds; ratings stand as they were given.";

/// Each player's level against the first, from comparisons within groups; none where the groups do not connect
/// all players.
fn shifts_within(rows: &RatingRows, groups: &[Option<usize>]) -> Option<Vec<f64>> {
    let kept: Vec<usize> = (0..rows.score.len())
        .filter(|&row| groups[row].is_some() && rows.player.codes[row].is_some())
        .collect();
    let group: Vec<usize> = kept.iter().filter_map(|&row| groups[row]).collect();
    let score: Vec<f64> = kept.iter().map(|&row| rows.score[row]).collect();
    let players = whole::code(rows.player.levels.len());
    let mut design = Design::builder(kept.len());
    for player in 1..players {
        let is_player = |row: &usize| f64::from(rows.player.codes[*row] == Some(player));
        let column: Vec<f64> = kept.iter().map(is_player).collect();
        design = design.number(&player.to_string(), &centred_within(&column, &group));
    }
    let fit = least_squares(&design.build().ok()?, &centred_within(&score, &group)).ok()?;
    Some(std::iter::once(0.0).chain(fit.coefficients).collect())
}

/// Shifts so that they average zero over the ratings.
fn centred(rows: &RatingRows, shifts: Vec<f64>) -> Vec<f64> {
    let given: Vec<f64> =
        rows.player.codes.iter().flatten().map(|&code| shifts[code as usize]).collect();
    let mean = given.iter().sum::<f64>() / given.len().max(1) as f64;
    shifts.into_iter().map(|shift| shift - mean).collect()
}

/// Values less the mean of their group.
pub(super) fn centred_within(values: &[f64], group: &[usize]) -> Vec<f64> {
    let sums = group_sums(values, group);
    let mean = |group: usize| sums[group].0 / sums[group].1 as f64; // every group has a sum
    values.iter().zip(group).map(|(value, &group)| value - mean(group)).collect()
}

/// The mean of each group.
pub(super) fn group_means(values: &[f64], group: &[usize]) -> BTreeMap<usize, f64> {
    let sums = group_sums(values, group).into_iter().enumerate();
    sums.filter(|(_, (_, n))| *n > 0).map(|(group, (sum, n))| (group, sum / n as f64)).collect()
}

/// Sum and number of each group's values, by the group's code. Codes count lots or pieces, so that hardly a place stays empty.
pub(super) fn group_sums(values: &[f64], group: &[usize]) -> Vec<(f64, usize)> {
    let mut sums = vec![(0.0, 0); group.iter().max().map_or(0, |last| last + 1)];
    for (value, &group) in values.iter().zip(group) {
        let sum: &mut (f64, usize) = &mut sums[group]; // up to the last group
        *sum = (sum.0 + value, sum.1 + 1);
    }
    sums
}

/// What became of the pieces that have no rating that counts.
pub(super) fn never_rated(study: &Study, scores: &ReedScores) -> Vec<LeftOut> {
    let mut rated = vec![false; study.pieces()];
    for &piece in &scores.piece {
        rated[piece] = true;
    }
    let fates = study.fates();
    let count = |wanted: fn(Option<Fate>) -> bool| {
        fates.iter().zip(&rated).filter(|(fate, rated)| !**rated && wanted(**fate)).count()
    };
    let mut left_out = Vec::new();
    count_out(
        &mut left_out,
        "spoiled before it was rated",
        count(|fate| fate == Some(Fate::Spoiled)),
    );
    count_out(&mut left_out, "unfinished", count(|fate| fate == Some(Fate::Unfinished)));
    count_out(
        &mut left_out,
        "without a rating that counts, though neither spoiled nor unfinished",
        count(|fate| !matches!(fate, Some(Fate::Spoiled | Fate::Unfinished))),
    );
    left_out
}

/// Adds a reason where it left anything out.
pub(super) fn count_out(left_out: &mut Vec<LeftOut>, why: &str, n: usize) {
    if n > 0 {
        left_out.push(LeftOut { why: why.to_owned(), n });
    }
}
