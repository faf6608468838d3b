//! The penalised likelihood.

use super::*;

#[test]
fn a_fourfold_table_gets_half_a_case_in_every_cell() {
    // Firth 1993, section 3.3: in a saturated model the penalty is half a success and half a failure a cell
    let (design, _) = fourfold();
    for (some, others) in [(3.0, 8.0), (0.0, 12.0)] {
        let outcome = BinomialOutcome::counts(&[some, others], &[10.0, 12.0]).unwrap();
        let fit = fit_firth(&design, &outcome).unwrap();
        let odds = |s: f64, n: f64| ((s + 0.5) / (n - s + 0.5)).ln();
        close(fit.coefficients[0], odds(some, 10.0), 1e-9);
        close(fit.coefficients[1], odds(others, 12.0) - odds(some, 10.0), 1e-9);
    }
}

#[test]
fn complete_separation_has_finite_answers() {
    let outcome = BinomialOutcome::binary(&[0.0, 0.0, 0.0, 1.0, 1.0, 1.0]).unwrap();
    let fit = fit_firth(&line(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]), &outcome).unwrap();
    let slope = fit.contrast(&[0.0, 1.0]).unwrap();
    let (low, high) = fit.profile_interval(&[0.0, 1.0], 0.95).unwrap();
    assert!(low < slope.value && slope.value < high && high.is_finite());
    let ratio = fit.likelihood_ratio(&ndarray::array![[0.0, 1.0]]).unwrap();
    // the interval holds 0 where the test does not reject it
    assert_eq!(low <= 0.0, ratio.p_value() >= 0.05);
}

#[test]
fn the_estimate_is_where_the_penalised_likelihood_is_highest() {
    let (design, outcome) = overlapping();
    let fit = fit_firth(&design, &outcome).unwrap();
    let top = &fit.top.at;
    for place in 0..2 {
        for step in [-1e-3, 1e-3] {
            let mut near = top.clone();
            near[place] += step;
            assert!(newton::Surface::look(&fit.likelihood, &near).unwrap().0 < fit.top.value);
        }
    }
    close(fit.penalised_log_likelihood, fit.top.value, 1e-12);
}

#[test]
fn many_rows_make_the_penalty_small() {
    let x: Vec<f64> = (0..4000).map(|row| f64::from(row % 8)).collect();
    let y: Vec<f64> = (0..4000).map(|row| f64::from(u8::from((row * 7) % 13 < row % 8))).collect();
    let outcome = BinomialOutcome::binary(&y).unwrap();
    let plain = fit_logistic(&line(&x), &outcome).unwrap();
    let firth = fit_firth(&line(&x), &outcome).unwrap();
    assert!((plain.coefficients[1] - firth.coefficients[1]).abs() < 1e-3);
}
