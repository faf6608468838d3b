//! Data without finite coefficients.

use super::*;

fn fault(x: &[f64], y: &[f64]) -> Option<StatsError> {
    fit_logistic(&line(x), &BinomialOutcome::binary(y).unwrap()).err()
}

#[test]
fn complete_separation_is_refused_with_the_column() {
    let found = fault(&[1.0, 2.0, 3.0, 4.0], &[0.0, 0.0, 1.0, 1.0]);
    let columns = vec!["x".into()];
    assert_eq!(found, Some(StatsError::Separation { columns, complete: true }));
}

#[test]
fn rows_on_the_border_make_it_partial() {
    let found = fault(&[1.0, 2.0, 2.0, 3.0], &[0.0, 0.0, 1.0, 1.0]);
    let columns = vec!["x".into()];
    assert_eq!(found, Some(StatsError::Separation { columns, complete: false }));
}

#[test]
fn one_row_on_the_wrong_side_is_enough_for_a_fit() {
    assert!(fault(&[1.0, 2.0, 3.0, 4.0, 2.9], &[0.0, 0.0, 1.0, 1.0, 1.0]).is_some());
    assert_eq!(fault(&[1.0, 2.0, 3.0, 4.0, 3.1], &[0.0, 0.0, 1.0, 1.0, 0.0]), None);
}

#[test]
fn a_far_row_does_not_hide_it() {
    let found = fault(&[0.0, 1.0, 1e4], &[0.0, 1.0, 1.0]);
    assert!(matches!(found, Some(StatsError::Separation { complete: true, .. })));
}

#[test]
fn a_lot_with_all_good_is_named_alone() {
    let lots = ["a", "a", "a", "a", "b", "b", "b", "b"].map(String::from);
    let x = [1.0, 2.0, 3.0, 4.0, 4.0, 3.0, 2.0, 1.5];
    let y = [0.0, 1.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0];
    let design = Design::builder(8).intercept().choice("lot", &lots, Some("a")).number("x", &x);
    let design = design.build().unwrap();
    let outcome = BinomialOutcome::binary(&y).unwrap();
    let found = fit_logistic(&design, &outcome).unwrap_err();
    let columns = vec!["lot: b".into()];
    assert_eq!(found, StatsError::Separation { columns, complete: false });
    let firth = fit_firth(&design, &outcome).unwrap();
    let lot = firth.profile_interval(&firth.pick("lot: b").unwrap(), 0.95).unwrap();
    assert!(lot.0.is_finite() && lot.1.is_finite() && firth.coefficients[1] > 0.0);
}

#[test]
fn a_count_of_some_is_on_both_sides() {
    let design = line(&[0.0, 1.0, 2.0]);
    let fit = |successes: &[f64]| {
        fit_logistic(&design, &BinomialOutcome::counts(successes, &[5.0; 3]).unwrap())
    };
    assert!(fit(&[0.0, 1.0, 4.0]).is_ok_and(|fit| fit.coefficients[1] > 0.0));
    assert!(matches!(fit(&[0.0, 1.0, 5.0]), Err(StatsError::Separation { .. })));
}
