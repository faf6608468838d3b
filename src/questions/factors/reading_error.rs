//! What the effect is for one true step, where repeat readings tell how well a factor is read.
//!
//! A reading that errs makes its effect look smaller by the reliability, the share of its variance among readings that is no error (regression calibration:
//! Carroll, Ruppert, Stefanski & Crainiceanu 2006, Measurement Error in Nonlinear Models, sections 3.2 and 4). The variance is the one that the effect rests
//! on: within lots, with what is adjusted for taken out. The effect over the reliability is a ratio of two estimates, so its interval is that of Fieller (1954).
//! Only the factor's own error is corrected; those of the columns adjusted for are left as they are.

use std::collections::BTreeMap;

use super::Looked;
use super::effect::Left;
use super::model::Model;
use crate::finding::TrueStep;
use crate::stats::Estimate;
use crate::stats::numeric::standard_deviation;
use crate::stats::ratio::{FiellerSet, Ratio};
use crate::stats::repeatability::repeat_readings;
use crate::study::{RepeatReading, Study};

/// It takes so many pieces read twice or more.
pub(super) const FEWEST_PIECES: usize = 8;

/// A variance and the degrees of freedom it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Variance {
    pub value: f64,
    pub degrees_of_freedom: f64,
}

/// The variance of a number's readings that its effect rests on; none for a choice and where nothing is left.
pub(super) fn own_variance(model: &Model, left: &Left) -> Option<Variance> {
    let raw = model.raw.first().filter(|_| model.reference.is_none())?;
    let taken = model.adjuster_columns().len() + model.lots.max(1);
    let rows = raw.len();
    let free = rows.checked_sub(taken).filter(|free| *free > 0)? as f64;
    let total = standard_deviation(raw).ok()?.powi(2) * (rows - 1) as f64;
    let value = left.kept * total / free;
    (value > 0.0).then_some(Variance { value, degrees_of_freedom: free })
}

/// Pieces read twice or more, a measure.
pub(super) type ReadTwice = BTreeMap<String, usize>;

/// Corrects every effect within lots whose factor was read again on enough pieces; gives back how many pieces those were.
pub(super) fn correct(looked: &mut [Looked], study: &Study) -> ReadTwice {
    let mut by_measure: BTreeMap<String, Vec<RepeatReading>> = BTreeMap::new();
    for reading in study.readings() {
        by_measure.entry(reading.measure.clone()).or_default().push(reading);
    }
    let mut read_twice = ReadTwice::new();
    for entry in looked {
        let Some(readings) = by_measure.get(&entry.result.factor) else { continue };
        let pieces = pieces_read_twice(readings);
        read_twice.insert(entry.result.factor.clone(), pieces);
        if pieces >= FEWEST_PIECES {
            entry.result.true_step = corrected(entry, readings);
        }
    }
    read_twice
}

fn pieces_read_twice(readings: &[RepeatReading]) -> usize {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for reading in readings {
        *counts.entry(reading.piece).or_default() += 1;
    }
    counts.values().filter(|count| **count > 1).count()
}

fn corrected(entry: &Looked, readings: &[RepeatReading]) -> Option<TrueStep> {
    let (effect, own) = (entry.effect.as_ref()?, entry.own_variance?);
    let values: Vec<f64> = readings.iter().map(|reading| reading.value).collect();
    let pieces: Vec<usize> = readings.iter().map(|reading| reading.piece).collect();
    let read_twice = pieces_read_twice(readings);
    let repeated = repeat_readings(&values, &pieces).ok()?;
    let error = Variance {
        value: repeated.within_standard_deviation.powi(2),
        degrees_of_freedom: repeated.within_degrees_of_freedom,
    };
    true_step(&effect.scaled(entry.result.step?), own, error, read_twice)
}

/// The effect over the reliability; none where error may be all that differs among the readings.
fn true_step(
    effect: &Estimate,
    readings: Variance,
    error: Variance,
    pieces: usize,
) -> Option<TrueStep> {
    let share = error.value / readings.value;
    let reliability = 1.0 - share;
    if reliability <= 0.0 {
        return None;
    }
    // a variance on f degrees of freedom has the relative error sqrt(2 / f)
    let relative = 2.0 / readings.degrees_of_freedom + 2.0 / error.degrees_of_freedom;
    let variances = (effect.standard_error.powi(2), share * share * relative);
    let df = effect.degrees_of_freedom;
    let ratio = Ratio::new(effect.value, reliability, variances, 0.0, df).ok()?;
    match ratio.fieller(0.95).ok()? {
        FiellerSet::Interval { low, high } => {
            Some(TrueStep { estimate: effect.value / reliability, low, high, reliability, pieces })
        }
        FiellerSet::Complement { .. } | FiellerSet::WholeLine => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KNOWN: f64 = f64::INFINITY;

    fn effect(value: f64, standard_error: f64) -> Estimate {
        Estimate { value, standard_error, degrees_of_freedom: KNOWN }
    }

    fn variance(value: f64, degrees_of_freedom: f64) -> Variance {
        Variance { value, degrees_of_freedom }
    }

    #[test]
    fn where_half_of_the_variance_is_error_a_true_step_counts_twice() {
        // reliability 1 - 2/4, known without error: twice the effect and twice its interval
        let found = true_step(&effect(0.5, 0.1), variance(4.0, KNOWN), variance(2.0, KNOWN), 20);
        let found = found.unwrap();
        assert_eq!((found.estimate, found.reliability), (1.0, 0.5));
        assert!((found.high - (1.0 + 2.0 * 0.1 * 1.959963984540054)).abs() < 1e-12);
    }

    #[test]
    fn a_reliability_that_is_only_estimated_widens_the_interval() {
        let width = |df: f64| {
            let found =
                true_step(&effect(0.5, 0.1), variance(4.0, df), variance(1.0, df), 20).unwrap();
            found.high - found.low
        };
        assert!(width(20.0) > width(200.0) && width(200.0) > width(KNOWN));
    }

    #[test]
    fn readings_that_may_be_nothing_but_error_correct_nothing() {
        assert_eq!(
            true_step(&effect(0.5, 0.1), variance(1.0, 50.0), variance(1.1, 50.0), 20),
            None
        );
        assert_eq!(true_step(&effect(0.5, 0.1), variance(1.0, 5.0), variance(0.8, 5.0), 20), None);
    }
}
