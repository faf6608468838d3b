//! Several samples compared by their ranks.

use super::Ranking;
use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::chi_squared_sf;
use crate::stats::repeatability::one_way;

/// Several samples compared by the Kruskal-Wallis statistic.
#[derive(Debug, Clone, PartialEq)]
pub struct KruskalWallis {
    /// `H`, corrected for ties.
    pub statistic: f64,
    /// `H` as if there were no ties.
    pub uncorrected: f64,
    /// Groups less one.
    pub degrees_of_freedom: f64,
    /// `H / (n - 1)`: the share of the ranks' spread that lies between the groups (Kelley 1935; Tomczak & Tomczak 2014, Trends in Sport Sciences 1, 19-25).
    pub epsilon_squared: f64,
    /// Code and mean rank of every group, by rising code.
    pub mean_ranks: Vec<(usize, f64)>,
}

/// `H = 12 / (n (n + 1)) sum n_j (R_j - (n + 1) / 2)^2` with the groups' mean ranks `R_j`, divided by `1 - sum (t^3 - t) / (n^3 - n)` for ties
/// (Kruskal & Wallis 1952, Journal of the American Statistical Association 47, 583-621). `groups` gives each value the code of its group.
///
/// # Errors
/// `LengthMismatch`, `Empty`, `NotFinite`; `TooFewGroups` under two; `NoVariation` where all values are equal.
pub fn kruskal_wallis(values: &[f64], groups: &[usize]) -> Result<KruskalWallis, StatsError> {
    require_length("the list of groups", values.len(), groups.len())?;
    require_finite("the sample", values)?;
    let ranking = Ranking::new(values);
    let analysis = one_way(&ranking.ranks, groups)?;
    if ranking.is_constant() {
        return Err(StatsError::NoVariation { what: "the sample".into() });
    }
    let count = values.len() as f64;
    let uncorrected = 12.0 * analysis.between_sum_of_squares / (count * (count + 1.0));
    let statistic = uncorrected / (1.0 - ranking.tie_term() / (count * (count * count - 1.0)));
    Ok(KruskalWallis {
        statistic,
        uncorrected,
        degrees_of_freedom: analysis.between_degrees_of_freedom(),
        epsilon_squared: statistic / (count - 1.0),
        mean_ranks: analysis.groups.iter().map(|group| (group.code, group.mean)).collect(),
    })
}

impl KruskalWallis {
    /// p value of "no difference" by the chi-squared distribution of the corrected statistic; rough where groups hold fewer than five values.
    pub fn p_value(&self) -> f64 {
        chi_squared_sf(self.statistic, self.degrees_of_freedom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::rank::{Alternative, mann_whitney};
    use proptest::prelude::*;

    #[test]
    fn one_group_or_one_value_for_all_is_refused() {
        let one = kruskal_wallis(&[1.0, 2.0], &[4, 4]);
        assert!(matches!(one, Err(StatsError::TooFewGroups { found: 1, needed: 2 })));
        let flat = kruskal_wallis(&[1.0; 4], &[0, 0, 1, 1]);
        assert!(matches!(flat, Err(StatsError::NoVariation { .. })));
        assert!(kruskal_wallis(&[1.0, f64::NAN], &[0, 1]).is_err());
        assert!(kruskal_wallis(&[], &[]).is_err());
    }

    proptest! {
        #[test]
        fn two_groups_are_the_normal_mann_whitney_test(
            first in prop::collection::vec(0_u8..9, 2..20),
            second in prop::collection::vec(4_u8..15, 2..20),
        ) {
            let first: Vec<f64> = first.into_iter().map(f64::from).collect();
            let second: Vec<f64> = second.into_iter().map(f64::from).collect();
            let groups: Vec<usize> =
                (0..first.len() + second.len()).map(|i| usize::from(i >= first.len())).collect();
            if let Ok(pair) = mann_whitney(&first, &second) {
                let found = kruskal_wallis(&[first, second].concat(), &groups).unwrap();
                let other = pair.approximate_p_value(Alternative::TwoSided, false);
                prop_assert!((found.p_value() - other).abs() < 1e-9);
            }
        }
    }
}
