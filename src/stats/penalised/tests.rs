//! The elastic net against its own definition, against linfa alone, and where data are degenerate.

use super::*;
use crate::stats::design::Design;
use crate::stats::linear::least_squares;
use crate::stats::products::Products;
use crate::stats::resample::stream;
use linfa::traits::Fit;
use ndarray::Array2;
use proptest::prelude::*;
use rand_distr::{Distribution, StandardNormal};

pub(in crate::stats::penalised) struct Sample {
    pub design: Design,
    pub outcome: Vec<f64>,
    pub groups: Vec<usize>,
}

/// Normal columns `x0`, `x1`, ... of spread 1; the outcome is their sum weighted by `effects`, with noise; rows are dealt to the groups in turn.
pub(in crate::stats::penalised) fn simulated(
    rows: usize,
    columns: usize,
    groups: usize,
    seed: u64,
    effects: &[f64],
    noise: f64,
) -> Sample {
    let mut generator = stream(seed, 0);
    let mut normal = || -> f64 { StandardNormal.sample(&mut generator) };
    let matrix = Array2::from_shape_fn((rows, columns), |_| normal());
    let outcome = matrix.rows().into_iter().map(|row| {
        let signal: f64 = row.iter().zip(effects).map(|(x, effect)| x * effect).sum();
        signal + noise * normal()
    });
    let outcome = outcome.collect();
    let names = (0..columns).map(|place| format!("x{place}")).collect();
    let design = Design::new(names, matrix).unwrap();
    Sample { design, outcome, groups: (0..rows).map(|row| row % groups).collect() }
}

impl Sample {
    pub fn products(&self) -> Products {
        Products::new(&self.design, &self.outcome, &self.groups).unwrap()
    }
}

fn population(values: &[f64]) -> (f64, f64) {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let square = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / count;
    (mean, square.sqrt())
}

/// By how much the conditions of a minimum are missed, from the rows, in units of the outcome.
fn missed(sample: &Sample, rule: &PenalisedFit, mixing: f64) -> f64 {
    let rows = sample.outcome.len() as f64;
    let residuals: Vec<f64> = (0..sample.outcome.len())
        .map(|row| {
            sample.outcome[row] - rule.predict(&sample.design.matrix.row(row).to_vec()).unwrap()
        })
        .collect();
    let of_intercept = residuals.iter().sum::<f64>() / rows;
    let of_columns =
        sample.design.matrix.columns().into_iter().enumerate().map(|(place, column)| {
            let (mean, spread) = population(&column.to_vec());
            if spread < 1e-12 {
                return rule.coefficients[place].abs();
            }
            let pairs = column.iter().zip(&residuals);
            let slope = pairs.map(|(x, e)| (x - mean) / spread * e).sum::<f64>() / rows;
            let value = rule.standardised[place];
            let slope = slope - (1.0 - mixing) * rule.penalty * value;
            let absolute = mixing * rule.penalty;
            if value == 0.0 {
                (slope.abs() - absolute).max(0.0)
            } else {
                (slope - absolute * value.signum()).abs()
            }
        });
    of_columns.fold(of_intercept.abs(), f64::max)
}

#[test]
fn independent_columns_are_shrunk_by_the_penalty() {
    // two columns of -1 and 1 at right angles: correlations with the outcome 2 and -0.5, so the lasso at 0.75 gives 1.25 and 0
    let design = Design::builder(4)
        .number("a", &[-1.0, -1.0, 1.0, 1.0])
        .number("b", &[-1.0, 1.0, -1.0, 1.0])
        .build()
        .unwrap();
    let outcome = [8.5, 7.5, 12.5, 11.5];
    let lasso = elastic_net(&design, &outcome, 0.75, 1.0).unwrap();
    assert!((lasso.coefficients[0] - 1.25).abs() < 1e-12);
    assert_eq!(lasso.coefficients[1], 0.0);
    assert!((lasso.intercept - 10.0).abs() < 1e-12);
    assert_eq!(lasso.kept(), [0]);
    // half and half: (2 - 0.375) / (1 + 0.375) and -(0.5 - 0.375) / (1 + 0.375)
    let both = elastic_net(&design, &outcome, 0.75, 0.5).unwrap();
    assert!((both.coefficients[0] - 1.625 / 1.375).abs() < 1e-12);
    assert!((both.coefficients[1] + 0.125 / 1.375).abs() < 1e-12);
}

#[test]
fn the_largest_penalty_is_where_the_first_column_enters() {
    let sample = simulated(30, 6, 3, 5, &[1.0, 0.5], 1.0);
    let products = sample.products();
    let largest = largest_penalty(&products, 0.5).unwrap();
    let fits = penalised_fits(&products, 0.5, &[0.999 * largest, largest * 1.000001]).unwrap();
    assert_eq!(fits[0].kept().len(), 1);
    assert!(fits[1].kept().is_empty());
    let grid =
        penalty_grid(&products, &GridOptions { mixing: 0.5, steps: 3, smallest_share: 0.01 });
    let grid = grid.unwrap();
    assert!((grid[1] - 0.1 * largest).abs() < 1e-12 && (grid[2] - 0.01 * largest).abs() < 1e-12);
}

#[test]
fn linfa_alone_rows_and_cross_products_agree() {
    let sample = simulated(80, 7, 4, 6, &[2.0, -1.0, 0.5], 1.0);
    let mut columns = sample.design.matrix.clone();
    for mut column in columns.columns_mut() {
        let (mean, spread) = population(&column.to_vec());
        column.mapv_inplace(|value| (value - mean) / spread);
    }
    for (penalty, mixing) in [(0.5, 1.0), (0.1, 1.0), (0.3, 0.5), (0.01, 0.2)] {
        let dataset = linfa::Dataset::new(columns.clone(), sample.outcome.clone().into());
        let alone = linfa_elasticnet::ElasticNet::params()
            .penalty(penalty)
            .l1_ratio(mixing)
            .tolerance(1e-13)
            .max_iterations(100_000)
            .fit(&dataset)
            .unwrap();
        let rows = elastic_net(&sample.design, &sample.outcome, penalty, mixing).unwrap();
        let products = penalised_fits(&sample.products(), mixing, &[penalty]).unwrap();
        for (place, value) in alone.hyperplane().iter().enumerate() {
            assert!((rows.standardised[place] - value).abs() < 1e-7, "{penalty} {mixing}");
            assert!((products[0].standardised[place] - value).abs() < 1e-7);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn every_answer_meets_the_conditions_of_a_minimum(
        rows in 3_usize..40, columns in 1_usize..12, seed in 0_u64..10_000,
        share in 0.01_f64..1.2, mixing in 0.05_f64..=1.0, alike in 0.0_f64..3.0, unit in -6_i32..6,
    ) {
        let mut sample = simulated(rows, columns, 2, seed, &[1.0, -2.0, 0.5], 1.0);
        // a common part makes columns alike; units must not matter
        for (row, mut values) in sample.design.matrix.rows_mut().into_iter().enumerate() {
            let common = (row as f64 * 1.7).sin() * alike;
            values.mapv_inplace(|value| 3.0 + value + common);
        }
        let unit = 10.0_f64.powi(unit);
        sample.outcome.iter_mut().for_each(|value| *value = unit * (*value + 5.0));
        let products = sample.products();
        let penalty = share * largest_penalty(&products, mixing).unwrap();
        prop_assume!(penalty > 1e-9 * unit);
        // the square penalty is in the unit of the columns, so a tiny unit of the outcome hides nothing
        let from_products = &penalised_fits(&products, mixing, &[penalty]).unwrap()[0];
        let from_rows = elastic_net(&sample.design, &sample.outcome, penalty, mixing).unwrap();
        let (_, spread) = population(&sample.outcome);
        prop_assert!(missed(&sample, from_products, mixing) < 1e-6 * spread);
        prop_assert!(missed(&sample, &from_rows, mixing) < 1e-6 * spread);
    }

    #[test]
    fn units_of_columns_do_not_matter(seed in 0_u64..1000, scale in 1e-3_f64..1e3, shift in -1e3_f64..1e3) {
        let sample = simulated(25, 4, 2, seed, &[1.0, -1.0], 0.5);
        let mut moved = simulated(25, 4, 2, seed, &[1.0, -1.0], 0.5);
        moved.design.matrix.column_mut(0).mapv_inplace(|value| shift + scale * value);
        let plain = elastic_net(&sample.design, &sample.outcome, 0.2, 1.0).unwrap();
        let scaled = elastic_net(&moved.design, &moved.outcome, 0.2, 1.0).unwrap();
        for place in 0..4 {
            prop_assert!((plain.standardised[place] - scaled.standardised[place]).abs() < 1e-7);
        }
    }
}

#[test]
fn a_path_gives_each_penalty_what_it_gets_alone() {
    let sample = simulated(40, 10, 4, 7, &[1.0, 0.7, -0.5], 1.0);
    let products = sample.products();
    let penalties = [0.3, 0.01, 0.1];
    let path = penalised_fits(&products, 1.0, &penalties).unwrap();
    for (fit, penalty) in path.iter().zip(penalties) {
        assert_eq!(fit.penalty, penalty);
        let alone = &penalised_fits(&products, 1.0, &[penalty]).unwrap()[0];
        for (a, b) in fit.coefficients.iter().zip(&alone.coefficients) {
            assert!((a - b).abs() < 1e-9);
        }
    }
}

#[test]
fn more_columns_than_rows_are_carried_down_the_whole_path() {
    for seed in 0..5 {
        let sample = simulated(12, 60, 3, seed, &[2.0, -2.0], 0.5);
        let products = sample.products();
        let grid = penalty_grid(&products, &GridOptions::default()).unwrap();
        for fit in penalised_fits(&products, 1.0, &grid).unwrap() {
            assert!(fit.kept().len() < 12);
            assert!(missed(&sample, &fit, 1.0) < 1e-6);
        }
    }
}

#[test]
fn of_two_equal_columns_the_lasso_keeps_the_first_and_a_constant_gets_nothing() {
    let x = [1.0, 2.0, 4.0, 8.0, 9.0, 3.0];
    let design = Design::builder(6)
        .intercept()
        .number("x", &x)
        .number("again", &x)
        .number("constant", &[0.3; 6])
        .build()
        .unwrap();
    let outcome = [1.0, 3.0, 2.0, 7.0, 6.0, 3.5];
    let rule = elastic_net(&design, &outcome, 0.1, 1.0).unwrap();
    assert_eq!(rule.kept(), [1]);
    let products = Products::new(&design, &outcome, &[0; 6]).unwrap();
    let path = penalised_fits(&products, 1.0, &[1.0, 0.1, 1e-3]).unwrap();
    assert!(path.iter().all(|fit| fit.kept() == [1]));
    // the elastic net shares
    let shared = elastic_net(&design, &outcome, 0.1, 0.5).unwrap();
    assert!((shared.coefficients[1] - shared.coefficients[2]).abs() < 1e-10);
}

#[test]
fn no_penalty_is_least_squares_and_asks_for_what_that_asks() {
    let sample = simulated(30, 3, 3, 8, &[1.0], 1.0);
    let rule = elastic_net(&sample.design, &sample.outcome, 0.0, 1.0).unwrap();
    let mut builder = Design::builder(30).intercept();
    for (place, name) in sample.design.names.iter().enumerate() {
        builder = builder.number(name, &sample.design.matrix.column(place).to_vec());
    }
    let plain = least_squares(&builder.build().unwrap(), &sample.outcome).unwrap();
    assert_eq!(rule.coefficients, plain.coefficients[1..]);
    let near = elastic_net(&sample.design, &sample.outcome, 1e-9, 1.0).unwrap();
    for (a, b) in near.standardised.iter().zip(&rule.standardised) {
        assert!((a - b).abs() < 1e-7);
    }
    let wide = simulated(5, 9, 2, 8, &[1.0], 1.0);
    let fault = elastic_net(&wide.design, &wide.outcome, 0.0, 1.0);
    assert!(matches!(fault, Err(StatsError::TooFewRows { .. })));
}

#[test]
fn an_outcome_that_does_not_vary_has_no_path() {
    let mut sample = simulated(10, 3, 2, 9, &[], 1.0);
    sample.outcome.fill(0.1);
    let fault = elastic_net(&sample.design, &sample.outcome, 0.1, 1.0);
    assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
    let products = sample.products();
    let fault = penalty_grid(&products, &GridOptions::default());
    assert!(matches!(fault, Err(StatsError::NoVariation { .. })));
    let flat = &penalised_fits(&products, 1.0, &[0.1]).unwrap()[0];
    assert!(flat.kept().is_empty() && (flat.intercept - 0.1).abs() < 1e-15);
}

#[test]
fn options_and_values_out_of_range_are_refused() {
    let sample = simulated(10, 3, 2, 10, &[1.0], 1.0);
    let products = sample.products();
    for mixing in [0.0, -0.5, 1.5, f64::NAN] {
        let fault = elastic_net(&sample.design, &sample.outcome, 0.1, mixing);
        assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
        assert!(largest_penalty(&products, mixing).is_err());
    }
    for penalty in [-0.1, f64::NAN, f64::INFINITY] {
        assert!(matches!(
            penalised_fits(&products, 1.0, &[penalty]),
            Err(StatsError::OutOfRange { .. })
        ));
        assert!(elastic_net(&sample.design, &sample.outcome, penalty, 1.0).is_err());
    }
    let mut bad = sample.outcome.clone();
    bad[3] = f64::NAN;
    let fault = elastic_net(&sample.design, &bad, 0.1, 1.0);
    assert!(matches!(fault, Err(StatsError::NotFinite { row: 3, .. })));
    bad[3] = 1e200;
    let fault = elastic_net(&sample.design, &bad, 0.1, 1.0);
    assert!(matches!(fault, Err(StatsError::OutOfRange { .. })));
    let rule = elastic_net(&sample.design, &sample.outcome, 0.1, 1.0).unwrap();
    assert!(matches!(rule.predict(&[1.0]), Err(StatsError::LengthMismatch { .. })));
    assert!(matches!(rule.predict(&[1.0, f64::NAN, 0.0]), Err(StatsError::NotFinite { .. })));
}

#[test]
fn one_huge_value_does_not_break_the_fit() {
    let mut sample = simulated(20, 4, 2, 11, &[1.0], 1.0);
    sample.outcome[7] = 1e12;
    sample.design.matrix[(3, 1)] = 1e15;
    let products = sample.products();
    let grid = penalty_grid(&products, &GridOptions::default()).unwrap();
    let (_, spread) = population(&sample.outcome);
    for fit in penalised_fits(&products, 1.0, &grid).unwrap() {
        assert!(missed(&sample, &fit, 1.0) < 1e-6 * spread);
    }
}
