//! Ridge by hand, against least squares, and where data are degenerate.

use super::*;
use crate::stats::linear::least_squares;
use crate::stats::penalised::tests::{Sample, simulated};
use crate::stats::penalised::{Folds, leave_out_linear};
use crate::stats::products::Products;

#[test]
fn a_hand_worked_ridge_is_met() {
    // x 1 2 3 has spread sqrt(2/3); z'y = sqrt(3/2) (7 - 1) and z'z = 3, so b = 6 sqrt(3/2) / (3 + 3)
    let design = Design::builder(3).number("x", &[1.0, 2.0, 3.0]).build().unwrap();
    let found = Ridge::new(&design, &[1.0, 4.0, 7.0]).unwrap().fit(3.0).unwrap();
    assert!((found.fit.standardised[0] - 1.5_f64.sqrt()).abs() < 1e-14);
    assert!((found.fit.coefficients[0] - 1.5).abs() < 1e-14);
    assert!((found.fit.intercept - 1.0).abs() < 1e-13);
    assert!((found.effective_degrees_of_freedom - 0.5).abs() < 1e-14);
    // residuals -1.5 0 1.5; (4.5 / 3) / (1 - 1.5 / 3)^2
    assert!((found.residual_sum_of_squares - 4.5).abs() < 1e-13);
    assert!((found.generalised_cross_validation - 6.0).abs() < 1e-12);
}

#[test]
fn no_penalty_is_least_squares() {
    let Sample { design, outcome, .. } = simulated(40, 5, 4, 1, &[2.0, -1.0], 1.0);
    let found = Ridge::new(&design, &outcome).unwrap().fit(0.0).unwrap();
    let mut builder = Design::builder(40).intercept();
    for (place, name) in design.names.iter().enumerate() {
        builder = builder.number(name, &design.matrix.column(place).to_vec());
    }
    let plain = least_squares(&builder.build().unwrap(), &outcome).unwrap();
    assert!((found.fit.intercept - plain.coefficients[0]).abs() < 1e-12);
    for (ours, theirs) in found.fit.coefficients.iter().zip(&plain.coefficients[1..]) {
        assert!((ours - theirs).abs() < 1e-12);
    }
    let residual = plain.residual_sum_of_squares;
    assert!((found.residual_sum_of_squares - residual).abs() < 1e-10 * residual);
    assert!((found.effective_degrees_of_freedom - 5.0).abs() < 1e-12);
}

#[test]
fn the_cross_products_give_the_same_ridge_as_the_rows() {
    let Sample { design, outcome, groups } = simulated(60, 6, 5, 2, &[1.0, 1.0], 1.0);
    let folds = Folds::each_group(&groups).unwrap();
    let products = Products::new(&design, &outcome, &groups).unwrap();
    let rules = leave_out_linear(&products, &folds, 7.0).unwrap();
    for (fold, rule) in rules.iter().enumerate() {
        let (_, others) = folds.split(fold);
        let part =
            Design::new(design.names.clone(), design.matrix.select(ndarray::Axis(0), &others));
        let outcome: Vec<f64> = others.iter().map(|&row| outcome[row]).collect();
        let direct = Ridge::new(&part.unwrap(), &outcome).unwrap().fit(7.0).unwrap().fit;
        assert!((rule.intercept - direct.intercept).abs() < 1e-11);
        for (a, b) in rule.coefficients.iter().zip(&direct.coefficients) {
            assert!((a - b).abs() < 1e-12);
        }
    }
}

#[test]
fn more_columns_than_rows_need_a_penalty() {
    let Sample { design, outcome, .. } = simulated(8, 20, 4, 3, &[1.0], 1.0);
    let ridge = Ridge::new(&design, &outcome).unwrap();
    assert!(
        matches!(ridge.fit(0.0), Err(StatsError::RankDeficient { columns }) if columns.len() == 13)
    );
    let found = ridge.fit(2.0).unwrap();
    // residuals from the rule itself
    let squares: f64 = (0..8)
        .map(|row| outcome[row] - found.fit.predict(&design.matrix.row(row).to_vec()).unwrap())
        .map(|residual| residual * residual)
        .sum();
    assert!((found.residual_sum_of_squares - squares).abs() < 1e-10);
    assert!(found.effective_degrees_of_freedom < 7.0);
}

#[test]
fn duplicate_columns_share_and_constant_ones_get_nothing() {
    let x = [1.0, 2.0, 4.0, 8.0, 9.0];
    let design =
        Design::builder(5).intercept().number("x", &x).number("again", &x).build().unwrap();
    let ridge = Ridge::new(&design, &[1.0, 3.0, 2.0, 7.0, 6.0]).unwrap();
    let rule = ridge.fit(0.5).unwrap().fit;
    assert_eq!(rule.coefficients[0], 0.0);
    assert!((rule.coefficients[1] - rule.coefficients[2]).abs() < 1e-12);
    let fault = ridge.fit(0.0).unwrap_err();
    assert_eq!(fault, StatsError::RankDeficient { columns: vec!["again".into()] });
}

#[test]
fn the_chosen_penalty_is_the_lowest_of_many() {
    let Sample { design, outcome, .. } = simulated(50, 8, 5, 4, &[0.5, 0.5, 0.3], 1.5);
    let ridge = Ridge::new(&design, &outcome).unwrap();
    let choice = ridge.choose().unwrap();
    assert!(!choice.at_edge);
    for step in 0..200 {
        let penalty = 10.0_f64.powf(-3.0 + 0.04 * f64::from(step));
        let other = ridge.fit(penalty).unwrap().generalised_cross_validation;
        assert!(other >= choice.generalised_cross_validation * (1.0 - 1e-12));
    }
}

#[test]
fn what_cannot_be_fitted_is_refused() {
    let flat = Design::builder(3).intercept().number("c", &[0.1; 3]).build().unwrap();
    let fault = Ridge::new(&flat, &[1.0, 2.0, 3.0]);
    assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
    let line = Design::builder(3).number("x", &[1.0, 2.0, 3.0]).build().unwrap();
    assert!(matches!(Ridge::new(&line, &[1.0, f64::NAN, 2.0]), Err(StatsError::NotFinite { .. })));
    assert!(matches!(Ridge::new(&line, &[1.0, 1e200, 2.0]), Err(StatsError::OutOfRange { .. })));
    let constant = Ridge::new(&line, &[5.0; 3]).unwrap();
    assert_eq!(constant.fit(1.0).unwrap().fit.coefficients, [0.0]);
    assert!(matches!(constant.choose(), Err(StatsError::NoVariation { .. })));
    for penalty in [-1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(constant.fit(penalty), Err(StatsError::OutOfRange { .. })));
    }
    let one = Design::builder(1).number("x", &[1.0]).build().unwrap();
    assert!(matches!(Ridge::new(&one, &[1.0]), Err(StatsError::TooFewRows { .. })));
}
