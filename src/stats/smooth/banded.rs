//! Symmetric matrices with two bands beside the diagonal.

/// A positive definite matrix of bandwidth 2: `bands[k][i]` is the entry `(i, i + k)`; entries beyond the matrix are ignored.
#[derive(Debug, Clone)]
pub(super) struct Banded {
    pub bands: [Vec<f64>; 3],
}

/// `L D L'` with a unit lower triangle: `below[0][i]` is `L(i + 1, i)`, `below[1][i]` is `L(i + 2, i)`.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    diagonal: Vec<f64>,
    below: [Vec<f64>; 2],
}

impl Banded {
    /// The factor (Martin & Wilkinson 1965, Numerische Mathematik 7, 355-361); `None` where rounding makes the matrix indefinite.
    pub fn factor(&self) -> Option<Factor> {
        let [centre, first, second] = &self.bands;
        let size = centre.len();
        let mut factor =
            Factor { diagonal: vec![0.0; size], below: [vec![0.0; size], vec![0.0; size]] };
        for i in 0..size {
            let mut pivot = centre[i];
            let mut beside = if i + 1 < size { first[i] } else { 0.0 };
            if i >= 1 {
                let own = factor.below[0][i - 1];
                pivot -= own * own * factor.diagonal[i - 1];
                beside -= factor.below[1][i - 1] * own * factor.diagonal[i - 1];
            }
            if i >= 2 {
                pivot -= factor.below[1][i - 2].powi(2) * factor.diagonal[i - 2];
            }
            if !(pivot > 0.0 && pivot.is_finite()) {
                return None;
            }
            factor.diagonal[i] = pivot;
            factor.below[0][i] = beside / pivot;
            factor.below[1][i] = if i + 2 < size { second[i] / pivot } else { 0.0 };
        }
        Some(factor)
    }
}

impl Factor {
    /// The solution for a right-hand side of the same size.
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut solution = right.to_vec();
        let size = solution.len();
        for i in 0..size {
            for (step, below) in self.below.iter().enumerate() {
                if i > step {
                    solution[i] -= below[i - step - 1] * solution[i - step - 1];
                }
            }
        }
        for i in (0..size).rev() {
            solution[i] /= self.diagonal[i];
            for (step, below) in self.below.iter().enumerate() {
                if i + step + 1 < size {
                    solution[i] -= below[i] * solution[i + step + 1];
                }
            }
        }
        solution
    }

    /// Logarithm of the determinant.
    pub fn log_determinant(&self) -> f64 {
        self.diagonal.iter().map(|pivot| pivot.ln()).sum()
    }

    /// The inverse's own entries within the band, by backward recursion (Hutchinson & de Hoog 1985, Numerische Mathematik 47, 99-106).
    pub fn inverse_bands(&self) -> [Vec<f64>; 3] {
        let size = self.diagonal.len();
        // two zeros beyond the end stand for what is outside
        let mut inverse = [vec![0.0; size + 2], vec![0.0; size + 2], vec![0.0; size + 2]];
        for i in (0..size).rev() {
            let (near, far) = (self.below[0][i], self.below[1][i]);
            inverse[2][i] = -near * inverse[1][i + 1] - far * inverse[0][i + 2];
            inverse[1][i] = -near * inverse[0][i + 1] - far * inverse[1][i + 1];
            inverse[0][i] = 1.0 / self.diagonal[i] - near * inverse[1][i] - far * inverse[2][i];
        }
        inverse
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};
    use proptest::prelude::*;

    fn dense(matrix: &Banded) -> DMatrix<f64> {
        let size = matrix.bands[0].len();
        DMatrix::from_fn(size, size, |i, j| {
            let step = i.abs_diff(j);
            if step < 3 { matrix.bands[step][i.min(j)] } else { 0.0 }
        })
    }

    proptest! {
        #[test]
        fn the_bands_agree_with_the_dense_matrix(
            rows in prop::collection::vec((-1.0_f64..1.0, -1.0_f64..1.0, -5.0_f64..5.0), 1..12)
        ) {
            let of = |part: fn(&(f64, f64, f64)) -> f64| rows.iter().map(part).collect::<Vec<f64>>();
            // row sums below the diagonal make it positive definite
            let banded = Banded { bands: [vec![4.5; rows.len()], of(|r| r.0), of(|r| r.1)] };
            let factor = banded.factor().unwrap();
            let dense = dense(&banded);
            let inverse = dense.clone().try_inverse().unwrap();
            let bands = factor.inverse_bands();
            for i in 0..rows.len() {
                for step in 0..3.min(rows.len() - i) {
                    prop_assert!((bands[step][i] - inverse[(i, i + step)]).abs() < 1e-12);
                }
            }
            let right = of(|r| r.2);
            let solution = DVector::from_vec(factor.solve(&right));
            prop_assert!((&dense * solution - DVector::from_vec(right)).norm() < 1e-10);
            prop_assert!((factor.log_determinant() - dense.determinant().ln()).abs() < 1e-9);
        }
    }

    #[test]
    fn an_indefinite_matrix_has_no_factor() {
        let matrix = Banded { bands: [vec![1.0, 1.0], vec![2.0, 0.0], vec![0.0, 0.0]] };
        assert!(matrix.factor().is_none());
    }
}
