//! Many columns in few: principal components.

use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::{mean, standard_deviation, sum_of_squares};
use linfa::Dataset;
use linfa::traits::Fit;
use linfa_reduction::Pca;
use nalgebra::DMatrix;
use ndarray::{Array1, Array2};

/// What is done to the columns first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scaling {
    /// Centred only: columns of one unit, such as points of a curve.
    Centre,
    /// Centred and brought to standard deviation 1: columns of different units.
    Standardise,
}

/// Principal components (Pearson 1901; Hotelling 1933), the widest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Components {
    /// Names of the columns.
    pub names: Vec<String>,
    /// What was taken from each column, in its unit.
    pub centres: Vec<f64>,
    /// What each column was divided by, in its unit; 1 where it was not.
    pub scales: Vec<f64>,
    /// `k x p`, rows of unit length at right angles; the largest entry of each row is positive.
    pub loadings: Array2<f64>,
    /// Standard deviation of each component (divisor `n - 1`).
    pub standard_deviations: Vec<f64>,
    /// Share of the total variance of all columns, kept or not; sums to 1 only when all components are kept.
    pub shares: Vec<f64>,
    /// `n x k`: the rows seen from the components.
    pub scores: Array2<f64>,
}

/// The first `kept` principal components of an `n x p` matrix, through linfa-reduction.
///
/// linfa finds the subspace by an iteration; within it the axes are then turned exactly (Rayleigh & Ritz), and the shares are taken of the total variance,
/// where linfa's own are of the kept part. The iteration can stop far short of the widest subspace without a word (6 of 10 columns with one wide direction: 78 % of
/// the variance where the first component holds 95 %), so what it holds is compared with the eigenvalues of the cross-products, and where it holds less their
/// eigenvectors are taken instead.
///
/// # Errors
/// `LengthMismatch` of names and columns; `TooFewRows` under two rows; `NotFinite`; `NoVariation` naming a constant column that should be standardised or where
/// no column varies; `OutOfRange` unless `1 <= kept <= min(n - 1, p)`; `Backend`.
pub fn principal_components(
    names: &[String],
    matrix: &Array2<f64>,
    kept: usize,
    scaling: Scaling,
) -> Result<Components, StatsError> {
    let (rows, columns) = matrix.dim();
    require_length("the list of column names", columns, names.len())?;
    if rows < 2 {
        return Err(StatsError::TooFewRows { rows, columns: 1 });
    }
    let most = columns.min(rows - 1);
    if kept == 0 || kept > most {
        return Err(StatsError::OutOfRange {
            what: "the number of components".into(),
            value: kept as f64,
            expected: format!("1 to {most}"),
        });
    }
    let standard = standardised(names, matrix, scaling)?;
    let total = sum_of_squares(&standard.values.iter().copied().collect::<Vec<_>>());
    if total == 0.0 {
        let what = "the matrix".into();
        return Err(StatsError::NoVariation { what });
    }
    let widest = Widest::of(&standard.values, kept);
    let by_linfa = widest.is_sound.then(|| {
        linfa_axes(&standard.values, kept).and_then(|axes| turned(axes, &standard.values))
    });
    let (loadings, scores) = match by_linfa {
        Some(Ok(found)) if widest.is_held_by(&found.1) => found,
        _ => turned(widest.axes, &standard.values)?,
    };
    let squares: Vec<f64> = scores.columns().into_iter().map(|c| c.dot(&c)).collect();
    Ok(Components {
        names: names.to_vec(),
        centres: standard.centres,
        scales: standard.scales,
        loadings,
        standard_deviations: squares.iter().map(|s| (s / (rows as f64 - 1.0)).sqrt()).collect(),
        shares: squares.iter().map(|square| square / total).collect(),
        scores,
    })
}

impl Components {
    /// The scores of a new row.
    ///
    /// # Errors
    /// `LengthMismatch`.
    pub fn score(&self, row: &[f64]) -> Result<Vec<f64>, StatsError> {
        require_length("the row", self.names.len(), row.len())?;
        let places = row.iter().zip(&self.centres).zip(&self.scales);
        let standard: Array1<f64> =
            places.map(|((x, centre), scale)| (x - centre) / scale).collect();
        Ok(self.loadings.dot(&standard).to_vec())
    }
}

/// Columns centred and, if asked, scaled.
struct Standardised {
    values: Array2<f64>,
    centres: Vec<f64>,
    scales: Vec<f64>,
}

fn standardised(
    names: &[String],
    matrix: &Array2<f64>,
    scaling: Scaling,
) -> Result<Standardised, StatsError> {
    let mut values = matrix.clone();
    let (mut centres, mut scales) = (Vec::new(), Vec::new());
    for (mut column, name) in values.columns_mut().into_iter().zip(names) {
        let own = column.to_vec();
        require_finite(name, &own)?;
        let centre = mean(&own)?;
        let scale = match scaling {
            Scaling::Centre => 1.0,
            Scaling::Standardise => standard_deviation(&own)?,
        };
        if scale == 0.0 {
            let what = name.clone();
            return Err(StatsError::NoVariation { what });
        }
        column.mapv_inplace(|value| (value - centre) / scale);
        centres.push(centre);
        scales.push(scale);
    }
    Ok(Standardised { values, centres, scales })
}

/// The widest subspace by the eigenvectors of the cross-products.
struct Widest {
    /// One axis a row.
    axes: Array2<f64>,
    /// Sum of the squares along all of them.
    square: f64,
    /// Whether there is enough along the last of them: on a matrix of lower rank the steps of the other solver divide by nothing and end in a panic.
    is_sound: bool,
}

/// Less along the last axis, as a share of what lies along the first, is rounding.
const LEAST_ALONG_LAST: f64 = 1e-10;
/// Squares beyond these are not told apart from nothing, or from too much, by the steps of the other solver.
const SOUND_SQUARES: std::ops::Range<f64> = 1e-100..1e100;

/// A subspace that lacks a larger share of the squares than this is not the widest.
const SHORT: f64 = 1e-12;

impl Widest {
    fn of(standard: &Array2<f64>, kept: usize) -> Self {
        let cross = standard.t().dot(standard);
        let columns = cross.ncols();
        let eigen = DMatrix::from_fn(columns, columns, |i, j| cross[(i, j)]).symmetric_eigen();
        let mut order: Vec<usize> = (0..columns).collect();
        order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
        let axes =
            Array2::from_shape_fn((kept, columns), |(i, j)| eigen.eigenvectors[(j, order[i])]);
        let along: Vec<f64> = order.iter().take(kept).map(|&at| eigen.eigenvalues[at]).collect();
        let (first, last) = (along[0], along[kept - 1]); // one axis at least is kept
        let is_sound = SOUND_SQUARES.contains(&first) && last >= LEAST_ALONG_LAST * first;
        Self { axes, square: along.iter().sum(), is_sound }
    }

    fn is_held_by(&self, scores: &Array2<f64>) -> bool {
        let held: f64 = scores.iter().map(|score| score * score).sum();
        held >= (1.0 - SHORT) * self.square
    }
}

/// Axes of the widest subspace, one a row, as linfa finds them.
fn linfa_axes(standard: &Array2<f64>, kept: usize) -> Result<Array2<f64>, StatsError> {
    let dataset = Dataset::from(standard.clone());
    let refused = |fault: linfa_reduction::ReductionError| StatsError::Backend {
        what: "linfa-reduction".into(),
        message: fault.to_string(),
    };
    let model = Pca::params(kept).fit(&dataset).map_err(refused)?;
    Ok(model.components().clone())
}

/// Axes turned within their subspace to the principal ones, signs set, and the scores on them.
fn turned(
    axes: Array2<f64>,
    standard: &Array2<f64>,
) -> Result<(Array2<f64>, Array2<f64>), StatsError> {
    let (kept, columns) = axes.dim();
    let basis = DMatrix::from_fn(columns, kept, |i, j| axes[(j, i)]).qr().q();
    let rows = standard.nrows();
    let data = DMatrix::from_fn(rows, columns, |i, j| standard[(i, j)]);
    let decomposition = (&data * &basis).svd(false, true);
    let Some(rotation) = decomposition.v_t else {
        let what = "the principal components".into();
        return Err(StatsError::NotConverged { what });
    };
    let mut loadings = rotation * basis.transpose();
    for mut row in loadings.row_iter_mut() {
        let largest =
            row.iter().fold(0.0_f64, |most, &v| if v.abs() > most.abs() { v } else { most });
        if largest < 0.0 {
            row.neg_mut();
        }
    }
    let scores = data * loadings.transpose();
    Ok((
        Array2::from_shape_fn((kept, columns), |(i, j)| loadings[(i, j)]),
        Array2::from_shape_fn((rows, kept), |(i, j)| scores[(i, j)]),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;
    use rand::RngExt;

    fn names(count: usize) -> Vec<String> {
        (0..count).map(|place| format!("c{place}")).collect()
    }

    fn noise(rows: usize, columns: usize) -> Array2<f64> {
        let mut generator = stream(3, 0);
        Array2::from_shape_fn((rows, columns), |(_, j)| {
            (j as f64 + 1.0) * (generator.random::<f64>() - 0.5)
        })
    }

    #[test]
    fn points_on_a_line_have_one_component() {
        let line = Array2::from_shape_fn((6, 2), |(i, j)| i as f64 * [3.0, 4.0][j]);
        let found = principal_components(&names(2), &line, 1, Scaling::Centre).unwrap();
        assert!((found.loadings[(0, 0)] - 0.6).abs() < 1e-12);
        assert!((found.loadings[(0, 1)] - 0.8).abs() < 1e-12);
        assert!((found.shares[0] - 1.0).abs() < 1e-12);
    }

    #[test]
    fn more_components_than_the_points_have_directions_are_found_at_any_size() {
        for size in [1.0, 1e-80, 1e60] {
            let line =
                Array2::from_shape_fn((7, 4), |(i, j)| size * (i as f64 - 3.0) * (j as f64 + 1.0));
            for kept in 1..=4 {
                let found = principal_components(&names(4), &line, kept, Scaling::Centre).unwrap();
                assert!((found.shares[0] - 1.0).abs() < 1e-9, "{size}, {kept}: {:?}", found.shares);
                assert!(found.scores.iter().all(|score| score.is_finite()));
            }
        }
    }

    #[test]
    fn shares_are_of_the_total_and_not_of_the_kept_part() {
        let matrix = noise(50, 5);
        let all = principal_components(&names(5), &matrix, 5, Scaling::Centre).unwrap();
        let two = principal_components(&names(5), &matrix, 2, Scaling::Centre).unwrap();
        assert!((all.shares.iter().sum::<f64>() - 1.0).abs() < 1e-10);
        assert!((two.shares[0] - all.shares[0]).abs() < 1e-6);
        assert!(two.shares.iter().sum::<f64>() < 0.95);
    }

    #[test]
    fn scores_are_uncorrelated_and_those_of_new_rows() {
        let matrix = noise(60, 4);
        let found = principal_components(&names(4), &matrix, 3, Scaling::Standardise).unwrap();
        let product = found.scores.column(0).dot(&found.scores.column(1));
        assert!(product.abs() < 1e-9);
        let again = found.score(&matrix.row(7).to_vec()).unwrap();
        assert!((again[2] - found.scores[(7, 2)]).abs() < 1e-12);
    }

    #[test]
    fn many_columns_of_a_curve_are_reduced() {
        let matrix = noise(40, 30);
        let found = principal_components(&names(30), &matrix, 3, Scaling::Centre).unwrap();
        let data = DMatrix::from_fn(40, 30, |i, j| matrix[(i, j)]);
        let centred = DMatrix::from_fn(40, 30, |i, j| data[(i, j)] - data.column(j).mean());
        let mut exact: Vec<f64> = centred.singular_values().iter().copied().collect();
        exact.sort_by(|a, b| b.total_cmp(a));
        for (place, sd) in found.standard_deviations.iter().enumerate() {
            assert!((sd - exact[place] / 39_f64.sqrt()).abs() < 1e-4 * sd, "{place} {sd}");
        }
    }

    /// One wide direction in ten columns of noise, six components asked for.
    #[test]
    fn where_linfa_stops_short_the_components_are_still_those_of_a_singular_value_decomposition() {
        let mut generator = stream(7, 0);
        let matrix = Array2::from_shape_fn((120, 10), |(i, j)| {
            let wide = f64::from(u8::from(i % 3 == 1)) * 0.07 * (j % 5) as f64 / 4.0;
            wide + 0.01 * (generator.random::<f64>() - 0.5)
        });
        let data = DMatrix::from_fn(120, 10, |i, j| matrix[(i, j)]);
        let centred = DMatrix::from_fn(120, 10, |i, j| data[(i, j)] - data.column(j).mean());
        let mut exact: Vec<f64> =
            centred.singular_values().iter().map(|value| value * value).collect();
        exact.sort_by(|a, b| b.total_cmp(a));
        let total: f64 = exact.iter().sum();
        for kept in 1..=10 {
            let found = principal_components(&names(10), &matrix, kept, Scaling::Centre).unwrap();
            for (share, square) in found.shares.iter().zip(&exact) {
                assert!((share - square / total).abs() < 1e-8, "{kept}: {share}");
            }
        }
    }

    #[test]
    fn impossible_requests_are_refused() {
        let constant = Array2::from_shape_fn((4, 2), |(i, j)| if j == 0 { 2.0 } else { i as f64 });
        let ask = |kept, scaling| principal_components(&names(2), &constant, kept, scaling);
        assert!(
            matches!(ask(1, Scaling::Standardise), Err(StatsError::NoVariation { what }) if what == "c0")
        );
        assert!(matches!(ask(3, Scaling::Centre), Err(StatsError::OutOfRange { .. })));
        assert!(ask(1, Scaling::Centre).is_ok());
        let flat = Array2::zeros((4, 2));
        let fault = principal_components(&names(2), &flat, 1, Scaling::Centre);
        assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
        let bad = Array2::from_elem((4, 2), f64::NAN);
        let fault = principal_components(&names(2), &bad, 1, Scaling::Centre);
        assert!(matches!(fault, Err(StatsError::NotFinite { .. })));
    }
}
