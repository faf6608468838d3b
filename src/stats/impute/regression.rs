//! The regression that predicts one column, and a draw of its coefficients.

use nalgebra::linalg::Cholesky;
use nalgebra::{DMatrix, DVector, Dyn};
use rand::Rng;
use rand_distr::{ChiSquared, Distribution, StandardNormal};
use std::ops::Range;

/// What is added to the diagonal of the cross-products, as a share of it, so that columns that repeat each other do no harm (van Buuren 2018, algorithm 3.1).
const RIDGE: f64 = 1e-5;
/// A predictor with less variance than this among the rows with a value, where 1 is usual, predicts nothing.
const CONSTANT: f64 = 1e-10;
/// What keeps a residual covariance positive where a fit is perfect, in units of the column's variance.
const PERFECT: f64 = 1e-12;

/// All columns in working units, row by row: numbers with mean 0 and standard deviation 1, indicators likewise.
#[derive(Debug, Clone)]
pub(super) struct Filled {
    pub width: usize,
    pub values: Vec<f64>,
}

impl Filled {
    pub fn row(&self, row: usize) -> &[f64] {
        &self.values[row * self.width..(row + 1) * self.width]
    }
}

/// The regression of one column (a block of `d` numbers) on all others.
pub(super) struct Regression {
    /// Places of the predictors; the constant comes first and has no place.
    predictors: Vec<usize>,
    factor: Cholesky<f64, Dyn>,
    /// `q x d`
    coefficients: DMatrix<f64>,
    /// Lower root of the residual cross-products, `d x d`.
    pub root: DMatrix<f64>,
    degrees: f64,
}

impl Regression {
    /// The regression and what it predicts for the rows with a value, `d` numbers each in units of the residual covariance.
    pub fn new(
        filled: &Filled,
        block: Range<usize>,
        observed: &[usize],
    ) -> Option<(Self, Vec<f64>)> {
        let width = block.len();
        let mut fit = Self::solve(filled, block.clone(), observed)?;
        let mut squares =
            DMatrix::<f64>::identity(width, width) * (PERFECT * observed.len() as f64);
        let mut predicted = vec![0.0; observed.len() * width];
        let mut residual = DVector::<f64>::zeros(width);
        for (&row, point) in observed.iter().zip(predicted.chunks_exact_mut(width)) {
            fit.predict(filled.row(row), &fit.coefficients, point);
            let parts = residual.iter_mut().zip(&filled.row(row)[block.clone()]).zip(point.iter());
            parts.for_each(|((residual, y), fit)| *residual = y - fit);
            squares.ger(1.0, &residual, &residual, 1.0);
        }
        fit.root = squares.cholesky()?.l();
        predicted.chunks_exact_mut(width).for_each(|point| fit.scale(point));
        Some((fit, predicted))
    }

    /// The coefficients, on the columns that vary; the root is not known yet.
    fn solve(filled: &Filled, block: Range<usize>, observed: &[usize]) -> Option<Self> {
        let others = (0..filled.width).filter(|place| !block.contains(place));
        let others: Vec<usize> = others.collect();
        let (products, targets) = products(filled, block.clone(), observed, &others);
        let kept = varying(&products, observed.len() as f64);
        // the constant comes first and is always kept
        let predictors = kept[1..].iter().map(|&place| others[place - 1]).collect();
        let mut products = products.select_rows(&kept).select_columns(&kept);
        for place in 1..kept.len() {
            products[(place, place)] *= 1.0 + RIDGE;
        }
        let factor = Cholesky::new(products)?;
        let coefficients = factor.solve(&targets.select_rows(&kept));
        let degrees = observed.len() as f64 - kept.len() as f64;
        let root = DMatrix::identity(block.len(), block.len());
        Some(Self { predictors, factor, coefficients, root, degrees })
    }

    /// Coefficients from their posterior distribution under a flat prior.
    pub fn draw(&self, generator: &mut impl Rng) -> Option<DMatrix<f64>> {
        let (size, width) = self.coefficients.shape();
        // Bartlett's decomposition of a Wishart matrix (Bartlett 1933)
        let mut bartlett = DMatrix::<f64>::zeros(width, width);
        for i in 0..width {
            let degrees = self.degrees - i as f64;
            let chi = ChiSquared::new(degrees).ok()?;
            bartlett[(i, i)] = f64::sqrt(chi.sample(generator));
            for j in 0..i {
                bartlett[(i, j)] = StandardNormal.sample(generator);
            }
        }
        // F = root T^{-T}, so F' solves T F' = root'
        let spread = bartlett.solve_lower_triangular(&self.root.transpose())?;
        let noise: DMatrix<f64> =
            DMatrix::from_fn(size, width, |_, _| StandardNormal.sample(generator));
        let shift: DMatrix<f64> = self.factor.l().tr_solve_lower_triangular(&(noise * spread))?;
        Some(&self.coefficients + shift)
    }

    /// `B'x`.
    pub fn predict(&self, row: &[f64], coefficients: &DMatrix<f64>, into: &mut [f64]) {
        // one column of coefficients for each number
        for (into, column) in into.iter_mut().zip(coefficients.column_iter()) {
            let slopes = column.iter().skip(1).zip(&self.predictors);
            *into = column[0] + slopes.map(|(b, &place)| b * row[place]).sum::<f64>();
        }
    }

    /// Turns a prediction into units of the residual covariance: forward substitution in its root.
    pub fn scale(&self, point: &mut [f64]) {
        for place in 0..point.len() {
            let known: f64 =
                (0..place).map(|before| self.root[(place, before)] * point[before]).sum();
            point[place] = (point[place] - known) / self.root[(place, place)];
        }
    }
}

/// `X'X` and `X'Y` over the rows with a value.
fn products(
    filled: &Filled,
    block: Range<usize>,
    observed: &[usize],
    predictors: &[usize],
) -> (DMatrix<f64>, DMatrix<f64>) {
    let size = predictors.len() + 1;
    let mut lower = vec![0.0; size * size];
    let mut targets = DMatrix::<f64>::zeros(size, block.len());
    let mut x = vec![1.0; size];
    for &row in observed {
        let values = filled.row(row);
        x[1..].iter_mut().zip(predictors).for_each(|(x, &place)| *x = values[place]);
        for (i, &factor) in x.iter().enumerate() {
            let sums = lower[i * size..=i * size + i].iter_mut();
            sums.zip(&x).for_each(|(sum, other)| *sum += factor * other);
        }
        for (mut column, &y) in targets.column_iter_mut().zip(&values[block.clone()]) {
            column.iter_mut().zip(&x).for_each(|(sum, x)| *sum += x * y);
        }
    }
    let mut products = DMatrix::from_row_slice(size, size, &lower);
    products.fill_upper_triangle_with_lower_triangle();
    (products, targets)
}

/// Rows of `X'X` whose predictor varies among the rows with a value; the first, of the constant, is always among them.
fn varying(products: &DMatrix<f64>, count: f64) -> Vec<usize> {
    let spread = |place: usize| products[(place, place)] - products[(place, 0)].powi(2) / count;
    let places = 0..products.nrows();
    places.filter(|&place| place == 0 || spread(place) > CONSTANT * count).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;

    #[test]
    fn drawn_coefficients_scatter_as_their_posterior_does() {
        // y on a constant and x: variance of the slope is s^2 / sum (x - mean)^2 times df / (df - 2)
        let x = [-2.0, -1.0, 0.0, 1.0, 2.0, -1.5, 1.5, 0.5, -0.5, 0.0, 1.0, -1.0];
        let noise = [0.3, -0.2, 0.5, -0.4, 0.1, -0.3, 0.2, 0.4, -0.1, -0.5, 0.2, -0.2];
        let mut values = Vec::new();
        x.iter().zip(noise).for_each(|(x, e)| values.extend([*x, 0.8 * x + e]));
        let filled = Filled { width: 2, values };
        let rows: Vec<usize> = (0..12).collect();
        let (regression, _) = Regression::new(&filled, 1..2, &rows).unwrap();
        let mut generator = stream(2, 0);
        let draws = (0..4000).map(|_| regression.draw(&mut generator).unwrap()[(1, 0)]);
        let draws: Vec<f64> = draws.collect();
        let squares: f64 = x.iter().map(|x| x * x).sum();
        let expected = regression.root[(0, 0)].powi(2) / 10.0 / squares * 10.0 / 8.0;
        let found = crate::stats::numeric::variance(&draws).unwrap();
        // heavy tails: standard error of the ratio about 0.03
        assert!((found / expected - 1.0).abs() < 0.15, "{found} {expected}");
        let centre = crate::stats::numeric::mean(&draws).unwrap();
        assert!((centre - regression.coefficients[(1, 0)]).abs() < 0.01);
    }
}
