//! What goes with ending sooner: proportional hazards.
//!
//! The hazard of a row is `h0(t) exp(X b)` with `h0` left free, in each stratum one of its own (Cox 1972, Journal of the Royal Statistical Society B 34,
//! 187-220). `exp(b)` is a hazard ratio: how many times sooner, at every moment, things end per unit of the column.

mod concordance;
mod left_out;
mod partial_likelihood;
mod prediction;
mod proportionality;
mod robust;

pub use concordance::Concordance;
pub use left_out::cox_left_out;
pub use prediction::{Baseline, PredictedSurvival};
pub use proportionality::{ProportionalityTest, ScaledResidual, TimeScale, TimeTrend};
pub use robust::CoxRobust;

use super::ChiSquaredTest;
use super::lifetimes::Lifetimes;
use super::newton::{NoMaximum, Optimum, maximise};
use super::risk_sets::RiskSets;
use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, mean, standard_deviation, sum_of_squares};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;
use partial_likelihood::Working;

/// What is done where several rows end at the same time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ties {
    /// Efron 1977: the default, close to the exact answer.
    Efron,
    /// Breslow 1974: draws coefficients towards zero where ties are many; for comparison with other programs.
    Breslow,
}

/// A fitted model.
#[derive(Debug, Clone)]
pub struct CoxFit {
    /// Column names.
    pub names: Vec<String>,
    /// `b`, the logarithm of the hazard ratio per unit of each column.
    pub coefficients: Vec<f64>,
    /// Rows.
    pub rows: usize,
    /// How many of them ended: what the precision rests on.
    pub events: usize,
    /// The log partial likelihood at its maximum.
    pub log_likelihood: f64,
    /// The same with all coefficients zero.
    pub log_likelihood_null: f64,
    /// What was done with ties.
    pub ties: Ties,
    score_statistic: f64,
    /// Entries of each row, kept for residuals.
    lifetimes: Lifetimes,
    working: Working,
    optimum: Optimum,
}

/// Fits by Newton's method with step halving, at `O(n p^2)` a step. The design carries no intercept: it would say nothing. `strata` give each row the code of
/// the baseline hazard it has a share in.
///
/// # Errors
/// `LengthMismatch`; `NoEvents`; `RankDeficient` with the columns that do not vary inside strata among rows at risk, or repeat others; `MonotoneLikelihood`
/// with the columns whose coefficients run to infinity (Bryson & Johnson 1981, Technometrics 23, 381-383), as where a group has no events; `NotConverged`.
pub fn fit_cox(
    design: &Design,
    lifetimes: &Lifetimes,
    strata: Option<&[usize]>,
    ties: Ties,
) -> Result<CoxFit, StatsError> {
    require_length("the times", design.rows(), lifetimes.rows())?;
    lifetimes.require_events()?;
    let sets = RiskSets::new(lifetimes, strata)?;
    require_full_rank(design, &sets)?;
    let (centres, scales) = moments(design)?;
    let working = Working::new(design, sets, ties, centres, scales);
    let start = DVector::zeros(design.columns());
    let not_converged = || StatsError::NotConverged { what: "the proportional hazards fit".into() };
    let null = working.log_likelihood(&start).ok_or_else(not_converged)?;
    let named =
        |places: &[usize]| places.iter().map(|&place| design.names[place].clone()).collect();
    let spread = working.spread();
    let unseen = unseen(&null.information, &spread, lifetimes.events() as f64);
    if !unseen.is_empty() {
        return Err(StatsError::RankDeficient { columns: named(&unseen) });
    }
    let optimum = maximise(start, &spread, |at| working.log_likelihood(at));
    let optimum = optimum.map_err(|fault| match fault {
        NoMaximum::Monotone(places) => StatsError::MonotoneLikelihood { columns: named(&places) },
        NoMaximum::Singular | NoMaximum::NotFound => not_converged(),
    })?;
    let coefficients = optimum.at.iter().zip(&working.scales).map(|(b, scale)| b / scale);
    Ok(CoxFit {
        names: design.names.clone(),
        coefficients: coefficients.collect(),
        rows: design.rows(),
        events: lifetimes.events(),
        log_likelihood: optimum.curvature.value,
        log_likelihood_null: null.value,
        ties,
        score_statistic: score_statistic(&null.information, &null.gradient),
        lifetimes: lifetimes.clone(),
        working,
        optimum,
    })
}

/// Names the columns that, less their stratum's mean, repeat others or do not vary.
fn require_full_rank(design: &Design, sets: &RiskSets) -> Result<(), StatsError> {
    let mut centred = Array2::zeros(design.matrix.dim());
    let mut start = 0;
    for stratum in &sets.strata {
        let rows = &sets.order[start..start + stratum.rows];
        start += stratum.rows;
        for (column, values) in design.matrix.columns().into_iter().enumerate() {
            let stretch: Vec<f64> = rows.iter().map(|&row| values[row]).collect();
            let centre = mean(&stretch)?;
            // a constant that rounding of its mean would turn into a column
            let constant = stretch.iter().all(|&value| value == stretch[0]);
            for (&row, value) in rows.iter().zip(stretch).filter(|_| !constant) {
                centred[(row, column)] = value - centre;
            }
        }
    }
    let dependent = PivotedQr::new(centred.view(), RANK_TOLERANCE).set_aside();
    if dependent.is_empty() {
        return Ok(());
    }
    let columns = dependent.iter().map(|&column| design.names[column].clone());
    Err(StatsError::RankDeficient { columns: columns.collect() })
}

/// Columns about which the risk sets hold no information beyond the columns before them: full rank among all rows, and not among those at risk.
/// `spread` is the largest value of each column in working units: what a variance of a risk set that should be zero is rounded from.
fn unseen(information: &DMatrix<f64>, spread: &[f64], events: f64) -> Vec<usize> {
    let mut left = information.clone();
    let own = information.diagonal();
    let mut weak = Vec::new();
    for pivot in 0..left.nrows() {
        let new = left[(pivot, pivot)];
        if new <= 1e-11 * own[pivot] || own[pivot] <= 1e-13 * events * spread[pivot].powi(2) {
            weak.push(pivot);
            continue;
        }
        for row in pivot + 1..left.nrows() {
            let factor = left[(row, pivot)] / new;
            for column in pivot + 1..left.nrows() {
                left[(row, column)] -= factor * left[(pivot, column)];
            }
        }
    }
    weak
}

/// Mean and standard deviation of every column.
fn moments(design: &Design) -> Result<(Vec<f64>, Vec<f64>), StatsError> {
    let columns = design.matrix.columns();
    let each = columns.into_iter().map(|column| {
        let values = column.to_vec();
        // full rank after centring: every column varies, so there are two rows and a spread
        Ok((mean(&values)?, standard_deviation(&values)?))
    });
    each.collect::<Result<Vec<(f64, f64)>, StatsError>>().map(|pairs| pairs.into_iter().unzip())
}

/// `U' I^{-1} U`.
fn score_statistic(information: &DMatrix<f64>, gradient: &DVector<f64>) -> f64 {
    // the climb from this point has factored this matrix
    let solved = information.clone().cholesky().map(|factor| factor.solve(gradient));
    solved.map_or(f64::NAN, |solved| solved.dot(gradient))
}

impl Working {
    /// How far each column reaches, in working units.
    fn spread(&self) -> Vec<f64> {
        let mut spread = vec![0.0_f64; self.columns];
        for row in self.rows.chunks_exact(self.columns) {
            for (spread, value) in spread.iter_mut().zip(row) {
                *spread = spread.max(value.abs());
            }
        }
        spread
    }
}

impl CoxFit {
    /// The contrast that picks one coefficient.
    ///
    /// # Errors
    /// `UnknownColumn`.
    pub fn pick(&self, name: &str) -> Result<Vec<f64>, StatsError> {
        let place = self.names.iter().position(|other| other == name);
        let place = place.ok_or_else(|| StatsError::UnknownColumn { name: name.into() })?;
        let mut contrast = vec![0.0; self.names.len()];
        contrast[place] = 1.0;
        Ok(contrast)
    }

    /// A contrast of the coefficients, seen from the working columns.
    fn working_contrast(&self, contrast: &[f64]) -> Result<DVector<f64>, StatsError> {
        require_length("the contrast", self.names.len(), contrast.len())?;
        require_finite("the contrast", contrast)?;
        let pairs = contrast.iter().zip(&self.working.scales);
        Ok(DVector::from_iterator(contrast.len(), pairs.map(|(c, scale)| c / scale)))
    }

    /// `sqrt(c' I^{-1} c)` of a working contrast, by a triangular solve.
    fn length(&self, contrast: &DVector<f64>) -> f64 {
        let solved = self.optimum.factor.l().solve_lower_triangular(contrast);
        // the factor has a positive diagonal
        solved.map_or(f64::NAN, |solved| sum_of_squares(solved.as_slice()).sqrt())
    }

    /// `c'b` with the error `sqrt(c' I^{-1} c)`, right where rows are independent; normal in large samples. `exp` of the value and of its interval's ends is a
    /// hazard ratio.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let working = self.working_contrast(contrast)?;
        Ok(Estimate {
            value: working.dot(&self.optimum.at),
            standard_error: self.length(&working),
            degrees_of_freedom: f64::INFINITY,
        })
    }

    /// Wald test that several contrasts (`q x p`) are zero together, as an F test with infinite denominator: `(Cb)' (C I^{-1} C')^{-1} (Cb) / q`.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite`; `RankDeficient` for contrasts that repeat each other.
    pub fn joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let lower = self.optimum.factor.l();
        let working = self.working_contrasts(contrasts)?;
        let solved = working.iter().map(|contrast| lower.solve_lower_triangular(contrast));
        // the factor has a positive diagonal
        let solved: Vec<DVector<f64>> = solved.collect::<Option<_>>().ok_or_else(repeated)?;
        let covariance =
            DMatrix::from_fn(solved.len(), solved.len(), |i, j| solved[i].dot(&solved[j]));
        let values = self.values(contrasts)?;
        let numerator = contrasts.nrows() as f64;
        let statistic = quadratic_form(covariance, &values).ok_or_else(repeated)? / numerator;
        Ok(JointTest { statistic, numerator, denominator: f64::INFINITY })
    }

    fn working_contrasts(&self, contrasts: &Array2<f64>) -> Result<Vec<DVector<f64>>, StatsError> {
        if contrasts.nrows() == 0 {
            return Err(StatsError::Empty { what: "the list of contrasts".into() });
        }
        contrasts.rows().into_iter().map(|row| self.working_contrast(&row.to_vec())).collect()
    }

    /// `C b`.
    fn values(&self, contrasts: &Array2<f64>) -> Result<DVector<f64>, StatsError> {
        let working = self.working_contrasts(contrasts)?;
        Ok(DVector::from_iterator(working.len(), working.iter().map(|c| c.dot(&self.optimum.at))))
    }

    fn test(&self, statistic: f64) -> ChiSquaredTest {
        ChiSquaredTest { statistic, degrees_of_freedom: self.names.len() as f64 }
    }

    /// The likelihood-ratio test that all coefficients are zero: twice the rise of the log partial likelihood.
    pub fn likelihood_ratio_test(&self) -> ChiSquaredTest {
        self.test(2.0 * (self.log_likelihood - self.log_likelihood_null))
    }

    /// The Wald test that all coefficients are zero, `b' I(b) b`.
    pub fn wald_test(&self) -> ChiSquaredTest {
        let at = &self.optimum.at;
        self.test(at.dot(&(&self.optimum.curvature.information * at)))
    }

    /// The score test that all coefficients are zero, `U(0)' I(0)^{-1} U(0)`; for one 0/1 column without ties it is the log-rank test.
    pub fn score_test(&self) -> ChiSquaredTest {
        self.test(self.score_statistic)
    }
}

fn repeated() -> StatsError {
    StatsError::RankDeficient { columns: vec!["the contrasts".into()] }
}

/// `z' S^{-1} z` by Cholesky; `None` where `S` is singular.
fn quadratic_form(matrix: DMatrix<f64>, vector: &DVector<f64>) -> Option<f64> {
    let own = matrix.diagonal();
    let lower = matrix.cholesky()?.l();
    let pairs =
        lower.diagonal().iter().zip(own.iter()).all(|(left, own)| left * left > 1e-12 * own);
    pairs.then(|| lower.solve_lower_triangular(vector).map(|solved| solved.norm_squared()))?
}

#[cfg(test)]
mod refusals;
#[cfg(test)]
mod tests;
