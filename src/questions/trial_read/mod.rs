//! What did the trial say?
//!
//! The pieces of a trial were allocated to their arms by chance, so what differs between the arms was caused by them. The reading follows the plan that was
//! sealed before the first piece was made, and says where plan and log part.
//!
//! **Method.** The planned contrasts of the reeds' scores, each arm with the present practice, with a level for each lot (least squares, the model by which the
//! size was reckoned) or lots as random intercepts where the plan says so (Kenward & Roger 1997); several arms together by the multivariate t (Dunnett 1955).
//! Every piece stays in the arm it was allocated to; by what was made stands beside it. Good reeds of ten pieces with exact intervals (Clopper & Pearson
//! 1934), their difference by Newcombe (1998), and over the lots by logistic regression.
//!
//! **Looking early.** Where the plan allows looks, each look's bound spends what O'Brien-Fleming type spending allows (Lan & DeMets 1983); looks that the plan
//! puts before this one are taken as made. Where it allows none, the answer says by how much an early reading raises false alarms.
//!
//! **Assumptions.** The labels were kept from the player. Marks scatter equally in all arms and lots.
//!
//! **Refuses** when no label of the plan is in the log, nothing is rated yet, or only one arm is.

mod count;
mod deviations;
mod early;
mod fit;
mod pieces;
mod say;
mod tables;

use crate::finding::{Finding, TrialDeviation};
use crate::plan::ReadPlan;
use crate::problem::Refusal;
use crate::stats::StatsError;
use crate::study::Study;
use crate::words::trial::keeping as words;

use early::{Look, Progress};
use fit::{Fitted, Mark, comparable, distinct, fit};
use pieces::{Made, TrialLog, TrialPiece, select};

/// The name under which findings and refusals stand.
const NAME: &str = "trial";

/// What was read, before it is said.
struct Reading<'a> {
    plan: &'a ReadPlan,
    trial: &'a TrialLog,
    progress: Progress,
    look: Look,
    fitted: Fitted,
    /// By what was made; none where nothing was made otherwise.
    as_made: Option<Fitted>,
    deviations: Vec<TrialDeviation>,
    /// Marks that stand in no comparison.
    apart: usize,
    settings_changed: Vec<&'static str>,
}

/// Reads a trial by its plan.
///
/// # Errors
/// A [`Refusal`] where no piece of the plan is in the log, or nothing can be compared yet.
pub fn ask(log: &Study, plan: &ReadPlan) -> Result<Finding, Refusal> {
    let trial = select(log, &plan.plan);
    let marks = marks(&trial.pieces, |piece| Some(piece.arm));
    refuse(&trial.pieces, &marks, plan)?;
    let progress = early::progress(&trial.pieces, &plan.plan);
    let look = early::look(progress, &plan.plan);
    let kept = comparable(&marks, plan.plan.present());
    let fitted = fit(&kept, &plan.plan, look.nominal).map_err(|error| not_fitted(&kept, &error))?;
    let reading = Reading {
        as_made: as_made(&trial.pieces, plan, look.nominal),
        deviations: deviations::deviations(log, &trial, &plan.plan),
        apart: marks.len() - kept.len(),
        settings_changed: settings_differ(log, &trial.study),
        plan,
        trial: &trial,
        progress,
        look,
        fitted,
    };
    Ok(reading.finding())
}

/// The marks of pieces, each in the arm that `arm` says.
fn marks(pieces: &[TrialPiece], arm: impl Fn(&TrialPiece) -> Option<usize>) -> Vec<Mark> {
    let mark = |piece: &TrialPiece| {
        Some(Mark { block: piece.block, arm: arm(piece)?, score: piece.mark? })
    };
    pieces.iter().filter_map(mark).collect()
}

/// The arm that a piece was made as; one without a value is taken to be made as allocated.
fn made_arm(piece: &TrialPiece) -> Option<usize> {
    match piece.made {
        Made::Arm(arm) => Some(arm),
        Made::Unknown => Some(piece.arm),
        Made::Other(_) => None,
    }
}

fn as_made(pieces: &[TrialPiece], plan: &ReadPlan, nominal: f64) -> Option<Fitted> {
    if pieces.iter().all(|piece| made_arm(piece) == Some(piece.arm)) {
        return None;
    }
    let kept = comparable(&marks(pieces, made_arm), plan.plan.present());
    fit(&kept, &plan.plan, nominal).ok()
}

fn refuse(pieces: &[TrialPiece], marks: &[Mark], plan: &ReadPlan) -> Result<(), Refusal> {
    let made = pieces.iter().filter(|piece| piece.row.is_some()).count();
    if made == 0 {
        return Err(refusal(words::no_label(pieces.len())));
    }
    if marks.is_empty() {
        return Err(refusal(words::nothing_rated(made, &plan.plan.outcome.criterion)));
    }
    let only = |arms: &[usize]| match arms {
        [arm] => plan.plan.arms.get(*arm).map(|arm| arm.name.clone()),
        _ => None,
    };
    let kept = distinct(comparable(marks, plan.plan.present()).iter().map(|mark| mark.arm));
    if kept.len() < 2 {
        let rated = distinct(marks.iter().map(|mark| mark.arm));
        return Err(refusal(words::one_arm(only(&rated).as_deref(), marks.len())));
    }
    Ok(())
}

fn not_fitted(kept: &[Mark], error: &StatsError) -> Refusal {
    let is_alike = matches!(error, StatsError::NoVariation { .. });
    refusal(words::not_fitted(kept.len(), is_alike))
}

fn refusal([found, takes]: [String; 2]) -> Refusal {
    Refusal { question: NAME.to_owned(), found, takes }
}

/// What the log's own settings say otherwise than the plan.
fn settings_differ(log: &Study, judged: &Study) -> Vec<&'static str> {
    let (now, planned) = (log.settings(), judged.settings());
    let differs = |a: f64, b: f64| (a - b).abs() > 1e-9;
    let scale = differs(now.scale[0], planned.scale[0]) || differs(now.scale[1], planned.scale[1]);
    let ideal = now.targets.get(&planned.outcome) != planned.targets.get(&planned.outcome);
    let told = [
        (now.outcome != planned.outcome, "the criterion"),
        (scale, "the scale"),
        (now.best != planned.best, "which end of the scale is best"),
        (ideal, "the ideal"),
        (differs(now.good_at, planned.good_at), "the good mark"),
        (differs(now.worthwhile, planned.worthwhile), "the difference worth having"),
        (now.settled != planned.settled, "which ratings count"),
    ];
    told.into_iter().filter(|(is_so, _)| *is_so).map(|(_, what)| what).collect()
}
