//! Probabilities for the pieces at hand, had they all been treated alike.

use super::LogisticFit;
use super::outcome::logistic_both;
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::Estimate;

/// A mean over rows and its slope by the coefficients: standardisation, or g-computation (Robins 1986, Mathematical Modelling 7, 1393-1512; Lane & Nelder
/// 1982, Biometrics 38, 613-621).
///
/// The error is that of the coefficients alone, by the delta method: the rows are taken as given, and not as a sample of others.
#[derive(Debug, Clone, PartialEq)]
pub struct Standardised {
    /// The mean.
    pub value: f64,
    /// Its derivative by each coefficient; a contrast of the coefficients whose standard error is that of the mean.
    pub gradient: Vec<f64>,
}

impl Standardised {
    /// The difference of two means of the same fit, with the slope that its error needs.
    pub fn minus(&self, other: &Self) -> Self {
        let pairs = self.gradient.iter().zip(&other.gradient);
        Self { value: self.value - other.value, gradient: pairs.map(|(a, b)| a - b).collect() }
    }

    /// The mean with the error that some covariance gives its gradient, for instance cluster-robust:
    /// `mean.with_error_of(&robust.contrast(&mean.gradient)?)`.
    pub fn with_error_of(&self, gradient: &Estimate) -> Estimate {
        Estimate { value: self.value, ..*gradient }
    }
}

impl LogisticFit {
    /// Mean probability of a success over the rows of the fit, weighted by their trials, had their columns been those of `counterfactual`; see
    /// [`with_number`] and [`with_level`].
    ///
    /// # Errors
    /// `LengthMismatch` for another number of rows or columns; `UnknownColumn` for other columns.
    pub fn standardised(&self, counterfactual: &Design) -> Result<Standardised, StatsError> {
        require_columns(&self.names, counterfactual)?;
        let trials = self.likelihood.outcome.trials();
        require_length("the list of rows", trials.len(), counterfactual.rows())?;
        let mut value = 0.0;
        let mut gradient = vec![0.0; self.names.len()];
        for (row, weight) in counterfactual.matrix.rows().into_iter().zip(trials) {
            let predictor: f64 = row.iter().zip(&self.coefficients).map(|(x, b)| x * b).sum();
            let (yes, no) = logistic_both(predictor);
            value += weight * yes;
            gradient.iter_mut().zip(row).for_each(|(slope, x)| *slope += weight * yes * no * x);
        }
        let all: f64 = trials.iter().sum();
        gradient.iter_mut().for_each(|slope| *slope /= all);
        Ok(Standardised { value: value / all, gradient })
    }

    /// A mean with Wald's error.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for a gradient of another fit.
    pub fn error_of(&self, mean: &Standardised) -> Result<Estimate, StatsError> {
        Ok(mean.with_error_of(&self.contrast(&mean.gradient)?))
    }
}

/// Refuses a design with other columns than a fit's.
pub(crate) fn require_columns(names: &[String], design: &Design) -> Result<(), StatsError> {
    require_length("the list of columns", names.len(), design.columns())?;
    match design.names.iter().zip(names).find(|(found, expected)| found != expected) {
        Some((found, _)) => Err(StatsError::UnknownColumn { name: found.clone() }),
        None => Ok(()),
    }
}

/// The design with one column held at a value in every row. A column that others are computed from (a spline, a group mean) is not what this is for: build
/// the design anew instead.
///
/// # Errors
/// `UnknownColumn`, `NotFinite`.
pub fn with_number(design: &Design, column: &str, value: f64) -> Result<Design, StatsError> {
    let place = design.column(column)?;
    require_finite(column, &[value])?;
    let mut changed = design.clone();
    changed.matrix.column_mut(place).fill(value);
    Ok(changed)
}

/// The design with every row at one level of a factor that was added by treatment contrasts (columns `factor: level`); `None` is the reference level.
///
/// # Errors
/// `UnknownColumn` for a factor without columns; `UnknownLevel`.
pub fn with_level(
    design: &Design,
    factor: &str,
    level: Option<&str>,
) -> Result<Design, StatsError> {
    let start = format!("{factor}: ");
    let mut changed = design.clone();
    let (mut columns, mut found) = (0, level.is_none());
    for (place, name) in design.names.iter().enumerate() {
        let Some(own) = name.strip_prefix(&start) else { continue };
        let chosen = level == Some(own);
        changed.matrix.column_mut(place).fill(f64::from(chosen));
        columns += 1;
        found |= chosen;
    }
    if columns == 0 {
        return Err(StatsError::UnknownColumn { name: factor.into() });
    }
    if !found {
        let level = level.unwrap_or_default().into();
        return Err(StatsError::UnknownLevel { factor: factor.into(), level });
    }
    Ok(changed)
}
