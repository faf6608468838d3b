//! What a maker does now: the middle value, or the commonest kind, of the last days of the log.
//!
//! Every answer that speaks of the present practice takes it from here, so that two pages never name two of them.

use std::collections::BTreeMap;

/// A candidate so near to what is done now, in usual steps, is what is done now.
const NEAR: f64 = 0.25;

/// The days that count as the present.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct LastDays {
    pub days: u32,
    /// The day before the first of them.
    since: i32,
}

impl LastDays {
    /// The last `window` days of the log, or all of a shorter one; none without a date.
    pub fn of(days: &[Option<i32>], window: u32) -> Option<Self> {
        let last = days.iter().flatten().max()?;
        let first = days.iter().flatten().min()?;
        let span = last.abs_diff(*first).checked_add(1)?;
        let days = window.clamp(1, span);
        Some(Self { days, since: last.checked_sub_unsigned(days)? })
    }

    pub fn holds(self, day: Option<i32>) -> bool {
        day.is_some_and(|day| day > self.since)
    }
}

/// The values of the last days; all of them where none is dated, or none of the last days has one.
pub(super) fn recent<T: Clone>(
    values: &[Option<T>],
    days: &[Option<i32>],
    last: Option<LastDays>,
) -> Vec<T> {
    let is_recent = |day: &Option<i32>| last.is_none_or(|last| last.holds(*day));
    let dated = values.iter().zip(days).filter(|(_, day)| is_recent(day));
    let found: Vec<T> = dated.filter_map(|(value, _)| value.clone()).collect();
    if found.is_empty() { values.iter().flatten().cloned().collect() } else { found }
}

/// The lower median, so that it is something that was done, or the candidate that is nearly that.
pub(super) fn middle(mut values: Vec<f64>, candidates: &[f64], step: f64) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let present = *values.get(values.len().checked_sub(1)? / 2)?;
    let away = |candidate: &f64| (candidate - present).abs();
    let nearest = candidates.iter().copied().min_by(|a, b| away(a).total_cmp(&away(b)));
    Some(nearest.filter(|nearest| away(nearest) <= NEAR * step).unwrap_or(present))
}

/// The first in order on a tie.
pub(super) fn commonest<T: Ord>(values: impl Iterator<Item = T>) -> Option<T> {
    let mut counts: BTreeMap<T, usize> = BTreeMap::new();
    for value in values {
        *counts.entry(value).or_default() += 1;
    }
    let most = counts.values().max().copied()?;
    counts.into_iter().find(|(_, count)| *count == most).map(|(value, _)| value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_present_is_the_last_days_or_all_of_a_short_log() {
        let days = [Some(1), Some(20), None, Some(28)];
        let last = LastDays::of(&days, 7).unwrap();
        assert_eq!(last.days, 7);
        assert_eq!(days.map(|day| last.holds(day)), [false, false, false, true]);
        let all = LastDays::of(&days, 90).unwrap();
        assert_eq!(all.days, 28);
        assert_eq!(days.map(|day| all.holds(day)), [true, true, false, true]);
        assert_eq!(LastDays::of(&[None], 90), None);
    }

    #[test]
    fn where_the_last_days_have_no_value_all_days_speak() {
        let days = [Some(1), Some(2), Some(50)];
        let last = LastDays::of(&days, 10);
        assert_eq!(recent(&[Some(7.0), Some(9.0), None], &days, last), [7.0, 9.0]);
        assert_eq!(recent(&[Some(7.0), None, Some(9.0)], &days, last), [9.0]);
    }

    #[test]
    fn the_middle_value_was_done_or_is_a_candidate_within_a_quarter_step() {
        assert_eq!(middle(vec![20.0, 18.0, 19.0, 21.0], &[], 7.0), Some(19.0));
        assert_eq!(middle(vec![20.0, 18.0, 19.0, 21.0], &[10.0, 20.0], 7.0), Some(20.0));
        assert_eq!(middle(vec![20.0, 18.0, 19.0, 21.0], &[10.0, 22.0], 7.0), Some(19.0));
        assert_eq!(middle(vec![], &[10.0], 7.0), None);
    }

    #[test]
    fn of_kinds_that_are_as_common_the_first_by_name_counts() {
        assert_eq!(commonest(["dry", "soaked", "dry", "soaked"].iter()), Some(&"dry"));
        assert_eq!(commonest([0_u32; 0].iter()), None);
    }
}
