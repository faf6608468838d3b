//! How much of the chance of a false alarm may be used up by when.

use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{normal_quantile, normal_sf};
use std::f64::consts::E;

/// A rule that spends the chance of a false alarm as information comes in (Lan & DeMets 1983, Biometrika 70, 659-663): the looks need not be equally spaced
/// nor their number known beforehand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spending {
    /// Hardly anything early. On each of the two sides `2 [1 - Phi(z / sqrt t)]` with `Phi(z) = 1 - significance / 4`, which is half of the significance at
    /// `t = 1`; on both together `4 [1 - Phi(z / sqrt t)]`.
    OBrienFlemingType,
    /// Nearly evenly: `significance ln(1 + (e - 1) t)` on both sides together.
    PocockType,
}

impl Spending {
    /// What may be spent on both sides together up to the information fraction `0 <= fraction <= 1`.
    ///
    /// # Errors
    /// `OutOfRange` for a significance outside 0 to 1 or a fraction outside 0 to 1 (also where it is not a number).
    pub fn spent(self, significance: f64, fraction: f64) -> Result<f64, StatsError> {
        require_level("the significance level", significance)?;
        if !(0.0..=1.0).contains(&fraction) {
            return Err(StatsError::OutOfRange {
                what: "an information fraction".into(),
                value: fraction,
                expected: "a number from 0 to 1".into(),
            });
        }
        Ok(match self {
            // at 0 the quotient is infinite and its tail nothing
            Self::OBrienFlemingType => {
                4.0 * normal_sf(-normal_quantile(0.25 * significance) / fraction.sqrt())
            }
            Self::PocockType => significance * ((E - 1.0) * fraction).ln_1p(),
        })
    }
}
