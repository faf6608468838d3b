//! What is refused at the door.

use super::*;

#[test]
fn an_outcome_of_one_kind_is_refused_by_both_methods() {
    let design = line(&[1.0, 2.0, 3.0, 4.0]);
    let outcome = BinomialOutcome::binary(&[1.0; 4]).unwrap();
    for fit in [fit_logistic, fit_firth] {
        assert!(matches!(fit(&design, &outcome), Err(StatsError::NoVariation { .. })));
    }
}

#[test]
fn too_few_rows_and_dependent_columns_are_refused() {
    let outcome = BinomialOutcome::binary(&[1.0, 0.0]).unwrap();
    assert!(matches!(
        fit_logistic(&line(&[1.0, 2.0]), &outcome),
        Err(StatsError::TooFewRows { rows: 2, columns: 2 })
    ));
    let wide = Design::builder(2).intercept().number("a", &[1.0, 2.0]).number("b", &[2.0, 7.0]);
    let fault = fit_firth(&wide.build().unwrap(), &outcome);
    assert!(matches!(fault, Err(StatsError::TooFewRows { rows: 2, columns: 3 })));
    let outcome = BinomialOutcome::binary(&[1.0, 0.0, 1.0, 0.0]).unwrap();
    let fault = fit_logistic(&line(&[3.0; 4]), &outcome).unwrap_err();
    assert_eq!(fault, StatsError::RankDeficient { columns: vec!["x".into()] });
}

#[test]
fn numbers_that_are_no_outcome_are_refused() {
    assert!(matches!(
        BinomialOutcome::binary(&[1.0, f64::NAN]),
        Err(StatsError::NotFinite { row: 1, .. })
    ));
    assert!(matches!(BinomialOutcome::binary(&[0.5]), Err(StatsError::OutOfRange { .. })));
    assert!(matches!(BinomialOutcome::binary(&[]), Err(StatsError::Empty { .. })));
    assert!(BinomialOutcome::counts(&[3.0], &[2.0]).is_err());
    assert!(BinomialOutcome::counts(&[0.0], &[0.0]).is_err());
    assert!(BinomialOutcome::counts(&[0.5], &[2.0]).is_err());
    assert!(BinomialOutcome::counts(&[1.0], &[f64::INFINITY]).is_err());
    assert!(BinomialOutcome::weighted(&[1.0], &[0.0]).is_err());
    assert!(BinomialOutcome::weighted(&[1.0], &[1.0, 1.0]).is_err());
}

#[test]
fn contrasts_and_levels_are_checked() {
    let (design, outcome) = overlapping();
    let fit = fit_logistic(&design, &outcome).unwrap();
    assert!(fit.contrast(&[1.0]).is_err() && fit.contrast(&[1.0, f64::NAN]).is_err());
    assert!(fit.profile_interval(&[0.0, 1.0], 1.0).is_err());
    assert!(fit.pick("y").is_err());
    let nothing = ndarray::Array2::zeros((0, 2));
    assert!(fit.wald(&nothing).is_err() && fit.likelihood_ratio(&nothing).is_err());
}
