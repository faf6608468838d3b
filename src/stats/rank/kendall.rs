//! Kendall's rank correlation.

use super::exact::Counted;
use super::{Alternative, Ranking};
use crate::stats::error::{StatsError, require_count, require_finite, require_length};
use crate::whole;

/// Largest sample whose exact distribution is computed; the normal limit is good to three digits long before.
const MOST_EXACT: usize = 100;

/// Kendall's tau-b and its tests.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KendallCorrelation {
    /// `tau_b`, from -1 to 1.
    pub value: f64,
    /// How many pairs of values it comes from.
    pub pairs: usize,
    /// Concordant less discordant pairs of pairs.
    pub score: f64,
    /// Variance of the score where there is no association, ties counted.
    pub score_variance: f64,
    has_ties: bool,
}

/// `tau_b = (C - D) / sqrt((n0 - n1)(n0 - n2))`, `n0 = n (n - 1) / 2`, `n1` and `n2` the pairs tied in either sample (Kendall 1945, Biometrika 33,
/// 239-251), by merge sort in O(n log n) (Knight 1966, Journal of the American Statistical Association 61, 436-439).
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFew` under three pairs; `NoVariation`.
pub fn kendall(first: &[f64], second: &[f64]) -> Result<KendallCorrelation, StatsError> {
    require_length("the second sample", first.len(), second.len())?;
    require_finite("the first sample", first)?;
    require_finite("the second sample", second)?;
    require_count("pairs", 3, first.len())?;
    let (one, other) = (Ranking::new(first), Ranking::new(second));
    for (ranking, what) in [(&one, "the first sample"), (&other, "the second sample")] {
        if ranking.is_constant() {
            return Err(StatsError::NoVariation { what: what.into() });
        }
    }
    let score = score(&one, &other);
    let all = pairs_of(first.len());
    let below = ((all - tied_pairs(&one.ties)) * (all - tied_pairs(&other.ties))).sqrt();
    Ok(KendallCorrelation {
        value: (score / below).clamp(-1.0, 1.0),
        pairs: first.len(),
        score,
        score_variance: score_variance(first.len() as f64, &one.ties, &other.ties),
        has_ties: one.has_ties() || other.has_ties(),
    })
}

impl KendallCorrelation {
    /// Two-sided p value of "no association" by the normal distribution of the score, with the variance for ties (Kendall & Gibbons 1990, chapter 4) and
    /// without continuity correction.
    pub fn approximate_p_value(&self) -> f64 {
        Alternative::TwoSided.of_normal(self.score, self.score_variance.sqrt(), 0.0)
    }

    /// Two-sided p value over all orders, twice the smaller tail; none with ties or over 100 pairs.
    pub fn exact_p_value(&self) -> Option<f64> {
        if self.has_ties || self.pairs > MOST_EXACT {
            return None;
        }
        // without ties every pair of pairs is concordant or discordant, so this is a whole number
        let discordant = 0.5 * (pairs_of(self.pairs) - self.score);
        let (lower, upper) = Counted::inversions(self.pairs).tails(whole::part(discordant));
        Some(Alternative::TwoSided.of_tails(lower, upper))
    }

    /// The exact p value where there is one, else the approximate one.
    pub fn p_value(&self) -> f64 {
        self.exact_p_value().unwrap_or_else(|| self.approximate_p_value())
    }
}

/// `n (n - 1) / 2`.
fn pairs_of(count: usize) -> f64 {
    let count = count as f64;
    0.5 * count * (count - 1.0)
}

fn tied_pairs(ties: &[usize]) -> f64 {
    ties.iter().map(|&t| pairs_of(t)).sum()
}

/// Concordant less discordant pairs: all pairs, less those tied in either, less twice the discordant ones.
fn score(one: &Ranking, other: &Ranking) -> f64 {
    let mut order: Vec<usize> = (0..one.ranks.len()).collect();
    order.sort_by(|&a, &b| {
        let by_first = one.ranks[a].total_cmp(&one.ranks[b]);
        by_first.then(other.ranks[a].total_cmp(&other.ranks[b]))
    });
    let same =
        |a: &usize, b: &usize| one.ranks[*a] == one.ranks[*b] && other.ranks[*a] == other.ranks[*b];
    let both: Vec<usize> = order.chunk_by(same).map(<[usize]>::len).collect();
    // sorted this way, pairs tied in the first sample are in order and count as no inversion
    let mut seconds: Vec<f64> = order.iter().map(|&place| other.ranks[place]).collect();
    let discordant = inversions(&mut seconds) as f64;
    let tied = tied_pairs(&one.ties) + tied_pairs(&other.ties) - tied_pairs(&both);
    pairs_of(order.len()) - tied - 2.0 * discordant
}

/// Pairs out of order, by a merge sort that sorts the values on the way.
fn inversions(values: &mut [f64]) -> u64 {
    if values.len() < 2 {
        return 0;
    }
    let (left, right) = values.split_at_mut(values.len() / 2);
    let mut found = inversions(left) + inversions(right);
    let mut merged = Vec::with_capacity(left.len() + right.len());
    let mut taken = 0;
    for &value in &*right {
        while taken < left.len() && left[taken] <= value {
            merged.push(left[taken]);
            taken += 1;
        }
        found += (left.len() - taken) as u64;
        merged.push(value);
    }
    merged.extend_from_slice(&left[taken..]);
    values.copy_from_slice(&merged);
    found
}

/// Variance of the score with ties (Kendall & Gibbons 1990, formula 4.3).
fn score_variance(count: f64, first: &[usize], second: &[usize]) -> f64 {
    let total = |ties: &[usize], term: fn(f64) -> f64| -> f64 {
        ties.iter().map(|&t| term(t as f64)).sum()
    };
    let pair = |t: f64| t * (t - 1.0);
    let triple = |t: f64| t * (t - 1.0) * (t - 2.0);
    let full = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    (full(count) - total(first, full) - total(second, full)) / 18.0
        + total(first, triple) * total(second, triple) / (9.0 * triple(count))
        + total(first, pair) * total(second, pair) / (2.0 * pair(count))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn plain_score(x: &[f64], y: &[f64]) -> f64 {
        let sign = |d: f64| if d == 0.0 { 0.0 } else { d.signum() };
        let pairs = (0..x.len()).flat_map(|i| (0..i).map(move |j| (i, j)));
        pairs.map(|(i, j)| sign(x[i] - x[j]) * sign(y[i] - y[j])).sum()
    }

    #[test]
    fn a_reversed_order_is_minus_one_with_the_chance_of_one_order() {
        let found = kendall(&[1.0, 2.0, 3.0, 4.0, 5.0], &[5.0, 4.0, 3.0, 2.0, 1.0]).unwrap();
        assert_eq!(found.value, -1.0);
        assert!((found.exact_p_value().unwrap() - 2.0 / 120.0).abs() < 1e-15);
    }

    #[test]
    fn ties_and_thirty_pairs_agree_with_r() {
        // R 4.2.2: cor.test(x, y, method = "kendall", exact = FALSE)
        let x = [1.0, 2.0, 2.0, 3.0, 4.0, 5.0, 5.0, 5.0, 7.0, 9.0, 3.0, 1.0];
        let y = [2.0, 1.0, 3.0, 3.0, 5.0, 4.0, 6.0, 6.0, 6.0, 8.0, 3.0, 2.0];
        let found = kendall(&x, &y).unwrap();
        assert_eq!(found.exact_p_value(), None);
        assert!((found.value - 0.840365806816018).abs() < 1e-14);
        assert!((found.p_value() - 0.000384390575263356).abs() < 1e-12);
        // R 4.2.2: s <- 1:30; cor.test(s, (s * 11) %% 31, method = "kendall")
        let s: Vec<f64> = (1..=30).map(f64::from).collect();
        let t: Vec<f64> = (1..=30).map(|i| f64::from(i * 11 % 31)).collect();
        let found = kendall(&s, &t).unwrap();
        assert!((found.exact_p_value().unwrap() - 0.435758279154572).abs() < 1e-13);
    }

    #[test]
    fn without_ties_the_variance_has_its_short_form() {
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let found = kendall(&x, &x).unwrap();
        assert!((found.score_variance - 12.0 * 11.0 * 29.0 / 18.0).abs() < 1e-10);
    }

    #[test]
    fn constants_and_two_pairs_are_refused() {
        assert!(matches!(
            kendall(&[1.0; 3], &[1.0, 2.0, 3.0]),
            Err(StatsError::NoVariation { .. })
        ));
        assert!(matches!(kendall(&[1.0, 2.0], &[1.0, 2.0]), Err(StatsError::TooFew { .. })));
    }

    #[test]
    fn the_exact_tail_meets_the_normal_one_in_large_samples() {
        let x: Vec<f64> = (0..100).map(f64::from).collect();
        let y: Vec<f64> = (0..100).map(|i| f64::from((i * 37) % 101)).collect();
        let found = kendall(&x, &y).unwrap();
        assert!((found.exact_p_value().unwrap() - found.approximate_p_value()).abs() < 0.01);
    }

    proptest! {
        #[test]
        fn the_fast_score_is_that_of_all_pairs(
            pairs in prop::collection::vec((0_u8..6, 0_u8..6), 3..40)
        ) {
            let x: Vec<f64> = pairs.iter().map(|pair| f64::from(pair.0)).collect();
            let y: Vec<f64> = pairs.iter().map(|pair| f64::from(pair.1)).collect();
            match kendall(&x, &y) {
                Ok(found) => prop_assert_eq!(found.score, plain_score(&x, &y)),
                Err(fault) => {
                    let constant = matches!(fault, StatsError::NoVariation { .. });
                    prop_assert!(constant);
                }
            }
        }
    }
}
