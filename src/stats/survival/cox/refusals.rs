//! Data from which a model cannot or can hardly be had.

use super::*;
use crate::stats::survival::example::{CENSORED, TIMES, X, Z, design, ended, lifetimes};
use proptest::prelude::*;

fn one(x: &[f64]) -> Design {
    Design::builder(x.len()).number("x", x).build().unwrap()
}

#[test]
fn all_censored_are_refused() {
    let lifetimes = Lifetimes::new(&TIMES, &[false; 24]).unwrap();
    let fault = fit_cox(&design(), &lifetimes, None, Ties::Efron);
    assert!(matches!(fault, Err(StatsError::NoEvents { .. })));
}

#[test]
fn a_group_without_events_is_named() {
    let never: Vec<f64> = (0..24).map(|row| f64::from(u8::from(CENSORED.contains(&row)))).collect();
    let design = Design::builder(24).number("x", &X).number("never", &never).build().unwrap();
    for ties in [Ties::Efron, Ties::Breslow] {
        let fault = fit_cox(&design, &lifetimes(), None, ties).unwrap_err();
        assert_eq!(fault, StatsError::MonotoneLikelihood { columns: vec!["never".into()] });
    }
}

#[test]
fn a_column_that_orders_the_times_without_fail_is_named() {
    let times: Vec<f64> = (0..10).map(f64::from).collect();
    let lifetimes = Lifetimes::new(&times, &[true; 10]).unwrap();
    let falling: Vec<f64> = times.iter().map(|time| 1e6 - 1e3 * time).collect();
    let fault = fit_cox(&one(&falling), &lifetimes, None, Ties::Efron).unwrap_err();
    assert_eq!(fault, StatsError::MonotoneLikelihood { columns: vec!["x".into()] });
}

#[test]
fn two_columns_that_separate_only_together_are_named_both() {
    // x - z orders the times; neither does alone
    let times = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let z = [3.0, -1.0, 2.0, 0.0, 4.0, 1.0];
    let x: Vec<f64> = z.iter().zip(times).map(|(z, time)| z - time).collect();
    let design = Design::builder(6).number("x", &x).number("z", &z).build().unwrap();
    let lifetimes = Lifetimes::new(&times, &[true; 6]).unwrap();
    let fault = fit_cox(&design, &lifetimes, None, Ties::Efron).unwrap_err();
    assert_eq!(fault, StatsError::MonotoneLikelihood { columns: vec!["x".into(), "z".into()] });
}

#[test]
fn one_event_at_the_edge_has_no_finite_coefficient_and_one_inside_has() {
    let times = [1.0, 2.0, 3.0, 4.0, 5.0];
    let first = Lifetimes::new(&times, &[true, false, false, false, false]).unwrap();
    let edge = fit_cox(&one(&[9.0, 1.0, 2.0, 3.0, 4.0]), &first, None, Ties::Efron);
    assert!(matches!(edge, Err(StatsError::MonotoneLikelihood { .. })));
    let inside = fit_cox(&one(&[2.5, 1.0, 2.0, 3.0, 4.0]), &first, None, Ties::Efron).unwrap();
    assert!(inside.coefficients[0].abs() < 1e-10);
}

#[test]
fn one_time_for_all_says_nothing() {
    let lifetimes = Lifetimes::new(&[3.0; 24], &[true; 24]).unwrap();
    for ties in [Ties::Efron, Ties::Breslow] {
        let fit = fit_cox(&design(), &lifetimes, None, ties).unwrap();
        assert!(fit.coefficients.iter().all(|b| b.abs() < 1e-10));
        assert!(matches!(fit.concordance(), Err(StatsError::NoVariation { .. })));
        let drift = fit.proportionality(TimeScale::Identity);
        assert!(matches!(drift, Err(StatsError::NoVariation { .. })));
    }
}

#[test]
fn columns_without_information_are_named() {
    let refused = |x: &[f64], strata: Option<&[usize]>| {
        let design = Design::builder(24).number("x", x).number("z", &Z).build().unwrap();
        fit_cox(&design, &lifetimes(), strata, Ties::Efron).unwrap_err()
    };
    let x = StatsError::RankDeficient { columns: vec!["x".into()] };
    assert_eq!(refused(&[0.1; 24], None), x);
    let strata: Vec<usize> = (0..24).map(|row| row / 8).collect();
    let constant_inside: Vec<f64> = strata.iter().map(|&code| code as f64 * 0.3).collect();
    assert_eq!(refused(&constant_inside, Some(&strata)), x);
    let twice: Vec<f64> = Z.iter().map(|z| 2.0 * z + 1.0).collect();
    assert_eq!(refused(&twice, None), StatsError::RankDeficient { columns: vec!["z".into()] });
}

#[test]
fn a_column_that_varies_only_before_the_first_event_is_named() {
    let times = [0.5, 0.6, 1.0, 2.0, 3.0, 4.0, 5.0];
    let ended = [false, false, true, true, true, true, true];
    let early = [1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0];
    let x = [1.0, 0.0, 0.3, 0.9, 0.1, 0.5, 0.7];
    let design = Design::builder(7).number("x", &x).number("early", &early).build().unwrap();
    let lifetimes = Lifetimes::new(&times, &ended).unwrap();
    let fault = fit_cox(&design, &lifetimes, None, Ties::Efron).unwrap_err();
    assert_eq!(fault, StatsError::RankDeficient { columns: vec!["early".into()] });
}

#[test]
fn one_huge_value_is_borne() {
    let mut x = X;
    x[5] = 1e9;
    let fit = fit_cox(&one(&x), &lifetimes(), None, Ties::Efron);
    let finite = fit.map(|fit| fit.coefficients[0].is_finite() && fit.log_likelihood.is_finite());
    assert!(matches!(finite, Ok(true) | Err(StatsError::MonotoneLikelihood { .. })), "{finite:?}");
}

#[test]
fn more_columns_than_events_can_carry_are_refused() {
    let columns = (0..5).map(|place| X.iter().map(|x| (x * f64::from(place + 3)).sin()).collect());
    let columns: Vec<Vec<f64>> = columns.collect();
    let mut builder = Design::builder(4);
    for (place, column) in columns.iter().enumerate() {
        builder = builder.number(&format!("c{place}"), &column[..4]);
    }
    let lifetimes = Lifetimes::new(&[1.0, 2.0, 3.0, 4.0], &[true; 4]).unwrap();
    let fault = fit_cox(&builder.build().unwrap(), &lifetimes, None, Ties::Efron);
    assert!(matches!(fault, Err(StatsError::RankDeficient { columns }) if columns == ["c3", "c4"]));
}

#[test]
fn few_clusters_give_no_error() {
    let fit = fit_cox(&design(), &lifetimes(), None, Ties::Efron).unwrap();
    let two: Vec<usize> = (0..24).map(|row| row % 2).collect();
    let fault = fit.clustered(&two).unwrap_err();
    assert_eq!(fault, StatsError::TooFewGroups { found: 2, needed: 3 });
    assert!(matches!(fit.clustered(&[0]), Err(StatsError::LengthMismatch { .. })));
}

#[test]
fn events_at_time_zero_have_no_logarithm() {
    let mut times = TIMES;
    times[0] = 0.0;
    let lifetimes = Lifetimes::new(&times, &ended()).unwrap();
    let fit = fit_cox(&design(), &lifetimes, None, Ties::Efron).unwrap();
    let fault = fit.proportionality(TimeScale::Logarithm);
    assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
    assert!(fit.proportionality(TimeScale::Identity).is_ok());
}

#[test]
fn a_stratum_without_events_predicts_nothing() {
    let strata: Vec<usize> = (0..24).map(|row| usize::from(CENSORED.contains(&row))).collect();
    let fit = fit_cox(&design(), &lifetimes(), Some(&strata), Ties::Efron).unwrap();
    let fault = fit.baseline().predict(&[1.0, 0.0], 1);
    assert!(matches!(fault, Err(StatsError::NoEvents { .. })));
}

/// Whether every row that ends has the largest value of all at risk then.
fn always_largest(x: &[f64], lifetimes: &Lifetimes) -> bool {
    let at_risk = |time: f64| (0..x.len()).filter(move |&row| lifetimes.times[row] >= time);
    let ending = (0..x.len()).filter(|&row| lifetimes.ended[row]);
    ending.into_iter().all(|row| at_risk(lifetimes.times[row]).all(|other| x[other] <= x[row]))
}

proptest! {
    #[test]
    fn a_column_is_called_monotone_where_it_orders_every_event_and_nowhere_else(
        rows in prop::collection::vec((1_u8..9, any::<bool>(), -2_i8..3), 3..12), efron in any::<bool>(),
    ) {
        let times: Vec<f64> = rows.iter().map(|row| f64::from(row.0)).collect();
        let ended: Vec<bool> = rows.iter().map(|row| row.1).collect();
        let x: Vec<f64> = rows.iter().map(|row| f64::from(row.2)).collect();
        let minus: Vec<f64> = x.iter().map(|x| -x).collect();
        let lifetimes = Lifetimes::new(&times, &ended).unwrap();
        let (up, down) = (always_largest(&x, &lifetimes), always_largest(&minus, &lifetimes));
        let ties = if efron { Ties::Efron } else { Ties::Breslow };
        match fit_cox(&one(&x), &lifetimes, None, ties) {
            Ok(_) => prop_assert!(!up && !down),
            Err(StatsError::MonotoneLikelihood { .. }) => prop_assert!(up != down),
            // largest and smallest at once: no risk set varies
            Err(StatsError::RankDeficient { .. } | StatsError::NoEvents { .. }) => prop_assert!(up && down),
            Err(other) => prop_assert!(false, "{other}"),
        }
    }
}
