//! How large a trial must be, and what a trial of a given size can show.
//!
//! Every power is exact for normal outcomes of equal spread (noncentral t and F), or for counts (sums over all possible tables).

mod arms;
mod comparisons;
mod losses;
mod proportions;
mod two_arms;

pub use arms::{ArmsLayout, ArmsTrial, cohen_f};
pub use comparisons::ComparisonsTrial;
pub use losses::{pieces_for_assurance, pieces_for_average};
pub use proportions::{ExactTest, ProportionsTrial};
pub use two_arms::{TwoArmsLayout, TwoArmsTrial};

use crate::stats::error::StatsError;
use crate::stats::numeric::find_root_within;
use crate::whole;

/// No trial is planned beyond this size.
const LARGEST: f64 = 1e8;

/// The size a trial needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeededSize {
    /// Where the power is met exactly, as if sizes could be broken.
    pub exact: f64,
    /// The next whole size.
    pub whole: u64,
}

/// The size at which a rising power meets its target; `least` is the smallest size with a degree of freedom.
fn needed_size(
    target: f64,
    least: f64,
    power: impl Fn(f64) -> Result<f64, StatsError>,
) -> Result<NeededSize, StatsError> {
    // a size without a power counts as one that shows nothing; the size found is asked once more below
    let excess = |size: f64| power(size).map_or(-1.0, |found| found - target);
    let mut high = least.max(1.0);
    while excess(high) < 0.0 {
        high *= 2.0;
        if high > LARGEST {
            return Err(StatsError::OutOfRange {
                what: "the needed size".into(),
                value: high,
                expected: format!("at most {LARGEST:e}: the difference is too small to be shown"),
            });
        }
    }
    if excess(least) >= 0.0 {
        return Ok(NeededSize { exact: least, whole: whole::part(least.ceil()) as u64 });
    }
    let exact = find_root_within(excess, least, high, 1e-12)
        .ok_or_else(|| StatsError::NotConverged { what: "the needed size".into() })?;
    power(exact)?;
    // a size that is whole but for rounding needs no more
    Ok(NeededSize { exact, whole: whole::part((exact - 1e-9 * exact).ceil()) as u64 })
}

/// The argument above 0 at which a rising power meets its target.
fn smallest_effect(
    target: f64,
    power: impl Fn(f64) -> Result<f64, StatsError>,
) -> Result<f64, StatsError> {
    let excess = |effect: f64| power(effect).map_or(-1.0, |found| found - target);
    let mut high = 1.0;
    while excess(high) < 0.0 && high < LARGEST {
        high *= 2.0;
    }
    let found = find_root_within(excess, 0.0, high, 1e-12);
    found.ok_or_else(|| StatsError::NotConverged { what: "the smallest difference".into() })
}

/// Refuses a power that no planning asks for: below the chance of a false alarm, or certain.
fn require_power(target: f64, significance: f64) -> Result<(), StatsError> {
    if target > significance && target < 1.0 {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: "the power".into(),
        value: target,
        expected: format!("a number between the significance level {significance} and 1"),
    })
}

/// Refuses what is not a finite number above 0.
fn require_positive(what: &str, value: f64) -> Result<(), StatsError> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    let expected = "a finite number above 0".into();
    Err(StatsError::OutOfRange { what: what.into(), value, expected })
}
