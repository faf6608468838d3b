//! Hand-worked, published and simulated cases with several random terms; more published data sets are in the reference tests.

use super::*;
use crate::stats::mixed::fit_mixed;
use crate::stats::resample::stream;
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

/// Davies & Goldsmith 1972, table 6.6: diameters of the growth inhibition zone (mm) of six samples of penicillin (columns) on 24 plates (rows); as given in lme4.
const PENICILLIN: [[u8; 6]; 24] = [
    [27, 23, 26, 23, 23, 21],
    [27, 23, 26, 23, 23, 21],
    [25, 21, 25, 24, 24, 20],
    [26, 23, 25, 23, 23, 20],
    [25, 22, 26, 22, 23, 20],
    [24, 22, 25, 23, 22, 19],
    [24, 20, 23, 21, 22, 19],
    [26, 22, 26, 24, 24, 21],
    [24, 21, 24, 22, 22, 20],
    [24, 21, 24, 23, 22, 19],
    [26, 23, 26, 24, 24, 21],
    [25, 22, 26, 24, 24, 20],
    [26, 24, 26, 24, 25, 22],
    [26, 23, 26, 23, 23, 20],
    [26, 23, 25, 24, 24, 22],
    [25, 22, 25, 23, 23, 20],
    [25, 21, 24, 23, 23, 20],
    [25, 22, 24, 23, 23, 19],
    [24, 21, 23, 21, 21, 19],
    [26, 23, 26, 24, 24, 21],
    [25, 21, 24, 22, 22, 18],
    [25, 22, 25, 22, 22, 20],
    [24, 21, 24, 22, 24, 19],
    [24, 21, 24, 22, 21, 18],
];

fn penicillin() -> (Vec<f64>, Vec<usize>, Vec<usize>) {
    let outcome = PENICILLIN.iter().flatten().map(|&value| f64::from(value)).collect();
    let plates = (0..144).map(|row| row / 6).collect();
    let samples = (0..144).map(|row| row % 6).collect();
    (outcome, plates, samples)
}

fn ones(rows: usize) -> Design {
    Design::builder(rows).intercept().build().unwrap()
}

fn reml(design: &Design, outcome: &[f64], terms: &[RandomTerm]) -> TermsFit {
    fit_mixed_terms(design, outcome, terms, Criterion::Reml).unwrap()
}

fn close(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}

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

/// Rows with crossed and nested groupings, of unequal sizes: lots hold reeds, players rate some of the reeds.
struct Workshop {
    design: Design,
    outcome: Vec<f64>,
    lots: Vec<usize>,
    reeds: Vec<usize>,
    players: Vec<usize>,
    x: Vec<f64>,
}

fn workshop(lots: usize, reeds: usize, seed: u64) -> Workshop {
    let mut generator = stream(seed, 0);
    let mut normal = |generator: &mut _| -> f64 { StandardNormal.sample(generator) };
    let players: Vec<f64> = (0..5).map(|_| 0.6 * normal(&mut generator)).collect();
    let lot: Vec<f64> = (0..lots).map(|_| normal(&mut generator)).collect();
    let (mut x, mut y) = (Vec::new(), Vec::new());
    let (mut in_lot, mut in_reed, mut by) = (Vec::new(), Vec::new(), Vec::new());
    for reed in 0..reeds {
        let (own, size) = (0.7 * normal(&mut generator), normal(&mut generator));
        for _ in 0..1 + generator.random_range(0..4) {
            let player = generator.random_range(0..5);
            x.push(size + 0.3 * normal(&mut generator));
            in_lot.push(reed % lots);
            in_reed.push(reed);
            by.push(player);
            let noise: f64 = normal(&mut generator);
            y.push(6.0 + 0.5 * x[x.len() - 1] + lot[reed % lots] + own + players[player] + noise);
        }
    }
    let design = Design::builder(x.len()).intercept().number("x", &x).build().unwrap();
    Workshop { design, outcome: y, lots: in_lot, reeds: in_reed, players: by, x }
}

impl Workshop {
    fn terms(&self) -> Vec<RandomTerm> {
        vec![
            RandomTerm::intercept("lot", &self.lots),
            RandomTerm::intercept("reed", &self.reeds),
            RandomTerm::intercept("player", &self.players),
        ]
    }

    fn slopes(&self) -> Vec<RandomTerm> {
        vec![
            RandomTerm::intercept("lot", &self.lots).with_slope("x", &self.x),
            RandomTerm::intercept("reed", &self.reeds),
            RandomTerm::intercept("player", &self.players).with_slope("x", &self.x),
        ]
    }
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
        model.structure = structure::Structure::with_small(&model.groupings, 2, small).unwrap();
        let (basis, residual) = (&model.fixed.basis, &model.fixed.residual);
        model.cross = cross::Cross::new(&model.structure, &model.groupings, basis, residual);
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
