//! Which cane lots played well?
//!
//! A lot with three lucky reeds must not top the table. Each lot's mean is therefore drawn towards the average of
//! all lots, the more the fewer reeds it has and the less the lots differ (partial pooling).
//!
//! **Method.** A linear mixed model of the reeds' scores with lots as random intercepts, by restricted maximum
//! likelihood (Bates, Maechler, Bolker & Walker 2015); the pooled means are conditional means with their prediction error
//! variance (Henderson 1975). Their intervals come from draws in which the spread between lots varies as its likelihood
//! allows (Gelman 2006): with it taken as known, they are too narrow, but where there are thousands of lots (see `undrawn`).
//!
//! Where reeds have several ratings, or lots are known by their tubes, the pooled means are those of a model of the ratings
//! themselves with lots, tubes and reeds as random intercepts and players as columns (see `ratings`). Good reeds per ten
//! pieces come from a random-intercept logistic model of `good` (see `good`), advice from the chances (see `advice`).
//!
//! **Assumptions.** Lots differ from their average by normal amounts; reeds of a lot scatter equally around it. A lot that
//! was used in a better season, or made in a better way, looks better: nothing but the players' leniency is taken out, unless the making is asked to be
//! taken out too (see `adjusted`).
//!
//! **Refuses** with fewer than two lots that have a rated reed. With fewer than five, lots are shown and not ranked.

mod adjusted;
mod advice;
mod fit;
mod good;
mod overlap;
mod ratings;
mod say;
mod show;
mod undrawn;

use std::collections::BTreeMap;

use super::scores::{ReedScores, reed_scores};
use super::{Options, Question};
use crate::finding::{Finding, LotResult};
use crate::problem::Refusal;
use crate::stats::numeric::{mean, standard_deviation};
use crate::study::{Better, Study};
use crate::words::lots as words;

use fit::{Fitted, fit};
use good::{Good, good};

pub const QUESTION: Question = Question {
    name: "lots",
    asked: "Which cane lots played well?",
    help: "how each lot's reeds were rated, lots of few reeds drawn towards the average",
    ask,
    asked_of: super::any_log,
};

const FEWEST_LOTS: usize = 2;

/// The rated reeds of lots.
struct Rated {
    /// Positions in the reed scores.
    reed: Vec<usize>,
    /// Rows of the pieces.
    piece: Vec<usize>,
    score: Vec<f64>,
    lot: Vec<usize>,
    names: Vec<String>,
    without_lot: usize,
}

impl Rated {
    fn code(&self, lot: &str) -> Option<usize> {
        // the levels of a grouping are sorted by name
        self.names.binary_search_by(|name| name.as_str().cmp(lot)).ok()
    }

    fn by_lot(&self) -> BTreeMap<usize, Vec<f64>> {
        let mut scores: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        for (lot, score) in self.lot.iter().zip(&self.score) {
            scores.entry(*lot).or_default().push(*score);
        }
        scores
    }
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with fewer than two lots that have a rated reed, or where no lot has two.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let scores = reed_scores(study);
    let rated = select(study, &scores);
    let fitted = refuse_or_fit(study, &scores, &rated, options)?;
    let good = good(study, options.seed);
    let adjusted =
        if options.adjusted { adjusted::adjusted(study, &rated, options.seed) } else { None };
    let mut results = results(study, &rated, &fitted, &good);
    if let Some(adjusted) = &adjusted {
        adjusted.write(&rated, &mut results);
    }
    advice::advise(&mut results, &rated, &fitted);
    sort(&mut results, study.outcome().better, |lot| fitted.of_lot(rated.code(lot)?));
    words::put(&mut results, study.settings().worthwhile);
    let told = say::Told { study, scores: &scores, rated: &rated, fitted: &fitted, good: &good };
    Ok(told.finding(results, adjusted.as_ref(), options))
}

fn select(study: &Study, scores: &ReedScores) -> Rated {
    let lots = study.lots();
    let lot_of = |&reed: &usize| lots.codes[scores.piece[reed]];
    let reed: Vec<usize> = (0..scores.piece.len()).filter(|reed| lot_of(reed).is_some()).collect();
    Rated {
        piece: reed.iter().map(|&reed| scores.piece[reed]).collect(),
        score: reed.iter().map(|&reed| scores.score[reed]).collect(),
        lot: reed.iter().filter_map(lot_of).map(|lot| lot as usize).collect(),
        without_lot: scores.piece.len() - reed.len(),
        names: lots.levels.clone(),
        reed,
    }
}

fn refuse_or_fit(
    study: &Study,
    scores: &ReedScores,
    rated: &Rated,
    options: &Options,
) -> Result<Fitted, Refusal> {
    let refusal = |found: String, takes: &str| Refusal {
        question: QUESTION.name.to_owned(),
        found,
        takes: takes.to_owned(),
    };
    let by_lot = rated.by_lot();
    if by_lot.len() < FEWEST_LOTS {
        return Err(refusal(
            words::too_few(by_lot.len()),
            "It takes two to compare and five to rank; a column “lot” in reeds.csv says which piece came from which.",
        ));
    }
    fit(study, scores, rated, options.seed).map_err(|_| {
        let largest = by_lot.values().map(Vec::len).max().unwrap_or(0);
        let all_alike = rated.score.windows(2).all(|pair| pair[0] == pair[1]);
        refusal(
            words::not_comparable(largest, all_alike),
            "It takes at least one lot with two rated reeds that differ.",
        )
    })
}

/// One result a lot that has pieces, rated or not.
fn results(study: &Study, rated: &Rated, fitted: &Fitted, good: &Good) -> Vec<LotResult> {
    let scores = rated.by_lot();
    let prices: BTreeMap<String, f64> = study.prices().into_iter().collect();
    let one = |count: &crate::study::LotCount| {
        let lot = rated.code(&count.lot);
        let own = lot.and_then(|lot| scores.get(&lot));
        let pooled = lot.and_then(|lot| fitted.of_lot(lot));
        let per_ten = lot.and_then(|lot| good.per_ten.get(&lot));
        let price = prices.get(&count.lot).copied();
        LotResult {
            pieces: count.pieces,
            spoiled: count.spoiled,
            rated: own.map_or(0, Vec::len),
            raw_mean: own.and_then(|own| mean(own).ok()),
            pooled_mean: pooled.map(|pooled| pooled.band.estimate),
            low: pooled.map(|pooled| pooled.band.low),
            high: pooled.map(|pooled| pooled.band.high),
            lot: count.lot.clone(),
            adjusted: None,
            good_per_ten: per_ten.map(|good| good.estimate),
            good_low: per_ten.map(|good| good.low),
            good_high: per_ten.map(|good| good.high),
            cost_per_good: price
                .zip(per_ten)
                .and_then(|(price, good)| advice::cost(price, good.estimate)),
            p_best: None,
            p_above: None,
            spread: own.and_then(|own| standard_deviation(own).ok()),
            advice: None,
            sentence: String::new(),
        }
    };
    study.lot_counts().iter().map(one).collect()
}

/// The best first, of equals the one that the draws speak for; lots without a rated reed last, by name.
fn sort<'a>(
    results: &mut Vec<LotResult>,
    better: Better,
    pooled: impl Fn(&str) -> Option<&'a fit::Pooled>,
) {
    let sign = if better == Better::Higher { -1.0 } else { 1.0 };
    let key = |result: &LotResult| {
        let (middle, drawn) =
            pooled(&result.lot).map_or((0.0, 0.0), |lot| (lot.band.estimate, lot.drawn));
        (result.pooled_mean.is_none(), sign * middle, sign * drawn)
    };
    let mut keyed: Vec<_> = results.drain(..).map(|result| (key(&result), result)).collect();
    keyed.sort_by(|((no_a, middle_a, drawn_a), a), ((no_b, middle_b, drawn_b), b)| {
        let order = no_a.cmp(no_b).then(middle_a.total_cmp(middle_b));
        order.then(drawn_a.total_cmp(drawn_b)).then(a.lot.cmp(&b.lot))
    });
    results.extend(keyed.into_iter().map(|(_, result)| result));
}
