//! Judge: switch, stay, or try it first.
//!
//! **Rules.** `switch` to the candidate that is worth most, where it is worth more than the present practice by half of what is worth having, and where what may
//! be lost against the present practice is at most what is gained (some three chances in five that it is better). Else `stay` where staying loses
//! less on average than half of what is worth having. Anything else is `try it first`. What is tangled with the cane or another practice, what was never
//! compared within lots, and a candidate on which the rating and the count of good reeds, or lots and reeds, contradict each other is never switched to.
//!
//! The shares were chosen on simulated workshops (`tests/worlds/decide.rs`), where the rule is held against staying always, switching to the best plain mean, and
//! switching at p < 0.05. Where nothing is to be gained or lost it switches in about half of the logs; less readiness would cost more where there is.

use super::super::factors::at_values::{AtValues, Value};
use super::super::factors::curve::Joint;
use super::outlook::{Mark, Outlook};
use super::practice::Practice;
use crate::finding::Recommendation;
use crate::stats::multiplicity::{Family, simultaneous};
use crate::stats::numeric::{Sampling, Sides};
use crate::words::decide::Doubt;
use ndarray::Array2;

/// The smallest difference worth having where the study file does not say: one good reed of ten pieces.
pub(super) const ONE_IN_TEN: f64 = 1.0;
/// Of the smallest difference worth having: what staying may lose, and what switching must gain.
const SHARE_OF_WORTHWHILE: f64 = 0.5;
/// Of the gain: what switching may lose.
const SHARE_OF_GAIN: f64 = 1.0;
const LEVEL: f64 = 0.95;
/// Two effects differ at this p.
const DIFFERS_AT: f64 = 0.05;

pub(super) struct Advice {
    pub recommendation: Recommendation,
    /// The candidate that it is about: the best of the others.
    pub other: usize,
    pub doubt: Option<Doubt>,
    /// Differences from the present practice, for the candidates other than it.
    pub rating: Vec<Option<Difference>>,
    pub good: Vec<Option<Difference>>,
}

/// A difference from the present practice, its interval holding for all candidates together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Difference {
    pub value: f64,
    pub low: f64,
    pub high: f64,
}

pub(super) fn advise(
    outlook: &Outlook,
    found: &AtValues,
    practice: &Practice,
    (worthwhile, without_lots): (f64, Option<Doubt>),
    mark: Mark,
    seed: u64,
) -> Advice {
    let present = practice.present;
    let others = || (0..practice.values.len()).filter(|value| *value != present);
    let most = |places: &mut dyn Iterator<Item = usize>| {
        // of equals the first
        places.min_by(|&a, &b| outlook.worth[b].total_cmp(&outlook.worth[a]))
    };
    let sound = most(&mut others().filter(|value| !practice.support[*value].thin));
    let other = sound.or_else(|| most(&mut others())).unwrap_or(present);
    let rating = differences(found.effects.joint.as_ref(), &found.effects.rows, present, seed);
    let good = found.good.as_ref().map_or_else(
        || vec![None; practice.values.len()],
        |joint| differences(Some(joint), &unit_rows(practice.values.len()), present, seed),
    );
    let doubt = if !found.tangled_with.is_empty() {
        Some(Doubt::Tangled)
    } else if without_lots.is_some() {
        without_lots
    } else if practice.support[other].thin {
        Some(Doubt::Thin)
    } else if contradicts(rating[other], good[other], mark) {
        Some(Doubt::Contradiction)
    } else {
        lots_disagree(found, practice, other).then_some(Doubt::LotsDisagree)
    };
    let recommendation = recommend(outlook, (other, present), worthwhile, doubt);
    let doubt = match recommendation {
        Recommendation::TryItFirst => doubt.or(Some(Doubt::TooLittle)),
        Recommendation::Switch => None,
        Recommendation::Stay => doubt.filter(|doubt| *doubt == Doubt::Tangled),
    };
    Advice { recommendation, other, doubt, rating, good }
}

fn recommend(
    outlook: &Outlook,
    (other, present): (usize, usize),
    worthwhile: f64,
    doubt: Option<Doubt>,
) -> Recommendation {
    let gain = outlook.worth[other] - outlook.worth[present];
    let enough = SHARE_OF_WORTHWHILE * worthwhile;
    if other == present {
        return Recommendation::Stay;
    }
    let switches = gain >= enough && outlook.lost[other] <= SHARE_OF_GAIN * gain;
    match doubt {
        None if switches => Recommendation::Switch,
        None if outlook.regret[present] < enough => Recommendation::Stay,
        // a candidate that may not be chosen is in no regret
        Some(Doubt::Thin) | None => Recommendation::TryItFirst,
        Some(_) if outlook.regret[present] < enough => Recommendation::Stay,
        Some(_) => Recommendation::TryItFirst,
    }
}

fn unit_rows(size: usize) -> Vec<Vec<f64>> {
    let one = |a: usize| (0..size).map(|b| f64::from(u8::from(a == b))).collect();
    (0..size).map(one).collect()
}

/// By the multivariate t of the contrasts; none for the present practice, and where a difference has no error.
fn differences(
    joint: Option<&Joint>,
    rows: &[Vec<f64>],
    present: usize,
    seed: u64,
) -> Vec<Option<Difference>> {
    let mut found = vec![None; rows.len()];
    let Some(joint) = joint else { return found };
    let contrasts: Vec<(usize, Vec<f64>)> = (0..rows.len())
        .filter(|place| *place != present)
        .map(|place| (place, rows[place].iter().zip(&rows[present]).map(|(a, b)| a - b).collect()))
        .filter(|(_, row): &(usize, Vec<f64>)| joint.contrast(row).standard_error > 0.0)
        .collect();
    let Some(family) = family(joint, &contrasts, seed) else { return found };
    for ((place, _), one) in contrasts.iter().zip(family.estimates) {
        found[*place] =
            Some(Difference { value: one.estimate.value, low: one.low, high: one.high });
    }
    found
}

fn family(joint: &Joint, contrasts: &[(usize, Vec<f64>)], seed: u64) -> Option<Family> {
    let values: Vec<f64> = contrasts.iter().map(|(_, row)| joint.contrast(row).value).collect();
    let shared = |a: &[f64], b: &[f64]| -> f64 {
        let rows = a.iter().zip(&joint.covariance);
        rows.map(|(a, row)| a * row.iter().zip(b).map(|(v, b)| v * b).sum::<f64>()).sum()
    };
    let covariance = Array2::from_shape_fn((contrasts.len(), contrasts.len()), |(a, b)| {
        let [a, b] = [a.max(b), a.min(b)];
        shared(&contrasts[a].1, &contrasts[b].1)
    });
    let sampling = Sampling { most_points: 1 << 11, ..Sampling::from_seed(seed) };
    let df = joint.degrees_of_freedom;
    simultaneous(&values, &covariance, df, LEVEL, Sides::Two, sampling).ok()
}

/// Whether both intervals exclude zero, on different sides.
fn contradicts(rating: Option<Difference>, good: Option<Difference>, mark: Mark) -> bool {
    let side = |difference: Difference| match difference {
        Difference { low, .. } if low > 0.0 => 1.0,
        Difference { high, .. } if high < 0.0 => -1.0,
        _ => 0.0,
    };
    let better = if mark.lower_is_better { -1.0 } else { 1.0 };
    rating.zip(good).is_some_and(|(rating, good)| better * side(rating) * side(good) < 0.0)
}

/// Whether the rating moved the other way from lot to lot than within lots, by more than chance.
fn lots_disagree(found: &AtValues, practice: &Practice, other: usize) -> bool {
    let Some((between, differs)) = &found.between else { return false };
    let (Value::Number(now), Value::Number(then)) =
        (practice.values[practice.present], practice.values[other])
    else {
        return false;
    };
    let Some(joint) = &found.effects.joint else { return false };
    let row = |value: usize| &found.effects.rows[value];
    let change: Vec<f64> =
        row(other).iter().zip(row(practice.present)).map(|(a, b)| a - b).collect();
    let within = joint.contrast(&change).value;
    let stands = between.p_value() <= DIFFERS_AT && differs.p_value() <= DIFFERS_AT;
    stands && within * between.value * (then - now) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outlook(gain: f64, lost: f64, stay: f64) -> Outlook {
        Outlook {
            worth: vec![5.0, 5.0 + gain],
            regret: vec![stay, stay - gain],
            better: vec![0.0, 0.9],
            lost: vec![0.0, lost],
        }
    }

    fn said(gain: f64, lost: f64, stay: f64, doubt: Option<Doubt>) -> Recommendation {
        recommend(&outlook(gain, lost, stay), (1, 0), 1.0, doubt)
    }

    #[test]
    fn a_gain_that_risks_little_is_taken_and_one_that_risks_much_is_tried_first() {
        assert_eq!(said(0.8, 0.05, 0.85, None), Recommendation::Switch);
        assert_eq!(said(0.8, 0.75, 1.5, None), Recommendation::Switch);
        assert_eq!(said(0.8, 0.85, 1.6, None), Recommendation::TryItFirst);
        assert_eq!(said(0.3, 0.01, 0.31, None), Recommendation::Stay);
        assert_eq!(said(-0.5, 0.6, 0.1, None), Recommendation::Stay);
    }

    #[test]
    fn what_is_in_doubt_is_never_switched_to() {
        for doubt in [
            Doubt::Tangled,
            Doubt::NoLots,
            Doubt::OneLot,
            Doubt::Thin,
            Doubt::Contradiction,
            Doubt::LotsDisagree,
        ] {
            assert_eq!(said(3.0, 0.0, 3.0, Some(doubt)), Recommendation::TryItFirst, "{doubt:?}");
        }
    }

    #[test]
    fn outcomes_contradict_each_other_only_where_both_stand_out() {
        let mark = Mark { good_at: 7.0, lower_is_better: false };
        let of = |low: f64, high: f64| Some(Difference { value: (low + high) / 2.0, low, high });
        assert!(contradicts(of(0.1, 0.5), of(-2.0, -0.1), mark));
        assert!(!contradicts(of(0.1, 0.5), of(-2.0, 0.1), mark));
        assert!(!contradicts(of(0.1, 0.5), None, mark));
        let lower = Mark { lower_is_better: true, ..mark };
        assert!(contradicts(of(0.1, 0.5), of(0.1, 2.0), lower));
    }
}
