//! Groups with an effect of their own.

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

/// Counts in a row a group, of which many are alike and summed up once; and the same in two rows a group, each summed up by itself.
#[test]
fn groups_of_the_same_counts_are_each_as_good_as_any_other() {
    let counts: Vec<(f64, f64)> =
        (0..60_u32).map(|group| (f64::from(group * 7 % 5), f64::from(4 + group % 3))).collect();
    let intercept = |rows: usize| Design::builder(rows).intercept().build().unwrap();
    let fit = |rows: &[(usize, f64, f64)]| {
        let groups: Vec<usize> = rows.iter().map(|row| row.0).collect();
        let successes: Vec<f64> = rows.iter().map(|row| row.1).collect();
        let trials: Vec<f64> = rows.iter().map(|row| row.2).collect();
        let outcome = BinomialOutcome::counts(&successes, &trials).unwrap();
        fit_logistic_mixed(&intercept(rows.len()), &outcome, &groups).unwrap()
    };
    let together: Vec<(usize, f64, f64)> =
        (0..).zip(&counts).map(|(group, &(some, all))| (group, some, all)).collect();
    let parted: Vec<(usize, f64, f64)> = together
        .iter()
        .flat_map(|&(group, some, all)| {
            let first = some.min(2.0);
            [(group, first, 2.0), (group, some - first, all - 2.0)]
        })
        .collect();
    let (together, parted) = (fit(&together), fit(&parted));
    assert!(together.sd_group > 0.1);
    close(together.sd_group, parted.sd_group, 1e-6);
    close(together.coefficients[0], parted.coefficients[0], 1e-6);
    let pairs = together.group_effects().into_iter().zip(parted.group_effects());
    for (one, other) in pairs {
        close(one.effect, other.effect, 1e-5);
        close(one.standard_error, other.standard_error, 1e-5);
    }
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
                (terms.sum::<f64>() - 0.5 * effect * effect).exp() / std::f64::consts::TAU.sqrt()
            };
            let total: f64 = (-4000..=4000).map(|step| density(f64::from(step) / 400.0)).sum();
            by_steps += (total / 400.0).ln();
        }
        close(integrated_log_likelihood(&fit, deviation, 25), by_steps, 1e-8);
    }
}

#[test]
fn groups_of_which_much_is_known_are_integrated_as_exactly_with_fewer_nodes() {
    // few successes among many make a curve that leans most; between 0.09 and 0.29 log odds are not known of these groups, where 11, 15, 19 or 25 nodes are taken
    let (successes, trials) = ([100.0, 26.0, 14.0, 12.0], [4000.0, 1000.0, 500.0, 400.0]);
    let ones = Design::builder(4).intercept().build().unwrap();
    let outcome = BinomialOutcome::counts(&successes, &trials).unwrap();
    let fit = fit_logistic_mixed(&ones, &outcome, &[0, 1, 2, 3]).unwrap();
    for deviation in [0.25, 0.5, 1.0, 2.0] {
        let mut by_steps = 0.0;
        for (successes, trials) in successes.into_iter().zip(trials) {
            let density = |effect: f64| {
                let p = fit.coefficients[0] + deviation * effect;
                let part = successes * log_logistic(p) + (trials - successes) * log_logistic(-p);
                (part - 0.5 * effect * effect).exp() / std::f64::consts::TAU.sqrt()
            };
            let total: f64 = (-4000..=4000).map(|step| density(f64::from(step) / 400.0)).sum();
            by_steps += (total / 400.0).ln();
        }
        let found = integrated_log_likelihood(&fit, deviation, 25);
        assert!((found - by_steps).abs() < 3e-9, "{found} is not {by_steps}");
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
            let total: f64 = (-40_000..=40_000).map(|step| density(f64::from(step) / 4000.0)).sum();
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
    let (design, outcome) = (line(&[0.0, 1.0, 0.0, 1.0, 0.0, 1.0]), [3.0, 5.0, 4.0, 5.0, 3.0, 6.0]);
    let outcome = BinomialOutcome::counts(&outcome, &[10.0; 6]).unwrap();
    let mixed = fit_logistic_mixed(&design, &outcome, &[0, 0, 1, 1, 2, 2]).unwrap();
    let plain = fit_logistic(&design, &outcome).unwrap();
    assert!(mixed.at_boundary && mixed.sd_group == 0.0);
    assert_eq!(mixed.test_of_groups(), (0.0, 1.0));
    for contrast in [[1.0, 0.0], [0.0, 1.0]] {
        let (one, other) = (mixed.contrast(&contrast).unwrap(), plain.contrast(&contrast).unwrap());
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
