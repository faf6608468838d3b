//! Errors for rows that come in clusters.

use super::LinearFit;
use super::cluster_score::{ClusterScore, Moments};
use super::coordinates::Coordinates;
use crate::stats::error::{StatsError, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use nalgebra::{DMatrix, DVector};
use ndarray::Array2;
use std::collections::BTreeMap;

/// Fewer clusters than this show no spread between clusters worth a number.
const FEWEST_CLUSTERS: usize = 3;

/// Bias-reduced cluster-robust errors, CR2 (Bell & McCaffrey 2002, Survey Methodology 28, 169-181; Pustejovsky & Tipton 2018, Journal of Business & Economic
/// Statistics 36, 672-683), with independent errors of equal spread as the working model.
///
/// The variance of `c'b` is `sum_g (d'Q_g' A_g e_g)^2` with `d = R^-T c` and `A_g = (I - Q_g Q_g')^{-1/2}` (a pseudo-inverse where needed). With
/// `Q_g'Q_g = V L V'` this is `Q_g'A_g = V (I - L)^{-1/2} V' Q_g'`, so every cluster costs `p x p` work however many rows it has. Its degrees of freedom are
/// `tr(B)^2 / tr(B^2)` (Satterthwaite 1946), where `B_gh = u_g'u_h`, `u_g = (I - Q Q')_g A_g Q_g d`; both traces are sums over clusters of `p x p` terms.
#[derive(Debug, Clone)]
pub struct ClusterRobust<'fit> {
    fit: &'fit dyn Coordinates,
    rows: usize,
    clusters: Vec<ClusterScore>,
}

/// Corrections of the plain cluster-robust error for few clusters, where CR2 is not wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClusterCorrection {
    /// None (Liang & Zeger 1986, Biometrika 73, 13-22): too small with few clusters.
    Cr0,
    /// The variance times `G / (G - 1)`.
    Cr1,
    /// The variance times `G / (G - 1) (n - 1) / (n - p)`, what several programs give.
    Cr1s,
}

impl LinearFit {
    /// Errors that allow rows of one cluster to resemble each other; see [`ClusterRobust`].
    ///
    /// # Errors
    /// `LengthMismatch`; `TooFewGroups` under three clusters.
    pub fn clustered(&self, clusters: &[usize]) -> Result<ClusterRobust<'_>, StatsError> {
        require_length("the list of clusters", self.residuals.len(), clusters.len())?;
        let mut rows: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (row, &code) in clusters.iter().enumerate() {
            rows.entry(code).or_default().push(row);
        }
        let scores = rows.values().map(|rows| ClusterScore::from_rows(self, rows)).collect();
        ClusterRobust::new(self, self.residuals.len(), scores)
    }
}

impl<'fit> ClusterRobust<'fit> {
    pub(crate) fn new(
        fit: &'fit dyn Coordinates,
        rows: usize,
        clusters: Vec<ClusterScore>,
    ) -> Result<Self, StatsError> {
        if clusters.len() < FEWEST_CLUSTERS {
            return Err(StatsError::TooFewGroups {
                found: clusters.len(),
                needed: FEWEST_CLUSTERS,
            });
        }
        Ok(Self { fit, rows, clusters })
    }

    /// How many clusters there are.
    pub fn clusters(&self) -> usize {
        self.clusters.len()
    }

    /// `c'b` with its CR2 error and Satterthwaite degrees of freedom. Under about 4 degrees of freedom the t distribution is a poor guide
    /// (Pustejovsky & Tipton 2018, section 4); the caller sees the number and must say so.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast; `NoDegreesOfFreedom` where no cluster leaves an error to be seen.
    pub fn contrast(&self, contrast: &[f64]) -> Result<Estimate, StatsError> {
        let direction = DVector::from_vec(self.fit.direction(contrast)?);
        let variance: f64 = self.clusters.iter().map(|c| c.score.dot(&direction).powi(2)).sum();
        let moments = Moments::new(&self.clusters, &DMatrix::from_columns(&[direction]));
        let trace = moments.trace(0);
        let degrees_of_freedom = 2.0 * trace * trace / moments.variance_of_product(0, 0);
        if !degrees_of_freedom.is_finite() || degrees_of_freedom <= 0.0 {
            let what = "this contrast of the clusters".into();
            return Err(StatsError::NoDegreesOfFreedom { what });
        }
        Ok(Estimate {
            value: self.fit.combine(contrast),
            standard_error: variance.sqrt(),
            degrees_of_freedom,
        })
    }

    /// `c'b` with the error of a simpler correction and one degree of freedom less than there are clusters.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn corrected(
        &self,
        contrast: &[f64],
        correction: ClusterCorrection,
    ) -> Result<Estimate, StatsError> {
        let direction = DVector::from_vec(self.fit.direction(contrast)?);
        let variance: f64 = self.clusters.iter().map(|c| c.plain.dot(&direction).powi(2)).sum();
        let (groups, rows) = (self.clusters.len() as f64, self.rows as f64);
        let factor = match correction {
            ClusterCorrection::Cr0 => 1.0,
            ClusterCorrection::Cr1 => groups / (groups - 1.0),
            ClusterCorrection::Cr1s => {
                groups / (groups - 1.0) * (rows - 1.0) / (rows - contrast.len() as f64)
            }
        };
        Ok(Estimate {
            value: self.fit.combine(contrast),
            standard_error: (factor * variance).sqrt(),
            degrees_of_freedom: groups - 1.0,
        })
    }

    /// Test that several contrasts (`q x p`) are zero together: approximate Hotelling T^2 (Pustejovsky & Tipton 2018, section 3.2). With the Wald statistic
    /// `Q = (Cb)'(C V C')^{-1}(Cb)` and `eta = q(q+1) / sum_st Var(d_s'V d_t)` under the working model for orthonormal directions `d`,
    /// `(eta - q + 1) / (eta q) Q` is compared with F on `q` and `eta - q + 1` degrees of freedom.
    ///
    /// # Errors
    /// As [`ClusterRobust::contrast`]; `RankDeficient` for contrasts that repeat each other; `NoDegreesOfFreedom` where `eta <= q - 1` or the clusters are
    /// too few to see every contrast vary.
    pub fn joint(&self, contrasts: &Array2<f64>) -> Result<JointTest, StatsError> {
        let (directions, values) = self.fit.whitened(contrasts)?;
        let count = directions.ncols();
        let mut covariance = DMatrix::zeros(count, count);
        for cluster in &self.clusters {
            let score = directions.tr_mul(&cluster.score);
            covariance += &score * score.transpose();
        }
        let moments = Moments::new(&self.clusters, &directions);
        let pairs = (0..count).flat_map(|s| (0..count).map(move |t| (s, t)));
        let spread: f64 = pairs.map(|(s, t)| moments.variance_of_product(s, t)).sum();
        let size = count as f64;
        let eta = size * (size + 1.0) / spread;
        let denominator = eta - size + 1.0;
        let wald = quadratic_form(covariance, &DVector::from_vec(values));
        match wald.filter(|_| denominator.is_finite() && denominator > 0.0) {
            Some(wald) => Ok(JointTest {
                statistic: denominator / (eta * size) * wald,
                numerator: size,
                denominator,
            }),
            None => Err(StatsError::NoDegreesOfFreedom {
                what: "these contrasts of the clusters together".into(),
            }),
        }
    }
}

/// `z' S^{-1} z` by Cholesky; `None` where `S` is singular.
pub(super) fn quadratic_form(matrix: DMatrix<f64>, vector: &DVector<f64>) -> Option<f64> {
    let scale = matrix.diagonal().max();
    let factor = matrix.cholesky()?;
    let lower = factor.l();
    let weakest = lower.diagonal().min();
    if weakest * weakest <= 1e-12 * scale {
        return None;
    }
    Some(lower.solve_lower_triangular(vector)?.norm_squared())
}

#[cfg(test)]
mod tests {
    use super::super::least_squares;
    use super::*;
    use crate::stats::design::Design;

    /// Fourteen rows in five clusters of unequal size; invented.
    fn example() -> (Design, Vec<f64>, Vec<usize>) {
        let x = [1.0, 2.0, 4.0, 3.0, 5.0, 2.5, 7.0, 6.0, 1.5, 2.2, 3.1, 4.4, 0.3, 5.2];
        let z = [0.0, 1.0, 0.0, 1.0, 1.0, 0.0, 1.0, 0.0, 0.0, 1.0, 1.0, 0.0, 1.0, 0.0];
        let y = vec![2.0, 3.1, 4.2, 2.7, 6.1, 1.9, 7.7, 5.0, 3.3, 2.8, 2.1, 5.5, 0.2, 4.9];
        let clusters = vec![0, 0, 0, 0, 1, 1, 1, 2, 2, 3, 3, 3, 4, 4];
        let design = Design::builder(14).intercept().number("x", &x).number("z", &z);
        (design.build().unwrap(), y, clusters)
    }

    /// The textbook form with `n x n` matrices: variance and degrees of freedom of one contrast.
    fn by_definition(fit: &LinearFit, clusters: &[usize], contrast: &[f64]) -> (f64, f64) {
        let n = clusters.len();
        let hat = &fit.q * fit.q.transpose();
        let annihilator = DMatrix::identity(n, n) - hat;
        let direction = DVector::from_vec(fit.direction(contrast).unwrap());
        let residuals = DVector::from_vec(fit.residuals.clone());
        let groups = clusters.iter().max().unwrap() + 1;
        let mut pulls = Vec::new();
        let mut variance = 0.0;
        for group in 0..groups {
            let rows: Vec<usize> = (0..n).filter(|&row| clusters[row] == group).collect();
            let block = annihilator.select_rows(&rows).select_columns(&rows);
            let eigen = block.symmetric_eigen();
            let power = eigen.eigenvalues.map(|v| if v < 1e-9 { 0.0 } else { v.powf(-0.5) });
            let adjust = &eigen.eigenvectors
                * DMatrix::from_diagonal(&power)
                * eigen.eigenvectors.transpose();
            let weights = adjust * fit.q.select_rows(&rows) * &direction;
            variance += weights.dot(&residuals.select_rows(&rows)).powi(2);
            pulls.push(annihilator.select_columns(&rows) * weights);
        }
        let gram = DMatrix::from_fn(groups, groups, |g, h| pulls[g].dot(&pulls[h]));
        (variance, gram.trace().powi(2) / gram.norm_squared())
    }

    #[test]
    fn the_short_sums_equal_the_definition_with_full_matrices() {
        let (design, outcome, clusters) = example();
        let fit = least_squares(&design, &outcome).unwrap();
        let robust = fit.clustered(&clusters).unwrap();
        for contrast in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.3, -2.0]] {
            let (variance, df) = by_definition(&fit, &clusters, &contrast);
            let found = robust.contrast(&contrast).unwrap();
            assert!((found.standard_error - variance.sqrt()).abs() < 1e-12);
            assert!((found.degrees_of_freedom - df).abs() < 1e-9);
        }
    }

    #[test]
    fn a_cluster_with_its_own_dummy_is_handled_by_the_pseudo_inverse() {
        let (design, outcome, clusters) = example();
        let own: Vec<f64> = clusters.iter().map(|&c| f64::from(c == 4)).collect();
        let design = Design::builder(14)
            .intercept()
            .number("x", &design.matrix.column(1).to_vec())
            .number("own", &own)
            .build()
            .unwrap();
        let fit = least_squares(&design, &outcome).unwrap();
        let robust = fit.clustered(&clusters).unwrap();
        let (variance, df) = by_definition(&fit, &clusters, &[0.0, 1.0, 0.0]);
        let found = robust.contrast(&[0.0, 1.0, 0.0]).unwrap();
        assert!((found.standard_error - variance.sqrt()).abs() < 1e-10);
        assert!((found.degrees_of_freedom - df).abs() < 1e-8);
    }

    #[test]
    fn one_contrast_tested_jointly_is_its_t_squared() {
        let (design, outcome, clusters) = example();
        let fit = least_squares(&design, &outcome).unwrap();
        let robust = fit.clustered(&clusters).unwrap();
        let single = robust.contrast(&[0.0, 1.0, 0.0]).unwrap();
        let joint = robust.joint(&ndarray::array![[0.0, 1.0, 0.0]]).unwrap();
        assert!((joint.statistic - single.t_statistic().powi(2)).abs() < 1e-9);
        assert!((joint.denominator - single.degrees_of_freedom).abs() < 1e-9);
    }

    #[test]
    fn the_joint_test_does_not_depend_on_how_the_contrasts_are_written() {
        let (design, outcome, clusters) = example();
        let fit = least_squares(&design, &outcome).unwrap();
        let robust = fit.clustered(&clusters).unwrap();
        let plain = robust.joint(&ndarray::array![[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]).unwrap();
        let mixed = robust.joint(&ndarray::array![[0.0, 1.0, 3.0], [0.0, 2.0, -1.0]]).unwrap();
        assert!((plain.statistic - mixed.statistic).abs() < 1e-9);
        assert!((plain.denominator - mixed.denominator).abs() < 1e-9);
    }

    #[test]
    fn clusters_of_one_row_without_correction_are_the_errors_of_unequal_spread() {
        let (design, outcome, _) = example();
        let fit = least_squares(&design, &outcome).unwrap();
        let rows: Vec<usize> = (0..14).collect();
        let contrast = [0.0, 1.0, 0.0];
        let robust = fit.clustered(&rows).unwrap();
        let plain = robust.corrected(&contrast, ClusterCorrection::Cr0).unwrap().standard_error;
        let rows = fit.heteroskedastic(super::super::RowCorrection::Hc0).unwrap();
        assert!((plain - rows.contrast(&contrast).unwrap().standard_error).abs() < 1e-13);
        let raised = robust.corrected(&contrast, ClusterCorrection::Cr1).unwrap();
        assert!((raised.standard_error / plain - (14.0_f64 / 13.0).sqrt()).abs() < 1e-13);
        assert_eq!(raised.degrees_of_freedom, 13.0);
    }

    #[test]
    fn two_clusters_give_no_error() {
        let (design, outcome, _) = example();
        let fit = least_squares(&design, &outcome).unwrap();
        let codes: Vec<usize> = (0..14).map(|row| row % 2).collect();
        assert!(matches!(fit.clustered(&codes), Err(StatsError::TooFewGroups { found: 2, .. })));
    }

    #[test]
    fn singleton_clusters_are_the_hc2_errors() {
        let (design, outcome, _) = example();
        let fit = least_squares(&design, &outcome).unwrap();
        let codes: Vec<usize> = (0..14).collect();
        let found = fit.clustered(&codes).unwrap().contrast(&[0.0, 1.0, 0.0]).unwrap();
        let direction = fit.direction(&[0.0, 1.0, 0.0]).unwrap();
        let hc2: f64 = (0..14)
            .map(|row| {
                let along: f64 = (0..3).map(|k| fit.q[(row, k)] * direction[k]).sum();
                (along * fit.residuals[row]).powi(2) / (1.0 - fit.leverages()[row])
            })
            .sum();
        assert!((found.standard_error - hc2.sqrt()).abs() < 1e-12);
    }
}
