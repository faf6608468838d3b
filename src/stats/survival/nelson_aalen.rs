//! The cumulated risk of ending.

use super::Lifetimes;
use super::kaplan_meier::{SurvivalCurve, kaplan_meier, normal_point};
use crate::stats::error::StatsError;
use crate::stats::estimate::Estimate;

/// The cumulated hazard just after one time at which something ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HazardStep {
    /// The time, in the unit of the times.
    pub time: f64,
    /// `sum d / n`, without unit.
    pub hazard: f64,
    /// Its error.
    pub standard_error: f64,
}

/// The cumulative hazard.
#[derive(Debug, Clone, PartialEq)]
pub struct CumulativeHazard {
    /// One step a time with events, earliest first; empty where nothing ended.
    pub steps: Vec<HazardStep>,
    curve: SurvivalCurve,
}

/// Nelson 1972, Technometrics 14, 945-966, and Aalen 1978, Annals of Statistics 6, 701-726: `H(t) = sum_{t_i <= t} d_i / n_i` with variance
/// `sum d_i / n_i^2`.
pub fn nelson_aalen(lifetimes: &Lifetimes) -> CumulativeHazard {
    let curve = kaplan_meier(lifetimes);
    let (mut hazard, mut variance) = (0.0, 0.0);
    let each = curve.steps.iter().map(|step| {
        let (at_risk, events) = (step.at_risk as f64, step.events as f64);
        hazard += events / at_risk;
        variance += events / (at_risk * at_risk);
        HazardStep { time: step.time, hazard, standard_error: f64::sqrt(variance) }
    });
    CumulativeHazard { steps: each.collect(), curve }
}

impl CumulativeHazard {
    /// The cumulated hazard at a time; before the first event it is 0 with error 0.
    ///
    /// # Errors
    /// `OutOfRange` for a negative time, or one after the longest time watched: what comes after it is unknown even where all had ended.
    pub fn hazard_at(&self, time: f64) -> Result<Estimate, StatsError> {
        self.curve.require_known(time.min(self.curve.followed_until))?;
        if time > self.curve.followed_until || time.is_nan() {
            return Err(StatsError::OutOfRange {
                what: "the time".into(),
                value: time,
                expected: format!("at most {}", self.curve.followed_until),
            });
        }
        let after = self.steps.partition_point(|step| step.time <= time);
        let step = self.steps[..after].last();
        Ok(Estimate {
            value: step.map_or(0.0, |step| step.hazard),
            standard_error: step.map_or(0.0, |step| step.standard_error),
            degrees_of_freedom: f64::INFINITY,
        })
    }

    /// The interval symmetric on the scale of the logarithm, `H exp(-/+ z se / H)` (Klein & Moeschberger 2003, section 4.3); `None` before the first event.
    ///
    /// # Errors
    /// As [`CumulativeHazard::hazard_at`]; `OutOfRange` unless `0 < level < 1`.
    pub fn interval_at(&self, time: f64, level: f64) -> Result<Option<(f64, f64)>, StatsError> {
        let found = self.hazard_at(time)?;
        let half = normal_point(level)? * found.standard_error / found.value;
        let positive = found.value > 0.0;
        Ok(positive.then(|| (found.value * (-half).exp(), found.value * half.exp())))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hazard(times: &[f64], ended: &[bool]) -> CumulativeHazard {
        nelson_aalen(&Lifetimes::new(times, ended).unwrap())
    }

    #[test]
    fn a_hand_worked_hazard_is_met() {
        let found = hazard(&[1.0, 1.0, 2.0, 3.0], &[true, true, false, true]);
        assert_eq!(found.steps[0].hazard, 0.5);
        assert_eq!(found.hazard_at(3.0).unwrap().value, 1.5);
        assert_eq!(found.hazard_at(3.0).unwrap().standard_error, (2.0 / 16.0 + 1.0_f64).sqrt());
        assert_eq!(found.hazard_at(0.5).unwrap().value, 0.0);
    }

    #[test]
    fn it_is_never_below_minus_the_logarithm_of_a_curve_of_small_steps() {
        let times: Vec<f64> = (0..2000).map(f64::from).collect();
        let found = hazard(&times, &[true; 2000]);
        let curve = kaplan_meier(&Lifetimes::new(&times, &[true; 2000]).unwrap());
        for place in [100, 700, 1500] {
            let gap = -curve.steps[place].survival.ln() - found.steps[place].hazard;
            assert!(gap > 0.0 && gap < 2e-3);
        }
    }

    #[test]
    fn nothing_is_said_beyond_the_last_time_or_before_the_first_event() {
        let found = hazard(&[1.0, 2.0], &[true, true]);
        assert!(matches!(found.hazard_at(2.5), Err(StatsError::OutOfRange { .. })));
        assert!(found.hazard_at(f64::NAN).is_err() && found.hazard_at(-1.0).is_err());
        assert_eq!(found.interval_at(0.5, 0.95).unwrap(), None);
        let (low, high) = found.interval_at(1.0, 0.95).unwrap().unwrap();
        assert!(0.0 < low && low < 0.5 && 0.5 < high);
        assert!(hazard(&[1.0], &[false]).steps.is_empty());
    }
}
