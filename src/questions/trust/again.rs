//! The same player and the same reed once more: how far one player's ratings repeat, and whether they move.

use std::collections::{BTreeMap, BTreeSet};

use super::super::scores::centred_within;
use super::intraclass::one_way_interval;
use super::players::players_of;
use crate::finding::{Estimated, SamePlayer};
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::linear::least_squares;
use crate::stats::numeric::mean;
use crate::stats::repeatability::repeat_readings;
use crate::study::{Settings, Settled, Study};

/// It takes so many reeds rated again, each player apart.
const FEWEST: usize = 8;
/// An anchor's change takes so many ratings beyond the first of each anchor and player.
const FEWEST_OF_ANCHORS: usize = 6;
const DAYS_IN_A_MONTH: f64 = 30.44;
/// The column that marks anchor reeds, and its mark.
const ANCHOR: (&str, &str) = ("anchor", "yes");

/// One rating of a reed that its player rated more than once.
struct Again {
    /// Which reed and player.
    series: usize,
    reed: usize,
    player: usize,
    score: f64,
    months: Option<f64>,
    is_anchor: bool,
}

/// None where too few reeds were rated again by the same player.
pub(super) fn same_player(study: &Study) -> Option<SamePlayer> {
    let ratings = rated_again(study);
    let series = distinct(ratings.iter().map(|rating| rating.series));
    if series < FEWEST {
        return None;
    }
    let scores: Vec<f64> = ratings.iter().map(|rating| rating.score).collect();
    let codes: Vec<usize> = ratings.iter().map(|rating| rating.series).collect();
    let repeated = repeat_readings(&scores, &codes).ok()?;
    let interval = repeated.within_interval(0.95).ok();
    let interval = interval.filter(|_| repeated.within_standard_deviation > 0.0);
    // the coefficient is a multiple of the standard deviation, and so are its ends
    let multiple = repeated.coefficient() / repeated.within_standard_deviation;
    let anchors: Vec<&Again> = ratings.iter().filter(|rating| rating.is_anchor).collect();
    let others: Vec<&Again> = ratings.iter().filter(|rating| !rating.is_anchor).collect();
    let mut found = SamePlayer {
        n: series,
        ratings: ratings.len(),
        within_sd: repeated.within_standard_deviation,
        within_low: interval.map(|ends| ends.0),
        within_high: interval.map(|ends| ends.1),
        repeatability: interval.map(|(low, high)| Estimated {
            estimate: repeated.coefficient(),
            low: low * multiple,
            high: high * multiple,
        }),
        reliability: one_way_interval(&without_players(&ratings), &codes),
        change_per_month: change(&others, FEWEST).and_then(estimated),
        anchors_per_month: change(&anchors, FEWEST_OF_ANCHORS).and_then(estimated),
        anchors: distinct(anchors.iter().map(|rating| rating.reed)),
        sentence: String::new(),
    };
    found.sentence = crate::words::trust::again::sentence(&found);
    Some(found)
}

/// How many reeds were rated again by the same player, each player apart.
pub(super) fn series(study: &Study) -> usize {
    distinct(rated_again(study).iter().map(|rating| rating.series))
}

/// Every rating, whichever speak for their reeds, of reeds that a player rated more than once.
fn rated_again(study: &Study) -> Vec<Again> {
    let settings = Settings { settled: Settled::All, ..study.settings().clone() };
    let judged = study.judged_by(settings);
    let rows = judged.rating_rows();
    let anchor = study.words(ANCHOR.0);
    let (players, _) = players_of(rows);
    let mut series: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for (row, (&reed, &player)) in rows.piece.iter().zip(&players).enumerate() {
        series.entry((reed, player)).or_default().push(row);
    }
    let mut found = Vec::new();
    let repeated = series.into_iter().filter(|(_, rows)| rows.len() > 1).enumerate();
    for (code, ((reed, player), mut of_series)) in repeated {
        of_series.sort_by(|&a, &b| {
            rows.day[a].cmp(&rows.day[b]).then(rows.score[a].total_cmp(&rows.score[b]))
        });
        found.extend(of_series.into_iter().map(|row| Again {
            series: code,
            reed,
            player,
            score: rows.score[row],
            months: rows.day[row].map(|day| f64::from(day) / DAYS_IN_A_MONTH),
            is_anchor: anchor[reed] == Some(ANCHOR.1),
        }));
    }
    found
}

fn distinct(codes: impl Iterator<Item = usize>) -> usize {
    codes.collect::<BTreeSet<_>>().len()
}

/// Scores less the mean of their player, so that leniency is no difference between reeds.
fn without_players(ratings: &[Again]) -> Vec<f64> {
    let mut by_player: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for rating in ratings {
        by_player.entry(rating.player).or_default().push(rating.score);
    }
    let means: BTreeMap<usize, f64> = by_player
        .into_iter()
        .filter_map(|(player, scores)| Some((player, mean(&scores).ok()?)))
        .collect();
    let level = |player: &usize| means.get(player).copied().unwrap_or_default();
    ratings.iter().map(|rating| rating.score - level(&rating.player)).collect()
}

/// Mean change a month within series; errors let the ratings of one reed resemble each other where there are three reeds.
/// None with fewer than `fewest` ratings beyond the first of each series that spans several days.
fn change(ratings: &[&Again], fewest: usize) -> Option<Estimate> {
    let dated: Vec<(&Again, f64)> =
        ratings.iter().filter_map(|rating| Some((*rating, rating.months?))).collect();
    let spans = dated.chunk_by(|a, b| a.0.series == b.0.series);
    // of a series in the order of days the last day differs from the first where any does
    let spans = spans.filter(|series| series.first().map(|r| r.1) != series.last().map(|r| r.1));
    let kept: Vec<&(&Again, f64)> = spans.flatten().collect();
    let series: Vec<usize> = kept.iter().map(|(rating, _)| rating.series).collect();
    let several = distinct(series.iter().copied());
    let free = kept.len().checked_sub(several + 1).filter(|free| free + 1 >= fewest)?;
    let months: Vec<f64> = kept.iter().map(|(_, months)| *months).collect();
    let scores: Vec<f64> = kept.iter().map(|(rating, _)| rating.score).collect();
    let design = Design::builder(kept.len())
        .number("months", &centred_within(&months, &series))
        .build()
        .ok()?;
    let fit = least_squares(&design, &centred_within(&scores, &series)).ok()?;
    let reeds: Vec<usize> = kept.iter().map(|(rating, _)| rating.reed).collect();
    if let Ok(robust) = fit.clustered(&reeds) {
        return robust.contrast(&[1.0]).ok();
    }
    let known = fit.classical(&[1.0]).ok()?;
    let widened = (fit.residual_degrees_of_freedom as f64 / free as f64).sqrt();
    Some(Estimate {
        standard_error: known.standard_error * widened,
        degrees_of_freedom: free as f64,
        ..known
    })
}

/// None without an error that can be seen.
fn estimated(change: Estimate) -> Option<Estimated> {
    let (low, high) = change.interval(0.95).ok().filter(|_| change.standard_error > 0.0)?;
    Some(Estimated { estimate: change.value, low, high })
}
