//! The plain model.

use super::*;

#[test]
fn a_fourfold_table_gives_its_log_odds_ratio() {
    let (design, outcome) = fourfold();
    let fit = fit_logistic(&design, &outcome).unwrap();
    let slope = fit.contrast(&[0.0, 1.0]).unwrap();
    close(slope.value, (8.0_f64 * 7.0 / (4.0 * 3.0)).ln(), 1e-12);
    let variance = 1.0 / 3.0 + 1.0 / 7.0 + 1.0 / 8.0 + 1.0 / 4.0;
    close(slope.standard_error, f64::sqrt(variance), 1e-12);
    assert!(fit.deviance.abs() < 1e-12);
    // ln C(10,3) 0.3^3 0.7^7 + ln C(12,8) (2/3)^8 (1/3)^4
    let by_hand = (120.0 * 0.3_f64.powi(3) * 0.7_f64.powi(7)).ln()
        + (495.0 * (2.0_f64 / 3.0).powi(8) / 81.0).ln();
    close(fit.log_likelihood, by_hand, 1e-12);
}

#[test]
fn counts_weights_and_single_rows_are_one_model() {
    let (design, outcome) = fourfold();
    let counted = fit_logistic(&design, &outcome).unwrap();
    let weighted = BinomialOutcome::weighted(&[1.0, 0.0, 1.0, 0.0], &[3.0, 7.0, 8.0, 4.0]);
    let weighted = fit_logistic(&line(&[0.0, 0.0, 1.0, 1.0]), &weighted.unwrap()).unwrap();
    let rows = [(0.0, 1.0, 3), (0.0, 0.0, 7), (1.0, 1.0, 8), (1.0, 0.0, 4)];
    let rows = rows.iter().flat_map(|&(x, y, times)| vec![(x, y); times]);
    let (x, y): (Vec<f64>, Vec<f64>) = rows.unzip();
    let single = fit_logistic(&line(&x), &BinomialOutcome::binary(&y).unwrap()).unwrap();
    for other in [&weighted, &single] {
        close(other.coefficients[1], counted.coefficients[1], 1e-12);
        close(
            other.contrast(&[1.0, 1.0]).unwrap().standard_error,
            counted.contrast(&[1.0, 1.0]).unwrap().standard_error,
            1e-12,
        );
    }
    close(weighted.log_likelihood, single.log_likelihood, 1e-12);
    close(weighted.mcfadden(), single.mcfadden(), 1e-12);
    close(weighted.tjur(), single.tjur(), 1e-12);
}

#[test]
fn one_contrast_tested_jointly_is_its_z_squared() {
    let (design, outcome) = overlapping();
    let fit = fit_logistic(&design, &outcome).unwrap();
    let single = fit.contrast(&[0.0, 1.0]).unwrap();
    let joint = fit.wald(&ndarray::array![[0.0, 2.0]]).unwrap();
    close(joint.statistic, single.t_statistic().powi(2), 1e-10);
    close(joint.p_value(), single.p_value(), 1e-9);
    let twice = fit.wald(&ndarray::array![[0.0, 1.0], [0.0, 2.0]]);
    assert!(matches!(twice, Err(StatsError::RankDeficient { .. })));
}

#[test]
fn the_ratio_test_against_a_constant_is_the_fall_of_the_deviance() {
    let (design, outcome) = overlapping();
    let fit = fit_logistic(&design, &outcome).unwrap();
    let ratio = fit.likelihood_ratio(&ndarray::array![[0.0, 1.0]]).unwrap();
    close(ratio.statistic, fit.null_deviance - fit.deviance, 1e-10);
    close(fit.mcfadden(), 1.0 - fit.deviance / fit.null_deviance, 1e-10);
}

#[test]
fn at_the_ends_of_the_profile_the_ratio_test_is_at_its_quantile() {
    let (design, outcome) = overlapping();
    let fit = fit_logistic(&design, &outcome).unwrap();
    let (low, high) = fit.profile_interval(&[0.0, 1.0], 0.9).unwrap();
    // the slope held at a value is a column moved into the offset: log-likelihood by a search over the intercept
    let held = |slope: f64| {
        let value = |intercept: f64| {
            let rows = design.matrix.column(1).to_vec().into_iter().zip(outcome.successes());
            let terms = rows.map(|(x, &y)| {
                let p = intercept + slope * x;
                if y == 1.0 { log_logistic(p) } else { log_logistic(-p) }
            });
            -terms.sum::<f64>()
        };
        -crate::stats::numeric::minimise_bounded(value, -60.0, 60.0, 1e-9).value
    };
    let quantile = normal_quantile(0.95).powi(2);
    for end in [low, high] {
        close(2.0 * (fit.log_likelihood - held(end)), quantile, 1e-7);
    }
}

#[test]
fn a_score_of_far_units_does_not_lose_digits() {
    let (design, outcome) = overlapping();
    let plain = fit_logistic(&design, &outcome).unwrap();
    let far: Vec<f64> = design.matrix.column(1).iter().map(|x| 1e6 + 1e-3 * x).collect();
    let moved = fit_logistic(&line(&far), &outcome).unwrap();
    close(moved.coefficients[1] * 1e-3, plain.coefficients[1], 1e-6);
    // beside the intercept a thousand-millionth of the score's length is left, of which the factorisation keeps some seven digits
    close(moved.log_likelihood, plain.log_likelihood, 1e-7);
}

proptest! {
    #[test]
    fn swapping_yes_and_no_turns_the_signs(
        rows in prop::collection::vec((-3.0_f64..3.0, prop::bool::ANY), 12..40)
    ) {
        let (x, y): (Vec<f64>, Vec<bool>) = rows.into_iter().unzip();
        let yes: Vec<f64> = y.iter().map(|&y| f64::from(u8::from(y))).collect();
        let no: Vec<f64> = yes.iter().map(|y| 1.0 - y).collect();
        let design = line(&x);
        let fit = |y: &[f64]| fit_logistic(&design, &BinomialOutcome::binary(y).unwrap());
        match (fit(&yes), fit(&no)) {
            (Ok(one), Ok(other)) => {
                let size = 1.0 + one.coefficients[1].abs();
                prop_assert!((one.coefficients[1] + other.coefficients[1]).abs() < 1e-7 * size);
                prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-9);
            }
            (one, other) => prop_assert_eq!(one.err(), other.err()),
        }
    }

    #[test]
    fn a_fit_or_a_separating_direction_is_found(
        rows in prop::collection::vec((-3.0_f64..3.0, -3.0_f64..3.0, prop::bool::ANY), 4..12)
    ) {
        let x: Vec<f64> = rows.iter().map(|row| row.0).collect();
        let z: Vec<f64> = rows.iter().map(|row| row.1).collect();
        let y: Vec<f64> = rows.iter().map(|row| f64::from(u8::from(row.2))).collect();
        let design = Design::builder(x.len()).intercept().number("x", &x).number("z", &z);
        let design = design.build().unwrap();
        match fit_logistic(&design, &BinomialOutcome::binary(&y).unwrap()) {
            // the score is zero
            Ok(fit) => for column in 0..3 {
                let score: f64 = (0..y.len())
                    .map(|row| design.matrix[(row, column)] * (y[row] - fit.probabilities[row])).sum();
                prop_assert!(score.abs() < 1e-7, "{}", score);
            },
            Err(fault) => prop_assert!(
                matches!(fault, StatsError::Separation { .. } | StatsError::NoVariation { .. }),
                "{}", fault
            ),
        }
    }
}
