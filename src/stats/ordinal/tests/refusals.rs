//! What is refused at the door.

use super::*;

#[test]
fn an_empty_category_is_refused_by_name() {
    let fault = OrderedOutcome::with_levels(&[1.0, 3.0, 1.0], &[1.0, 2.0, 3.0]);
    let (factor, level) = ("the outcome".into(), "2".into());
    assert_eq!(fault, Err(StatsError::UnknownLevel { factor, level }));
    assert!(OrderedOutcome::with_levels(&[4.0], &[1.0, 2.0]).is_err());
    assert!(OrderedOutcome::with_levels(&[1.0, 2.0], &[2.0, 1.0]).is_err());
}

#[test]
fn numbers_that_are_no_outcome_are_refused() {
    assert!(matches!(OrderedOutcome::new(&[]), Err(StatsError::Empty { .. })));
    let bad = OrderedOutcome::new(&[1.0, f64::NAN]);
    assert!(matches!(bad, Err(StatsError::NotFinite { row: 1, .. })));
    assert!(matches!(OrderedOutcome::new(&[2.0; 5]), Err(StatsError::NoVariation { .. })));
}

#[test]
fn a_column_of_ones_and_a_constant_are_refused_by_name() {
    let outcome = OrderedOutcome::new(&[1.0, 2.0, 1.0, 3.0]).unwrap();
    let x = [1.0, 2.0, 4.0, 3.0];
    let design = Design::builder(4).intercept().number("x", &x).build().unwrap();
    let refused = |design: &Design| fit_ordinal(design, &outcome).unwrap_err();
    let named = |name: &str| StatsError::RankDeficient { columns: vec![name.into()] };
    assert_eq!(refused(&design), named("intercept"));
    assert_eq!(refused(&line(&[5.0; 4])), named("x"));
}

#[test]
fn too_few_rows_are_refused() {
    let outcome = OrderedOutcome::new(&[1.0, 2.0]).unwrap();
    assert!(matches!(
        fit_ordinal(&line(&[1.0, 2.0]), &outcome),
        Err(StatsError::TooFewRows { .. })
    ));
    assert!(matches!(
        fit_ordinal(&line(&[1.0; 3]), &outcome),
        Err(StatsError::LengthMismatch { .. })
    ));
}

#[test]
fn separation_is_refused_with_the_columns_that_make_it() {
    let z = [0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];
    let fit = |x: &[f64]| {
        let design = Design::builder(7).number("x", x).number("z", &z).build().unwrap();
        fit_ordinal(&design, &OrderedOutcome::new(&[1.0, 1.0, 2.0, 2.0, 3.0, 3.0, 3.0]).unwrap())
    };
    let fault = fit(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]).unwrap_err();
    assert!(
        matches!(&fault, StatsError::Separation { columns, complete: true } if columns.contains(&"x".into())),
        "{fault}"
    );
    let fault = fit(&[0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0]).unwrap_err();
    assert!(
        matches!(&fault, StatsError::Separation { columns, complete: false } if columns.contains(&"x".into())),
        "{fault}"
    );
}

#[test]
fn a_category_with_one_row_is_no_fault() {
    let (design, outcome, _) = example();
    let mut values: Vec<f64> = outcome.codes().iter().map(|&code| code as f64).collect();
    values[7] = 9.0;
    let fit = fit_ordinal(&design, &OrderedOutcome::new(&values).unwrap()).unwrap();
    assert_eq!(fit.thresholds.len(), 4);
    assert!(fit.threshold(3).unwrap().standard_error.is_finite());
    assert!(fit.threshold(4).is_err());
}

#[test]
fn a_measurement_is_no_ordered_category() {
    let values: Vec<f64> = (0..100_000).map(f64::from).collect();
    assert!(matches!(OrderedOutcome::new(&values), Err(StatsError::OutOfRange { .. })));
}
