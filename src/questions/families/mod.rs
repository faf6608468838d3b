//! What kinds of reeds are there?
//!
//! Any cloud can be cut, and most ways of cutting always return pieces. So the first question is whether the pieces are more clustered than one
//! cloud of their shape would be, and “your reeds are one family” is a full answer.
//!
//! **Measurements.** The numbers of the making that most finished pieces have, and the profile: its readings interpolated to the distances that most pieces share,
//! spine, channels and rails kept apart and left and right averaged (`curves`), reduced to the principal components that hold a tenth of the variance or more, three at most
//! (`profile`). A number with fewer than six different values is a choice and no coordinate. All are brought to a standard deviation of one.
//!
//! **Method.** Three steps answer three questions (`kinds`).
//!
//! 1. *One cloud or several?* A Monte Carlo test against references with one mode that keep each measurement's skewness, tails and
//!    rounding and the correlations between them (after Helgeson, Vock & Bair 2021, Biometrics 77, 1215-1226). Only where none of 99 references is
//!    as clustered are families looked for, in the measurements that are most clustered. The Bayesian criterion of normal mixtures and the silhouette cannot
//!    carry this question: the first fits a skew cloud by several normal ones, the second has no value for one family.
//! 2. *How many?* The gap statistic (Tibshirani, Walther & Hastie 2001) against the same references, from two on. The mean silhouette (Rousseeuw 1987) and
//!    the Bayesian criterion of Gaussian mixtures (Fraley & Raftery 2002) are asked too; where these two agree with each other and not with the gap, they
//!    outvote it. Each can go wrong alone: the silhouette joins families that lie in a row, the criterion cuts those that are no normal clouds.
//! 3. *Would they come back?* Every family must have five pieces and come back in bootstrap samples with a Jaccard similarity of 0.6 or more (Hennig 2007); else the next smaller
//!    number is tried, down to one. Five pieces, because a few odd ones far out can be a stable cluster.
//!
//! Pieces are parted by k-means. In a log of over 300 pieces the steps look at a seeded sample and the others go to the nearest family.
//!
//! Families are then compared on the rating by a mixed model with lots, players and makers (`ratings`), and described by what is most unusual in them (`describe`).
//!
//! **Assumptions.** Families are round clouds of about equal spread in the measurements that tell them apart. Families that differ by less than some four
//! standard deviations of a family are not seen, and at 60 pieces not all that differ by six.
//!
//! **Refuses** with fewer than two measurements that vary, or fewer than 20 pieces that have them all.

mod curves;
mod describe;
mod kinds;
mod measure;
mod profile;
mod rating_model;
mod ratings;
mod say;
mod show;

use super::{Options, Question};
use crate::finding::Finding;
use crate::problem::Refusal;
use crate::study::Study;
use crate::words::families as words;

use kinds::Kinds;
use measure::Measured;

pub const QUESTION: Question = Question {
    name: "families",
    asked: "What kinds of reeds are there?",
    help: "whether the pieces fall into kinds by their measurements and profiles; one kind is an answer",
    ask,
    asked_of: super::any_log,
};

const FEWEST_MEASUREMENTS: usize = 2;
const FEWEST_PIECES: usize = 20;

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with too few measurements or pieces.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let measured = measure::select(study, options.seed);
    refuse(&measured)?;
    let kinds = Kinds::find(&measured.scaled, options.seed).map_err(|_| {
        refusal(
            "The measurements do not differ enough from piece to piece to look for kinds.",
            "It takes measurements that differ from piece to piece.",
        )
    })?;
    Ok(say::finding(study, &measured, &kinds, options.seed))
}

fn refusal(found: &str, takes: &str) -> Refusal {
    Refusal { question: QUESTION.name.to_owned(), found: found.to_owned(), takes: takes.to_owned() }
}

fn refuse(measured: &Measured) -> Result<(), Refusal> {
    if measured.features.len() < FEWEST_MEASUREMENTS {
        return Err(refusal(
            &words::too_few_measurements(measured.unplaced, measured.choices.len()),
            "It takes two, such as gouge and hardness; a column of your own counts once study.toml gives it a stage.",
        ));
    }
    if measured.pieces.len() < FEWEST_PIECES {
        return Err(refusal(
            &words::too_few(measured.pieces.len()),
            &format!("It takes {FEWEST_PIECES} before kinds can be told from chance."),
        ));
    }
    Ok(())
}
