//! Least squares again and again from the cross-products of the groups.
//!
//! Once the groups are summed ([`Products`]) a fit costs `groups p^2 + p^3`, however many rows there were: the fit itself, its CR2 errors, fits without one
//! group, and fits to groups drawn with replacement.
//!
//! **What it costs in digits.** The columns are centred (beside an intercept) and brought to unit spread before their products are factored, so units and
//! origins cost nothing; but products square what collinearity is left. A coefficient loses about as many digits as its variance inflation factor has, where
//! the row-wise fit loses half as many: an inflation of 10^4 leaves some 11 digits. Beyond 10^10 it is refused. Sums of squared errors lose the digits of
//! `1 / (1 - R^2)` besides.

mod bootstrap;
mod leave_out;
mod product_fit;
use crate::whole;

#[cfg(test)]
mod tests;

pub use bootstrap::LotBootstrap;
pub use leave_out::{LeftOut, Prediction};
pub use product_fit::ProductFit;

use crate::stats::design::INTERCEPT;
use crate::stats::error::StatsError;
use crate::stats::products::{GroupProducts, Products};
use nalgebra::DVector;

/// A column of which less than this share is left beside the columns before it counts as a combination of them.
const LEAST_PIVOT: f64 = 1e-10;
/// A spread under this share of the mean is rounding.
const LEAST_SPREAD: f64 = 1e-13;

/// The groups' products about common centres and in common units, ready to be added up.
#[derive(Debug, Clone)]
pub struct Refit {
    names: Vec<String>,
    intercept: bool,
    /// What was taken from every column and, last, the outcome, in their units; 0 without an intercept and for it.
    centres: Vec<f64>,
    /// What they were then divided by; 1 for the intercept.
    scales: Vec<f64>,
    groups: Vec<Group>,
}

/// One group, in rows `z` of the standardised columns and, last, the outcome.
#[derive(Debug, Clone)]
struct Group {
    code: usize,
    rows: usize,
    /// `sum z`.
    sums: Vec<f64>,
    /// The lower half of `sum z z'`, row by row.
    products: Vec<f64>,
}

/// A factored sum of products, in standardised units.
#[derive(Debug, Clone)]
struct Solution {
    /// Lower Cholesky factor of the columns' products, row by row.
    factor: Vec<f64>,
    coefficients: Vec<f64>,
    /// What is left of the outcome, in standardised squares.
    left: f64,
}

/// Where row `i` of a packed lower half starts.
fn row_start(i: usize) -> usize {
    i * (i + 1) / 2
}

impl Refit {
    /// Standardises the products of the groups.
    ///
    /// # Errors
    /// `Empty` without groups; `RankDeficient` naming the columns that are 0 throughout or, beside an intercept, constant.
    pub fn new(products: &Products) -> Result<Self, StatsError> {
        if products.groups.is_empty() {
            return Err(StatsError::Empty { what: "the list of groups".into() });
        }
        let intercept = has_intercept(products);
        let size = products.names.len() + 1;
        let mut centres = vec![0.0; size];
        if intercept {
            let means = products.grand_mean();
            centres[1..].copy_from_slice(&means.as_slice()[1..]);
        }
        let scales = scales(products, &centres, intercept)?;
        let groups = products.groups.iter().map(|group| Group::new(group, &centres, &scales));
        let groups = groups.collect();
        Ok(Self { names: products.names.clone(), intercept, centres, scales, groups })
    }

    /// Least squares on all groups.
    ///
    /// # Errors
    /// `TooFewRows` unless `n > p`; `RankDeficient` naming the first column that is a combination of those before it.
    pub fn fit(&self) -> Result<ProductFit<'_>, StatsError> {
        self.counted(&vec![1.0; self.groups.len()])
    }

    /// Least squares with every group counted so many times, a whole number; 0 leaves it out.
    fn counted(&self, counts: &[f64]) -> Result<ProductFit<'_>, StatsError> {
        let pairs = self.groups.iter().zip(counts);
        let rows = pairs.map(|(group, &count)| group.rows * whole::part(count)).sum();
        let columns = self.names.len();
        if rows <= columns {
            return Err(StatsError::TooFewRows { rows, columns });
        }
        let solution = Solution::new(self.total(counts), columns);
        let solution = solution.map_err(|column| {
            let columns = vec![self.names[column].clone()];
            StatsError::RankDeficient { columns }
        })?;
        Ok(ProductFit::new(self, solution, rows))
    }

    /// Whether the first column is the intercept.
    pub(crate) fn has_intercept(&self) -> bool {
        self.intercept
    }

    /// The products of all groups, each counted so many times, in the order of the groups.
    fn total(&self, counts: &[f64]) -> Vec<f64> {
        let mut total = vec![0.0; row_start(self.names.len() + 1)];
        for (group, &count) in self.groups.iter().zip(counts).filter(|(_, count)| **count != 0.0) {
            total.iter_mut().zip(&group.products).for_each(|(sum, value)| *sum += count * value);
        }
        total
    }

    /// What the outcome was divided by.
    fn outcome_scale(&self) -> f64 {
        // the outcome stands behind the columns
        self.scales[self.names.len()]
    }

    /// Standardised coefficients in the units of the columns and about the origin.
    fn in_units(&self, standard: &[f64]) -> Vec<f64> {
        let unit = self.outcome_scale();
        let pairs = standard.iter().zip(&self.scales);
        let mut coefficients: Vec<f64> = pairs.map(|(value, scale)| value * unit / scale).collect();
        if self.intercept {
            let pairs = coefficients.iter().zip(&self.centres).skip(1);
            let moved: f64 = pairs.map(|(slope, centre)| slope * centre).sum();
            coefficients[0] += self.centres[self.names.len()] - moved;
        }
        coefficients
    }
}

/// Whether the first column is called the intercept and is 1 in every row.
fn has_intercept(products: &Products) -> bool {
    products.names.first().is_some_and(|name| name == INTERCEPT)
        && products.groups.iter().all(|group| group.mean[0] == 1.0 && group.within[(0, 0)] == 0.0)
}

/// Root mean square of every column and the outcome about the centres; 1 for the intercept and for an outcome that does not vary.
fn scales(products: &Products, centres: &[f64], intercept: bool) -> Result<Vec<f64>, StatsError> {
    let rows = products.rows() as f64;
    let spread = |place: usize| {
        let squares = products.groups.iter().map(|group| {
            let away = group.mean[place] - centres[place];
            group.within[(place, place)] + group.count as f64 * away * away
        });
        let spread = (squares.sum::<f64>() / rows).sqrt();
        if spread > LEAST_SPREAD * centres[place].abs() { spread } else { 0.0 }
    };
    let mut scales: Vec<f64> = (0..centres.len()).map(spread).collect();
    if intercept {
        scales[0] = 1.0;
    }
    let flat = products.names.iter().zip(&scales).filter(|(_, scale)| **scale == 0.0);
    let columns: Vec<String> = flat.map(|(name, _)| name.clone()).collect();
    if !columns.is_empty() {
        return Err(StatsError::RankDeficient { columns });
    }
    let outcome = &mut scales[products.names.len()];
    *outcome = if *outcome > 0.0 { *outcome } else { 1.0 };
    Ok(scales)
}

impl Group {
    fn new(group: &GroupProducts, centres: &[f64], scales: &[f64]) -> Self {
        let size = centres.len();
        let rows = group.count as f64;
        let away = DVector::from_fn(size, |i, _| (group.mean[i] - centres[i]) / scales[i]);
        let mut products = Vec::with_capacity(row_start(size));
        for i in 0..size {
            for j in 0..=i {
                let within = group.within[(i, j)] / scales[i] / scales[j];
                products.push(within + rows * away[i] * away[j]);
            }
        }
        let sums = away.iter().map(|value| value * rows).collect();
        Self { code: group.code, rows: group.count, sums, products }
    }

    /// An entry of `sum z z'`.
    fn product(&self, i: usize, j: usize) -> f64 {
        self.products[row_start(i.max(j)) + i.min(j)]
    }
}

impl Solution {
    /// Factors products (Cholesky); fails with the column that is a combination of those before it.
    fn new(mut products: Vec<f64>, columns: usize) -> Result<Self, usize> {
        for i in 0..=columns {
            let (above, from) = products.split_at_mut(row_start(i));
            let own = &mut from[..=i];
            let whole = own[i];
            for j in 0..i {
                let other = &above[row_start(j)..row_start(j + 1)];
                let known: f64 = other[..j].iter().zip(&own[..j]).map(|(a, b)| a * b).sum();
                own[j] = (own[j] - known) / other[j];
            }
            let left = whole - own[..i].iter().map(|value| value * value).sum::<f64>();
            if i == columns {
                own[i] = left.max(0.0);
            } else if left > LEAST_PIVOT * whole {
                own[i] = left.sqrt();
            } else {
                return Err(i);
            }
        }
        // the last row is that of the outcome: its effects and, in the corner, what is left of it
        let effects = products.split_off(row_start(columns));
        let coefficients = back_substitute(&products, &effects[..columns]);
        Ok(Self { left: effects[columns], coefficients, factor: products })
    }

    /// Solves `L d = c`.
    fn forward(&self, mut right: Vec<f64>) -> Vec<f64> {
        for i in 0..right.len() {
            let row = &self.factor[row_start(i)..row_start(i + 1)];
            let known: f64 = row[..i].iter().zip(&right[..i]).map(|(a, b)| a * b).sum();
            right[i] = (right[i] - known) / row[i];
        }
        right
    }
}

/// Solves `L' b = z` for a packed lower factor.
fn back_substitute(factor: &[f64], effects: &[f64]) -> Vec<f64> {
    let mut solution = effects.to_vec();
    for i in (0..solution.len()).rev() {
        let row = &factor[row_start(i)..row_start(i + 1)];
        solution[i] /= row[i];
        let value = solution[i];
        solution[..i].iter_mut().zip(row).for_each(|(above, entry)| *above -= value * entry);
    }
    solution
}
