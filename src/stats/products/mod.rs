//! Cross-products of each group, computed once.
//!
//! Models of the linear family need from the data only these sums; after this one pass their cost depends on groups and columns and no longer on rows. [`Products::from_sums`] takes them as another program summed them.

mod pass;
mod split;
mod sums;

pub use sums::GroupSums;

use crate::stats::design::Design;
use crate::stats::error::{StatsError, require_finite, require_length};
use nalgebra::{DMatrix, DVector};

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
    /// One parallel pass, the same bytes on any number of threads. Sums of squares of pieces are merged by the formula of Chan, Golub & LeVeque (1983, The
    /// American Statistician 37, 242-247), so a large constant costs no digits.
    ///
    /// # Errors
    /// `LengthMismatch`, `Empty`, `NotFinite`; `OutOfRange` where a sum of squares overflows.
    pub fn new(design: &Design, outcome: &[f64], groups: &[usize]) -> Result<Self, StatsError> {
        require_length("the outcome", design.rows(), outcome.len())?;
        require_length("the list of groups", design.rows(), groups.len())?;
        require_finite("the outcome", outcome)?;
        let groups = pass::sum_groups(design, outcome, groups)?;
        Ok(Self { names: design.names.clone(), groups })
    }

    /// All rows.
    pub fn rows(&self) -> usize {
        self.groups.iter().map(|group| group.count).sum()
    }

    /// Sum of the groups' inner cross-products, in the order of the groups.
    pub fn within(&self) -> DMatrix<f64> {
        let size = self.names.len() + 1;
        let mut total = DMatrix::zeros(size, size);
        for group in &self.groups {
            total += &group.within;
        }
        total
    }

    /// Mean of every column and the outcome over all rows.
    pub fn grand_mean(&self) -> DVector<f64> {
        let rows = self.rows() as f64;
        let mut total = DVector::zeros(self.names.len() + 1);
        for group in &self.groups {
            total.axpy(group.count as f64 / rows, &group.mean, 1.0);
        }
        total
    }

    /// `Z'Z` of all rows `z_i = (x_i, y_i)`: `sum_g within_g + n_g mean_g mean_g'`.
    pub fn total(&self) -> DMatrix<f64> {
        let mut total = self.within();
        for group in &self.groups {
            total.ger(group.count as f64, &group.mean, &group.mean, 1.0);
        }
        total
    }
}

impl GroupProducts {
    fn empty(code: usize, columns: usize) -> Self {
        let within = DMatrix::zeros(columns, columns);
        Self { code, count: 0, mean: DVector::zeros(columns), within }
    }

    /// Values whose squares overflow have no products.
    fn require_finite(&self) -> Result<(), StatsError> {
        match self.within.iter().find(|value| !value.is_finite()) {
            None => Ok(()),
            Some(&value) => Err(StatsError::OutOfRange {
                what: "a sum of squared differences".into(),
                value,
                expected: "a number that a double can hold".into(),
            }),
        }
    }

    /// Adds more rows of the group: with `d` the difference of the means, `n m / (n + m) d d'` joins the inner cross-products.
    fn absorb(&mut self, other: Self) {
        if self.count == 0 {
            *self = other;
            return;
        }
        let (ours, theirs) = (self.count as f64, other.count as f64);
        let share = theirs / (ours + theirs);
        let apart = other.mean - &self.mean;
        self.within += other.within;
        self.within.ger(ours * share, &apart, &apart, 1.0);
        self.mean.axpy(share, &apart, 1.0);
        self.count += other.count;
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
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
    }

    #[test]
    fn many_rows_of_few_groups_do_not_depend_on_the_number_of_threads() {
        let rows = 50_000;
        let x: Vec<f64> = (0..rows).map(|row| f64::from(row * 37 % 1009)).collect();
        let y: Vec<f64> = x.iter().enumerate().map(|(row, x)| x.sqrt() + row as f64).collect();
        let groups: Vec<usize> = (0..rows as usize).map(|row| row * row % 7).collect();
        let design = Design::builder(x.len()).intercept().number("x", &x).build().unwrap();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| Products::new(&design, &y, &groups).unwrap())
        };
        let products = on(1);
        assert_eq!(products, on(2));
        assert_eq!(products, on(7));
        let plain: f64 = x.iter().zip(&y).map(|(a, b)| a * b).sum();
        assert!((products.total()[(1, 2)] - plain).abs() < 1e-12 * plain);
    }

    #[test]
    fn a_large_constant_costs_no_digits() {
        // 0, 1, 2 by turns about 2^40, where a sum of raw squares keeps no digit; every number here is exact
        let outcome: Vec<f64> = (0..3000).map(|row| 2f64.powi(40) + f64::from(row % 3)).collect();
        let design = Design::builder(3000).intercept().build().unwrap();
        let products = Products::new(&design, &outcome, &[5; 3000]).unwrap();
        assert!((products.within()[(1, 1)] - 2000.0).abs() < 1e-9);
        assert_eq!(products.groups[0].mean[1], 2f64.powi(40) + 1.0);
    }

    #[test]
    fn values_whose_squares_overflow_are_refused() {
        let design = Design::builder(2).intercept().build().unwrap();
        let fault = Products::new(&design, &[1e200, -1e200], &[0, 0]);
        assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
    }

    #[test]
    fn codes_may_be_as_large_as_they_like() {
        let (design, outcome, groups) = example();
        let far: Vec<usize> = groups.iter().map(|code| usize::MAX - 5 + code).collect();
        let near = Products::new(&design, &outcome, &groups).unwrap();
        let far = Products::new(&design, &outcome, &far).unwrap();
        for (a, b) in near.groups.iter().zip(&far.groups) {
            assert_eq!((a.count, &a.mean, &a.within), (b.count, &b.mean, &b.within));
        }
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
