//! Where are pieces lost?
//!
//! Of the pieces that entered a making stage and are through with it, how many were spoiled there, and by
//! what. A piece that cracked on the forming pin was never at risk at the scraping bench, so each stage counts
//! only the pieces that reached it; a piece that still lies at a stage is not counted there yet.
//!
//! **Method.** The share lost at each stage with the exact interval of Clopper & Pearson (1934, Biometrika 26,
//! 404-413).
//!
//! Beside it: what went with losing a piece (`factors::lost`), the stages kept apart; and what the lost pieces took, where prices or minutes are known
//! (`worth`).
//!
//! **Assumptions.** The pieces of a stage are lost independently of each other; pieces of one tube may not be.
//!
//! **Refuses** when the log holds no piece, or names no spoiled piece and has no column that could.

mod say;
mod worth;

use super::factors::lost::lost;
use super::{Options, Question};
use crate::catalogue::Stage;
use crate::finding::{Finding, LossReason, StageResult};
use crate::problem::Refusal;
use crate::stats::proportion::clopper_pearson;
use crate::study::{Fate, LossCount, Study};

pub const QUESTION: Question = Question {
    name: "losses",
    asked: "Where are pieces lost?",
    help: "how many pieces each stage of the making spoils, by what, and what went with it",
    ask,
    asked_of: super::any_log,
};

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] where the log cannot tell of a spoiled piece.
pub fn ask(study: &Study, _options: &Options) -> Result<Finding, Refusal> {
    let fates = study.fates();
    let spoiled = fates.iter().filter(|fate| **fate == Some(Fate::Spoiled)).count();
    refuse_without_fates(study, spoiled)?;
    let counts = study.loss_counts();
    let is_any_placed = spoiled == 0 || counts.iter().any(|count| count.stage.is_some());
    let stages =
        if is_any_placed { stage_results(study.furthest_stages(), counts) } else { Vec::new() };
    Ok(say::finding(study, stages, lost(study), worth::worth(study), counts))
}

/// A log in which no fate was ever written says nothing about losses, even where every piece was rated: the spoiled
/// ones may never have been entered.
fn refuse_without_fates(study: &Study, spoiled: usize) -> Result<(), Refusal> {
    if study.pieces() == 0 {
        return Err(Refusal {
            question: QUESTION.name.to_owned(),
            found: "The log holds no piece.".to_owned(),
            takes: "It takes a row for every piece that was started.".to_owned(),
        });
    }
    let tells = |column: &str| ["fate", "spoiled_at", "spoiled_by"].contains(&column);
    if spoiled > 0 || study.understood().iter().any(|column| tells(&column.name)) {
        return Ok(());
    }
    Err(Refusal {
        question: QUESTION.name.to_owned(),
        found: "The log does not say of any piece that it was spoiled, and has no column that could.".to_owned(),
        takes: "It takes a row for every piece that was started and a column “fate” with words such as in_use, \
                worn_out or spoiled; for spoiled pieces also “spoiled_at” with the stage."
            .to_owned(),
    })
}

fn stage_results(furthest: &[Option<Stage>], counts: &[LossCount]) -> Vec<StageResult> {
    Stage::MAKING
        .into_iter()
        .filter_map(|stage| stage_result(stage, furthest, counts))
        .filter(|result| result.stage != Stage::Play || result.lost > 0)
        .collect()
}

/// None for a stage that no piece is known to have left.
fn stage_result(
    stage: Stage,
    furthest: &[Option<Stage>],
    counts: &[LossCount],
) -> Option<StageResult> {
    let here = counts.iter().filter(|count| count.stage == Some(stage));
    let lost: usize = here.clone().map(|count| count.pieces).sum();
    let passed = furthest.iter().flatten().filter(|reached| **reached > stage).count();
    let played_on = if stage == Stage::Play { at_play(furthest).saturating_sub(lost) } else { 0 };
    let entered = passed + played_on + lost;
    let share = clopper_pearson(lost as u64, entered as u64, 0.95).ok()?;
    let by = here
        .map(|count| LossReason {
            reason: count.reason.clone().unwrap_or_else(|| "no reason given".to_owned()),
            n: count.pieces,
        })
        .collect();
    Some(StageResult {
        stage,
        entered,
        lost,
        share: share.share,
        low: share.low,
        high: share.high,
        by,
    })
}

fn at_play(furthest: &[Option<Stage>]) -> usize {
    furthest.iter().filter(|stage| **stage == Some(Stage::Play)).count()
}
