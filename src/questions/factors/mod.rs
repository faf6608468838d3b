//! Which factors predict a good reed?
//!
//! **Method.** One linear mixed model a factor, one row a rating. Stage order decides what is adjusted for: factors of earlier stages and
//! of the same stage are in the model, later ones are not, because they may be the road by which the factor works (Pearl
//! 2009; Cinelli, Forney & Pearl 2022). Reeds of the same lot are compared with each other; what goes from lot to lot
//! stands beside it (Mundlak 1978; Bell, Fairbrother & Jones 2019). Lots deviate at random, and so do reeds with several ratings; players stand as
//! columns. The making date is in the model as a natural cubic spline where the log spans 60 days, the season where it spans a year. Where nothing
//! deviates at random it is least squares with cluster-robust errors (CR2: Bell & McCaffrey 2002; Pustejovsky & Tipton 2018). With fewer than ten reeds a
//! column what is adjusted for is chosen by double selection (Belloni, Chernozhukov & Hansen 2014). Many factors are looked at together, so a verdict
//! also needs an adjusted p of at most 0.05 (Benjamini & Hochberg 1995; bends weigh less: Genovese, Roeder & Wasserman 2006); a choice enters that family once.
//!
//! Beside it: curves and best values (`sweet_spot`), how even the reeds are (`spread`), the effect of a true step (`reading_error`), the same question
//! of ordered ratings, of good reeds, of spoiled pieces and with gaps filled in (`again`), further criteria (`criteria`), features of the profile
//! (`profile`), what all of it foretells of lots that were held out (`foretell`) and what is kept in halves of the lots (`stability`).
//!
//! **Assumptions.** Effects are straight over the range of the data, but for the bends that are told, and add up. Cells are missing without regard to how
//! the reed would have played.
//!
//! **Refuses** with fewer than eight rated reeds, or where no column may predict anything.

mod adjusters;
mod again;
pub(super) mod at_values;
mod criteria;
pub(super) mod curve;
mod effect;
mod entry;
mod fit;
pub(super) mod foretell;
mod judge;
pub(super) mod levels;
pub(super) mod lost;
pub(super) mod measured;
mod model;
pub(super) mod own_effects;
pub(super) mod profile;
mod reading_error;
pub(super) mod sample;
mod say;
mod spread;
mod stability;
mod sweet_spot;
mod tables;
mod told;
pub(super) mod worn;

use super::many::scores_taken;
use super::rated::RatedRows;
use super::scores::{ReedScores, count_out, reed_scores};
use super::{Options, Question};
use crate::finding::{Finding, LeftOut};
use crate::problem::Refusal;
use crate::study::Study;
use crate::words::criteria::kinds_too_rare;
use rayon::prelude::*;

use again::{Log, Pieces, ask_again};
use effect::{KEPT_SHARE, Left, left};
use entry::{Fitted, Looked, bare, described, scope, tangled_with, usual_step};
use fit::Bench;
use judge::judge;
use levels::Kinds;
use model::{Model, model};
use sample::{Cells, Columns, FEWEST_IN_LEVEL, MOST_MISSING, all_equal, sample};
pub(super) use say::counted;
use spread::Residuals;
use sweet_spot::{Telling, bend, tell};
use told::put_in_words;

pub const QUESTION: Question = Question {
    name: "factors",
    asked: "Which factors predict a good reed?",
    help: "what went with a better rating among reeds of the same lot",
    ask,
    asked_of: super::any_log,
};

/// With fewer rated reeds nothing is fitted.
const FEWEST_REEDS: usize = 8;

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with fewer than eight rated reeds or without a factor.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let all = reed_scores(study);
    let derived = profile::derived(study, &all);
    let mut columns = Columns::of(study, &all).with(&derived.factors);
    refuse(&columns, &all)?;
    let scores = scores_taken(&all, columns.lots, &mut columns.never_rated);
    let has_lots = columns.can_compare_within_lots(&scores.piece);
    let rated = RatedRows::of(study, &scores);
    let mut looked = look_at_all(&columns, &scores, &rated, has_lots, Depth::BeyondTheMean);
    let outcome = super::outcome_words(study);
    let worthwhile = study.settings().worthwhile;
    judge(&mut looked, worthwhile);
    tell(
        &mut looked,
        &Telling { seed: options.seed, worthwhile, lower_is_better: outcome.lower_is_better },
    );
    spread::adjust(&mut looked);
    let read_twice = reading_error::correct(&mut looked, study);
    let log = Log {
        study,
        columns: &columns,
        scores: &scores,
        rated: &rated,
        has_lots,
        seed: options.seed,
    };
    ask_again(&log, &Pieces::of(study, &all), &mut looked);
    put_in_words(&mut looked, study, &read_twice);
    let foretold = foretell::foretell(study, &columns, &scores, outcome, options.seed);
    for entry in &mut looked {
        entry.result.stability = foretold.stability[entry.at];
    }
    let held = criteria::criteria(study, &columns, &looked);
    let told =
        say::finding(study, &columns, &scores, looked, &read_twice, (has_lots, options.seed));
    let mut finding = say::with_foretold(told, foretold, options.seed);
    finding.caveats.extend(derived.caveats);
    if scores.piece.len() < all.piece.len() {
        let chosen = crate::words::many::chosen(scores.piece.len(), all.piece.len());
        finding.method.assumptions.push(chosen);
    }
    criteria::tell(&mut finding, held);
    Ok(finding)
}

/// How much is asked of each factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Depth {
    /// How far the mean moved.
    Mean,
    /// Also whether the line bends, and how even the reeds are.
    BeyondTheMean,
}

/// Every factor held against the scores, in the order of the making.
fn look_at_all(
    columns: &Columns,
    scores: &ReedScores,
    rated: &RatedRows,
    has_lots: bool,
    depth: Depth,
) -> Vec<Looked> {
    let look = |at| look(columns, scores, rated, at, (has_lots, depth));
    (0..columns.factors.len()).into_par_iter().flat_map_iter(look).collect()
}

fn refuse(columns: &Columns, scores: &ReedScores) -> Result<(), Refusal> {
    let refusal = |found: String, takes: &str| Refusal {
        question: QUESTION.name.to_owned(),
        found,
        takes: takes.to_owned(),
    };
    if scores.piece.len() < FEWEST_REEDS {
        return Err(refusal(
            format!(
                "The log holds {} with a rating.",
                crate::words::digits::plural(scores.piece.len(), "reed", "reeds")
            ),
            "It takes eight before anything can be said about what went with a good one.",
        ));
    }
    if scores.score.windows(2).all(|pair| pair[0] == pair[1]) {
        return Err(refusal(
            "Every rated reed has the same score.".to_owned(),
            "It takes ratings that differ before anything can be said about what went with a good one.",
        ));
    }
    if columns.factors.is_empty() {
        return Err(refusal(
            "The log has no column that could predict a rating.".to_owned(),
            "It takes at least one measurement or choice of the making, such as gouge, hardness or days on the pin.",
        ));
    }
    Ok(())
}

/// Fits one factor: one entry for a number, one a level for a choice.
fn look(
    columns: &Columns,
    scores: &ReedScores,
    rated: &RatedRows,
    at: usize,
    (has_lots, depth): (bool, Depth),
) -> Vec<Looked> {
    let (factor, _) = &columns.factors[at];
    if let Some(why) = not_modelled(columns, at, scores) {
        return vec![described(columns, at, why, scores)];
    }
    let sample = sample(columns, scores, at, has_lots);
    if sample.reeds.len() < FEWEST_REEDS {
        let n = sample.reeds.len();
        let why = format!("{}: only {n} rated reeds have every cell that it takes", factor.label);
        return vec![described(columns, at, LeftOut { why, n }, scores)];
    }
    let model =
        model(columns, scores, &sample, at, has_lots).ok().filter(|model| !model.own.is_empty());
    let Some(model) = model else {
        let why = kinds_too_rare(columns.counted, &factor.label, 1, FEWEST_IN_LEVEL);
        return vec![described(columns, at, LeftOut { why, n: sample.reeds.len() }, scores)];
    };
    let left = left(&model, &model.raw);
    let bench = Bench::new(&model, rated.of_reeds(&sample.reeds));
    let answer = bench.headline();
    let kinds = Kinds::of(&model, answer.as_ref());
    let fitted = Fitted {
        columns,
        at,
        sample: &sample,
        model: &model,
        left: &left,
        answer: answer.as_ref(),
        kinds: &kinds,
        has_lots,
    };
    let mut entries: Vec<Looked> = (0..model.own.len()).map(|own| fitted.looked(own)).collect();
    if depth == Depth::BeyondTheMean && left.kept >= KEPT_SHARE {
        look_beyond_the_mean(&mut entries, &bench, &model, &left);
    }
    entries
}

/// A number's bend, how even the reeds are, and the variance that reading error is held against.
fn look_beyond_the_mean(entries: &mut [Looked], bench: &Bench, model: &Model, left: &Left) {
    let residuals = Residuals::of(model);
    for (own, entry) in entries.iter_mut().enumerate() {
        if entry.effect.is_none() {
            continue;
        }
        let step = entry.result.step.unwrap_or(1.0);
        entry.result.spread = residuals.as_ref().and_then(|known| known.spread(own, step));
        entry.bend = bend(bench, model);
        entry.own_variance = reading_error::own_variance(model, left);
    }
}

/// Why a factor is described and not modelled.
fn not_modelled(columns: &Columns, at: usize, scores: &ReedScores) -> Option<LeftOut> {
    let (factor, cells) = &columns.factors[at];
    let noun = columns.counted.noun();
    let scored = columns.scored(scores, false);
    if scored.share_without(columns.with_factor(at)) > MOST_MISSING {
        let missing = scored.count_without(columns.with_factor(at));
        return Some(LeftOut {
            why: format!("{} is missing for too many {noun}", factor.label),
            n: missing,
        });
    }
    let same = match cells {
        Cells::Number(values) => all_equal(scores.piece.iter().map(|&piece| values[piece])),
        Cells::Choice(codes, _) => all_equal(scores.piece.iter().map(|&piece| codes[piece])),
    };
    if same {
        let why = format!("{} is the same for {}", factor.label, columns.counted.every_one());
        return Some(LeftOut { why, n: scores.piece.len() });
    }
    let Cells::Choice(codes, _) = cells else { return None };
    let enough = levels::kinds_with_enough(codes, &scores.piece);
    (enough < 2).then(|| LeftOut {
        why: kinds_too_rare(columns.counted, &factor.label, enough, FEWEST_IN_LEVEL),
        n: scores.piece.len(),
    })
}
