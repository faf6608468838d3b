//! Does a factor have a best value in the middle?
//!
//! A natural cubic spline of three degrees of freedom is held against the straight line by the F test of its two further columns. The bends of all factors are
//! one family (Benjamini & Hochberg 1995). Where a curve that bends is best inside the middle 80 % of the reeds, the best value is that of the parabola with
//! the set of Fieller (1954), which may have no end; where parabola and spline do not agree, it is that of the spline, with the middle 95 % of the best
//! values of curves drawn from the joint distribution of its coefficients.

use super::Looked;
use super::curve::{Curve, Shape, within_lots};
use super::effect::band;
use super::fit::{Answer, Bench};
use super::judge::verdict;
use super::model::Model;
use crate::finding::{Estimated, Interval, SweetSpot, Verdict};
use crate::stats::multiplicity::benjamini_hochberg;
use crate::stats::numeric::{quantile, quantile_of_sorted};
use crate::stats::ratio::{FiellerSet, Ratio};
use crate::words::sweet_spot::{BestValue, Turn};

/// With fewer reeds, or fewer different values, no bend is looked for.
const FEWEST_REEDS: usize = 30;
const FEWEST_VALUES: usize = 6;
/// A bend is told from this adjusted p on.
const TOLD_AT: f64 = 0.05;

/// A factor's curve and whether it bends.
pub(super) struct Bend {
    /// The test against the straight line, and its adjustment over the factors.
    pub p: f64,
    pub q: Option<f64>,
    /// Whether it stands out among the bends and the straight lines together; only then does it lift the verdict of the line.
    pub counts: bool,
    spline: Curve,
    parabola: Option<Curve>,
    range: [f64; 2],
    /// The middle 80 % of the reeds.
    middle: [f64; 2],
    /// What a reader is told; none where the bend may be chance.
    pub turn: Option<Turn>,
}

impl Bend {
    /// The curve that the answer was read off.
    pub fn shown(&self) -> Option<&Curve> {
        match self.turn.as_ref()? {
            Turn::Best(best) if !best.by_spline => self.parabola.as_ref(),
            _ => Some(&self.spline),
        }
    }
}

/// Holds the factor's curve against its straight line; none for a choice, too few reeds or values, and where the columns cannot be told apart.
pub(super) fn bend(bench: &Bench, model: &Model) -> Option<Bend> {
    let values = model.raw.first().filter(|_| model.reference.is_none())?;
    if values.len() < FEWEST_REEDS || different(values) < FEWEST_VALUES {
        return None;
    }
    let shape = Shape::spline(values)?;
    let answer = curved(bench, model, &shape, values)?;
    let p = answer.joint(&[1, 2])?.p_value();
    let spline = Curve::of(shape, values, &answer)?;
    // an adjusted p is never below its own, so a parabola that cannot be told is not fitted
    let parabola = (p <= TOLD_AT).then(|| Shape::parabola(values)).flatten().and_then(|shape| {
        let answer = curved(bench, model, &shape, values)?;
        Curve::of(shape, values, &answer)
    });
    let ends =
        |low: f64, high: f64| Some([quantile(values, low).ok()?, quantile(values, high).ok()?]);
    let (range, middle) = (ends(0.0, 1.0)?, ends(0.1, 0.9)?);
    Some(Bend { p, q: None, counts: false, spline, parabola, range, middle, turn: None })
}

fn different(values: &[f64]) -> usize {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup();
    sorted.len()
}

/// The factor's curve in its headline model, each part of it as deviations from the mean of the lot.
fn curved(bench: &Bench, model: &Model, shape: &Shape, values: &[f64]) -> Option<Answer> {
    let own = within_lots(&shape.columns(values), &model.lot);
    bench.fit(&own, bench.lot_means().as_deref())
}

/// What it takes to tell bends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Telling {
    pub seed: u64,
    pub worthwhile: f64,
    pub lower_is_better: bool,
}

/// Adjusts the tests of all bends together and finds the best values of those that stay.
pub(super) fn tell(looked: &mut [Looked], telling: &Telling) {
    let family: Vec<usize> = (0..looked.len()).filter(|&at| looked[at].bend.is_some()).collect();
    let p: Vec<f64> = family.iter().filter_map(|&at| Some(looked[at].bend.as_ref()?.p)).collect();
    let adjusted = benjamini_hochberg(&p).unwrap_or_default();
    for (&at, q) in family.iter().zip(adjusted) {
        let entry = &mut looked[at];
        let number = entry.at as u64;
        let Some(bend) = entry.bend.as_mut() else { continue };
        bend.q = Some(q);
        if q > TOLD_AT {
            continue;
        }
        let turn = turn(bend, telling, number);
        match &turn {
            Turn::Best(best) => {
                entry.result.sweet_spot = Some(best.spot.clone());
                let drop = best.spot.change_to_far_end;
                let of_drop = verdict(drop.low, drop.high, telling.worthwhile, bend.counts);
                entry.result.verdict = lifted(entry.result.verdict, of_drop);
            }
            Turn::Worst { at } => entry.result.worst_at = Some(*at),
            Turn::Uneven => {}
        }
        bend.turn = Some(turn);
    }
}

/// The verdict of a straight line beside that of its best value against an end: the louder of the two, and no effect is negligible that is not so both ways.
fn lifted(straight: Verdict, of_drop: Verdict) -> Verdict {
    let loudness = |verdict: Verdict| match verdict {
        Verdict::Negligible => 0,
        Verdict::Open => 1,
        Verdict::Leaning => 2,
        Verdict::Clear => 3,
        Verdict::Tangled => 4,
    };
    if loudness(of_drop) > loudness(straight) { of_drop } else { straight }
}

fn turn(bend: &Bend, telling: &Telling, number: u64) -> Turn {
    let sign = if telling.lower_is_better { -1.0 } else { 1.0 };
    let inside = |at: f64| bend.middle[0] < at && at < bend.middle[1];
    if inside(bend.spline.best(bend.range, sign)) {
        let best = best_value(bend, sign, (telling.seed, number));
        return best.map_or(Turn::Uneven, |best| Turn::Best(Box::new(best)));
    }
    let worst = bend.spline.best(bend.range, -sign);
    if inside(worst) { Turn::Worst { at: worst } } else { Turn::Uneven }
}

fn best_value(bend: &Bend, sign: f64, seed: (u64, u64)) -> Option<BestValue> {
    let drawn = bend.spline.draws(bend.range, sign, seed)?;
    let spline = Estimated {
        estimate: bend.spline.best(bend.range, sign),
        low: quantile_of_sorted(&drawn, 0.025),
        high: quantile_of_sorted(&drawn, 0.975),
    };
    let top = bend.parabola.as_ref().and_then(|curve| top(curve, sign));
    let agreed = top.filter(|top| {
        let [low, high] = bend.middle;
        (low < top.at && top.at < high)
            && top.set.contains(spline.estimate)
            && (spline.low <= top.at && top.at <= spline.high)
    });
    let by_spline = agreed.is_none();
    let (at, [low, high]) = match agreed {
        Some(top) => (top.at, ends_of_parabola(&top, bend)),
        None => (spline.estimate, ends_of_spline(bend, spline)),
    };
    let curve = if by_spline { &bend.spline } else { bend.parabola.as_ref()? };
    let (far_end, change_to_far_end) = larger_drop(curve, at, bend.middle, sign);
    let spot = SweetSpot {
        at,
        low,
        high,
        p_bend: bend.p,
        q_bend: bend.q,
        unbounded: low.is_none() || high.is_none(),
        spline: Some(spline),
        far_end,
        change_to_far_end,
    };
    Some(BestValue { spot, by_spline })
}

/// The top of a parabola with its set, in the factor's unit.
struct Top {
    at: f64,
    set: FiellerSet,
}

/// None for a parabola that is worst where it turns.
fn top(curve: &Curve, sign: f64) -> Option<Top> {
    let Shape::Parabola { centre, scale } = curve.shape else { return None };
    let [linear, quadratic] = curve.coefficients[..] else { return None };
    if sign * quadratic >= 0.0 {
        return None;
    }
    let variances = (curve.covariance[0][0], curve.covariance[1][1]);
    let shared = curve.covariance[0][1];
    let ratio =
        Ratio::optimum_of_quadratic(linear, quadratic, variances, shared, curve.degrees_of_freedom);
    let ratio = ratio.ok()?;
    let value = |from_centre: f64| centre + scale * from_centre;
    let set = match ratio.fieller(0.95).ok()? {
        FiellerSet::Interval { low, high } => {
            FiellerSet::Interval { low: value(low), high: value(high) }
        }
        FiellerSet::Complement { below, above } => {
            FiellerSet::Complement { below: value(below), above: value(above) }
        }
        FiellerSet::WholeLine => FiellerSet::WholeLine,
    };
    Some(Top { at: value(ratio.delta().value), set })
}

/// A side has an end where the log's own values beyond it are excluded.
fn ends_of_parabola(top: &Top, bend: &Bend) -> [Option<f64>; 2] {
    let [first, last] = bend.range;
    match top.set {
        FiellerSet::Interval { low, high } => [Some(low), Some(high)],
        FiellerSet::Complement { below, above } if top.at >= above && below < first => {
            [Some(above), None]
        }
        FiellerSet::Complement { below, above } if top.at <= below && above > last => {
            [None, Some(below)]
        }
        FiellerSet::Complement { .. } | FiellerSet::WholeLine => [None, None],
    }
}

/// A drawn curve that is best at the smallest or the largest value of the log would be better still beyond it.
fn ends_of_spline(bend: &Bend, spline: Estimated) -> [Option<f64>; 2] {
    let [first, last] = bend.range;
    let low = Some(spline.low).filter(|low| *low > first);
    let high = Some(spline.high).filter(|high| *high < last);
    [low, high]
}

/// How the rating moves from the best value to the end of the middle 80 % that is further from it in rating.
fn larger_drop(curve: &Curve, at: f64, middle: [f64; 2], sign: f64) -> (f64, Interval) {
    let drop = |end: f64| band(&curve.difference(end, at), 1.0);
    let [low, high] = middle.map(|end| (end, drop(end)));
    let (end, drop) = if sign * low.1.estimate <= sign * high.1.estimate { low } else { high };
    (end, Interval { estimate: drop.estimate, low: drop.low, high: drop.high })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::numeric::t_quantile;

    /// `6 x - x^2`, best at 3; only the bend has an error. By Fieller `|6 - 2 r| <= 2 t e |r|`, so the ends are `6 / (2 + 2 t e)` and `6 / (2 - 2 t e)`.
    fn bend_with(error: f64) -> Bend {
        let shape = Shape::Parabola { centre: 0.0, scale: 1.0 };
        let curve = Curve {
            shape,
            coefficients: vec![6.0, -1.0],
            covariance: vec![vec![0.0, 0.0], vec![0.0, error * error]],
            degrees_of_freedom: 20.0,
            centre: vec![0.0, 0.0],
        };
        Bend {
            p: 0.001,
            q: Some(0.001),
            counts: true,
            spline: curve.clone(),
            parabola: Some(curve),
            range: [0.0, 10.0],
            middle: [1.0, 9.0],
            turn: None,
        }
    }

    /// The best value and the ends of what it may be.
    fn best_with(error: f64) -> (f64, [Option<f64>; 2]) {
        let bend = bend_with(error);
        let top = top(&bend.spline, 1.0).unwrap();
        (top.at, ends_of_parabola(&top, &bend))
    }

    /// At 1 and at 9 the curve is 4 and 36 below its best; with an error of e in the bend the second change has one of `|9 * 9 - 3 * 3| e`.
    #[test]
    fn the_far_end_is_the_one_that_is_further_away_in_rating() {
        let (far_end, change) = larger_drop(&bend_with(0.25).spline, 3.0, [1.0, 9.0], 1.0);
        assert_eq!((far_end, change.estimate), (9.0, -36.0));
        let half = t_quantile(0.975, 20.0) * 72.0 * 0.25;
        assert!(
            (change.low + 36.0 + half).abs() < 1e-9 && (change.high + 36.0 - half).abs() < 1e-9
        );
    }

    #[test]
    fn a_best_value_has_the_set_worked_by_hand() {
        let (t, (at, [low, high])) = (t_quantile(0.975, 20.0), best_with(0.25));
        assert_eq!(at, 3.0);
        assert!((low.unwrap() - 6.0 / (2.0 + 0.5 * t)).abs() < 1e-12);
        assert!((high.unwrap() - 6.0 / (2.0 - 0.5 * t)).abs() < 1e-12);
    }

    /// With an error of 1 the set is everything from 6 / (2 + 2 t) on, and what lies below zero, where there is no reed.
    #[test]
    fn a_bend_that_may_be_none_leaves_the_best_value_without_an_upper_end() {
        let (t, (_, [low, high])) = (t_quantile(0.975, 20.0), best_with(1.0));
        assert!((low.unwrap() - 6.0 / (2.0 + 2.0 * t)).abs() < 1e-12);
        assert_eq!(high, None);
    }

    #[test]
    fn where_lower_is_better_the_same_curve_has_no_best_value_in_the_middle() {
        assert!(top(&bend_with(0.25).spline, -1.0).is_none());
        let telling = Telling { seed: 1, worthwhile: 0.5, lower_is_better: true };
        assert!(matches!(turn(&bend_with(0.25), &telling, 0), Turn::Worst { .. }));
    }

    #[test]
    fn a_line_that_is_negligible_is_not_called_so_where_its_ends_are_worse() {
        assert_eq!(lifted(Verdict::Negligible, Verdict::Open), Verdict::Open);
        assert_eq!(lifted(Verdict::Negligible, Verdict::Clear), Verdict::Clear);
        assert_eq!(lifted(Verdict::Clear, Verdict::Open), Verdict::Clear);
        assert_eq!(lifted(Verdict::Negligible, Verdict::Negligible), Verdict::Negligible);
    }
}
