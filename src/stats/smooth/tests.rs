//! The curve against its own definition, and where points are degenerate.

use super::*;
use crate::stats::resample::stream;
use nalgebra::DMatrix;
use proptest::prelude::*;
use rand_distr::{Distribution, StandardNormal};

/// Uneven places, a wave and noise.
fn points(count: usize, seed: u64) -> (Vec<f64>, Vec<f64>) {
    let mut generator = stream(seed, 0);
    let mut normal = || -> f64 { StandardNormal.sample(&mut generator) };
    let x: Vec<f64> = (0..count).map(|row| row as f64 + 0.3 * normal().tanh()).collect();
    let size = count as f64;
    let y = x.iter().map(|x| (6.0 * x / size).sin() + 0.3 * normal()).collect();
    (x, y)
}

fn largest_difference(left: &[f64], right: &[f64]) -> f64 {
    left.iter().zip(right).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

/// The smoother as a matrix, one column an outcome of a single 1.
fn smoother(x: &[f64], penalty: f64) -> DMatrix<f64> {
    let columns: Vec<Vec<f64>> = (0..x.len())
        .map(|place| {
            let mut unit = vec![0.0; x.len()];
            unit[place] = 1.0;
            let fit = SmoothingSpline::new(x, &unit).unwrap().fit(penalty).unwrap();
            x.iter().map(|&at| fit.at(at).unwrap()).collect()
        })
        .collect();
    DMatrix::from_fn(x.len(), x.len(), |row, column| columns[column][row])
}

#[test]
fn three_points_are_hand_worked() {
    // 0 1 2 with outcomes 0 1 0: Q = (1, -2, 1), R = 2/3, so the curvature is -2 / (2/3 + 6 penalty) and the curve y - penalty Q curvature
    let spline = SmoothingSpline::new(&[0.0, 1.0, 2.0], &[0.0, 1.0, 0.0]).unwrap();
    let fit = spline.fit(0.5).unwrap();
    let curvature = -2.0 / (2.0 / 3.0 + 3.0);
    assert!((fit.curvatures[1] - curvature).abs() < 1e-13);
    assert!(
        largest_difference(&fit.values, &[-0.5 * curvature, 1.0 + curvature, -0.5 * curvature])
            < 1e-13
    );
    // trace 3 - penalty Q'Q / (R + penalty Q'Q)
    let degrees = 3.0 - 3.0 / (2.0 / 3.0 + 3.0);
    assert!((fit.effective_degrees_of_freedom - degrees).abs() < 1e-13);
}

#[test]
fn a_straight_line_stays_whatever_the_penalty() {
    let x = [0.0, 1.0, 1.5, 4.0, 7.0, 7.5];
    let y = x.map(|x| 3.0 - 0.5 * x);
    let spline = SmoothingSpline::new(&x, &y).unwrap();
    for penalty in [1e-6, 1.0, 1e6] {
        let fit = spline.fit(penalty).unwrap();
        assert!(largest_difference(&fit.values, &y) < 1e-11);
        assert!((fit.at(20.0).unwrap() + 7.0).abs() < 1e-10);
        assert!((fit.at(-10.0).unwrap() - 8.0).abs() < 1e-10);
    }
}

#[test]
fn a_large_penalty_gives_the_line_of_least_squares_and_a_small_one_every_point() {
    let (x, y) = points(30, 1);
    let spline = SmoothingSpline::new(&x, &y).unwrap();
    let straight = spline.fit(1e10).unwrap();
    let design = crate::stats::design::Design::builder(30).intercept().number("x", &x);
    let line = crate::stats::linear::least_squares(&design.build().unwrap(), &y).unwrap();
    assert!(largest_difference(&straight.values, &line.fitted) < 1e-5);
    assert!((straight.effective_degrees_of_freedom - 2.0).abs() < 1e-4);
    let rough = spline.fit(1e-8).unwrap();
    assert!(largest_difference(&rough.values, &y) < 1e-6);
    assert!((rough.effective_degrees_of_freedom - 30.0).abs() < 1e-5);
}

#[test]
fn leverages_and_scores_are_those_of_the_smoother_matrix() {
    let (x, y) = points(25, 2);
    let smoother = smoother(&x, 8.0);
    let fit = SmoothingSpline::new(&x, &y).unwrap().fit(8.0).unwrap();
    assert!((fit.effective_degrees_of_freedom - smoother.trace()).abs() < 1e-9);
    assert!(largest_difference(&fit.leverages, smoother.diagonal().as_slice()) < 1e-10);
    let residual: f64 = fit.values.iter().zip(&y).map(|(f, y)| (y - f).powi(2)).sum();
    let score = residual / 25.0 / (1.0 - smoother.trace() / 25.0).powi(2);
    assert!((fit.generalised_cross_validation - score).abs() < 1e-10);
    let errors = fit.standard_errors().unwrap();
    let variance = residual / (25.0 - smoother.trace());
    assert!((errors[7] - (variance * smoother[(7, 7)]).sqrt()).abs() < 1e-9);
}

#[test]
fn the_restricted_deviance_is_that_of_the_smoother_matrix_but_for_a_constant() {
    // Wahba 1985: y'(I - A) y over the m-th root of the product of the m = n - 2 eigenvalues of I - A that are not zero
    let (x, y) = points(18, 3);
    let spline = SmoothingSpline::new(&x, &y).unwrap();
    let apart = |penalty: f64| {
        let left = DMatrix::identity(18, 18) - smoother(&x, penalty);
        let y = nalgebra::DVector::from_column_slice(&y);
        let squares = y.dot(&(&left * &y)) / 16.0;
        let mut values = left.symmetric_eigenvalues().as_slice().to_vec();
        values.sort_by(f64::total_cmp);
        let volume: f64 = values[2..].iter().map(|value| value.ln()).sum();
        spline.fit(penalty).unwrap().restricted_deviance - (16.0 * squares.ln() - volume)
    };
    let first = apart(0.5);
    for penalty in [5.0, 50.0] {
        assert!((apart(penalty) - first).abs() < 1e-6, "{} {first}", apart(penalty));
    }
}

proptest! {
    #[test]
    fn no_other_values_at_the_knots_are_better(
        seed in 0_u64..1000, step in prop::collection::vec(-0.01_f64..0.01, 12), penalty in 0.1_f64..100.0,
    ) {
        let (x, y) = points(12, seed);
        let fit = SmoothingSpline::new(&x, &y).unwrap().fit(penalty).unwrap();
        let cost = |values: &[f64]| {
            let lack: f64 = values.iter().zip(&y).map(|(f, y)| (y - f).powi(2)).sum();
            // the roughness of the natural spline through the values, by Simpson's rule, exact for squares of straight curvature
            let through = SmoothingSpline::new(&x, values).unwrap().fit(1e-9).unwrap();
            let pieces = through.curvatures.windows(2).zip(x.windows(2));
            let rough: f64 = pieces
                .map(|(c, x)| (x[1] - x[0]) * (c[0] * c[0] + c[0] * c[1] + c[1] * c[1]) / 3.0)
                .sum();
            lack + penalty * rough
        };
        let moved: Vec<f64> = fit.values.iter().zip(&step).map(|(f, step)| f + step).collect();
        prop_assert!(cost(&moved) >= cost(&fit.values) - 1e-6);
    }

    #[test]
    fn units_do_not_change_the_curve(seed in 0_u64..100, scale in 1e-3_f64..1e3, shift in -1e3_f64..1e3) {
        let (x, y) = points(20, seed);
        let moved: Vec<f64> = x.iter().map(|x| shift + scale * x).collect();
        let plain = SmoothingSpline::new(&x, &y).unwrap().fit(5.0).unwrap();
        let scaled = SmoothingSpline::new(&moved, &y).unwrap().fit(5.0 * scale.powi(3)).unwrap();
        prop_assert!(largest_difference(&plain.values, &scaled.values) < 1e-7);
        let between = 0.5 * (x[3] + x[4]);
        let there = scaled.at(shift + scale * between).unwrap();
        prop_assert!((plain.at(between).unwrap() - there).abs() < 1e-7);
    }

    #[test]
    fn the_order_of_the_points_does_not_matter(seed in 0_u64..100) {
        let (x, y) = points(20, seed);
        let back = |values: &[f64]| values.iter().rev().copied().collect::<Vec<f64>>();
        let forth = SmoothingSpline::new(&x, &y).unwrap().fit(5.0).unwrap();
        prop_assert_eq!(&forth, &SmoothingSpline::new(&back(&x), &back(&y)).unwrap().fit(5.0).unwrap());
    }
}

#[test]
fn rows_at_one_place_count_as_often_as_they_are() {
    // three rows at one place do what one row of three times the weight does: their mean, and their own spread in the residual
    let x = [0.0, 1.0, 1.0, 1.0, 2.0, 4.0, 5.0];
    let y = [0.0, 1.0, 2.0, 6.0, 1.0, 0.0, 2.0];
    let fit = SmoothingSpline::new(&x, &y).unwrap().fit(0.7).unwrap();
    assert_eq!(fit.knots, [0.0, 1.0, 2.0, 4.0, 5.0]);
    let residual: f64 = x.iter().zip(&y).map(|(&x, y)| (y - fit.at(x).unwrap()).powi(2)).sum();
    assert!((fit.residual_sum_of_squares - residual).abs() < 1e-12);
    // moving the three rows apart by a hair, but over the limit of one place, changes little
    let apart = [0.0, 0.997, 1.0, 1.003, 2.0, 4.0, 5.0];
    let near = SmoothingSpline::new(&apart, &y).unwrap().fit(0.7).unwrap();
    assert_eq!(near.knots.len(), 7);
    assert!((near.at(1.0).unwrap() - fit.at(1.0).unwrap()).abs() < 0.01);
    assert!((near.effective_degrees_of_freedom - fit.effective_degrees_of_freedom).abs() < 0.02);
    assert!((near.residual_sum_of_squares - fit.residual_sum_of_squares).abs() < 0.05);
}

#[test]
fn each_criterion_is_lowest_at_its_choice() {
    let (x, y) = points(60, 4);
    let spline = SmoothingSpline::new(&x, &y).unwrap();
    for criterion in [Smoothness::CrossValidation, Smoothness::RestrictedLikelihood] {
        let choice = spline.choose(criterion).unwrap();
        assert!(!choice.straight && !choice.through_every_point);
        for step in 0..120 {
            let fit = spline.fit(10.0_f64.powf(-3.0 + 0.08 * f64::from(step))).unwrap();
            let value = match criterion {
                Smoothness::CrossValidation => fit.generalised_cross_validation,
                Smoothness::RestrictedLikelihood => fit.restricted_deviance,
            };
            assert!(value >= choice.criterion - 1e-9);
        }
        let degrees = spline.fit(choice.penalty).unwrap().effective_degrees_of_freedom;
        assert!((4.0..12.0).contains(&degrees), "{degrees}");
    }
}

#[test]
fn noise_alone_mostly_asks_for_a_straight_line() {
    let straight = (0..20).filter(|&seed| {
        let (x, y) = points(40, 100 + seed);
        let wave = x.iter().map(|x| (6.0 * x / 40.0).sin());
        let noise: Vec<f64> = y.iter().zip(wave).map(|(y, wave)| y - wave).collect();
        let spline = SmoothingSpline::new(&x, &noise).unwrap();
        let choice = spline.choose(Smoothness::RestrictedLikelihood).unwrap();
        choice.straight
    });
    let straight = straight.count();
    assert!(straight >= 10, "{straight}");
}

#[test]
fn as_many_knots_as_there_may_be_keep_their_digits() {
    let x: Vec<f64> = (0..2000).map(f64::from).collect();
    let y: Vec<f64> = x.iter().map(|x| (x / 100.0).sin() + (x * x).sin()).collect();
    let spline = SmoothingSpline::new(&x, &y).unwrap();
    // the same equations in 80-bit floats (numpy 2 longdouble, own script): penalty, trace, residual, curve at 1000
    let outside = [
        (1e2, 224.59438535293688, 872.8081310135383, -0.4913093191386255),
        (1e6, 23.36059639588234, 1006.9947481310443, -0.5695774961142119),
        (1e10, 3.2374829325148013, 1939.17130457825, -0.03735763436709538),
    ];
    for (penalty, degrees, residual, middle) in outside {
        let fit = spline.fit(penalty).unwrap();
        assert_eq!(fit.knots.len(), 2000);
        assert!((fit.effective_degrees_of_freedom - degrees).abs() < 1e-5 * degrees);
        assert!((fit.residual_sum_of_squares - residual).abs() < 1e-6 * residual);
        assert!((fit.at(1000.0).unwrap() - middle).abs() < 1e-6);
    }
}

#[test]
fn a_saw_is_followed_and_a_line_under_a_rapid_wave_is_not_left() {
    let x: Vec<f64> = (0..2000).map(f64::from).collect();
    let saw: Vec<f64> = (0..2000).map(|row| f64::from(row % 40)).collect();
    let followed = SmoothingSpline::new(&x, &saw).unwrap();
    let choice = followed.choose(Smoothness::CrossValidation).unwrap();
    assert!(!choice.straight);
    assert!(followed.fit(choice.penalty).unwrap().effective_degrees_of_freedom > 200.0);
    let line: Vec<f64> = (0..2000).map(|row| f64::from(row) * 0.01 + f64::from(row % 2)).collect();
    let straight = SmoothingSpline::new(&x, &line).unwrap();
    let choice = straight.choose(Smoothness::RestrictedLikelihood).unwrap();
    assert!(choice.straight && !choice.through_every_point, "{choice:?}");
}

#[test]
fn a_hundred_thousand_rows_are_a_small_job() {
    let (x, y) = points(100_000, 5);
    let spline = SmoothingSpline::new(&x, &y).unwrap();
    let choice = spline.choose(Smoothness::RestrictedLikelihood).unwrap();
    let fit = spline.fit(choice.penalty).unwrap();
    let off = |at: f64| (fit.at(at).unwrap() - (6.0 * at / 1e5).sin()).abs();
    assert!((0..100).all(|step| off(f64::from(step) * 1000.0) < 0.03));
}

#[test]
fn what_cannot_be_smoothed_is_refused() {
    let three = [0.0, 1.0, 2.0];
    let fault = |x: &[f64], y: &[f64]| SmoothingSpline::new(x, y).unwrap_err();
    assert!(matches!(fault(&[], &[]), StatsError::Empty { .. }));
    assert!(matches!(fault(&three, &three[1..]), StatsError::LengthMismatch { .. }));
    assert!(matches!(fault(&[0.0, f64::NAN, 1.0], &three), StatsError::NotFinite { .. }));
    assert!(matches!(fault(&three, &[0.0, 1.0, f64::INFINITY]), StatsError::NotFinite { .. }));
    assert!(matches!(fault(&[4.0; 3], &three), StatsError::NoVariation { .. }));
    assert!(matches!(fault(&[0.0, 0.0, 1.0], &three), StatsError::TooFewRows { rows: 2, .. }));
    assert!(matches!(fault(&[0.0, 1.0, 1e200], &three), StatsError::OutOfRange { .. }));
    assert!(matches!(fault(&three, &[0.0, 1.0, 1e200]), StatsError::OutOfRange { .. }));
    let flat = SmoothingSpline::new(&three, &[0.1; 3]).unwrap();
    assert!(largest_difference(&flat.fit(1.0).unwrap().values, &[0.1; 3]) < 1e-15);
    for criterion in [Smoothness::CrossValidation, Smoothness::RestrictedLikelihood] {
        assert!(matches!(flat.choose(criterion), Err(StatsError::NoVariation { .. })));
    }
    for penalty in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(flat.fit(penalty), Err(StatsError::OutOfRange { .. })));
    }
    assert!(matches!(flat.fit(1.0).unwrap().at(f64::NAN), Err(StatsError::NotFinite { .. })));
    let through = SmoothingSpline::new(&three, &[0.0, 5.0, 1.0]).unwrap().fit(1e-14).unwrap();
    assert!(matches!(through.standard_errors(), Err(StatsError::NoDegreesOfFreedom { .. })));
}
