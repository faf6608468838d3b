//! Intraclass correlation where subjects may have different numbers of ratings.

use crate::stats::error::{StatsError, require_level};
use crate::stats::estimate::JointTest;
use crate::stats::numeric::{f_quantile, find_root, sum};
use crate::stats::repeatability::{OneWay, one_way, rounding_of};

/// The one-way intraclass correlation of unequal groups.
#[derive(Debug, Clone, PartialEq)]
pub struct OneWayIntraclass {
    /// `(B - W) / (B + (n_0 - 1) W)` with the mean squares between and within subjects: the share of the spread of single ratings that lies between
    /// subjects, by the method of moments.
    pub coefficient: f64,
    /// The analysis of variance it comes from.
    pub analysis: OneWay,
    within: f64,
}

/// ICC(1,1) for any numbers of ratings (Shrout & Fleiss 1979 for equal ones; `n_0` of Searle, Casella & McCulloch 1992, Variance Components, section 3.6).
/// `subjects` gives each rating the code of its subject.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFewGroups` under two subjects; `NoDegreesOfFreedom` where no subject has two ratings; `NoVariation` where all
/// ratings are equal.
pub fn intraclass_one_way(
    ratings: &[f64],
    subjects: &[usize],
) -> Result<OneWayIntraclass, StatsError> {
    let analysis = one_way(ratings, subjects)?;
    let within = analysis.within_mean_square()?;
    let between = analysis.between_mean_square();
    if between.max(within) <= rounding_of(ratings) {
        return Err(StatsError::NoVariation { what: "the ratings".into() });
    }
    let below = between + (analysis.effective_size() - 1.0) * within;
    Ok(OneWayIntraclass { coefficient: (between - within) / below, analysis, within })
}

impl OneWayIntraclass {
    /// Reliability of the mean of `ratings` ratings by Spearman-Brown, `m r / (1 + (m - 1) r)`, a negative correlation counting as none.
    pub fn of_mean(&self, ratings: f64) -> f64 {
        let r = self.coefficient.max(0.0);
        ratings * r / (1.0 + (ratings - 1.0) * r)
    }

    /// F test of "subjects do not differ"; exact for normal ratings whatever the numbers.
    ///
    /// # Errors
    /// None that the constructor has not refused.
    pub fn test(&self) -> Result<JointTest, StatsError> {
        self.analysis.test()
    }

    /// Interval that is exact for normal ratings of any numbers (Wald 1940, Annals of Mathematical Statistics 11, 96-100): the correlations `r` at which
    /// `H(r) = sum w_i (m_i - m_w)^2 / ((a - 1) W)`, `w_i = n_i (1 - r) / (1 + (n_i - 1) r)`, lies between the F quantiles; `H` falls in `r`. An end that would
    /// leave the range is set to the least possible correlation `-1 / (max n_i - 1)`.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`; `NoVariation` where ratings of a subject never differ, so that their error cannot be seen.
    pub fn interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        if self.within == 0.0 {
            let what = "the ratings within subjects".into();
            return Err(StatsError::NoVariation { what });
        }
        let first = self.analysis.between_degrees_of_freedom();
        let second = self.analysis.within_degrees_of_freedom();
        // some subject has two ratings, else the constructor had refused
        let most = self.analysis.groups.iter().map(|group| group.count).fold(2, usize::max);
        let least = -1.0 / (most as f64 - 1.0);
        let end = |quantile: f64| {
            let start = least + 1e-12;
            find_root(|r| self.weighted_statistic(r) - quantile, start, 1.0).unwrap_or(least)
        };
        Ok((
            end(f_quantile(0.5 * (1.0 + level), first, second)),
            end(f_quantile(0.5 * (1.0 - level), first, second)),
        ))
    }

    fn weighted_statistic(&self, r: f64) -> f64 {
        let groups = &self.analysis.groups;
        let weight = |count: usize| {
            let count = count as f64;
            count * (1.0 - r) / (1.0 + (count - 1.0) * r)
        };
        let total: f64 = groups.iter().map(|group| weight(group.count)).sum();
        if total == 0.0 {
            return 0.0;
        }
        let centre: f64 = groups.iter().map(|group| weight(group.count) / total * group.mean).sum();
        let terms: Vec<f64> = groups
            .iter()
            .map(|group| weight(group.count) * (group.mean - centre).powi(2))
            .collect();
        sum(&terms) / (self.analysis.between_degrees_of_freedom() * self.within)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::agreement::{IntraclassForm, RatingUnit, intraclass};
    use crate::stats::resample::replicate;
    use ndarray::Array2;
    use proptest::prelude::*;
    use rand_distr::{Distribution, StandardNormal};

    #[test]
    fn subjects_with_one_rating_each_are_refused() {
        let fault = intraclass_one_way(&[1.0, 2.0], &[0, 1]);
        assert!(matches!(fault, Err(StatsError::NoDegreesOfFreedom { .. })));
        let one = intraclass_one_way(&[1.0, 2.0], &[3, 3]);
        assert!(matches!(one, Err(StatsError::TooFewGroups { .. })));
        let flat = intraclass_one_way(&[0.1; 4], &[0, 0, 1, 1]);
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        assert!(intraclass_one_way(&[1.0, f64::NAN], &[0, 0]).is_err());
    }

    #[test]
    fn perfect_agreement_has_no_interval() {
        let found = intraclass_one_way(&[1.0, 1.0, 2.0, 2.0, 2.0], &[0, 0, 1, 1, 1]).unwrap();
        assert_eq!(found.coefficient, 1.0);
        assert!(matches!(found.interval(0.95), Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn subjects_with_equal_means_reach_the_least_correlation() {
        let found = intraclass_one_way(&[1.0, 3.0, 3.0, 1.0], &[0, 0, 1, 1]).unwrap();
        assert_eq!(found.coefficient, -1.0);
        assert_eq!(found.interval(0.95).unwrap(), (-1.0, -1.0));
        assert_eq!(found.of_mean(4.0), 0.0);
    }

    #[test]
    fn a_subject_rated_once_widens_nothing_but_counts() {
        let ratings = [1.0, 2.0, 5.0, 6.0, 9.0, 8.5, 3.0];
        let all = intraclass_one_way(&ratings, &[0, 0, 1, 1, 2, 2, 3]).unwrap();
        assert_eq!(all.analysis.groups.len(), 4);
        let (low, high) = all.interval(0.95).unwrap();
        assert!(low < all.coefficient && all.coefficient < high && high < 1.0);
    }

    #[test]
    fn the_interval_of_unequal_numbers_covers_as_it_says() {
        // 12 subjects with 1 to 6 ratings, true correlation 0.4; 600 draws of a share of 0.9 have a standard error of 0.0122
        let subjects: Vec<usize> =
            (0..12).flat_map(|subject| std::iter::repeat_n(subject, 1 + subject % 6)).collect();
        let covered = replicate(21, 600, |generator| {
            let mut draw = |sd: f64| -> f64 {
                let z: f64 = StandardNormal.sample(generator);
                sd * z
            };
            let levels: Vec<f64> = (0..12).map(|_| draw(0.4_f64.sqrt())).collect();
            let ratings: Vec<f64> =
                subjects.iter().map(|&subject| levels[subject] + draw(0.6_f64.sqrt())).collect();
            let found = intraclass_one_way(&ratings, &subjects).unwrap();
            let (low, high) = found.interval(0.9).unwrap();
            low <= 0.4 && 0.4 <= high
        });
        let share = covered.iter().filter(|&&inside| inside).count() as f64 / 600.0;
        assert!((share - 0.9).abs() < 3.5 * 0.0122, "{share}");
    }

    proptest! {
        #[test]
        fn with_equal_numbers_the_interval_is_the_exact_one(
            ratings in prop::collection::vec(-9.0_f64..9.0, 24), level in 0.5_f64..0.99
        ) {
            let subjects: Vec<usize> = (0..24).map(|row| row / 3).collect();
            let found = intraclass_one_way(&ratings, &subjects).unwrap();
            let table = intraclass(&Array2::from_shape_vec((8, 3), ratings).unwrap()).unwrap();
            let form = IntraclassForm::OneWay;
            let (low, high) = found.interval(level).unwrap();
            let exact = table.interval(form, RatingUnit::Single, level).unwrap();
            prop_assert!((low - exact.0).abs() < 1e-9 && (high - exact.1).abs() < 1e-9);
            let coefficient = table.coefficient(form, RatingUnit::Single).unwrap();
            prop_assert!((found.coefficient - coefficient).abs() < 1e-12);
        }
    }
}
