//! Held against the row-wise fits.

use super::*;
use crate::stats::design::Design;
use crate::stats::linear::{ClusterCorrection, least_squares};
use crate::stats::resample::{bootstrap_indices, stream};
use rand::RngExt;

struct Example {
    design: Design,
    outcome: Vec<f64>,
    groups: Vec<usize>,
}

/// Eight groups of unequal size, three columns in awkward units; invented.
fn example(intercept: bool) -> Example {
    let mut generator = stream(21, 0);
    let groups: Vec<usize> = (0..90).map(|row| 3 + (row * row + row / 5) % 8).collect();
    let mut noise = |size: f64| -> Vec<f64> {
        (0..90).map(|_| size * (generator.random::<f64>() - 0.5)).collect()
    };
    let (date, small, free) = (noise(300.0), noise(1e-3), noise(2.0));
    let date: Vec<f64> = date.iter().map(|value| 20_000.0 + value).collect();
    let error = noise(1.0);
    let outcome = (0..90)
        .map(|row| {
            5.0 + 0.01 * (date[row] - 20_000.0)
                + 800.0 * small[row]
                + error[row]
                + groups[row] as f64 * 0.1
        })
        .collect();
    let mut builder = Design::builder(90);
    if intercept {
        builder = builder.intercept();
    }
    let design = builder.number("date", &date).number("small", &small).number("free", &free);
    Example { design: design.build().unwrap(), outcome, groups }
}

impl Example {
    fn refit(&self) -> Refit {
        Refit::new(&Products::new(&self.design, &self.outcome, &self.groups).unwrap()).unwrap()
    }

    /// Some rows, in order.
    fn rows(&self, rows: &[usize]) -> (Design, Vec<f64>) {
        let matrix = self.design.matrix.select(ndarray::Axis(0), rows);
        let design = Design::new(self.design.names.clone(), matrix).unwrap();
        (design, rows.iter().map(|&row| self.outcome[row]).collect())
    }
}

fn near(left: f64, right: f64) {
    assert!((left - right).abs() <= 1e-10 * (1e-6 + right.abs()), "{left} {right}");
}

#[test]
fn the_fit_and_its_errors_are_those_of_the_rows() {
    for intercept in [true, false] {
        let example = example(intercept);
        let refit = example.refit();
        let (fast, slow) =
            (refit.fit().unwrap(), least_squares(&example.design, &example.outcome).unwrap());
        near(fast.residual_sum_of_squares, slow.residual_sum_of_squares);
        let (few, many) = (fast.clustered().unwrap(), slow.clustered(&example.groups).unwrap());
        for name in &example.design.names {
            let contrast = slow.pick(name).unwrap();
            let (a, b) = (fast.classical(&contrast).unwrap(), slow.classical(&contrast).unwrap());
            near(a.value, b.value);
            near(a.standard_error, b.standard_error);
            let (a, b) = (few.contrast(&contrast).unwrap(), many.contrast(&contrast).unwrap());
            near(a.standard_error, b.standard_error);
            near(a.degrees_of_freedom, b.degrees_of_freedom);
            let simple = ClusterCorrection::Cr1s;
            let (a, b) = (few.corrected(&contrast, simple), many.corrected(&contrast, simple));
            near(a.unwrap().standard_error, b.unwrap().standard_error);
        }
    }
}

#[test]
fn joint_tests_are_those_of_the_rows() {
    let example = example(true);
    let refit = example.refit();
    let (fast, slow) =
        (refit.fit().unwrap(), least_squares(&example.design, &example.outcome).unwrap());
    let contrasts = ndarray::array![[0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 3.0]];
    near(
        fast.classical_joint(&contrasts).unwrap().statistic,
        slow.classical_joint(&contrasts).unwrap().statistic,
    );
    let (few, many) = (fast.clustered().unwrap(), slow.clustered(&example.groups).unwrap());
    let (a, b) = (few.joint(&contrasts).unwrap(), many.joint(&contrasts).unwrap());
    near(a.statistic, b.statistic);
    near(a.denominator, b.denominator);
}

#[test]
fn fits_without_a_group_predict_it_as_row_wise_fits_do() {
    for intercept in [true, false] {
        let example = example(intercept);
        for left in example.refit().leave_one_group_out().unwrap() {
            let part = |inside: bool| -> Vec<usize> {
                (0..90).filter(|&row| (example.groups[row] == left.code) == inside).collect()
            };
            let (design, outcome) = example.rows(&part(false));
            let slow = least_squares(&design, &outcome).unwrap();
            let found = left.prediction.unwrap();
            found.coefficients.iter().zip(&slow.coefficients).for_each(|(a, b)| near(*a, *b));
            let (design, own) = example.rows(&part(true));
            let errors: Vec<f64> = own
                .iter()
                .zip(design.matrix.rows())
                .map(|(y, row)| {
                    y - row.iter().zip(&slow.coefficients).map(|(x, b)| x * b).sum::<f64>()
                })
                .collect();
            assert_eq!(left.rows, own.len());
            assert!((found.errors - errors.iter().sum::<f64>()).abs() < 1e-8);
            near(found.squared_errors, errors.iter().map(|e| e * e).sum());
            let mean =
                if intercept { outcome.iter().sum::<f64>() / outcome.len() as f64 } else { 0.0 };
            near(left.squared_errors_of_nothing, own.iter().map(|y| (y - mean).powi(2)).sum());
        }
    }
}

#[test]
fn bootstrap_refits_are_fits_to_the_rows_of_the_drawn_groups() {
    let example = example(true);
    let found = example.refit().lot_bootstrap(20, 9).unwrap();
    assert_eq!((found.coefficients.nrows(), found.refused), (20, 0));
    for (draw, coefficients) in found.coefficients.rows().into_iter().enumerate() {
        // the same stream draws the same groups; codes are 3 to 10
        let drawn = bootstrap_indices(&mut stream(9, draw as u64), codes(&example).len());
        let rows: Vec<usize> = drawn
            .iter()
            .flat_map(|&place| {
                let code = codes(&example)[place];
                (0..90).filter(|&row| example.groups[row] == code).collect::<Vec<_>>()
            })
            .collect();
        let (design, outcome) = example.rows(&rows);
        let slow = least_squares(&design, &outcome).unwrap();
        coefficients.iter().zip(&slow.coefficients).for_each(|(a, b)| near(*a, *b));
    }
}

fn codes(example: &Example) -> Vec<usize> {
    let mut codes = example.groups.clone();
    codes.sort_unstable();
    codes.dedup();
    codes
}

#[test]
fn the_bytes_do_not_depend_on_the_number_of_threads() {
    let refit = example(true).refit();
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            (refit.lot_bootstrap(200, 1).unwrap(), refit.leave_one_group_out().unwrap())
        })
    };
    assert_eq!(on(1), on(2));
    assert_eq!(on(1), on(7));
}

#[test]
fn a_column_that_only_one_group_has_is_refused_in_samples_without_it() {
    let mut example = example(true);
    let own: Vec<f64> = example.groups.iter().map(|&code| f64::from(code == 4)).collect();
    let builder = Design::builder(90).intercept();
    example.design = builder.number("own", &own).build().unwrap();
    let refit = example.refit();
    let found = refit.lot_bootstrap(300, 2).unwrap();
    let groups = codes(&example).len() as f64;
    // a group is missing from a share (1 - 1/G)^G of the samples
    let share = (1.0 - 1.0 / groups).powf(groups);
    assert!((found.refused as f64 / 300.0 - share).abs() < 0.12, "{}", found.refused);
    assert!(found.coefficients.iter().all(|value| value.is_finite()));
    let without = refit.leave_one_group_out().unwrap();
    assert!(without.iter().all(|left| left.prediction.is_none() == (left.code == 4)));
}

#[test]
fn an_interval_holds_the_middle_of_the_samples() {
    let found = example(true).refit().lot_bootstrap(400, 3).unwrap();
    let contrast = [0.0, 1.0, 0.0, 0.0];
    let (low, high) = found.percentile_interval(&contrast, 0.9).unwrap();
    let inside =
        found.combined(&contrast).unwrap().into_iter().filter(|b| (low..=high).contains(b)).count();
    assert_eq!(inside, 360);
    assert!(found.standard_error(&contrast).unwrap() > 0.0);
    assert!(found.combined(&[1.0]).is_err());
    assert!(found.percentile_interval(&contrast, 1.0).is_err());
}

#[test]
fn dependent_constant_and_too_many_columns_are_refused_by_name() {
    let x: Vec<f64> = (0..8).map(f64::from).collect();
    let twice: Vec<f64> = x.iter().map(|value| 2.0 * value + 1.0).collect();
    let groups = [0, 0, 0, 1, 1, 1, 2, 2];
    let refit = |names: [(&str, &[f64]); 2]| {
        let mut builder = Design::builder(8).intercept();
        for (name, values) in names {
            builder = builder.number(name, values);
        }
        Refit::new(&Products::new(&builder.build().unwrap(), &x, &groups).unwrap())
    };
    let fault = refit([("x", &x), ("twice", &twice)]).unwrap().fit().map(|fit| fit.coefficients);
    assert_eq!(fault, Err(StatsError::RankDeficient { columns: vec!["twice".into()] }));
    let fault = refit([("x", &x), ("flat", &[0.1; 8])]).map(|_| ());
    assert_eq!(fault, Err(StatsError::RankDeficient { columns: vec!["flat".into()] }));
    let few = Design::builder(2).intercept().number("x", &[1.0, 2.0]).build().unwrap();
    let few = Refit::new(&Products::new(&few, &[1.0, 2.0], &[0, 1]).unwrap()).unwrap();
    assert!(matches!(few.fit(), Err(StatsError::TooFewRows { .. })));
}

#[test]
fn one_group_gives_a_fit_and_neither_errors_nor_samples() {
    let mut example = example(true);
    example.groups = vec![0; 90];
    let refit = example.refit();
    let fit = refit.fit().unwrap();
    assert!(matches!(fit.clustered(), Err(StatsError::TooFewGroups { .. })));
    assert!(matches!(refit.leave_one_group_out(), Err(StatsError::TooFewGroups { .. })));
    assert!(matches!(refit.lot_bootstrap(10, 1), Err(StatsError::TooFewGroups { .. })));
}

#[test]
fn an_outcome_that_does_not_vary_has_slopes_of_zero() {
    let mut example = example(true);
    example.outcome = vec![7.25; 90];
    let refit = example.refit();
    let fit = refit.fit().unwrap();
    assert_eq!(fit.coefficients, [7.25, 0.0, 0.0, 0.0]);
    assert_eq!(fit.residual_sum_of_squares, 0.0);
}

#[test]
fn a_row_a_group_is_as_good_as_any() {
    let mut example = example(true);
    example.groups = (0..90).collect();
    let refit = example.refit();
    let fit = refit.fit().unwrap();
    let slow = least_squares(&example.design, &example.outcome).unwrap();
    let contrast = [0.0, 0.0, 0.0, 1.0];
    let found = fit.clustered().unwrap().contrast(&contrast).unwrap();
    near(
        found.standard_error,
        slow.clustered(&example.groups).unwrap().contrast(&contrast).unwrap().standard_error,
    );
    assert!(matches!(refit.lot_bootstrap(0, 1), Err(StatsError::OutOfRange { .. })));
}

#[test]
fn collinear_columns_cost_the_digits_that_are_said_and_no_more() {
    let mut generator = stream(5, 0);
    for (share, digits) in [(1e-2, 9.5), (1e-4, 5.5)] {
        // variance inflation of about 1 / share^2
        let x: Vec<f64> = (0..200).map(|_| generator.random::<f64>()).collect();
        let z: Vec<f64> = x.iter().map(|x| x + share * generator.random::<f64>()).collect();
        let outcome: Vec<f64> = x.iter().map(|x| x + generator.random::<f64>()).collect();
        let design = Design::builder(200).intercept().number("x", &x).number("z", &z);
        let design = design.build().unwrap();
        let groups: Vec<usize> = (0..200).map(|row| row % 10).collect();
        let refit = Refit::new(&Products::new(&design, &outcome, &groups).unwrap()).unwrap();
        let (fast, slow) = (refit.fit().unwrap(), least_squares(&design, &outcome).unwrap());
        for (a, b) in fast.coefficients.iter().zip(&slow.coefficients) {
            let error = (a / b - 1.0).abs();
            assert!(error < 10_f64.powf(-digits), "{share} {error:e}");
        }
    }
}
