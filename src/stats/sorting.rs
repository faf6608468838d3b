//! Dropping units by one measurement before work goes into them: limits that are chosen on some groups and judged on others.

use crate::stats::error::{StatsError, require_finite, require_length};
use crate::stats::numeric::{quantiles_of, t_quantile, t_two_sided};

/// Limits are sought at the tenths of the values.
const PARTS: usize = 10;
/// The tenths of all units are not quite those of the units of the other groups: half a tenth fewer may be kept there, or a range that is chosen on all would be barred to
/// some groups and the judgement would fall short of it.
const SLACK: f64 = 0.05;

/// What is kept: values from `low` to `high`, both included; a side without a limit is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Nothing below is kept.
    pub low: Option<f64>,
    /// Nothing above is kept.
    pub high: Option<f64>,
}

/// Limits and how they fare on groups that had no part in choosing them.
#[derive(Debug, Clone, PartialEq)]
pub struct Sorted {
    /// The limits chosen on all groups.
    pub limits: Limits,
    /// Whether each unit is kept by the limits that were chosen without its group.
    pub kept: Vec<bool>,
    /// The judged gain.
    pub gain: Gain,
}

/// The share of successes among the kept less the share among all, from groups that were left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// Share of successes among all units.
    pub all: f64,
    /// Share among those kept.
    pub kept: f64,
    /// `kept - all`.
    pub estimate: f64,
    /// Ends of the interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Two-sided p value of no gain; 1 where nothing is dropped, 0 where every group gains the same.
    pub p: f64,
}

/// Successes and units of a part of the values.
#[derive(Debug, Clone, Copy, Default)]
struct Count {
    successes: f64,
    units: f64,
}

impl Count {
    fn add(&mut self, other: Count, sign: f64) {
        self.successes += sign * other.successes;
        self.units += sign * other.units;
    }
}

/// For every group the limits at tenths of the values that give the largest share of successes among the kept units of the other groups, at least about `least_kept` of the
/// units kept (the fewest dropped on a tie), and how they fare on the group itself: nested, so that the choice does not flatter the judgement (Stone 1974, Journal of the
/// Royal Statistical Society B 36, 111-147).
///
/// The gain is a difference of two ratios over groups; its interval rests on the groups' residuals (the linearised ratio: Cochran 1977, Sampling Techniques, chapter 6,
/// from memory) and on t with one degree of freedom fewer than groups. The groups are judged by
/// limits that were chosen on nearly the same others, so their residuals are no independent ones: the variance is raised by `1 + G / (G - 1)` (the correction of Nadeau &
/// Bengio 2003, Machine Learning 52, 239-281, with a group held out at a time; from memory). Without it, noise was called a gain in 26 logs of 400.
///
/// # Errors
/// `LengthMismatch`, `NotFinite`; `TooFewGroups` under two; `NoVariation` where nothing would be kept.
pub fn sorted(
    values: &[f64],
    successes: &[bool],
    groups: &[usize],
    least_kept: f64,
    level: f64,
) -> Result<Sorted, StatsError> {
    require_length("the list of successes", values.len(), successes.len())?;
    require_length("the list of groups", values.len(), groups.len())?;
    require_finite("the values", values)?;
    let part = parts(values);
    let (group, groups) = numbered(groups);
    let mut counts = vec![[Count::default(); PARTS]; groups];
    let mut all = [Count::default(); PARTS];
    for ((&part, &success), &group) in part.iter().zip(successes).zip(&group) {
        let one = Count { successes: f64::from(u8::from(success)), units: 1.0 };
        counts[group][part].add(one, 1.0);
        all[part].add(one, 1.0);
    }
    if counts.len() < 2 {
        return Err(StatsError::TooFewGroups { found: counts.len(), needed: 2 });
    }
    let without = |own: &[Count; PARTS]| {
        let mut others = all;
        others.iter_mut().zip(own).for_each(|(others, own)| others.add(*own, -1.0));
        chosen(&others, least_kept)
    };
    let ranges: Vec<[usize; 2]> = counts.iter().map(without).collect();
    let is_kept = |(part, group): (&usize, &usize)| {
        let [first, last] = ranges[*group]; // one a group
        (first..=last).contains(part)
    };
    let kept: Vec<bool> = part.iter().zip(&group).map(is_kept).collect();
    let gain = gain(&kept, successes, (&group, groups), level)?;
    Ok(Sorted { limits: limits(values, &part, chosen(&all, least_kept)), kept, gain })
}

/// The groups as numbers from 0, in their order, and how many there are.
fn numbered(groups: &[usize]) -> (Vec<usize>, usize) {
    let mut known = groups.to_vec();
    known.sort_unstable();
    known.dedup();
    // units of a group mostly stand together
    let mut last = None;
    let number = |&group: &usize| match last {
        Some((before, number)) if before == group => number,
        _ => {
            let number = known.partition_point(|other| *other < group);
            last = Some((group, number));
            number
        }
    };
    (groups.iter().map(number).collect(), known.len())
}

/// The tenth of each value; equal values share theirs.
fn parts(values: &[f64]) -> Vec<usize> {
    let tenths =
        std::array::from_fn::<f64, { PARTS - 1 }, _>(|tenth| (tenth + 1) as f64 / PARTS as f64);
    let mut cuts = quantiles_of(&mut values.to_vec(), tenths).to_vec();
    cuts.dedup();
    // the largest value is no cut: nothing lies above it
    let largest = values.iter().copied().max_by(f64::total_cmp);
    cuts.retain(|cut| largest.is_some_and(|largest| *cut < largest));
    values.iter().map(|value| cuts.partition_point(|cut| cut < value)).collect()
}

/// First and last part of the range with the largest share of successes, the widest on a tie.
fn chosen(counts: &[Count; PARTS], least_kept: f64) -> [usize; 2] {
    let units: f64 = counts.iter().map(|count| count.units).sum();
    let mut best = ([0, PARTS - 1], f64::NEG_INFINITY, 0.0);
    for first in 0..PARTS {
        let mut kept = Count::default();
        for (last, count) in counts.iter().enumerate().skip(first) {
            kept.add(*count, 1.0);
            if kept.units <= 0.0 || kept.units < (least_kept - SLACK) * units {
                continue;
            }
            let share = kept.successes / kept.units;
            if share > best.1 + 1e-12 || (share > best.1 - 1e-12 && kept.units > best.2) {
                best = ([first, last], share, kept.units);
            }
        }
    }
    best.0
}

/// The smallest and the largest value kept, where values beyond them are dropped.
fn limits(values: &[f64], part: &[usize], [first, last]: [usize; 2]) -> Limits {
    let of = |wanted: &dyn Fn(usize) -> bool| {
        values
            .iter()
            .zip(part)
            .filter(|(_, part)| wanted(**part))
            .map(|(value, _)| *value)
            .collect()
    };
    let kept: Vec<f64> = of(&|part| (first..=last).contains(&part));
    let below: Vec<f64> = of(&|part| part < first);
    let above: Vec<f64> = of(&|part| part > last);
    Limits {
        low: (!below.is_empty()).then(|| kept.iter().copied().fold(f64::INFINITY, f64::min)),
        high: (!above.is_empty()).then(|| kept.iter().copied().fold(f64::NEG_INFINITY, f64::max)),
    }
}

fn gain(
    kept: &[bool],
    successes: &[bool],
    (group, groups): (&[usize], usize),
    level: f64,
) -> Result<Gain, StatsError> {
    let mut by_group = vec![(Count::default(), Count::default()); groups];
    let (mut all, mut stay) = (Count::default(), Count::default());
    for ((&kept, &success), &group) in kept.iter().zip(successes).zip(group) {
        let one = Count { successes: f64::from(u8::from(success)), units: 1.0 };
        let own = &mut by_group[group];
        own.0.add(one, 1.0);
        all.add(one, 1.0);
        if kept {
            own.1.add(one, 1.0);
            stay.add(one, 1.0);
        }
    }
    if stay.units <= 0.0 {
        return Err(StatsError::NoVariation { what: "what is kept".into() });
    }
    let (of_all, of_kept) = (all.successes / all.units, stay.successes / stay.units);
    let residual = |(own, kept): &(Count, Count)| {
        (kept.successes - of_kept * kept.units) / stay.units
            - (own.successes - of_all * own.units) / all.units
    };
    let squares: f64 = by_group.iter().map(|own| residual(own).powi(2)).sum();
    let count = by_group.len() as f64;
    let shared = 1.0 + count / (count - 1.0);
    let error = (shared * squares * count / (count - 1.0)).sqrt();
    let estimate = of_kept - of_all;
    let reach = t_quantile(0.5 + level / 2.0, count - 1.0) * error;
    let p = match error > 0.0 {
        true => t_two_sided(estimate / error, count - 1.0),
        // every group gains the same
        false => f64::from(u8::from(estimate == 0.0)),
    };
    let (low, high) = (estimate - reach, estimate + reach);
    Ok(Gain { all: of_all, kept: of_kept, estimate, low, high, p })
}

/// Net benefit of treating some of `all` units (Vickers & Elkin 2006, Medical Decision Making 26, 565-574): true positives per unit less false positives per unit, these
/// weighed by the odds of the threshold, the chance of success below which a unit is not worth treating.
pub fn net_benefit(true_positives: f64, false_positives: f64, all: f64, threshold: f64) -> f64 {
    (true_positives - false_positives * threshold / (1.0 - threshold)) / all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::resample::stream;
    use rand::RngExt;

    /// By hand: of 100 treated of 200, 60 succeed; at a threshold of 0.2 a failure weighs a quarter of a success: (60 - 40 / 4) / 200 = 0.25.
    #[test]
    fn net_benefit_by_hand() {
        assert!((net_benefit(60.0, 40.0, 200.0, 0.2) - 0.25).abs() < 1e-15);
        // treating all of whom a fifth succeeds is worth nothing at a threshold of a fifth
        assert!(net_benefit(40.0, 160.0, 200.0, 0.2).abs() < 1e-15);
    }

    /// Two groups of ten with the values 1 to 10, of which 6 to 10 succeed: each group chooses what the other needs.
    #[test]
    fn limits_chosen_on_one_group_are_judged_on_the_other() {
        let values: Vec<f64> = (0..20).map(|row| f64::from(row % 10 + 1)).collect();
        let successes: Vec<bool> = values.iter().map(|value| *value > 5.0).collect();
        let groups: Vec<usize> = (0..20).map(|row| row / 10).collect();
        let found = sorted(&values, &successes, &groups, 0.5, 0.95).unwrap();
        assert_eq!(found.limits, Limits { low: Some(6.0), high: None });
        assert_eq!((found.gain.all, found.gain.kept, found.gain.estimate), (0.5, 1.0, 0.5));
        assert_eq!(found.kept, successes);
    }

    /// In group 0 the high values succeed, in group 1 the low ones: what one group teaches misleads in the other.
    #[test]
    fn what_holds_in_the_other_group_alone_is_no_gain() {
        let values: Vec<f64> = (0..20).map(|row| f64::from(row % 10 + 1)).collect();
        let groups: Vec<usize> = (0..20).map(|row| row / 10).collect();
        let successes: Vec<bool> = values
            .iter()
            .zip(&groups)
            .map(|(value, group)| (*value > 5.0) == (*group == 0))
            .collect();
        let found = sorted(&values, &successes, &groups, 0.5, 0.95).unwrap();
        assert_eq!((found.gain.kept, found.gain.estimate), (0.0, -0.5));
    }

    #[test]
    fn what_groups_are_called_and_where_their_units_stand_changes_nothing() {
        let values: Vec<f64> = (0..60).map(|row| f64::from(row * 7 % 20)).collect();
        let successes: Vec<bool> = (0..60).map(|row| row * 11 % 17 > 6).collect();
        let groups: Vec<usize> = (0..60).map(|row| row * 5 % 7).collect();
        let names = [3, 40, 41, 900, 901, 70_000, usize::MAX];
        let renamed: Vec<usize> = groups.iter().map(|group| names[*group]).collect();
        let found = sorted(&values, &successes, &groups, 0.5, 0.95).unwrap();
        assert_eq!(sorted(&values, &successes, &renamed, 0.5, 0.95).unwrap(), found);
        let mut order: Vec<usize> = (0..60).collect();
        order.sort_by_key(|&row| groups[row]);
        let values: Vec<f64> = order.iter().map(|&row| values[row]).collect();
        let successes: Vec<bool> = order.iter().map(|&row| successes[row]).collect();
        let groups: Vec<usize> = order.iter().map(|&row| groups[row]).collect();
        let together = sorted(&values, &successes, &groups, 0.5, 0.95).unwrap();
        assert_eq!((together.limits, together.gain), (found.limits, found.gain));
    }

    #[test]
    fn equal_values_are_never_torn_apart_and_leave_nothing_to_drop() {
        let successes: Vec<bool> = (0..40).map(|row| row % 3 == 0).collect();
        let groups: Vec<usize> = (0..40).map(|row| row % 4).collect();
        let found = sorted(&[2.0; 40], &successes, &groups, 0.5, 0.95).unwrap();
        assert_eq!(found.limits, Limits { low: None, high: None });
        assert_eq!((found.gain.estimate, found.gain.low, found.gain.p), (0.0, 0.0, 1.0));
    }

    /// The best of many limits on noise is some gain where it was chosen, and none on average where it is judged.
    #[test]
    fn the_judged_gain_of_noise_is_none_on_average_and_seldom_excludes_it() {
        let (mut sum, mut out, logs) = (0.0, 0, 400);
        for log in 0..logs {
            let mut dice = stream(11, log);
            let values: Vec<f64> = (0..120).map(|_| dice.random::<f64>()).collect();
            let successes: Vec<bool> = (0..120).map(|_| dice.random::<f64>() < 0.5).collect();
            let groups: Vec<usize> = (0..120).map(|row| row % 10).collect();
            let gain = sorted(&values, &successes, &groups, 0.5, 0.95).unwrap().gain;
            sum += gain.estimate;
            out += usize::from(gain.low > 0.0);
        }
        // a judged gain scatters by about 0.05: by 0.0025 on average over the logs
        assert!((sum / logs as f64).abs() < 0.012, "{}", sum / logs as f64);
        assert!(out <= 24, "{out} of {logs}");
    }

    #[test]
    fn one_group_and_values_that_are_no_numbers_are_refused() {
        assert!(sorted(&[1.0, 2.0], &[true, false], &[3, 3], 0.5, 0.95).is_err());
        assert!(sorted(&[f64::NAN, 2.0], &[true, false], &[1, 2], 0.5, 0.95).is_err());
    }
}
