//! Permutation tests: exact where all arrangements can be counted, else by seeded random ones.

use crate::stats::error::{StatsError, require_count, require_finite, require_squarable};
use crate::stats::numeric::{mean, sum};
use crate::stats::rank::Alternative;
use crate::stats::resample::{permutation, replicate};
use rand::RngExt;

/// Most pairs whose signs are all counted: `2^36` patterns, through two halves of `2^18`.
const MOST_PAIRS: usize = 36;
/// Most ways to deal values to two groups that are all counted.
const MOST_DEALS: f64 = 1e6;
/// Sums nearer than this share of their size are equal; rounding must not break ties.
const TIE: f64 = 1e-12;

/// How random arrangements are drawn where there are too many to count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MonteCarlo {
    /// How many.
    pub replicates: usize,
    /// Of the ChaCha streams, one a replicate.
    pub seed: u64,
}

/// What a permutation test found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PermutationTest {
    /// The observed statistic, in the unit of the values.
    pub statistic: f64,
    /// Arrangements at least as extreme as the observed one.
    pub as_extreme: u64,
    /// Arrangements looked at.
    pub arrangements: u64,
    /// Whether those were all of them.
    pub exact: bool,
}

impl PermutationTest {
    /// `b / m` over all arrangements, the observed one being among them, or `(b + 1) / (m + 1)` over random ones, which is never zero and holds its level
    /// (Davison & Hinkley 1997, Bootstrap Methods and their Application, section 4.3; Phipson & Smyth 2010).
    pub fn p_value(&self) -> f64 {
        let more = if self.exact { 0.0 } else { 1.0 };
        (self.as_extreme as f64 + more) / (self.arrangements as f64 + more)
    }
}

/// Sign-flip test of "paired differences are as likely positive as negative" (Fisher 1935, The Design of Experiments, section 21). The statistic is the mean
/// difference; all `2^n` patterns of signs are counted up to 36 pairs.
///
/// # Errors
/// `Empty`, `NotFinite`; `NoVariation` where all differences are zero; `TooFew` under 99 replicates where they are needed.
pub fn paired_signs(
    differences: &[f64],
    alternative: Alternative,
    random: &MonteCarlo,
) -> Result<PermutationTest, StatsError> {
    require_squarable("the differences", differences)?;
    let sizes: Vec<f64> = differences.iter().map(|difference| difference.abs()).collect();
    let size = sum(&sizes);
    if size == 0.0 {
        return Err(StatsError::NoVariation { what: "the pairs' difference from zero".into() });
    }
    let statistic = mean(differences)?;
    let bar = Bar { observed: sum(differences), slack: TIE * size };
    if differences.len() <= MOST_PAIRS {
        let as_extreme = bar.count_signs(differences, alternative);
        let arrangements = 1 << differences.len();
        return Ok(PermutationTest { statistic, as_extreme, arrangements, exact: true });
    }
    let draws = random.draw(|generator| {
        let flipped = differences.iter().map(|d| if generator.random::<bool>() { *d } else { -d });
        flipped.sum()
    })?;
    Ok(bar.judge(statistic, &draws, alternative))
}

/// Test of "the two groups are dealt from the same values" by the difference of means, first less second (Pitman 1937, Supplement to the Journal of the
/// Royal Statistical Society 4, 119-130). All deals are counted up to a million of them.
///
/// # Errors
/// `Empty`, `NotFinite`; `NoVariation` where all values are equal; `TooFew` under 99 replicates where they are needed.
pub fn two_groups(
    first: &[f64],
    second: &[f64],
    alternative: Alternative,
    random: &MonteCarlo,
) -> Result<PermutationTest, StatsError> {
    require_squarable("the first sample", first)?;
    require_squarable("the second sample", second)?;
    let pooled = [first, second].concat();
    if pooled.iter().all(|value| *value == pooled[0]) {
        return Err(StatsError::NoVariation { what: "the two samples together".into() });
    }
    let statistic = mean(first)? - mean(second)?;
    // about the common mean the sum of one group stands for the difference of both means
    let centre = mean(&pooled)?;
    let centred: Vec<f64> = pooled.iter().map(|value| value - centre).collect();
    let size: f64 = centred.iter().map(|value| value.abs()).sum();
    let (dealt, others) = centred.split_at(first.len());
    let bar = Bar { observed: sum(dealt), slack: TIE * size };
    if ways(pooled.len(), first.len()) <= MOST_DEALS {
        let mut counted = (0, 0);
        if dealt.len() <= others.len() {
            bar.count_deals(&centred, dealt.len(), 0.0, alternative, &mut counted);
        } else {
            // the sum of all is zero, so the smaller group's is the larger one's with the sign changed
            let mirrored = Bar { observed: -bar.observed, slack: bar.slack };
            let direction = alternative.mirrored();
            mirrored.count_deals(&centred, others.len(), 0.0, direction, &mut counted);
        }
        let (as_extreme, arrangements) = counted;
        return Ok(PermutationTest { statistic, as_extreme, arrangements, exact: true });
    }
    let draws = random.draw(|generator| {
        let order = permutation(generator, centred.len());
        order.iter().take(first.len()).map(|&place| centred[place]).sum()
    })?;
    Ok(bar.judge(statistic, &draws, alternative))
}

/// p value of an observed statistic among those of random arrangements that the caller has made, as of [`replicate`], `(b + 1) / (m + 1)`. Two-sided compares
/// sizes, so the statistic should be centred on zero.
///
/// # Errors
/// `Empty`, `NotFinite`, for the observed statistic too; `TooFew` under 99 arrangements.
pub fn monte_carlo(
    observed: f64,
    permuted: &[f64],
    alternative: Alternative,
) -> Result<PermutationTest, StatsError> {
    require_finite("the observed statistic", &[observed])?;
    require_finite("the permuted statistics", permuted)?;
    require_count("random arrangements", 99, permuted.len())?;
    let bar = Bar { observed, slack: TIE * observed.abs() };
    Ok(bar.judge(observed, permuted, alternative))
}

impl MonteCarlo {
    fn draw(
        &self,
        statistic: impl Fn(&mut rand_chacha::ChaCha12Rng) -> f64 + Sync,
    ) -> Result<Vec<f64>, StatsError> {
        require_count("random arrangements", 99, self.replicates)?;
        Ok(replicate(self.seed, self.replicates, statistic))
    }
}

/// `n` over `k`, as a double.
fn ways(n: usize, k: usize) -> f64 {
    let k = k.min(n - k);
    (1..=k).map(|i| (n - k + i) as f64 / i as f64).product()
}

/// What counts as being as extreme as the observed statistic.
struct Bar {
    observed: f64,
    slack: f64,
}

impl Bar {
    fn is_reached(&self, value: f64, alternative: Alternative) -> bool {
        match alternative {
            Alternative::TwoSided => value.abs() >= self.observed.abs() - self.slack,
            Alternative::Greater => value >= self.observed - self.slack,
            Alternative::Less => value <= self.observed + self.slack,
        }
    }

    fn judge(&self, statistic: f64, draws: &[f64], alternative: Alternative) -> PermutationTest {
        let reached = draws.iter().filter(|&&draw| self.is_reached(draw, alternative));
        PermutationTest {
            statistic,
            as_extreme: reached.count() as u64,
            arrangements: draws.len() as u64,
            exact: false,
        }
    }

    /// Patterns of signs that reach the bar. The distribution is symmetric, so every side is an upper tail.
    fn count_signs(&self, differences: &[f64], alternative: Alternative) -> u64 {
        let upper = |bound: f64| signs_at_least(differences, bound - self.slack);
        match alternative {
            Alternative::Greater => upper(self.observed),
            Alternative::Less => upper(-self.observed),
            Alternative::TwoSided if self.observed.abs() <= self.slack => 1 << differences.len(),
            Alternative::TwoSided => 2 * upper(self.observed.abs()),
        }
    }

    /// All ways to take `left` more of the values; counts those that reach the bar, and all. Calls itself as often as the smaller group has values, which
    /// the limit on deals keeps small.
    fn count_deals(
        &self,
        values: &[f64],
        left: usize,
        total: f64,
        alternative: Alternative,
        counted: &mut (u64, u64),
    ) {
        if left == 0 {
            counted.0 += u64::from(self.is_reached(total, alternative));
            counted.1 += 1;
            return;
        }
        for (place, value) in values.iter().enumerate().take(values.len() + 1 - left) {
            let rest = &values[place + 1..];
            self.count_deals(rest, left - 1, total + value, alternative, counted);
        }
    }
}

/// How many patterns of signs give a sum of at least `bound`: the sums of two halves, sorted, meet in the middle (Horowitz & Sahni 1974, Journal of the ACM
/// 21, 277-292), O(2^(n/2) n) in place of O(2^n).
fn signs_at_least(differences: &[f64], bound: f64) -> u64 {
    let (left, right) = differences.split_at(differences.len() / 2);
    let (left, right) = (signed_sums(left), signed_sums(right));
    let mut start = right.len();
    let mut total = 0;
    for low in left {
        // a larger sum on the left needs less on the right
        while start > 0 && low + right[start - 1] >= bound {
            start -= 1;
        }
        total += (right.len() - start) as u64;
    }
    total
}

/// Sums over all patterns of signs, sorted.
fn signed_sums(values: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0];
    for value in values {
        sums = sums.iter().flat_map(|sum| [sum - value, sum + value]).collect();
    }
    sums.sort_by(f64::total_cmp);
    sums
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;
    use Alternative::{Greater, Less, TwoSided};
    use proptest::prelude::*;

    const RANDOM: MonteCarlo = MonteCarlo { replicates: 999, seed: 8 };

    #[test]
    fn five_positive_differences_have_the_chance_of_one_pattern() {
        let found = paired_signs(&[1.0, 2.0, 3.0, 4.0, 5.0], Greater, &RANDOM).unwrap();
        assert_eq!((found.statistic, found.as_extreme, found.arrangements), (3.0, 1, 32));
        assert_eq!(found.p_value(), 1.0 / 32.0);
        let both = paired_signs(&[1.0, 2.0, 3.0, 4.0, 5.0], TwoSided, &RANDOM).unwrap();
        assert_eq!(both.p_value(), 2.0 / 32.0);
    }

    #[test]
    fn groups_apart_have_the_chance_of_one_deal() {
        let found = two_groups(&[7.0, 8.0, 9.0], &[1.0, 2.0], Greater, &RANDOM).unwrap();
        assert_eq!((found.statistic, found.as_extreme, found.arrangements), (6.5, 1, 10));
        assert_eq!(two_groups(&[1.0, 2.0], &[7.0, 8.0, 9.0], Less, &RANDOM).unwrap().as_extreme, 1);
    }

    #[test]
    fn tied_groups_agree_with_scipy() {
        // scipy 1.17.1: stats.permutation_test((first, second), difference of means, n_resamples=inf, alternative='less' and 'two-sided')
        let (first, second) = ([1.0, 2.0, 2.0, 3.0, 5.0], [2.0, 4.0, 5.0, 5.0, 6.0]);
        for (alternative, p) in [(Less, 0.07539682539682539), (TwoSided, 0.15079365079365079)] {
            let found = two_groups(&first, &second, alternative, &RANDOM).unwrap();
            assert!((found.p_value() - p).abs() < 1e-15);
        }
    }

    #[test]
    fn rounding_does_not_break_ties() {
        // 0.1 + 0.2 and 0.3 differ in the last bit: 0.1 + 0.2 - 0.3 is zero for this purpose, and every pattern is as extreme
        let found = paired_signs(&[0.1, 0.2, -0.3], TwoSided, &RANDOM).unwrap();
        assert_eq!((found.as_extreme, found.arrangements), (8, 8));
    }

    #[test]
    fn random_patterns_come_near_the_exact_share() {
        let differences: Vec<f64> = (0..36).map(|i| f64::from((i * 7) % 13) - 5.0).collect();
        let exact = paired_signs(&differences, Greater, &RANDOM).unwrap();
        assert!(exact.exact);
        let doubled = [&differences[..], &[0.0]].concat();
        let random = MonteCarlo { replicates: 19_999, seed: 1 };
        // a zero more changes nothing but the number of pairs
        let drawn = paired_signs(&doubled, Greater, &random).unwrap();
        assert!(!drawn.exact);
        // standard error of a share near 0.2 among 20,000 is 0.003
        assert!((drawn.p_value() - exact.p_value()).abs() < 0.015);
    }

    #[test]
    fn random_deals_are_the_same_on_any_number_of_threads() {
        let first: Vec<f64> = (0..30).map(|i| f64::from(i % 7)).collect();
        let second: Vec<f64> = (0..30).map(|i| f64::from(i % 5)).collect();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| two_groups(&first, &second, TwoSided, &RANDOM).unwrap())
        };
        let one = on(1);
        assert!(!one.exact);
        assert_eq!(one, on(2));
        assert_eq!(one, on(7));
    }

    #[test]
    fn a_random_p_value_is_never_zero() {
        let found = monte_carlo(10.0, &vec![0.0; 99], Greater).unwrap();
        assert_eq!(found.p_value(), 0.01);
        assert!(matches!(monte_carlo(1.0, &[0.0; 9], Greater), Err(StatsError::TooFew { .. })));
        assert!(monte_carlo(f64::NAN, &vec![0.0; 99], Greater).is_err());
    }

    #[test]
    fn zeros_constants_and_nonsense_are_refused() {
        let zeros = paired_signs(&[0.0, -0.0], TwoSided, &RANDOM);
        assert!(matches!(zeros, Err(StatsError::NoVariation { .. })));
        let flat = two_groups(&[0.1, 0.1], &[0.1], TwoSided, &RANDOM);
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        assert!(two_groups(&[], &[1.0], TwoSided, &RANDOM).is_err());
        assert!(paired_signs(&[f64::NAN], TwoSided, &RANDOM).is_err());
        let few = MonteCarlo { replicates: 50, seed: 0 };
        let many: Vec<f64> = (0..40).map(f64::from).collect();
        assert!(matches!(paired_signs(&many, TwoSided, &few), Err(StatsError::TooFew { .. })));
    }

    #[test]
    fn one_value_against_a_hundred_thousand_is_counted_out() {
        let many: Vec<f64> = (0..100_000).map(f64::from).collect();
        let found = two_groups(&many, &[1e6], Less, &RANDOM).unwrap();
        assert_eq!((found.as_extreme, found.arrangements), (1, 100_001));
        let turned = two_groups(&[1e6], &many, Greater, &RANDOM).unwrap();
        assert_eq!((turned.as_extreme, turned.arrangements), (1, 100_001));
    }

    #[test]
    fn one_value_in_each_group_decides_nothing() {
        assert_eq!(two_groups(&[1.0], &[2.0], TwoSided, &RANDOM).unwrap().p_value(), 1.0);
    }

    proptest! {
        #[test]
        fn counting_by_halves_is_counting_all(
            differences in prop::collection::vec(-9_i8..9, 1..10)
        ) {
            let differences: Vec<f64> = differences.into_iter().map(f64::from).collect();
            let observed: f64 = differences.iter().sum();
            let patterns = 1_u32 << differences.len();
            let total = |pattern: u32| -> f64 {
                let sign = |bit: usize| if pattern >> bit & 1 == 1 { 1.0 } else { -1.0 };
                differences.iter().enumerate().map(|(bit, d)| sign(bit) * d).sum()
            };
            let count = (0..patterns).filter(|&p| total(p) >= observed).count() as u64;
            if let Ok(found) = paired_signs(&differences, Greater, &RANDOM) {
                prop_assert_eq!(found.as_extreme, count);
            }
        }

        #[test]
        fn under_the_null_small_p_values_are_rare(seed in 0_u64..20) {
            let mut generator = stream(seed, 0);
            let below = (0..200)
                .filter(|_| {
                    let values: Vec<f64> = (0..8).map(|_| generator.random::<f64>()).collect();
                    let found = two_groups(&values[..4], &values[4..], TwoSided, &RANDOM).unwrap();
                    found.p_value() <= 0.1
                })
                .count();
            // level 6 / 70 of 200, mean 17, sd 4: six sd
            prop_assert!(below < 41);
        }
    }
}
