//! Order statistics of all pairwise differences or sums, without making them.

/// Whole numbers that stand in the order of the doubles.
fn ordered(value: f64) -> u64 {
    let bits = value.to_bits();
    if bits >> 63 == 1 { !bits } else { bits | 1 << 63 }
}

fn double(ordered: u64) -> f64 {
    f64::from_bits(if ordered >> 63 == 1 { ordered & !(1 << 63) } else { !ordered })
}

/// The `rank`-th smallest, from 1, of values known only by how many of them are at most a given one: bisection on the doubles themselves, at most 64 steps.
fn order_statistic(rank: u64, at_most: impl Fn(f64) -> u64) -> f64 {
    let (mut low, mut high) = (ordered(f64::NEG_INFINITY), ordered(f64::INFINITY));
    while low < high {
        let middle = low + (high - low) / 2;
        if at_most(double(middle)) >= rank {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    // adding 0.0 makes the two zeros one
    double(low) + 0.0
}

fn middle(count: u64, at_most: impl Fn(f64) -> u64) -> f64 {
    let below = order_statistic(count.div_ceil(2), &at_most);
    let above = order_statistic(count / 2 + 1, &at_most);
    below + 0.5 * (above - below)
}

/// All differences `a - b` between two sorted samples.
pub(super) struct Differences<'data> {
    pub(super) first: &'data [f64],
    pub(super) second: &'data [f64],
}

impl Differences<'_> {
    fn at_most(&self, bound: f64) -> u64 {
        let mut start = 0;
        let mut total = 0;
        for a in self.first {
            // a larger a leaves fewer b with a - b <= bound
            while self.second.get(start).is_some_and(|b| a - b > bound) {
                start += 1;
            }
            total += (self.second.len() - start) as u64;
        }
        total
    }

    /// The `rank`-th smallest difference, from 1. O((n + m) 64).
    pub(super) fn order_statistic(&self, rank: u64) -> f64 {
        order_statistic(rank, |bound| self.at_most(bound))
    }

    pub(super) fn count(&self) -> u64 {
        self.first.len() as u64 * self.second.len() as u64
    }

    pub(super) fn median(&self) -> f64 {
        middle(self.count(), |bound| self.at_most(bound))
    }
}

/// Median of the means of all pairs of a sorted sample, each value also with itself.
pub(super) fn median_of_pair_means(sorted: &[f64]) -> f64 {
    let count = sorted.len() as u64;
    let at_most = |bound: f64| {
        let mut end = sorted.len();
        let mut total = 0;
        for (place, a) in sorted.iter().enumerate() {
            // a larger a leaves fewer b with (a + b) / 2 <= bound
            while end > 0 && 0.5 * a + 0.5 * sorted[end - 1] > bound {
                end -= 1;
            }
            total += end.saturating_sub(place) as u64;
        }
        total
    };
    middle(count * (count + 1) / 2, at_most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::numeric::median;
    use proptest::prelude::*;

    fn sorted(values: &[i16]) -> Vec<f64> {
        let mut values: Vec<f64> = values.iter().map(|&v| f64::from(v) / 8.0).collect();
        values.sort_by(f64::total_cmp);
        values
    }

    proptest! {
        #[test]
        fn the_median_difference_is_that_of_the_whole_list(
            first in prop::collection::vec(-99_i16..99, 1..12),
            second in prop::collection::vec(-99_i16..99, 1..12),
        ) {
            let (first, second) = (sorted(&first), sorted(&second));
            let all: Vec<f64> =
                first.iter().flat_map(|a| second.iter().map(move |b| a - b)).collect();
            let found = Differences { first: &first, second: &second };
            prop_assert_eq!(found.median(), median(&all).unwrap());
            let least = all.iter().copied().fold(f64::INFINITY, f64::min);
            prop_assert_eq!(found.order_statistic(1), least);
        }

        #[test]
        fn the_median_pair_mean_is_that_of_the_whole_list(
            values in prop::collection::vec(-99_i16..99, 1..12)
        ) {
            let values = sorted(&values);
            let pairs = (0..values.len()).flat_map(|i| (i..values.len()).map(move |j| (i, j)));
            let all: Vec<f64> = pairs.map(|(i, j)| 0.5 * (values[i] + values[j])).collect();
            prop_assert_eq!(median_of_pair_means(&values), median(&all).unwrap());
        }
    }
}
