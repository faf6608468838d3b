//! Several raters, not always the same ones, who put subjects into categories.

use crate::stats::error::{StatsError, require_count, require_length};
use crate::stats::estimate::Estimate;
use std::collections::BTreeMap;

/// Kappa of one category against all others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CategoryKappa {
    /// The category's code.
    pub category: usize,
    /// Share of all ratings that chose it.
    pub share: f64,
    /// Its kappa, with the error under chance agreement `sqrt(2 / (N n (n - 1)))`.
    pub kappa: Estimate,
}

/// Agreement of several raters beyond chance.
#[derive(Debug, Clone, PartialEq)]
pub struct FleissKappa {
    /// Kappa, with the error where the raters agree by chance alone: for a test, not for an interval. Infinite degrees of freedom.
    pub kappa: Estimate,
    /// Share of agreeing pairs of ratings.
    pub observed: f64,
    /// The same as expected by chance.
    pub expected: f64,
    /// Every category that was used, by rising code.
    pub categories: Vec<CategoryKappa>,
    /// Subjects.
    pub subjects: usize,
    /// Ratings of each subject.
    pub raters: usize,
}

/// `kappa = (P - P_e) / (1 - P_e)`: `P` the share of agreeing pairs of the `n` ratings of each of `N` subjects, `P_e = sum p_j^2` (Fleiss 1971,
/// Psychological Bulletin 76, 378-382), with the variance under chance of Fleiss, Nee & Landis (1979, Psychological Bulletin 86, 974-977). Each rating has the
/// code of its category and of its subject; every subject has the same number of ratings. With unequal numbers, use [`super::krippendorff_alpha`].
///
/// # Errors
/// `Empty`, `LengthMismatch` also for unequal numbers; `TooFew` under two subjects or ratings a subject; `NoVariation` where only one category was used.
pub fn fleiss_kappa(categories: &[usize], subjects: &[usize]) -> Result<FleissKappa, StatsError> {
    let (counts, raters) = counted(categories, subjects)?;
    let (subjects, n) = (counts.len() as f64, raters as f64);
    // pairs of a subject's ratings that chose the same category, in all and by category
    let mut used: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for (&category, &count) in counts.values().flatten() {
        let count = count as f64;
        let entry = used.entry(category).or_default();
        entry.0 += count;
        entry.1 += count * (n - count);
    }
    require_variation(used.len())?;
    let ratings = subjects * n;
    let by_chance = (2.0 / (ratings * (n - 1.0))).sqrt();
    let each = used.into_iter().map(|(category, (count, apart))| {
        let share = count / ratings;
        let value = 1.0 - apart / (ratings * (n - 1.0) * share * (1.0 - share));
        let kappa = estimate(value, by_chance);
        (CategoryKappa { category, share, kappa }, apart)
    });
    let (categories, apart): (Vec<CategoryKappa>, Vec<f64>) = each.unzip();
    let observed = 1.0 - apart.iter().sum::<f64>() / (ratings * (n - 1.0));
    let total = |term: fn(f64) -> f64| categories.iter().map(|one| term(one.share)).sum::<f64>();
    let left = total(|p| p * (1.0 - p));
    let skew = total(|p| p * (1.0 - p) * (1.0 - 2.0 * p));
    let error = by_chance * (left * left - skew).max(0.0).sqrt() / left;
    Ok(FleissKappa {
        kappa: estimate(1.0 - (1.0 - observed) / left, error),
        observed,
        expected: 1.0 - left,
        categories,
        subjects: counts.len(),
        raters,
    })
}

fn estimate(value: f64, standard_error: f64) -> Estimate {
    Estimate { value, standard_error, degrees_of_freedom: f64::INFINITY }
}

fn require_variation(categories: usize) -> Result<(), StatsError> {
    if categories > 1 {
        return Ok(());
    }
    Err(StatsError::NoVariation { what: "the category".into() })
}

/// Ratings of a subject by category.
type Counts = BTreeMap<usize, usize>;

/// Ratings of every subject by category, and how many each subject has.
fn counted(
    categories: &[usize],
    subjects: &[usize],
) -> Result<(BTreeMap<usize, Counts>, usize), StatsError> {
    require_length("the list of subjects", categories.len(), subjects.len())?;
    let mut counts: BTreeMap<usize, Counts> = BTreeMap::new();
    for (&category, &subject) in categories.iter().zip(subjects) {
        *counts.entry(subject).or_default().entry(category).or_default() += 1;
    }
    let total = |counts: &Counts| counts.values().sum::<usize>();
    let Some(raters) = counts.values().next().map(total) else {
        return Err(StatsError::Empty { what: "the list of ratings".into() });
    };
    require_count("subjects", 2, counts.len())?;
    for (subject, of_subject) in &counts {
        require_length(&format!("the subject with code {subject}"), raters, total(of_subject))?;
    }
    require_count("ratings of each subject", 2, raters)?;
    Ok((counts, raters))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn full_agreement_is_one_in_all_and_in_each_category() {
        let found = fleiss_kappa(&[1, 1, 1, 2, 2, 2], &[0, 0, 0, 1, 1, 1]).unwrap();
        assert_eq!((found.kappa.value, found.observed), (1.0, 1.0));
        assert!(found.categories.iter().all(|one| one.kappa.value == 1.0));
    }

    #[test]
    fn pairs_that_never_agree_are_minus_one() {
        let found = fleiss_kappa(&[0, 1, 1, 0], &[0, 0, 1, 1]).unwrap();
        assert_eq!(found.kappa.value, -1.0);
    }

    #[test]
    fn a_single_rater_unequal_numbers_and_one_category_are_refused() {
        let single = fleiss_kappa(&[0, 1], &[0, 1]);
        assert!(matches!(single, Err(StatsError::TooFew { found: 1, needed: 2, .. })));
        let uneven = fleiss_kappa(&[0, 1, 1], &[0, 0, 1]);
        assert!(matches!(uneven, Err(StatsError::LengthMismatch { expected: 2, found: 1, .. })));
        let flat = fleiss_kappa(&[4; 4], &[0, 0, 1, 1]);
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        assert!(matches!(fleiss_kappa(&[0, 1], &[0, 0]), Err(StatsError::TooFew { .. })));
        assert!(fleiss_kappa(&[], &[]).is_err());
    }

    proptest! {
        #[test]
        fn kappa_is_the_mean_of_the_categories_weighted_by_p_times_q(
            codes in prop::collection::vec(0_usize..4, 30)
        ) {
            let subjects: Vec<usize> = (0..30).map(|row| row / 5).collect();
            if let Ok(found) = fleiss_kappa(&codes, &subjects) {
                let weight = |one: &CategoryKappa| one.share * (1.0 - one.share);
                let below: f64 = found.categories.iter().map(weight).sum();
                let above: f64 =
                    found.categories.iter().map(|one| weight(one) * one.kappa.value).sum();
                prop_assert!((found.kappa.value - above / below).abs() < 1e-12);
            }
        }
    }
}
