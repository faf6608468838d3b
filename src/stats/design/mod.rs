//! A design matrix whose columns have names.

mod builder;
mod spline;

pub use builder::{DesignBuilder, annual_harmonic, commonest_level, group_means};
pub use spline::NaturalSpline;

use crate::stats::error::{StatsError, require_length};
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE};
use ndarray::{Array2, Axis};

/// The name of the column of ones.
pub const INTERCEPT: &str = "intercept";

/// A model matrix: `n` rows, one named column per coefficient.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// One name per column; all different.
    pub names: Vec<String>,
    /// `n x p`, every value finite.
    pub matrix: Array2<f64>,
}

/// A column that was left out because others say the same.
#[derive(Debug, Clone, PartialEq)]
pub struct AliasedColumn {
    /// The column left out.
    pub name: String,
    /// The columns it is an exact combination of; empty for a column of zeros.
    pub explained_by: Vec<String>,
}

impl Design {
    /// Takes a matrix as it is.
    ///
    /// # Errors
    /// `LengthMismatch` of names and columns, `DuplicateColumn`, `Empty`, `NotFinite`.
    pub fn new(names: Vec<String>, matrix: Array2<f64>) -> Result<Self, StatsError> {
        require_length("the list of column names", matrix.ncols(), names.len())?;
        if matrix.is_empty() {
            return Err(StatsError::Empty { what: "the design".into() });
        }
        for (place, name) in names.iter().enumerate() {
            if names[..place].contains(name) {
                return Err(StatsError::DuplicateColumn { name: name.clone() });
            }
        }
        for ((row, column), &value) in matrix.indexed_iter() {
            if !value.is_finite() {
                let what = names[column].clone();
                return Err(StatsError::NotFinite { what, row, value });
            }
        }
        Ok(Self { names, matrix })
    }

    /// Starts a design of so many rows.
    pub fn builder(rows: usize) -> DesignBuilder {
        DesignBuilder::new(rows)
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.matrix.nrows()
    }

    /// Number of columns.
    pub fn columns(&self) -> usize {
        self.matrix.ncols()
    }

    /// Whether the first column is the column of ones.
    pub fn has_intercept(&self) -> bool {
        self.names.first().is_some_and(|name| name == INTERCEPT)
            && self.matrix.column(0).iter().all(|&value| value == 1.0)
    }

    /// The place of a column.
    ///
    /// # Errors
    /// `UnknownColumn`.
    pub fn column(&self, name: &str) -> Result<usize, StatsError> {
        let place = self.names.iter().position(|other| other == name);
        place.ok_or_else(|| StatsError::UnknownColumn { name: name.into() })
    }

    /// Mean of every column: the row of an average case.
    pub fn column_means(&self) -> Vec<f64> {
        let means = self.matrix.mean_axis(Axis(0));
        // a design has at least one row
        means.map_or_else(Vec::new, |means| means.to_vec())
    }

    /// The design with some columns, in the given order.
    pub fn select(&self, columns: &[usize]) -> Self {
        Self {
            names: columns.iter().map(|&c| self.names[c].clone()).collect(),
            matrix: self.matrix.select(Axis(1), columns),
        }
    }

    /// Leaves out every column that the columns before it explain exactly (to [`RANK_TOLERANCE`]) and says which columns explain it.
    pub fn without_aliases(&self) -> (Self, Vec<AliasedColumn>) {
        let qr = PivotedQr::new(self.matrix.view(), RANK_TOLERANCE);
        let aliased = qr.set_aside().into_iter().map(|column| AliasedColumn {
            name: self.names[column].clone(),
            explained_by: self.explanation(&qr, column),
        });
        let aliased = aliased.collect();
        (self.select(qr.kept()), aliased)
    }

    /// Names of the kept columns with a share in a column set aside; a share below a millionth of the column's size is rounding.
    fn explanation(&self, qr: &PivotedQr, column: usize) -> Vec<String> {
        let size = |column: usize| {
            let values = self.matrix.column(column);
            values.iter().fold(0.0_f64, |most, v| most.max(v.abs()))
        };
        let floor = 1e-6 * size(column);
        let shares = qr.combination(column).unwrap_or_default();
        let pairs = qr.kept().iter().zip(shares);
        pairs
            .filter(|&(&kept, share)| (share * size(kept)).abs() > floor)
            .map(|(&kept, _)| self.names[kept].clone())
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    #[test]
    fn aliased_columns_are_named_with_their_explanation() {
        let design = Design::builder(4)
            .intercept()
            .number("days", &[1.0, 2.0, 3.0, 5.0])
            .number("weeks", &[1.0 / 7.0, 2.0 / 7.0, 3.0 / 7.0, 5.0 / 7.0])
            .number("constant", &[4.0; 4])
            .number("nothing", &[0.0; 4])
            .build()
            .unwrap();
        let (kept, aliased) = design.without_aliases();
        assert_eq!(kept.names, ["intercept", "days"]);
        assert_eq!(aliased[0].name, "weeks");
        assert_eq!(aliased[0].explained_by, ["days"]);
        assert_eq!(aliased[1].explained_by, ["intercept"]);
        assert!(aliased[2].explained_by.is_empty());
    }

    #[test]
    fn a_design_refuses_what_is_no_number() {
        let bad = Design::new(vec!["a".into()], array![[1.0], [f64::NAN]]);
        assert!(matches!(bad, Err(StatsError::NotFinite { row: 1, .. })));
        let twice = Design::new(vec!["a".into(), "a".into()], array![[1.0, 2.0]]);
        assert!(matches!(twice, Err(StatsError::DuplicateColumn { .. })));
    }
}
