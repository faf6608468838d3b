//! Columns made orthonormal, so that Newton's equations are well scaled whatever the units of the design.

use crate::stats::design::{Design, INTERCEPT};
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE};
use nalgebra::{DMatrix, DVector};
use ndarray::{Array2, ArrayView2, Axis, concatenate};

/// `X = Q R` with `Q` stretched to a mean square of 1 a column. The working coefficients are `g = R b`; a contrast `c'b` is `d'g` with `d = R^-T c`.
#[derive(Debug, Clone)]
pub(crate) struct Basis {
    qr: PivotedQr,
    /// `n x width`, row by row.
    rows: Vec<f64>,
    width: usize,
    /// `sqrt(n)`.
    stretch: f64,
    spreads: Vec<f64>,
    /// `R`: how the columns of the design are made of the working columns.
    triangle: DMatrix<f64>,
    /// 1 where a column of ones was put in front, whose place the thresholds take.
    hidden: usize,
}

impl Basis {
    /// The columns of the design as they are.
    pub(crate) fn plain(design: &Design) -> Result<Self, StatsError> {
        let names = design.names.iter().map(String::as_str).collect();
        Self::new(&design.matrix, names, 0)
    }

    /// The columns less their means: what remains of a design beside thresholds, which are its intercept.
    pub(crate) fn beside_thresholds(design: &Design) -> Result<Self, StatsError> {
        let ones = Array2::ones((design.rows(), 1));
        // both have the design's rows
        let matrix = concatenate![Axis(1), ones, design.matrix];
        let names = std::iter::once(INTERCEPT).chain(design.names.iter().map(String::as_str));
        Self::new(&matrix, names.collect(), 1)
    }

    fn new(matrix: &Array2<f64>, names: Vec<&str>, hidden: usize) -> Result<Self, StatsError> {
        let (count, columns) = matrix.dim();
        if count < columns {
            return Err(StatsError::TooFewRows { rows: count, columns });
        }
        let qr = PivotedQr::new(matrix.view(), RANK_TOLERANCE);
        let dependent = qr.set_aside();
        if !dependent.is_empty() {
            let columns = dependent.iter().map(|&column| names[column].into());
            return Err(StatsError::RankDeficient { columns: columns.collect() });
        }
        let stretch = (count as f64).sqrt();
        let q = qr.thin_q();
        let width = columns - hidden;
        let places = (0..count).flat_map(|row| (hidden..columns).map(move |column| (row, column)));
        let rows: Vec<f64> = places.map(|place| stretch * q[place]).collect();
        let mut triangle = DMatrix::zeros(width, width);
        let mut spreads = Vec::with_capacity(width);
        for (place, column) in matrix.columns().into_iter().skip(hidden).enumerate() {
            for (row, &value) in rows.chunks_exact(width).zip(column) {
                for (above, q) in row[..=place].iter().enumerate() {
                    triangle[(above, place)] += q * value / count as f64;
                }
            }
            spreads.push(spread(column.iter().copied(), count));
        }
        Ok(Self { qr, rows, width, stretch, spreads, triangle, hidden })
    }

    /// Number of working coefficients.
    pub(crate) fn width(&self) -> usize {
        self.width
    }

    /// One row of the working columns.
    pub(crate) fn row(&self, row: usize) -> &[f64] {
        &self.rows[row * self.width..(row + 1) * self.width]
    }

    /// All rows in order.
    pub(crate) fn each_row(&self) -> std::slice::ChunksExact<'_, f64> {
        // a design has at least one column, and the hidden one is extra
        self.rows.chunks_exact(self.width)
    }

    /// All rows as an `n x width` matrix.
    #[expect(clippy::expect_used, reason = "there are as many numbers as rows times columns")]
    pub(crate) fn matrix(&self) -> ArrayView2<'_, f64> {
        let count = self.rows.len() / self.width;
        let matrix = ArrayView2::from_shape((count, self.width), &self.rows);
        matrix.expect("the rows were laid out so")
    }

    /// `d` with `c'b = d'g`; `shift` is the share of the hidden column.
    pub(crate) fn direction(
        &self,
        shift: f64,
        contrast: &[f64],
    ) -> Result<DVector<f64>, StatsError> {
        require_length("the contrast", self.width, contrast.len())?;
        require_finite("the contrast", contrast)?;
        let mut full = vec![shift; self.hidden];
        full.extend_from_slice(contrast);
        let solved = self.qr.solve_transposed(&full);
        let kept = solved[self.hidden..].iter().map(|value| value * self.stretch);
        Ok(DVector::from_iterator(self.width, kept))
    }

    /// The coefficients `b`, and minus the mean of `X b` where a column is hidden (else 0).
    pub(crate) fn coefficients(&self, working: &[f64]) -> (f64, Vec<f64>) {
        let mut effects = vec![0.0; self.hidden];
        effects.extend(working.iter().map(|value| value * self.stretch));
        let solution = self.qr.solve(&effects);
        let shift = if self.hidden == 1 { solution[0] } else { 0.0 };
        (shift, solution[self.hidden..].to_vec())
    }

    /// Largest distance of each column of the design from its mean.
    pub(crate) fn spreads(&self) -> &[f64] {
        &self.spreads
    }

    /// `R e_j`: the shares of the working columns in a column of the design (less its mean beside thresholds).
    pub(crate) fn shares_of(&self, column: usize) -> DVector<f64> {
        self.triangle.column(column).into_owned()
    }

    /// `ln |R|`, by which half the logarithm of `|X'WX|` exceeds that of `|Q'WQ|`.
    pub(crate) fn log_volume(&self) -> f64 {
        self.qr.log_volume() - self.width as f64 * self.stretch.ln()
    }
}

/// Largest distance from the mean.
fn spread(values: impl Iterator<Item = f64> + Clone, count: usize) -> f64 {
    let mean = values.clone().sum::<f64>() / count as f64;
    values.fold(0.0, |most, value| most.max((value - mean).abs()))
}

/// Adds `weight x x'` to the upper triangle of a block that starts at `first`.
pub(crate) fn add_outer(matrix: &mut DMatrix<f64>, first: usize, row: &[f64], weight: f64) {
    let side = matrix.nrows();
    let columns = matrix.as_mut_slice().chunks_exact_mut(side).skip(first);
    for ((place, &value), column) in row.iter().enumerate().zip(columns) {
        let scaled = weight * value;
        // the block of a row's width lies inside the matrix
        for (entry, other) in column[first..].iter_mut().zip(&row[..=place]) {
            *entry += scaled * other;
        }
    }
}

/// Copies the upper triangle to the lower.
pub(crate) fn mirror(matrix: &mut DMatrix<f64>) {
    matrix.fill_lower_triangle_with_upper_triangle();
}

/// An orthonormal basis of what is perpendicular to the columns of `directions`; contrasts that repeat each other are refused.
pub(crate) fn complement(directions: &DMatrix<f64>) -> Result<DMatrix<f64>, StatsError> {
    let (width, count) = directions.shape();
    let matrix = Array2::from_shape_fn((width, count), |place| directions[place]);
    let qr = PivotedQr::new(matrix.view(), RANK_TOLERANCE);
    let repeated = qr.set_aside();
    if count == 0 || !repeated.is_empty() {
        let columns = repeated.iter().map(|place| format!("contrast {place}"));
        return Err(StatsError::RankDeficient { columns: columns.collect() });
    }
    let mut free = DMatrix::zeros(width, width - count);
    for (place, mut column) in free.column_iter_mut().enumerate() {
        let mut unit = vec![0.0; width];
        unit[count + place] = 1.0;
        column.copy_from_slice(&qr.rotate_back(&unit));
    }
    Ok(free)
}
