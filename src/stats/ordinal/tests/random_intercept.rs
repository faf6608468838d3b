//! Groups with an effect of their own.

use super::*;

#[test]
fn two_categories_are_the_logistic_model() {
    let x: Vec<f64> = (0..40).map(|row| f64::from((row * 7) % 11)).collect();
    let lots: Vec<usize> = (0..40).map(|row| row / 5).collect();
    let y: Vec<f64> = (0..40)
        .map(|row| f64::from(u8::from((row * 13) % 17 + (row / 5) % 3 * 7 + (row * 7) % 11 > 20)))
        .collect();
    let ordinal = fit_ordinal_mixed(&line(&x), &OrderedOutcome::new(&y).unwrap(), &lots).unwrap();
    let design = Design::builder(40).intercept().number("x", &x).build().unwrap();
    let outcome = BinomialOutcome::binary(&y).unwrap();
    let plain = fit_logistic_mixed(&design, &outcome, &lots).unwrap();
    assert!(!plain.at_boundary);
    close(ordinal.sd_group, plain.sd_group, 1e-7);
    close(ordinal.coefficients[0], plain.coefficients[1], 1e-7);
    close(ordinal.log_likelihood, plain.log_likelihood, 1e-10);
    let (one, other) = (ordinal.contrast(&[1.0]).unwrap(), plain.contrast(&[0.0, 1.0]).unwrap());
    close(one.standard_error, other.standard_error, 1e-6);
    for (one, other) in ordinal.group_effects().iter().zip(plain.group_effects()) {
        assert!((one.effect - other.effect).abs() < 1e-6);
    }
    let (one, other) = (ordinal.sd_interval(0.9).unwrap(), plain.sd_interval(0.9).unwrap());
    assert!((one.0 - other.0).abs() < 1e-5 && (one.1 - other.1).abs() < 1e-5);
}

#[test]
fn lots_that_do_not_differ_leave_the_plain_model() {
    let x: Vec<f64> = (0..24).map(|row| f64::from(row % 4)).collect();
    let y: Vec<f64> = (0..24).map(|row| f64::from([1, 2, 2, 3, 2, 1, 3, 3][row % 8])).collect();
    let lots: Vec<usize> = (0..24).map(|row| row / 8).collect();
    let outcome = OrderedOutcome::new(&y).unwrap();
    let mixed = fit_ordinal_mixed(&line(&x), &outcome, &lots).unwrap();
    let plain = fit_ordinal(&line(&x), &outcome).unwrap();
    assert!(mixed.at_boundary);
    close(mixed.log_likelihood, plain.log_likelihood, 1e-12);
    close(
        mixed.threshold(1).unwrap().standard_error,
        plain.threshold(1).unwrap().standard_error,
        1e-9,
    );
    assert_eq!(mixed.test_of_groups().1, 1.0);
}

#[test]
fn groups_that_cannot_show_a_spread_are_refused() {
    let (design, outcome, _) = example();
    let fit = |groups: &[usize]| fit_ordinal_mixed(&design, &outcome, groups);
    assert!(matches!(fit(&[0; 30]), Err(StatsError::TooFewGroups { .. })));
    let alone: Vec<usize> = (0..30).collect();
    assert!(matches!(fit(&alone), Err(StatsError::NoDegreesOfFreedom { .. })));
    assert!(matches!(fit(&[0]), Err(StatsError::LengthMismatch { .. })));
}
