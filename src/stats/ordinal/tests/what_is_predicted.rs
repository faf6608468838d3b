//! Probabilities and mean scores.

use super::*;

#[test]
fn probabilities_add_up_and_give_the_mean_score() {
    let (design, outcome, _) = example();
    let fit = fit_ordinal(&design, &outcome).unwrap();
    let row = design.matrix.row(3).to_vec();
    let shares = fit.probabilities(&row).unwrap();
    close(shares.iter().sum(), 1.0, 1e-14);
    let mean: f64 = shares.iter().zip(&fit.levels).map(|(share, level)| share * level).sum();
    close(fit.mean_score(&row).unwrap().value, mean, 1e-13);
    assert!(fit.probabilities(&[1.0]).is_err() && fit.mean_score(&[f64::NAN, 0.0, 0.0]).is_err());
}

#[test]
fn categories_far_off_have_tiny_shares_and_not_zero() {
    let shares = category_probabilities(&[-700.0, -699.9, 50.0]);
    assert!(shares[0] > 0.0 && shares[1] > 0.0 && shares[3] > 0.0);
    close(shares[1] / shares[0], 0.1_f64.exp_m1(), 1e-12);
}

#[test]
fn the_gradient_of_a_mean_score_is_that_of_small_changes() {
    let (design, outcome, _) = example();
    let fit = fit_ordinal(&design, &outcome).unwrap();
    let mean = fit.standardised_score(&with_number(&design, "x", 4.0).unwrap()).unwrap();
    for place in 0..6 {
        let value = |step: f64| {
            let mut moved = fit.clone();
            let parameters = moved.thresholds.iter_mut().chain(&mut moved.coefficients);
            parameters
                .enumerate()
                .filter(|(other, _)| *other == place)
                .for_each(|(_, p)| *p += step);
            moved.standardised_score(&with_number(&design, "x", 4.0).unwrap()).unwrap().value
        };
        close(mean.gradient[place], (value(1e-5) - value(-1e-5)) / 2e-5, 1e-7);
    }
    let single = fit.mean_score(&[4.0, 0.0, 1.0]).unwrap();
    let at_a = with_level(&with_number(&design, "x", 4.0).unwrap(), "knife", Some("c")).unwrap();
    let all = fit.error_of(&fit.standardised_score(&at_a).unwrap()).unwrap();
    close(all.value, single.value, 1e-12);
    close(all.standard_error, single.standard_error, 1e-10);
}
