//! Two players at a time: kappa, and the pair that the picture shows.

use std::collections::BTreeMap;

use super::players::Cells;
use crate::finding::{PairKappa, PlottedPoint};
use crate::stats::agreement::{Weights, cohen_kappa};
use crate::study::Study;
use crate::whole;

/// It takes so many reeds that both rated.
const FEWEST_REEDS: usize = 8;
/// Kappa is given for no more pairs than this.
const MOST_PAIRS: usize = 45;
/// Steps in which people mark, the widest first.
const STEPS: [f64; 7] = [1.0, 0.5, 0.25, 0.2, 0.1, 0.05, 0.01];

/// What two players gave the reeds that both rated.
type Both = BTreeMap<(usize, usize), Vec<(f64, f64)>>;

/// Cells come by reed and then by player.
fn both(shared: &Cells) -> Both {
    let mut found = Both::new();
    let rows: Vec<usize> = (0..shared.reed.len()).collect();
    for reed in rows.chunk_by(|&a, &b| shared.reed[a] == shared.reed[b]) {
        for (place, &first) in reed.iter().enumerate() {
            for &second in &reed[place + 1..] {
                let players = (shared.player[first], shared.player[second]);
                let scores = (shared.score[first], shared.score[second]);
                found.entry(players).or_default().push(scores);
            }
        }
    }
    found
}

/// Weighted kappa of every pair with enough reeds, the pairs with most reeds first.
pub(super) fn kappas(study: &Study, shared: &Cells) -> Vec<PairKappa> {
    let rows = study.rating_rows();
    let Some(step) = step(&rows.score) else { return Vec::new() };
    let lowest = rows.score.iter().copied().fold(f64::INFINITY, f64::min);
    // a player's mean of several ratings counts as the nearest mark
    let code = |score: f64| whole::part(((score - lowest) / step).round());
    let mut pairs: Vec<_> =
        both(shared).into_iter().filter(|(_, scores)| scores.len() >= FEWEST_REEDS).collect();
    pairs.sort_by_key(|(players, scores)| (std::cmp::Reverse(scores.len()), *players));
    let kappa = |((first, second), scores): ((usize, usize), Vec<(f64, f64)>)| {
        let (one, other): (Vec<usize>, Vec<usize>) =
            scores.iter().map(|(a, b)| (code(*a), code(*b))).unzip();
        let found = cohen_kappa(&one, &other, &Weights::Quadratic).ok()?.kappa;
        let ends = found.interval(0.95).ok().filter(|_| found.standard_error > 0.0);
        Some(PairKappa {
            players: [shared.names[first].clone(), shared.names[second].clone()],
            reeds: scores.len(),
            estimate: found.value,
            low: ends.map(|ends| ends.0.max(-1.0)),
            high: ends.map(|ends| ends.1.min(1.0)),
        })
    };
    pairs.into_iter().take(MOST_PAIRS).filter_map(kappa).collect()
}

/// The widest usual step that all marks are multiples of, counted from the lowest.
fn step(scores: &[f64]) -> Option<f64> {
    let lowest = scores.iter().copied().fold(f64::INFINITY, f64::min);
    let is_multiple = |step: f64| {
        scores.iter().all(|score| {
            let steps = (score - lowest) / step;
            (steps - steps.round()).abs() < 1e-6
        })
    };
    STEPS.into_iter().find(|step| is_multiple(*step))
}

/// The two players who rated most reeds in common, and their scores of each.
pub(super) fn pair(shared: &Cells) -> Option<([String; 2], Vec<PlottedPoint>)> {
    let pairs = both(shared);
    let (players, scores) = pairs
        .into_iter()
        .max_by_key(|(players, scores)| (scores.len(), std::cmp::Reverse(*players)))?;
    let points = scores.iter().map(|(x, y)| PlottedPoint { x: *x, y: *y, reeds: 1 }).collect();
    Some(([shared.names[players.0].clone(), shared.names[players.1].clone()], points))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_step_of_the_marks_is_found() {
        assert_eq!(step(&[6.0, 7.5, 8.0]), Some(0.5));
        assert_eq!(step(&[1.0, 4.0, 2.0]), Some(1.0));
        assert_eq!(step(&[6.3, 7.1]), Some(0.2));
        assert_eq!(step(&[6.333_33, 7.1]), None);
    }
}
