//! What the logistic model must do, by hand-worked tables, by definition, and held against other programs.

use super::*;
use crate::stats::numeric::normal_quantile;
use proptest::prelude::*;

fn line(x: &[f64]) -> Design {
    Design::builder(x.len()).intercept().number("x", x).build().unwrap()
}

fn close(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}

/// A fourfold table: 3 of 10 without, 8 of 12 with the factor.
fn fourfold() -> (Design, BinomialOutcome) {
    (line(&[0.0, 1.0]), BinomialOutcome::counts(&[3.0, 8.0], &[10.0, 12.0]).unwrap())
}

/// Eight rows that overlap; invented.
fn overlapping() -> (Design, BinomialOutcome) {
    let x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
    let y = [0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];
    (line(&x), BinomialOutcome::binary(&y).unwrap())
}

/// Contagious bovine pleuropneumonia: `[herd, cases, size, period]` (Lesnoff et al. 2004, Preventive Veterinary Medicine 63, 1-20), as in R package lme4 1.1.31.
const CBPP: [[u8; 4]; 56] = [
    [1, 2, 14, 1],
    [1, 3, 12, 2],
    [1, 4, 9, 3],
    [1, 0, 5, 4],
    [2, 3, 22, 1],
    [2, 1, 18, 2],
    [2, 1, 21, 3],
    [3, 8, 22, 1],
    [3, 2, 16, 2],
    [3, 0, 16, 3],
    [3, 2, 20, 4],
    [4, 2, 10, 1],
    [4, 0, 10, 2],
    [4, 2, 9, 3],
    [4, 0, 6, 4],
    [5, 5, 18, 1],
    [5, 0, 25, 2],
    [5, 0, 24, 3],
    [5, 1, 4, 4],
    [6, 3, 17, 1],
    [6, 0, 17, 2],
    [6, 0, 18, 3],
    [6, 1, 20, 4],
    [7, 8, 16, 1],
    [7, 1, 10, 2],
    [7, 3, 9, 3],
    [7, 0, 5, 4],
    [8, 12, 34, 1],
    [9, 2, 9, 1],
    [9, 0, 6, 2],
    [9, 0, 8, 3],
    [9, 0, 6, 4],
    [10, 1, 22, 1],
    [10, 1, 22, 2],
    [10, 0, 18, 3],
    [10, 2, 22, 4],
    [11, 0, 25, 1],
    [11, 5, 27, 2],
    [11, 3, 22, 3],
    [11, 1, 22, 4],
    [12, 2, 10, 1],
    [12, 1, 8, 2],
    [12, 0, 6, 3],
    [12, 0, 5, 4],
    [13, 1, 21, 1],
    [13, 2, 24, 2],
    [13, 0, 19, 3],
    [13, 0, 23, 4],
    [14, 11, 19, 1],
    [14, 0, 2, 2],
    [14, 0, 3, 3],
    [14, 0, 2, 4],
    [15, 1, 19, 1],
    [15, 1, 15, 2],
    [15, 1, 15, 3],
    [15, 0, 15, 4],
];

fn cbpp() -> (Design, BinomialOutcome, Vec<usize>) {
    let column = |place: usize| CBPP.iter().map(|row| f64::from(row[place])).collect::<Vec<_>>();
    let periods: Vec<String> = CBPP.iter().map(|row| row[3].to_string()).collect();
    let design = Design::builder(56).intercept().choice("period", &periods, Some("1"));
    let outcome = BinomialOutcome::counts(&column(1), &column(2)).unwrap();
    (design.build().unwrap(), outcome, CBPP.iter().map(|row| usize::from(row[0])).collect())
}

mod maximum_likelihood {
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
        close(moved.log_likelihood, plain.log_likelihood, 1e-9);
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
}

mod separation_is_seen {
    use super::*;

    fn fault(x: &[f64], y: &[f64]) -> Option<StatsError> {
        fit_logistic(&line(x), &BinomialOutcome::binary(y).unwrap()).err()
    }

    #[test]
    fn complete_separation_is_refused_with_the_column() {
        let found = fault(&[1.0, 2.0, 3.0, 4.0], &[0.0, 0.0, 1.0, 1.0]);
        let columns = vec!["x".into()];
        assert_eq!(found, Some(StatsError::Separation { columns, complete: true }));
    }

    #[test]
    fn rows_on_the_border_make_it_partial() {
        let found = fault(&[1.0, 2.0, 2.0, 3.0], &[0.0, 0.0, 1.0, 1.0]);
        let columns = vec!["x".into()];
        assert_eq!(found, Some(StatsError::Separation { columns, complete: false }));
    }

    #[test]
    fn one_row_on_the_wrong_side_is_enough_for_a_fit() {
        assert!(fault(&[1.0, 2.0, 3.0, 4.0, 2.9], &[0.0, 0.0, 1.0, 1.0, 1.0]).is_some());
        assert_eq!(fault(&[1.0, 2.0, 3.0, 4.0, 3.1], &[0.0, 0.0, 1.0, 1.0, 0.0]), None);
    }

    #[test]
    fn a_far_row_does_not_hide_it() {
        let found = fault(&[0.0, 1.0, 1e4], &[0.0, 1.0, 1.0]);
        assert!(matches!(found, Some(StatsError::Separation { complete: true, .. })));
    }

    #[test]
    fn a_lot_with_all_good_is_named_alone() {
        let lots = ["a", "a", "a", "a", "b", "b", "b", "b"].map(String::from);
        let x = [1.0, 2.0, 3.0, 4.0, 4.0, 3.0, 2.0, 1.5];
        let y = [0.0, 1.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0];
        let design = Design::builder(8).intercept().choice("lot", &lots, Some("a")).number("x", &x);
        let design = design.build().unwrap();
        let outcome = BinomialOutcome::binary(&y).unwrap();
        let found = fit_logistic(&design, &outcome).unwrap_err();
        let columns = vec!["lot: b".into()];
        assert_eq!(found, StatsError::Separation { columns, complete: false });
        let firth = fit_firth(&design, &outcome).unwrap();
        let lot = firth.profile_interval(&firth.pick("lot: b").unwrap(), 0.95).unwrap();
        assert!(lot.0.is_finite() && lot.1.is_finite() && firth.coefficients[1] > 0.0);
    }

    #[test]
    fn a_count_of_some_is_on_both_sides() {
        let design = line(&[0.0, 1.0, 2.0]);
        let fit = |successes: &[f64]| {
            fit_logistic(&design, &BinomialOutcome::counts(successes, &[5.0; 3]).unwrap())
        };
        assert!(fit(&[0.0, 1.0, 4.0]).is_ok_and(|fit| fit.coefficients[1] > 0.0));
        assert!(matches!(fit(&[0.0, 1.0, 5.0]), Err(StatsError::Separation { .. })));
    }
}

mod refusals {
    use super::*;

    #[test]
    fn an_outcome_of_one_kind_is_refused_by_both_methods() {
        let design = line(&[1.0, 2.0, 3.0, 4.0]);
        let outcome = BinomialOutcome::binary(&[1.0; 4]).unwrap();
        for fit in [fit_logistic, fit_firth] {
            assert!(matches!(fit(&design, &outcome), Err(StatsError::NoVariation { .. })));
        }
    }

    #[test]
    fn too_few_rows_and_dependent_columns_are_refused() {
        let outcome = BinomialOutcome::binary(&[1.0, 0.0]).unwrap();
        assert!(matches!(
            fit_logistic(&line(&[1.0, 2.0]), &outcome),
            Err(StatsError::TooFewRows { rows: 2, columns: 2 })
        ));
        let wide = Design::builder(2).intercept().number("a", &[1.0, 2.0]).number("b", &[2.0, 7.0]);
        let fault = fit_firth(&wide.build().unwrap(), &outcome);
        assert!(matches!(fault, Err(StatsError::TooFewRows { rows: 2, columns: 3 })));
        let outcome = BinomialOutcome::binary(&[1.0, 0.0, 1.0, 0.0]).unwrap();
        let fault = fit_logistic(&line(&[3.0; 4]), &outcome).unwrap_err();
        assert_eq!(fault, StatsError::RankDeficient { columns: vec!["x".into()] });
    }

    #[test]
    fn numbers_that_are_no_outcome_are_refused() {
        assert!(matches!(
            BinomialOutcome::binary(&[1.0, f64::NAN]),
            Err(StatsError::NotFinite { row: 1, .. })
        ));
        assert!(matches!(BinomialOutcome::binary(&[0.5]), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(BinomialOutcome::binary(&[]), Err(StatsError::Empty { .. })));
        assert!(BinomialOutcome::counts(&[3.0], &[2.0]).is_err());
        assert!(BinomialOutcome::counts(&[0.0], &[0.0]).is_err());
        assert!(BinomialOutcome::counts(&[0.5], &[2.0]).is_err());
        assert!(BinomialOutcome::counts(&[1.0], &[f64::INFINITY]).is_err());
        assert!(BinomialOutcome::weighted(&[1.0], &[0.0]).is_err());
        assert!(BinomialOutcome::weighted(&[1.0], &[1.0, 1.0]).is_err());
    }

    #[test]
    fn contrasts_and_levels_are_checked() {
        let (design, outcome) = overlapping();
        let fit = fit_logistic(&design, &outcome).unwrap();
        assert!(fit.contrast(&[1.0]).is_err() && fit.contrast(&[1.0, f64::NAN]).is_err());
        assert!(fit.profile_interval(&[0.0, 1.0], 1.0).is_err());
        assert!(fit.pick("y").is_err());
        let nothing = ndarray::Array2::zeros((0, 2));
        assert!(fit.wald(&nothing).is_err() && fit.likelihood_ratio(&nothing).is_err());
    }
}

mod firth {
    use super::*;

    #[test]
    fn a_fourfold_table_gets_half_a_case_in_every_cell() {
        // Firth 1993, section 3.3: in a saturated model the penalty is half a success and half a failure a cell
        let (design, _) = fourfold();
        for (some, others) in [(3.0, 8.0), (0.0, 12.0)] {
            let outcome = BinomialOutcome::counts(&[some, others], &[10.0, 12.0]).unwrap();
            let fit = fit_firth(&design, &outcome).unwrap();
            let odds = |s: f64, n: f64| ((s + 0.5) / (n - s + 0.5)).ln();
            close(fit.coefficients[0], odds(some, 10.0), 1e-9);
            close(fit.coefficients[1], odds(others, 12.0) - odds(some, 10.0), 1e-9);
        }
    }

    #[test]
    fn complete_separation_has_finite_answers() {
        let outcome = BinomialOutcome::binary(&[0.0, 0.0, 0.0, 1.0, 1.0, 1.0]).unwrap();
        let fit = fit_firth(&line(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]), &outcome).unwrap();
        let slope = fit.contrast(&[0.0, 1.0]).unwrap();
        let (low, high) = fit.profile_interval(&[0.0, 1.0], 0.95).unwrap();
        assert!(low < slope.value && slope.value < high && high.is_finite());
        let ratio = fit.likelihood_ratio(&ndarray::array![[0.0, 1.0]]).unwrap();
        // the interval holds 0 where the test does not reject it
        assert_eq!(low <= 0.0, ratio.p_value() >= 0.05);
    }

    #[test]
    fn the_estimate_is_where_the_penalised_likelihood_is_highest() {
        let (design, outcome) = overlapping();
        let fit = fit_firth(&design, &outcome).unwrap();
        let top = &fit.top.at;
        for place in 0..2 {
            for step in [-1e-3, 1e-3] {
                let mut near = top.clone();
                near[place] += step;
                assert!(newton::Surface::value(&fit.likelihood, &near) < fit.top.value);
            }
        }
        close(fit.penalised_log_likelihood, fit.top.value, 1e-12);
    }

    #[test]
    fn many_rows_make_the_penalty_small() {
        let x: Vec<f64> = (0..4000).map(|row| f64::from(row % 8)).collect();
        let y: Vec<f64> =
            (0..4000).map(|row| f64::from(u8::from((row * 7) % 13 < row % 8))).collect();
        let outcome = BinomialOutcome::binary(&y).unwrap();
        let plain = fit_logistic(&line(&x), &outcome).unwrap();
        let firth = fit_firth(&line(&x), &outcome).unwrap();
        assert!((plain.coefficients[1] - firth.coefficients[1]).abs() < 1e-3);
    }
}

mod clusters {
    use super::*;

    #[test]
    fn the_working_regression_has_the_coefficients_of_the_fit() {
        let (design, outcome) = overlapping();
        for fit in [fit_logistic(&design, &outcome).unwrap(), fit_firth(&design, &outcome).unwrap()]
        {
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
}

mod averages {
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
}

mod accuracy_of_probabilities {
    use super::*;

    #[test]
    fn ties_count_one_half() {
        let outcome = BinomialOutcome::binary(&[0.0, 1.0, 1.0, 0.0]).unwrap();
        // pairs (success, failure): (.5, .5) 1/2, (.5, .2) 1, (.9, .5) 1, (.9, .2) 1
        let area = area_under_curve(&outcome, &[0.5, 0.5, 0.9, 0.2]).unwrap();
        assert_eq!(area, 3.5 / 4.0);
        assert_eq!(area_under_curve(&outcome, &[0.3; 4]).unwrap(), 0.5);
    }

    #[test]
    fn counts_are_as_many_single_rows() {
        let counted = BinomialOutcome::counts(&[1.0, 2.0], &[2.0, 3.0]).unwrap();
        let single = BinomialOutcome::binary(&[1.0, 0.0, 1.0, 1.0, 0.0]).unwrap();
        let (few, many) = ([0.3, 0.6], [0.3, 0.3, 0.6, 0.6, 0.6]);
        close(brier_score(&counted, &few).unwrap(), brier_score(&single, &many).unwrap(), 1e-14);
        close(
            area_under_curve(&counted, &few).unwrap(),
            area_under_curve(&single, &many).unwrap(),
            1e-14,
        );
    }

    #[test]
    fn a_hand_worked_goodness_of_fit() {
        // three groups of 10 trials: (3 - 2)^2 / 1.6 + (5 - 5)^2 / 2.5 + (7 - 8)^2 / 1.6
        let outcome = BinomialOutcome::counts(&[3.0, 5.0, 7.0], &[10.0; 3]).unwrap();
        let test = hosmer_lemeshow(&outcome, &[0.2, 0.5, 0.8], 3).unwrap();
        close(test.statistic, 1.25, 1e-12);
        assert_eq!(test.degrees_of_freedom, 1);
        assert_eq!(test.groups[2], [10.0, 7.0, 8.0]);
        let too_few = hosmer_lemeshow(&outcome, &[0.2, 0.2, 0.8], 10);
        assert_eq!(too_few, Err(StatsError::TooFewGroups { found: 2, needed: 3 }));
    }

    #[test]
    fn what_is_no_probability_is_refused() {
        let outcome = BinomialOutcome::binary(&[0.0, 1.0]).unwrap();
        assert!(brier_score(&outcome, &[0.5, 1.5]).is_err());
        assert!(brier_score(&outcome, &[0.5]).is_err());
        assert!(area_under_curve(&outcome, &[0.5, f64::NAN]).is_err());
        let same = BinomialOutcome::binary(&[1.0, 1.0]).unwrap();
        assert!(matches!(
            area_under_curve(&same, &[0.5, 0.5]),
            Err(StatsError::NoVariation { .. })
        ));
    }
}

mod random_intercept {
    use super::*;
    use crate::stats::logistic::mixed::{fit_with_nodes, integrated_log_likelihood};

    #[test]
    fn cbpp_agrees_with_lme4() {
        // R package lme4 1.1.31: glmer(cbind(incidence, size - incidence) ~ period + (1 | herd), cbpp, binomial, nAGQ = 9 and 25,
        // control = glmerControl("bobyqa", optCtrl = list(rhoend = 1e-10))); fixef, sqrt(diag(vcov)), theta
        let nine =
            ([-1.399230197454, -0.991403888307, -1.127819693535, -1.579471018863], 0.647517710603);
        let many =
            ([-1.399230452133, -0.991403664041, -1.127819481843, -1.579470727709], 0.647518462094);
        let errors = [0.233511556578, 0.306767930033, 0.326768329773, 0.427594464918];
        let (design, outcome, herds) = cbpp();
        let fit = fit_logistic_mixed(&design, &outcome, &herds).unwrap();
        for ((coefficients, deviation), tolerance) in [(nine, 2e-6), (many, 1e-6)] {
            close(fit.sd_group, deviation, tolerance);
            for (found, expected) in fit.coefficients.iter().zip(coefficients) {
                close(*found, expected, tolerance);
            }
        }
        // lme4 takes its second derivatives by differences
        for (name, expected) in fit.names.iter().zip(errors) {
            let found = fit.contrast(&fit.pick(name).unwrap()).unwrap();
            close(found.standard_error, expected, 1e-5);
        }
        // logLik(.) = -50.0050152684 with nAGQ = 25 is less that of a free probability a row
        let less = fit.log_likelihood - outcome.constant() - outcome.saturated();
        close(less, -50.0050152684, 1e-9);
    }

    #[test]
    fn the_herds_effects_agree_with_lme4() {
        // ranef(., condVar = TRUE) of the same fit with nAGQ = 25 and tolPwrss = 1e-13 (with the default 1e-7 the errors have four digits): three herds
        let expected = [
            (0.5930248379067, 0.3488967015656),
            (-0.3002582790979, 0.3666756296616),
            (0.4078640192288, 0.2977255772416),
        ];
        let (design, outcome, herds) = cbpp();
        let fit = fit_logistic_mixed(&design, &outcome, &herds).unwrap();
        let effects = fit.group_effects();
        assert_eq!(effects.len(), 15);
        for (found, (effect, error)) in effects.iter().zip(expected) {
            close(found.effect, effect, 1e-6);
            close(found.standard_error, error, 1e-6);
        }
        let odds = fit.group_log_odds(1, &[1.0, 0.0, 0.0, 0.0]).unwrap();
        close(odds.value, fit.coefficients[0] + effects[0].effect, 1e-12);
        assert!(odds.standard_error > 0.0);
        assert!(matches!(
            fit.group_log_odds(99, &[1.0, 0.0, 0.0, 0.0]),
            Err(StatsError::UnknownLevel { .. })
        ));
    }

    #[test]
    fn one_node_is_laplace_s_approximation() {
        // glmer(., nAGQ = 1): logLik -92.0265663874 at its own maximum, which lies near and is flat
        let (design, outcome, herds) = cbpp();
        let fit = fit_logistic_mixed(&design, &outcome, &herds).unwrap();
        let found = integrated_log_likelihood(&fit, fit.sd_group, 1) + outcome.constant();
        assert!((found + 92.0265663874).abs() < 1e-3 && found < -92.0265663874);
    }

    #[test]
    fn the_integral_is_that_of_small_steps() {
        let (design, outcome, herds) = cbpp();
        let fit = fit_logistic_mixed(&design, &outcome, &herds).unwrap();
        for deviation in [0.3, 1.0, 3.0] {
            let mut by_steps = 0.0;
            for herd in 1..=15 {
                let density = |effect: f64| {
                    let rows = (0..56).filter(|&row| herds[row] == herd);
                    let terms = rows.map(|row| {
                        let x: f64 = design
                            .matrix
                            .row(row)
                            .iter()
                            .zip(&fit.coefficients)
                            .map(|(x, b)| x * b)
                            .sum();
                        let x = x + deviation * effect;
                        let (s, n) = (outcome.successes()[row], outcome.trials()[row]);
                        s * log_logistic(x) + (n - s) * log_logistic(-x)
                    });
                    (terms.sum::<f64>() - 0.5 * effect * effect).exp()
                        / std::f64::consts::TAU.sqrt()
                };
                let total: f64 = (-4000..=4000).map(|step| density(f64::from(step) / 400.0)).sum();
                by_steps += (total / 400.0).ln();
            }
            close(integrated_log_likelihood(&fit, deviation, 25), by_steps, 1e-8);
        }
    }

    #[test]
    fn a_wide_spread_is_integrated_as_exactly() {
        // four successes in one group, four failures and a success in the other: the two integrals by small steps
        let y = [1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0];
        let ones = Design::builder(9).intercept().build().unwrap();
        let outcome = BinomialOutcome::binary(&y).unwrap();
        let groups = [0, 0, 0, 0, 1, 1, 1, 1, 1];
        let fit = fit_with_nodes(&ones, &outcome, &groups, 25).unwrap();
        for deviation in [0.5, 2.0, 5.0, 12.0, 35.0] {
            let mut by_steps = 0.0;
            for signs in [[4.0, 0.0], [1.0, 4.0]] {
                let density = |effect: f64| {
                    let p = fit.coefficients[0] + deviation * effect;
                    let part = signs[0] * log_logistic(p) + signs[1] * log_logistic(-p);
                    (part - 0.5 * effect * effect).exp() / std::f64::consts::TAU.sqrt()
                };
                let total: f64 =
                    (-40_000..=40_000).map(|step| density(f64::from(step) / 4000.0)).sum();
                by_steps += (total / 4000.0).ln();
            }
            close(integrated_log_likelihood(&fit, deviation, 25), by_steps, 1e-9);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        #[test]
        fn any_outcome_gives_a_finite_answer_or_a_typed_refusal(
            rows in prop::collection::vec((-2.0_f64..2.0, prop::bool::weighted(0.6), 0_usize..5), 8..40)
        ) {
            let x: Vec<f64> = rows.iter().map(|row| row.0).collect();
            let y: Vec<f64> = rows.iter().map(|row| f64::from(u8::from(row.1))).collect();
            let groups: Vec<usize> = rows.iter().map(|row| row.2).collect();
            let outcome = BinomialOutcome::binary(&y).unwrap();
            match fit_logistic_mixed(&line(&x), &outcome, &groups) {
                Ok(fit) => {
                    let slope = fit.contrast(&[0.0, 1.0]).unwrap();
                    prop_assert!(slope.value.is_finite() && slope.standard_error > 0.0);
                    let plain = fit_logistic(&line(&x), &outcome).unwrap();
                    prop_assert!(fit.log_likelihood >= plain.log_likelihood - 1e-9);
                    prop_assert!(fit.sd_group >= 0.0 && fit.at_boundary == (fit.sd_group == 0.0));
                }
                Err(fault) => prop_assert!(!matches!(fault, StatsError::NotConverged { .. }), "{}", fault),
            }
        }
    }

    #[test]
    fn more_nodes_change_nothing() {
        let (design, outcome, herds) = cbpp();
        let few = fit_logistic_mixed(&design, &outcome, &herds).unwrap();
        let many = fit_with_nodes(&design, &outcome, &herds, 60).unwrap();
        close(few.sd_group, many.sd_group, 1e-7);
        close(few.log_likelihood, many.log_likelihood, 1e-10);
    }

    #[test]
    fn groups_that_do_not_differ_leave_the_plain_model() {
        let (design, outcome) =
            (line(&[0.0, 1.0, 0.0, 1.0, 0.0, 1.0]), [3.0, 5.0, 4.0, 5.0, 3.0, 6.0]);
        let outcome = BinomialOutcome::counts(&outcome, &[10.0; 6]).unwrap();
        let mixed = fit_logistic_mixed(&design, &outcome, &[0, 0, 1, 1, 2, 2]).unwrap();
        let plain = fit_logistic(&design, &outcome).unwrap();
        assert!(mixed.at_boundary && mixed.sd_group == 0.0);
        assert_eq!(mixed.test_of_groups(), (0.0, 1.0));
        for contrast in [[1.0, 0.0], [0.0, 1.0]] {
            let (one, other) =
                (mixed.contrast(&contrast).unwrap(), plain.contrast(&contrast).unwrap());
            close(one.value, other.value, 1e-12);
            close(one.standard_error, other.standard_error, 1e-10);
        }
        assert!(
            mixed
                .group_effects()
                .iter()
                .all(|group| group.effect == 0.0 && group.standard_error == 0.0)
        );
        let (low, high) = mixed.sd_interval(0.95).unwrap();
        assert!(low == 0.0 && high > 0.0);
        let mean = mixed.standardised(&design).unwrap();
        close(mean.value, outcome.share(), 1e-10);
        let errors = mixed.error_of(&mean).unwrap();
        close(
            errors.standard_error,
            plain.error_of(&plain.standardised(&design).unwrap()).unwrap().standard_error,
            1e-9,
        );
    }

    #[test]
    fn the_ends_of_the_interval_of_the_deviation_lie_about_the_quantile_below_the_top() {
        let (design, outcome, herds) = cbpp();
        let fit = fit_logistic_mixed(&design, &outcome, &herds).unwrap();
        let (low, high) = fit.sd_interval(0.95).unwrap();
        // with the coefficients left where they are, the fall can only be larger
        for end in [low, high] {
            let there = integrated_log_likelihood(&fit, end, 25) + outcome.constant();
            let fall = 2.0 * (fit.log_likelihood - there);
            assert!(fall > 3.84 && fall < 4.6, "{end} {fall}");
        }
        let (statistic, p) = fit.test_of_groups();
        let plain = fit_logistic(&design, &outcome).unwrap();
        close(statistic, 2.0 * (fit.log_likelihood - plain.log_likelihood), 1e-9);
        assert!(p < 0.001);
    }

    #[test]
    fn the_mean_probability_is_nearer_one_half_than_that_of_the_average_group() {
        let (design, outcome, herds) = cbpp();
        let fit = fit_logistic_mixed(&design, &outcome, &herds).unwrap();
        let first = with_level(&design, "period", None).unwrap();
        let mean = fit.standardised(&first).unwrap();
        let average_herd = logistic(fit.coefficients[0]);
        assert!(mean.value > average_herd && mean.value < 0.5);
        for place in 0..5 {
            let value = |step: f64| {
                let mut moved = fit.clone();
                match moved.coefficients.get_mut(place) {
                    Some(coefficient) => *coefficient += step,
                    None => moved.sd_group += step,
                }
                moved.standardised(&first).unwrap().value
            };
            let slope = (value(1e-5) - value(-1e-5)) / 2e-5;
            assert!((mean.gradient[place] - slope).abs() < 1e-8);
        }
        assert!(fit.error_of(&mean).unwrap().standard_error > 0.0);
    }

    #[test]
    fn a_spread_without_bound_is_refused() {
        // every lot is all good or all bad
        let x = [0.0, 1.0, 2.0, 3.0, 0.5, 1.5, 2.5, 3.5, 1.0, 2.0, 3.0, 4.0];
        let y = [1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0];
        let outcome = BinomialOutcome::binary(&y).unwrap();
        let fault = fit_logistic_mixed(&line(&x), &outcome, &[0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2]);
        let columns = vec!["the groups".into()];
        assert_eq!(fault.unwrap_err(), StatsError::Separation { columns, complete: false });
    }

    #[test]
    fn groups_that_cannot_show_a_spread_are_refused() {
        let (design, outcome) = overlapping();
        let fault = fit_logistic_mixed(&design, &outcome, &[0; 8]);
        assert!(matches!(fault, Err(StatsError::TooFewGroups { found: 1, .. })));
        let fault = fit_logistic_mixed(&design, &outcome, &[0, 1, 2, 3, 4, 5, 6, 7]);
        assert!(matches!(fault, Err(StatsError::NoDegreesOfFreedom { .. })));
        assert!(fit_logistic_mixed(&design, &outcome, &[0, 1]).is_err());
    }

    #[test]
    fn a_lot_with_all_good_is_drawn_towards_the_others() {
        let y = [1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 1.0, 1.0, 0.0];
        let lots: Vec<usize> = (0..16).map(|row| row / 4).collect();
        let ones = Design::builder(16).intercept().build().unwrap();
        let fit = fit_logistic_mixed(&ones, &BinomialOutcome::binary(&y).unwrap(), &lots).unwrap();
        let first = fit.group_log_odds(0, &[1.0]).unwrap();
        assert!(logistic(first.value) < 0.99 && first.value > fit.coefficients[0]);
    }

    #[test]
    fn the_number_of_threads_changes_no_bit() {
        let (design, outcome, herds) = cbpp();
        let run = || fit_logistic_mixed(&design, &outcome, &herds).unwrap();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
            let fit = pool.build().unwrap().install(run);
            (fit.coefficients, fit.sd_group.to_bits())
        };
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
    }
}
