//! Least squares of many rows and few columns.

use super::double_double::DoubleDouble;
use super::fit::{MOST_GROWTH, Parts};
use super::triangle::{ExtendedTriangle, Triangle};
use crate::stats::design::Design;
use crate::stats::error::StatsError;
use crate::stats::numeric::dot;
use crate::stats::numeric::{mean, sum_of_squares};
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

/// From so many rows on this road is tried.
pub(super) const TALL: usize = 4096;
/// Rows that are worked on together; fits the second-level cache for some tens of columns. It does not depend on the number of threads, nor do the sums.
const BLOCK: usize = 1024;

/// Cholesky QR done twice: the factor of `X'X` gives a first `Q` whose columns are at right angles to `growth^2` rounding errors, and the same again takes
/// those out. `None` where the columns are not well apart, which is for the slower roads to decide.
pub(super) fn tall_parts(design: &Design, outcome: &[f64]) -> Result<Option<Parts>, StatsError> {
    let mut blocks = Blocks::new(design);
    let Some(first) = blocks.orthonormalise() else { return Ok(None) };
    let lengths = blocks.lengths.clone();
    let Some(second) = blocks.orthonormalise() else { return Ok(None) };
    let factor = triangle_of(&(second * first));
    if Triangle::Plain(factor.clone()).growth(&lengths) > MOST_GROWTH {
        return Ok(None);
    }
    let centre = if design.has_intercept() { mean(outcome)? } else { 0.0 };
    Ok(Some(parts(design, outcome, centre, blocks, factor)))
}

fn parts(
    design: &Design,
    outcome: &[f64],
    centre: f64,
    blocks: Blocks,
    factor: ExtendedTriangle,
) -> Parts {
    let mut residuals: Vec<f64> = outcome.iter().map(|value| value - centre).collect();
    let total_sum_of_squares = sum_of_squares(&residuals);
    // the second pass takes out what rounding left of the first
    let effects = blocks.project_out(&mut residuals);
    let effects = effects + blocks.project_out(&mut residuals);
    let extended: Vec<DoubleDouble> = effects.iter().map(|&e| DoubleDouble::from(e)).collect();
    let mut coefficients = factor.solve(&extended);
    let skipped = usize::from(design.has_intercept());
    if skipped == 1 {
        coefficients[0] += centre;
    }
    Parts {
        coefficients,
        residual_sum_of_squares: sum_of_squares(&residuals),
        total_sum_of_squares,
        regression_sum_of_squares: sum_of_squares(&effects.as_slice()[skipped..]),
        residuals,
        q: blocks.into_matrix(),
        triangle: Triangle::Plain(factor),
    }
}

fn triangle_of(factor: &DMatrix<f64>) -> ExtendedTriangle {
    let column = |j: usize| (0..=j).map(|i| DoubleDouble::from(factor[(i, j)])).collect();
    ExtendedTriangle {
        columns: (0..factor.ncols()).map(column).collect(),
        scales: vec![1.0; factor.ncols()],
    }
}

/// The rows in blocks, each block column after column.
struct Blocks {
    columns: usize,
    blocks: Vec<Vec<f64>>,
    /// Lengths of the columns as they came.
    lengths: Vec<f64>,
}

impl Blocks {
    fn new(design: &Design) -> Self {
        let (rows, columns) = design.matrix.dim();
        let starts: Vec<usize> = (0..rows).step_by(BLOCK).collect();
        let blocks = starts.into_par_iter().map(|start| {
            let end = (start + BLOCK).min(rows);
            let mut block = Vec::with_capacity((end - start) * columns);
            for column in 0..columns {
                block.extend((start..end).map(|row| design.matrix[(row, column)]));
            }
            block
        });
        Self { columns, blocks: blocks.collect(), lengths: Vec::new() }
    }

    /// Replaces the columns by `X R^-1` and returns `R`; `None` where they are not independent enough.
    fn orthonormalise(&mut self) -> Option<DMatrix<f64>> {
        let columns = self.columns;
        let parts: Vec<DMatrix<f64>> =
            self.blocks.par_iter().map(|block| cross_products(block, columns)).collect();
        let zero = DMatrix::zeros(columns, columns);
        // in the order of the blocks, whatever thread was first
        let products = parts.iter().fold(zero, |total, part| total + part);
        self.lengths = products.diagonal().iter().map(|square| square.sqrt()).collect();
        let upper = well_apart(products)?;
        self.blocks.par_iter_mut().for_each(|block| divide(block, &upper));
        Some(upper)
    }

    /// Takes the part along the orthonormal columns out of `values` and returns its coordinates.
    fn project_out(&self, values: &mut [f64]) -> DVector<f64> {
        let pairs = self.blocks.par_iter().zip(values.par_chunks(BLOCK));
        let parts: Vec<DVector<f64>> = pairs
            .map(|(block, values)| {
                let columns = block.chunks(values.len()).map(|column| dot(column, values));
                DVector::from_iterator(self.columns, columns)
            })
            .collect();
        let zero = DVector::zeros(self.columns);
        let coordinates = parts.iter().fold(zero, |total, part| total + part);
        self.blocks.par_iter().zip(values.par_chunks_mut(BLOCK)).for_each(|(block, values)| {
            for (column, share) in block.chunks(values.len()).zip(coordinates.iter()) {
                subtract(values, column, *share);
            }
        });
        coordinates
    }

    fn into_matrix(self) -> DMatrix<f64> {
        let rows = self.blocks.iter().map(|block| block.len() / self.columns).sum();
        let mut matrix = DMatrix::zeros(rows, self.columns);
        for (place, mut column) in matrix.column_iter_mut().enumerate() {
            let mut values = column.iter_mut();
            for block in &self.blocks {
                let size = block.len() / self.columns;
                let part = &block[place * size..(place + 1) * size];
                // the part comes first: a zip takes from its left before it sees that its right has ended
                part.iter().zip(values.by_ref()).for_each(|(part, value)| *value = *part);
            }
        }
        matrix
    }
}

/// `X'X` of one block; only the upper half is computed and then mirrored.
fn cross_products(block: &[f64], columns: usize) -> DMatrix<f64> {
    let size = block.len() / columns;
    let column = |place: usize| &block[place * size..(place + 1) * size];
    let mut products = DMatrix::zeros(columns, columns);
    for j in 0..columns {
        for i in 0..=j {
            let product = dot(column(i), column(j));
            products[(i, j)] = product;
            products[(j, i)] = product;
        }
    }
    products
}

/// The upper Cholesky factor, unless some column has less than `1 / MOST_GROWTH` of its length left beside the columns before it.
fn well_apart(products: DMatrix<f64>) -> Option<DMatrix<f64>> {
    let squares = products.diagonal();
    let upper = products.cholesky()?.l().transpose();
    let left = upper.diagonal();
    let apart = left.iter().zip(&squares).all(|(left, square)| left * MOST_GROWTH > square.sqrt());
    apart.then_some(upper)
}

/// `X R^-1` of one block, in place.
fn divide(block: &mut [f64], upper: &DMatrix<f64>) {
    let size = block.len() / upper.ncols();
    for j in 0..upper.ncols() {
        let (before, from) = block.split_at_mut(j * size);
        let own = &mut from[..size];
        for (i, other) in before.chunks(size).enumerate() {
            subtract(own, other, upper[(i, j)]);
        }
        let reciprocal = 1.0 / upper[(j, j)];
        own.iter_mut().for_each(|value| *value *= reciprocal);
    }
}

fn subtract(values: &mut [f64], column: &[f64], share: f64) {
    for (value, along) in values.iter_mut().zip(column) {
        *value -= share * along;
    }
}

#[cfg(test)]
mod tests {
    use super::super::extended::extended_parts;
    use super::super::fit::careful_parts;
    use super::super::least_squares;
    use super::*;
    use crate::stats::resample::stream;
    use rand::RngExt;

    /// Six columns of noise beside the intercept, the last `tie` parts the one before it.
    fn example(rows: usize, tie: f64) -> (Design, Vec<f64>) {
        let mut generator = stream(11, 0);
        let mut columns: Vec<Vec<f64>> =
            (0..6).map(|_| (0..rows).map(|_| 3.0 + generator.random::<f64>()).collect()).collect();
        let own = columns[5].iter().zip(&columns[4]);
        columns[5] = own.map(|(own, other)| tie * other + (1.0 - tie) * own).collect();
        let outcome =
            (0..rows).map(|row| columns[0][row] - columns[4][row] + generator.random::<f64>());
        let outcome = outcome.collect();
        let mut builder = Design::builder(rows).intercept();
        for (place, column) in columns.iter().enumerate() {
            builder = builder.number(&format!("x{place}"), column);
        }
        (builder.build().unwrap(), outcome)
    }

    fn near(left: f64, right: f64, digits: i32) {
        assert!((left - right).abs() <= 10_f64.powi(-digits) * right.abs(), "{left} {right}");
    }

    #[test]
    fn the_short_road_gives_the_numbers_of_the_careful_one() {
        let (design, outcome) = example(TALL + 321, 0.0);
        let fast = tall_parts(&design, &outcome).unwrap().unwrap();
        let slow = careful_parts(&design, &outcome).unwrap();
        let exact = extended_parts(&design, &outcome);
        for (a, b) in fast.coefficients.iter().zip(&exact.coefficients) {
            assert!((a - b).abs() < 1e-12, "{a} {b}");
        }
        near(fast.residual_sum_of_squares, exact.residual_sum_of_squares, 13);
        near(fast.residual_sum_of_squares, slow.residual_sum_of_squares, 12);
        near(fast.regression_sum_of_squares, slow.regression_sum_of_squares, 11);
        let same = (fast.q.tr_mul(&fast.q) - DMatrix::identity(7, 7)).norm();
        assert!(same < 1e-13, "{same}");
        let contrast = [0.0, 1.0, 0.0, 2.0, 0.0, 0.0, -1.0];
        let (a, b) =
            (fast.triangle.solve_transposed(&contrast), slow.triangle.solve_transposed(&contrast));
        near(sum_of_squares(&a), sum_of_squares(&b), 11);
    }

    #[test]
    fn columns_that_all_but_repeat_each_other_are_left_to_the_careful_roads() {
        let (design, outcome) = example(TALL, 0.9999);
        assert!(tall_parts(&design, &outcome).unwrap().is_none());
        assert!(least_squares(&design, &outcome).unwrap().is_extended());
        let (design, outcome) = example(TALL, 1.0);
        let fault = least_squares(&design, &outcome).unwrap_err();
        assert_eq!(fault, StatsError::RankDeficient { columns: vec!["x5".into()] });
    }

    #[test]
    fn the_bytes_do_not_depend_on_the_number_of_threads() {
        let (design, outcome) = example(TALL + 1, 0.0);
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            let fit = pool.install(|| least_squares(&design, &outcome).unwrap());
            (
                fit.coefficients.clone(),
                fit.residuals.clone(),
                fit.hc3(&fit.pick("x2").unwrap()).unwrap(),
            )
        };
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
    }

    #[test]
    fn an_outcome_that_does_not_vary_has_slopes_of_zero() {
        let (design, _) = example(TALL, 0.0);
        let fit = least_squares(&design, &vec![5.5; TALL]).unwrap();
        assert_eq!(fit.coefficients[0], 5.5);
        assert!(fit.coefficients[1..].iter().all(|slope| *slope == 0.0));
    }
}
