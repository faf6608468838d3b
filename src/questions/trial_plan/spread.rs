//! How far reeds of one lot scatter, and how many pieces never play: what the size of a trial rests on.

use std::collections::{BTreeMap, BTreeSet};

use super::refusal;
use crate::finding::LeftOut;
use crate::plan::SpoiledCount;
use crate::problem::Refusal;
use crate::questions::piece_set::PieceSet;
use crate::questions::score_range;
use crate::questions::scores::{ReedScores, group_means, never_rated, reed_scores};
use crate::stats::numeric::chi_squared_quantile;
use crate::study::{Better, Fate, Study};
use crate::words::trial::plan as words;

/// Fewer comparisons within lots say nothing of the spread.
const FEWEST_DF: usize = 5;
/// The chance with which the spread is larger than the high one.
const HIGH: f64 = 0.2;

pub(super) struct Spread {
    /// Standard deviation within lots (and makers).
    pub sd: f64,
    /// As large as it may be with one chance in five.
    pub high: f64,
    pub df: usize,
    /// Reeds, and the lots they come from.
    pub reeds: usize,
    pub lots: usize,
    /// Whether any reed has a lot.
    pub has_lots: bool,
    /// Ratings of a reed on average.
    pub ratings: f64,
    /// Share of the pieces that were spoiled before play, of those of which it is known; none where no piece is said to be spoiled and no column could.
    pub spoilage: Option<f64>,
    /// Share of the pieces that gives no number for the comparison.
    pub loss: f64,
    pub left_out: Vec<LeftOut>,
}

pub(super) fn of(study: &Study, spoiled: SpoiledCount) -> Result<Spread, Refusal> {
    let scores = reed_scores(study);
    let left_out = never_rated(study, &scores);
    let spoilage = spoilage(study, &scores);
    let marks = with_worst_marks(study, &scores, spoiled);
    let lots = &study.lots().codes;
    let has_lots = marks.iter().any(|(piece, _)| lots[*piece].is_some());
    let (group, score) = by_lot(study, &marks, has_lots);
    let groups = group.iter().collect::<BTreeSet<_>>().len();
    let df = score.len() - groups;
    if df < FEWEST_DF {
        return Err(refusal(words::too_few_reeds(score.len(), groups), words::TAKES_REEDS));
    }
    let means = group_means(&score, &group);
    let squares: f64 =
        score.iter().zip(&group).map(|(score, group)| (score - means[group]).powi(2)).sum();
    let sd = (squares / df as f64).sqrt();
    let [low, high] = score_range(study);
    if sd <= 1e-9 * (high - low) {
        return Err(refusal(words::ALL_ALIKE, words::TAKES_SPREAD));
    }
    let ratings = study.rating_rows().score.len() as f64 / scores.score.len().max(1) as f64;
    let loss = match spoiled {
        SpoiledCount::LeftOut => spoilage.unwrap_or(0.0),
        SpoiledCount::WorstMark => 0.0,
    };
    let high = sd * (df as f64 / chi_squared_quantile(HIGH, df as f64)).sqrt();
    let (reeds, lots) = (score.len(), groups);
    Ok(Spread { sd, high, df, reeds, lots, has_lots, ratings, spoilage, loss, left_out })
}

/// Pieces and their marks; those spoiled before play with the worst one, where the plan counts them so.
fn with_worst_marks(
    study: &Study,
    scores: &ReedScores,
    spoiled: SpoiledCount,
) -> Vec<(usize, f64)> {
    let rated = scores.piece.iter().copied().zip(scores.score.iter().copied());
    if spoiled == SpoiledCount::LeftOut {
        return rated.collect();
    }
    let [low, high] = score_range(study);
    let worst = if study.outcome().better == Better::Higher { low } else { high };
    let mut marks: BTreeMap<usize, f64> = rated.collect();
    for (piece, fate) in study.fates().iter().enumerate() {
        if *fate == Some(Fate::Spoiled) {
            marks.entry(piece).or_insert(worst);
        }
    }
    marks.into_iter().collect()
}

/// Marks and the group of each, lots of several makers apart. Without any lot all reeds are one group; else those without a lot stay out.
fn by_lot(study: &Study, marks: &[(usize, f64)], has_lots: bool) -> (Vec<usize>, Vec<f64>) {
    let (lots, makers) = (&study.lots().codes, &study.labels("maker").codes);
    let mut codes: BTreeMap<(Option<u32>, Option<u32>), usize> = BTreeMap::new();
    let kept = marks.iter().filter(|(piece, _)| !has_lots || lots[*piece].is_some());
    kept.map(|&(piece, mark)| {
        let next = codes.len();
        (*codes.entry((lots[piece], makers[piece])).or_insert(next), mark)
    })
    .unzip()
}

fn spoilage(study: &Study, scores: &ReedScores) -> Option<f64> {
    let rated = PieceSet::of(&scores.piece, study.pieces());
    let fates = study.fates();
    let lost = |(piece, fate): &(usize, &Option<Fate>)| {
        **fate == Some(Fate::Spoiled) && !rated.holds(*piece)
    };
    let spoiled = fates.iter().enumerate().filter(lost).count();
    let tells = |column: &str| ["fate", "spoiled_at", "spoiled_by"].contains(&column);
    let could_tell = study.understood().iter().any(|column| tells(&column.name));
    (spoiled > 0 || could_tell).then(|| spoiled as f64 / (spoiled + rated.count()).max(1) as f64)
}
