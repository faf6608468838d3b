//! Orthogonal factorisation that sets dependent columns aside.

use super::sums::dot;
use nalgebra::DMatrix;
use ndarray::ArrayView2;

/// A column counts as a combination of the columns before it when less than this share of its length is left after they are projected out.
pub const RANK_TOLERANCE: f64 = 1e-9;

/// A sum of squares in between has lost nothing to squares that are too small or too large for a double.
const SAFE_SQUARES: std::ops::Range<f64> = 1e-280..1e280;

/// Householder factorisation `X P = Q R` of an `n x p` matrix (Businger & Golub 1965, Numerische Mathematik 7, 269-276) with LINPACK's limited pivoting
/// (Dongarra, Bunch, Moler & Stewart 1979): columns keep their order, and a column that its predecessors explain moves to the end. So of two columns that say
/// the same, the later one is set aside. Columns are brought to unit length first, which makes the tolerance free of units.
#[derive(Debug, Clone)]
pub struct PivotedQr {
    rows: usize,
    /// Unit Householder vectors; the k-th starts at row k.
    reflectors: Vec<Vec<f64>>,
    /// The columns in the order of `R`, reduced: the first `rank` entries of each are a column of `R`.
    reduced: Vec<Vec<f64>>,
    /// Columns of `X` in the order of `R`; those after the first `rank` were set aside.
    order: Vec<usize>,
    /// Length of each column of `X`, in its original order.
    lengths: Vec<f64>,
}

impl PivotedQr {
    /// Factorises; values must be finite. `tolerance` is [`RANK_TOLERANCE`] unless there is a reason.
    pub fn new(matrix: ArrayView2<'_, f64>, tolerance: f64) -> Self {
        let (rows, columns) = matrix.dim();
        let (mut reduced, lengths) = unit_columns(matrix);
        let mut order: Vec<usize> = (0..columns).collect();
        let mut reflectors = Vec::new();
        let mut undecided = columns;
        while reflectors.len() < undecided.min(rows) {
            let step = reflectors.len();
            if length(&reduced[step][step..]) <= tolerance {
                reduced[step..].rotate_left(1);
                order[step..].rotate_left(1);
                undecided -= 1;
                continue;
            }
            let reflector = reflector_of(&reduced[step][step..]);
            for column in &mut reduced[step..] {
                reflect(&reflector, &mut column[step..]);
            }
            reflectors.push(reflector);
        }
        Self { rows, reflectors, reduced, order, lengths }
    }

    /// How many columns are independent.
    pub fn rank(&self) -> usize {
        self.reflectors.len()
    }

    /// Independent columns, in their original order.
    pub fn kept(&self) -> &[usize] {
        &self.order[..self.rank()]
    }

    /// Columns set aside, in their original order.
    pub fn set_aside(&self) -> Vec<usize> {
        let mut columns = self.order[self.rank()..].to_vec();
        columns.sort_unstable();
        columns
    }

    /// Coefficients on the kept columns that make up a column set aside; `None` if the column was kept.
    pub fn combination(&self, column: usize) -> Option<Vec<f64>> {
        let place = self.order.iter().position(|&other| other == column)?;
        if place < self.rank() {
            return None;
        }
        let right = self.reduced[place][..self.rank()].to_vec();
        let mut solution = self.back_substitute(right);
        for value in &mut solution {
            *value *= self.lengths[column];
        }
        Some(solution)
    }

    /// `Q'y` in full (`n` values): the first `rank` carry the fit, the rest the residual.
    pub fn effects(&self, outcome: &[f64]) -> Vec<f64> {
        let mut effects = outcome.to_vec();
        for (step, reflector) in self.reflectors.iter().enumerate() {
            reflect(reflector, &mut effects[step..]);
        }
        effects
    }

    /// `Q z` for `n` values `z`.
    pub fn rotate_back(&self, effects: &[f64]) -> Vec<f64> {
        let mut values = effects.to_vec();
        for (step, reflector) in self.reflectors.iter().enumerate().rev() {
            reflect(reflector, &mut values[step..]);
        }
        values
    }

    /// Coefficients on the kept columns: solves `R b = (Q'y)[..rank]`.
    pub fn solve(&self, effects: &[f64]) -> Vec<f64> {
        self.back_substitute(effects[..self.rank()].to_vec())
    }

    /// Solves `R' d = c` for a contrast of the kept columns, so that the variance of `c'b` is `sigma^2 d'd`.
    pub fn solve_transposed(&self, contrast: &[f64]) -> Vec<f64> {
        let mut solution = Vec::with_capacity(self.rank());
        for column in 0..self.rank() {
            let entries = &self.reduced[column];
            let known: f64 = dot(&entries[..column], &solution);
            // contrast has one value per kept column; the diagonal passed the tolerance
            let scaled = contrast[column] / self.lengths[self.order[column]];
            solution.push((scaled - known) / entries[column]);
        }
        solution
    }

    /// The first `rank` columns of `Q`, `n x rank`.
    pub fn thin_q(&self) -> DMatrix<f64> {
        let mut q = DMatrix::zeros(self.rows, self.rank());
        for (place, mut column) in q.column_iter_mut().enumerate() {
            let values = column.as_mut_slice();
            values[place] = 1.0;
            // later reflections leave the unit vector as it is
            for (step, reflector) in self.reflectors[..=place].iter().enumerate().rev() {
                reflect(reflector, &mut values[step..]);
            }
        }
        q
    }

    /// Logarithm of the volume the kept columns span: `sum log |R_jj|`.
    pub fn log_volume(&self) -> f64 {
        let places = self.kept().iter().enumerate();
        let diagonal = places.map(|(place, &column)| {
            self.reduced[place][place].abs().ln() + self.lengths[column].ln()
        });
        diagonal.sum()
    }

    /// Back substitution in `R`, undoing the scaling of the kept columns.
    fn back_substitute(&self, mut right: Vec<f64>) -> Vec<f64> {
        for place in (0..right.len()).rev() {
            let entries = &self.reduced[place];
            right[place] /= entries[place];
            let value = right[place];
            for (above, entry) in right[..place].iter_mut().zip(entries) {
                *above -= value * entry;
            }
        }
        for (value, &column) in right.iter_mut().zip(&self.order) {
            *value /= self.lengths[column];
        }
        right
    }
}

/// The columns divided by their lengths, and the lengths; a column of zeros stays.
fn unit_columns(matrix: ArrayView2<'_, f64>) -> (Vec<Vec<f64>>, Vec<f64>) {
    let mut columns: Vec<Vec<f64>> = matrix.columns().into_iter().map(|c| c.to_vec()).collect();
    let mut lengths = Vec::with_capacity(columns.len());
    for column in &mut columns {
        let size = length(column);
        if size > 0.0 {
            column.iter_mut().for_each(|value| *value /= size);
        }
        lengths.push(size);
    }
    (columns, lengths)
}

/// Euclidean length, safe from overflow.
pub(crate) fn length(values: &[f64]) -> f64 {
    let square = dot(values, values);
    if SAFE_SQUARES.contains(&square) {
        return square.sqrt();
    }
    let largest = values.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    if largest == 0.0 || !largest.is_finite() {
        return largest;
    }
    let squares: f64 = values.iter().map(|value| (value / largest).powi(2)).sum();
    largest * squares.sqrt()
}

/// The unit vector whose reflection maps `column` on its first axis.
fn reflector_of(column: &[f64]) -> Vec<f64> {
    let mut vector = column.to_vec();
    // the sign that avoids cancellation
    vector[0] += length(column).copysign(column[0]);
    let size = length(&vector);
    vector.iter_mut().for_each(|value| *value /= size);
    vector
}

/// `values - 2 v (v'values)`.
fn reflect(vector: &[f64], values: &mut [f64]) {
    let twice = 2.0 * dot(vector, values);
    for (value, along) in values.iter_mut().zip(vector) {
        *value -= twice * along;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::{Array2, array};

    fn factorise(matrix: &Array2<f64>) -> PivotedQr {
        PivotedQr::new(matrix.view(), RANK_TOLERANCE)
    }

    #[test]
    fn the_later_of_two_equal_columns_is_set_aside() {
        let qr =
            factorise(&array![[1.0, 2.0, 2.0], [1.0, 3.0, 3.0], [1.0, 5.0, 5.0], [1.0, 9.0, 9.0]]);
        assert_eq!(qr.kept(), [0, 1]);
        assert_eq!(qr.set_aside(), [2]);
        let combination = qr.combination(2).unwrap();
        assert!(combination[0].abs() < 1e-12 && (combination[1] - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_dependent_column_in_the_middle_leaves_the_others_in_order() {
        let qr = factorise(&array![
            [1.0, 2.0, 1.0, 0.0],
            [1.0, 2.0, 0.0, 1.0],
            [1.0, 2.0, 3.0, 2.0],
            [1.0, 2.0, 1.0, 7.0],
        ]);
        assert_eq!(qr.kept(), [0, 2, 3]);
        assert_eq!(qr.set_aside(), [1]);
    }

    #[test]
    fn a_length_is_found_where_its_square_is_no_double() {
        for unit in [1e-300, 1e-150, 1.0, 1e150, 1e300] {
            assert!((length(&[3.0 * unit, -4.0 * unit]) / (5.0 * unit) - 1.0).abs() < 1e-15);
        }
        assert_eq!((length(&[]), length(&[0.0])), (0.0, 0.0));
        assert_eq!(length(&[1.0, f64::INFINITY]), f64::INFINITY);
    }

    #[test]
    fn units_do_not_change_the_rank() {
        let qr = factorise(&array![[1e-9, 1.0], [2e-9, 1.0], [3e-9, 1.0]]);
        assert_eq!(qr.rank(), 2);
    }

    #[test]
    fn zeros_and_surplus_columns_are_set_aside() {
        assert_eq!(factorise(&array![[0.0], [0.0]]).rank(), 0);
        let wide = factorise(&array![[1.0, 2.0, 5.0], [4.0, 3.0, 6.0]]);
        assert_eq!(wide.kept(), [0, 1]);
        assert_eq!(factorise(&Array2::zeros((0, 3))).rank(), 0);
    }

    #[test]
    fn q_has_orthonormal_columns_and_solves_exact_systems() {
        let matrix = array![[1.0, 2.0], [1.0, 3.0], [1.0, 7.0], [1.0, -4.0]];
        let qr = factorise(&matrix);
        let q = qr.thin_q();
        let gram = q.transpose() * &q;
        assert!((gram - DMatrix::identity(2, 2)).norm() < 1e-14);
        let outcome: Vec<f64> =
            matrix.rows().into_iter().map(|r| 3.0 * r[0] - 0.5 * r[1]).collect();
        let solution = qr.solve(&qr.effects(&outcome));
        assert!((solution[0] - 3.0).abs() < 1e-13 && (solution[1] + 0.5).abs() < 1e-13);
    }

    #[test]
    fn a_contrast_has_the_length_of_the_inverse_cross_products() {
        // X'X = [[3, 6], [6, 14]], inverse diagonal of the slope 3 / (42 - 36)
        let qr = factorise(&array![[1.0, 1.0], [1.0, 2.0], [1.0, 3.0]]);
        let direction = qr.solve_transposed(&[0.0, 1.0]);
        assert!((dot(&direction, &direction) - 0.5).abs() < 1e-14);
    }
}
