//! Control charts: is a series of readings one process, or has it moved?

mod cusum;
mod ewma;
mod individuals;
mod rules;
mod subgroups;

pub use cusum::{CusumChart, CusumOptions, cusum};
pub use ewma::{EwmaChart, EwmaOptions, ewma};
pub use individuals::{IndividualsChart, MovingRangeCentre, individuals};
pub use rules::{NELSON, RunRule, RunSignal, WESTERN_ELECTRIC, run_signals};
pub use subgroups::{Subgroup, SubgroupChart, subgroup_means};

use crate::stats::error::StatsError;

/// On which side a point lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Above the upper limit or the centre.
    Above,
    /// Below the lower limit or the centre.
    Below,
}

/// Where a value lies outside two limits.
fn beyond(value: f64, lower: f64, upper: f64) -> Option<Side> {
    if value > upper {
        return Some(Side::Above);
    }
    (value < lower).then_some(Side::Below)
}

/// Refuses an option that is not positive and finite.
fn require_positive(what: &str, value: f64) -> Result<(), StatsError> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    let expected = "a positive number".into();
    Err(StatsError::OutOfRange { what: what.into(), value, expected })
}

/// Refuses an option that is no number.
fn require_number(what: &str, value: f64) -> Result<(), StatsError> {
    if value.is_finite() {
        return Ok(());
    }
    let expected = "a finite number".into();
    Err(StatsError::OutOfRange { what: what.into(), value, expected })
}
