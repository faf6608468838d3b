//! Fit: how many pieces must be started to keep good reeds playing.

use super::curve::{Curve, MeanLife};
use crate::finding::Renewal;
use crate::questions::lives::{LifeUnit, Lives};
use crate::stats::numeric::normal_quantile;
use crate::study::{Fate, Study};
use crate::words::life::renewal as words;

/// The mean length of a month of the Gregorian calendar.
const DAYS_IN_A_MONTH: f64 = 365.2425 / 12.0;
/// Where no days are known the pace is told for so many hours of playing.
const HOURS: f64 = 10.0;
/// Good reeds to keep where none is in use.
const FEW: usize = 3;
/// Pieces of which it must be known whether they became good reeds, and good ones among them.
const FEWEST_PIECES: usize = 10;
const FEWEST_GOOD: usize = 3;
/// Reeds with days that a mean life in days takes.
const FEWEST_REEDS: usize = 10;

/// By Little's law: reeds in play are the pace at which they come into play times how long they stay. None where lives or good reeds are too few.
pub(super) fn renewal(
    study: &Study,
    lives: &Lives,
    curve: &Curve,
    keep: Option<usize>,
) -> Option<Renewal> {
    let (good, known) = good(study)?;
    let (life, unit) = match lives.unit {
        LifeUnit::Days => (curve.mean?, LifeUnit::Days),
        LifeUnit::Hours => match in_days(study) {
            Some(life) => (life, LifeUnit::Days),
            None => (curve.mean?, LifeUnit::Hours),
        },
    };
    let (keep, keep_from) = keep.map_or_else(|| in_use(study), |keep| (keep, words::ASKED));
    let share = good as f64 / known as f64;
    let wanted = match unit {
        LifeUnit::Days => keep as f64 * DAYS_IN_A_MONTH,
        LifeUnit::Hours => HOURS,
    };
    let pace = wanted / life.life.estimate / share;
    let of_life = life.standard_error / life.life.estimate;
    let of_share = ((1.0 - share) / good as f64).sqrt();
    // the errors of two logarithms add in squares; the lives and the shares come from different counts
    let reach = (normal_quantile(0.975) * of_life.hypot(of_share)).exp();
    let mut renewal = Renewal {
        unit: match unit {
            LifeUnit::Days => words::A_MONTH.to_owned(),
            LifeUnit::Hours => words::FOR_HOURS.to_owned(),
        },
        keep,
        keep_from: keep_from.to_owned(),
        mean_life: life.life.estimate,
        mean_life_low: life.life.low,
        mean_life_high: life.life.high,
        at_most: life.goes_on,
        share_good: share,
        share_of: known,
        pace,
        pace_low: pace / reach,
        pace_high: pace * reach,
        sentence: String::new(),
    };
    renewal.sentence = words::sentence(&renewal, life.life, unit == LifeUnit::Days);
    Some(renewal)
}

/// Good reeds, and pieces of which it is known.
fn good(study: &Study) -> Option<(usize, usize)> {
    let known: Vec<bool> = study.good().into_iter().flatten().collect();
    let good = known.iter().filter(|&&good| good).count();
    (known.len() >= FEWEST_PIECES && good >= FEWEST_GOOD).then_some((good, known.len()))
}

fn in_days(study: &Study) -> Option<MeanLife> {
    let lives = Lives::in_days(study);
    if lives.piece.len() < FEWEST_REEDS {
        return None;
    }
    Curve::of(&lives)?.mean.filter(|mean| mean.life.estimate > 0.0)
}

/// Good reeds in use, where days are known only those played in the study's window of days before the log's last.
fn in_use(study: &Study) -> (usize, &'static str) {
    let last = study.days("last_played");
    let end = last.iter().flatten().max().copied();
    let window = i64::from(study.settings().window);
    let is_present = |piece: usize| match (last[piece], end) {
        (Some(day), Some(end)) => i64::from(end) - i64::from(day) <= window,
        _ => true,
    };
    let good = study.good();
    let fates = study.fates();
    let counted = (0..fates.len())
        .filter(|&piece| fates[piece] == Some(Fate::InUse) && good[piece] == Some(true))
        .filter(|&piece| is_present(piece))
        .count();
    if counted > 0 { (counted, words::IN_USE) } else { (FEW, words::TAKEN) }
}
