//! Intervals by hand, against the definition, and their coverage.

use super::*;
use crate::stats::penalised::leave_out_linear;
use crate::stats::products::Products;
use crate::stats::resample::{replicate, stream};
use proptest::prelude::*;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

fn normal(generator: &mut impl Rng) -> f64 {
    StandardNormal.sample(generator)
}

/// Rules that are numbers.
fn constants(
    outcome: &[f64],
    groups: &[usize],
    folds: &Folds,
    rules: Vec<f64>,
) -> CrossConformal<f64> {
    CrossConformal::from_rules(outcome, groups, folds, rules, |rule, _| *rule).unwrap()
}

#[test]
fn a_hand_worked_jackknife_is_met() {
    // nine rows, each a fold, rules all 0, errors 1..9: at 0.8 the ceil(0.8 * 10) = 8th smallest
    let outcome: Vec<f64> = (1..=9).map(f64::from).collect();
    let groups: Vec<usize> = (0..9).collect();
    let folds = Folds::each_group(&groups).unwrap();
    let found = constants(&outcome, &groups, &folds, vec![0.0; 9]);
    for exchangeable in [Exchangeable::Rows, Exchangeable::Groups] {
        let interval = found.interval(0.8, exchangeable, |rule| rule + 100.0).unwrap();
        assert_eq!((interval.low, interval.high), (92.0, 108.0));
        assert!((interval.promised.unwrap() - 0.6).abs() < 1e-12);
    }
    // 0.9 * 10 = 9 exactly: the largest error, still finite
    let edge = found.interval(0.9, Exchangeable::Rows, |rule| *rule).unwrap();
    assert_eq!((edge.low, edge.high), (-9.0, 9.0));
}

#[test]
fn too_few_groups_leave_the_interval_unbounded_and_it_says_so() {
    let outcome: Vec<f64> = (0..40).map(f64::from).collect();
    let groups: Vec<usize> = (0..40).map(|row| row / 10).collect();
    let folds = Folds::each_group(&groups).unwrap();
    let found = constants(&outcome, &groups, &folds, vec![20.0; 4]);
    // four groups and a fifth unseen: 4/5 of the weight at most
    let by_groups = found.interval(0.9, Exchangeable::Groups, |rule| *rule).unwrap();
    assert!(!by_groups.is_bounded());
    assert_eq!((by_groups.low, by_groups.high), (f64::NEG_INFINITY, f64::INFINITY));
    assert!(found.interval(0.8, Exchangeable::Groups, |rule| *rule).unwrap().is_bounded());
    assert!(found.interval(0.9, Exchangeable::Rows, |rule| *rule).unwrap().is_bounded());
}

#[test]
fn a_large_group_has_no_more_say_than_a_small_one() {
    // group 0 with a hundred errors of 9, nine groups with one error of 1
    let mut outcome = vec![9.0; 100];
    outcome.extend([1.0; 9]);
    let groups: Vec<usize> = (0..109_usize).map(|row| row.saturating_sub(99)).collect();
    let folds = Folds::each_group(&groups).unwrap();
    let found = constants(&outcome, &groups, &folds, vec![0.0; 10]);
    let by_groups = found.interval(0.8, Exchangeable::Groups, |rule| *rule).unwrap();
    assert_eq!(by_groups.high, 1.0);
    let by_rows = found.interval(0.8, Exchangeable::Rows, |rule| *rule).unwrap();
    assert_eq!((by_rows.high, by_rows.promised), (9.0, None));
}

#[test]
fn what_larger_folds_promise_is_theorem_4() {
    let groups: Vec<usize> = (0..20).collect();
    let folds = Folds::of_groups(&groups, 5, 1).unwrap();
    let found = constants(&[1.0; 20], &groups, &folds, vec![0.0; 5]);
    let interval = found.interval(0.9, Exchangeable::Rows, |rule| *rule).unwrap();
    // the formula from memory; n 20, K 5: min(2 * 0.8 / 5, 0.75 / 6) = 0.125
    assert!((interval.promised.unwrap() - (0.8 - 0.125)).abs() < 1e-12);
    let uneven = Folds::of_groups(&groups, 3, 1).unwrap();
    let found = constants(&[1.0; 20], &groups, &uneven, vec![0.0; 3]);
    assert_eq!(found.interval(0.9, Exchangeable::Rows, |rule| *rule).unwrap().promised, None);
}

proptest! {
    #[test]
    fn rows_give_the_order_statistics_of_the_definition(
        rows in prop::collection::vec((-5.0_f64..5.0, -5.0_f64..5.0), 4..40),
        nominal in 0.51_f64..0.95,
    ) {
        let (outcome, rules): (Vec<f64>, Vec<f64>) = rows.iter().copied().unzip();
        let groups: Vec<usize> = (0..rows.len()).collect();
        let folds = Folds::each_group(&groups).unwrap();
        let found = constants(&outcome, &groups, &folds, rules.clone());
        let interval = found.interval(nominal, Exchangeable::Rows, |rule| 2.0 * rule).unwrap();
        let mut lows: Vec<f64> = rows.iter().map(|(y, m)| 2.0 * m - (y - m).abs()).collect();
        let mut highs: Vec<f64> = rows.iter().map(|(y, m)| 2.0 * m + (y - m).abs()).collect();
        lows.sort_by(f64::total_cmp);
        highs.sort_by(f64::total_cmp);
        let units = (rows.len() + 1) as f64;
        let upper = (nominal * units).ceil() as usize;
        let lower = ((1.0 - nominal) * units).floor() as usize;
        let high = if upper > rows.len() { f64::INFINITY } else { highs[upper - 1] };
        let low = if lower == 0 { f64::NEG_INFINITY } else { lows[lower - 1] };
        prop_assert_eq!((interval.low, interval.high), (low, high));
    }
}

/// Lots that differ, of four to nine rows; the last lot is new, and one of its rows is to be predicted. Whether it is covered.
fn covered(generator: &mut impl Rng) -> bool {
    let lots = 25;
    let (mut x, mut y, mut groups) = (Vec::new(), Vec::new(), Vec::new());
    for lot in 0..=lots {
        let shift = normal(generator);
        for _ in 0..4 + lot % 6 {
            x.push(normal(generator));
            y.push(shift + x[x.len() - 1] + normal(generator));
            groups.push(lot);
        }
    }
    let seen = groups.iter().filter(|&&lot| lot < lots).count();
    let design = Design::builder(seen).number("x", &x[..seen]).build().unwrap();
    let folds = Folds::each_group(&groups[..seen]).unwrap();
    let products = Products::new(&design, &y[..seen], &groups[..seen]).unwrap();
    let rules = leave_out_linear(&products, &folds, 0.0).unwrap();
    let found =
        CrossConformal::linear(&design, &y[..seen], &groups[..seen], &folds, rules).unwrap();
    let interval = found.interval_at(&[x[seen]], 0.9, Exchangeable::Groups).unwrap();
    interval.low <= y[seen] && y[seen] <= interval.high
}

#[test]
fn a_row_of_a_new_lot_is_covered_as_often_as_promised() {
    let hits = replicate(5, 1000, covered);
    let share = hits.iter().filter(|&&hit| hit).count() as f64 / 1000.0;
    // 0.8 is promised, about 0.9 is usual (sd 0.0095)
    assert!((0.87..=0.95).contains(&share), "{share}");
}

#[test]
fn any_fit_can_be_wrapped_and_the_number_of_threads_does_not_matter() {
    let mut generator = stream(9, 0);
    let outcome: Vec<f64> = (0..60).map(|_| normal(&mut generator)).collect();
    let groups: Vec<usize> = (0..60).map(|row| row % 30).collect();
    let folds = Folds::of_groups(&groups, 10, 1).unwrap();
    let median = |rows: &[usize]| {
        let values: Vec<f64> = rows.iter().map(|&row| outcome[row]).collect();
        crate::stats::numeric::median(&values)
    };
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let found = pool.unwrap().install(|| {
            CrossConformal::new(&outcome, &groups, &folds, median, |rule, _| *rule).unwrap()
        });
        found.interval(0.9, Exchangeable::Groups, |rule| *rule).unwrap()
    };
    assert!(on(1).is_bounded() && on(1).promised.is_some());
    assert_eq!(on(1), on(2));
    assert_eq!(on(1), on(7));
}

#[test]
fn what_gives_no_interval_is_refused() {
    let groups = [0, 0, 1];
    let folds = Folds::each_group(&groups).unwrap();
    let build = |outcome: &[f64], groups: &[usize], rules: Vec<f64>| {
        CrossConformal::from_rules(outcome, groups, &folds, rules, |rule, _| *rule)
    };
    let y = [1.0, 2.0, 3.0];
    let mismatch = |found: Result<CrossConformal<f64>, StatsError>| {
        assert!(matches!(found, Err(StatsError::LengthMismatch { .. })));
    };
    mismatch(build(&y, &groups, vec![0.0]));
    mismatch(build(&y[1..], &groups, vec![0.0; 2]));
    mismatch(build(&y, &groups[1..], vec![0.0; 2]));
    let infinite = |found: Result<CrossConformal<f64>, StatsError>| {
        assert!(matches!(found, Err(StatsError::NotFinite { .. })));
    };
    infinite(build(&[1.0, f64::NAN, 0.0], &groups, vec![0.0; 2]));
    infinite(build(&y, &groups, vec![0.0, f64::INFINITY]));
    let found = build(&y, &groups, vec![0.0; 2]).unwrap();
    for nominal in [0.5, 1.0, 0.0, f64::NAN] {
        let fault = found.interval(nominal, Exchangeable::Rows, |rule| *rule);
        assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
    }
    let fault = found.interval(0.9, Exchangeable::Rows, |_| f64::NAN);
    assert!(matches!(fault, Err(StatsError::NotFinite { .. })));
}

#[test]
fn many_groups_share_all_of_the_weight() {
    // four groups, errors of 1 in three and of 9 in one: 3/4 of the weight below 9
    let outcome = vec![1.0, 1.0, 1.0, 9.0];
    let groups: Vec<usize> = (0..4).collect();
    let folds = Folds::each_group(&groups).unwrap();
    let found = constants(&outcome, &groups, &folds, vec![0.0; 4]);
    let of = |nominal| found.interval(nominal, Exchangeable::ManyGroups, |rule| *rule).unwrap();
    assert_eq!((of(0.75).high, of(0.76).high, of(0.9).low), (1.0, 9.0, -9.0));
    assert_eq!(of(0.75).promised, None);
}

#[test]
fn a_hand_worked_distribution_is_met() {
    // rules that say 0, errors -1, 0, 0 and 2, a new row at 10: 9, 10, 10 and 12, a fifth of the weight each and a fifth anywhere
    let outcome = vec![-1.0, 0.0, 2.0, 0.0];
    let groups: Vec<usize> = (0..4).collect();
    let folds = Folds::each_group(&groups).unwrap();
    let found = constants(&outcome, &groups, &folds, vec![0.0; 4]);
    let new = found.distribution(Exchangeable::Rows, |rule| rule + 10.0).unwrap();
    assert_eq!(new.centre(), 10.0);
    for (least, chance) in [(9.0, 0.9), (9.5, 0.7), (10.0, 0.7), (11.0, 0.3), (13.0, 0.1)] {
        assert!((new.at_least(least) - chance).abs() < 1e-12, "{least}");
    }
    for (most, chance) in [(8.0, 0.1), (9.0, 0.3), (10.0, 0.7), (12.0, 0.9)] {
        assert!((new.at_most(most) - chance).abs() < 1e-12, "{most}");
    }
    assert_eq!(new.quantiles(4), [9.0, 10.0, 10.0, 12.0]);
    // by the pooled errors three of four stay at or below 0
    assert_eq!(
        (found.level_above(0.25), found.level_above(0.7), found.level_above(0.8)),
        (-1.0, 0.0, 2.0)
    );
    assert!(found.distribution(Exchangeable::Rows, |_| f64::NAN).is_err());
}

/// With marks in whole points, the level that half of the rows stay below is the middle between the marks and not the mark.
#[test]
fn whole_marks_put_the_level_between_them() {
    let mut generator = stream(5, 0);
    let rows = 400;
    let smooth: Vec<f64> = (0..rows).map(|_| normal(&mut generator)).collect();
    let outcome: Vec<f64> =
        smooth.iter().map(|x| (x + 0.5 + 0.5 * normal(&mut generator)).round()).collect();
    let groups: Vec<usize> = (0..rows).collect();
    let folds = Folds::each_group(&groups).unwrap();
    let predict = |_: &f64, row: usize| smooth[row] + 0.5;
    let found =
        CrossConformal::from_rules(&outcome, &groups, &folds, vec![0.0; rows], predict).unwrap();
    let reach = outcome.iter().filter(|mark| **mark >= 1.0).count() as f64 / rows as f64;
    let level = found.level_above(1.0 - reach);
    assert!((level - 0.5).abs() < 0.1, "{level}");
}

/// The definition: values in order, weights added up.
fn by_sorting(mut values: Vec<(f64, f64)>, level: f64) -> f64 {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut weight = 0.0;
    let reached = values.into_iter().find(|(_, own)| {
        weight += own;
        weight >= level - 1e-12
    });
    reached.map_or(f64::INFINITY, |(value, _)| value)
}

proptest! {
    #[test]
    fn a_weighted_quantile_is_the_first_value_up_to_which_enough_weighs(
        values in prop::collection::vec((-5_i8..5, 1_u32..9), 1..80), level in 0.0_f64..1.1,
    ) {
        // ties among the values; the whole weighs 1
        let all = f64::from(values.iter().map(|(_, weight)| weight).sum::<u32>());
        let values: Vec<(f64, f64)> = values
            .into_iter()
            .map(|(value, weight)| (f64::from(value), f64::from(weight) / all))
            .collect();
        prop_assert_eq!(weighted_quantile(values.clone(), level), by_sorting(values, level));
    }
}
