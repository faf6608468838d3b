//! All differences between group means at once.

use crate::stats::error::{StatsError, require_finite, require_length, require_level};
use crate::stats::estimate::Estimate;
use crate::stats::numeric::{studentised_range_sf, studentised_range_upper_quantile};
use std::f64::consts::SQRT_2;

/// Group means with the error they share: means of independent rows of equal spread.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupMeans {
    /// One mean a group, in the unit of the outcome.
    pub means: Vec<f64>,
    /// Rows behind each mean.
    pub sizes: Vec<usize>,
    /// Residual variance, in squared units.
    pub residual_variance: f64,
    /// Degrees of freedom of the residual variance; infinite where it is known.
    pub degrees_of_freedom: f64,
}

impl GroupMeans {
    /// `mean_first - mean_second` with its error `s sqrt(1/n_first + 1/n_second)`; the groups must exist.
    pub(super) fn difference(&self, first: usize, second: usize) -> Estimate {
        let share = 1.0 / self.sizes[first] as f64 + 1.0 / self.sizes[second] as f64;
        Estimate {
            value: self.means[first] - self.means[second],
            standard_error: (self.residual_variance * share).sqrt(),
            degrees_of_freedom: self.degrees_of_freedom,
        }
    }

    /// Refuses what no analysis of variance gives.
    pub(super) fn check(&self) -> Result<(), StatsError> {
        require_finite("the list of group means", &self.means)?;
        require_length("the list of group sizes", self.means.len(), self.sizes.len())?;
        require_finite("the residual variance", &[self.residual_variance])?;
        if self.means.len() < 2 {
            return Err(StatsError::TooFewGroups { found: self.means.len(), needed: 2 });
        }
        if self.sizes.contains(&0) {
            return Err(StatsError::Empty { what: "a group".into() });
        }
        if self.residual_variance <= 0.0 {
            return Err(StatsError::NoVariation { what: "the outcome within groups".into() });
        }
        if self.degrees_of_freedom > 0.0 {
            return Ok(());
        }
        Err(StatsError::NoDegreesOfFreedom { what: "the residual variance".into() })
    }
}

/// One difference of a set in which all hold together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairDifference {
    /// Place of the group whose mean is subtracted from.
    pub first: usize,
    /// Place of the group whose mean is subtracted.
    pub second: usize,
    /// `mean_first - mean_second` with its own, unadjusted error.
    pub difference: Estimate,
    /// Lower end of the simultaneous interval.
    pub low: f64,
    /// Upper end of the simultaneous interval.
    pub high: f64,
    /// p value adjusted for all pairs.
    pub p_value: f64,
}

/// Tukey's honestly significant differences, for unequal groups in Kramer's form (Tukey 1953; Kramer 1956, Biometrics 12, 307-310): the difference -/+ `q s
/// sqrt((1/n_i + 1/n_j) / 2)`, `q` the quantile of the studentised range. Exact for equal groups, and at least the level for unequal ones (Hayter 1984,
/// Annals of Statistics 12, 61-75). Pairs come as (1, 0), (2, 0), (2, 1), ...
///
/// # Errors
/// `Empty`, `LengthMismatch`, `NotFinite`; `TooFewGroups` under two; `NoVariation` without residual variance; `NoDegreesOfFreedom`; `OutOfRange` for the
/// level.
pub fn tukey_kramer(groups: &GroupMeans, level: f64) -> Result<Vec<PairDifference>, StatsError> {
    groups.check()?;
    require_level("the level of an interval", level)?;
    let count = groups.means.len();
    let df = groups.degrees_of_freedom;
    let bound = studentised_range_upper_quantile(1.0 - level, count, df) / SQRT_2;
    let pairs = (1..count).flat_map(|first| (0..first).map(move |second| (first, second)));
    let compare = |(first, second)| {
        let difference = groups.difference(first, second);
        let half = bound * difference.standard_error;
        PairDifference {
            first,
            second,
            difference,
            low: difference.value - half,
            high: difference.value + half,
            p_value: studentised_range_sf(SQRT_2 * difference.t_statistic().abs(), count, df),
        }
    };
    Ok(pairs.map(compare).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn groups() -> GroupMeans {
        GroupMeans {
            means: vec![4.0, 6.0, 5.5],
            sizes: vec![5, 7, 4],
            residual_variance: 1.3,
            degrees_of_freedom: 13.0,
        }
    }

    #[test]
    fn two_groups_need_no_adjustment() {
        let mut two = groups();
        two.means.truncate(2);
        two.sizes.truncate(2);
        let found = tukey_kramer(&two, 0.95).unwrap()[0];
        let (low, high) = found.difference.interval(0.95).unwrap();
        assert!((found.p_value - found.difference.p_value()).abs() < 1e-9);
        assert!((found.low - low).abs() < 1e-8 && (found.high - high).abs() < 1e-8);
    }

    #[test]
    fn an_interval_without_zero_goes_with_a_small_p_value() {
        for pair in tukey_kramer(&groups(), 0.95).unwrap() {
            assert!(pair.p_value > pair.difference.p_value());
            assert_eq!(pair.p_value < 0.05, pair.low > 0.0 || pair.high < 0.0, "{pair:?}");
        }
    }

    #[test]
    fn equal_means_have_a_p_value_of_one() {
        let mut equal = groups();
        equal.means = vec![2.0; 3];
        assert!(tukey_kramer(&equal, 0.9).unwrap().iter().all(|pair| pair.p_value == 1.0));
    }

    #[test]
    fn what_no_analysis_gives_is_refused() {
        let with = |change: fn(&mut GroupMeans)| {
            let mut broken = groups();
            change(&mut broken);
            tukey_kramer(&broken, 0.95).unwrap_err()
        };
        let fault = with(|g| g.residual_variance = 0.0);
        assert!(matches!(fault, StatsError::NoVariation { .. }));
        let fault = with(|g| g.degrees_of_freedom = 0.0);
        assert!(matches!(fault, StatsError::NoDegreesOfFreedom { .. }));
        let fault = with(|g| g.means[1] = f64::NAN);
        assert!(matches!(fault, StatsError::NotFinite { row: 1, .. }));
        assert!(matches!(with(|g| g.sizes[0] = 0), StatsError::Empty { .. }));
        let fault = with(|g| g.sizes.truncate(2));
        assert!(matches!(fault, StatsError::LengthMismatch { .. }));
        let fault = with(|g| {
            g.means.truncate(1);
            g.sizes.truncate(1);
        });
        assert!(matches!(fault, StatsError::TooFewGroups { .. }));
        assert!(tukey_kramer(&groups(), 1.0).is_err());
    }
}
