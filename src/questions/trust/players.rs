//! How far several players agree about the same reeds.

use std::collections::BTreeSet;
use std::ops::Range;

use super::intraclass::Compared;
use super::pairs;
use super::people::of_two;
use crate::finding::{Estimated, PlayerLeniency, PlayersTrust, RatingsNeeded};
use crate::stats::agreement::{Scale, joined_raters, krippendorff_alpha, rater_levels};
use crate::study::{RatingRows, Study};
use crate::whole;

/// It takes so many reeds that several players rated.
pub(super) const FEWEST_REEDS: usize = 6;
/// More players than this are not compared one by one.
pub(super) const MOST_PLAYERS: usize = 25;
/// What a reed score is wanted to reach.
const WANTED: f64 = 0.8;
/// Fewer units give a bootstrap interval that is too narrow.
const FEWEST_UNITS: usize = 20;

/// One score of each reed by each player: the mean where a player rated the reed more than once. By rising reed, and of a reed by rising player.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Cells {
    pub reed: Vec<usize>,
    pub player: Vec<usize>,
    pub score: Vec<f64>,
    /// Names by code; the last one is of ratings without a name, where there are any.
    pub names: Vec<String>,
    /// Ratings behind each score.
    pub ratings: Vec<usize>,
}

/// The code of each rating's player; ratings without a name count as one more player.
pub(super) fn players_of(rows: &RatingRows) -> (Vec<usize>, Vec<String>) {
    let nameless = rows.player.levels.len();
    let codes: Vec<usize> =
        rows.player.codes.iter().map(|code| code.map_or(nameless, |code| code as usize)).collect();
    let mut names = rows.player.levels.clone();
    if codes.contains(&nameless) {
        names.push("no name given".to_owned());
    }
    (codes, names)
}

impl Cells {
    pub fn of(rows: &RatingRows) -> Self {
        let (players, names) = players_of(rows);
        let cells = rows.piece.iter().zip(&players).zip(&rows.score);
        let mut scores: Vec<(usize, usize, f64)> =
            cells.map(|((&reed, &player), &score)| (reed, player, score)).collect();
        // a sum in the order of size does not depend on the order of the rows
        scores.sort_unstable_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2)));
        let mut cells = Self { names, ..Self::default() };
        for ratings in scores.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
            cells.reed.push(ratings[0].0);
            cells.player.push(ratings[0].1);
            cells.ratings.push(ratings.len());
            let sum = ratings.iter().map(|rating| rating.2).sum::<f64>();
            cells.score.push(sum / ratings.len() as f64);
        }
        cells
    }

    /// The cells of the players that pass.
    pub fn of_players(&self, is_wanted: impl Fn(usize) -> bool) -> Self {
        let mut kept = Self { names: self.names.clone(), ..Self::default() };
        for row in (0..self.reed.len()).filter(|&row| is_wanted(self.player[row])) {
            kept.reed.push(self.reed[row]);
            kept.player.push(self.player[row]);
            kept.score.push(self.score[row]);
            kept.ratings.push(self.ratings[row]);
        }
        kept
    }

    /// The cells of each reed.
    fn each_reed(&self) -> impl Iterator<Item = Range<usize>> {
        let mut end = 0;
        self.reed.chunk_by(|a, b| a == b).map(move |cells| {
            let start = end;
            end += cells.len();
            start..end
        })
    }

    /// How many players rated each reed.
    pub fn players_a_reed(&self) -> impl Iterator<Item = usize> {
        self.each_reed().map(|cells| cells.len())
    }

    /// The reeds that so many players rated.
    pub fn rated_by(&self, is_wanted: impl Fn(usize) -> bool) -> Self {
        let mut found = Self { names: self.names.clone(), ..Self::default() };
        for cells in self.each_reed().filter(|cells| is_wanted(cells.len())) {
            found.reed.extend(&self.reed[cells.clone()]);
            found.player.extend(&self.player[cells.clone()]);
            found.score.extend(&self.score[cells.clone()]);
            found.ratings.extend(&self.ratings[cells]);
        }
        found
    }

    /// The reeds that several players rated.
    pub fn shared(&self) -> Self {
        self.rated_by(|players| players > 1)
    }

    pub fn players(&self) -> BTreeSet<usize> {
        self.player.iter().copied().collect()
    }

    pub fn reeds(&self) -> usize {
        self.each_reed().count()
    }

    /// Mean of one over the number of players that rated a reed.
    pub fn mean_share(&self) -> f64 {
        mean_of_one_over(self.players_a_reed())
    }

    /// Mean of one over the number of ratings of a reed, whoever gave them.
    pub fn mean_share_of_ratings(&self) -> f64 {
        mean_of_one_over(self.each_reed().map(|cells| self.ratings[cells].iter().sum()))
    }
}

fn mean_of_one_over(counts: impl Iterator<Item = usize>) -> f64 {
    let (mut shares, mut reeds) = (0.0, 0_usize);
    for count in counts {
        shares += 1.0 / count as f64;
        reeds += 1;
    }
    shares / reeds.max(1) as f64
}

/// None where several players rated too few reeds.
pub(super) fn players(study: &Study, cells: &Cells, seed: u64) -> Option<PlayersTrust> {
    let shared = cells.shared();
    if shared.reeds() < FEWEST_REEDS {
        return None;
    }
    let compared = Compared::of(&shared);
    let alpha = Alpha::of(&shared, seed);
    let (leniency, apart) = leniency(cells, &shared);
    let of_reed = compared.consistency.or(compared.single);
    Some(PlayersTrust {
        players: shared.players().len(),
        reeds: compared.reeds,
        form: if compared.is_two_way { "two-way" } else { "one-way" }.to_owned(),
        why: compared.why,
        icc_single: compared.estimate,
        icc_mean: compared.mean,
        low: compared.single.map(|single| single.low),
        high: compared.single.map(|single| single.high),
        consistency: compared.consistency,
        forms: compared.forms,
        alpha: alpha.estimate,
        alpha_low: alpha.interval.map(|ends| ends.0),
        alpha_high: alpha.interval.map(|ends| ends.1),
        kappa: pairs::kappas(study, &shared),
        difference: of_two(leniency.iter().map(|level| (level.estimate, level.low, level.high))),
        leniency,
        apart,
        ratings_needed: of_reed.and_then(ratings_needed),
    })
}

/// How much higher each player rates, and the players who share no reed with those.
fn leniency(cells: &Cells, shared: &Cells) -> (Vec<PlayerLeniency>, Vec<String>) {
    let joined = joined_raters(&shared.reed, &shared.player).unwrap_or_default();
    let is_joined = |player: &usize| joined.binary_search(player).is_ok();
    let name = |player: usize| cells.names.get(player).cloned().unwrap_or_default();
    let apart: Vec<String> =
        cells.players().into_iter().filter(|player| !is_joined(player)).map(name).collect();
    if joined.len() > MOST_PLAYERS {
        return (Vec::new(), apart);
    }
    let kept = shared.of_players(|player| is_joined(&player));
    let Ok(found) = rater_levels(&kept.score, &kept.reed, &kept.player) else {
        return (Vec::new(), apart);
    };
    let reeds = |player: usize| kept.player.iter().filter(|other| **other == player).count();
    let of_player = |(player, level): &(usize, crate::stats::Estimate)| {
        let (low, high) = level.interval(0.95).ok()?;
        let estimate = level.value;
        let (player, reeds) = (name(*player), reeds(*player));
        let stands_out = found.stands_out(level);
        Some(PlayerLeniency { player, estimate, low, high, reeds, stands_out })
    };
    // players who always differ by the same show no error, and then nothing is claimed of it
    let known = found.levels.iter().filter(|(_, level)| level.standard_error > 0.0);
    (known.filter_map(of_player).collect(), apart)
}

/// Spearman (1910) & Brown (1910): `m = R (1 - r) / ((1 - R) r)` ratings bring the mean to the reliability `R`.
fn ratings_needed(single: Estimated) -> Option<RatingsNeeded> {
    let needed = |share: f64| {
        let ratings = WANTED * (1.0 - share) / ((1.0 - WANTED) * share);
        // rounding must not ask for one rating more
        (share > 0.0).then(|| whole::part((ratings - 1e-9).ceil()).max(1))
    };
    Some(RatingsNeeded {
        reliability: WANTED,
        estimate: needed(single.estimate)?,
        low: needed(single.high)?,
        high: needed(single.low),
    })
}

#[derive(Debug, Clone, Copy, Default)]
struct Alpha {
    estimate: Option<f64>,
    interval: Option<(f64, f64)>,
}

impl Alpha {
    fn of(shared: &Cells, seed: u64) -> Self {
        let Ok(found) = krippendorff_alpha(&shared.score, &shared.reed, Scale::Ordinal) else {
            return Self::default();
        };
        let replicates = match found.units {
            ..FEWEST_UNITS | 20_001.. => 0,
            ..2_001 => 1_000,
            _ => 200,
        };
        let interval = found.bootstrap_interval(0.95, replicates, seed).ok();
        let interval = interval.map(|ends| (ends.low, ends.high));
        Self { estimate: Some(found.alpha), interval }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_ratings_of_a_half_make_eight_tenths() {
        // Spearman-Brown by hand: 0.8 * 0.5 / (0.2 * 0.5) = 4; at 0.8 one is enough; at 0.25 it takes 12
        let found = ratings_needed(Estimated { estimate: 0.5, low: 0.25, high: 0.8 }).unwrap();
        assert_eq!((found.estimate, found.low, found.high), (4, 1, Some(12)));
        let open = ratings_needed(Estimated { estimate: 0.5, low: -0.1, high: 0.9 }).unwrap();
        assert_eq!(open.high, None);
        assert_eq!(ratings_needed(Estimated { estimate: -0.2, low: -0.5, high: 0.3 }), None);
    }

    #[test]
    fn a_reed_rated_twice_by_one_player_has_one_score() {
        let rows = RatingRows {
            piece: vec![1, 0, 1, 1],
            player: crate::study::Labels {
                codes: vec![Some(0), None, Some(0), Some(1)],
                levels: vec!["ann".to_owned(), "ben".to_owned()],
            },
            score: vec![4.0, 9.0, 6.0, 8.0],
            day: vec![None; 4],
        };
        let cells = Cells::of(&rows);
        assert_eq!((cells.reed.clone(), cells.player.clone()), (vec![0, 1, 1], vec![2, 0, 1]));
        assert_eq!(cells.score, [9.0, 5.0, 8.0]);
        assert_eq!(cells.shared().reed, [1, 1]);
        // one reed by one player, one by two
        assert_eq!(cells.mean_share(), 0.75);
    }
}
