//! Whether groups differ in spread.

use crate::stats::error::StatsError;
use crate::stats::estimate::JointTest;
use crate::stats::numeric::{mean, median};
use crate::stats::repeatability::{group_values, one_way, rounding_of};

/// From which middle of its group a value's distance is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpreadCentre {
    /// The median: the test of Brown & Forsythe, which holds its level for skewed values.
    Median,
    /// The mean: Levene's own test, stronger for values without long tails.
    Mean,
}

/// Test of equal spread: the one-way F test of the absolute distances from the groups' middles (Levene 1960, in Olkin (ed.), Contributions to Probability and
/// Statistics, 278-292; Brown & Forsythe 1974, Journal of the American Statistical Association 69, 364-367). `groups` gives each value the code of its group.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFewGroups` under two; `NoDegreesOfFreedom` where no group has two values; `NoVariation` where the distances do
/// not vary within any group, as in groups of two or of equal values.
pub fn spread_test(
    values: &[f64],
    groups: &[usize],
    centre: SpreadCentre,
) -> Result<JointTest, StatsError> {
    let mut distances = Vec::with_capacity(values.len());
    let mut codes = Vec::with_capacity(values.len());
    for (code, members) in group_values(values, groups)? {
        let middle = match centre {
            SpreadCentre::Median => median(&members)?,
            SpreadCentre::Mean => mean(&members)?,
        };
        distances.extend(members.iter().map(|value| (value - middle).abs()));
        codes.resize(distances.len(), code);
    }
    let analysis = one_way(&distances, &codes)?;
    if analysis.within_mean_square()? <= rounding_of(values) {
        let what = "the distance from the middle of the group".into();
        return Err(StatsError::NoVariation { what });
    }
    analysis.test()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_of_equal_spread_differ_in_nothing() {
        let values = [1.0, 2.0, 4.0, 11.0, 12.0, 14.0];
        let found = spread_test(&values, &[0, 0, 0, 1, 1, 1], SpreadCentre::Median).unwrap();
        assert_eq!((found.statistic, found.p_value()), (0.0, 1.0));
    }

    #[test]
    fn insect_counts_agree_with_scipy() {
        // Beall 1942, Biometrika 32, 243-262, counts under six sprays; scipy 1.17.1: stats.levene(*groups, center='median' or 'mean')
        let counts = [
            [10, 7, 20, 14, 14, 12, 10, 23, 17, 20, 14, 13],
            [11, 17, 21, 11, 16, 14, 17, 17, 19, 21, 7, 13],
            [0, 1, 7, 2, 3, 1, 2, 1, 3, 0, 1, 4],
            [3, 5, 12, 6, 4, 3, 5, 5, 5, 5, 2, 4],
            [3, 5, 3, 5, 3, 6, 1, 1, 3, 2, 6, 4],
            [11, 9, 15, 22, 15, 16, 13, 10, 26, 26, 24, 13],
        ];
        let values: Vec<f64> = counts.iter().flatten().map(|&count| f64::from(count)).collect();
        let groups: Vec<usize> = (0..72).map(|row| row / 12).collect();
        for (centre, statistic, p) in [
            (SpreadCentre::Median, 3.8213563132259276, 0.004222791138992109),
            (SpreadCentre::Mean, 6.455352710086696, 6.103633834482076e-05),
        ] {
            let found = spread_test(&values, &groups, centre).unwrap();
            assert!((found.statistic / statistic - 1.0).abs() < 1e-12);
            assert!((found.p_value() / p - 1.0).abs() < 1e-10);
            assert_eq!((found.numerator, found.denominator), (5.0, 66.0));
        }
    }

    #[test]
    fn pairs_and_constants_cannot_show_a_difference_in_spread() {
        let pairs = spread_test(&[1.1, 2.3, 5.7, 9.1], &[0, 0, 1, 1], SpreadCentre::Median);
        assert!(matches!(pairs, Err(StatsError::NoVariation { .. })));
        let flat = spread_test(&[1.0; 6], &[0, 0, 0, 1, 1, 1], SpreadCentre::Mean);
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        let single = spread_test(&[1.0, 2.0], &[0, 1], SpreadCentre::Median);
        assert!(matches!(single, Err(StatsError::NoDegreesOfFreedom { .. })));
        let one = spread_test(&[1.0, 2.0, 4.0], &[0, 0, 0], SpreadCentre::Median);
        assert!(matches!(one, Err(StatsError::TooFewGroups { .. })));
    }
}
