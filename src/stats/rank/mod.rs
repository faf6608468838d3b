//! Methods that look at the order of values and not at their size: correlations, comparisons of groups, tests of spread.

mod concordance;
mod correlation;
mod exact;
mod kendall;
mod kruskal_wallis;
mod mann_whitney;
mod pairwise;
mod signed_rank;
mod spearman;
mod spread;

pub use concordance::{Concordance, friedman, kendall_w};
pub use correlation::{Correlation, pearson};
pub use kendall::{KendallCorrelation, kendall};
pub use kruskal_wallis::{KruskalWallis, kruskal_wallis};
pub use mann_whitney::{MannWhitney, mann_whitney};
pub use signed_rank::{SignedRank, signed_rank};
pub use spearman::{SpearmanCorrelation, spearman};
pub use spread::{SpreadCentre, spread_test};

use crate::stats::error::{StatsError, require_finite};
use crate::stats::numeric::normal_sf;

/// Which departures from "no difference" count as evidence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Alternative {
    /// Either direction.
    TwoSided,
    /// The first sample is the larger, or the statistic is large.
    Greater,
    /// The first sample is the smaller, or the statistic is small.
    Less,
}

impl Alternative {
    /// What it becomes where the two samples are exchanged.
    pub(crate) fn mirrored(self) -> Self {
        match self {
            Self::TwoSided => Self::TwoSided,
            Self::Greater => Self::Less,
            Self::Less => Self::Greater,
        }
    }

    /// The p value of a discrete statistic with the tails `P(S <= s)` and `P(S >= s)`; two-sided is twice the smaller tail, at most 1.
    fn of_tails(self, lower: f64, upper: f64) -> f64 {
        match self {
            Self::TwoSided => (2.0 * lower.min(upper)).min(1.0),
            Self::Greater => upper,
            Self::Less => lower,
        }
    }

    /// The p value of a nearly normal statistic that lies `deviation` from its mean; with a continuity correction half a step is taken off.
    fn of_normal(self, deviation: f64, standard_error: f64, correction: f64) -> f64 {
        match self {
            Self::TwoSided => {
                let z = (deviation.abs() - correction).max(0.0) / standard_error;
                (2.0 * normal_sf(z)).min(1.0)
            }
            Self::Greater => normal_sf((deviation - correction) / standard_error),
            Self::Less => normal_sf(-(deviation + correction) / standard_error),
        }
    }
}

/// Ranks from 1, equal values sharing the mean of their ranks (mid-ranks: Kendall 1945, Biometrika 33, 239-251). O(n log n).
///
/// # Errors
/// `Empty`, `NotFinite`.
pub fn mid_ranks(values: &[f64]) -> Result<Vec<f64>, StatsError> {
    require_finite("the sample", values)?;
    Ok(Ranking::new(values).ranks)
}

/// Mid-ranks of finite values, and what their ties take from the spread of ranks.
pub(crate) struct Ranking {
    /// In the order of the values.
    pub(crate) ranks: Vec<f64>,
    /// Sizes of the runs of equal values, single values included, from the smallest value up.
    pub(crate) ties: Vec<usize>,
}

impl Ranking {
    pub(crate) fn new(values: &[f64]) -> Self {
        let mut order: Vec<usize> = (0..values.len()).collect();
        order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
        let mut ranks = vec![0.0; values.len()];
        let mut ties = Vec::new();
        let mut before = 0;
        // the order holds every place once, so the indices are in range
        for run in order.chunk_by(|&a, &b| values[a] == values[b]) {
            let shared = before as f64 + 0.5 * (run.len() as f64 + 1.0);
            for &place in run {
                ranks[place] = shared;
            }
            before += run.len();
            ties.push(run.len());
        }
        Self { ranks, ties }
    }

    /// `sum (t^3 - t)` over the runs of `t` equal values.
    pub(crate) fn tie_term(&self) -> f64 {
        self.ties.iter().map(|&t| cube_less(t as f64)).sum()
    }

    pub(crate) fn has_ties(&self) -> bool {
        self.ties.len() < self.ranks.len()
    }

    /// Whether all values are equal.
    pub(crate) fn is_constant(&self) -> bool {
        self.ties.len() < 2
    }
}

/// `t^3 - t`.
fn cube_less(t: f64) -> f64 {
    t * (t * t - 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn equal_values_share_the_mean_of_their_ranks() {
        assert_eq!(mid_ranks(&[3.0, 1.0, 3.0, 0.0, 3.0]).unwrap(), [4.0, 2.0, 4.0, 1.0, 4.0]);
    }

    #[test]
    fn the_two_zeros_are_one_value() {
        assert_eq!(mid_ranks(&[0.0, -0.0, 1.0]).unwrap(), [1.5, 1.5, 3.0]);
    }

    #[test]
    fn what_is_no_number_has_no_rank() {
        assert!(matches!(mid_ranks(&[1.0, f64::NAN]), Err(StatsError::NotFinite { row: 1, .. })));
        assert!(mid_ranks(&[]).is_err());
    }

    proptest! {
        #[test]
        fn ranks_sum_to_n_times_n_plus_one_over_two(
            values in prop::collection::vec(0_u8..9, 1..60)
        ) {
            let values: Vec<f64> = values.into_iter().map(f64::from).collect();
            let count = values.len() as f64;
            let total: f64 = mid_ranks(&values).unwrap().iter().sum();
            prop_assert_eq!(total, 0.5 * count * (count + 1.0));
        }

        #[test]
        fn a_rising_change_of_unit_leaves_the_ranks(
            values in prop::collection::vec(-20_i8..20, 1..60)
        ) {
            let plain: Vec<f64> = values.iter().map(|&v| f64::from(v)).collect();
            let bent: Vec<f64> = plain.iter().map(|v| v * v * v + 7.0).collect();
            prop_assert_eq!(mid_ranks(&plain).unwrap(), mid_ranks(&bent).unwrap());
        }
    }
}
