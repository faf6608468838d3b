//! What one cluster adds to a robust variance, and the moments of such variances.

use super::LinearFit;
use nalgebra::{DMatrix, DVector};

/// An eigenvalue of a cluster's hat matrix this near to 1 is a direction fitted exactly; its residual is zero and stays so.
const FULL: f64 = 1e-9;

/// Of one cluster: the eigenvectors `V` (`p x r`) of its `Q_g'Q_g`, the eigenvalues, its score `Q_g' e_g` and its adjusted score `Q_g' A_g e_g`.
#[derive(Debug, Clone)]
pub(crate) struct ClusterScore {
    vectors: DMatrix<f64>,
    values: Vec<f64>,
    pub(super) plain: DVector<f64>,
    pub(super) score: DVector<f64>,
}

impl ClusterScore {
    pub(super) fn from_rows(fit: &LinearFit, rows: &[usize]) -> Self {
        let block =
            DMatrix::from_fn(rows.len(), fit.q.ncols(), |row, column| fit.q[(rows[row], column)]);
        let residuals = DVector::from_iterator(rows.len(), rows.iter().map(|&r| fit.residuals[r]));
        let plain = block.tr_mul(&residuals);
        let (vectors, values) = eigen(&block);
        Self::new(vectors, values, plain)
    }

    /// From `Q_g'Q_g` (`p x p`) and `Q_g'e_g`.
    pub(crate) fn from_products(gram: DMatrix<f64>, plain: DVector<f64>) -> Self {
        let decomposition = gram.symmetric_eigen();
        let values = decomposition.eigenvalues.iter().map(|value| value.clamp(0.0, 1.0)).collect();
        Self::new(decomposition.eigenvectors, values, plain)
    }

    fn new(vectors: DMatrix<f64>, values: Vec<f64>, plain: DVector<f64>) -> Self {
        let inner = vectors.tr_mul(&plain);
        let weights = values.iter().map(|&value| inverse_power(value, 0.5));
        let weighted = DVector::from_iterator(values.len(), weights).component_mul(&inner);
        Self { score: &vectors * weighted, vectors, values, plain }
    }

    /// `V f(L) V' d` for a function of the eigenvalues.
    fn apply(&self, direction: &DVector<f64>, function: impl Fn(f64) -> f64) -> DVector<f64> {
        let mut inner = self.vectors.tr_mul(direction);
        for (value, &eigenvalue) in inner.iter_mut().zip(&self.values) {
            *value *= function(eigenvalue);
        }
        &self.vectors * inner
    }
}

/// `(1 - value)^-power`, zero in a direction that is fitted exactly.
fn inverse_power(value: f64, power: f64) -> f64 {
    let left = 1.0 - value;
    if left < FULL { 0.0 } else { left.powf(-power) }
}

/// Eigenvectors and eigenvalues of `Q_g'Q_g` that are not zero, through the smaller of the two cross-products.
fn eigen(block: &DMatrix<f64>) -> (DMatrix<f64>, Vec<f64>) {
    let (rows, columns) = block.shape();
    let tall = rows >= columns;
    let small = if tall { block.tr_mul(block) } else { block * block.transpose() };
    let decomposition = small.symmetric_eigen();
    let mut vectors = Vec::new();
    let mut values = Vec::new();
    for (place, &value) in decomposition.eigenvalues.iter().enumerate() {
        if value <= 1e-14 {
            continue;
        }
        let vector = decomposition.eigenvectors.column(place);
        vectors.push(if tall { vector.into_owned() } else { block.tr_mul(&vector) / value.sqrt() });
        values.push(value.min(1.0));
    }
    if vectors.is_empty() {
        return (DMatrix::zeros(columns, 0), values);
    }
    (DMatrix::from_columns(&vectors), values)
}

/// Moments of the variance estimates `V_st` of several directions under the working model with unit error variance, from sums over clusters.
pub(super) struct Moments {
    /// Of each cluster, `a_s'a_t` with `a = A_g Q_g d` (`q x q`).
    own: Vec<DMatrix<f64>>,
    /// Of each cluster, the columns `Q_g'a_s` (`p x q`).
    pull: Vec<DMatrix<f64>>,
}

impl Moments {
    pub fn new(clusters: &[ClusterScore], directions: &DMatrix<f64>) -> Self {
        let columns: Vec<DVector<f64>> = directions.column_iter().map(|d| d.into_owned()).collect();
        let apply = |cluster: &ClusterScore, power: f64| {
            let each = columns.iter().map(|direction| {
                cluster.apply(direction, |value| value * inverse_power(value, power))
            });
            DMatrix::from_columns(&each.collect::<Vec<_>>())
        };
        Self {
            own: clusters.iter().map(|c| directions.tr_mul(&apply(c, 1.0))).collect(),
            pull: clusters.iter().map(|c| apply(c, 0.5)).collect(),
        }
    }

    /// Expectation of `V_ss`.
    pub fn trace(&self, s: usize) -> f64 {
        let terms = self.own.iter().zip(&self.pull);
        terms.map(|(own, pull)| own[(s, s)] - pull.column(s).norm_squared()).sum()
    }

    /// Variance of `V_st`: `sum_gh [B_gh^ss B_gh^tt + B_gh^st B_gh^ts]`, where `B_gh^st = [g = h] a_s'a_t - (Q_g'a_s)'(Q_h'a_t)`.
    pub fn variance_of_product(&self, s: usize, t: usize) -> f64 {
        let size = self.pull.first().map_or(0, DMatrix::nrows);
        let mut outer = DMatrix::zeros(size, size);
        let mut diagonal = 0.0;
        for (own, pull) in self.own.iter().zip(&self.pull) {
            let (left, right) = (pull.column(s), pull.column(t));
            outer += left * right.transpose();
            let products = [left.norm_squared(), right.norm_squared(), left.dot(&right)];
            let owns = [own[(s, s)], own[(t, t)], own[(s, t)]];
            diagonal +=
                (owns[0] - products[0]) * (owns[1] - products[1]) - products[0] * products[1];
            diagonal += (owns[2] - products[2]).powi(2) - products[2] * products[2];
        }
        outer.norm_squared() + outer.component_mul(&outer.transpose()).sum() + diagonal
    }
}
