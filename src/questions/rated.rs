//! One row a rating, for models in which a reed with several ratings weighs as it should.
//!
//! Players differ in how high they rate. Up to ten players stand in the model as columns, more as a random intercept.

use std::collections::BTreeMap;

use super::scores::ReedScores;
use crate::study::Study;

/// So many players stand in a model as columns of their own.
pub(super) const MOST_FIXED_PLAYERS: usize = 10;

/// The ratings that speak for their reeds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RatedRows {
    /// Position of the reed in the reed scores.
    pub reed: Vec<usize>,
    pub score: Vec<f64>,
    /// Code of the player; a rating without a name counts as one more player.
    pub player: Vec<usize>,
    /// How many players there are.
    pub players: usize,
}

impl RatedRows {
    pub fn of(study: &Study, scores: &ReedScores) -> Self {
        let rows = study.rating_rows();
        let nameless = rows.player.levels.len();
        let most = rows.piece.len();
        let mut found = Self {
            reed: Vec::with_capacity(most),
            score: Vec::with_capacity(most),
            player: Vec::with_capacity(most),
            players: 0,
        };
        for (row, piece) in rows.piece.iter().enumerate() {
            // scores are in the order of the pieces, and where reeds are very many not of all of them
            let Ok(reed) = scores.piece.binary_search(piece) else { continue };
            found.reed.push(reed);
            found.score.push(rows.score[row]);
            found.player.push(rows.player.codes[row].map_or(nameless, |code| code as usize));
        }
        found.players = distinct(&found.player);
        found
    }

    /// One row a reed, its score: quicker to fit, and reeds with several ratings weigh no more than others.
    pub fn once_a_reed(scores: &ReedScores) -> Self {
        let reeds = scores.score.len();
        Self {
            reed: (0..reeds).collect(),
            score: scores.score.clone(),
            player: vec![0; reeds],
            players: 1,
        }
    }

    /// The rows of some reeds, each reed now counted by its place among them.
    pub fn of_reeds(&self, reeds: &[usize]) -> Self {
        let most = self.reed.iter().chain(reeds).max().map_or(0, |most| most + 1);
        let mut place = vec![None; most];
        for (at, &reed) in reeds.iter().enumerate() {
            place[reed] = Some(at);
        }
        let mut kept: Vec<(usize, usize)> = Vec::with_capacity(self.reed.len());
        let rows = self.reed.iter().enumerate();
        kept.extend(rows.filter_map(|(row, &reed)| place[reed].map(|at| (row, at))));
        let player: Vec<usize> = kept.iter().map(|&(row, _)| self.player[row]).collect();
        Self {
            reed: kept.iter().map(|&(_, at)| at).collect(),
            score: kept.iter().map(|&(row, _)| self.score[row]).collect(),
            players: distinct(&player),
            player,
        }
    }

    /// Whether any reed has several ratings.
    pub fn repeats(&self) -> bool {
        distinct(&self.reed) < self.reed.len()
    }

    /// One 0/1 column for every player but the one with most ratings (the first by name on a tie).
    pub fn player_columns(&self) -> Vec<Vec<f64>> {
        columns_but_the_commonest(&self.player)
    }
}

/// One 0/1 column for every code but the commonest (the first on a tie), by rising code.
pub(super) fn columns_but_the_commonest(codes: &[usize]) -> Vec<Vec<f64>> {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    codes.iter().for_each(|code| *counts.entry(*code).or_default() += 1);
    let commonest = counts.iter().max_by_key(|(code, count)| (**count, std::cmp::Reverse(**code)));
    let commonest = commonest.map(|(code, _)| *code);
    let column = |own: usize| codes.iter().map(|&code| f64::from(code == own)).collect();
    counts.into_keys().filter(|code| Some(*code) != commonest).map(column).collect()
}

/// How many different codes there are; codes are places in a list.
pub(super) fn distinct(codes: &[usize]) -> usize {
    let mut is_met = vec![false; codes.iter().max().map_or(0, |most| most + 1)];
    codes.iter().for_each(|&code| is_met[code] = true);
    is_met.into_iter().filter(|is_met| *is_met).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows() -> RatedRows {
        RatedRows {
            reed: vec![0, 0, 1, 2, 2],
            score: vec![5.0, 6.0, 7.0, 3.0, 4.0],
            player: vec![0, 1, 1, 0, 1],
            players: 2,
        }
    }

    #[test]
    fn reeds_left_out_take_their_ratings_with_them() {
        let kept = rows().of_reeds(&[1, 2]);
        assert_eq!(kept.reed, [0, 1, 1]);
        assert_eq!(kept.score, [7.0, 3.0, 4.0]);
        assert!(kept.repeats());
    }

    #[test]
    fn the_player_with_most_ratings_is_the_one_that_others_are_compared_with() {
        assert_eq!(rows().player_columns(), [vec![1.0, 0.0, 0.0, 1.0, 0.0]]);
    }
}
