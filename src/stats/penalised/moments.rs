//! Sums over any set of groups, and over all groups but some, from the products of each group.

use crate::stats::error::{StatsError, require_length};
use crate::stats::products::{GroupProducts, Products};
use crate::stats::resample::{permutation, stream};
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeSet;

/// Which groups are held out together. A group is never torn apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Folds {
    /// How many folds; each has a group at least.
    pub(crate) count: usize,
    /// The fold of every group, groups by rising code as in [`Products`].
    pub(crate) of_group: Vec<usize>,
    /// The fold of every row.
    pub(crate) of_row: Vec<usize>,
}

impl Folds {
    /// Every group is a fold of its own.
    ///
    /// # Errors
    /// `TooFewGroups` under two groups.
    pub fn each_group(groups: &[usize]) -> Result<Self, StatsError> {
        let count = groups.iter().collect::<BTreeSet<_>>().len();
        Self::new(groups, (0..count).collect(), count)
    }

    /// Groups dealt to `count` folds in a random order, so that folds differ by one group at most.
    ///
    /// # Errors
    /// `TooFewGroups` under two groups; `OutOfRange` unless `2 <= count <= ` the number of groups.
    pub fn of_groups(groups: &[usize], count: usize, seed: u64) -> Result<Self, StatsError> {
        let found = groups.iter().collect::<BTreeSet<_>>().len();
        if found >= 2 && !(2..=found).contains(&count) {
            return Err(StatsError::OutOfRange {
                what: "the number of folds".into(),
                value: count as f64,
                expected: format!("2 to {found}, the number of groups"),
            });
        }
        Self::new(groups, dealt(found, count.max(1), seed, 0), count)
    }

    fn new(groups: &[usize], of_group: Vec<usize>, count: usize) -> Result<Self, StatsError> {
        if of_group.len() < 2 {
            return Err(StatsError::TooFewGroups { found: of_group.len(), needed: 2 });
        }
        let codes: Vec<usize> =
            groups.iter().copied().collect::<BTreeSet<_>>().into_iter().collect();
        // every code of the list is among its distinct codes
        let place = |code: &usize| codes.binary_search(code).unwrap_or(0);
        let of_row = groups.iter().map(|code| of_group[place(code)]).collect();
        Ok(Self { count, of_group, of_row })
    }

    /// How many folds.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The fold of every row, counted from 0.
    pub fn of_rows(&self) -> &[usize] {
        &self.of_row
    }

    /// The rows of a fold and all the others, both in order.
    pub fn split(&self, fold: usize) -> (Vec<usize>, Vec<usize>) {
        (0..self.of_row.len()).partition(|&row| self.of_row[row] == fold)
    }

    /// Refuses folds that were made for other data.
    pub(crate) fn check(&self, products: &Products) -> Result<(), StatsError> {
        require_length("the list of folds", products.groups.len(), self.of_group.len())
    }
}

/// The fold of each of `groups` groups, dealt round in a random order; `replicate` chooses the stream.
pub(super) fn dealt(groups: usize, folds: usize, seed: u64, replicate: u64) -> Vec<usize> {
    let mut of_group = vec![0; groups];
    let order = permutation(&mut stream(seed, replicate), groups);
    for (turn, group) in order.into_iter().enumerate() {
        of_group[group] = turn % folds;
    }
    of_group
}

/// Rows, means and centred cross-products of a set of rows over the columns and, last, the outcome.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Moments {
    pub rows: usize,
    pub mean: DVector<f64>,
    pub within: DMatrix<f64>,
}

impl Moments {
    pub fn none(size: usize) -> Self {
        Self { rows: 0, mean: DVector::zeros(size), within: DMatrix::zeros(size, size) }
    }

    /// Sums of some groups, in the given order.
    pub fn of<'a>(size: usize, groups: impl Iterator<Item = &'a GroupProducts>) -> Self {
        let mut total = Self::none(size);
        groups.for_each(|group| total.add(group.count, &group.mean, &group.within));
        total
    }

    /// Sums of all groups.
    pub fn all(products: &Products) -> Self {
        Self::of(products.names.len() + 1, products.groups.iter())
    }

    /// Joins another set (Chan, Golub & LeVeque 1983, The American Statistician 37, 242-247): `W + W' + (n n' / (n + n')) d d'` with the difference `d` of
    /// the means. Nothing is subtracted, so nothing cancels.
    fn add(&mut self, rows: usize, mean: &DVector<f64>, within: &DMatrix<f64>) {
        if rows == 0 {
            return;
        }
        let share = rows as f64 / (self.rows + rows) as f64;
        let difference = mean - &self.mean;
        self.within += within;
        self.within.ger(self.rows as f64 * share, &difference, &difference, 1.0);
        self.mean.axpy(share, &difference, 1.0);
        self.rows += rows;
    }

    fn join(&mut self, other: &Self) {
        self.add(other.rows, &other.mean, &other.within);
    }

    /// Sum of squared errors of `intercept + x'coefficients` over these rows.
    pub fn squared_error(&self, intercept: f64, coefficients: &[f64]) -> f64 {
        let outcome = coefficients.len();
        let residual =
            DVector::from_fn(
                outcome + 1,
                |place, _| {
                    if place < outcome { -coefficients[place] } else { 1.0 }
                },
            );
        let shift = residual.dot(&self.mean) - intercept;
        let spread = residual.dot(&(&self.within * &residual));
        spread.max(0.0) + self.rows as f64 * shift * shift
    }
}

/// For every fold, what is held out and what is left, in `O(groups p^2)`: sums run from both ends, so no fold is taken out by subtraction.
pub(crate) fn held_out_and_left(
    size: usize,
    groups: &[&GroupProducts],
    of_group: &[usize],
    count: usize,
) -> Vec<(Moments, Moments)> {
    let mut folds = vec![Moments::none(size); count];
    for (group, &fold) in groups.iter().zip(of_group) {
        folds[fold].add(group.count, &group.mean, &group.within);
    }
    let mut left = vec![Moments::none(size); count];
    let mut before = Moments::none(size);
    for (place, fold) in folds.iter().enumerate() {
        left[place].join(&before);
        before.join(fold);
    }
    let mut after = Moments::none(size);
    for (place, fold) in folds.iter().enumerate().rev() {
        left[place].join(&after);
        after.join(fold);
    }
    folds.into_iter().zip(left).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::design::Design;
    use proptest::prelude::*;

    fn products(rows: &[(f64, f64, usize)]) -> Products {
        let x: Vec<f64> = rows.iter().map(|row| row.0).collect();
        let y: Vec<f64> = rows.iter().map(|row| row.1).collect();
        let groups: Vec<usize> = rows.iter().map(|row| row.2).collect();
        let design = Design::builder(x.len()).number("x", &x).build().unwrap();
        Products::new(&design, &y, &groups).unwrap()
    }

    #[test]
    fn folds_never_tear_a_group_and_differ_by_one_group() {
        let groups: Vec<usize> = (0..70).map(|row| 5 * (row % 7)).collect();
        let folds = Folds::of_groups(&groups, 3, 1).unwrap();
        for row in 0..70 {
            assert_eq!(folds.of_row[row], folds.of_row[row % 7]);
        }
        let size = |fold| folds.of_group.iter().filter(|&&other| other == fold).count();
        assert_eq!([size(0), size(1), size(2)].iter().sum::<usize>(), 7);
        assert!((0..3).all(|fold| (2..=3).contains(&size(fold))));
        let (held_out, left) = folds.split(1);
        assert_eq!(held_out.len() + left.len(), 70);
    }

    #[test]
    fn one_group_and_too_many_folds_are_refused() {
        assert!(matches!(Folds::each_group(&[4, 4]), Err(StatsError::TooFewGroups { .. })));
        assert!(matches!(Folds::each_group(&[]), Err(StatsError::TooFewGroups { .. })));
        for count in [0, 1, 3] {
            let fault = Folds::of_groups(&[1, 2], count, 1);
            assert!(matches!(fault, Err(StatsError::OutOfRange { .. })), "{count}");
        }
    }

    proptest! {
        #[test]
        fn what_is_left_is_what_the_other_rows_give(
            rows in prop::collection::vec((-10.0_f64..10.0, -10.0_f64..10.0, 0_usize..4), 8..40),
            shift in -1e6_f64..1e6,
        ) {
            let rows: Vec<_> = rows.into_iter().map(|(x, y, g)| (x + shift, y, g)).collect();
            let whole = products(&rows);
            prop_assume!(whole.groups.len() >= 2);
            let groups: Vec<usize> = rows.iter().map(|row| row.2).collect();
            let folds = Folds::each_group(&groups).unwrap();
            let all: Vec<&GroupProducts> = whole.groups.iter().collect();
            let pairs = held_out_and_left(2, &all, &folds.of_group, folds.count);
            for (fold, (held_out, left)) in pairs.iter().enumerate() {
                let (_, kept) = folds.split(fold);
                let others: Vec<_> = kept.iter().map(|&row| rows[row]).collect();
                let direct = Moments::all(&products(&others));
                prop_assert_eq!(left.rows, kept.len());
                prop_assert_eq!(held_out.rows, rows.len() - kept.len());
                prop_assert!((&left.within - &direct.within).norm() < 1e-6);
                prop_assert!((&left.mean - &direct.mean).norm() < 1e-8);
            }
        }

        #[test]
        fn the_squared_error_from_products_is_that_of_the_rows(
            rows in prop::collection::vec((-10.0_f64..10.0, -10.0_f64..10.0, 0_usize..4), 1..40),
            intercept in -5.0_f64..5.0, slope in -5.0_f64..5.0,
        ) {
            let direct: f64 =
                rows.iter().map(|(x, y, _)| (y - intercept - slope * x).powi(2)).sum();
            let found = Moments::all(&products(&rows)).squared_error(intercept, &[slope]);
            prop_assert!((found - direct).abs() < 1e-9 * (1.0 + direct));
        }
    }
}
