//! The chart of single readings and their moving ranges.

use super::{Side, beyond};
use crate::stats::error::{StatsError, require_count, require_squarable};
use crate::stats::numeric::{mean, median};
use std::f64::consts::{FRAC_PI_2, PI};
use std::ops::Range;

/// Which middle of the moving ranges measures the spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MovingRangeCentre {
    /// Their mean, over `d_2 = 2 / sqrt(pi)`: the usual one.
    Mean,
    /// Their median, over the median 0.954 of the range of two normal readings: for a baseline with jumps in it.
    Median,
}

/// Median of the absolute difference of two standard normal readings, `sqrt(2)` times the upper quartile of one.
const MEDIAN_RANGE_OF_TWO: f64 = std::f64::consts::SQRT_2 * 0.674_489_750_196_081_7;

/// Limits of single readings, all in their unit.
#[derive(Debug, Clone, PartialEq)]
pub struct IndividualsChart {
    /// Mean of the baseline.
    pub centre: f64,
    /// Standard deviation from one reading to the next.
    pub sigma: f64,
    /// `centre - 3 sigma`.
    pub lower: f64,
    /// `centre + 3 sigma`.
    pub upper: f64,
    /// Differences of neighbours without sign, one fewer than readings: number `i` between readings `i` and `i + 1`.
    pub moving_ranges: Vec<f64>,
    /// Mean of those inside the baseline.
    pub mean_moving_range: f64,
    /// Median of those inside the baseline.
    pub median_moving_range: f64,
    /// `(1 + 3 d_3 / d_2)` times `d_2 sigma`, 3.267 mean ranges; their lower limit is 0.
    pub moving_range_upper: f64,
}

/// Individuals and moving-range chart (Shewhart 1931; NIST/SEMATECH e-Handbook, section 6.3.2.2): limits three standard deviations from the mean, the spread
/// from the ranges of neighbours, which a slow drift does not blow up. With exact constants `d_2 = 2 / sqrt(pi)`, `d_3 = sqrt(2 - 4 / pi)`. Limits come from
/// the readings of `baseline`, or from all. Readings stand in the order they were made.
///
/// # Errors
/// `Empty`, `NotFinite`; `OutOfRange` for a baseline beyond the readings; `TooFew` under two readings in it; `NoVariation` where the chosen middle of its
/// moving ranges is zero.
pub fn individuals(
    readings: &[f64],
    baseline: Option<Range<usize>>,
    spread: MovingRangeCentre,
) -> Result<IndividualsChart, StatsError> {
    require_squarable("the readings", readings)?;
    let baseline = baseline.unwrap_or(0..readings.len());
    let known = readings.get(baseline.clone()).ok_or_else(|| StatsError::OutOfRange {
        what: "the end of the baseline".into(),
        value: baseline.end as f64,
        expected: format!("a range inside the {} readings", readings.len()),
    })?;
    require_count("readings in the baseline", 2, known.len())?;
    let inner = moving_ranges(known);
    let (mean_range, median_range) = (mean(&inner)?, median(&inner)?);
    let sigma = match spread {
        MovingRangeCentre::Mean => 0.5 * mean_range * PI.sqrt(),
        MovingRangeCentre::Median => median_range / MEDIAN_RANGE_OF_TWO,
    };
    if sigma == 0.0 {
        return Err(StatsError::NoVariation { what: "the baseline".into() });
    }
    let centre = mean(known)?;
    Ok(IndividualsChart {
        centre,
        sigma,
        lower: centre - 3.0 * sigma,
        upper: centre + 3.0 * sigma,
        moving_ranges: moving_ranges(readings),
        mean_moving_range: mean_range,
        median_moving_range: median_range,
        // d_3 / d_2 = sqrt(pi / 2 - 1)
        moving_range_upper: (1.0 + 3.0 * (FRAC_PI_2 - 1.0).sqrt()) * 2.0 * sigma / PI.sqrt(),
    })
}

fn moving_ranges(readings: &[f64]) -> Vec<f64> {
    let later = readings.iter().skip(1);
    later.zip(readings).map(|(next, last)| (next - last).abs()).collect()
}

impl IndividualsChart {
    /// Places of the readings beyond the limits, from 0.
    pub fn beyond_limits(&self, readings: &[f64]) -> Vec<(usize, Side)> {
        let side = |reading: &f64| beyond(*reading, self.lower, self.upper);
        let places = readings.iter().enumerate();
        places.filter_map(|(place, reading)| Some((place, side(reading)?))).collect()
    }

    /// Places of the moving ranges above their limit; number `i` lies between readings `i` and `i + 1`.
    pub fn ranges_beyond_limit(&self) -> Vec<usize> {
        let ranges = self.moving_ranges.iter().enumerate();
        ranges.filter(|(_, range)| **range > self.moving_range_upper).map(|(i, _)| i).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::numeric::normal_quantile;

    const STEADY: [f64; 6] = [10.0, 12.0, 10.0, 12.0, 10.0, 12.0];

    fn chart(readings: &[f64], baseline: Option<Range<usize>>) -> IndividualsChart {
        individuals(readings, baseline, MovingRangeCentre::Mean).unwrap()
    }

    #[test]
    fn the_tables_constants_are_met_to_their_digits() {
        // Montgomery 2009, Introduction to Statistical Quality Control, appendix VI, n = 2 (from memory): d2 1.128, D4 3.267
        let found = chart(&STEADY, None);
        assert!((found.mean_moving_range / found.sigma - 1.128).abs() < 5e-4);
        assert!((found.moving_range_upper / found.mean_moving_range - 3.267).abs() < 5e-4);
        assert!((MEDIAN_RANGE_OF_TWO - 2.0_f64.sqrt() * normal_quantile(0.75)).abs() < 1e-15);
    }

    #[test]
    fn a_jump_after_the_baseline_is_seen_from_there() {
        let readings = [&STEADY[..], &[18.0, 11.0, 3.0]].concat();
        let found = chart(&readings, Some(0..6));
        assert_eq!(found.centre, 11.0);
        let seen = [(6, Side::Above), (8, Side::Below)];
        assert_eq!(found.beyond_limits(&readings), seen);
        assert_eq!(found.ranges_beyond_limit(), [6, 7]);
    }

    #[test]
    fn a_point_on_the_limit_is_inside() {
        let found = chart(&STEADY, None);
        assert!(found.beyond_limits(&[found.upper, found.lower]).is_empty());
    }

    #[test]
    fn one_huge_value_moves_the_median_limits_little() {
        let readings = [&STEADY[..], &[1e6], &STEADY[..]].concat();
        let found = individuals(&readings, None, MovingRangeCentre::Median).unwrap();
        assert!((found.sigma - 2.0 / MEDIAN_RANGE_OF_TWO).abs() < 1e-12);
        assert!(chart(&readings, None).sigma > 1e5);
    }

    #[test]
    fn constants_single_readings_and_baselines_outside_are_refused() {
        let asked = |readings: &[f64], baseline| {
            individuals(readings, baseline, MovingRangeCentre::Mean).unwrap_err()
        };
        assert!(matches!(asked(&[0.1; 9], None), StatsError::NoVariation { .. }));
        assert!(matches!(asked(&[1.0], None), StatsError::TooFew { found: 1, .. }));
        assert!(matches!(asked(&STEADY, Some(3..9)), StatsError::OutOfRange { .. }));
        assert!(matches!(asked(&STEADY, Some(3..3)), StatsError::TooFew { found: 0, .. }));
        let backwards = Range { start: 4, end: 2 };
        assert!(matches!(asked(&STEADY, Some(backwards)), StatsError::OutOfRange { .. }));
        assert!(matches!(asked(&[1.0, f64::NAN], None), StatsError::NotFinite { .. }));
        assert!(matches!(asked(&[], None), StatsError::Empty { .. }));
    }

    #[test]
    fn two_readings_have_one_moving_range() {
        let found = chart(&[1.0, 3.0], None);
        assert_eq!((found.centre, found.mean_moving_range), (2.0, 2.0));
    }
}
