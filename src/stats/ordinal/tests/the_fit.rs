//! Estimates and likelihood.

use super::*;

#[test]
fn two_categories_are_the_logistic_model() {
    let x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
    let y = [0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];
    let ordinal = fit_ordinal(&line(&x), &OrderedOutcome::new(&y).unwrap()).unwrap();
    let design = Design::builder(8).intercept().number("x", &x).build().unwrap();
    let plain = fit_logistic(&design, &BinomialOutcome::binary(&y).unwrap()).unwrap();
    close(ordinal.coefficients[0], plain.coefficients[1], 1e-10);
    close(-ordinal.thresholds[0], plain.coefficients[0], 1e-10);
    close(ordinal.log_likelihood, plain.log_likelihood, 1e-12);
    let (one, other) = (ordinal.contrast(&[1.0]).unwrap(), plain.contrast(&[0.0, 1.0]).unwrap());
    close(one.standard_error, other.standard_error, 1e-10);
    let (one, other) = (ordinal.threshold(0).unwrap(), plain.contrast(&[1.0, 0.0]).unwrap());
    close(one.standard_error, other.standard_error, 1e-10);
}

#[test]
fn no_step_from_the_top_climbs_by_the_definition() {
    let (design, outcome, _) = example();
    let fit = fit_ordinal(&design, &outcome).unwrap();
    let at = |thresholds: &[f64], columns: &[f64]| {
        by_definition(&design, outcome.codes(), thresholds, columns)
    };
    close(at(&fit.thresholds, &fit.coefficients), fit.log_likelihood, 1e-12);
    for step in [-1e-3, 1e-3] {
        for place in 0..3 {
            let (mut thresholds, mut columns) = (fit.thresholds.clone(), fit.coefficients.clone());
            thresholds[place] += step;
            assert!(at(&thresholds, &fit.coefficients) < fit.log_likelihood);
            columns[place] += step;
            assert!(at(&fit.thresholds, &columns) < fit.log_likelihood);
        }
    }
}

#[test]
fn slopes_and_information_are_the_derivatives_of_the_value() {
    let (design, outcome, _) = example();
    let likelihood = prepare(&design, &outcome).unwrap();
    let at = DVector::from_vec(vec![-1.3, 0.2, 0.9, 0.7, -0.4, 0.1]);
    let look =
        |at: &DVector<f64>| crate::stats::logistic::newton::Surface::look(&likelihood, at).unwrap();
    let (_, slope) = look(&at);
    for place in 0..6 {
        let moved = |step: f64| {
            let mut moved = at.clone();
            moved[place] += step;
            moved
        };
        let (up, down) = (moved(1e-5), moved(-1e-5));
        let ((high, upper), (low, lower)) = (look(&up), look(&down));
        let first = (high - low) / 2e-5;
        assert!((slope.gradient[place] - first).abs() < 1e-7);
        let second = (lower.gradient - upper.gradient) / 2e-5;
        assert!((slope.information.column(place) - second).amax() < 1e-6);
    }
}

#[test]
fn thresholds_alone_have_a_closed_form() {
    // a column that says nothing: every category holds each value once
    let fit = fit_ordinal(
        &line(&[0.0, 1.0, 0.0, 1.0, 0.0, 1.0]),
        &OrderedOutcome::new(&[1.0, 1.0, 2.0, 2.0, 5.0, 5.0]).unwrap(),
    )
    .unwrap();
    assert!(fit.coefficients[0].abs() < 1e-12);
    close(fit.thresholds[0], 0.5_f64.ln(), 1e-10);
    close(fit.log_likelihood, 6.0 * (1.0_f64 / 3.0).ln(), 1e-12);
    close(fit.null_log_likelihood, fit.log_likelihood, 1e-12);
    assert!(fit.likelihood_ratio().p_value() > 0.999);
    close(fit.mean_score(&[0.0]).unwrap().value, 8.0 / 3.0, 1e-10);
}

#[test]
fn many_rows_take_few_steps() {
    let x: Vec<f64> = (0..20_000).map(|row| f64::from(row % 97)).collect();
    let y: Vec<f64> =
        (0..20_000).map(|row| ((row * 31) % 101 + row % 97) / 40).map(f64::from).collect();
    let fit = fit_ordinal(&line(&x), &OrderedOutcome::new(&y).unwrap()).unwrap();
    assert!(fit.coefficients[0] > 0.0 && fit.thresholds.windows(2).all(|pair| pair[0] < pair[1]));
}

proptest! {
    #[test]
    fn turning_the_scale_round_turns_the_signs(
        rows in prop::collection::vec((-3.0_f64..3.0, 1_u8..5), 10..40)
    ) {
        let (x, y): (Vec<f64>, Vec<u8>) = rows.into_iter().unzip();
        let there: Vec<f64> = y.iter().map(|&y| f64::from(y)).collect();
        let back: Vec<f64> = there.iter().map(|y| -y).collect();
        let fit = |y: &[f64]| {
            OrderedOutcome::new(y).and_then(|outcome| fit_ordinal(&line(&x), &outcome))
        };
        match (fit(&there), fit(&back)) {
            (Ok(one), Ok(other)) => {
                let size = 1.0 + one.coefficients[0].abs();
                prop_assert!((one.coefficients[0] + other.coefficients[0]).abs() < 1e-7 * size);
                prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-8);
            }
            (one, other) => prop_assert_eq!(one.err(), other.err()),
        }
    }

    #[test]
    fn slopes_follow_the_unit_of_the_column(scale in 0.01_f64..100.0, shift in -100.0_f64..100.0) {
        let (design, outcome, _) = example();
        let x = design.matrix.column(0).to_vec();
        let moved: Vec<f64> = x.iter().map(|x| shift + scale * x).collect();
        let plain = fit_ordinal(&line(&x), &outcome).unwrap();
        let other = fit_ordinal(&line(&moved), &outcome).unwrap();
        prop_assert!((plain.coefficients[0] - scale * other.coefficients[0]).abs() < 1e-8);
        let found = other.threshold(1).unwrap();
        let expected = plain.thresholds[1] + shift * other.coefficients[0];
        prop_assert!((found.value - expected).abs() < 1e-7 * (1.0 + expected.abs()));
    }
}
