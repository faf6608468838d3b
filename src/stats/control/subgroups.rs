//! The chart of the means of small groups of readings.

use super::{Side, beyond};
use crate::stats::error::StatsError;
use crate::stats::repeatability::{one_way, rounding_of};
use statrs::function::gamma::ln_gamma;

/// One group on the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Subgroup {
    /// The group's code.
    pub code: usize,
    /// Readings in it.
    pub count: usize,
    /// Their mean.
    pub mean: f64,
    /// `centre - 3 sigma / sqrt(n)`.
    pub lower: f64,
    /// `centre + 3 sigma / sqrt(n)`.
    pub upper: f64,
    /// Where the mean lies beyond its limits.
    pub signal: Option<Side>,
}

/// Limits of group means, all in the unit of the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct SubgroupChart {
    /// Mean of all readings.
    pub centre: f64,
    /// Standard deviation within groups, made unbiased by `c_4`.
    pub sigma: f64,
    /// By rising code.
    pub groups: Vec<Subgroup>,
}

/// Chart of subgroup means with limits from the pooled spread within groups, `sigma = s_pooled / c_4(df + 1)` (Burr 1969, Journal of Quality Technology 1,
/// 163-167; `c_4` in Montgomery 2009, Introduction to Statistical Quality Control, section 6.3); groups may differ in size. `groups` gives each reading the
/// code of its group; codes stand in the order of time.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFewGroups` under two; `NoDegreesOfFreedom` where no group has two readings; `NoVariation` where nothing varies
/// within groups.
pub fn subgroup_means(readings: &[f64], groups: &[usize]) -> Result<SubgroupChart, StatsError> {
    let analysis = one_way(readings, groups)?;
    let within = analysis.within_mean_square()?;
    if within <= rounding_of(readings) {
        return Err(StatsError::NoVariation { what: "the readings within groups".into() });
    }
    let sigma = within.sqrt() / unbiasing(analysis.within_degrees_of_freedom());
    let centre = crate::stats::numeric::mean(readings)?;
    let on_chart = analysis.groups.iter().map(|group| {
        let half = 3.0 * sigma / (group.count as f64).sqrt();
        let (lower, upper) = (centre - half, centre + half);
        Subgroup {
            code: group.code,
            count: group.count,
            mean: group.mean,
            lower,
            upper,
            signal: beyond(group.mean, lower, upper),
        }
    });
    Ok(SubgroupChart { centre, sigma, groups: on_chart.collect() })
}

/// `c_4(df + 1) = sqrt(2 / df) Gamma((df + 1) / 2) / Gamma(df / 2)`: the expected sample deviation as a share of the true one.
fn unbiasing(df: f64) -> f64 {
    (2.0 / df).sqrt() * (ln_gamma(0.5 * (df + 1.0)) - ln_gamma(0.5 * df)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tables_constants_are_met() {
        // c4 for n = 2, 5, 10 (Montgomery 2009, appendix VI, from memory)
        for (size, constant) in [(2.0, 0.7979), (5.0, 0.9400), (10.0, 0.9727)] {
            assert!((unbiasing(size - 1.0) - constant).abs() < 5e-5);
        }
        assert!((unbiasing(1e5) - 1.0).abs() < 1e-5);
    }

    #[test]
    fn a_group_apart_is_beyond_its_limits() {
        let mut readings: Vec<f64> = (0..40).map(|row| f64::from(row % 4)).collect();
        readings[36..].iter_mut().for_each(|reading| *reading += 6.0);
        let groups: Vec<usize> = (0..40).map(|row| row / 4).collect();
        let found = subgroup_means(&readings, &groups).unwrap();
        let signals: Vec<usize> =
            found.groups.iter().filter(|group| group.signal.is_some()).map(|g| g.code).collect();
        assert_eq!(signals, [9]);
        assert_eq!(found.groups[9].signal, Some(Side::Above));
    }

    #[test]
    fn larger_groups_have_narrower_limits() {
        let found = subgroup_means(&[1.0, 2.0, 1.0, 2.0, 1.0, 2.0], &[0, 0, 1, 1, 1, 1]).unwrap();
        let width = |place: usize| found.groups[place].upper - found.groups[place].lower;
        assert!((width(0) / width(1) - 2.0_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn one_group_single_readings_and_constants_are_refused() {
        assert!(matches!(
            subgroup_means(&[1.0, 2.0], &[0, 0]),
            Err(StatsError::TooFewGroups { .. })
        ));
        let single = subgroup_means(&[1.0, 2.0], &[0, 1]);
        assert!(matches!(single, Err(StatsError::NoDegreesOfFreedom { .. })));
        let flat = subgroup_means(&[0.1, 0.1, 0.3, 0.3], &[0, 0, 1, 1]);
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
    }
}
