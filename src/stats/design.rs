//! Designs: named columns.

use ndarray::{Array2, ShapeBuilder};

use super::StatsError;
use super::numeric::quantile;

/// A column whose length, after what the earlier columns explain is taken out, falls below this share of its own is
/// a combination of them. The square root of the machine precision would lose columns that NIST's Longley keeps.
const ALIASED_BELOW: f64 = 1e-10;

/// Named columns of equal length.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Design {
    rows: usize,
    names: Vec<String>,
    columns: Vec<Vec<f64>>,
}

impl Design {
    pub fn new(rows: usize) -> Design {
        Design { rows, names: Vec::new(), columns: Vec::new() }
    }

    /// Adds a column at the right.
    ///
    /// # Errors
    /// Where the column has another length or holds a value that is not finite.
    pub fn push(&mut self, name: &str, column: Vec<f64>) -> Result<(), StatsError> {
        if column.len() != self.rows {
            return Err(StatsError::Length { wanted: self.rows, found: column.len() });
        }
        if column.iter().any(|value| !value.is_finite()) {
            return Err(StatsError::NotFinite(name.to_owned()));
        }
        self.names.push(name.to_owned());
        self.columns.push(column);
        Ok(())
    }

    pub fn with_intercept(mut self) -> Design {
        self.names.insert(0, "intercept".to_owned());
        self.columns.insert(0, vec![1.0; self.rows]);
        self
    }

    pub fn rows(&self) -> usize {
        self.rows
    }

    pub fn width(&self) -> usize {
        self.columns.len()
    }

    pub fn names(&self) -> &[String] {
        &self.names
    }

    pub fn columns(&self) -> &[Vec<f64>] {
        &self.columns
    }

    pub fn position(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|known| known == name)
    }

    pub fn column(&self, name: &str) -> Option<&[f64]> {
        self.position(name).map(|at| self.columns[at].as_slice())
    }

    /// The columns as one matrix of rows x columns.
    pub fn matrix(&self) -> Array2<f64> {
        let flat: Vec<f64> = self.columns.concat();
        // push keeps every column at `rows` values, so the shape always fits
        Array2::from_shape_vec((self.rows, self.width()).f(), flat).unwrap_or_default()
    }

    /// The design without the named columns.
    pub fn without(&self, names: &[String]) -> Design {
        let kept = (0..self.width()).filter(|&at| !names.contains(&self.names[at]));
        self.select(kept.collect())
    }

    /// The design without columns that are combinations of earlier ones, and the names of those.
    pub fn independent(&self) -> (Design, Vec<String>) {
        let (orthogonal, _) = orthogonalise(&self.columns);
        let (kept, aliased): (Vec<usize>, Vec<usize>) =
            (0..self.width()).partition(|&at| orthogonal[at].is_some());
        let aliased = aliased.into_iter().map(|at| self.names[at].clone()).collect();
        (self.select(kept), aliased)
    }

    fn select(&self, kept: Vec<usize>) -> Design {
        Design {
            rows: self.rows,
            names: kept.iter().map(|&at| self.names[at].clone()).collect(),
            columns: kept.iter().map(|&at| self.columns[at].clone()).collect(),
        }
    }
}

/// An orthonormal column for each column that is not a combination of earlier ones, and the upper triangle that
/// leads back, row by row (rows of skipped columns are zero).
///
/// Modified Gram-Schmidt, done twice for each column, which keeps orthogonality to machine precision (Giraud, Langou &
/// Rozloznik 2005, Computers & Mathematics with Applications 50, 1069-1075).
pub(super) fn orthogonalise(columns: &[Vec<f64>]) -> (Vec<Option<Vec<f64>>>, Vec<Vec<f64>>) {
    let width = columns.len();
    let mut basis: Vec<Option<Vec<f64>>> = Vec::with_capacity(width);
    let mut triangle = vec![vec![0.0; width]; width];
    for (at, column) in columns.iter().enumerate() {
        let mut left = column.clone();
        let length = norm(&left);
        for _ in 0..2 {
            for (row, direction) in basis.iter().enumerate() {
                let Some(direction) = direction else { continue };
                let along = dot(direction, &left);
                triangle[row][at] += along;
                left.iter_mut().zip(direction).for_each(|(value, unit)| *value -= along * unit);
            }
        }
        let rest = norm(&left);
        if length > 0.0 && rest > ALIASED_BELOW * length {
            triangle[at][at] = rest;
            left.iter_mut().for_each(|value| *value /= rest);
            basis.push(Some(left));
        } else {
            basis.push(None);
        }
    }
    (basis, triangle)
}

/// The sum of products of two columns.
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn norm(values: &[f64]) -> f64 {
    dot(values, values).sqrt()
}

/// The columns of a natural cubic spline with `df` degrees of freedom, without intercept: the values themselves and
/// `df - 1` truncated-power columns that are linear beyond the outer knots (Hastie, Tibshirani & Friedman 2009, The
/// Elements of Statistical Learning, 2nd ed., eq. 5.4-5.5). Knots: the ends and equally spaced quantiles between;
/// values are scaled to 0..1 first.
///
/// # Errors
/// Where values are not finite or do not vary.
pub fn natural_spline(values: &[f64], df: usize) -> Result<Vec<Vec<f64>>, StatsError> {
    if values.iter().any(|value| !value.is_finite()) {
        return Err(StatsError::NotFinite("a spline's argument".to_owned()));
    }
    let (low, high) = (quantile(values, 0.0), quantile(values, 1.0));
    if values.is_empty() || high <= low {
        return Err(StatsError::NoSpread("a spline's argument".to_owned()));
    }
    let scaled: Vec<f64> = values.iter().map(|value| (value - low) / (high - low)).collect();
    let knots: Vec<f64> = (0..=df).map(|at| quantile(&scaled, at as f64 / df as f64)).collect();
    let bent = (0..df.saturating_sub(1))
        .map(|at| scaled.iter().map(|&x| bend(x, &knots, at) - bend(x, &knots, df - 1)).collect());
    Ok(std::iter::once(scaled.clone()).chain(bent).collect())
}

/// One divided difference of truncated cubes.
fn bend(x: f64, knots: &[f64], at: usize) -> f64 {
    let last = knots[knots.len() - 1];
    let cube = |knot: f64| (x - knot).max(0.0).powi(3);
    let apart = last - knots[at];
    if apart > 0.0 { (cube(knots[at]) - cube(last)) / apart } else { 0.0 }
}
