//! Lives that follow Weibull's law: a parametric look at the same data.

use super::lifetimes::Lifetimes;
use super::newton::{Curvature, NoMaximum, Optimum, maximise};
use crate::stats::design::{Design, INTERCEPT};
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::Estimate;
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, mean, standard_deviation, sum_of_squares};
use nalgebra::{DMatrix, DVector};

/// An accelerated-lifetime fit `ln T = X b + s E` with `E` the logarithm of a unit exponential variable.
#[derive(Debug, Clone)]
pub struct WeibullFit {
    /// Column names.
    pub names: Vec<String>,
    /// `b`: a unit of a column multiplies lives by `exp(b)`.
    pub coefficients: Vec<f64>,
    /// `s`, without unit: below 1 the risk of ending grows with age, above 1 it falls.
    pub scale: f64,
    /// The log-likelihood of the times, with all constants.
    pub log_likelihood: f64,
    working: Working,
    optimum: Optimum,
}

/// The data in units in which every column and the logarithms of the times have mean 0 and standard deviation 1.
#[derive(Debug, Clone)]
struct Working {
    /// `n x p`, the first column ones.
    columns: DMatrix<f64>,
    logs: Vec<f64>,
    ended: Vec<bool>,
    centres: Vec<f64>,
    scales: Vec<f64>,
    log_centre: f64,
    log_scale: f64,
}

/// Maximum likelihood in `a = 1 / s` and `g = b / s`, in which the log-likelihood `sum d (ln a + z - ln t) - e^z`, `z = a ln t - X g`, is concave (Burridge
/// 1981, Journal of the Royal Statistical Society B 43, 41-45); see Kalbfleisch & Prentice 1980, section 3.6.
///
/// # Errors
/// `LengthMismatch`; `UnknownColumn` where the first column is not the intercept; `TooFewRows`, `RankDeficient`; `OutOfRange` for a time of zero or delayed
/// entry; `NoEvents`; `NoVariation` where all times are equal; `MonotoneLikelihood` where a column says without fail who never ended; `NotConverged`.
pub fn fit_weibull(design: &Design, lifetimes: &Lifetimes) -> Result<WeibullFit, StatsError> {
    check(design, lifetimes)?;
    let working = Working::new(design, lifetimes)?;
    let mut spread = vec![1.0; design.columns() + 1];
    for (column, spread) in working.columns.column_iter().zip(&mut spread) {
        *spread = column.amax();
    }
    // an exponential law with the mean of the events
    let mut start = DVector::zeros(design.columns() + 1);
    start[0] =
        (working.logs.iter().map(|log| log.exp()).sum::<f64>() / lifetimes.events() as f64).ln();
    start[design.columns()] = 1.0;
    let optimum = maximise(start, &spread, |at| working.log_likelihood(at));
    WeibullFit::at(design, working, optimum.map_err(|fault| named(&fault, &design.names))?)
}

fn named(fault: &NoMaximum, names: &[String]) -> StatsError {
    match fault {
        NoMaximum::Monotone(places) => StatsError::MonotoneLikelihood {
            // the last parameter is the shape, which has no column; the intercept runs along because the columns are centred
            columns: places
                .iter()
                .filter(|&&place| place > 0)
                .filter_map(|&place| names.get(place).cloned())
                .collect(),
        },
        _ => StatsError::NotConverged { what: "the Weibull fit".into() },
    }
}

fn check(design: &Design, lifetimes: &Lifetimes) -> Result<(), StatsError> {
    require_length("the times", design.rows(), lifetimes.rows())?;
    if !design.has_intercept() {
        return Err(StatsError::UnknownColumn { name: INTERCEPT.into() });
    }
    if design.rows() <= design.columns() {
        return Err(StatsError::TooFewRows { rows: design.rows(), columns: design.columns() });
    }
    let dependent = PivotedQr::new(design.matrix.view(), RANK_TOLERANCE).set_aside();
    if !dependent.is_empty() {
        let columns = dependent.iter().map(|&column| design.names[column].clone());
        return Err(StatsError::RankDeficient { columns: columns.collect() });
    }
    lifetimes.require_events()?;
    let out_of_range = |what: String, value: f64, expected: &str| {
        Err(StatsError::OutOfRange { what, value, expected: expected.into() })
    };
    if let Some(row) = lifetimes.times.iter().position(|&time| time == 0.0) {
        return out_of_range(
            format!("the time in row {row}"),
            0.0,
            "above zero, as Weibull's law has it",
        );
    }
    let late = lifetimes
        .entries
        .as_ref()
        .and_then(|e| e.iter().position(|&entry| entry > 0.0).map(|row| (row, e[row])));
    match late {
        Some((row, entry)) => {
            out_of_range(format!("the entry in row {row}"), entry, "0 for a Weibull fit")
        }
        None => Ok(()),
    }
}

impl Working {
    fn new(design: &Design, lifetimes: &Lifetimes) -> Result<Self, StatsError> {
        let logs: Vec<f64> = lifetimes.times.iter().map(|time| time.ln()).collect();
        let (log_centre, log_scale) = (mean(&logs)?, standard_deviation(&logs)?);
        if log_scale <= 1e-12 * log_centre.abs().max(1.0) {
            return Err(StatsError::NoVariation { what: "the list of times".into() });
        }
        let mut columns =
            DMatrix::from_fn(design.rows(), design.columns(), |i, j| design.matrix[(i, j)]);
        let (mut centres, mut scales) = (vec![0.0], vec![1.0]);
        for mut column in columns.column_iter_mut().skip(1) {
            let values: Vec<f64> = column.iter().copied().collect();
            let (centre, scale) = (mean(&values)?, standard_deviation(&values)?);
            // the rank check left no column that does not vary
            column.iter_mut().for_each(|value| *value = (*value - centre) / scale);
            centres.push(centre);
            scales.push(scale);
        }
        let logs = logs.iter().map(|log| (log - log_centre) / log_scale).collect();
        let ended = lifetimes.ended.clone();
        Ok(Self { columns, logs, ended, centres, scales, log_centre, log_scale })
    }

    /// In working units, less the part that no parameter touches; the shape must be positive.
    fn log_likelihood(&self, at: &DVector<f64>) -> Option<Curvature> {
        let size = self.columns.ncols();
        let shape = at[size];
        if shape <= 0.0 {
            return None;
        }
        let predictor = &self.columns * at.rows(0, size);
        let (mut value, mut gradient) = (0.0, DVector::zeros(size + 1));
        let mut weighted = DMatrix::zeros(self.columns.nrows(), size + 1);
        for (row, (&log, &ended)) in self.logs.iter().zip(&self.ended).enumerate() {
            let z = shape * log - predictor[row];
            let (risk, event) = (z.exp(), f64::from(u8::from(ended)));
            value += event * (shape.ln() + z) - risk;
            // the derivative of z is (-x, log), its weight in the information e^z
            let root = risk.sqrt();
            for column in 0..size {
                let x = self.columns[(row, column)];
                gradient[column] += (risk - event) * x;
                weighted[(row, column)] = -root * x;
            }
            gradient[size] += event * (1.0 / shape + log) - risk * log;
            weighted[(row, size)] = root * log;
        }
        let mut information = weighted.tr_mul(&weighted);
        information[(size, size)] += self.events() / (shape * shape);
        value.is_finite().then_some(Curvature { value, gradient, information })
    }

    fn events(&self) -> f64 {
        self.ended.iter().filter(|&&ended| ended).count() as f64
    }

    /// `c'b` in working units: the contrast of the working columns and the constant that the centres leave.
    fn contrast(&self, contrast: &[f64]) -> DVector<f64> {
        let first = contrast[0];
        let parts = contrast.iter().zip(&self.centres).zip(&self.scales);
        let mut working: Vec<f64> =
            parts.map(|((c, centre), scale)| (c - first * centre) / scale).collect();
        working[0] = first;
        DVector::from_vec(working)
    }
}

impl WeibullFit {
    fn at(design: &Design, working: Working, optimum: Optimum) -> Result<Self, StatsError> {
        let logs = working.logs.iter().zip(&working.ended).filter(|(_, ended)| **ended);
        // ln t and the change of unit of the logarithm, once an event
        let constant: f64 = logs
            .map(|(log, _)| working.log_scale * log + working.log_centre + working.log_scale.ln())
            .sum();
        let mut fit = Self {
            names: design.names.clone(),
            coefficients: Vec::new(),
            scale: working.log_scale / optimum.at[design.columns()],
            log_likelihood: optimum.curvature.value - constant,
            working,
            optimum,
        };
        for column in 0..design.columns() {
            let mut contrast = vec![0.0; design.columns()];
            contrast[column] = 1.0;
            let found = fit.contrast(&contrast)?.value;
            fit.coefficients.push(found);
        }
        Ok(fit)
    }

    /// A linear combination `c'b` with its error from the information and the delta method, normal in large samples.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        require_length("the contrast", self.names.len(), contrast.len())?;
        require_finite("the contrast", contrast)?;
        let size = self.names.len();
        let direction = self.working.contrast(contrast);
        let (shape, location) =
            (self.optimum.at[size], direction.dot(&self.optimum.at.rows(0, size)));
        // b = g / a, in units of the logarithm's spread
        let mut gradient = (direction / shape).push(-location / (shape * shape));
        gradient *= self.working.log_scale;
        Ok(Estimate {
            value: self.working.log_scale * location / shape
                + contrast[0] * self.working.log_centre,
            standard_error: self.length(&gradient),
            degrees_of_freedom: f64::INFINITY,
        })
    }

    /// `ln s` with its error; `exp` of its interval is one for `s`.
    pub fn log_scale(&self) -> Estimate {
        let size = self.names.len();
        let mut gradient = DVector::zeros(size + 1);
        gradient[size] = -1.0 / self.optimum.at[size];
        Estimate {
            value: self.scale.ln(),
            standard_error: self.length(&gradient),
            degrees_of_freedom: f64::INFINITY,
        }
    }

    /// `sqrt(g' I^{-1} g)` by a triangular solve.
    fn length(&self, gradient: &DVector<f64>) -> f64 {
        let solved = self.optimum.factor.l().solve_lower_triangular(gradient);
        // the factor has a positive diagonal
        solved.map_or(f64::NAN, |solved| sum_of_squares(solved.as_slice()).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn design(x: &[f64]) -> Design {
        Design::builder(x.len()).intercept().number("x", x).build().unwrap()
    }

    const TIMES: [f64; 8] = [1.0, 3.0, 4.0, 7.0, 2.0, 8.0, 9.0, 5.0];
    const X: [f64; 8] = [0.0, 1.0, 0.5, 2.0, 0.0, 3.0, 2.5, 1.0];

    #[test]
    fn a_change_of_the_unit_of_time_moves_only_the_intercept() {
        let ended = [true, true, false, true, true, true, false, true];
        let fit = fit_weibull(&design(&X), &Lifetimes::new(&TIMES, &ended).unwrap()).unwrap();
        let minutes = TIMES.map(|time| 60.0 * time);
        let other = fit_weibull(&design(&X), &Lifetimes::new(&minutes, &ended).unwrap()).unwrap();
        assert!((other.coefficients[0] - fit.coefficients[0] - 60.0_f64.ln()).abs() < 1e-9);
        assert!((other.coefficients[1] - fit.coefficients[1]).abs() < 1e-10);
        assert!((other.scale - fit.scale).abs() < 1e-10);
        assert!((other.log_likelihood - fit.log_likelihood + 6.0 * 60.0_f64.ln()).abs() < 1e-9);
    }

    #[test]
    fn what_a_weibull_law_cannot_hold_is_refused() {
        let fit = |times: &[f64], ended: &[bool]| {
            fit_weibull(&design(&X[..times.len()]), &Lifetimes::new(times, ended).unwrap())
        };
        assert!(matches!(fit(&[0.0, 1.0, 2.0], &[true; 3]), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(fit(&[1.0, 1.0, 1.0], &[true; 3]), Err(StatsError::NoVariation { .. })));
        assert!(matches!(fit(&TIMES, &[false; 8]), Err(StatsError::NoEvents { .. })));
        assert!(matches!(fit(&[1.0, 2.0], &[true; 2]), Err(StatsError::TooFewRows { .. })));
        let late = Lifetimes::new(&TIMES, &[true; 8]).unwrap().entering_at(&[0.5; 8]).unwrap();
        assert!(matches!(fit_weibull(&design(&X), &late), Err(StatsError::OutOfRange { .. })));
    }

    #[test]
    fn a_group_without_events_has_no_finite_coefficient() {
        let never = [0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0];
        let ended = [true, true, true, true, true, false, false, false];
        let fault = fit_weibull(&design(&never), &Lifetimes::new(&TIMES, &ended).unwrap());
        let columns = vec!["x".to_string()];
        assert_eq!(fault.unwrap_err(), StatsError::MonotoneLikelihood { columns });
    }

    #[test]
    fn without_an_intercept_the_fit_is_refused() {
        let bare = Design::builder(8).number("x", &X).build().unwrap();
        let fault = fit_weibull(&bare, &Lifetimes::new(&TIMES, &[true; 8]).unwrap());
        assert!(matches!(fault, Err(StatsError::UnknownColumn { .. })));
    }
}
