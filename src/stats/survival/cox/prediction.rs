//! What the model says of a new row.

use super::CoxFit;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::Estimate;
use crate::stats::survival::kaplan_meier::normal_point;
use crate::stats::survival::require_time;
use nalgebra::DVector;

/// The baseline hazards of a fit, from which curves for any row are read.
#[derive(Debug, Clone)]
pub struct Baseline<'fit> {
    fit: &'fit CoxFit,
    /// For each stratum, earliest time first.
    strata: Vec<Vec<BaselineStep>>,
}

/// What one time adds, for a row at the mean of all columns.
#[derive(Debug, Clone)]
struct BaselineStep {
    time: f64,
    /// `sum_l 1 / s_l`
    hazard: f64,
    /// `sum_l 1 / s_l^2`
    variance: f64,
    /// `sum_l m_l / s_l`
    means: Vec<f64>,
}

/// The predicted curve of one row.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictedSurvival {
    /// Times at which something ended in the stratum, earliest first.
    pub times: Vec<f64>,
    /// The cumulated hazard just after each.
    pub cumulative_hazard: Vec<f64>,
    /// Its error, for the baseline and the coefficients together.
    pub standard_errors: Vec<f64>,
    /// The longest time watched in the stratum.
    pub followed_until: f64,
}

impl CoxFit {
    /// The baseline hazards: `dH(t) = sum_l 1 / (S0 - w D0)` with the weights of the ties that the fit used (Breslow 1972 in the discussion of Cox 1972; with
    /// Efron's ties Therneau & Grambsch 2000, section 10.2).
    pub fn baseline(&self) -> Baseline<'_> {
        let mut strata: Vec<Vec<BaselineStep>> = vec![Vec::new(); self.working.sets.strata.len()];
        let predictor = self.working.predictor(self.optimum.at.as_slice());
        // the walk has succeeded at this point before
        let _ = self.working.walk(&predictor.risks, |moment| {
            // risks were divided by the exponential of the shift
            let unit = (-predictor.shifts[moment.stratum]).exp();
            let means =
                (0..self.working.columns).map(|column| unit * moment.mean_by_hazard(column));
            strata[moment.stratum].push(BaselineStep {
                time: moment.set.time,
                hazard: unit * moment.ties.inverse[0],
                variance: unit * unit * moment.ties.inverse_square[0],
                means: means.collect(),
            });
        });
        strata.iter_mut().for_each(|steps| steps.reverse());
        Baseline { fit: self, strata }
    }
}

impl Baseline<'_> {
    /// The curve of a row with these column values, in the stratum of this code (0 for a fit without strata): `H(t) = exp(X b) H0(t)` with variance
    /// `exp(2 X b) (sum 1/s^2 + q' I^{-1} q)`, `q = sum (x - m) dH0` (Tsiatis 1981, Annals of Statistics 9, 93-108).
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the row; `UnknownLevel` for a stratum that does not occur; `NoEvents` for one in which nothing ended.
    pub fn predict(&self, row: &[f64], stratum: usize) -> Result<PredictedSurvival, StatsError> {
        let fit = self.fit;
        require_length("the row", fit.names.len(), row.len())?;
        require_finite("the row", row)?;
        let strata = &fit.working.sets.strata;
        let place = strata.iter().position(|other| other.code == stratum);
        let place = place.ok_or_else(|| StatsError::UnknownLevel {
            factor: "the list of strata".into(),
            level: stratum.to_string(),
        })?;
        if self.strata[place].is_empty() {
            return Err(StatsError::NoEvents { what: format!("stratum {stratum}") });
        }
        let units = row.iter().zip(&fit.working.centres).zip(&fit.working.scales);
        let units = units.map(|((value, centre), scale)| (value - centre) / scale);
        let row = DVector::from_iterator(fit.names.len(), units);
        Ok(self.curve(&row, place))
    }

    fn curve(&self, row: &DVector<f64>, place: usize) -> PredictedSurvival {
        let fit = self.fit;
        let risk = row.dot(&fit.optimum.at).exp();
        let (mut hazard, mut variance) = (0.0, 0.0);
        let mut pull = DVector::zeros(row.len());
        let steps = &self.strata[place];
        let mut curve = PredictedSurvival {
            times: steps.iter().map(|step| step.time).collect(),
            cumulative_hazard: Vec::with_capacity(steps.len()),
            standard_errors: Vec::with_capacity(steps.len()),
            followed_until: fit.working.sets.strata[place].followed_until,
        };
        for step in steps {
            hazard += step.hazard;
            variance += step.variance;
            let parts = pull.iter_mut().zip(row.iter()).zip(&step.means);
            parts.for_each(|((pull, x), mean)| *pull += x * step.hazard - mean);
            curve.cumulative_hazard.push(risk * hazard);
            curve.standard_errors.push(risk * f64::hypot(f64::sqrt(variance), fit.length(&pull)));
        }
        curve
    }
}

impl PredictedSurvival {
    /// The cumulated hazard at a time; 0 with error 0 before the first event.
    ///
    /// # Errors
    /// `OutOfRange` for a negative time or one after the longest time watched in the stratum.
    pub fn hazard_at(&self, time: f64) -> Result<Estimate, StatsError> {
        require_time("the time", time)?;
        if time > self.followed_until {
            return Err(StatsError::OutOfRange {
                what: "the time".into(),
                value: time,
                expected: format!("at most {}, the longest time watched", self.followed_until),
            });
        }
        let after = self.times.partition_point(|&other| other <= time);
        let step = after.checked_sub(1);
        Ok(Estimate {
            // both lists are as long as that of the times
            value: step.map_or(0.0, |step| self.cumulative_hazard[step]),
            standard_error: step.map_or(0.0, |step| self.standard_errors[step]),
            degrees_of_freedom: f64::INFINITY,
        })
    }

    /// The share of such rows that lasts longer than a time, `exp(-H)`, with its error `S se(H)`.
    ///
    /// # Errors
    /// As [`PredictedSurvival::hazard_at`].
    pub fn survival_at(&self, time: f64) -> Result<Estimate, StatsError> {
        let hazard = self.hazard_at(time)?;
        let survival = (-hazard.value).exp();
        Ok(Estimate { value: survival, standard_error: survival * hazard.standard_error, ..hazard })
    }

    /// The interval of that share that is symmetric on the scale of `ln H`, so inside 0 to 1; `None` before the first event.
    ///
    /// # Errors
    /// As [`PredictedSurvival::hazard_at`]; `OutOfRange` unless `0 < level < 1`.
    pub fn interval_at(&self, time: f64, level: f64) -> Result<Option<(f64, f64)>, StatsError> {
        let hazard = self.hazard_at(time)?;
        let half = normal_point(level)? * hazard.standard_error / hazard.value;
        let end = |shift: f64| (-hazard.value * shift.exp()).exp();
        Ok((hazard.value > 0.0).then(|| (end(half), end(-half))))
    }
}
