//! Least squares in twice the precision, for columns that all but repeat each other.

use super::double_double::DoubleDouble;
use super::fit::Parts;
use super::triangle::{ExtendedTriangle, Triangle};
use crate::stats::design::Design;
use crate::stats::numeric::sum_of_squares;
use nalgebra::DMatrix;
use rayon::prelude::*;

type Column = Vec<DoubleDouble>;

/// Modified Gram-Schmidt on the columns and the outcome (Bjoerck 1967, BIT 7, 1-21) in double-double arithmetic, which leaves the digits of a double to
/// columns with a condition number up to about 1e14. The columns must be independent. About thirty times the work of the plain factorisation.
pub(super) fn extended_parts(design: &Design, outcome: &[f64]) -> Parts {
    let each = (0..design.columns()).map(|c| scaled(design.matrix.column(c).iter().copied()));
    let (mut columns, scales): (Vec<Column>, Vec<f64>) = each.unzip();
    let (left, unit) = scaled(outcome.iter().copied());
    columns.push(left);
    let mut triangle = vec![Column::new(); columns.len()];
    let skipped = usize::from(design.has_intercept());
    let mut total = length_squared(&columns[design.columns()]);
    for step in 0..design.columns() {
        let (head, tail) = columns.split_at_mut(step + 1);
        // step is the last of the step + 1 columns of the head
        let diagonal = normalise(&mut head[step]);
        triangle[step].push(diagonal);
        let shares: Column =
            tail.par_iter_mut().map(|column| project_out(&head[step], column)).collect();
        for (entries, share) in triangle[step + 1..].iter_mut().zip(shares) {
            entries.push(share);
        }
        if step + 1 == skipped {
            total = length_squared(&columns[design.columns()]);
        }
    }
    // the outcome was pushed as the last column of both
    let effects = triangle.pop().unwrap_or_default();
    let residuals: Vec<f64> =
        columns.pop().unwrap_or_default().iter().map(|value| value.to_f64() * unit).collect();
    let triangle = ExtendedTriangle { columns: triangle, scales };
    let explained: Vec<f64> = effects[skipped..].iter().map(|e| e.to_f64() * unit).collect();
    Parts {
        coefficients: triangle.solve(&effects).into_iter().map(|value| value * unit).collect(),
        residual_sum_of_squares: sum_of_squares(&residuals),
        total_sum_of_squares: total.to_f64() * unit * unit,
        regression_sum_of_squares: sum_of_squares(&explained),
        residuals,
        q: DMatrix::from_fn(outcome.len(), columns.len(), |i, j| columns[j][i].to_f64()),
        triangle: Triangle::Extended(triangle),
    }
}

/// The values divided by a power of two near the largest, which loses no digit, and that power.
fn scaled(values: impl Iterator<Item = f64> + Clone) -> (Column, f64) {
    let largest = values.clone().fold(0.0_f64, |most, value| most.max(value.abs()));
    let exponent = if largest > 0.0 { largest.log2().round().clamp(-1000.0, 1000.0) } else { 0.0 };
    let scale = exponent.exp2();
    (values.map(|value| DoubleDouble::from(value / scale)).collect(), scale)
}

fn dot(left: &[DoubleDouble], right: &[DoubleDouble]) -> DoubleDouble {
    left.iter().zip(right).fold(DoubleDouble::ZERO, |total, (&a, &b)| total + a * b)
}

fn length_squared(column: &[DoubleDouble]) -> DoubleDouble {
    dot(column, column)
}

/// Brings a column to unit length and returns what its length was.
fn normalise(column: &mut [DoubleDouble]) -> DoubleDouble {
    let length = length_squared(column).sqrt();
    let reciprocal = DoubleDouble::from(1.0) / length;
    column.iter_mut().for_each(|value| *value = *value * reciprocal);
    length
}

/// Takes the share along a unit vector out of a column and returns it.
fn project_out(unit: &[DoubleDouble], column: &mut [DoubleDouble]) -> DoubleDouble {
    let share = dot(unit, column);
    for (value, &along) in column.iter_mut().zip(unit) {
        *value = *value - share * along;
    }
    share
}

#[cfg(test)]
mod tests {
    use super::super::least_squares;
    use super::*;

    #[test]
    fn an_exact_fit_of_all_but_dependent_columns_is_seen_to_be_exact() {
        // whole numbers up to 2^50, so the outcome is held exactly: any error is of the arithmetic and not of the data
        let x: Vec<f64> = (1..=12).map(f64::from).collect();
        let mut builder = Design::builder(12).intercept();
        for power in 1..=8 {
            let values: Vec<f64> = x.iter().map(|value| value.powi(power)).collect();
            builder = builder.number(&format!("x^{power}"), &values);
        }
        let design = builder.build().unwrap();
        let outcome: Vec<f64> = design.matrix.rows().into_iter().map(|row| row.sum()).collect();
        let parts = extended_parts(&design, &outcome);
        assert!(parts.coefficients.iter().all(|value| (value - 1.0).abs() < 1e-13));
        assert!(parts.residual_sum_of_squares.sqrt() < 1e-15 * outcome[11]);
    }

    #[test]
    fn both_roads_agree_where_the_columns_are_apart() {
        let x: Vec<f64> = (0..30).map(|row| f64::from(row * row % 11)).collect();
        let y: Vec<f64> = (0..30).map(|row| f64::from(row * 7 % 13) - 3.0).collect();
        let design = Design::builder(30).intercept().number("x", &x).build().unwrap();
        let plain = least_squares(&design, &y).unwrap();
        let parts = extended_parts(&design, &y);
        for (a, b) in plain.coefficients.iter().zip(&parts.coefficients) {
            assert!((a - b).abs() < 1e-13);
        }
        assert!((plain.total_sum_of_squares - parts.total_sum_of_squares).abs() < 1e-11);
        assert!((plain.residual_sum_of_squares - parts.residual_sum_of_squares).abs() < 1e-11);
        let same = (&parts.q.transpose() * &parts.q - DMatrix::identity(2, 2)).norm();
        assert!(same < 1e-15, "{same}");
    }

    #[test]
    fn very_large_and_very_small_units_are_no_trouble() {
        let x: Vec<f64> = (0..9).map(|row| 1e-140 * f64::from(row * row)).collect();
        let y: Vec<f64> = (0..9).map(|row| 1e120 * (2.0 + f64::from(row * row))).collect();
        let design = Design::builder(9).intercept().number("x", &x).build().unwrap();
        let parts = extended_parts(&design, &y);
        assert!((parts.coefficients[0] / 2e120 - 1.0).abs() < 1e-14);
        assert!((parts.coefficients[1] / 1e260 - 1.0).abs() < 1e-14);
    }
}
