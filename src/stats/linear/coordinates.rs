//! What contrasts of coefficients need, however the fit was made.

use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::estimate::{Estimate, JointTest};
use crate::stats::numeric::{PivotedQr, RANK_TOLERANCE, sum_of_squares};
use nalgebra::DMatrix;
use ndarray::Array2;

/// Coefficients `b` of a least-squares fit with `X'X = R'R`, seen from the orthonormal columns of `Q = X R^-1`.
pub(crate) trait Coordinates: std::fmt::Debug + Sync {
    /// One a column.
    fn coefficients(&self) -> &[f64];

    /// `R^-T c` for a contrast with one value a column.
    fn solve_transposed(&self, contrast: &[f64]) -> Vec<f64>;

    /// `c'b`.
    fn combine(&self, contrast: &[f64]) -> f64 {
        let pairs = contrast.iter().zip(self.coefficients());
        pairs.map(|(c, b)| c * b).sum()
    }

    /// The direction `d = R^-T c`, so that `c'b = d'Q'y`.
    fn direction(&self, contrast: &[f64]) -> Result<Vec<f64>, StatsError> {
        require_length("the contrast", self.coefficients().len(), contrast.len())?;
        require_finite("the contrast", contrast)?;
        Ok(self.solve_transposed(contrast))
    }

    /// `c'b` with the error of independent errors of one spread.
    fn classical_estimate(
        &self,
        contrast: &[f64],
        spread: f64,
        degrees_of_freedom: f64,
    ) -> Result<Estimate, StatsError> {
        let direction = self.direction(contrast)?;
        Ok(Estimate {
            value: self.combine(contrast),
            standard_error: spread * sum_of_squares(&direction).sqrt(),
            degrees_of_freedom,
        })
    }

    /// F test that several contrasts (`q x p`) are zero together, for independent errors of one spread.
    fn classical_test(
        &self,
        contrasts: &Array2<f64>,
        spread: f64,
        degrees_of_freedom: f64,
    ) -> Result<JointTest, StatsError> {
        let (_, values) = self.whitened(contrasts)?;
        let numerator = contrasts.nrows() as f64;
        let explained = values.iter().map(|value| value * value).sum::<f64>();
        Ok(JointTest {
            statistic: explained / numerator / (spread * spread),
            numerator,
            denominator: degrees_of_freedom,
        })
    }

    /// Orthonormal directions `D` (`p x q`) that span the contrasts' directions, and the contrasts' values on them.
    fn whitened(&self, contrasts: &Array2<f64>) -> Result<(DMatrix<f64>, Vec<f64>), StatsError> {
        let (count, columns) = contrasts.dim();
        require_length("the contrasts", self.coefficients().len(), columns)?;
        let mut directions = Array2::zeros((columns, count));
        for (place, contrast) in contrasts.rows().into_iter().enumerate() {
            let direction = self.direction(&contrast.to_vec())?;
            for (row, value) in direction.into_iter().enumerate() {
                directions[(row, place)] = value;
            }
        }
        let qr = PivotedQr::new(directions.view(), RANK_TOLERANCE);
        let repeated = qr.set_aside();
        if count == 0 || !repeated.is_empty() {
            let columns = repeated.iter().map(|place| format!("contrast {place}"));
            let columns = columns.collect();
            return Err(StatsError::RankDeficient { columns });
        }
        let values: Vec<f64> =
            contrasts.rows().into_iter().map(|contrast| self.combine(&contrast.to_vec())).collect();
        // C b = (D T)' Q'y with directions = D T, so D'Q'y solves T' z = C b
        Ok((qr.thin_q(), qr.solve_transposed(&values)))
    }
}
