//! Null distributions of rank statistics, counted out.

/// Largest number of ranks whose subsets are counted: `C(50, 25)` and `2^50` are below `2^53`, so every count is exact.
pub(super) const MOST_COUNTED: usize = 50;

/// What a tail may exceed the one asked for by rounding, relative: 0.9 leaves a tail of 0.05 only nearly.
pub(super) const TAIL_ROUNDING: f64 = 1.0 + 1e-12;

/// A discrete distribution on 0, 1, 2, ...; counts or probabilities alike.
pub(super) struct Counted {
    weights: Vec<f64>,
}

impl Counted {
    /// Sums of `size` of the given whole numbers, all subsets being equally likely. O(n size sum).
    pub(super) fn subset_sums(numbers: &[usize], size: usize) -> Self {
        let mut sorted = numbers.to_vec();
        sorted.sort_unstable();
        let most: usize = sorted.iter().rev().take(size).sum();
        // ways[k][s]: subsets of k of the numbers so far that sum to s
        let mut ways = vec![vec![0.0; most + 1]; size + 1];
        ways[0][0] = 1.0;
        for &number in numbers {
            for chosen in (1..=size).rev() {
                let (before, after) = ways.split_at_mut(chosen);
                add_shifted(&mut after[0], &before[chosen - 1], number);
            }
        }
        Self { weights: ways.swap_remove(size) }
    }

    /// Sums of the given whole numbers, each of them in or out with equal chance. O(n sum).
    pub(super) fn sign_sums(numbers: &[usize]) -> Self {
        let most: usize = numbers.iter().sum();
        let mut weights = vec![0.0; most + 1];
        weights[0] = 1.0;
        for &number in numbers {
            let before = weights.clone();
            add_shifted(&mut weights, &before, number);
        }
        Self { weights }
    }

    /// Pairs out of order in a random order of `n` different values: the product of uniform distributions on `0..i` (Kendall 1938, Biometrika 30,
    /// 81-93). O(n^3).
    pub(super) fn inversions(count: usize) -> Self {
        let mut weights = vec![1.0];
        for next in 2..=count {
            let mut longer = vec![0.0; weights.len() + next - 1];
            for shift in 0..next {
                add_shifted(&mut longer, &weights, shift);
            }
            longer.iter_mut().for_each(|weight| *weight /= next as f64);
            weights = longer;
        }
        Self { weights }
    }

    /// From a count for every value.
    pub(super) fn of(weights: Vec<f64>) -> Self {
        Self { weights }
    }

    /// `P(S <= s)` and `P(S >= s)`, each summed on its own side.
    pub(super) fn tails(&self, value: usize) -> (f64, f64) {
        let total: f64 = self.weights.iter().sum();
        let lower: f64 = self.weights.iter().take(value + 1).sum();
        let upper: f64 = self.weights.iter().skip(value).sum();
        (lower / total, upper / total)
    }

    /// The largest `s` with `P(S < s) <= tail`.
    pub(super) fn lower_point(&self, tail: f64) -> usize {
        let allowed = TAIL_ROUNDING * tail * self.weights.iter().sum::<f64>();
        let mut below = 0.0;
        for (value, weight) in self.weights.iter().enumerate() {
            below += weight;
            if below > allowed {
                return value;
            }
        }
        self.weights.len()
    }
}

/// Adds `from`, moved up by `shift`, to `to`; what would fall off the end is left out.
fn add_shifted(to: &mut [f64], from: &[f64], shift: usize) {
    for (target, weight) in to.iter_mut().skip(shift).zip(from) {
        *target += weight;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_of_four_numbers_are_counted_out() {
        // 1+2, 1+3, 1+4 and 2+3, 2+4, 3+4
        let sums = Counted::subset_sums(&[1, 2, 3, 4], 2);
        assert_eq!(sums.weights, [0.0, 0.0, 0.0, 1.0, 1.0, 2.0, 1.0, 1.0]);
        assert_eq!(sums.tails(6), (5.0 / 6.0, 2.0 / 6.0));
    }

    #[test]
    fn three_values_have_one_two_two_one_orders_by_inversions() {
        let found = Counted::inversions(3);
        for (weight, count) in found.weights.iter().zip([1.0, 2.0, 2.0, 1.0]) {
            assert!((weight - count / 6.0).abs() < 1e-15);
        }
    }

    #[test]
    fn every_subset_of_three_is_a_pattern_of_signs() {
        assert_eq!(Counted::sign_sums(&[1, 2, 3]).weights, [1.0, 1.0, 1.0, 2.0, 1.0, 1.0, 1.0]);
    }
}
