//! Whether one coefficient serves all thresholds.

use super::OrdinalFit;
use super::likelihood::Likelihood;
use crate::stats::error::StatsError;
use crate::stats::estimate::JointTest;
use crate::stats::logistic::{chi_squared, log_logistic, logistic};
use nalgebra::{Cholesky, DMatrix, DVector};

/// Score tests of proportional odds; a statistic times its numerator is chi-squared.
#[derive(Debug, Clone, PartialEq)]
pub struct Proportionality {
    /// All columns together.
    pub overall: JointTest,
    /// Each column, the others held proportional.
    pub columns: Vec<(String, JointTest)>,
}

impl OrdinalFit {
    /// Score test of the proportional-odds model inside the one with a coefficient for every threshold (Peterson & Harrell 1990, Applied Statistics 39,
    /// 205-217), with the expected information. Unlike Brant's (1990) test it needs no fit of the larger model, which few rows a category often refuse. It
    /// takes rows as independent, and rejects too often where categories hold few rows.
    ///
    /// # Errors
    /// `NoDegreesOfFreedom` for two categories, and where the larger model has no unique maximum near the fit.
    pub fn proportionality(&self) -> Result<Proportionality, StatsError> {
        let likelihood = &self.likelihood;
        if likelihood.thresholds() < 2 {
            let what = "proportionality over one threshold".into();
            return Err(StatsError::NoDegreesOfFreedom { what });
        }
        let (score, information) = likelihood.at_every_threshold(self.top.at.as_slice());
        let all: Vec<usize> = (0..self.names.len()).collect();
        let test = |columns: &[usize]| {
            let ways = likelihood.ways(columns);
            let inner = ways.tr_mul(&score);
            let spread = ways.tr_mul(&(&information * &ways));
            let freed = columns.len() * (likelihood.thresholds() - 1);
            let statistic = quadratic_form(spread, &inner);
            let what = || "coefficients of every threshold".into();
            let refusal = || StatsError::NoDegreesOfFreedom { what: what() };
            statistic.map(|value| chi_squared(value, freed)).ok_or_else(refusal)
        };
        let mut columns = Vec::with_capacity(all.len());
        for (place, name) in self.names.iter().enumerate() {
            columns.push((name.clone(), test(&[place])?));
        }
        Ok(Proportionality { overall: test(&all)?, columns })
    }
}

/// `z' S^-1 z`; `None` where `S` is singular to rounding.
fn quadratic_form(matrix: DMatrix<f64>, vector: &DVector<f64>) -> Option<f64> {
    let scale: Vec<f64> = matrix.diagonal().iter().map(|value| value.sqrt().recip()).collect();
    let scaled =
        DMatrix::from_fn(scale.len(), scale.len(), |i, j| matrix[(i, j)] * scale[i] * scale[j]);
    let inner = DVector::from_fn(scale.len(), |i, _| vector[i] * scale[i]);
    let factor = Cholesky::new(scaled)?;
    if factor.l_dirty().diagonal().min() < 1e-6 {
        return None;
    }
    Some(inner.dot(&factor.solve(&inner)))
}

impl Likelihood {
    /// Score and expected information of the model with a coefficient for every threshold, at equal coefficients. For every threshold the parameters are
    /// `(t_k, b_k)` and the cumulative log odds `a_k = t_k - x'b_k`; the information of the `a` is tridiagonal, with `f_k^2 (1 / p_k + 1 / p_{k+1})` and
    /// `-f_k f_{k+1} / p_{k+1}`.
    fn at_every_threshold(&self, at: &[f64]) -> (DVector<f64>, DMatrix<f64>) {
        let (count, block) = (self.thresholds(), self.basis.width() + 1);
        let mut score = DVector::zeros(count * block);
        let mut information = DMatrix::zeros(count * block, count * block);
        let mut z = vec![1.0; block];
        for (row, &code) in self.basis.each_row().zip(&self.codes) {
            z[1..].iter_mut().zip(row).for_each(|(value, x)| *value = -x);
            let predictor = self.predictor(at, row);
            let shares: Vec<[f64; 2]> =
                (0..=count).map(|code| self.density_shares(at, code, predictor)).collect();
            if code < count {
                add_to(&mut score, code * block, &z, shares[code][0]);
            }
            if code > 0 {
                add_to(&mut score, (code - 1) * block, &z, -shares[code][1]);
            }
            for place in 0..count {
                let density = self.density(at, place, predictor);
                let own = density * (shares[place][0] + shares[place + 1][1]);
                add_block(&mut information, (place * block, place * block), &z, own);
                if place + 1 < count {
                    let beside = -density * shares[place + 1][0];
                    add_block(&mut information, (place * block, (place + 1) * block), &z, beside);
                }
            }
        }
        information.fill_lower_triangle_with_upper_triangle();
        (score, information)
    }

    /// `f(a_k)`.
    fn density(&self, at: &[f64], place: usize, predictor: f64) -> f64 {
        let x = at[place] - predictor;
        logistic(x) * logistic(-x)
    }

    /// Density at the upper and at the lower bound of a category over its probability.
    fn density_shares(&self, at: &[f64], code: usize, predictor: f64) -> [f64; 2] {
        let (upper, lower) = self.bounds(at, code);
        let apart = -(lower - upper).exp_m1();
        let (a, b) = (upper - predictor, lower - predictor);
        let over =
            if a.is_finite() { (log_logistic(-a) - log_logistic(-b)).exp() / apart } else { 0.0 };
        let under =
            if b.is_finite() { (log_logistic(b) - log_logistic(a)).exp() / apart } else { 0.0 };
        [over, under]
    }

    /// The directions of the model in which the given columns have a coefficient for every threshold: thresholds, common coefficients, and departures of each
    /// threshold but the first.
    fn ways(&self, columns: &[usize]) -> DMatrix<f64> {
        let (count, width) = (self.thresholds(), self.basis.width());
        let block = width + 1;
        let mut ways = DMatrix::zeros(count * block, count + width + columns.len() * (count - 1));
        for place in 0..count {
            ways[(place * block, place)] = 1.0;
            for column in 0..width {
                ways[(place * block + 1 + column, count + column)] = 1.0;
            }
        }
        let mut next = count + width;
        for &column in columns {
            let shares = self.basis.shares_of(column);
            for place in 1..count {
                ways.view_mut((place * block + 1, next), (width, 1)).copy_from(&shares);
                next += 1;
            }
        }
        ways
    }
}

fn add_to(vector: &mut DVector<f64>, first: usize, z: &[f64], factor: f64) {
    vector.as_mut_slice()[first..].iter_mut().zip(z).for_each(|(value, x)| *value += factor * x);
}

/// Adds `factor z z'` at a place on or above the diagonal.
fn add_block(matrix: &mut DMatrix<f64>, place: (usize, usize), z: &[f64], factor: f64) {
    for (column, right) in z.iter().enumerate() {
        for (row, left) in z.iter().enumerate() {
            matrix[(place.0 + row, place.1 + column)] += factor * left * right;
        }
    }
}
