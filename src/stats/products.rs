//! One pass over the rows: each group's cross-products, from which the models of the linear family are fitted.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::StatsError;
use super::design::Design;

/// The cross-products of one group's rows.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupProducts {
    pub group: u32,
    pub n: usize,
    /// X'X, p x p.
    pub xx: DMatrix<f64>,
    /// X'y, p.
    pub xy: DVector<f64>,
    /// y'y.
    pub yy: f64,
    /// X'1, p.
    pub x_sum: DVector<f64>,
    /// 1'y.
    pub y_sum: f64,
}

/// The cross-products of every group, sorted by group.
///
/// Groups are summed in parallel and each in the order of its rows, so the numbers are the same on any number of
/// threads.
///
/// # Errors
/// Where there is not one group code and one outcome a row, or a value is not finite.
pub fn group_products(
    design: &Design,
    y: &[f64],
    groups: &[u32],
) -> Result<Vec<GroupProducts>, StatsError> {
    for length in [y.len(), groups.len()] {
        if length != design.rows() {
            return Err(StatsError::Length { wanted: design.rows(), found: length });
        }
    }
    if y.iter().any(|value| !value.is_finite()) {
        return Err(StatsError::NotFinite("the outcome".to_owned()));
    }
    let mut rows: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (row, group) in groups.iter().enumerate() {
        rows.entry(*group).or_default().push(row);
    }
    let rows: Vec<(u32, Vec<usize>)> = rows.into_iter().collect();
    Ok(rows.par_iter().map(|(group, rows)| one_group(design, y, *group, rows)).collect())
}

fn one_group(design: &Design, y: &[f64], group: u32, rows: &[usize]) -> GroupProducts {
    let width = design.width();
    let mut products = GroupProducts {
        group,
        n: rows.len(),
        xx: DMatrix::zeros(width, width),
        xy: DVector::zeros(width),
        yy: 0.0,
        x_sum: DVector::zeros(width),
        y_sum: 0.0,
    };
    let mut x = DVector::zeros(width);
    for &row in rows {
        x.iter_mut().zip(design.columns()).for_each(|(slot, column)| *slot = column[row]);
        products.xx.ger(1.0, &x, &x, 1.0);
        products.xy.axpy(y[row], &x, 1.0);
        products.x_sum += &x;
        products.yy += y[row] * y[row];
        products.y_sum += y[row];
    }
    products
}
