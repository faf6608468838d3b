//! The share that outlasts a time, without a law for the times.

use super::lifetimes::Lifetimes;
use super::require_time;
use super::risk_sets::{Count, RiskSets};
use crate::stats::error::{StatsError, require_level};
use crate::stats::estimate::Estimate;
use crate::stats::numeric::normal_quantile;

/// Shares nearer than this count as equal, so that a product of fractions that should be one half reaches one half.
const SAME_SHARE: f64 = 1e-10;

/// The curve just after one time at which something ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurvivalStep {
    /// The time, in the unit of the times.
    pub time: f64,
    /// How many were at risk just before.
    pub at_risk: usize,
    /// How many ended then.
    pub events: usize,
    /// The share that lasts longer, 0 to 1.
    pub survival: f64,
    /// Greenwood's error of that share. It is 0 where the curve has reached 0, which says nothing about how sure that is.
    pub standard_error: f64,
    /// Greenwood's sum `sum d / (n (n - d))`: the variance of `ln S`; infinite where the curve has reached 0.
    pub log_variance: f64,
}

/// The product-limit curve.
#[derive(Debug, Clone, PartialEq)]
pub struct SurvivalCurve {
    /// One step a time with events, earliest first; empty where nothing ended.
    pub steps: Vec<SurvivalStep>,
    /// Rows.
    pub rows: usize,
    /// The longest time watched. Beyond it the curve is unknown, unless it has reached 0.
    pub followed_until: f64,
}

/// A quantile of the times with its interval. A value that is `None` was *not reached*: too many were still going.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LifeQuantile {
    /// The share that has ended by then, 0 to 1.
    pub probability: f64,
    /// The first time by which that share has ended.
    pub value: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit; often not reached in small samples.
    pub high: Option<f64>,
}

/// Kaplan & Meier 1958, Journal of the American Statistical Association 53, 457-481: `S(t) = prod_{t_i <= t} (1 - d_i / n_i)` with the error of Greenwood
/// (1926), `S^2 sum d_i / (n_i (n_i - d_i))`. Data in which nothing ended give a curve that stays at 1. With delayed entry the curve can reach 0 early,
/// where few had entered, and stays there.
pub fn kaplan_meier(lifetimes: &Lifetimes) -> SurvivalCurve {
    // without strata there is nothing that could be refused
    let counts = RiskSets::new(lifetimes, None)
        .map(|sets| sets.strata.iter().flat_map(|stratum| stratum.counts()).collect::<Vec<_>>());
    SurvivalCurve {
        steps: steps_of(&counts.unwrap_or_default()),
        rows: lifetimes.rows(),
        followed_until: lifetimes.followed_until(),
    }
}

/// The curve from counts in the order of time.
pub(super) fn steps_of(counts: &[Count]) -> Vec<SurvivalStep> {
    let (mut survival, mut log_variance) = (1.0, 0.0);
    let each = counts.iter().map(|count| {
        let (at_risk, events) = (count.at_risk as f64, count.events as f64);
        survival *= (at_risk - events) / at_risk;
        log_variance += events / (at_risk * (at_risk - events));
        SurvivalStep {
            time: count.time,
            at_risk: count.at_risk,
            events: count.events,
            survival,
            // at the end of the curve this is 0 times infinity, with the limit 0
            standard_error: if survival > 0.0 { survival * log_variance.sqrt() } else { 0.0 },
            log_variance,
        }
    });
    each.collect()
}

impl SurvivalStep {
    /// The interval symmetric on the scale of `ln(-ln S)`: `S^exp(-/+ z sqrt(G) / ln S)` with `G` the `log_variance` (Kalbfleisch & Prentice 1980, section
    /// 1.3). It stays inside 0 to 1 and holds its level in small samples (Borgan & Liestoel 1990). `None` where the curve is 0: no error can be had there.
    fn log_log(&self, z: f64) -> Option<(f64, f64)> {
        if self.survival <= 0.0 {
            return None;
        }
        let half = z * self.log_variance.sqrt() / self.survival.ln().abs();
        Some((self.survival.powf(half.exp()), self.survival.powf((-half).exp())))
    }
}

impl SurvivalCurve {
    /// The last step at or before a time; `None` before the first event.
    pub(super) fn step_at(&self, time: f64) -> Option<&SurvivalStep> {
        let after = self.steps.partition_point(|step| step.time <= time);
        self.steps[..after].last()
    }

    /// Whether everything that was watched to the end had ended.
    pub(super) fn reaches_zero(&self) -> bool {
        self.steps.last().is_some_and(|step| step.survival <= 0.0)
    }

    /// Refuses times at which the curve is unknown.
    pub(super) fn require_known(&self, time: f64) -> Result<(), StatsError> {
        require_time("the time", time)?;
        if time <= self.followed_until || self.reaches_zero() {
            return Ok(());
        }
        Err(StatsError::OutOfRange {
            what: "the time".into(),
            value: time,
            expected: format!("at most {}, the longest time watched", self.followed_until),
        })
    }

    /// The share that lasts longer than a time, with Greenwood's error.
    ///
    /// # Errors
    /// `OutOfRange` for a negative time, or one after the longest time watched while some were still going.
    pub fn survival_at(&self, time: f64) -> Result<Estimate, StatsError> {
        self.require_known(time)?;
        let (value, standard_error) =
            self.step_at(time).map_or((1.0, 0.0), |step| (step.survival, step.standard_error));
        Ok(Estimate { value, standard_error, degrees_of_freedom: f64::INFINITY })
    }

    /// The log-log interval of the share that lasts longer than a time, pointwise; `None` before the first event and where the curve is 0, where the method
    /// sees no error.
    ///
    /// # Errors
    /// `OutOfRange` as [`SurvivalCurve::survival_at`] and unless `0 < level < 1`.
    pub fn interval_at(&self, time: f64, level: f64) -> Result<Option<(f64, f64)>, StatsError> {
        self.require_known(time)?;
        let z = normal_point(level)?;
        Ok(self.step_at(time).and_then(|step| step.log_log(z)))
    }

    /// The log-log interval after every step, for a band round the curve. It is pointwise: the whole true curve lies inside less often than `level`.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`.
    pub fn band(&self, level: f64) -> Result<Vec<Option<(f64, f64)>>, StatsError> {
        let z = normal_point(level)?;
        Ok(self.steps.iter().map(|step| step.log_log(z)).collect())
    }

    /// The first time `t` with `S(t) <= 1 - probability`, and the limits at which the ends of the log-log band cross the same height (Brookmeyer & Crowley
    /// 1982, Biometrics 38, 29-41). Where the curve runs along that height some programs report the middle of the stretch; this is its beginning.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < probability < 1` and `0 < level < 1`.
    pub fn quantile(&self, probability: f64, level: f64) -> Result<LifeQuantile, StatsError> {
        require_level("the probability of a quantile", probability)?;
        let z = normal_point(level)?;
        let height = 1.0 - probability + SAME_SHARE;
        let first = |share: &dyn Fn(&SurvivalStep) -> f64| {
            self.steps.iter().find(|step| share(step) <= height).map(|step| step.time)
        };
        Ok(LifeQuantile {
            probability,
            value: first(&|step| step.survival),
            // where the curve is 0 its band has no lower end, but nothing lies lower
            low: first(&|step| step.log_log(z).map_or(0.0, |band| band.0)),
            high: first(&|step| step.log_log(z).map_or(1.0, |band| band.1)),
        })
    }

    /// [`SurvivalCurve::quantile`] at one half.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`.
    pub fn median(&self, level: f64) -> Result<LifeQuantile, StatsError> {
        self.quantile(0.5, level)
    }
}

/// The two-sided normal point of a level.
pub(super) fn normal_point(level: f64) -> Result<f64, StatsError> {
    require_level("the level of an interval", level)?;
    Ok(normal_quantile(0.5 * (1.0 + level)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn curve(times: &[f64], ended: &[bool]) -> SurvivalCurve {
        kaplan_meier(&Lifetimes::new(times, ended).unwrap())
    }

    #[test]
    fn a_hand_worked_curve_is_met() {
        // at risk 5, 4, 2: 4/5, then 3/5, then half of it
        let found = curve(&[1.0, 2.0, 3.0, 4.0, 5.0], &[true, true, false, true, false]);
        let shares: Vec<f64> = found.steps.iter().map(|step| step.survival).collect();
        for (share, expected) in shares.iter().zip([0.8, 0.6, 0.3]) {
            assert!((share - expected).abs() < 1e-15);
        }
        let greenwood = 0.3 * (1.0 / 20.0 + 1.0 / 12.0 + 1.0 / 2.0_f64).sqrt();
        assert!((found.steps[2].standard_error - greenwood).abs() < 1e-15);
        assert_eq!(found.survival_at(2.5).unwrap().value, found.steps[1].survival);
        assert_eq!(found.survival_at(0.5).unwrap().value, 1.0);
    }

    #[test]
    fn a_median_that_was_not_reached_is_said() {
        let found = curve(&[1.0, 2.0, 3.0, 4.0], &[true, false, false, false]);
        let median = found.median(0.95).unwrap();
        assert_eq!((median.value, median.high), (None, None));
    }

    #[test]
    fn a_curve_that_meets_one_half_exactly_has_that_time_as_median() {
        // (9/10)(8/9)...(5/6) is one half but for rounding
        let times: Vec<f64> = (1..=10).map(f64::from).collect();
        assert_eq!(curve(&times, &[true; 10]).median(0.95).unwrap().value, Some(5.0));
    }

    #[test]
    fn all_censored_stay_at_one_and_have_no_interval() {
        let found = curve(&[2.0, 5.0], &[false, false]);
        assert!(found.steps.is_empty());
        assert_eq!(found.survival_at(5.0).unwrap().value, 1.0);
        assert_eq!(found.interval_at(5.0, 0.95).unwrap(), None);
        assert_eq!(found.median(0.95).unwrap().value, None);
    }

    #[test]
    fn beyond_the_last_censored_time_nothing_is_said() {
        let found = curve(&[2.0, 5.0], &[true, false]);
        assert!(matches!(found.survival_at(5.1), Err(StatsError::OutOfRange { .. })));
        assert!(found.survival_at(-1.0).is_err() && found.survival_at(f64::NAN).is_err());
        let over = curve(&[2.0, 5.0], &[true, true]);
        assert_eq!(over.survival_at(99.0).unwrap().value, 0.0);
    }

    #[test]
    fn one_time_for_all_drops_to_zero_at_once() {
        let found = curve(&[4.0; 6], &[true; 6]);
        assert_eq!((found.steps.len(), found.steps[0].survival), (1, 0.0));
        assert_eq!(found.interval_at(4.0, 0.95).unwrap(), None);
        let median = found.median(0.95).unwrap();
        assert_eq!((median.value, median.low, median.high), (Some(4.0), Some(4.0), None));
    }

    #[test]
    fn what_ends_at_time_zero_lowers_the_curve_at_zero() {
        let found = curve(&[0.0, 1.0, 2.0, 2.0], &[true, true, true, false]);
        assert_eq!(found.survival_at(0.0).unwrap().value, 0.75);
    }

    #[test]
    fn a_level_of_one_is_refused() {
        let found = curve(&[1.0, 2.0], &[true, true]);
        assert!(found.band(1.0).is_err() && found.quantile(0.0, 0.95).is_err());
    }

    proptest! {
        #[test]
        fn without_censoring_the_curve_is_the_share_that_lasts_longer(
            times in prop::collection::vec(0_u8..20, 1..40)
        ) {
            let times: Vec<f64> = times.into_iter().map(f64::from).collect();
            let found = curve(&times, &vec![true; times.len()]);
            for step in &found.steps {
                let longer = times.iter().filter(|&&time| time > step.time).count() as f64;
                let share = longer / times.len() as f64;
                prop_assert!((step.survival - share).abs() < 1e-12);
                // Greenwood's error is then the binomial one
                let binomial = (share * (1.0 - share) / times.len() as f64).sqrt();
                prop_assert!((step.standard_error - binomial).abs() < 1e-12);
            }
        }

        #[test]
        fn the_band_holds_the_curve_and_stays_between_zero_and_one(
            rows in prop::collection::vec((0_u8..20, any::<bool>()), 1..40)
        ) {
            let times: Vec<f64> = rows.iter().map(|row| f64::from(row.0)).collect();
            let ended: Vec<bool> = rows.iter().map(|row| row.1).collect();
            let found = curve(&times, &ended);
            for (step, band) in found.steps.iter().zip(found.band(0.9).unwrap()) {
                if let Some((low, high)) = band {
                    prop_assert!(0.0 <= low && low < step.survival && step.survival < high && high <= 1.0);
                }
            }
        }
    }
}
