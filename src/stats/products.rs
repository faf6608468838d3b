//! Cross-products of each group, computed once.
//!
//! Models of the linear family need from the data only these sums; after this one pass their cost depends on groups and columns and no longer on rows.

use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Sums of one group over the columns of the design and, last, the outcome.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupProducts {
    /// The group's code.
    pub code: usize,
    /// Rows `n_g`.
    pub count: usize,
    /// Means of the `p` columns and the outcome (`p + 1`).
    pub mean: DVector<f64>,
    /// `sum (z_i - mean)(z_i - mean)'` of the rows `z_i = (x_i, y_i)` (`(p + 1) x (p + 1)`): deviations are summed and not raw squares, so nothing cancels.
    pub within: DMatrix<f64>,
}

/// The groups of a data set, by rising code.
#[derive(Debug, Clone, PartialEq)]
pub struct Products {
    /// Column names of the design.
    pub names: Vec<String>,
    /// One entry a group.
    pub groups: Vec<GroupProducts>,
}

impl Products {
    /// One parallel pass. Each group is summed by one thread in the order of its rows, so the bytes do not depend on the number of threads.
    ///
    /// # Errors
    /// `LengthMismatch`, `Empty`, `NotFinite`.
    pub fn new(design: &Design, outcome: &[f64], groups: &[usize]) -> Result<Self, StatsError> {
        require_length("the outcome", design.rows(), outcome.len())?;
        require_length("the list of groups", design.rows(), groups.len())?;
        require_finite("the outcome", outcome)?;
        let mut members: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (row, &code) in groups.iter().enumerate() {
            members.entry(code).or_default().push(row);
        }
        let members: Vec<(usize, Vec<usize>)> = members.into_iter().collect();
        let groups = members
            .par_iter()
            .map(|(code, rows)| GroupProducts::new(*code, design, outcome, rows))
            .collect();
        Ok(Self { names: design.names.clone(), groups })
    }

    /// All rows.
    pub fn rows(&self) -> usize {
        self.groups.iter().map(|group| group.count).sum()
    }

    /// Sum of the groups' inner cross-products, in the order of the groups.
    pub fn within(&self) -> DMatrix<f64> {
        let size = self.names.len() + 1;
        let zero = DMatrix::zeros(size, size);
        self.groups.iter().fold(zero, |total, group| total + &group.within)
    }

    /// Mean of every column and the outcome over all rows.
    pub fn grand_mean(&self) -> DVector<f64> {
        let rows = self.rows() as f64;
        let zero = DVector::zeros(self.names.len() + 1);
        self.groups
            .iter()
            .fold(zero, |total, group| total + &group.mean * (group.count as f64 / rows))
    }

    /// `Z'Z` of all rows `z_i = (x_i, y_i)`: `sum_g within_g + n_g mean_g mean_g'`.
    pub fn total(&self) -> DMatrix<f64> {
        self.groups.iter().fold(self.within(), |total, group| {
            total + &group.mean * group.mean.transpose() * group.count as f64
        })
    }
}

impl GroupProducts {
    fn new(code: usize, design: &Design, outcome: &[f64], rows: &[usize]) -> Self {
        let columns = design.columns();
        let value = |row: usize, place: usize| {
            if place < columns { design.matrix[(row, place)] } else { outcome[row] }
        };
        let mut block = DMatrix::from_fn(rows.len(), columns + 1, |i, place| value(rows[i], place));
        let mut mean = block.row_mean().transpose();
        // a second step takes the rounding of the first out of the mean
        subtract(&mut block, &mean);
        let drift = block.row_mean().transpose();
        subtract(&mut block, &drift);
        mean += drift;
        Self { code, count: rows.len(), mean, within: block.tr_mul(&block) }
    }
}

fn subtract(block: &mut DMatrix<f64>, mean: &DVector<f64>) {
    for (mut column, &centre) in block.column_iter_mut().zip(mean.iter()) {
        column.add_scalar_mut(-centre);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> (Design, Vec<f64>, Vec<usize>) {
        let x: Vec<f64> = (0..40).map(|row| f64::from(row * row % 17)).collect();
        let y = x.iter().enumerate().map(|(row, x)| 1e6 + x.sin() + row as f64 / 7.0);
        let groups = (0..40).map(|row| row * 3 % 5).collect();
        let design = Design::builder(40).intercept().number("x", &x).build().unwrap();
        (design, y.collect(), groups)
    }

    #[test]
    fn the_parts_add_up_to_the_plain_cross_products() {
        let (design, outcome, groups) = example();
        let total = Products::new(&design, &outcome, &groups).unwrap().total();
        let direct: f64 = (0..40).map(|row| design.matrix[(row, 1)] * outcome[row]).sum();
        assert!((total[(1, 2)] - direct).abs() < 1e-12 * direct);
        assert!((total[(0, 0)] - 40.0).abs() < 1e-12);
    }

    #[test]
    fn the_bytes_do_not_depend_on_the_number_of_threads() {
        let (design, outcome, groups) = example();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| Products::new(&design, &outcome, &groups).unwrap())
        };
        assert_eq!(on(1), on(3));
    }

    #[test]
    fn a_column_that_is_constant_in_its_group_has_no_spread_there() {
        let (design, outcome, groups) = example();
        let products = Products::new(&design, &outcome, &groups).unwrap();
        assert!(products.groups.iter().all(|group| group.within[(0, 0)] == 0.0));
    }

    #[test]
    fn groups_of_the_wrong_length_are_refused() {
        let (design, outcome, _) = example();
        let fault = Products::new(&design, &outcome, &[0]);
        assert!(matches!(fault, Err(StatsError::LengthMismatch { .. })));
    }
}
