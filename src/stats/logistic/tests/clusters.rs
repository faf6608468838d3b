//! Rows in clusters.

use super::*;

#[test]
fn the_working_regression_has_the_coefficients_of_the_fit() {
    let (design, outcome) = overlapping();
    for fit in [fit_logistic(&design, &outcome).unwrap(), fit_firth(&design, &outcome).unwrap()] {
        let working = fit.working_regression().unwrap();
        for (one, other) in working.coefficients.iter().zip(&fit.coefficients) {
            close(*one, *other, 1e-8);
        }
    }
}

#[test]
fn herds_as_clusters_agree_with_another_program() {
    // R package sandwich 3.0.2: sqrt(diag(vcovCL(glm(cbind(incidence, size - incidence) ~ period, binomial, cbpp), cluster = cbpp$herd, type = "HC2",
    // cadjust = FALSE))), which multiplies CR2 by sqrt((G - 1) / G)
    let expected = [0.27699166042485, 0.44630687917610, 0.49769081909242, 0.39512025813815];
    let (design, outcome, herds) = cbpp();
    let fit = fit_logistic(&design, &outcome).unwrap();
    let working = fit.working_regression().unwrap();
    let robust = working.clustered(&herds).unwrap();
    for (place, expected) in expected.into_iter().enumerate() {
        let mut contrast = [0.0; 4];
        contrast[place] = 1.0;
        let found = robust.contrast(&contrast).unwrap();
        close(found.standard_error * (14.0_f64 / 15.0).sqrt(), expected, 1e-9);
        assert!(found.degrees_of_freedom > 2.0 && found.degrees_of_freedom < 15.0);
    }
}

#[test]
fn two_clusters_are_refused() {
    let (design, outcome) = overlapping();
    let working = fit_logistic(&design, &outcome).unwrap().working_regression().unwrap();
    for clusters in [[0; 8], [0, 0, 0, 0, 1, 1, 1, 1]] {
        assert!(matches!(working.clustered(&clusters), Err(StatsError::TooFewGroups { .. })));
    }
}
