//! How far columns say the same.

use crate::stats::design::Design;
use crate::stats::error::StatsError;
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, sum_of_squares};
use nalgebra::DMatrix;
use ndarray::{Array2, Axis};

/// What is taken from a column before its length is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Centring {
    /// Nothing, as Belsley, Kuh & Welsch advise: collinearity with the intercept counts.
    None,
    /// The mean; the intercept is left out.
    Mean,
}

/// Variance inflation factor of every column but the intercept: `1 / (1 - R_j^2)`, where `R_j^2` is that of the column on all the others and a constant
/// (Belsley, Kuh & Welsch 1980, Regression Diagnostics, section 3.2); in the order of the columns, with their names. Its reciprocal is the share of the
/// column's variance that is left.
///
/// # Errors
/// `RankDeficient` with the columns that are exact combinations; `Empty` without columns.
pub fn variance_inflation(design: &Design) -> Result<Vec<(String, f64)>, StatsError> {
    let (names, centred) = centred_columns(design)?;
    let qr = full_rank(&names, &centred)?;
    let factors = (0..names.len()).map(|column| {
        let mut unit = vec![0.0; names.len()];
        unit[column] = 1.0;
        // (X'X)^-1_jj times the column's own sum of squares
        let inverse = sum_of_squares(&qr.solve_transposed(&unit));
        inverse * sum_of_squares(&centred.column(column).to_vec())
    });
    Ok(names.iter().cloned().zip(factors).collect())
}

/// Share of the variance of some columns that is left after all others and the constant are partialled out, from 0 (tangled) to 1 (apart).
///
/// For one column it is `1 / VIF`. For several it is `(det S_within / det S)^(1/q)`, the `q`-th root of the reciprocal of the generalised variance inflation
/// factor (Fox & Monette 1992, Journal of the American Statistical Association 87, 178-183), which does not depend on the coding of a choice.
///
/// # Errors
/// `UnknownColumn`; `NoVariation` where the named columns do not vary or repeat each other.
pub fn remaining_share(design: &Design, columns: &[&str]) -> Result<f64, StatsError> {
    let mut own = Vec::new();
    for name in columns {
        own.push(design.column(name)?);
    }
    let others: Vec<usize> = (0..design.columns())
        .filter(|column| !own.contains(column) && !is_constant(design, *column))
        .collect();
    let ones = Array2::ones((design.rows(), 1));
    let alone = log_volume(&ones, &design.matrix.select(Axis(1), &own));
    let Some(alone) = alone.filter(|_| !own.is_empty()) else {
        let what = columns.join(", ");
        return Err(StatsError::NoVariation { what });
    };
    let others = design.matrix.select(Axis(1), &others);
    let before = ndarray::concatenate![Axis(1), ones, others];
    let left = log_volume(&before, &design.matrix.select(Axis(1), &own));
    Ok(left.map_or(0.0, |left| (2.0 * (left - alone) / own.len() as f64).exp().min(1.0)))
}

/// Logarithm of the volume that `columns` span once `before` is projected out; `None` where they span none.
fn log_volume(before: &Array2<f64>, columns: &Array2<f64>) -> Option<f64> {
    let qr = PivotedQr::new(before.view(), RANK_TOLERANCE);
    let mut left = Array2::zeros(columns.dim());
    for (place, column) in columns.axis_iter(Axis(1)).enumerate() {
        let values = column.to_vec();
        let mut effects = qr.effects(&values);
        effects.iter_mut().take(qr.rank()).for_each(|e| *e = 0.0);
        let size = sum_of_squares(&effects).sqrt();
        if size <= RANK_TOLERANCE * sum_of_squares(&values).sqrt() {
            return None;
        }
        for (row, value) in effects.into_iter().enumerate() {
            left[(row, place)] = value;
        }
    }
    let own = PivotedQr::new(left.view(), RANK_TOLERANCE);
    (own.rank() == columns.ncols()).then(|| own.log_volume())
}

/// Ratio of the largest to the smallest singular value of the columns brought to unit length (Belsley, Kuh & Welsch 1980, section 3.2); above 30 they call
/// the dependence strong.
///
/// # Errors
/// `Empty` without columns; `NoVariation` for a column of length zero. Columns that depend exactly give infinity or a very large number.
pub fn condition_number(design: &Design, centring: Centring) -> Result<f64, StatsError> {
    let (names, matrix) = match centring {
        Centring::None => (design.names.clone(), design.matrix.clone()),
        Centring::Mean => centred_columns(design)?,
    };
    let mut scaled = DMatrix::zeros(matrix.nrows(), matrix.ncols());
    for (column, values) in matrix.columns().into_iter().enumerate() {
        let size = sum_of_squares(&values.to_vec()).sqrt();
        if size == 0.0 {
            let what = names[column].clone();
            return Err(StatsError::NoVariation { what });
        }
        for (row, value) in values.iter().enumerate() {
            scaled[(row, column)] = value / size;
        }
    }
    let singular = scaled.singular_values();
    Ok(singular.max() / singular.min())
}

fn is_constant(design: &Design, column: usize) -> bool {
    let values = design.matrix.column(column);
    values.iter().all(|value| *value == values[0])
}

/// Every column that is not the intercept, less its mean, with its name.
fn centred_columns(design: &Design) -> Result<(Vec<String>, Array2<f64>), StatsError> {
    let first = usize::from(design.has_intercept());
    let columns: Vec<usize> = (first..design.columns()).collect();
    let chosen = design.select(&columns);
    let Some(means) = chosen.matrix.mean_axis(Axis(0)).filter(|m| !m.is_empty()) else {
        let what = "the design without its intercept".into();
        return Err(StatsError::Empty { what });
    };
    Ok((chosen.names, chosen.matrix - &means))
}

fn full_rank(names: &[String], matrix: &Array2<f64>) -> Result<PivotedQr, StatsError> {
    let qr = PivotedQr::new(matrix.view(), RANK_TOLERANCE);
    let dependent = qr.set_aside();
    if dependent.is_empty() {
        return Ok(qr);
    }
    let columns = dependent.iter().map(|&column| names[column].clone());
    Err(StatsError::RankDeficient { columns: columns.collect() })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(x: &[f64], z: &[f64]) -> Design {
        let builder = Design::builder(x.len()).intercept();
        builder.number("x", x).number("z", z).build().unwrap()
    }

    #[test]
    fn columns_at_right_angles_are_wholly_apart() {
        let design = pair(&[1.0, -1.0, 1.0, -1.0], &[1.0, 1.0, -1.0, -1.0]);
        assert!((remaining_share(&design, &["x"]).unwrap() - 1.0).abs() < 1e-12);
        assert!((variance_inflation(&design).unwrap()[0].1 - 1.0).abs() < 1e-12);
        assert!((condition_number(&design, Centring::Mean).unwrap() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn the_share_of_one_column_is_the_reciprocal_of_its_inflation() {
        let design = pair(&[1.0, 2.0, 3.0, 4.0, 9.0], &[1.0, 2.5, 3.0, 3.0, 8.0]);
        let factor = variance_inflation(&design).unwrap()[1].1;
        assert!((remaining_share(&design, &["z"]).unwrap() - 1.0 / factor).abs() < 1e-12);
    }

    #[test]
    fn columns_that_say_the_same_leave_nothing() {
        let design = pair(&[1.0, 2.0, 3.0, 5.0], &[2.0, 4.0, 6.0, 10.0]);
        assert_eq!(remaining_share(&design, &["x"]).unwrap(), 0.0);
        assert!(matches!(variance_inflation(&design), Err(StatsError::RankDeficient { .. })));
    }

    #[test]
    fn the_share_of_a_choice_does_not_depend_on_its_reference() {
        let levels: Vec<String> = ["a", "b", "c", "a", "b", "c", "a"].map(Into::into).into();
        let x = [1.0, 2.0, 2.5, 0.5, 3.0, 2.0, 1.1];
        let share = |reference: &str, names: [&str; 2]| {
            let builder = Design::builder(7).intercept().number("x", &x);
            let design = builder.choice("k", &levels, Some(reference)).build().unwrap();
            remaining_share(&design, &names).unwrap()
        };
        let first = share("a", ["k: b", "k: c"]);
        let second = share("b", ["k: a", "k: c"]);
        assert!((first - second).abs() < 1e-12 && first < 1.0);
    }

    #[test]
    fn a_column_that_does_not_vary_is_refused() {
        let design = pair(&[1.0, 2.0, 3.0], &[4.0, 4.0, 4.0]);
        assert!(matches!(remaining_share(&design, &["z"]), Err(StatsError::NoVariation { .. })));
    }
}
