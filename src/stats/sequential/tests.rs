use super::*;
use crate::stats::estimate::Estimate;
use crate::stats::numeric::{normal_quantile, t_two_sided};
use proptest::prelude::*;

fn close(found: f64, expected: f64, absolute: f64) {
    assert!((found - expected).abs() <= absolute, "{found} is not {expected}");
}

fn all_close(found: &[f64], expected: &[f64], absolute: f64) {
    assert_eq!(found.len(), expected.len());
    found.iter().zip(expected).for_each(|(&found, &expected)| close(found, expected, absolute));
}

fn evenly(looks: usize) -> Vec<f64> {
    (1..=looks).map(|look| look as f64 / looks as f64).collect()
}

fn spending(fractions: &[f64]) -> Boundary {
    Boundary::spending(Spending::OBrienFlemingType, fractions, 0.05).unwrap()
}

fn normal(value: f64, standard_error: f64) -> Estimate {
    Estimate { value, standard_error, degrees_of_freedom: f64::INFINITY }
}

#[test]
fn the_spending_rules_spend_all_at_the_end_and_nothing_at_the_start() {
    for rule in [Spending::OBrienFlemingType, Spending::PocockType] {
        assert_eq!(rule.spent(0.05, 0.0).unwrap(), 0.0);
        close(rule.spent(0.05, 1.0).unwrap(), 0.05, 1e-15);
    }
    // Lan & DeMets 1983: 4 [1 - Phi(2.2414 / sqrt 0.5)] by the normal table
    close(Spending::OBrienFlemingType.spent(0.05, 0.5).unwrap(), 0.00305, 5e-6);
    close(Spending::PocockType.spent(0.05, 0.5).unwrap(), 0.05 * (1.859_140_914_f64).ln(), 1e-10);
}

#[test]
fn bounds_of_the_obrien_fleming_spending_are_those_in_print() {
    // Reboussin, DeMets, Kim & Lan 2000, Controlled Clinical Trials 21, 190-207: two-sided 0.05, equal looks (from memory)
    all_close(spending(&evenly(2)).bounds(), &[2.963, 1.969], 6e-4);
    all_close(spending(&evenly(3)).bounds(), &[3.710, 2.511, 1.993], 6e-4);
    all_close(spending(&evenly(4)).bounds(), &[4.333, 2.963, 2.359, 2.014], 6e-4);
    // the printed fourth digits carry the coarser grid of that program: the second bound is 3.35701 by scipy 1.17.1, brentq over integrate.quad(epsrel=1e-12)
    all_close(spending(&evenly(5)).bounds(), &[4.8769, 3.3569, 2.6803, 2.2898, 2.0310], 2e-4);
    close(spending(&evenly(5)).bounds()[1], 3.357011921574, 1e-9);
    // Lan & DeMets 1983, table 1: five looks, to two digits (from memory)
    all_close(spending(&evenly(5)).bounds(), &[4.90, 3.35, 2.68, 2.29, 2.03], 0.03);
}

#[test]
fn each_look_alone_has_the_level_that_is_added_at_it() {
    let alone = Boundary::each_look_alone(Spending::OBrienFlemingType, &evenly(2), 0.05).unwrap();
    // 0.003051 is spent at half way (above), which leaves 0.046949; Phi(-1.9868) is half of it by the normal table
    all_close(&alone.nominal_levels(), &[0.003_05, 0.046_95], 5e-6);
    close(alone.bounds()[1], 1.9868, 2e-4);
    close(alone.nominal_levels().iter().sum(), 0.05, 1e-12);
}

#[test]
fn looks_judged_alone_never_exceed_the_significance_and_cost_little() {
    for looks in 2..=5 {
        let rule = Spending::OBrienFlemingType;
        let alone = Boundary::each_look_alone(rule, &evenly(looks), 0.05).unwrap();
        let exact = spending(&evenly(looks));
        let false_alarms = alone.crossing(0.0).unwrap().total();
        assert!((0.03..0.05).contains(&false_alarms), "{looks} looks: {false_alarms}");
        assert!(alone.bounds().iter().zip(exact.bounds()).all(|(a, b)| *a >= b - 1e-9));
        let (cost, least) = (alone.inflation(0.8).unwrap(), exact.inflation(0.8).unwrap());
        // least with two looks, and more with each further one
        let room = [0.02, 0.08, 0.13, 0.17][looks - 2];
        assert!(least <= cost && cost < 1.0 + room, "{looks} looks: {cost}, at least {least}");
    }
}

#[test]
fn a_small_trial_of_two_looks_stays_below_and_one_of_more_spends_what_it_may() {
    let bounds = |looks: usize| {
        Boundary::for_small_trials(Spending::OBrienFlemingType, &evenly(looks), 0.05).unwrap()
    };
    assert!(bounds(2).crossing(0.0).unwrap().total() < 0.05);
    assert_eq!(bounds(3), spending(&evenly(3)));
}

#[test]
fn a_single_look_judged_alone_is_the_plain_test() {
    let alone = Boundary::each_look_alone(Spending::PocockType, &[1.0], 0.05).unwrap();
    close(alone.bounds()[0], 1.959_963_984_540_054, 1e-12);
}

#[test]
fn bounds_of_the_pocock_spending_are_those_in_print() {
    // Reboussin et al. 2000 (from memory)
    let five = Boundary::spending(Spending::PocockType, &evenly(5), 0.05).unwrap();
    all_close(five.bounds(), &[2.4380, 2.4268, 2.4101, 2.3966, 2.3859], 2e-4);
    // scipy 1.17.1, brentq over integrate.quad(epsrel=1e-12)
    close(five.bounds()[1], 2.426813858150, 1e-9);
    let two = Boundary::spending(Spending::PocockType, &evenly(2), 0.05).unwrap();
    all_close(two.bounds(), &[2.157, 2.201], 6e-4);
}

#[test]
fn classic_constants_are_met() {
    // Pocock 1977, table 1; O'Brien & Fleming 1979; as in Jennison & Turnbull 2000, tables 2.1 and 2.3, two-sided 0.05 (from memory)
    let pocock = [(2, 2.178), (3, 2.289), (4, 2.361), (5, 2.413), (10, 2.555)];
    let falling = [(2, 1.977), (3, 2.004), (4, 2.024), (5, 2.040), (10, 2.087)];
    for (shape, table) in [(Shape::Pocock, pocock), (Shape::OBrienFleming, falling)] {
        for (looks, constant) in table {
            let found = Boundary::constant(shape, &evenly(looks), 0.05).unwrap();
            close(found.bounds()[looks - 1], constant, 6e-4);
        }
    }
}

#[test]
fn unequal_looks_agree_with_another_integration() {
    // scipy 1.17.1: brentq over multivariate_normal.cdf(c, mean, cov, lower_limit=-c, abseps=1e-12, releps=1e-12), spending 4 norm.sf(norm.isf(.0125)/sqrt(t))
    all_close(spending(&[0.3, 1.0]).bounds(), &[3.928_572_542_63, 1.960_222_884_39], 1e-8);
    let three = spending(&[0.25, 0.6, 1.0]);
    all_close(three.bounds(), &[4.332_633_646_05, 2.668_868_751_73, 1.980_976_333_79], 1e-8);
}

#[test]
fn power_under_drift_agrees_with_another_integration() {
    let bounds = [4.332_633_646_050_449, 2.668_868_751_729_541, 1.980_976_333_790_810_4];
    let three = Boundary::given(&[0.25, 0.6, 1.0], &bounds).unwrap();
    // scipy 1.17.1: 1 - integrate.dblquad over both earlier looks of the normal density of the steps, epsabs=1e-12
    close(three.significance(), 0.050_000_000_158_82, 1e-11);
    let table =
        [(1.0, 0.168_541_795_673_56), (2.8, 0.796_199_540_375_43), (3.2, 0.890_159_722_588_32)];
    for (drift, power) in table {
        close(three.power(drift).unwrap(), power, 1e-11);
    }
}

#[test]
fn looking_without_a_plan_raises_false_alarms_as_published() {
    // Armitage, McPherson & Rowe 1969, table 2: 1, 2, 3, 4, 5, 10 looks at 5 per cent (from memory)
    let table = [(1, 0.050), (2, 0.083), (3, 0.107), (4, 0.126), (5, 0.142), (10, 0.193)];
    for (looks, share) in table {
        close(unadjusted_false_alarm(&evenly(looks), 0.05).unwrap(), share, 6e-4);
    }
    // scipy 1.17.1, 1 - multivariate_normal.cdf as above
    close(unadjusted_false_alarm(&[0.4, 1.0], 0.05).unwrap(), 0.086_331_301_60, 1e-9);
}

#[test]
fn what_looking_costs_is_as_published() {
    // Jennison & Turnbull 2000, tables 2.2 and 2.4, two-sided 0.05 (from memory): looks, power, Pocock, O'Brien & Fleming
    let table = [
        (2, 0.8, 1.110, 1.008),
        (2, 0.9, 1.100, 1.007),
        (5, 0.8, 1.229, 1.028),
        (5, 0.9, 1.207, 1.026),
    ];
    for (looks, power, pocock, falling) in table {
        for (shape, factor) in [(Shape::Pocock, pocock), (Shape::OBrienFleming, falling)] {
            let found = Boundary::constant(shape, &evenly(looks), 0.05).unwrap();
            close(found.inflation(power).unwrap(), factor, 1.1e-3);
        }
    }
}

#[test]
fn one_look_is_the_plain_test() {
    let once = spending(&[1.0]);
    close(once.bounds()[0], 1.959_963_984_540_054, 1e-12);
    close(once.inflation(0.8).unwrap(), 1.0, 1e-10);
    close(once.nominal_levels()[0], 0.05, 1e-14);
    let estimate = Estimate { value: 0.7, standard_error: 0.3, degrees_of_freedom: 9.0 };
    let plain = estimate.interval(0.95).unwrap();
    let repeated = once.repeated_interval(0, &estimate).unwrap();
    let stopped = once.after_stopping(0, &estimate, 0.95).unwrap();
    for (low, high) in [repeated, (stopped.low, stopped.high)] {
        close(low, plain.0, 1e-9);
        close(high, plain.1, 1e-9);
    }
    close(stopped.median_unbiased, 0.7, 1e-9);
    close(stopped.p, estimate.p_value(), 1e-12);
}

#[test]
fn a_t_statistic_is_judged_by_its_tail() {
    let two = spending(&[0.5, 1.0]);
    for df in [4.0, 12.0, 200.0] {
        close(t_two_sided(two.t_bound(0, df).unwrap(), df), two.nominal_levels()[0], 1e-12);
    }
    close(two.t_bound(1, f64::INFINITY).unwrap(), two.bounds()[1], 1e-10);
}

#[test]
fn after_a_second_look_the_estimate_agrees_with_another_integration() {
    // scipy 1.17.1: norm.sf(c1 - m1) + multivariate_normal.cdf over (-c1, c1) x (2.2, inf), brentq on the drift at 0.5, 0.025 and 0.975
    let found = spending(&[0.5, 1.0]).after_stopping(1, &normal(2.2, 1.0), 0.95).unwrap();
    close(found.p, 0.029_176_705_853, 1e-9);
    close(found.median_unbiased, 2.192_016_006_18, 1e-8);
    close(found.low, 0.223_159_883_094, 1e-8);
    close(found.high, 4.154_975_656_31, 1e-8);
}

#[test]
fn the_plain_estimate_is_kept_at_a_first_look_and_shrunk_at_a_later_one() {
    let two = spending(&[0.5, 1.0]);
    // at the first look nothing was yet selected: the estimate is its own median
    let early = two.after_stopping(0, &normal(3.1, 1.0), 0.95).unwrap();
    close(early.median_unbiased, 3.1, 1e-9);
    let late = two.after_stopping(1, &normal(3.1, 1.0), 0.95).unwrap();
    assert!(late.median_unbiased < 3.1 && late.median_unbiased > 2.8);
    let mirrored = two.after_stopping(1, &normal(-3.1, 1.0), 0.95).unwrap();
    close(mirrored.median_unbiased, -late.median_unbiased, 1e-9);
    close(mirrored.low, -late.high, 1e-9);
}

#[test]
fn a_hopeless_first_look_has_an_infinite_bound_and_tells_nothing() {
    let early = spending(&[0.0011, 1.0]);
    assert_eq!(early.bounds()[0], f64::INFINITY);
    close(early.bounds()[1], 1.959_963_984_540_054, 1e-9);
    let (low, high) = early.repeated_interval(0, &normal(5.0, 0.1)).unwrap();
    assert_eq!((low, high), (f64::NEG_INFINITY, f64::INFINITY));
}

#[test]
fn a_trial_that_is_expected_to_end_early_uses_less() {
    let two = spending(&[0.5, 1.0]);
    close(two.expected_fraction(0.0).unwrap(), 1.0 - 0.5 * two.nominal_levels()[0], 1e-12);
    assert!(two.expected_fraction(4.0).unwrap() < 0.8);
    close(two.expected_fraction(60.0).unwrap(), 0.5, 1e-12);
}

#[test]
fn looks_out_of_order_and_numbers_that_are_none_are_refused() {
    let rule = Spending::OBrienFlemingType;
    for fractions in
        [&[][..], &[0.0, 1.0], &[0.5, 0.5], &[0.7, 0.3], &[0.5, 1.1], &[f64::NAN], &[0.5, 0.50001]]
    {
        assert!(Boundary::spending(rule, fractions, 0.05).is_err(), "{fractions:?}");
        assert!(Boundary::constant(Shape::Pocock, fractions, 0.05).is_err(), "{fractions:?}");
        assert!(unadjusted_false_alarm(fractions, 0.05).is_err(), "{fractions:?}");
    }
    assert!(Boundary::spending(rule, &[1.0], 0.0).is_err());
    assert!(Boundary::spending(rule, &[1.0], f64::NAN).is_err());
    assert!(rule.spent(0.05, f64::NAN).is_err() && rule.spent(0.05, 1.1).is_err());
    assert!(Boundary::given(&[0.5, 1.0], &[2.0]).is_err());
    assert!(Boundary::given(&[0.5, 1.0], &[2.0, -1.0]).is_err());
    assert!(Boundary::given(&[0.5, 1.0], &[2.0, f64::INFINITY]).is_err());
    let many: Vec<f64> = (1..=101).map(|look| f64::from(look) / 101.0).collect();
    assert!(Boundary::spending(rule, &many, 0.05).is_err());
}

#[test]
fn what_a_boundary_cannot_answer_it_refuses() {
    let two = spending(&[0.5, 1.0]);
    assert!(two.power(f64::NAN).is_err() && two.power(101.0).is_err());
    assert!(two.drift_for_power(0.04).is_err() && two.drift_for_power(1.0).is_err());
    assert!(spending(&[0.5]).inflation(0.8).is_err());
    assert!(two.t_bound(2, 10.0).is_err() && two.t_bound(0, 0.0).is_err());
    assert!(two.repeated_interval(0, &normal(f64::NAN, 1.0)).is_err());
    assert!(two.repeated_interval(0, &normal(1.0, 0.0)).is_err());
    assert!(two.after_stopping(0, &normal(1.0, f64::NAN), 0.95).is_err());
    assert!(two.after_stopping(0, &normal(1.0, 1.0), 1.0).is_err());
    assert!(two.after_stopping(0, &normal(60.0, 1.0), 0.95).is_err());
    let none_left = Estimate { degrees_of_freedom: 0.0, ..normal(1.0, 1.0) };
    assert!(two.after_stopping(0, &none_left, 0.95).is_err());
}

#[test]
fn a_statistic_far_out_still_has_an_interval() {
    let found = spending(&[0.5, 1.0]).after_stopping(1, &normal(20.0, 1.0), 0.95).unwrap();
    assert!(found.low < found.median_unbiased && found.median_unbiased < found.high);
    assert!(found.p > 0.0 && found.p < 0.05);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn bounds_spend_exactly_the_significance(
        first in 0.1..0.45_f64, second in 0.5..0.9_f64, significance in 0.01..0.2_f64, pocock: bool,
    ) {
        let rule = if pocock { Spending::PocockType } else { Spending::OBrienFlemingType };
        let fractions = [first, second, 1.0];
        let found = Boundary::spending(rule, &fractions, significance).unwrap();
        let crossing = found.crossing(0.0).unwrap();
        prop_assert!((crossing.total() - significance).abs() < 1e-11);
        let early = crossing.upper[0] + crossing.lower[0];
        prop_assert!((early - rule.spent(significance, first).unwrap()).abs() < 1e-12);
        // no look is judged more kindly than a trial of one look
        let plain = -normal_quantile(0.5 * significance);
        prop_assert!(found.bounds().iter().all(|&bound| bound >= plain - 1e-9));
    }

    #[test]
    fn the_two_sides_mirror_each_other(drift in -5.0..5.0_f64, first in 0.2..0.8_f64) {
        let found = spending(&[first, 1.0]);
        let (there, back) = (found.crossing(drift).unwrap(), found.crossing(-drift).unwrap());
        for look in 0..2 {
            prop_assert!((there.upper[look] - back.lower[look]).abs() < 1e-13);
        }
    }

    #[test]
    fn power_and_drift_undo_each_other(power in 0.1..0.99_f64, first in 0.2..0.8_f64) {
        let found = spending(&[first, 1.0]);
        let drift = found.drift_for_power(power).unwrap();
        prop_assert!((found.power(drift).unwrap() - power).abs() < 1e-9);
        prop_assert!(found.inflation(power).unwrap() >= 1.0 - 1e-9);
    }
}
