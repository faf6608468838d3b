//! One-way analysis of variance, for groups of any sizes.

use crate::stats::error::{StatsError, require_length, require_squarable};
use crate::stats::estimate::JointTest;
use crate::stats::numeric::{mean, sum};
use std::collections::BTreeMap;

/// One group of a [`OneWay`] analysis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupMean {
    /// The group's code.
    pub code: usize,
    /// How many values.
    pub count: usize,
    /// Their mean.
    pub mean: f64,
}

/// Spread between and within groups.
#[derive(Debug, Clone, PartialEq)]
pub struct OneWay {
    /// By rising code.
    pub groups: Vec<GroupMean>,
    /// All values.
    pub count: usize,
    /// `sum n_j (m_j - m)^2`, in squared units.
    pub between_sum_of_squares: f64,
    /// `sum (x - m_j)^2`, in squared units.
    pub within_sum_of_squares: f64,
}

/// One-way analysis of variance (Fisher 1925, Statistical Methods for Research Workers, chapter 7). `groups` gives each value the code of its group.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFewGroups` under two.
pub fn one_way(values: &[f64], groups: &[usize]) -> Result<OneWay, StatsError> {
    let found = decompose(values, groups)?;
    if found.groups.len() < 2 {
        return Err(StatsError::TooFewGroups { found: found.groups.len(), needed: 2 });
    }
    Ok(found)
}

/// [`one_way`] that lets a single group pass, for callers that ask for the spread within only.
pub(super) fn decompose(values: &[f64], groups: &[usize]) -> Result<OneWay, StatsError> {
    let members = group_values(values, groups)?;
    let centre = mean(values)?;
    let mut found = Vec::with_capacity(members.len());
    let (mut between, mut within) = (Vec::with_capacity(members.len()), Vec::new());
    for (code, members) in members {
        let own = mean(&members)?;
        found.push(GroupMean { code, count: members.len(), mean: own });
        between.push(members.len() as f64 * (own - centre).powi(2));
        within.extend(members.iter().map(|value| (value - own).powi(2)));
    }
    Ok(OneWay {
        groups: found,
        count: values.len(),
        between_sum_of_squares: sum(&between),
        within_sum_of_squares: sum(&within),
    })
}

/// A mean square below this is rounding of values of this size.
pub(crate) fn rounding_of(values: &[f64]) -> f64 {
    let largest = values.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    (8.0 * f64::EPSILON * largest).powi(2)
}

/// The values of every group, by rising code, in their order.
pub(crate) fn group_values(
    values: &[f64],
    groups: &[usize],
) -> Result<BTreeMap<usize, Vec<f64>>, StatsError> {
    require_length("the list of groups", values.len(), groups.len())?;
    require_squarable("the sample", values)?;
    let mut members: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for (&value, &code) in values.iter().zip(groups) {
        members.entry(code).or_default().push(value);
    }
    Ok(members)
}

impl OneWay {
    /// Groups less one.
    pub fn between_degrees_of_freedom(&self) -> f64 {
        self.groups.len() as f64 - 1.0
    }

    /// Values less groups.
    pub fn within_degrees_of_freedom(&self) -> f64 {
        (self.count - self.groups.len()) as f64
    }

    /// Between mean square, in squared units.
    pub fn between_mean_square(&self) -> f64 {
        self.between_sum_of_squares / self.between_degrees_of_freedom()
    }

    /// Within mean square, in squared units.
    ///
    /// # Errors
    /// `NoDegreesOfFreedom` where no group has two values.
    pub fn within_mean_square(&self) -> Result<f64, StatsError> {
        let df = self.within_degrees_of_freedom();
        if df == 0.0 {
            let what = "the spread within groups".into();
            return Err(StatsError::NoDegreesOfFreedom { what });
        }
        Ok(self.within_sum_of_squares / df)
    }

    /// F test of "the groups have the same mean": between over within mean square. Infinite where nothing varies within groups.
    ///
    /// # Errors
    /// As [`OneWay::within_mean_square`]; `NoVariation` where nothing varies at all.
    pub fn test(&self) -> Result<JointTest, StatsError> {
        let (between, within) = (self.between_mean_square(), self.within_mean_square()?);
        if between == 0.0 && within == 0.0 {
            return Err(StatsError::NoVariation { what: "the sample".into() });
        }
        Ok(JointTest {
            statistic: between / within,
            numerator: self.between_degrees_of_freedom(),
            denominator: self.within_degrees_of_freedom(),
        })
    }

    /// The group size that stands for all in the expected mean squares: `n_0 = (N - sum n_j^2 / N) / (a - 1)`, the common size where there is one
    /// (Snedecor 1934; Searle, Casella & McCulloch 1992, Variance Components, section 3.6).
    pub fn effective_size(&self) -> f64 {
        let total = self.count as f64;
        let squares: f64 = self.groups.iter().map(|group| (group.count as f64).powi(2)).sum();
        (total - squares / total) / self.between_degrees_of_freedom()
    }

    /// Variance between groups by the method of moments, `(MSB - MSW) / n_0`, in squared units; negative where the groups differ less than chance would have
    /// them.
    ///
    /// # Errors
    /// As [`OneWay::within_mean_square`].
    pub fn between_variance(&self) -> Result<f64, StatsError> {
        Ok((self.between_mean_square() - self.within_mean_square()?) / self.effective_size())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn groups_of_one_have_no_spread_within() {
        let found = one_way(&[1.0, 2.0, 3.0], &[0, 1, 2]).unwrap();
        assert!(matches!(found.test(), Err(StatsError::NoDegreesOfFreedom { .. })));
        assert_eq!(found.effective_size(), 1.0);
    }

    #[test]
    fn one_group_is_refused() {
        let fault = one_way(&[1.0, 2.0], &[7, 7]);
        assert!(matches!(fault, Err(StatsError::TooFewGroups { found: 1, needed: 2 })));
        assert!(one_way(&[1.0], &[0, 1]).is_err());
        let huge = one_way(&[1e200, 1.0, 2.0], &[0, 1, 1]);
        assert!(matches!(huge, Err(StatsError::OutOfRange { .. })));
        assert!(one_way(&[f64::NAN, 1.0], &[0, 1]).is_err());
    }

    proptest! {
        #[test]
        fn between_and_within_make_up_the_total(
            rows in prop::collection::vec((-9.0_f64..9.0, 0_usize..4), 3..40)
        ) {
            let (values, groups): (Vec<f64>, Vec<usize>) = rows.into_iter().unzip();
            if let Ok(found) = one_way(&values, &groups) {
                let centre = mean(&values).unwrap();
                let total: f64 = values.iter().map(|value| (value - centre).powi(2)).sum();
                let parts = found.between_sum_of_squares + found.within_sum_of_squares;
                prop_assert!((parts - total).abs() < 1e-9 * (1.0 + total));
            }
        }
    }
}
