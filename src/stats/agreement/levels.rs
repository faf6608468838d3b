//! How much higher one rater gives than another on the same subjects.

use crate::stats::design::{Design, group_means};
use crate::stats::error::{StatsError, require_count, require_length};
use crate::stats::estimate::Estimate;
use crate::stats::linear::least_squares;
use std::collections::{BTreeMap, BTreeSet};

/// Levels of raters, and the noise that is left.
#[derive(Debug, Clone, PartialEq)]
pub struct RaterLevels {
    /// By rising code: how much higher than the plain average of these raters each gives, in the unit of the ratings.
    pub levels: Vec<(usize, Estimate)>,
    /// Standard deviation of single ratings with subject and rater taken out.
    pub residual_standard_deviation: f64,
    /// Ratings less subjects less raters plus one.
    pub degrees_of_freedom: f64,
}

impl RaterLevels {
    /// Whether a level differs from the average at 0.05 over all raters: Bonferroni's bound, and for two raters their one comparison.
    pub fn stands_out(&self, level: &Estimate) -> bool {
        let tests = if self.levels.len() == 2 { 1 } else { self.levels.len() };
        level.p_value() * tests as f64 <= 0.05
    }
}

/// Least squares of `rating = subject + rater` (a row-and-column design, balanced or not: Searle 1987, Linear Models for Unbalanced Data, chapter 4), the
/// subjects taken out by their means. With a full table a level is the rater's mean less the grand mean, with the error `sqrt(MSE (k - 1) / (n k))`.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFew` under two raters; `RankDeficient` where subjects do not join all raters (see [`joined_raters`]);
/// `NoDegreesOfFreedom` where nothing is left for the error.
pub fn rater_levels(
    ratings: &[f64],
    subjects: &[usize],
    raters: &[usize],
) -> Result<RaterLevels, StatsError> {
    require_length("the list of subjects", ratings.len(), subjects.len())?;
    require_length("the list of raters", ratings.len(), raters.len())?;
    let codes: Vec<usize> = raters.iter().copied().collect::<BTreeSet<_>>().into_iter().collect();
    require_count("raters", 2, codes.len())?;
    let centred = |values: &[f64]| -> Result<Vec<f64>, StatsError> {
        let means = group_means(values, subjects)?;
        Ok(values.iter().zip(means).map(|(value, mean)| value - mean).collect())
    };
    let columns = codes.len() - 1;
    let several = subjects.iter().copied().collect::<BTreeSet<_>>().len();
    let free = ratings.len().checked_sub(several + columns).filter(|free| *free > 0);
    let free = free.ok_or_else(|| StatsError::NoDegreesOfFreedom {
        what: "raters on the same subjects".into(),
    })? as f64;
    let mut design = Design::builder(ratings.len());
    // each rater against the last: the levels then add up to zero
    for (place, code) in codes.iter().take(columns).enumerate() {
        let column: Vec<f64> = raters
            .iter()
            .map(|rater| f64::from(rater == code) - f64::from(*rater == codes[columns]))
            .collect();
        design = design.number(&place.to_string(), &centred(&column)?);
    }
    let fit = least_squares(&design.build()?, &centred(ratings)?)?;
    // the fit does not know that the subjects' means took degrees of freedom too
    let widened = (fit.residual_degrees_of_freedom as f64 / free).sqrt();
    let level = |place: usize| -> Result<(usize, Estimate), StatsError> {
        let own = |column: usize| f64::from(column == place);
        let last = place == columns;
        let contrast: Vec<f64> =
            (0..columns).map(|column| if last { -1.0 } else { own(column) }).collect();
        let known = fit.classical(&contrast)?;
        let estimate = Estimate {
            standard_error: known.standard_error * widened,
            degrees_of_freedom: free,
            ..known
        };
        Ok((codes[place], estimate))
    };
    Ok(RaterLevels {
        levels: (0..codes.len()).map(level).collect::<Result<_, _>>()?,
        residual_standard_deviation: fit.residual_standard_deviation() * widened,
        degrees_of_freedom: free,
    })
}

/// The raters that subjects rated by several join with each other, directly or over others: of all such groups the one with most ratings of subjects rated by
/// several raters, and of equal ones that with the lowest code. Empty where no subject was rated by two.
///
/// # Errors
/// `LengthMismatch`.
pub fn joined_raters(subjects: &[usize], raters: &[usize]) -> Result<Vec<usize>, StatsError> {
    require_length("the list of raters", subjects.len(), raters.len())?;
    let mut of_subject: BTreeMap<usize, BTreeMap<usize, usize>> = BTreeMap::new();
    for (&subject, &rater) in subjects.iter().zip(raters) {
        *of_subject.entry(subject).or_default().entry(rater).or_default() += 1;
    }
    let mut group: BTreeMap<usize, usize> = BTreeMap::new();
    let mut weight: BTreeMap<usize, usize> = BTreeMap::new();
    for raters in of_subject.values().filter(|raters| raters.len() > 1) {
        let known: BTreeSet<usize> =
            raters.keys().map(|rater| *group.get(rater).unwrap_or(rater)).collect();
        // several raters, so there is a first
        let into = known.first().copied().unwrap_or_default();
        for rater in raters.keys() {
            group.entry(*rater).or_insert(into);
        }
        if known.len() > 1 {
            group.values_mut().filter(|of| known.contains(of)).for_each(|of| *of = into);
        }
        for (rater, ratings) in raters {
            *weight.entry(*rater).or_default() += ratings;
        }
    }
    let mut of_group: BTreeMap<usize, usize> = BTreeMap::new();
    for (rater, ratings) in &weight {
        // every rater with a weight has a group
        *of_group.entry(group[rater]).or_default() += ratings;
    }
    let most = of_group.iter().max_by_key(|(of, ratings)| (**ratings, std::cmp::Reverse(**of)));
    let most = most.map(|(of, _)| *of);
    Ok(group.into_iter().filter(|(_, of)| Some(*of) == most).map(|(rater, _)| rater).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shrout & Fleiss 1979, table 2: six targets, four judges. Judge means 7.667, 2.5, 4.333, 6.667; grand mean 5.292; error mean square 1.0194 (table 3).
    const TARGETS: [[f64; 4]; 6] = [
        [9.0, 2.0, 5.0, 8.0],
        [6.0, 1.0, 3.0, 2.0],
        [8.0, 4.0, 6.0, 8.0],
        [7.0, 1.0, 2.0, 6.0],
        [10.0, 5.0, 6.0, 9.0],
        [6.0, 2.0, 4.0, 7.0],
    ];

    fn rows(keep: impl Fn(usize, usize) -> bool) -> (Vec<f64>, Vec<usize>, Vec<usize>) {
        let mut out = (Vec::new(), Vec::new(), Vec::new());
        for (subject, ratings) in TARGETS.iter().enumerate() {
            for (rater, rating) in ratings.iter().enumerate().filter(|(r, _)| keep(subject, *r)) {
                out.0.push(*rating);
                out.1.push(subject);
                out.2.push(rater);
            }
        }
        out
    }

    #[test]
    fn in_a_full_table_a_level_is_the_raters_mean_less_the_grand_mean() {
        let (ratings, subjects, raters) = rows(|_, _| true);
        let found = rater_levels(&ratings, &subjects, &raters).unwrap();
        let means = [46.0 / 6.0, 15.0 / 6.0, 26.0 / 6.0, 40.0 / 6.0];
        let grand = means.iter().sum::<f64>() / 4.0;
        for ((_, level), mean) in found.levels.iter().zip(means) {
            assert!((level.value - (mean - grand)).abs() < 1e-12, "{level:?}");
        }
        let mse = found.residual_standard_deviation.powi(2);
        assert!((mse - 1.0194).abs() < 5e-5, "{mse}");
        assert_eq!(found.degrees_of_freedom, 15.0);
        let error = (mse * 3.0 / 24.0).sqrt();
        for (_, level) in &found.levels {
            assert!((level.standard_error - error).abs() < 1e-12);
        }
    }

    /// Rater 1 says two more than rater 0 and rater 2 one less than rater 1, each pair on subjects of its own.
    #[test]
    fn raters_are_compared_over_a_third_and_better_subjects_make_nobody_lenient() {
        let ratings = [1.0, 3.0, 5.0, 7.2, 20.0, 19.0, 30.0, 29.1];
        let (subjects, raters) = ([0, 0, 1, 1, 2, 2, 3, 3], [0, 1, 0, 1, 1, 2, 1, 2]);
        let found = rater_levels(&ratings, &subjects, &raters).unwrap();
        let values: Vec<f64> = found.levels.iter().map(|(_, level)| level.value).collect();
        assert!((values[1] - values[0] - 2.1).abs() < 1e-12);
        assert!((values[1] - values[2] - 0.95).abs() < 1e-12);
        assert!(values.iter().sum::<f64>().abs() < 1e-12);
    }

    #[test]
    fn raters_of_other_subjects_are_not_joined() {
        let (subjects, raters) = ([0, 0, 1, 1, 2, 2, 3, 9], [0, 1, 1, 2, 5, 6, 7, 7]);
        assert_eq!(joined_raters(&subjects, &raters).unwrap(), [0, 1, 2]);
        assert!(joined_raters(&[0, 1], &[0, 1]).unwrap().is_empty());
        let apart =
            rater_levels(&[1.0, 2.0, 3.0, 4.0, 5.0, 7.0], &[0, 0, 1, 1, 0, 1], &[0, 1, 2, 3, 0, 2]);
        assert!(matches!(apart, Err(StatsError::RankDeficient { .. })), "{apart:?}");
    }

    #[test]
    fn a_chain_that_closes_late_joins_all() {
        let (subjects, raters) = ([0, 0, 1, 1, 2, 2], [3, 4, 1, 2, 2, 4]);
        assert_eq!(joined_raters(&subjects, &raters).unwrap(), [1, 2, 3, 4]);
    }

    #[test]
    fn one_rater_or_no_repeats_are_refused() {
        assert!(matches!(
            rater_levels(&[1.0, 2.0], &[0, 1], &[0, 0]),
            Err(StatsError::TooFew { .. })
        ));
        let single = rater_levels(&[1.0, 2.0], &[0, 0], &[0, 1]);
        assert!(matches!(single, Err(StatsError::NoDegreesOfFreedom { .. })));
    }
}
