//! Do groups end at the same pace?

use super::ChiSquaredTest;
use super::kaplan_meier::steps_of;
use super::lifetimes::Lifetimes;
use super::risk_sets::{RiskSets, Stratum};
use crate::stats::error::{StatsError, require_length};
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeMap;

/// So many times are taken together in a product of matrices.
const BLOCK: usize = 256;
/// A group whose variance, once the groups before it are known, is below this share of its own says nothing more.
const NOTHING_NEW: f64 = 1e-10;

/// What ended in a group, and what would have if all groups were alike. Both are weighted where the test is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupEvents {
    /// The group.
    pub code: usize,
    /// Its rows.
    pub rows: usize,
    /// Events.
    pub observed: f64,
    /// Events expected if every group had the same hazard.
    pub expected: f64,
}

/// The comparison of groups.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRank {
    /// The test that all groups have the same hazard at every time.
    pub test: ChiSquaredTest,
    /// One entry a group, codes rising.
    pub groups: Vec<GroupEvents>,
}

/// The log-rank test (Mantel 1966; Peto & Peto 1972, Journal of the Royal Statistical Society A 135, 185-207) of two or more groups, over strata where codes
/// are given. With `d` events among `n` at risk at a time, group `g` expects `d n_g / n`; the differences `O - E` have covariance
/// `d (n - d) / (n - 1) (n_g / n) ([g = h] - n_h / n)`, summed over times and strata, and `(O - E)' V^- (O - E)` is compared with chi-squared on the rank of
/// `V`: groups less one, or fewer where some groups never meet at risk.
///
/// # Errors
/// `LengthMismatch`; `TooFewGroups` under two groups; `NoEvents`; `NoVariation` where groups are never at risk together when something ends.
pub fn log_rank(
    lifetimes: &Lifetimes,
    groups: &[usize],
    strata: Option<&[usize]>,
) -> Result<LogRank, StatsError> {
    weighted_log_rank(lifetimes, groups, strata, 0.0)
}

/// [`log_rank()`] with every time weighted by `S(t-)^rho`, the pooled Kaplan-Meier share of the stratum just before it (Harrington & Fleming 1982, Biometrika 69,
/// 553-566): 0 is the log-rank test, 1 the Peto-Peto form of the Wilcoxon test, which looks at early differences.
///
/// # Errors
/// As [`log_rank()`]; `OutOfRange` for a negative `rho`.
pub fn weighted_log_rank(
    lifetimes: &Lifetimes,
    groups: &[usize],
    strata: Option<&[usize]>,
    rho: f64,
) -> Result<LogRank, StatsError> {
    require_length("the list of groups", lifetimes.rows(), groups.len())?;
    if !(rho >= 0.0 && rho.is_finite()) {
        return Err(StatsError::OutOfRange {
            what: "the power of the weights".into(),
            value: rho,
            expected: "zero or more".into(),
        });
    }
    lifetimes.require_events()?;
    let sets = RiskSets::new(lifetimes, strata)?;
    let mut account = Account::new(groups)?;
    for stratum in &sets.strata {
        account.add(&sets, stratum, rho);
    }
    account.finish()
}

/// Sums over times and strata.
#[derive(Clone)]
pub(super) struct Account {
    /// The place of each row's group.
    places: Vec<usize>,
    groups: Vec<GroupEvents>,
    covariance: DMatrix<f64>,
}

impl Account {
    pub(super) fn new(codes: &[usize]) -> Result<Self, StatsError> {
        let mut rows: BTreeMap<usize, usize> = BTreeMap::new();
        codes.iter().for_each(|&code| *rows.entry(code).or_default() += 1);
        if rows.len() < 2 {
            return Err(StatsError::TooFewGroups { found: rows.len(), needed: 2 });
        }
        let place: BTreeMap<usize, usize> = rows.keys().copied().zip(0..).collect();
        let group = |(code, rows)| GroupEvents { code, rows, observed: 0.0, expected: 0.0 };
        Ok(Self {
            // every code has a place
            places: codes.iter().map(|code| place[code]).collect(),
            covariance: DMatrix::zeros(rows.len(), rows.len()),
            groups: rows.into_iter().map(group).collect(),
        })
    }

    /// The same groups before anything was added, dealt to the rows in another order.
    pub(super) fn dealt(&self, order: &[usize]) -> Self {
        Self { places: order.iter().map(|&row| self.places[row]).collect(), ..self.clone() }
    }

    /// One stratum, latest time first.
    pub(super) fn add(&mut self, sets: &RiskSets, stratum: &Stratum, rho: f64) {
        let steps = steps_of(&stratum.counts());
        let before = |earlier: Option<usize>| earlier.map_or(1.0, |place| steps[place].survival);
        let mut at_risk = vec![0.0; self.groups.len()];
        // a column a time, so that the products of many times are taken together
        let mut columns = Vec::new();
        for (back, set) in stratum.sets.iter().enumerate() {
            // the steps run the other way and are as many as the sets
            let earlier = (steps.len() - 1 - back).checked_sub(1);
            let weight = before(earlier).powf(rho);
            for &row in &sets.order[set.joining.clone()] {
                at_risk[self.places[row]] += 1.0;
            }
            for &place in &sets.departures[set.leaving.clone()] {
                at_risk[self.places[sets.order[place]]] -= 1.0;
            }
            for &row in &sets.order[set.ending.clone()] {
                self.groups[self.places[row]].observed += weight;
            }
            self.expect(&at_risk, set.ending.len() as f64, weight, &mut columns);
            if columns.len() >= BLOCK * self.groups.len() {
                self.take_off(std::mem::take(&mut columns));
            }
        }
        self.take_off(columns);
    }

    /// Takes the products of columns with themselves from the covariance.
    fn take_off(&mut self, columns: Vec<f64>) {
        let times = columns.len() / self.groups.len();
        let columns = DMatrix::from_vec(self.groups.len(), times, columns);
        self.covariance.gemm(-1.0, &columns, &columns.transpose(), 1.0);
    }

    /// What one time adds to the expected events and to the diagonal of their covariance, and the column whose product with itself is taken off.
    fn expect(&mut self, at_risk: &[f64], events: f64, weight: f64, columns: &mut Vec<f64>) {
        let all: f64 = at_risk.iter().sum();
        for (group, count) in self.groups.iter_mut().zip(at_risk) {
            group.expected += weight * events * count / all;
        }
        // a group by itself varies by nothing, and rounding shall not make it vary
        if all <= 1.0 || at_risk.contains(&all) {
            return;
        }
        let spread = weight * weight * events * (all - events) / (all - 1.0);
        for (group, count) in at_risk.iter().enumerate() {
            self.covariance[(group, group)] += spread * count / all;
        }
        let root = spread.sqrt() / all;
        columns.extend(at_risk.iter().map(|count| root * count));
    }

    pub(super) fn finish(self) -> Result<LogRank, StatsError> {
        let excess = self.groups.iter().map(|group| group.observed - group.expected);
        let excess = DVector::from_iterator(self.groups.len(), excess);
        let (statistic, rank) = quadratic_form(self.covariance, excess);
        if rank == 0 {
            let what = "the group among those at risk together".into();
            return Err(StatsError::NoVariation { what });
        }
        let test = ChiSquaredTest { statistic, degrees_of_freedom: rank as f64 };
        Ok(LogRank { test, groups: self.groups })
    }
}

/// `z' V^- z` and the rank of a covariance that holds `z`, by elimination that passes over dependent rows.
fn quadratic_form(mut matrix: DMatrix<f64>, mut vector: DVector<f64>) -> (f64, usize) {
    let size = vector.len();
    let own = matrix.diagonal();
    let (mut total, mut rank) = (0.0, 0);
    for pivot in 0..size {
        let spread = matrix[(pivot, pivot)];
        if spread <= NOTHING_NEW * own[pivot] {
            continue;
        }
        rank += 1;
        total += vector[pivot] * vector[pivot] / spread;
        for row in pivot + 1..size {
            let factor = matrix[(row, pivot)] / spread;
            vector[row] -= factor * vector[pivot];
            for column in pivot + 1..size {
                matrix[(row, column)] -= factor * matrix[(pivot, column)];
            }
        }
    }
    (total, rank)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lifetimes(times: &[f64], ended: &[bool]) -> Lifetimes {
        Lifetimes::new(times, ended).unwrap()
    }

    #[test]
    fn a_hand_worked_comparison_is_met() {
        // times 1 (a), 2 (b), 3 (a), 4 (b): expected a 2/4 + 1/3 + 1/2, variance 1/4 + 2/9 + 1/4
        let found = log_rank(&lifetimes(&[1.0, 2.0, 3.0, 4.0], &[true; 4]), &[0, 1, 0, 1], None);
        let found = found.unwrap();
        let expected = 0.5 + 1.0 / 3.0 + 0.5;
        assert!((found.groups[0].expected - expected).abs() < 1e-15);
        let statistic = (2.0 - expected).powi(2) / (0.5 + 2.0 / 9.0);
        assert!((found.test.statistic - statistic).abs() < 1e-14);
        assert_eq!(found.test.degrees_of_freedom, 1.0);
    }

    #[test]
    fn one_group_has_nothing_to_be_compared_with() {
        let fault = log_rank(&lifetimes(&[1.0, 2.0], &[true; 2]), &[7, 7], None);
        assert_eq!(fault, Err(StatsError::TooFewGroups { found: 1, needed: 2 }));
    }

    #[test]
    fn all_censored_are_refused() {
        let fault = log_rank(&lifetimes(&[1.0, 2.0], &[false; 2]), &[0, 1], None);
        assert!(matches!(fault, Err(StatsError::NoEvents { .. })));
    }

    #[test]
    fn a_group_without_events_is_compared_like_any_other() {
        let times = [1.0, 2.0, 3.0, 5.0, 5.0, 5.0];
        let ended = [true, true, true, false, false, false];
        let found = log_rank(&lifetimes(&times, &ended), &[0, 0, 0, 1, 1, 1], None).unwrap();
        assert_eq!(found.groups[1].observed, 0.0);
        assert!(found.test.p_value() < 0.05);
    }

    #[test]
    fn a_group_that_was_gone_before_the_first_event_costs_no_degree_of_freedom() {
        let times = [0.5, 0.6, 1.0, 2.0, 3.0, 4.0];
        let ended = [false, false, true, true, true, true];
        let found = log_rank(&lifetimes(&times, &ended), &[9, 9, 0, 1, 0, 1], None).unwrap();
        assert_eq!(found.test.degrees_of_freedom, 1.0);
        let without = log_rank(&lifetimes(&times[2..], &ended[2..]), &[0, 1, 0, 1], None).unwrap();
        assert!((found.test.statistic - without.test.statistic).abs() < 1e-14);
    }

    #[test]
    fn groups_that_are_only_ever_by_themselves_cost_no_degree_of_freedom() {
        // any number of them, so that no rounding of their shares is taken for a variance
        for (alone, ending) in (2..60).flat_map(|alone| [1, 2, alone / 2].map(|end| (alone, end))) {
            let mut times = vec![1.0, 2.0, 3.0, 4.0];
            times.extend((0..alone).map(|row| if row < ending { 1.0 } else { 2.0 }));
            let mut ended = vec![true; 4];
            ended.extend((0..alone).map(|row| row < ending));
            let mut groups = vec![0, 1, 0, 1];
            groups.extend(vec![2; alone]);
            let mut strata = vec![0; 4];
            strata.extend(vec![1; alone]);
            let found = log_rank(&lifetimes(&times, &ended), &groups, Some(&strata)).unwrap();
            let without = log_rank(&lifetimes(&times[..4], &ended[..4]), &groups[..4], None);
            assert_eq!(found.test, without.unwrap().test, "{ending} of {alone}");
        }
    }

    #[test]
    fn more_times_than_a_block_holds_are_all_counted() {
        let times: Vec<f64> = (0..700).map(f64::from).collect();
        let groups: Vec<usize> = (0..700).map(|row| usize::from(row * row % 7 < 3)).collect();
        let found = log_rank(&lifetimes(&times, &vec![true; 700]), &groups, None).unwrap();
        let (mut excess, mut variance) = (0.0, 0.0);
        for time in 0..700 {
            let share = groups[time..].iter().sum::<usize>() as f64 / (700 - time) as f64;
            excess += groups[time] as f64 - share;
            variance += share * (1.0 - share);
        }
        assert!((found.test.statistic / (excess * excess / variance) - 1.0).abs() < 1e-11);
    }

    #[test]
    fn one_time_for_all_cannot_tell_groups_apart() {
        let fault = log_rank(&lifetimes(&[3.0; 4], &[true; 4]), &[0, 0, 1, 1], None);
        assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn groups_that_never_share_a_stratum_are_not_compared() {
        let data = lifetimes(&[1.0, 2.0, 3.0, 4.0], &[true; 4]);
        let fault = log_rank(&data, &[0, 0, 1, 1], Some(&[5, 5, 6, 6]));
        assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn pairs_of_groups_that_meet_only_each_other_give_one_degree_each() {
        let times = [1.0, 2.0, 3.0, 4.0, 1.0, 2.0, 3.0, 4.0];
        let groups = [0, 1, 0, 1, 2, 3, 2, 3];
        let strata = [0, 0, 0, 0, 1, 1, 1, 1];
        let all = log_rank(&lifetimes(&times, &[true; 8]), &groups, Some(&strata)).unwrap();
        let half = log_rank(&lifetimes(&times[..4], &[true; 4]), &groups[..4], None).unwrap();
        assert_eq!(all.test.degrees_of_freedom, 2.0);
        assert!((all.test.statistic - 2.0 * half.test.statistic).abs() < 1e-13);
    }

    #[test]
    fn a_negative_weight_is_refused() {
        let data = lifetimes(&[1.0, 2.0], &[true; 2]);
        assert!(weighted_log_rank(&data, &[0, 1], None, -1.0).is_err());
        assert!(weighted_log_rank(&data, &[0, 1], None, f64::NAN).is_err());
        assert!(log_rank(&data, &[0], None).is_err());
    }

    proptest! {
        #[test]
        fn observed_and_expected_have_the_same_sum_and_labels_do_not_matter(
            rows in prop::collection::vec((1_u8..12, any::<bool>(), 0_usize..3), 6..40)
        ) {
            let times: Vec<f64> = rows.iter().map(|row| f64::from(row.0)).collect();
            let ended: Vec<bool> = rows.iter().map(|row| row.1).collect();
            let groups: Vec<usize> = rows.iter().map(|row| row.2).collect();
            let renamed: Vec<usize> = groups.iter().map(|group| 7 - 2 * group).collect();
            if let Ok(found) = log_rank(&lifetimes(&times, &ended), &groups, None) {
                let excess: f64 = found.groups.iter().map(|g| g.observed - g.expected).sum();
                prop_assert!(excess.abs() < 1e-10);
                let again = log_rank(&lifetimes(&times, &ended), &renamed, None).unwrap();
                prop_assert!((found.test.statistic - again.test.statistic).abs() < 1e-8 * (1.0 + found.test.statistic));
                prop_assert_eq!(found.test.degrees_of_freedom, again.test.degrees_of_freedom);
            }
        }
    }
}
