//! What the proportional-odds model must do.

use super::*;
use crate::stats::logistic::{
    BinomialOutcome, fit_logistic, fit_logistic_mixed, with_level, with_number,
};
use proptest::prelude::*;

fn close(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}

/// Thirty rows in five lots with ratings of 1 to 4; invented.
fn example() -> (Design, OrderedOutcome, Vec<usize>) {
    let x: Vec<f64> = (0..30).map(|row| f64::from((row * 7) % 11)).collect();
    let knives = ["a", "b", "c"].map(String::from);
    let knives: Vec<String> =
        (0..30).map(|row| knives[(row * row + row / 4) % 3].clone()).collect();
    let noise = |row: usize| ((row * 13) % 17) as f64 / 3.0;
    let rating: Vec<f64> =
        (0..30).map(|row| (0.25 * x[row] + noise(row)).floor().clamp(1.0, 4.0)).collect();
    let design = Design::builder(30).number("x", &x).choice("knife", &knives, Some("a"));
    let outcome = OrderedOutcome::new(&rating).unwrap();
    (design.build().unwrap(), outcome, (0..30).map(|row| row / 6).collect())
}

fn line(x: &[f64]) -> Design {
    Design::builder(x.len()).number("x", x).build().unwrap()
}

/// The log-likelihood by its definition as differences of cumulative probabilities.
fn by_definition(design: &Design, codes: &[usize], thresholds: &[f64], columns: &[f64]) -> f64 {
    let rows = design.matrix.rows().into_iter().zip(codes);
    let terms = rows.map(|(row, &code)| {
        let predictor: f64 = row.iter().zip(columns).map(|(x, b)| x * b).sum();
        let below = |place: usize| match place {
            0 => 0.0,
            place if place > thresholds.len() => 1.0,
            place => logistic(thresholds[place - 1] - predictor),
        };
        (below(code + 1) - below(code)).ln()
    });
    terms.sum()
}

mod the_fit {
    use super::*;

    #[test]
    fn two_categories_are_the_logistic_model() {
        let x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
        let y = [0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];
        let ordinal = fit_ordinal(&line(&x), &OrderedOutcome::new(&y).unwrap()).unwrap();
        let design = Design::builder(8).intercept().number("x", &x).build().unwrap();
        let plain = fit_logistic(&design, &BinomialOutcome::binary(&y).unwrap()).unwrap();
        close(ordinal.coefficients[0], plain.coefficients[1], 1e-10);
        close(-ordinal.thresholds[0], plain.coefficients[0], 1e-10);
        close(ordinal.log_likelihood, plain.log_likelihood, 1e-12);
        let (one, other) =
            (ordinal.contrast(&[1.0]).unwrap(), plain.contrast(&[0.0, 1.0]).unwrap());
        close(one.standard_error, other.standard_error, 1e-10);
        let (one, other) = (ordinal.threshold(0).unwrap(), plain.contrast(&[1.0, 0.0]).unwrap());
        close(one.standard_error, other.standard_error, 1e-10);
    }

    #[test]
    fn no_step_from_the_top_climbs_by_the_definition() {
        let (design, outcome, _) = example();
        let fit = fit_ordinal(&design, &outcome).unwrap();
        let at = |thresholds: &[f64], columns: &[f64]| {
            by_definition(&design, outcome.codes(), thresholds, columns)
        };
        close(at(&fit.thresholds, &fit.coefficients), fit.log_likelihood, 1e-12);
        for step in [-1e-3, 1e-3] {
            for place in 0..3 {
                let (mut thresholds, mut columns) =
                    (fit.thresholds.clone(), fit.coefficients.clone());
                thresholds[place] += step;
                assert!(at(&thresholds, &fit.coefficients) < fit.log_likelihood);
                columns[place] += step;
                assert!(at(&fit.thresholds, &columns) < fit.log_likelihood);
            }
        }
    }

    #[test]
    fn slopes_and_information_are_the_derivatives_of_the_value() {
        let (design, outcome, _) = example();
        let likelihood = prepare(&design, &outcome).unwrap();
        let at = DVector::from_vec(vec![-1.3, 0.2, 0.9, 0.7, -0.4, 0.1]);
        let slope = likelihood.slope(&at);
        for place in 0..6 {
            let moved = |step: f64| {
                let mut moved = at.clone();
                moved[place] += step;
                moved
            };
            let (up, down) = (moved(1e-5), moved(-1e-5));
            let first = (likelihood.value(&up) - likelihood.value(&down)) / 2e-5;
            assert!((slope.gradient[place] - first).abs() < 1e-7);
            let second = (likelihood.slope(&down).gradient - likelihood.slope(&up).gradient) / 2e-5;
            assert!((slope.information.column(place) - second).amax() < 1e-6);
        }
    }

    #[test]
    fn thresholds_alone_have_a_closed_form() {
        // a column that says nothing: every category holds each value once
        let fit = fit_ordinal(
            &line(&[0.0, 1.0, 0.0, 1.0, 0.0, 1.0]),
            &OrderedOutcome::new(&[1.0, 1.0, 2.0, 2.0, 5.0, 5.0]).unwrap(),
        )
        .unwrap();
        assert!(fit.coefficients[0].abs() < 1e-12);
        close(fit.thresholds[0], 0.5_f64.ln(), 1e-10);
        close(fit.log_likelihood, 6.0 * (1.0_f64 / 3.0).ln(), 1e-12);
        close(fit.null_log_likelihood, fit.log_likelihood, 1e-12);
        assert!(fit.likelihood_ratio().p_value() > 0.999);
        close(fit.mean_score(&[0.0]).unwrap().value, 8.0 / 3.0, 1e-10);
    }

    #[test]
    fn many_rows_take_few_steps() {
        let x: Vec<f64> = (0..20_000).map(|row| f64::from(row % 97)).collect();
        let y: Vec<f64> =
            (0..20_000).map(|row| ((row * 31) % 101 + row % 97) / 40).map(f64::from).collect();
        let fit = fit_ordinal(&line(&x), &OrderedOutcome::new(&y).unwrap()).unwrap();
        assert!(
            fit.coefficients[0] > 0.0 && fit.thresholds.windows(2).all(|pair| pair[0] < pair[1])
        );
    }

    proptest! {
        #[test]
        fn turning_the_scale_round_turns_the_signs(
            rows in prop::collection::vec((-3.0_f64..3.0, 1_u8..5), 10..40)
        ) {
            let (x, y): (Vec<f64>, Vec<u8>) = rows.into_iter().unzip();
            let there: Vec<f64> = y.iter().map(|&y| f64::from(y)).collect();
            let back: Vec<f64> = there.iter().map(|y| -y).collect();
            let fit = |y: &[f64]| {
                OrderedOutcome::new(y).and_then(|outcome| fit_ordinal(&line(&x), &outcome))
            };
            match (fit(&there), fit(&back)) {
                (Ok(one), Ok(other)) => {
                    let size = 1.0 + one.coefficients[0].abs();
                    prop_assert!((one.coefficients[0] + other.coefficients[0]).abs() < 1e-7 * size);
                    prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-8);
                }
                (one, other) => prop_assert_eq!(one.err(), other.err()),
            }
        }

        #[test]
        fn slopes_follow_the_unit_of_the_column(scale in 0.01_f64..100.0, shift in -100.0_f64..100.0) {
            let (design, outcome, _) = example();
            let x = design.matrix.column(0).to_vec();
            let moved: Vec<f64> = x.iter().map(|x| shift + scale * x).collect();
            let plain = fit_ordinal(&line(&x), &outcome).unwrap();
            let other = fit_ordinal(&line(&moved), &outcome).unwrap();
            prop_assert!((plain.coefficients[0] - scale * other.coefficients[0]).abs() < 1e-8);
            let found = other.threshold(1).unwrap();
            let expected = plain.thresholds[1] + shift * other.coefficients[0];
            prop_assert!((found.value - expected).abs() < 1e-7 * (1.0 + expected.abs()));
        }
    }
}

mod refusals {
    use super::*;

    #[test]
    fn an_empty_category_is_refused_by_name() {
        let fault = OrderedOutcome::with_levels(&[1.0, 3.0, 1.0], &[1.0, 2.0, 3.0]);
        let (factor, level) = ("the outcome".into(), "2".into());
        assert_eq!(fault, Err(StatsError::UnknownLevel { factor, level }));
        assert!(OrderedOutcome::with_levels(&[4.0], &[1.0, 2.0]).is_err());
        assert!(OrderedOutcome::with_levels(&[1.0, 2.0], &[2.0, 1.0]).is_err());
    }

    #[test]
    fn numbers_that_are_no_outcome_are_refused() {
        assert!(matches!(OrderedOutcome::new(&[]), Err(StatsError::Empty { .. })));
        let bad = OrderedOutcome::new(&[1.0, f64::NAN]);
        assert!(matches!(bad, Err(StatsError::NotFinite { row: 1, .. })));
        assert!(matches!(OrderedOutcome::new(&[2.0; 5]), Err(StatsError::NoVariation { .. })));
    }

    #[test]
    fn a_column_of_ones_and_a_constant_are_refused_by_name() {
        let outcome = OrderedOutcome::new(&[1.0, 2.0, 1.0, 3.0]).unwrap();
        let x = [1.0, 2.0, 4.0, 3.0];
        let design = Design::builder(4).intercept().number("x", &x).build().unwrap();
        let refused = |design: &Design| fit_ordinal(design, &outcome).unwrap_err();
        let named = |name: &str| StatsError::RankDeficient { columns: vec![name.into()] };
        assert_eq!(refused(&design), named("intercept"));
        assert_eq!(refused(&line(&[5.0; 4])), named("x"));
    }

    #[test]
    fn too_few_rows_are_refused() {
        let outcome = OrderedOutcome::new(&[1.0, 2.0]).unwrap();
        assert!(matches!(
            fit_ordinal(&line(&[1.0, 2.0]), &outcome),
            Err(StatsError::TooFewRows { .. })
        ));
        assert!(matches!(
            fit_ordinal(&line(&[1.0; 3]), &outcome),
            Err(StatsError::LengthMismatch { .. })
        ));
    }

    #[test]
    fn separation_is_refused_with_the_columns_that_make_it() {
        let z = [0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];
        let fit = |x: &[f64]| {
            let design = Design::builder(7).number("x", x).number("z", &z).build().unwrap();
            fit_ordinal(
                &design,
                &OrderedOutcome::new(&[1.0, 1.0, 2.0, 2.0, 3.0, 3.0, 3.0]).unwrap(),
            )
        };
        let fault = fit(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]).unwrap_err();
        assert!(
            matches!(&fault, StatsError::Separation { columns, complete: true } if columns.contains(&"x".into())),
            "{fault}"
        );
        let fault = fit(&[0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0]).unwrap_err();
        assert!(
            matches!(&fault, StatsError::Separation { columns, complete: false } if columns.contains(&"x".into())),
            "{fault}"
        );
    }

    #[test]
    fn a_category_with_one_row_is_no_fault() {
        let (design, outcome, _) = example();
        let mut values: Vec<f64> = outcome.codes().iter().map(|&code| code as f64).collect();
        values[7] = 9.0;
        let fit = fit_ordinal(&design, &OrderedOutcome::new(&values).unwrap()).unwrap();
        assert_eq!(fit.thresholds.len(), 4);
        assert!(fit.threshold(3).unwrap().standard_error.is_finite());
        assert!(fit.threshold(4).is_err());
    }
}

mod what_is_predicted {
    use super::*;

    #[test]
    fn probabilities_add_up_and_give_the_mean_score() {
        let (design, outcome, _) = example();
        let fit = fit_ordinal(&design, &outcome).unwrap();
        let row = design.matrix.row(3).to_vec();
        let shares = fit.probabilities(&row).unwrap();
        close(shares.iter().sum(), 1.0, 1e-14);
        let mean: f64 = shares.iter().zip(&fit.levels).map(|(share, level)| share * level).sum();
        close(fit.mean_score(&row).unwrap().value, mean, 1e-13);
        assert!(
            fit.probabilities(&[1.0]).is_err() && fit.mean_score(&[f64::NAN, 0.0, 0.0]).is_err()
        );
    }

    #[test]
    fn categories_far_off_have_tiny_shares_and_not_zero() {
        let shares = category_probabilities(&[-700.0, -699.9, 50.0]);
        assert!(shares[0] > 0.0 && shares[1] > 0.0 && shares[3] > 0.0);
        close(shares[1] / shares[0], 0.1_f64.exp_m1(), 1e-12);
    }

    #[test]
    fn the_gradient_of_a_mean_score_is_that_of_small_changes() {
        let (design, outcome, _) = example();
        let fit = fit_ordinal(&design, &outcome).unwrap();
        let mean = fit.standardised_score(&with_number(&design, "x", 4.0).unwrap()).unwrap();
        for place in 0..6 {
            let value = |step: f64| {
                let mut moved = fit.clone();
                let parameters = moved.thresholds.iter_mut().chain(&mut moved.coefficients);
                parameters
                    .enumerate()
                    .filter(|(other, _)| *other == place)
                    .for_each(|(_, p)| *p += step);
                moved.standardised_score(&with_number(&design, "x", 4.0).unwrap()).unwrap().value
            };
            close(mean.gradient[place], (value(1e-5) - value(-1e-5)) / 2e-5, 1e-7);
        }
        let single = fit.mean_score(&[4.0, 0.0, 1.0]).unwrap();
        let at_a =
            with_level(&with_number(&design, "x", 4.0).unwrap(), "knife", Some("c")).unwrap();
        let all = fit.error_of(&fit.standardised_score(&at_a).unwrap()).unwrap();
        close(all.value, single.value, 1e-12);
        close(all.standard_error, single.standard_error, 1e-10);
    }
}

mod clusters {
    use super::*;

    #[test]
    fn the_scores_of_all_clusters_add_up_to_nothing() {
        let (design, outcome, lots) = example();
        let fit = fit_ordinal(&design, &outcome).unwrap();
        let all: Vec<usize> = (0..30).collect();
        let total = fit.likelihood.score(fit.top.at.as_slice(), &all);
        assert!(total.amax() < 1e-9);
        let robust = fit.clustered(&lots).unwrap();
        assert_eq!(robust.clusters(), 5);
        let found = robust.contrast(&[1.0, 0.0, 0.0]).unwrap();
        assert!(found.standard_error > 0.0 && found.degrees_of_freedom == 4.0);
    }

    #[test]
    fn every_row_twice_as_a_pair_has_the_error_of_the_rows_once() {
        let (design, outcome, _) = example();
        let twice: Vec<usize> = (0..60).map(|row| row / 2).collect();
        let rating: Vec<f64> = twice.iter().map(|&row| outcome.codes()[row] as f64).collect();
        let names = design.names.clone();
        let doubled = Design { names, matrix: design.matrix.select(ndarray::Axis(0), &twice) };
        let once = fit_ordinal(&design, &outcome).unwrap();
        let pairs = fit_ordinal(&doubled, &OrderedOutcome::new(&rating).unwrap()).unwrap();
        let rows: Vec<usize> = (0..30).collect();
        let (one, other) = (once.clustered(&rows).unwrap(), pairs.clustered(&twice).unwrap());
        let contrast = [1.0, 0.0, 0.0];
        let (one, other) = (one.contrast(&contrast).unwrap(), other.contrast(&contrast).unwrap());
        close(other.standard_error, one.standard_error, 1e-9);
        // the model's own error believes in twice the rows
        let naive = pairs.contrast(&contrast).unwrap().standard_error;
        close(naive, once.contrast(&contrast).unwrap().standard_error / 2.0_f64.sqrt(), 1e-9);
    }

    #[test]
    fn two_clusters_are_refused() {
        let (design, outcome, _) = example();
        let fit = fit_ordinal(&design, &outcome).unwrap();
        assert!(matches!(fit.clustered(&[0; 30]), Err(StatsError::TooFewGroups { found: 1, .. })));
        assert!(fit.clustered(&[0, 1]).is_err());
    }
}

mod proportionality {
    use super::*;

    /// Rows of a table of two groups by categories.
    fn table(counts: [[usize; 4]; 2]) -> (Design, OrderedOutcome) {
        let (mut x, mut y) = (Vec::new(), Vec::new());
        for (group, row) in counts.iter().enumerate() {
            for (category, &count) in row.iter().enumerate() {
                x.extend(vec![group as f64; count]);
                y.extend(vec![category as f64; count]);
            }
        }
        (line(&x), OrderedOutcome::new(&y).unwrap())
    }

    #[test]
    fn for_two_groups_the_score_test_is_pearson_s_chi_squared_of_the_fit() {
        // the larger model fits the table exactly, and a score test against a saturated multinomial is Pearson's statistic (Smyth 2003)
        let counts = [[7, 9, 12, 4], [3, 15, 5, 11]];
        let (design, outcome) = table(counts);
        let fit = fit_ordinal(&design, &outcome).unwrap();
        let mut pearson = 0.0;
        for (group, row) in counts.iter().enumerate() {
            let all: usize = row.iter().sum();
            let shares = fit.probabilities(&[group as f64]).unwrap();
            for (&count, share) in row.iter().zip(shares) {
                let expected = all as f64 * share;
                pearson += (count as f64 - expected).powi(2) / expected;
            }
        }
        let found = fit.proportionality().unwrap();
        close(found.overall.statistic * found.overall.numerator, pearson, 1e-9);
        assert_eq!(found.overall.numerator, 2.0);
        assert_eq!(found.columns, [("x".into(), found.overall)]);
    }

    #[test]
    fn a_table_with_proportional_odds_passes() {
        // cumulative odds 1/3, 1, 3 against 1/6, 1/2, 3/2, scaled: shares 1/4 each; 1/7, 4/21, 4/15, 2/5
        let (design, outcome) = table([[105, 105, 105, 105], [60, 80, 112, 168]]);
        let fit = fit_ordinal(&design, &outcome).unwrap();
        close(fit.coefficients[0], 2.0_f64.ln(), 1e-9);
        assert!(fit.proportionality().unwrap().overall.statistic.abs() < 1e-9);
    }

    #[test]
    fn the_column_at_fault_is_named() {
        // x pushes to both ends, z is proportional
        let (mut x, mut z, mut y) = (Vec::new(), Vec::new(), Vec::new());
        for row in 0..400_u32 {
            let (a, b) = (row % 2, (row / 2) % 2);
            let draw = (row * 37) % 100;
            let middle = if a == 1 { 10 } else { 50 };
            let low = 50 - middle / 2 - 15 * b;
            y.push(f64::from(u8::from(draw >= low) + u8::from(draw >= low + middle)));
            x.push(f64::from(a));
            z.push(f64::from(b));
        }
        let design = Design::builder(400).number("x", &x).number("z", &z).build().unwrap();
        let fit = fit_ordinal(&design, &OrderedOutcome::new(&y).unwrap()).unwrap();
        let found = fit.proportionality().unwrap();
        assert!(found.overall.p_value() < 1e-6 && found.columns[0].1.p_value() < 1e-6);
        assert!(found.columns[1].1.p_value() > 0.05);
    }

    #[test]
    fn the_unit_of_a_column_does_not_matter() {
        let (design, outcome, _) = example();
        let far: Vec<f64> = design.matrix.column(0).iter().map(|x| 1000.0 + 50.0 * x).collect();
        let mut moved = design.clone();
        moved.matrix.column_mut(0).assign(&ndarray::Array1::from(far));
        let test = |design: &Design| fit_ordinal(design, &outcome).unwrap().proportionality();
        let (one, other) = (test(&design).unwrap(), test(&moved).unwrap());
        close(one.overall.statistic, other.overall.statistic, 1e-7);
        close(one.columns[0].1.statistic, other.columns[0].1.statistic, 1e-7);
    }

    #[test]
    fn two_categories_leave_nothing_to_test() {
        let fit = fit_ordinal(
            &line(&[1.0, 2.0, 3.0, 4.0, 2.5]),
            &OrderedOutcome::new(&[0.0, 1.0, 0.0, 1.0, 0.0]).unwrap(),
        );
        let fault = fit.unwrap().proportionality();
        assert!(matches!(fault, Err(StatsError::NoDegreesOfFreedom { .. })));
    }
}

mod random_intercept {
    use super::*;

    #[test]
    fn two_categories_are_the_logistic_model() {
        let x: Vec<f64> = (0..40).map(|row| f64::from((row * 7) % 11)).collect();
        let lots: Vec<usize> = (0..40).map(|row| row / 5).collect();
        let y: Vec<f64> = (0..40)
            .map(|row| {
                f64::from(u8::from((row * 13) % 17 + (row / 5) % 3 * 7 + (row * 7) % 11 > 20))
            })
            .collect();
        let ordinal =
            fit_ordinal_mixed(&line(&x), &OrderedOutcome::new(&y).unwrap(), &lots).unwrap();
        let design = Design::builder(40).intercept().number("x", &x).build().unwrap();
        let outcome = BinomialOutcome::binary(&y).unwrap();
        let plain = fit_logistic_mixed(&design, &outcome, &lots).unwrap();
        assert!(!plain.at_boundary);
        close(ordinal.sd_group, plain.sd_group, 1e-7);
        close(ordinal.coefficients[0], plain.coefficients[1], 1e-7);
        close(ordinal.log_likelihood, plain.log_likelihood, 1e-10);
        let (one, other) =
            (ordinal.contrast(&[1.0]).unwrap(), plain.contrast(&[0.0, 1.0]).unwrap());
        close(one.standard_error, other.standard_error, 1e-6);
        for (one, other) in ordinal.group_effects().iter().zip(plain.group_effects()) {
            assert!((one.effect - other.effect).abs() < 1e-6);
        }
        let (one, other) = (ordinal.sd_interval(0.9).unwrap(), plain.sd_interval(0.9).unwrap());
        assert!((one.0 - other.0).abs() < 1e-5 && (one.1 - other.1).abs() < 1e-5);
    }

    #[test]
    fn lots_that_do_not_differ_leave_the_plain_model() {
        let x: Vec<f64> = (0..24).map(|row| f64::from(row % 4)).collect();
        let y: Vec<f64> = (0..24).map(|row| f64::from([1, 2, 2, 3, 2, 1, 3, 3][row % 8])).collect();
        let lots: Vec<usize> = (0..24).map(|row| row / 8).collect();
        let outcome = OrderedOutcome::new(&y).unwrap();
        let mixed = fit_ordinal_mixed(&line(&x), &outcome, &lots).unwrap();
        let plain = fit_ordinal(&line(&x), &outcome).unwrap();
        assert!(mixed.at_boundary);
        close(mixed.log_likelihood, plain.log_likelihood, 1e-12);
        close(
            mixed.threshold(1).unwrap().standard_error,
            plain.threshold(1).unwrap().standard_error,
            1e-9,
        );
        assert_eq!(mixed.test_of_groups().1, 1.0);
    }

    #[test]
    fn groups_that_cannot_show_a_spread_are_refused() {
        let (design, outcome, _) = example();
        let fit = |groups: &[usize]| fit_ordinal_mixed(&design, &outcome, groups);
        assert!(matches!(fit(&[0; 30]), Err(StatsError::TooFewGroups { .. })));
        let alone: Vec<usize> = (0..30).collect();
        assert!(matches!(fit(&alone), Err(StatsError::NoDegreesOfFreedom { .. })));
        assert!(matches!(fit(&[0]), Err(StatsError::LengthMismatch { .. })));
    }
}
