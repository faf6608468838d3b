//! The criterion, its gradient and its maximum.

use super::*;
use crate::stats::mixed::fit_mixed;

#[test]
fn penicillin_has_the_published_components() {
    let (outcome, plates, samples) = penicillin();
    let terms =
        [RandomTerm::intercept("plate", &plates), RandomTerm::intercept("sample", &samples)];
    let fit = reml(&ones(144), &outcome, &terms);
    // Bates, lme4: Mixed-effects modeling with R, section 2.1 (from memory): 0.71691, 3.73092, 0.30242, REML criterion 330.9, intercept 22.9722
    close(fit.terms[0].covariance[(0, 0)], 0.71691, 1e-5);
    close(fit.terms[1].covariance[(0, 0)], 3.73092, 1e-5);
    close(fit.sd_residual.powi(2), 0.30242, 2e-5);
    close(-2.0 * fit.log_likelihood, 330.8606, 1e-7);
    close(fit.coefficients[0], 22.9722, 1e-5);
}

/// The deviance by the dense covariance of all rows, as its definition says.
fn dense_deviance(shop: &Workshop, fit: &TermsFit, restricted: bool) -> f64 {
    let n = shop.outcome.len();
    let groups = [&shop.lots, &shop.reeds, &shop.players];
    let along = |row: usize, place: usize| if place == 0 { 1.0 } else { shop.x[row] };
    let v = DMatrix::from_fn(n, n, |i, j| {
        let noise = if i == j { fit.sd_residual.powi(2) } else { 0.0 };
        let shared = fit.terms.iter().zip(groups).filter(|(_, codes)| codes[i] == codes[j]);
        let random: f64 = shared
            .map(|(term, _)| {
                let q = term.coefficients.len();
                (0..q * q)
                    .map(|k| term.covariance[(k / q, k % q)] * along(i, k / q) * along(j, k % q))
                    .sum::<f64>()
            })
            .sum();
        noise + random
    });
    let factor = v.cholesky().unwrap();
    let x = DMatrix::from_fn(n, 2, |row, column| shop.design.matrix[(row, column)]);
    let b = nalgebra::DVector::from_column_slice(&fit.coefficients);
    let residual = nalgebra::DVector::from_column_slice(&shop.outcome) - &x * b;
    let logs = |m: &DMatrix<f64>| 2.0 * m.diagonal().map(f64::ln).sum();
    let mut deviance = logs(&factor.l()) + residual.dot(&factor.solve(&residual));
    if restricted {
        let cross = x.tr_mul(&factor.solve(&x)).cholesky().unwrap();
        deviance += logs(&cross.l());
    }
    let degrees = if restricted { n - 2 } else { n };
    deviance + degrees as f64 * std::f64::consts::TAU.ln()
}

#[test]
fn the_likelihood_is_that_of_the_dense_covariance() {
    let shop = workshop(7, 60, 1);
    for terms in [shop.terms(), shop.slopes()] {
        for (criterion, restricted) in
            [(Criterion::Reml, true), (Criterion::MaximumLikelihood, false)]
        {
            let fit = fit_mixed_terms(&shop.design, &shop.outcome, &terms, criterion).unwrap();
            let dense = dense_deviance(&shop, &fit, restricted);
            close(-2.0 * fit.log_likelihood, dense, 1e-11);
        }
    }
}

#[test]
fn the_analytic_gradient_is_that_of_differences() {
    let shop = workshop(9, 80, 2);
    for (terms, small) in
        [(shop.terms(), 48), (shop.slopes(), 48), (shop.terms(), 0), (shop.slopes(), 0)]
    {
        let mut model = Model::new(&shop.design, &shop.outcome, &terms).unwrap();
        // with a threshold of zero lots are eliminated one by one after their reeds
        let pattern = structure::Structure::with_small(&model.groupings, 2, small);
        model.structure = Arc::new(pattern.unwrap());
        let (basis, residual) = (&model.fixed.basis, &model.fixed.residual);
        model.cross = cross::Cross::new(&model.structure, &model.groupings, basis, residual);
        model.gathered = None;
        assert!(
            small > 0
                || model
                    .structure
                    .terms
                    .iter()
                    .filter(|t| t.first < model.structure.leading)
                    .count()
                    > 1
        );
        for criterion in [Criterion::Reml, Criterion::MaximumLikelihood] {
            let sizes = model.sizes();
            let count: usize = sizes.iter().map(|q| q * (q + 1) / 2).sum();
            let at: Vec<f64> = (0..count).map(|k| 0.4 + 0.1 * k as f64).collect();
            let slopes = model.slopes(&parameters::factors(&sizes, &at), criterion).unwrap().2;
            let determinant = parameters::packed(&slopes.log_determinant);
            let square = parameters::packed(&slopes.residual_square);
            for place in 0..count {
                let moved = |by: f64| {
                    let mut moved = at.clone();
                    moved[place] += by;
                    model.parts_at(&moved, criterion).unwrap()
                };
                let (up, down) = (moved(1e-5), moved(-1e-5));
                let numeric = (up.log_determinant - down.log_determinant) / 2e-5;
                assert!((numeric - determinant[place]).abs() < 1e-6 * (1.0 + numeric.abs()));
                let numeric = (up.residual_square - down.residual_square) / 2e-5;
                assert!((numeric - square[place]).abs() < 1e-8, "{numeric} {}", square[place]);
            }
        }
    }
}

#[test]
fn one_random_intercept_is_the_one_factor_model() {
    let shop = workshop(8, 50, 3);
    let terms = [RandomTerm::intercept("lot", &shop.lots)];
    for criterion in [Criterion::Reml, Criterion::MaximumLikelihood] {
        let general = fit_mixed_terms(&shop.design, &shop.outcome, &terms, criterion).unwrap();
        let special = fit_mixed(&shop.design, &shop.outcome, &shop.lots, criterion).unwrap();
        close(general.log_likelihood, special.log_likelihood, 1e-12);
        close(general.terms[0].standard_deviation(0), special.sd_group, 1e-8);
        close(general.sd_residual, special.sd_residual, 1e-9);
        close(general.coefficients[1], special.coefficients[1], 1e-9);
        close(general.intraclass_correlations()[0], special.intraclass_correlation(), 1e-8);
    }
}

#[test]
fn the_order_of_rows_and_terms_and_the_codes_do_not_matter() {
    let shop = workshop(8, 70, 4);
    let fit = reml(&shop.design, &shop.outcome, &shop.slopes());
    let rows: Vec<usize> = (0..shop.outcome.len()).rev().collect();
    let codes =
        |codes: &[usize]| -> Vec<usize> { rows.iter().map(|&row| 900 - 3 * codes[row]).collect() };
    let numbers = |values: &[f64]| -> Vec<f64> { rows.iter().map(|&row| values[row]).collect() };
    let x = numbers(&shop.x);
    let terms = [
        RandomTerm::intercept("player", &codes(&shop.players)).with_slope("x", &x),
        RandomTerm::intercept("lot", &codes(&shop.lots)).with_slope("x", &x),
        RandomTerm::intercept("reed", &codes(&shop.reeds)),
    ];
    let design = Design::builder(x.len()).intercept().number("x", &x).build().unwrap();
    let turned = reml(&design, &numbers(&shop.outcome), &terms);
    close(turned.log_likelihood, fit.log_likelihood, 1e-11);
    close(turned.sd_residual, fit.sd_residual, 1e-8);
    for (one, other) in [(0, 1), (1, 2), (2, 0)] {
        let difference = &fit.terms[one].covariance - &turned.terms[other].covariance;
        assert!(difference.amax() < 1e-8, "{difference}");
    }
}

#[test]
fn units_and_a_constant_carry_over() {
    let shop = workshop(8, 70, 5);
    let fit = reml(&shop.design, &shop.outcome, &shop.slopes());
    let outcome: Vec<f64> = shop.outcome.iter().map(|y| 1e5 - 40.0 * y).collect();
    let x: Vec<f64> = shop.x.iter().map(|x| 1e-3 * x).collect();
    let design = Design::builder(x.len()).intercept().number("x", &x).build().unwrap();
    let terms = [
        RandomTerm::intercept("lot", &shop.lots).with_slope("x", &x),
        RandomTerm::intercept("reed", &shop.reeds),
        RandomTerm::intercept("player", &shop.players).with_slope("x", &x),
    ];
    let moved = reml(&design, &outcome, &terms);
    close(moved.sd_residual, 40.0 * fit.sd_residual, 1e-7);
    close(moved.terms[0].standard_deviation(1), 4e4 * fit.terms[0].standard_deviation(1), 1e-6);
    close(moved.terms[2].covariance[(0, 1)], 1.6e6 * fit.terms[2].covariance[(0, 1)], 1e-5);
    close(moved.coefficients[1], -4e4 * fit.coefficients[1], 1e-7);
}

#[test]
fn nested_codes_may_be_read_off_two_crossed_labels() {
    // the first reed of one lot is not the first of another: numbering the pairs is the nesting
    let shop = workshop(6, 48, 6);
    let within: Vec<usize> = shop.reeds.iter().map(|reed| reed / 6).collect();
    let paired: Vec<usize> =
        shop.lots.iter().zip(&within).map(|(lot, reed)| 100 * lot + reed).collect();
    let terms = |reeds: &[usize]| {
        [RandomTerm::intercept("lot", &shop.lots), RandomTerm::intercept("reed", reeds)]
    };
    let one = reml(&shop.design, &shop.outcome, &terms(&shop.reeds));
    let other = reml(&shop.design, &shop.outcome, &terms(&paired));
    close(one.log_likelihood, other.log_likelihood, 1e-12);
    close(one.terms[1].covariance[(0, 0)], other.terms[1].covariance[(0, 0)], 1e-8);
    let crossed = reml(&shop.design, &shop.outcome, &terms(&within));
    assert!((crossed.log_likelihood - one.log_likelihood).abs() > 1e-3);
}

#[test]
fn the_fit_is_the_best_of_a_grid_around_it() {
    let shop = workshop(10, 90, 7);
    let fit = reml(&shop.design, &shop.outcome, &shop.terms());
    let least = fit.model.deviance(&fit.parameters, Criterion::Reml);
    for place in 0..3 {
        for factor in [0.0, 0.5, 0.99, 1.01, 2.0, 5.0] {
            let mut moved = fit.parameters.clone();
            moved[place] *= factor;
            assert!(fit.model.deviance(&moved, Criterion::Reml) >= least);
        }
    }
}
