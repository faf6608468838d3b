//! Scores by hand, and a permutation test that does not cry wolf.

use super::*;
use crate::stats::design::Design;
use crate::stats::penalised::{leave_out_linear, predict_by_fold};
use crate::stats::products::Products;
use crate::stats::resample::stream;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

fn normal(generator: &mut impl Rng) -> f64 {
    StandardNormal.sample(generator)
}

#[test]
fn a_hand_worked_score_is_met() {
    // means of the other fold: 6 6 2 2; their errors -5 -3 3 5; the rule's errors 0 1 -1 0
    let folds = Folds::each_group(&[0, 0, 1, 1]).unwrap();
    let outcome = [1.0, 3.0, 5.0, 7.0];
    let found = score_predictions(&outcome, &folds, vec![1.0, 2.0, 6.0, 7.0]).unwrap();
    assert!((found.r_squared - (1.0 - 2.0 / 68.0)).abs() < 1e-14);
    assert_eq!(found.mean_absolute_error, 0.5);
    assert_eq!(found.mean_absolute_error_of_mean, 4.0);
    let means = score_predictions(&outcome, &folds, vec![6.0, 6.0, 2.0, 2.0]).unwrap();
    assert_eq!(means.r_squared, 0.0);
}

#[test]
fn each_fold_is_predicted_from_the_others_alone() {
    let folds = Folds::each_group(&[5, 9, 5, 2]).unwrap();
    let found = predict_left_out(&folds, |others, held_out| {
        assert!(others.iter().all(|row| !held_out.contains(row)));
        Ok(held_out.iter().map(|&row| (row * 10 + others.len()) as f64).collect())
    });
    assert_eq!(found.unwrap(), [2.0, 13.0, 22.0, 33.0]);
    let short = predict_left_out(&folds, |_, _| Ok(Vec::new()));
    assert!(matches!(short, Err(StatsError::LengthMismatch { .. })));
}

/// p value of one column in lots of six, for an outcome that differs between lots and follows the column by `slope`.
fn p_value(seed: u64, slope: f64, permutations: usize) -> f64 {
    let mut generator = stream(seed, 0);
    let groups: Vec<usize> = (0..30).map(|row| row / 6).collect();
    let lots: Vec<f64> = (0..5).map(|_| normal(&mut generator)).collect();
    // the column differs between lots as well, by chance alone
    let other: Vec<f64> = (0..5).map(|_| normal(&mut generator)).collect();
    let x: Vec<f64> = groups.iter().map(|&lot| other[lot] + normal(&mut generator)).collect();
    let outcome: Vec<f64> = (0..30)
        .map(|row| lots[groups[row]] + slope * x[row] + 0.5 * normal(&mut generator))
        .collect();
    let design = Design::builder(30).number("x", &x).build().unwrap();
    let folds = Folds::each_group(&groups).unwrap();
    let exchange = Exchange::WithinGroups;
    let test =
        prediction_test(&outcome, &groups, &folds, exchange, permutations, seed, |outcome| {
            let products = Products::new(&design, outcome, &groups)?;
            predict_by_fold(&design, &folds, &leave_out_linear(&products, &folds, 0.0)?)
        });
    test.unwrap().p_value
}

#[test]
fn permutation_within_groups_keeps_its_level_though_groups_differ() {
    let below = (0..300).filter(|&seed| p_value(seed, 0.0, 19) <= 0.1).count();
    // exactly one in ten by exchangeability: mean 30, sd 5.2
    assert!((12..=48).contains(&below), "{below}");
}

#[test]
fn a_column_that_predicts_is_noticed() {
    let found = (0..20).filter(|&seed| p_value(seed, 2.0, 99) <= 0.02).count();
    assert!(found >= 18, "{found}");
}

#[test]
fn groups_of_one_row_leave_nothing_to_permute() {
    let outcome = [1.0, 5.0, 2.0, 4.0];
    let groups = [0, 1, 2, 3];
    let folds = Folds::each_group(&groups).unwrap();
    let exchange = Exchange::WithinGroups;
    let test = prediction_test(&outcome, &groups, &folds, exchange, 9, 1, |_| Ok(vec![3.0; 4]));
    assert_eq!(test.unwrap().p_value, 1.0);
}

#[test]
fn the_bytes_do_not_depend_on_the_number_of_threads() {
    let outcome: Vec<f64> = (0..24).map(|row| (row as f64 * 1.3).sin()).collect();
    let groups: Vec<usize> = (0..24).map(|row| row % 4).collect();
    let folds = Folds::of_groups(&groups, 2, 1).unwrap();
    let run = || {
        prediction_test(&outcome, &groups, &folds, Exchange::Anywhere, 40, 3, |outcome| {
            predict_left_out(&folds, |others, held_out| {
                let nearest = |row: usize| others.iter().copied().min_by_key(|o| o.abs_diff(row));
                Ok(held_out.iter().map(|&row| outcome[nearest(row).unwrap()]).collect())
            })
        })
        .unwrap()
    };
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.unwrap().install(run)
    };
    assert_eq!(on(1), on(2));
    assert_eq!(on(1), on(7));
    assert!(on(1).p_value >= 1.0 / 41.0);
}

#[test]
fn what_cannot_be_scored_is_refused() {
    let groups = [0, 0, 1, 1];
    let folds = Folds::each_group(&groups).unwrap();
    let outcome = [1.0, 2.0, 3.0, 4.0];
    let score = |outcome: &[f64], predictions: Vec<f64>| {
        score_predictions(outcome, &folds, predictions).unwrap_err()
    };
    assert!(matches!(score(&[1.0; 4], vec![0.0; 4]), StatsError::NoVariation { .. }));
    assert!(matches!(score(&outcome, vec![0.0; 3]), StatsError::LengthMismatch { .. }));
    assert!(matches!(score(&outcome, vec![f64::NAN; 4]), StatsError::NotFinite { .. }));
    assert!(matches!(score(&outcome[..3], vec![0.0; 3]), StatsError::LengthMismatch { .. }));
    let test = |groups: &[usize], permutations| {
        let exchange = Exchange::Anywhere;
        prediction_test(&outcome, groups, &folds, exchange, permutations, 1, |_| Ok(vec![0.0; 4]))
    };
    assert!(matches!(test(&groups, 0), Err(StatsError::OutOfRange { .. })));
    assert!(matches!(test(&groups[1..], 9), Err(StatsError::LengthMismatch { .. })));
    let backend = || StatsError::NotConverged { what: "the rule".into() };
    let failing =
        prediction_test(&outcome, &groups, &folds, Exchange::Anywhere, 9, 1, |_| Err(backend()));
    assert_eq!(failing.unwrap_err(), backend());
}
