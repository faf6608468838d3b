//! What cannot be fitted, and what lies at a boundary.

use super::*;

fn fault(outcome: &[f64], terms: &[RandomTerm]) -> StatsError {
    fit_mixed_terms(&ones(outcome.len()), outcome, terms, Criterion::Reml).map(|_| ()).unwrap_err()
}

fn term(name: &str, groups: &[usize]) -> RandomTerm {
    RandomTerm::intercept(name, groups)
}

const OUTCOME: [f64; 8] = [1.0, 2.5, 4.0, 3.0, 7.0, 6.5, 2.0, 4.5];
const PAIRS: [usize; 8] = [0, 0, 1, 1, 2, 2, 3, 3];
const HALVES: [usize; 8] = [0, 0, 0, 0, 1, 1, 1, 1];

#[test]
fn a_variance_of_zero_is_kept_and_said() {
    // the pairs differ less than their members
    let outcome = [1.0, 9.0, 2.0, 8.0, 1.5, 8.4, 1.2, 9.1];
    let terms = [term("pair", &PAIRS), term("turn", &[0, 1, 0, 1, 0, 1, 0, 1])];
    let fit = reml(&ones(8), &outcome, &terms);
    assert!(fit.at_boundary && fit.terms[0].at_boundary && !fit.terms[1].at_boundary);
    assert_eq!(fit.terms[0].covariance[(0, 0)], 0.0);
    assert!(fit.effects("pair").unwrap().iter().all(|level| level.values == [0.0]));
    let alone = reml(&ones(8), &outcome, &terms[1..]);
    close(fit.log_likelihood, alone.log_likelihood, 1e-12);
    let (with, without) = (fit.contrast(&[1.0]).unwrap(), alone.contrast(&[1.0]).unwrap());
    close(with.degrees_of_freedom, without.degrees_of_freedom, 1e-7);
    assert_eq!(fit.profile_intervals(0.95).unwrap().terms[0][0].0, 0.0);
}

#[test]
fn without_any_spread_the_model_is_the_plain_linear_one() {
    let outcome = [1.0, 9.0, 2.0, 8.0, 1.5, 8.4, 8.8, 1.2];
    let fit = reml(&ones(8), &outcome, &[term("pair", &PAIRS)]);
    let plain = crate::stats::linear::least_squares(&ones(8), &outcome).unwrap();
    let theirs = plain.classical(&[1.0]).unwrap();
    let ours = fit.contrast(&[1.0]).unwrap();
    close(ours.standard_error, theirs.standard_error, 1e-12);
    assert_eq!(ours.degrees_of_freedom, 7.0);
    let corrected = fit.kenward_roger().unwrap().contrast(&[1.0]).unwrap();
    close(corrected.standard_error, theirs.standard_error, 1e-12);
    close(corrected.degrees_of_freedom, 7.0, 1e-12);
    assert_eq!(fit.compare_with_no_terms().p_value(), 1.0);
}

#[test]
fn one_level_shows_no_spread_between_levels() {
    let fault = fault(&OUTCOME, &[term("pair", &PAIRS), term("one", &[7; 8])]);
    assert_eq!(fault, StatsError::TooFewGroups { found: 1, needed: 2 });
}

#[test]
fn a_level_for_every_row_cannot_be_told_from_the_rows() {
    let each: Vec<usize> = (0..8).collect();
    let fault = fault(&OUTCOME, &[term("half", &HALVES), term("reed", &each)]);
    assert!(matches!(fault, StatsError::NoDegreesOfFreedom { .. }), "{fault}");
}

#[test]
fn two_terms_with_the_same_groups_cannot_be_told_apart() {
    let other: Vec<usize> = PAIRS.iter().map(|code| 50 - code).collect();
    let fault = fault(&OUTCOME, &[term("lot", &PAIRS), term("tube", &other)]);
    let StatsError::Confounded { what, with } = fault else { panic!("{fault}") };
    assert!([&what, &with].into_iter().all(|name| name == "lot" || name == "tube"));
}

#[test]
fn a_term_that_the_columns_hold_already_is_refused() {
    let half: Vec<f64> = HALVES.iter().map(|&code| code as f64).collect();
    let design = Design::builder(8).intercept().number("half", &half).build().unwrap();
    let terms = [term("pair", &PAIRS), term("half", &HALVES)];
    let fault = fit_mixed_terms(&design, &OUTCOME, &terms, Criterion::Reml).map(|_| ());
    let with = "the columns of the design".into();
    assert_eq!(fault, Err(StatsError::Confounded { what: "half".into(), with }));
}

#[test]
fn an_outcome_that_does_not_vary_is_refused() {
    assert!(matches!(fault(&[5.0; 8], &[term("pair", &PAIRS)]), StatsError::NoVariation { .. }));
    let steps: Vec<f64> = PAIRS.iter().map(|&code| [1.0, 4.0, 9.0, 7.0][code]).collect();
    assert!(matches!(fault(&steps, &[term("pair", &PAIRS)]), StatsError::NoVariation { .. }));
}

#[test]
fn terms_that_fit_any_outcome_are_refused() {
    // six rows in a chain of two crossed groupings of four levels: as many levels as rows allow
    let (a, b) = ([0, 0, 1, 1, 2, 2], [0, 1, 1, 2, 2, 3]);
    let fault = fault(&[1.0, 3.0, 2.0, 5.0, 4.0, 4.5], &[term("a", &a), term("b", &b)]);
    assert!(matches!(fault, StatsError::NoDegreesOfFreedom { .. }), "{fault}");
}

#[test]
fn not_more_rows_than_columns_are_refused() {
    let columns: Vec<Vec<f64>> =
        (1..5).map(|power| (0..4).map(|row| f64::from(row + 1).powi(power)).collect()).collect();
    let fit = |count: usize| {
        let mut builder = Design::builder(4);
        for column in &columns[..count] {
            builder = builder.number(&format!("x{}", column[1]), column);
        }
        let terms = [term("pair", &PAIRS[..4])];
        fit_mixed_terms(&builder.build().unwrap(), &OUTCOME[..4], &terms, Criterion::Reml)
            .map(|_| ())
    };
    assert!(matches!(fit(4), Err(StatsError::TooFewRows { rows: 4, columns: 4 })));
    let wide = ndarray::Array2::from_shape_fn((2, 3), |(i, j)| (i + j * j) as f64);
    let names = ["a", "b", "c"].map(String::from).to_vec();
    let design = Design::new(names, wide).unwrap();
    let fault = fit_mixed_terms(&design, &[1.0, 2.0], &[term("t", &[0, 1])], Criterion::Reml);
    assert!(matches!(fault.map(|_| ()), Err(StatsError::TooFewRows { .. })));
}

#[test]
fn one_huge_value_ends_in_a_fit_of_finite_numbers() {
    let shop = workshop(6, 40, 8);
    let mut outcome = shop.outcome.clone();
    outcome[17] = 1e9;
    let fit = reml(&shop.design, &outcome, &shop.terms());
    let slope = fit.contrast(&[0.0, 1.0]).unwrap();
    assert!(slope.value.is_finite() && slope.standard_error > 0.0);
    assert!(slope.degrees_of_freedom > 0.0 && fit.sd_residual > 1e6);
}

#[test]
fn what_is_no_number_is_refused() {
    let mut outcome = OUTCOME;
    outcome[3] = f64::NAN;
    assert!(matches!(fault(&outcome, &[term("p", &PAIRS)]), StatsError::NotFinite { row: 3, .. }));
    let slope = [1.0, 2.0, f64::INFINITY, 0.0, 1.0, 2.0, 3.0, 4.0];
    let terms = [term("p", &HALVES).with_slope("x", &slope)];
    assert!(matches!(fault(&OUTCOME, &terms), StatsError::NotFinite { row: 2, .. }));
    let flat = [term("p", &HALVES).with_slope("x", &[2.0; 8])];
    assert!(matches!(fault(&OUTCOME, &flat), StatsError::NoVariation { .. }));
    let short = [term("p", &HALVES[..7])];
    assert!(matches!(fault(&OUTCOME, &short), StatsError::LengthMismatch { .. }));
    assert!(matches!(fault(&OUTCOME, &[]), StatsError::Empty { .. }));
    let twice = [term("p", &HALVES), term("p", &PAIRS)];
    assert!(matches!(fault(&OUTCOME, &twice), StatsError::DuplicateColumn { .. }));
}

#[test]
fn slopes_that_no_level_can_show_beside_its_intercept_are_refused() {
    // two rows a level at the same two places: three covariances and a residual, but only three moments
    let x = [0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0];
    let fault = fault(&OUTCOME, &[term("pair", &PAIRS).with_slope("x", &x)]);
    assert!(matches!(fault, StatsError::Confounded { .. } | StatsError::NoDegreesOfFreedom { .. }));
}
