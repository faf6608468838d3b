//! Errors that hold when the rows of a cluster (a lot) go together.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::StatsError;
use super::linear::{Estimate, LinearFit};

/// Cluster-robust errors, bias-reduced (CR2), with Satterthwaite degrees of freedom under a working model of equal
/// variance (Bell & McCaffrey 2002, Survey Methodology 28, 169-181; Pustejovsky & Tipton 2018, J. Business &
/// Economic Statistics 36, 672-683).
///
/// With X = QR and U the rows of Q of one cluster, the adjustment (I - U U')^(-1/2) acts on U through
/// U (I - U'U)^(-1/2), so that each cluster takes work of the order of p^3 however many rows it has, and the degrees
/// of freedom tr(P)^2 / tr(P P) come from sums of p x p matrices.
#[derive(Debug, Clone)]
pub struct ClusterRobust<'a> {
    fit: &'a LinearFit,
    clusters: Vec<Cluster>,
}

/// One cluster in the orthonormal basis.
#[derive(Debug, Clone)]
struct Cluster {
    /// U'U.
    gram: DMatrix<f64>,
    /// (I - U'U)^(-1/2); directions that the cluster alone determines are zero.
    root: DMatrix<f64>,
    /// (I - U'U)^(-1/2) U'e.
    score: DVector<f64>,
}

/// One minus an eigenvalue of U'U below this is zero: the cluster alone determines that direction.
const DETERMINED_BELOW: f64 = 1e-10;

/// Prepares the errors of all coefficients.
///
/// # Errors
/// Where there is not one cluster code a row, or fewer than two clusters.
pub fn cluster_robust<'a>(
    fit: &'a LinearFit,
    clusters: &[u32],
) -> Result<ClusterRobust<'a>, StatsError> {
    if clusters.len() != fit.residuals.len() {
        return Err(StatsError::Length { wanted: fit.residuals.len(), found: clusters.len() });
    }
    let mut rows: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (row, cluster) in clusters.iter().enumerate() {
        rows.entry(*cluster).or_default().push(row);
    }
    if rows.len() < 2 {
        return Err(StatsError::TooFewGroups { wanted: 2, found: rows.len() });
    }
    Ok(ClusterRobust { fit, clusters: rows.values().map(|rows| cluster(fit, rows)).collect() })
}

fn cluster(fit: &LinearFit, rows: &[usize]) -> Cluster {
    let width = fit.basis.len();
    let mut gram = DMatrix::zeros(width, width);
    let mut projected = DVector::zeros(width);
    let mut unit = DVector::zeros(width);
    for &row in rows {
        unit.iter_mut().zip(&fit.basis).for_each(|(slot, column)| *slot = column[row]);
        gram.ger(1.0, &unit, &unit, 1.0);
        projected.axpy(fit.residuals[row], &unit, 1.0);
    }
    let eigen = SymmetricEigen::new(gram.clone());
    let scaled = eigen.eigenvalues.map(|share| {
        let left = 1.0 - share;
        if left > DETERMINED_BELOW { left.powf(-0.5) } else { 0.0 }
    });
    let root =
        &eigen.eigenvectors * DMatrix::from_diagonal(&scaled) * eigen.eigenvectors.transpose();
    let score = &root * projected;
    Cluster { gram, root, score }
}

impl ClusterRobust<'_> {
    /// How many clusters there are.
    pub fn clusters(&self) -> usize {
        self.clusters.len()
    }

    /// One coefficient with its error.
    ///
    /// # Errors
    /// Where the clusters leave no degrees of freedom for it.
    pub fn coefficient(&self, at: usize) -> Result<Estimate, StatsError> {
        let direction = DVector::from_vec(self.fit.direction(at));
        let variance: f64 =
            self.clusters.iter().map(|cluster| direction.dot(&cluster.score).powi(2)).sum();
        let df = self.satterthwaite(&direction);
        if !(df.is_finite() && df > 0.0) {
            return Err(StatsError::TooFewGroups { wanted: 3, found: self.clusters.len() });
        }
        Ok(Estimate::new(self.fit.coefficients[at], variance.sqrt(), df))
    }

    /// tr(P)^2 / tr(P P), where P holds the products of the clusters' contributions under the working model.
    fn satterthwaite(&self, direction: &DVector<f64>) -> f64 {
        let width = direction.len();
        let (mut trace, mut squares) = (0.0, 0.0);
        let mut shared = DMatrix::zeros(width, width);
        for cluster in &self.clusters {
            let turned = &cluster.root * direction;
            let along = &cluster.gram * &turned;
            let own = turned.dot(&along);
            let lost = along.dot(&along);
            trace += own - lost;
            squares += own * own - 2.0 * own * lost;
            shared.ger(1.0, &along, &along, 1.0);
        }
        trace * trace / (squares + shared.norm_squared())
    }
}
