//! Standardised probabilities.

use super::*;

#[test]
fn the_mean_over_the_rows_as_they_are_is_the_share_of_successes() {
    let (design, outcome, _) = cbpp();
    let fit = fit_logistic(&design, &outcome).unwrap();
    close(fit.standardised(&design).unwrap().value, outcome.share(), 1e-10);
}

#[test]
fn levels_of_a_saturated_model_give_the_observed_shares() {
    let (design, outcome, _) = cbpp();
    let fit = fit_logistic(&design, &outcome).unwrap();
    let at = |level| fit.standardised(&with_level(&design, "period", level).unwrap()).unwrap();
    let share = |period: u8| {
        let rows = CBPP.iter().filter(|row| row[3] == period);
        let sums = rows.fold([0.0, 0.0], |sums, row| {
            [sums[0] + f64::from(row[1]), sums[1] + f64::from(row[2])]
        });
        (sums[0] / sums[1], sums[1])
    };
    let (first, last) = (at(None), at(Some("4")));
    close(first.value, share(1).0, 1e-10);
    let fall = fit.error_of(&last.minus(&first)).unwrap();
    let spread = |(p, n): (f64, f64)| p * (1.0 - p) / n;
    close(fall.value, share(4).0 - share(1).0, 1e-10);
    // two independent binomial shares
    close(fall.standard_error, (spread(share(1)) + spread(share(4))).sqrt(), 1e-9);
}

#[test]
fn the_gradient_is_that_of_small_changes_of_the_coefficients() {
    let (design, outcome) = overlapping();
    let fit = fit_logistic(&design, &outcome).unwrap();
    let counterfactual = with_number(&design, "x", 2.5).unwrap();
    let mean = fit.standardised(&counterfactual).unwrap();
    for place in 0..2 {
        let value = |step: f64| {
            let mut moved = fit.clone();
            moved.coefficients[place] += step;
            moved.standardised(&counterfactual).unwrap().value
        };
        close(mean.gradient[place], (value(1e-5) - value(-1e-5)) / 2e-5, 1e-7);
    }
}

#[test]
fn what_is_not_in_the_design_is_refused() {
    let (design, outcome, _) = cbpp();
    let fit = fit_logistic(&design, &outcome).unwrap();
    assert!(with_number(&design, "dose", 1.0).is_err());
    assert!(with_number(&design, "period: 2", f64::NAN).is_err());
    assert!(matches!(
        with_level(&design, "period", Some("7")),
        Err(StatsError::UnknownLevel { .. })
    ));
    assert!(matches!(with_level(&design, "herd", None), Err(StatsError::UnknownColumn { .. })));
    assert!(fit.standardised(&line(&[1.0; 56])).is_err());
    let fewer = Design {
        names: design.names.clone(),
        matrix: design.matrix.slice(ndarray::s![..9, ..]).to_owned(),
    };
    assert!(matches!(fit.standardised(&fewer), Err(StatsError::LengthMismatch { .. })));
}
