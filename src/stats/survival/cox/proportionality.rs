//! Is a hazard ratio the same early and late?

use super::CoxFit;
use super::partial_likelihood::{Moment, symmetric};
use crate::stats::error::StatsError;
use crate::stats::survival::ChiSquaredTest;
use crate::stats::survival::kaplan_meier::{SurvivalStep, kaplan_meier};
use nalgebra::{DMatrix, DVector};

/// The scale of time along which a coefficient may drift.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeScale {
    /// Time itself; one late event can carry the test.
    Identity,
    /// Its logarithm; times must be positive.
    Logarithm,
    /// The share that had ended just before, `1 - S(t-)`, over all strata: spreads events evenly, the usual choice.
    KaplanMeier,
}

/// The drift of one coefficient.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeTrend {
    /// The column.
    pub name: String,
    /// The test that its coefficient does not change with time, on one degree of freedom.
    pub test: ChiSquaredTest,
    /// One-step estimate of its change per unit of the scale: above zero the column's part grows with time.
    pub slope: f64,
}

/// Tests of proportional hazards.
#[derive(Debug, Clone, PartialEq)]
pub struct ProportionalityTest {
    /// One entry a column.
    pub columns: Vec<TimeTrend>,
    /// All columns together.
    pub global: ChiSquaredTest,
}

/// The scaled residual of one event.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaledResidual {
    /// When it ended.
    pub time: f64,
    /// The row.
    pub row: usize,
    /// One value a column: a rough reading of its coefficient at that time.
    pub values: Vec<f64>,
}

/// Sums over events, weighted by powers of the scale of time.
struct Drift {
    /// `sum g r`
    score: DVector<f64>,
    /// `sum g V` and `sum g^2 V`
    once: DMatrix<f64>,
    twice: DMatrix<f64>,
}

impl CoxFit {
    /// Score test of `b + theta g(t)` against `b` (Grambsch & Therneau 1994, Biometrika 81, 515-526): with the Schoenfeld residuals `r_k = sum x - sum m_l` of
    /// each event time and their covariances `V_k`, `U = sum g_k r_k` has variance `sum g^2 V - (sum g V) I^{-1} (sum g V)`. The covariance of each time is
    /// used, and not its average over times.
    ///
    /// # Errors
    /// `OutOfRange` for an event at time zero on the logarithmic scale; `NoVariation` where the scale takes one value only; `NoDegreesOfFreedom` where events
    /// are too few to see a drift.
    pub fn proportionality(&self, scale: TimeScale) -> Result<ProportionalityTest, StatsError> {
        let drift = self.drift(scale)?;
        let size = self.names.len();
        // sum g^2 V - (sum g V) I^{-1} (sum g V), by solves
        let pulled = self.optimum.factor.solve(&drift.once);
        let variance = &drift.twice - drift.once.transpose() * pulled;
        let unseen =
            |name: &str| StatsError::NoDegreesOfFreedom { what: format!("the drift of {name}") };
        let mut columns = Vec::with_capacity(size);
        for (place, name) in self.names.iter().enumerate() {
            let spread = variance[(place, place)];
            if spread <= 1e-10 * drift.twice[(place, place)] {
                return Err(unseen(name));
            }
            let statistic = drift.score[place].powi(2) / spread;
            columns.push(TimeTrend {
                name: name.clone(),
                test: ChiSquaredTest { statistic, degrees_of_freedom: 1.0 },
                slope: drift.score[place] / spread / self.working.scales[place],
            });
        }
        let statistic = super::quadratic_form(variance, &drift.score)
            .ok_or_else(|| unseen("all columns together"))?;
        Ok(ProportionalityTest { columns, global: self.test(statistic) })
    }

    fn drift(&self, scale: TimeScale) -> Result<Drift, StatsError> {
        let size = self.names.len();
        let clock = Clock::new(self, scale)?;
        let mut score = DVector::zeros(size);
        let (mut once, mut twice) = (vec![0.0; size * size], vec![0.0; size * size]);
        let predictor = self.working.predictor(self.optimum.at.as_slice());
        // the walk has succeeded at this point before
        let _ = self.working.walk(&predictor.risks, |moment| {
            let g = clock.at(moment.set.time);
            for column in 0..size {
                score[column] += g * self.residual(&moment, column);
            }
            moment.add_covariance(&mut once, g);
            moment.add_covariance(&mut twice, g * g);
        });
        Ok(Drift { score, once: symmetric(size, &once), twice: symmetric(size, &twice) })
    }

    /// The Schoenfeld residual of one time: what ended less what was expected.
    fn residual(&self, moment: &Moment<'_>, column: usize) -> f64 {
        let ending = moment.set.ending.clone();
        let seen: f64 = ending.map(|place| self.working.row(place)[column]).sum();
        seen - moment.expected(column)
    }

    /// Scaled Schoenfeld residuals `b + d I^{-1} r`, `d` the number of events, one for each event, earliest first (Grambsch & Therneau 1994, section 3): a
    /// smooth curve through them against time shows how a coefficient drifts.
    pub fn scaled_residuals(&self) -> Vec<ScaledResidual> {
        let size = self.names.len();
        let predictor = self.working.predictor(self.optimum.at.as_slice());
        let mut found = Vec::with_capacity(self.events);
        // the walk has succeeded at this point before
        let _ = self.working.walk(&predictor.risks, |moment| {
            let count = moment.set.ending.len() as f64;
            for place in moment.set.ending.clone() {
                let row = self.working.row(place);
                let residual =
                    (0..size).map(|column| row[column] - moment.expected(column) / count);
                let solved = self.optimum.factor.solve(&DVector::from_iterator(size, residual));
                let values = solved.iter().zip(&self.working.scales).zip(&self.coefficients);
                found.push(ScaledResidual {
                    time: moment.set.time,
                    row: self.working.sets.order[place],
                    values: values
                        .map(|((r, scale), b)| b + self.events as f64 * r / scale)
                        .collect(),
                });
            }
        });
        found.sort_by(|a, b| a.time.total_cmp(&b.time).then(a.row.cmp(&b.row)));
        found
    }
}

/// The scale of time, centred on the mean of the events, which the test does not feel and rounding does.
struct Clock {
    scale: TimeScale,
    steps: Vec<SurvivalStep>,
    centre: f64,
}

impl Clock {
    fn new(fit: &CoxFit, scale: TimeScale) -> Result<Self, StatsError> {
        let steps = kaplan_meier(&fit.lifetimes).steps;
        let first = steps.first().map_or(0.0, |step| step.time);
        if scale == TimeScale::Logarithm && first == 0.0 {
            return Err(StatsError::OutOfRange {
                what: "the time of an event".into(),
                value: first,
                expected: "above zero on a logarithmic scale".into(),
            });
        }
        if steps.len() < 2 {
            return Err(StatsError::NoVariation { what: "the time of the events".into() });
        }
        let mut clock = Self { scale, steps, centre: 0.0 };
        let total: f64 =
            clock.steps.iter().map(|step| step.events as f64 * clock.at(step.time)).sum();
        clock.centre = total / fit.events as f64;
        Ok(clock)
    }

    fn at(&self, time: f64) -> f64 {
        let value = match self.scale {
            TimeScale::Identity => time,
            TimeScale::Logarithm => time.ln(),
            TimeScale::KaplanMeier => {
                let before = self.steps.partition_point(|step| step.time < time);
                1.0 - self.steps[..before].last().map_or(1.0, |step| step.survival)
            }
        };
        value - self.centre
    }
}
