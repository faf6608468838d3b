//! Two samples compared by their ranks.

use super::exact::{Counted, MOST_COUNTED, TAIL_ROUNDING};
use super::pairwise::Differences;
use super::{Alternative, Ranking};
use crate::stats::error::{StatsError, require_finite, require_level};
use crate::stats::numeric::normal_quantile;
use crate::whole;

/// Two samples compared by the Mann-Whitney statistic.
#[derive(Debug, Clone, PartialEq)]
pub struct MannWhitney {
    /// Pairs in which the first sample's value is the larger, ties counting one half.
    pub u: f64,
    /// `2 u / (n m) - 1`: the share of pairs the first sample wins less the share it loses, from -1 to 1 (Wendt 1972, European Journal of Social
    /// Psychology 2, 463-465).
    pub rank_biserial: f64,
    /// Both samples, sorted.
    first: Vec<f64>,
    second: Vec<f64>,
    /// Standard deviation of `u` where the samples do not differ, ties counted.
    standard_deviation: f64,
    /// Twice the mid-ranks of the first sample, then of the second: whole numbers.
    doubled_ranks: Vec<usize>,
}

/// `U = R - n (n + 1) / 2` with `R` the rank sum of the first sample in both together (Wilcoxon 1945, Biometrics Bulletin 1, 80-83; Mann & Whitney 1947,
/// Annals of Mathematical Statistics 18, 50-60). O(n log n).
///
/// # Errors
/// `Empty`, `NotFinite`; `NoVariation` where all values are equal.
pub fn mann_whitney(first: &[f64], second: &[f64]) -> Result<MannWhitney, StatsError> {
    require_finite("the first sample", first)?;
    require_finite("the second sample", second)?;
    let ranking = Ranking::new(&[first, second].concat());
    if ranking.is_constant() {
        return Err(StatsError::NoVariation { what: "the two samples together".into() });
    }
    let (n, m) = (first.len() as f64, second.len() as f64);
    let rank_sum: f64 = ranking.ranks.iter().take(first.len()).sum();
    let u = rank_sum - 0.5 * n * (n + 1.0);
    let total = n + m;
    let spread = total + 1.0 - ranking.tie_term() / (total * (total - 1.0));
    Ok(MannWhitney {
        u,
        rank_biserial: 2.0 * u / (n * m) - 1.0,
        first: sorted(first),
        second: sorted(second),
        standard_deviation: (n * m / 12.0 * spread).sqrt(),
        doubled_ranks: ranking.ranks.iter().map(|rank| whole::part(2.0 * rank)).collect(),
    })
}

fn sorted(values: &[f64]) -> Vec<f64> {
    let mut values = values.to_vec();
    values.sort_by(f64::total_cmp);
    values
}

impl MannWhitney {
    /// p value by the normal distribution with the variance for ties (Lehmann 1975, Nonparametrics, section 1.4); `continuity` takes half a step off.
    pub fn approximate_p_value(&self, alternative: Alternative, continuity: bool) -> f64 {
        let centre = 0.5 * self.differences().count() as f64;
        let correction = if continuity { 0.5 } else { 0.0 };
        alternative.of_normal(self.u - centre, self.standard_deviation, correction)
    }

    /// p value over all ways to deal the observed (mid-)ranks to the two samples, ties included; two-sided is twice the smaller tail. None over 50 values.
    pub fn exact_p_value(&self, alternative: Alternative) -> Option<f64> {
        if self.doubled_ranks.len() > MOST_COUNTED {
            return None;
        }
        // the smaller sample has fewer sums; its being large is the first sample's being small
        let (first, second) = self.doubled_ranks.split_at(self.first.len());
        let of_first = first.len() <= second.len();
        let dealt = if of_first { first } else { second };
        let sums = Counted::subset_sums(&self.doubled_ranks, dealt.len());
        let (lower, upper) = sums.tails(dealt.iter().sum());
        let (lower, upper) = if of_first { (lower, upper) } else { (upper, lower) };
        Some(alternative.of_tails(lower, upper))
    }

    /// The exact p value up to 50 values, else the normal one with continuity correction.
    pub fn p_value(&self, alternative: Alternative) -> f64 {
        let exact = self.exact_p_value(alternative);
        exact.unwrap_or_else(|| self.approximate_p_value(alternative, true))
    }

    /// How much larger the first sample is: the median of all differences (Hodges & Lehmann 1963, Annals of Mathematical Statistics 34, 598-611), in the
    /// unit of the values.
    pub fn shift(&self) -> f64 {
        self.differences().median()
    }

    /// Interval of the shift from the order statistics of the differences (Moses 1965, in Walker & Lev; Hollander & Wolfe 1973, section 4.3): the `c`-th
    /// smallest and largest, `P(U < c) <= (1 - level) / 2`, exact up to 50 values, else `c = floor(n m / 2 - z sd)`. Computed as if there were no ties, which
    /// with ties makes it wider. Samples must have the same shape.
    ///
    /// # Errors
    /// `OutOfRange` unless `0 < level < 1`, and where samples so small cannot reach that level.
    pub fn shift_interval(&self, level: f64) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        let tail = 0.5 * (1.0 - level);
        let extreme = self.chance_of_no_overlap();
        if extreme > TAIL_ROUNDING * tail {
            return Err(StatsError::OutOfRange {
                what: "the level of an interval from so few values".into(),
                value: level,
                expected: format!("at most {:.3}", (1.0 - 2.0 * extreme).max(0.0)),
            });
        }
        let differences = self.differences();
        let from_end = self.differences_cut_off(tail).max(1);
        let low = differences.order_statistic(from_end);
        Ok((low, differences.order_statistic(differences.count() + 1 - from_end)))
    }

    fn differences(&self) -> Differences<'_> {
        Differences { first: &self.first, second: &self.second }
    }

    /// `P(U = 0)`, one in `C(n + m, n)`.
    fn chance_of_no_overlap(&self) -> f64 {
        let (small, large) =
            (self.first.len().min(self.second.len()), self.first.len().max(self.second.len()));
        (1..=small).map(|i| i as f64 / (large + i) as f64).product()
    }

    fn differences_cut_off(&self, tail: f64) -> u64 {
        let (n, total) = (self.first.len(), self.doubled_ranks.len());
        if total <= MOST_COUNTED {
            let ranks: Vec<usize> = (1..=total).collect();
            let least = n * (n + 1) / 2;
            return (Counted::subset_sums(&ranks, n).lower_point(tail) - least) as u64;
        }
        let count = self.differences().count() as f64;
        let spread = (count * (total as f64 + 1.0) / 12.0).sqrt();
        whole::part(0.5 * count + normal_quantile(tail) * spread) as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn samples_apart_have_the_chance_of_one_deal() {
        let found = mann_whitney(&[4.0, 5.0, 6.0], &[1.0, 2.0, 3.0]).unwrap();
        assert_eq!((found.u, found.rank_biserial, found.shift()), (9.0, 1.0, 3.0));
        assert_eq!(found.exact_p_value(Alternative::Greater), Some(1.0 / 20.0));
        assert_eq!(found.exact_p_value(Alternative::TwoSided), Some(2.0 / 20.0));
        assert_eq!(found.exact_p_value(Alternative::Less), Some(1.0));
    }

    #[test]
    fn ties_are_counted_in_the_exact_tail() {
        // pooled 1 2 2 3 with mid-ranks 1 2.5 2.5 4: of six pairs, two reach 6.5 (2 and 3)
        let found = mann_whitney(&[2.0, 3.0], &[1.0, 2.0]).unwrap();
        assert_eq!(found.u, 3.5);
        assert_eq!(found.exact_p_value(Alternative::Greater), Some(2.0 / 6.0));
    }

    #[test]
    fn permeability_intervals_agree_with_r() {
        // the reference case of the same name; R 4.2.2: wilcox.test(at_term, early, conf.int = TRUE, conf.level = .95 and .8)
        let at_term = [0.8, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46];
        let found = mann_whitney(&at_term, &[1.15, 0.88, 0.9, 0.74, 1.21]).unwrap();
        for (level, low, high) in [(0.95, -0.15, 0.76), (0.8, -0.05, 0.70)] {
            let interval = found.shift_interval(level).unwrap();
            assert!((interval.0 - low).abs() < 1e-12 && (interval.1 - high).abs() < 1e-12);
        }
    }

    #[test]
    fn tied_samples_agree_with_r_and_scipy() {
        let one = [1.0, 2.0, 2.0, 3.0, 4.0, 5.0, 5.0, 5.0, 7.0, 9.0, 3.0, 1.0];
        let other = [2.0, 1.0, 3.0, 3.0, 5.0, 4.0, 6.0, 6.0, 6.0, 8.0, 3.0, 2.0];
        // R 4.2.2: wilcox.test(one, other, exact = FALSE)
        let found = mann_whitney(&one, &other).unwrap();
        let p = found.approximate_p_value(Alternative::TwoSided, true);
        assert!((p - 0.748225401731574).abs() < 1e-9);
        // scipy 1.17.1: stats.permutation_test of the rank sum, alternative='less', n_resamples=inf
        let found = mann_whitney(&[1.0, 2.0, 2.0, 3.0, 5.0], &[2.0, 4.0, 5.0, 5.0, 6.0]).unwrap();
        let p = found.exact_p_value(Alternative::Less).unwrap();
        assert!((p - 19.0 / 252.0).abs() < 1e-15);
    }

    #[test]
    fn three_against_three_cannot_give_a_95_percent_interval() {
        let found = mann_whitney(&[4.0, 5.0, 6.0], &[1.0, 2.0, 3.0]).unwrap();
        let fault = found.shift_interval(0.95);
        assert!(matches!(fault, Err(StatsError::OutOfRange { value, .. }) if value == 0.95));
        assert_eq!(found.shift_interval(0.9).unwrap(), (1.0, 5.0));
    }

    #[test]
    fn one_value_against_sixty_can() {
        let many: Vec<f64> = (0..60).map(f64::from).collect();
        let found = mann_whitney(&[30.5], &many).unwrap();
        assert_eq!(found.shift_interval(0.95).unwrap(), (-28.5, 30.5));
        assert!(mann_whitney(&[30.5], &many[..20]).unwrap().shift_interval(0.95).is_err());
    }

    #[test]
    fn a_single_tie_and_nonsense_are_refused() {
        assert!(matches!(mann_whitney(&[1.0, 1.0], &[1.0]), Err(StatsError::NoVariation { .. })));
        assert!(matches!(mann_whitney(&[], &[1.0]), Err(StatsError::Empty { .. })));
        let bad = mann_whitney(&[1.0], &[2.0, f64::INFINITY]);
        assert!(matches!(bad, Err(StatsError::NotFinite { row: 1, .. })));
    }

    #[test]
    fn a_hundred_thousand_values_have_a_shift() {
        let first: Vec<f64> = (0..50_000).map(|i| f64::from(i % 1009) + 5.0).collect();
        let second: Vec<f64> = (0..50_000).map(|i| f64::from(i % 1009)).collect();
        let found = mann_whitney(&first, &second).unwrap();
        assert_eq!(found.shift(), 5.0);
        let (low, high) = found.shift_interval(0.95).unwrap();
        assert!(low < 5.0 && high > 5.0 && high - low < 12.0);
    }

    proptest! {
        #[test]
        fn exchanging_the_samples_mirrors_everything(
            first in prop::collection::vec(0_u8..9, 2..9),
            second in prop::collection::vec(9_u8..15, 4..12),
        ) {
            let first: Vec<f64> = first.into_iter().map(f64::from).collect();
            let second: Vec<f64> = second.into_iter().map(f64::from).collect();
            let one = mann_whitney(&first, &second).unwrap();
            let other = mann_whitney(&second, &first).unwrap();
            prop_assert_eq!(one.shift(), -other.shift());
            let tail = one.exact_p_value(Alternative::Less).unwrap();
            let mirrored = other.exact_p_value(Alternative::Greater).unwrap();
            prop_assert!((tail - mirrored).abs() < 1e-14);
            let (low, high) = one.shift_interval(0.8).unwrap();
            prop_assert_eq!(other.shift_interval(0.8).unwrap(), (-high, -low));
        }
    }
}
