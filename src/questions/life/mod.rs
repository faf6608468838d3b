//! How long do reeds last?
//!
//! Hours of playing until a reed is worn out, or days from its first playing to its last where hours are missing for most (`lives`). Reeds still in use, lost
//! or given away have lasted so long at least and are censored.
//!
//! **Method.** The share that outlasts each hour by Kaplan & Meier (1958, J. American Statistical Association 53, 457-481) with the log-log interval
//! (Kalbfleisch & Prentice 1980), by when half are worn out with the interval of Brookmeyer & Crowley (1982, Biometrics 38, 29-41), and the mean life up to
//! the latest time with three reeds at risk, its variance with the factor m / (m - 1) for m ends that Kaplan & Meier propose. Lots by the log-rank test,
//! its p from lots dealt to the reeds anew, since chi-squared fires too often for small lots. What went with wearing out by Cox (1972) within lots
//! (`factors::worn`). How many pieces keep reeds playing by Little's law (1961, Operations Research 9, 383-387).
//!
//! **Assumptions.** What takes a reed out of sight (lost, given away, the end of the log) says nothing about how long it would have lasted. A reed that was
//! already playing before the log began is in the log only because it had lasted; where days tell so it is counted from then on, and left out where hours are
//! counted, since the hours before are not known. The intervals are for reeds of the lots at hand.
//!
//! **Refuses** with fewer than five reeds that were played, and where no reed can be known to be worn out because nothing says what became of any.

mod curve;
mod lots;
mod renewal;
mod say;
mod tables;

use super::factors::worn::worn;
use super::lives::Lives;
use super::{Options, Question};
use crate::finding::Finding;
use crate::problem::Refusal;
use crate::study::Study;
use crate::words::life as words;

use curve::Curve;

pub const QUESTION: Question = Question {
    name: "life",
    asked: "How long do reeds last?",
    help: "by when half of the reeds are worn out, what went with it, and how many pieces keep good reeds playing",
    ask,
    asked_of: super::any_log,
};

/// With fewer reeds no curve is drawn.
const FEWEST_REEDS: usize = 5;

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with fewer than five played reeds, or where nothing says what became of any.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let lives = Lives::of(study);
    refuse(study, &lives)?;
    let Some(curve) = Curve::of(&lives) else {
        return Err(refusal(words::NO_CURVE.to_owned(), words::TAKES_LIVES));
    };
    let lots = lots::lots(study, &lives, options.seed);
    let renewal = renewal::renewal(study, &lives, &curve, options.keep);
    Ok(say::finding(&lives, &curve, lots, worn(study, &lives), renewal, options.seed))
}

fn refuse(study: &Study, lives: &Lives) -> Result<(), Refusal> {
    let reeds = lives.piece.len();
    if reeds < FEWEST_REEDS {
        return Err(refusal(words::too_few(reeds, study.pieces()), words::TAKES_LIVES));
    }
    let tells = study.understood().iter().any(|column| column.name == "fate");
    if lives.retired() == 0 && !tells {
        return Err(refusal(words::NO_FATES.to_owned(), words::TAKES_FATES));
    }
    Ok(())
}

fn refusal(found: String, takes: &str) -> Refusal {
    Refusal { question: QUESTION.name.to_owned(), found, takes: takes.to_owned() }
}
