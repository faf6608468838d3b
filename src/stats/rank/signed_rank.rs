//! Paired differences compared with zero by their ranks.

use super::exact::{Counted, MOST_COUNTED};
use super::pairwise::median_of_pair_means;
use super::{Alternative, Ranking};
use crate::stats::error::{StatsError, require_finite};
use crate::whole;

/// Paired differences compared with zero.
#[derive(Debug, Clone, PartialEq)]
pub struct SignedRank {
    /// `V`: sum of the ranks of the positive differences.
    pub statistic: f64,
    /// Differences that are not zero, on which the test rests.
    pub used: usize,
    /// The middle of the differences: the median of the means of all pairs (Hodges & Lehmann 1963), zeros included, in their unit.
    pub pseudo_median: f64,
    /// Standard deviation of `V` where the differences are symmetric about zero, ties counted.
    standard_deviation: f64,
    /// Twice the mid-ranks: whole numbers.
    doubled_ranks: Vec<usize>,
}

/// Wilcoxon's signed-rank statistic (Wilcoxon 1945, Biometrics Bulletin 1, 80-83): absolute differences are ranked, zeros left out as he did, and the ranks
/// of the positive ones are summed.
///
/// # Errors
/// `Empty`, `NotFinite`; `NoVariation` where all differences are zero.
pub fn signed_rank(differences: &[f64]) -> Result<SignedRank, StatsError> {
    require_finite("the differences", differences)?;
    let moved: Vec<f64> = differences.iter().copied().filter(|value| *value != 0.0).collect();
    if moved.is_empty() {
        return Err(StatsError::NoVariation { what: "the pairs' difference from zero".into() });
    }
    let sizes: Vec<f64> = moved.iter().map(|value| value.abs()).collect();
    let ranking = Ranking::new(&sizes);
    let positive = ranking.ranks.iter().zip(&moved).filter(|(_, value)| **value > 0.0);
    let count = moved.len() as f64;
    let variance = count * (count + 1.0) * (2.0 * count + 1.0) / 24.0 - ranking.tie_term() / 48.0;
    let mut sorted = differences.to_vec();
    sorted.sort_by(f64::total_cmp);
    Ok(SignedRank {
        statistic: positive.map(|(rank, _)| rank).sum(),
        used: moved.len(),
        pseudo_median: median_of_pair_means(&sorted),
        standard_deviation: variance.sqrt(),
        doubled_ranks: ranking.ranks.iter().map(|rank| whole::part(2.0 * rank)).collect(),
    })
}

impl SignedRank {
    /// p value by the normal distribution with the variance for ties (Lehmann 1975, Nonparametrics, section 3.2); `continuity` takes half a step off.
    pub fn approximate_p_value(&self, alternative: Alternative, continuity: bool) -> f64 {
        let count = self.used as f64;
        let centre = 0.25 * count * (count + 1.0);
        let correction = if continuity { 0.5 } else { 0.0 };
        alternative.of_normal(self.statistic - centre, self.standard_deviation, correction)
    }

    /// p value over all signs of the observed (mid-)ranks; two-sided is twice the smaller tail. None over 50 differences.
    pub fn exact_p_value(&self, alternative: Alternative) -> Option<f64> {
        if self.used > MOST_COUNTED {
            return None;
        }
        let sums = Counted::sign_sums(&self.doubled_ranks);
        let (lower, upper) = sums.tails(whole::part(2.0 * self.statistic));
        Some(alternative.of_tails(lower, upper))
    }

    /// The exact p value up to 50 differences, else the normal one with continuity correction.
    pub fn p_value(&self, alternative: Alternative) -> f64 {
        let exact = self.exact_p_value(alternative);
        exact.unwrap_or_else(|| self.approximate_p_value(alternative, true))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_positive_differences_have_the_chance_of_one_pattern() {
        let found = signed_rank(&[1.0, 2.0, 3.0, 4.0, 5.0]).unwrap();
        assert_eq!((found.statistic, found.pseudo_median), (15.0, 3.0));
        assert_eq!(found.exact_p_value(Alternative::Greater), Some(1.0 / 32.0));
        assert_eq!(found.p_value(Alternative::TwoSided), 2.0 / 32.0);
    }

    #[test]
    fn zeros_are_left_out_of_the_test_and_ties_share_ranks() {
        // sizes 1 1 2 with mid-ranks 1.5 1.5 3; V = 1.5 + 3; sums of subsets: 0 1.5 1.5 3 3 4.5 4.5 6
        let found = signed_rank(&[0.0, -1.0, 1.0, 2.0]).unwrap();
        assert_eq!((found.used, found.statistic), (3, 4.5));
        assert_eq!(found.exact_p_value(Alternative::Greater), Some(3.0 / 8.0));
    }

    #[test]
    fn a_depression_scale_agrees_with_r() {
        // Hollander & Wolfe 1973, p. 29, Hamilton scale before and after; R 4.2.2: wilcox.test(before, after, paired = TRUE, conf.int = TRUE)
        let before = [1830, 500, 1620, 2480, 1680, 1880, 1550, 3060, 1300];
        let after = [878, 647, 598, 2050, 1060, 1290, 1060, 3140, 1290];
        let thousandths = before.iter().zip(after).map(|(a, b)| f64::from(a - b));
        let differences: Vec<f64> = thousandths.map(|difference| difference / 1e3).collect();
        let found = signed_rank(&differences).unwrap();
        assert_eq!(found.statistic, 40.0);
        assert!((found.p_value(Alternative::TwoSided) - 0.0390625).abs() < 1e-15);
        assert!((found.pseudo_median - 0.46).abs() < 1e-12);
    }

    #[test]
    fn the_two_ways_meet_in_larger_samples() {
        let differences: Vec<f64> = (1..=45).map(|i| f64::from((i * 17) % 47) - 20.0).collect();
        let found = signed_rank(&differences).unwrap();
        let exact = found.exact_p_value(Alternative::TwoSided).unwrap();
        assert!((exact - found.approximate_p_value(Alternative::TwoSided, true)).abs() < 0.005);
    }

    #[test]
    fn nothing_but_zeros_is_refused() {
        assert!(matches!(signed_rank(&[0.0, -0.0]), Err(StatsError::NoVariation { .. })));
        assert!(signed_rank(&[]).is_err());
        assert!(signed_rank(&[f64::NAN]).is_err());
    }
}
