//! Can the measurements and the ratings be trusted?
//!
//! How far a second reading of the same piece differs from the first, how far players agree about the same reeds, and what the noise of both does to the other
//! answers.
//!
//! **Method.** Repeat readings: the standard deviation of readings of one piece, the repeatability coefficient 1.96 sqrt(2) s_w (Bland & Altman 1996, British
//! Medical Journal 312, 1654) and the reliability, which is also what a true effect shrinks to (Fuller 1987, Measurement Error Models, section 1.1); where several
//! people read, their levels on the same pieces and the split into repeatability and reproducibility (NIST/SEMATECH e-Handbook, section 2.4). Ratings:
//! intraclass correlations with intervals, two-way where the same players rated the same reeds and one-way elsewhere (Shrout & Fleiss 1979, Psychological
//! Bulletin 86, 420-428; McGraw & Wong 1996, Psychological Methods 1, 30-46), weighted kappa (Cohen 1968), Krippendorff's alpha (2004), each player's leniency by
//! least squares on the same reeds; Spearman-Brown for the ratings that a reed takes; the root of the reliability as the largest correlation with the reed scores.
//!
//! **Assumptions.** Pieces read again and reeds rated by several stand for all; errors are alike over the range and independent; whoever rated did not know the other
//! ratings.
//!
//! **Refuses** when no measure was read again on eight pieces, fewer than six reeds were rated by two players, and fewer than eight were rated again by one.

mod again;
mod intraclass;
mod measures;
mod pairs;
mod people;
mod players;
mod profile;
mod say;
mod tables;

use super::{Options, Question};
use crate::finding::{
    Estimated, Finding, PlayersTrust, RatingCeiling, ReadTooSeldom, SamePlayer, TrustSection,
};
use crate::problem::Refusal;
use crate::study::Study;
use crate::words;

use measures::Measured;
use players::Cells;

pub const QUESTION: Question = Question {
    name: "trust",
    asked: "Can the measurements and the ratings be trusted?",
    help: "how far readings repeat and players agree, and what their noise does to every other answer",
    ask,
    asked_of: super::any_log,
};

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] where nothing was read or rated again often enough.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let (mut measured, mut too_few) = measures::measures(study);
    match profile::profile(study) {
        Some(Ok(found)) => measured.push(found),
        Some(Err(seldom)) => too_few.push(seldom),
        None => {}
    }
    let cells = Cells::of(study.rating_rows());
    let players = players::players(study, &cells, options.seed);
    let same_player = again::same_player(study);
    if measured.is_empty() && players.is_none() && same_player.is_none() {
        return Err(refusal(study, &cells, &too_few));
    }
    let ceiling = ceiling(players.as_ref(), same_player.as_ref(), &cells);
    let mut section = TrustSection {
        measures: measured.iter().map(|found| found.result.clone()).collect(),
        too_few,
        players,
        same_player,
        rating_ceiling: ceiling.as_ref().map(|ceiling| ceiling.correlation.estimate),
        ceiling,
        sentence: String::new(),
    };
    let labels: Vec<String> = measured.iter().map(|found: &Measured| found.label.clone()).collect();
    section.sentence = words::trust::answer(&section, &labels);
    Ok(say::finding(study, section, &measured, &cells, options.seed))
}

fn refusal(study: &Study, cells: &Cells, too_few: &[ReadTooSeldom]) -> Refusal {
    let read = too_few.iter().map(|seldom| seldom.pieces).max().unwrap_or(0);
    Refusal {
        question: QUESTION.name.to_owned(),
        found: words::trust::found(cells.shared().reeds(), again::series(study), read),
        takes: "It takes six reeds rated by two players (a row each in ratings.csv), or eight rated again by the same player, or eight pieces measured twice \
                (both readings in readings.csv, or in profile.csv with their “repeat”)."
            .to_owned(),
    }
}

/// What the ratings' noise leaves to be foretold. The reed scores are means with leniency taken out, so the reliability is that of consistency where it is known.
fn ceiling(
    players: Option<&PlayersTrust>,
    same_player: Option<&SamePlayer>,
    cells: &Cells,
) -> Option<RatingCeiling> {
    let of_players = players.and_then(|found| {
        let single = |estimate| Some(Estimated { estimate, low: found.low?, high: found.high? });
        found.consistency.or_else(|| found.icc_single.and_then(single))
    });
    let (single, from) = match of_players {
        Some(single) => (single, words::trust::players::SEVERAL),
        // where only one player rated, the same ear hearing a reed again is the most that can be hoped for
        None => (same_player?.reliability?, words::trust::players::ONE_PLAYER),
    };
    let share = if from == words::trust::players::SEVERAL {
        cells.mean_share()
    } else {
        cells.mean_share_of_ratings()
    };
    // of the variance of means of m ratings, r / (r + (1 - r) / m) is the reeds'
    let of = |r: f64| {
        let r = r.clamp(0.0, 1.0);
        r / (r + (1.0 - r) * share)
    };
    let through = |take: &dyn Fn(f64) -> f64| Estimated {
        estimate: take(single.estimate),
        low: take(single.low),
        high: take(single.high),
    };
    let reliability = through(&of);
    Some(RatingCeiling {
        reliability,
        correlation: through(&|r| of(r).sqrt()),
        r2: reliability,
        mean_share: share,
        from: from.to_owned(),
    })
}
