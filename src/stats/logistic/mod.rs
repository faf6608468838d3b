//! Yes/no outcomes.
//!
//! `P(success) = 1 / (1 + exp(-x'b))`, by maximum likelihood, by Firth's penalised likelihood, or with a random intercept a group. A coefficient is a
//! difference of log odds per unit of its column; [`Standardised`] turns it into probabilities.

mod accuracy;
pub(crate) mod basis;
mod grouped;
pub(crate) mod likelihood;
pub(crate) mod marginal;
mod mixed;
pub(crate) mod newton;
mod outcome;
mod profile;
mod quadrature;
pub(crate) mod separation;
mod standardised;
#[cfg(test)]
mod tests;

pub use accuracy::{HosmerLemeshow, area_under_curve, brier_score, hosmer_lemeshow};
pub use marginal::GroupEffect;
pub use mixed::{LogisticMixedFit, fit_logistic_mixed};
pub use outcome::{BinomialOutcome, logistic};
pub(crate) use outcome::{log_logistic, logistic_parts};
pub(crate) use standardised::require_columns;
pub use standardised::{Standardised, with_level, with_number};

use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::linear::{LinearFit, least_squares};
use basis::Basis;
use likelihood::Likelihood;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use ndarray::Array2;
use newton::{Climb, Top, climb};
use separation::{Sorting, refusal};

/// Steps after which the climb is given up; a separated plain likelihood shows itself long before.
const MOST_STEPS: usize = 60;
/// Firth's steps shrink by a constant factor, so more of them are allowed.
const MOST_FIRTH_STEPS: usize = 1_000;

/// What is maximised.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// The likelihood.
    MaximumLikelihood,
    /// Firth's: the log-likelihood and half the logarithm of the determinant of its information.
    Firth,
}

/// A fitted logistic model.
#[derive(Debug, Clone)]
pub struct LogisticFit {
    /// Column names, as in the design.
    pub names: Vec<String>,
    /// One difference of log odds per unit of each column.
    pub coefficients: Vec<f64>,
    /// Probability of a success in each row.
    pub probabilities: Vec<f64>,
    /// What was maximised.
    pub method: Method,
    /// `sum s ln p + (n - s) ln(1 - p)` and the logarithms of the binomial coefficients of counts; never penalised.
    pub log_likelihood: f64,
    /// `log_likelihood + ln |X'WX| / 2`, which Firth's method maximises.
    pub penalised_log_likelihood: f64,
    /// Twice what a free probability for every row would add to the log-likelihood.
    pub deviance: f64,
    /// The deviance of one probability for all rows.
    pub null_deviance: f64,
    matrix: Array2<f64>,
    likelihood: Likelihood,
    top: Top,
    factor: Cholesky<f64, Dyn>,
}

/// Maximum likelihood by Newton's method (McCullagh & Nelder 1989, Generalized Linear Models, section 4.4) in orthonormal columns.
///
/// # Errors
/// `LengthMismatch`; `TooFewRows` for fewer rows than columns or no more trials than columns; `RankDeficient`; `NoVariation` for an outcome of one kind;
/// `Separation` with the columns that foretell the outcome without error (Albert & Anderson 1984); `NotConverged`.
pub fn fit_logistic(design: &Design, outcome: &BinomialOutcome) -> Result<LogisticFit, StatsError> {
    fit(design, outcome, Method::MaximumLikelihood)
}

/// Firth's penalised likelihood (Firth 1993, Biometrika 80, 27-38; Heinze & Schemper 2002, Statistics in Medicine 21, 2409-2419): the score is
/// `X'(s - n p + h (1/2 - p))` with the leverages `h` of `W^1/2 X`. Finite under separation, and free of the first-order bias of maximum likelihood.
///
/// # Errors
/// As [`fit_logistic`], without `Separation`.
pub fn fit_firth(design: &Design, outcome: &BinomialOutcome) -> Result<LogisticFit, StatsError> {
    fit(design, outcome, Method::Firth)
}

fn fit(
    design: &Design,
    outcome: &BinomialOutcome,
    method: Method,
) -> Result<LogisticFit, StatsError> {
    require_length("the outcome", design.rows(), outcome.rows())?;
    outcome.require_informative(design.columns())?;
    let likelihood = Likelihood {
        basis: Basis::plain(design)?,
        outcome: outcome.clone(),
        penalised: method == Method::Firth,
    };
    let start = DVector::zeros(design.columns());
    let top = likelihood.climb_from(start, None, &design.names)?;
    LogisticFit::at(design, likelihood, top, method)
}

impl Likelihood {
    /// The maximum, or why there is none.
    fn climb_from(
        &self,
        start: DVector<f64>,
        free: Option<&DMatrix<f64>>,
        names: &[String],
    ) -> Result<Top, StatsError> {
        let most_steps = if self.penalised { MOST_FIRTH_STEPS } else { MOST_STEPS };
        let astray = |way: &DVector<f64>| !self.penalised && self.sorting(way) != Sorting::None;
        match climb(self, start, free, most_steps, astray) {
            Climb::Top(top, _) => Ok(top),
            Climb::Astray(way) => {
                Err(refusal(names, &self.basis, way.as_slice(), self.sorting(&way)))
            }
            Climb::Tired => Err(not_converged()),
        }
    }
}

fn not_converged() -> StatsError {
    StatsError::NotConverged { what: "the logistic model".into() }
}

impl LogisticFit {
    fn at(
        design: &Design,
        likelihood: Likelihood,
        top: Top,
        method: Method,
    ) -> Result<Self, StatsError> {
        let parts = likelihood.parts(&top.at);
        let factor = likelihood.information(&parts).cholesky().ok_or_else(not_converged)?;
        let plain = likelihood.log_likelihood(&top.at);
        let penalty = likelihood.half_log_determinant(&factor);
        let outcome = &likelihood.outcome;
        let log_likelihood = plain + outcome.constant();
        Ok(Self {
            names: design.names.clone(),
            matrix: design.matrix.clone(),
            coefficients: likelihood.basis.coefficients(top.at.as_slice()).1,
            probabilities: parts.iter().map(|part| part.probability).collect(),
            method,
            log_likelihood,
            penalised_log_likelihood: log_likelihood + penalty,
            deviance: 2.0 * (outcome.saturated() - plain),
            null_deviance: 2.0 * (outcome.saturated() - outcome.at_one_share()),
            likelihood,
            top,
            factor,
        })
    }

    /// The contrast that picks one coefficient.
    ///
    /// # Errors
    /// `UnknownColumn`.
    pub fn pick(&self, name: &str) -> Result<Vec<f64>, StatsError> {
        pick(&self.names, name)
    }

    fn combine(&self, contrast: &[f64]) -> f64 {
        contrast.iter().zip(&self.coefficients).map(|(c, b)| c * b).sum()
    }

    fn direction(&self, contrast: &[f64]) -> Result<DVector<f64>, StatsError> {
        self.likelihood.basis.direction(0.0, contrast)
    }

    /// `c'b` with Wald's error `sqrt(c'(X'WX)^-1 c)` and the normal distribution; for Firth's method the information is taken at its estimate.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        Ok(Estimate {
            value: self.combine(contrast),
            standard_error: self.covariance(contrast, contrast)?.sqrt(),
            degrees_of_freedom: f64::INFINITY,
        })
    }

    /// Covariance `c'(X'WX)^-1 d` of two contrasts.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrasts.
    pub fn covariance(&self, first: &[f64], second: &[f64]) -> Result<f64, StatsError> {
        let (first, second) = (self.direction(first)?, self.direction(second)?);
        Ok(first.dot(&self.factor.solve(&second)))
    }

    /// Wald test that several contrasts (`q x p`) are zero together. `q` times the statistic is chi-squared on `q` degrees of freedom, so the denominator is
    /// infinite.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`; `RankDeficient` for contrasts that repeat each other.
    pub fn wald(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let directions = self.directions(contrasts)?;
        basis::complement(&directions)?;
        let values = DVector::from_iterator(
            contrasts.nrows(),
            contrasts.rows().into_iter().map(|row| self.combine(&row.to_vec())),
        );
        let spread = directions.tr_mul(&self.factor.solve(&directions));
        let factor = spread.cholesky().ok_or_else(not_converged)?;
        Ok(chi_squared(values.dot(&factor.solve(&values)), contrasts.nrows()))
    }

    fn directions(&self, contrasts: &Array2<f64>) -> Result<DMatrix<f64>, StatsError> {
        let mut directions = DMatrix::zeros(self.names.len(), contrasts.nrows());
        for (place, contrast) in contrasts.rows().into_iter().enumerate() {
            directions.set_column(place, &self.direction(&contrast.to_vec())?);
        }
        Ok(directions)
    }

    /// Akaike's criterion, `2 p - 2 log_likelihood` (Akaike 1974).
    pub fn akaike(&self) -> f64 {
        2.0 * self.names.len() as f64 - 2.0 * self.log_likelihood
    }

    /// Share of the null deviance that the columns explain (McFadden 1974), 0 to 1 for maximum likelihood with an intercept.
    pub fn mcfadden(&self) -> f64 {
        let base = self.likelihood.outcome.at_one_share();
        1.0 - self.likelihood.log_likelihood(&self.top.at) / base
    }

    /// Mean probability of the successes less that of the failures (Tjur 2009, The American Statistician 63, 366-372).
    pub fn tjur(&self) -> f64 {
        let mut sums = [0.0; 4];
        for (p, (successes, failures)) in
            self.probabilities.iter().zip(self.likelihood.outcome.pairs())
        {
            let terms = [successes * p, successes, failures * p, failures];
            sums.iter_mut().zip(terms).for_each(|(sum, term)| *sum += term);
        }
        sums[0] / sums[1] - sums[2] / sums[3]
    }

    /// The weighted least-squares problem that the fit solves in its last step, from which come errors that allow for clusters:
    /// `fit.working_regression()?.clustered(&lots)?`.
    ///
    /// Rows `sqrt(w) x` and outcomes `sqrt(w) (x'b + e / w)` with `w = n p (1 - p)` and the residual `e` of the score (`s - n p`, with Firth's penalty
    /// `s - n p + h (1/2 - p)`). Its coefficients are the fit's, and CR2 with its degrees of freedom is that of McCaffrey & Bell (2006, Statistics in
    /// Medicine 25, 4081-4098) for independent working errors. Its classical errors and sums of squares say nothing about the fit.
    ///
    /// # Errors
    /// `TooFewRows` unless there are more rows than columns; `NotConverged` where a fitted probability is 0 or 1 to the last digit.
    pub fn working_regression(&self) -> Result<LinearFit, StatsError> {
        let parts = self.likelihood.parts(&self.top.at);
        let factor = self.likelihood.penalised.then_some(&self.factor);
        let (residuals, _) = self.likelihood.residuals(&parts, factor);
        let predictors = self.likelihood.predictors(&self.top.at);
        let roots: Vec<f64> = parts.iter().map(|part| part.weight.sqrt()).collect();
        if roots.contains(&0.0) {
            return Err(not_converged());
        }
        let mut matrix = self.matrix.clone();
        for (mut row, root) in matrix.rows_mut().into_iter().zip(&roots) {
            row *= *root;
        }
        let rows = roots.iter().zip(&predictors).zip(&residuals);
        let outcome: Vec<f64> = rows.map(|((root, x), e)| root * x + e / root).collect();
        least_squares(&Design::new(self.names.clone(), matrix)?, &outcome)
    }
}

/// The contrast that picks one of several names.
pub(crate) fn pick(names: &[String], name: &str) -> Result<Vec<f64>, StatsError> {
    let mut contrast = vec![0.0; names.len()];
    let place = names.iter().position(|other| other == name);
    let place = place.ok_or_else(|| StatsError::UnknownColumn { name: name.into() })?;
    contrast[place] = 1.0;
    Ok(contrast)
}

/// A chi-squared statistic as a joint test: divided by its degrees of freedom, with an infinite denominator.
pub(crate) fn chi_squared(statistic: f64, degrees_of_freedom: usize) -> JointTest {
    let numerator = degrees_of_freedom as f64;
    JointTest { statistic: statistic / numerator, numerator, denominator: f64::INFINITY }
}
