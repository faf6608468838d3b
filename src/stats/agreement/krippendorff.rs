//! Krippendorff's alpha: any number of raters, ratings may be missing.

use super::bootstrap::{BootstrapInterval, percentile_interval};
use crate::stats::error::{StatsError, require_count};
use crate::stats::rank::Ranking;
use crate::stats::repeatability::group_values;
use crate::stats::resample::{bootstrap_indices, replicate};

/// What differences of ratings mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Names: any difference counts 1.
    Nominal,
    /// Ordered categories: the number of ratings between two, squared.
    Ordinal,
    /// Equal steps: the difference, squared.
    Interval,
    /// A true zero: `((a - b) / (a + b))^2`; no rating may be negative.
    Ratio,
}

/// Agreement beyond chance: 1 is perfect, 0 is what chance gives, negative is systematic disagreement.
#[derive(Debug, Clone, PartialEq)]
pub struct KrippendorffAlpha {
    /// `alpha`.
    pub alpha: f64,
    /// Units with two ratings or more, which it rests on.
    pub units: usize,
    /// Their ratings.
    pub ratings: usize,
    scale: Scale,
    /// Ratings of each of those units.
    members: Vec<Vec<f64>>,
}

/// `alpha = 1 - D_o / D_e`: the mean disagreement of ratings of the same unit over that of all ratings of all units (Krippendorff 2004, Content Analysis, 2nd
/// ed., chapter 11; 2011, Computing Krippendorff's alpha-reliability). Each rating has the code of its unit; a missing rating has no row, and units with one
/// rating are left out. O(n log n), but on the ratio scale O(k^2) in the number of different ratings.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFew` under two units with two ratings; `OutOfRange` for a negative rating on the ratio scale; `NoVariation`
/// where all those ratings are equal.
pub fn krippendorff_alpha(
    ratings: &[f64],
    units: &[usize],
    scale: Scale,
) -> Result<KrippendorffAlpha, StatsError> {
    let members: Vec<Vec<f64>> =
        group_values(ratings, units)?.into_values().filter(|unit| unit.len() > 1).collect();
    require_count("units with two ratings", 2, members.len())?;
    if let Some(&value) = ratings.iter().find(|rating| scale == Scale::Ratio && **rating < 0.0) {
        let (what, expected) = ("a rating on the ratio scale".into(), "zero or more".into());
        return Err(StatsError::OutOfRange { what, value, expected });
    }
    let all: Vec<&[f64]> = members.iter().map(Vec::as_slice).collect();
    let alpha = alpha_of(&all, scale);
    let alpha = alpha.ok_or_else(|| StatsError::NoVariation { what: "the rating".into() })?;
    let count = members.iter().map(Vec::len).sum();
    Ok(KrippendorffAlpha { alpha, units: members.len(), ratings: count, scale, members })
}

impl KrippendorffAlpha {
    /// Percentile interval from bootstrap samples of whole units (Efron & Tibshirani 1993, An Introduction to the Bootstrap, chapter 13), seeded, the same on
    /// any number of threads. With few units it is too narrow. Samples in which all ratings are equal have no alpha and are counted apart.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`; `TooFew` under 100 replicates; `NoVariation` where more than one sample in ten has no alpha.
    pub fn bootstrap_interval(
        &self,
        level: f64,
        replicates: usize,
        seed: u64,
    ) -> Result<BootstrapInterval, StatsError> {
        require_count("bootstrap replicates", 100, replicates)?;
        let draws = replicate(seed, replicates, |generator| {
            let drawn = bootstrap_indices(generator, self.members.len());
            let units: Vec<&[f64]> =
                drawn.into_iter().map(|unit| self.members[unit].as_slice()).collect();
            alpha_of(&units, self.scale)
        });
        percentile_interval(&draws, level)
    }
}

/// None where all ratings are equal.
fn alpha_of(units: &[&[f64]], scale: Scale) -> Option<f64> {
    let values = units.concat();
    let ranking = Ranking::new(&values);
    if ranking.is_constant() {
        return None;
    }
    // between two ordered categories lie as many ratings as their mid-ranks are apart, so the ordinal scale is the interval scale of mid-ranks
    let placed =
        if scale == Scale::Nominal || scale == Scale::Ordinal { ranking.ranks } else { values };
    let difference = match scale {
        Scale::Nominal => unequal_pairs,
        Scale::Ordinal | Scale::Interval => squared_differences,
        Scale::Ratio => relative_differences,
    };
    let count = placed.len() as f64;
    let mut observed = 0.0;
    let mut rest = placed.as_slice();
    for unit in units {
        let (own, others) = rest.split_at(unit.len());
        observed += difference(own) / (own.len() as f64 - 1.0);
        rest = others;
    }
    let expected = difference(&placed) / (count - 1.0);
    Some(1.0 - observed / expected)
}

/// Values and how often each occurs.
fn tallied(values: &[f64]) -> Vec<(f64, f64)> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let runs = sorted.chunk_by(|a, b| a == b);
    runs.filter_map(|run| run.first().map(|&value| (value, run.len() as f64))).collect()
}

/// Ordered pairs of different values.
fn unequal_pairs(values: &[f64]) -> f64 {
    let count = values.len() as f64;
    tallied(values).iter().map(|(_, times)| times * (count - times)).sum()
}

/// `sum (a - b)^2` over ordered pairs, which is `2 n sum (a - mean)^2`.
fn squared_differences(values: &[f64]) -> f64 {
    let count = values.len() as f64;
    let first = values.first().copied().unwrap_or(0.0);
    // deviations from one of the values first: equal values then give exactly zero
    let deviation: f64 = values.iter().map(|value| value - first).sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - first - deviation).powi(2)).sum();
    2.0 * count * squares
}

/// `sum ((a - b) / (a + b))^2` over ordered pairs, two zeros not differing.
fn relative_differences(values: &[f64]) -> f64 {
    let tally = tallied(values);
    let mut total = 0.0;
    for (place, (high, many)) in tally.iter().enumerate() {
        for (low, others) in tally.iter().take(place) {
            total += 2.0 * many * others * ((high - low) / (high + low)).powi(2);
        }
    }
    total
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SCALES: [Scale; 4] = [Scale::Nominal, Scale::Ordinal, Scale::Interval, Scale::Ratio];

    #[test]
    fn full_agreement_is_one_on_every_scale() {
        for scale in SCALES {
            let found = krippendorff_alpha(&[0.1, 0.1, 0.7, 0.7], &[0, 0, 1, 1], scale).unwrap();
            assert_eq!(found.alpha, 1.0);
        }
    }

    #[test]
    fn units_with_one_rating_are_left_out() {
        let all = krippendorff_alpha(&[1.0, 2.0, 3.0, 3.0, 9.0], &[0, 0, 1, 1, 2], Scale::Interval);
        let fewer = krippendorff_alpha(&[1.0, 2.0, 3.0, 3.0], &[0, 0, 1, 1], Scale::Interval);
        assert_eq!(all, fewer);
        assert_eq!(all.unwrap().ratings, 4);
    }

    #[test]
    fn the_difference_of_ordered_categories_is_the_number_of_ratings_between() {
        // Krippendorff 2011: (sum of counts from c to k less half of both ends)^2, here counts 2, 3, 1 of the ratings 1, 2, 9
        let ratings = [1.0, 1.0, 2.0, 2.0, 2.0, 9.0];
        let found = krippendorff_alpha(&ratings, &[0, 0, 1, 1, 2, 2], Scale::Ordinal).unwrap();
        let between = |a: f64, b: f64, inner: f64| (a / 2.0 + inner + b / 2.0).powi(2);
        let expected = 2.0 * 3.0 * between(2.0, 3.0, 0.0)
            + 2.0 * 1.0 * between(2.0, 1.0, 3.0)
            + 3.0 * 1.0 * between(3.0, 1.0, 0.0);
        // one disagreeing unit, 2 and 9
        let observed = between(3.0, 1.0, 0.0);
        assert!((found.alpha - (1.0 - 5.0 * observed / expected)).abs() < 1e-14);
    }

    #[test]
    fn one_unit_one_rater_and_equal_ratings_are_refused() {
        let one = krippendorff_alpha(&[1.0, 2.0, 3.0], &[0, 0, 1], Scale::Ordinal);
        assert!(matches!(one, Err(StatsError::TooFew { found: 1, needed: 2, .. })));
        let single = krippendorff_alpha(&[1.0, 2.0], &[0, 1], Scale::Nominal);
        assert!(matches!(single, Err(StatsError::TooFew { found: 0, .. })));
        for scale in SCALES {
            let flat = krippendorff_alpha(&[0.3; 4], &[0, 0, 1, 1], scale);
            assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        }
        assert!(krippendorff_alpha(&[f64::NAN, 1.0], &[0, 0], Scale::Interval).is_err());
        assert!(krippendorff_alpha(&[], &[], Scale::Interval).is_err());
    }

    #[test]
    fn a_negative_rating_has_no_ratio() {
        let found = krippendorff_alpha(&[-1.0, 1.0, 2.0, 3.0], &[0, 0, 1, 1], Scale::Ratio);
        assert!(matches!(found, Err(StatsError::OutOfRange { .. })));
        assert!(krippendorff_alpha(&[0.0, 0.0, 2.0, 3.0], &[0, 0, 1, 1], Scale::Ratio).is_ok());
    }

    #[test]
    fn the_interval_is_the_same_on_any_number_of_threads() {
        let ratings: Vec<f64> = (0..60).map(|row| f64::from((row / 3 + row % 3 % 2) % 5)).collect();
        let units: Vec<usize> = (0..60).map(|row| row / 3).collect();
        let found = krippendorff_alpha(&ratings, &units, Scale::Ordinal).unwrap();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            pool.unwrap().install(|| found.bootstrap_interval(0.95, 200, 3).unwrap())
        };
        let one = on(1);
        assert_eq!(one, on(2));
        assert_eq!(one, on(7));
        assert!(one.low < found.alpha && found.alpha < one.high);
    }

    #[test]
    fn units_that_mostly_agree_on_one_value_have_no_interval() {
        let ratings = [1.0, 1.0, 1.0, 1.0, 1.0, 2.0];
        let found = krippendorff_alpha(&ratings, &[0, 0, 1, 1, 2, 2], Scale::Nominal).unwrap();
        let interval = found.bootstrap_interval(0.95, 400, 1);
        assert!(matches!(interval, Err(StatsError::NoVariation { .. })));
        assert!(matches!(found.bootstrap_interval(0.95, 9, 1), Err(StatsError::TooFew { .. })));
    }

    proptest! {
        #[test]
        fn alpha_is_one_less_the_ratio_of_all_pairs(
            rows in prop::collection::vec((0_u8..6, 0_usize..5), 6..40)
        ) {
            let ratings: Vec<f64> = rows.iter().map(|row| f64::from(row.0)).collect();
            let units: Vec<usize> = rows.iter().map(|row| row.1).collect();
            let size = |unit: usize| units.iter().filter(|&&other| other == unit).count() as f64;
            let kept: Vec<usize> = (0..rows.len()).filter(|&i| size(units[i]) > 1.0).collect();
            let (mut within, mut all) = (0.0, 0.0);
            for &i in &kept {
                for &j in &kept {
                    let squared = (ratings[i] - ratings[j]).powi(2);
                    all += squared / (kept.len() as f64 - 1.0);
                    if units[i] == units[j] {
                        within += squared / (size(units[i]) - 1.0);
                    }
                }
            }
            if let Ok(found) = krippendorff_alpha(&ratings, &units, Scale::Interval) {
                prop_assert!((found.alpha - (1.0 - within / all)).abs() < 1e-10);
            }
        }
    }
}
