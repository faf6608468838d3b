//! The joint test of several contrasts from the degrees of freedom of each.

use crate::stats::error::StatsError;
use crate::stats::estimate::JointTest;
use nalgebra::{DMatrix, DVector};

/// A direction of the contrasts' covariance below this share of the largest says that they repeat each other.
const REPEATED: f64 = 1e-12;

/// Wald F with the denominator of Fai & Cornelius (1996, Journal of Statistical Computation and Simulation 54, 363-378), `2 E / (E - q)` with
/// `E = sum v_i / (v_i - 2)` over the degrees `v_i > 2` of the contrasts' principal directions, which `degrees` gives.
pub(super) fn fai_cornelius(
    values: &DVector<f64>,
    covariance: DMatrix<f64>,
    degrees: impl Fn(&DVector<f64>) -> Result<f64, StatsError>,
) -> Result<JointTest, StatsError> {
    let count = values.len();
    let (mut wald, mut expectation, mut only) = (0.0, 0.0, f64::NAN);
    let eigen = covariance.symmetric_eigen();
    let largest = eigen.eigenvalues.iter().fold(0.0_f64, |most, &value| most.max(value));
    for (value, direction) in eigen.eigenvalues.iter().zip(eigen.eigenvectors.column_iter()) {
        if *value <= REPEATED * largest {
            let columns = vec!["the contrasts repeat each other".into()];
            return Err(StatsError::RankDeficient { columns });
        }
        wald += direction.dot(values).powi(2) / value;
        only = degrees(&direction.into_owned())?;
        expectation += if only > 2.0 { only / (only - 2.0) } else { 0.0 };
    }
    let size = count as f64;
    let denominator = if count == 1 { only } else { 2.0 * expectation / (expectation - size) };
    if count == 0 || !denominator.is_finite() || denominator <= 0.0 {
        let what = "these contrasts of the fixed effects together".into();
        return Err(StatsError::NoDegreesOfFreedom { what });
    }
    Ok(JointTest { statistic: wald / size, numerator: size, denominator })
}
