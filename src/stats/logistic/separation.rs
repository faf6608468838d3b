//! Whether the columns foretell the outcome without error, so that no finite coefficients are best.

use super::basis::Basis;
use super::likelihood::{Likelihood, dot};
use crate::stats::error::StatsError;
use nalgebra::DVector;

/// Beside the largest, a linear predictor this small counts as zero.
const NOTHING: f64 = 1e-6;

/// How a direction `d` sorts the rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sorting {
    /// Every row lies strictly on its own side: complete separation.
    Complete,
    /// No row lies on the wrong side, and some on the border: quasi-complete separation.
    Partial,
    /// Some row lies on the wrong side.
    None,
}

/// Judges by the least room and the least signed room of the rows: `room` is positive where a row moves to its own side.
pub(crate) fn sorting(rooms: impl Iterator<Item = f64>) -> Sorting {
    let (mut least, mut most, mut size) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
    for room in rooms {
        least = least.min(room);
        most = most.max(room);
        size = size.max(room.abs());
    }
    let border = NOTHING * size;
    if !size.is_finite() || most <= border || least < -border {
        return Sorting::None;
    }
    if least > border { Sorting::Complete } else { Sorting::Partial }
}

impl Likelihood {
    /// How a direction sorts the outcomes (Albert & Anderson 1984, Biometrika 71, 1-10): `d'x >= 0` for successes, `<= 0` for failures, `= 0` where a row
    /// holds both. Such a direction exists exactly where no finite coefficients maximise the likelihood.
    pub(super) fn sorting(&self, direction: &DVector<f64>) -> Sorting {
        let rows = self.basis.each_row().zip(self.outcome.pairs());
        sorting(rows.map(|(row, (successes, failures))| {
            let along = dot(row, direction);
            match (successes > 0.0, failures > 0.0) {
                (true, false) => along,
                (false, true) => -along,
                _ => -along.abs(),
            }
        }))
    }
}

/// The typed refusal, with the columns that share in a separating direction.
pub(crate) fn refusal(
    names: &[String],
    basis: &Basis,
    direction: &[f64],
    sorting: Sorting,
) -> StatsError {
    let (_, coefficients) = basis.coefficients(direction);
    let shares = coefficients.iter().zip(basis.spreads()).map(|(value, size)| (value * size).abs());
    let shares: Vec<f64> = shares.collect();
    let largest = shares.iter().fold(0.0_f64, |most, &share| most.max(share));
    let pairs = names.iter().zip(&shares);
    // a column of ones has no spread, so it is never named
    let columns = pairs.filter(|&(_, &share)| share > 1e-4 * largest).map(|(name, _)| name.clone());
    StatsError::Separation { columns: columns.collect(), complete: sorting == Sorting::Complete }
}
