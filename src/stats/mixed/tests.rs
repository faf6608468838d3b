//! Hand-worked and simulated cases; the published data sets are in the reference tests.

use super::*;
use crate::stats::linear::least_squares;
use crate::stats::numeric::{mean, standard_deviation};
use crate::stats::resample::stream;
use rand_distr::{Distribution, StandardNormal};

/// Balanced groups with a covariate, drawn with known deviations.
fn simulated(
    groups: usize,
    size: usize,
    sd_group: f64,
    seed: u64,
) -> (Design, Vec<f64>, Vec<usize>) {
    let mut generator = stream(seed, 0);
    let mut normal = || -> f64 { StandardNormal.sample(&mut generator) };
    let (mut x, mut y, mut codes) = (Vec::new(), Vec::new(), Vec::new());
    for group in 0..groups {
        let effect = sd_group * normal();
        for _ in 0..size {
            let value = normal();
            x.push(value);
            y.push(50.0 + 2.0 * value + effect + normal());
            codes.push(group);
        }
    }
    let design = Design::builder(x.len()).intercept().number("x", &x);
    (design.build().unwrap(), y, codes)
}

fn means_only(outcome: &[f64]) -> Design {
    Design::builder(outcome.len()).intercept().build().unwrap()
}

#[test]
fn a_balanced_case_has_the_closed_form_of_the_analysis_of_variance() {
    // three groups of two with the means 2, 4 and 9
    let outcome = [1.0, 3.0, 3.0, 5.0, 8.0, 10.0];
    let fit =
        fit_mixed(&means_only(&outcome), &outcome, &[0, 0, 1, 1, 2, 2], Criterion::Reml).unwrap();
    // inner mean square: (2 + 2 + 2) / 3 = 2; between: 2 (9 + 1 + 16) / 2 = 26; t^2 = (26 - 2) / 2 = 12
    assert!((fit.sd_residual.powi(2) - 2.0).abs() < 1e-10);
    assert!((fit.sd_group.powi(2) - 12.0).abs() < 1e-9);
    assert!((fit.coefficients[0] - 5.0).abs() < 1e-12);
    let intercept = fit.contrast(&[1.0]).unwrap();
    assert!((intercept.degrees_of_freedom - 2.0).abs() < 1e-8);
    assert!((intercept.standard_error - (26.0_f64 / 6.0).sqrt()).abs() < 1e-10);
}

#[test]
fn groups_that_differ_less_than_chance_give_a_variance_of_zero_and_the_plain_model() {
    let outcome = [1.0, 9.0, 2.0, 8.0, 1.5, 8.4];
    let design = means_only(&outcome);
    let fit = fit_mixed(&design, &outcome, &[0, 0, 1, 1, 2, 2], Criterion::Reml).unwrap();
    assert!(fit.at_boundary);
    assert_eq!(fit.sd_group, 0.0);
    let plain = least_squares(&design, &outcome).unwrap();
    assert!((fit.sd_residual - plain.residual_standard_deviation()).abs() < 1e-12);
    let ours = fit.contrast(&[1.0]).unwrap();
    let theirs = plain.classical(&[1.0]).unwrap();
    assert!((ours.standard_error - theirs.standard_error).abs() < 1e-12);
    assert_eq!(ours.degrees_of_freedom, theirs.degrees_of_freedom);
    assert!(fit.group_effects().iter().all(|group| group.effect == 0.0));
    assert_eq!(fit.profile_intervals(0.95).unwrap().sd_group.0, 0.0);
}

#[test]
fn simulated_truth_is_recovered() {
    let (design, outcome, groups) = simulated(300, 6, 1.5, 3);
    let fit = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    assert!((fit.sd_group - 1.5).abs() < 0.2);
    assert!((fit.sd_residual - 1.0).abs() < 0.08);
    let slope = fit.contrast(&fit.pick("x").unwrap()).unwrap();
    assert!((slope.value - 2.0).abs() < 4.0 * slope.standard_error);
}

#[test]
fn shift_and_scale_of_the_outcome_carry_over() {
    let (design, outcome, groups) = simulated(12, 4, 1.0, 5);
    let moved: Vec<f64> = outcome.iter().map(|y| 1e4 - 30.0 * y).collect();
    let plain = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let other = fit_mixed(&design, &moved, &groups, Criterion::Reml).unwrap();
    assert!((other.sd_group - 30.0 * plain.sd_group).abs() < 1e-7);
    assert!((other.coefficients[1] + 30.0 * plain.coefficients[1]).abs() < 1e-7);
    assert!((other.coefficients[0] - (1e4 - 30.0 * plain.coefficients[0])).abs() < 1e-6);
    let n_less_p = (outcome.len() - 2) as f64;
    assert!((other.log_likelihood - plain.log_likelihood + n_less_p * 30.0_f64.ln()).abs() < 1e-8);
}

#[test]
fn the_order_of_rows_and_the_names_of_groups_do_not_matter() {
    let (design, outcome, groups) = simulated(10, 5, 1.0, 8);
    let rows: Vec<usize> = (0..outcome.len()).rev().collect();
    let turned = Design {
        names: design.names.clone(),
        matrix: design.matrix.select(ndarray::Axis(0), &rows),
    };
    let outcome_turned: Vec<f64> = rows.iter().map(|&row| outcome[row]).collect();
    let renamed: Vec<usize> = rows.iter().map(|&row| 100 - groups[row]).collect();
    let one = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let other = fit_mixed(&turned, &outcome_turned, &renamed, Criterion::Reml).unwrap();
    assert!((one.sd_group - other.sd_group).abs() < 1e-9);
    assert!((one.coefficients[1] - other.coefficients[1]).abs() < 1e-9);
}

#[test]
fn without_an_intercept_the_fit_is_the_same_model_on_one_column_of_ones() {
    let (design, outcome, groups) = simulated(9, 4, 1.0, 2);
    let renamed = Design::new(vec!["one".into(), "x".into()], {
        let mut matrix = design.matrix.clone();
        matrix.column_mut(0).fill(2.0);
        matrix
    });
    let with = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let without = fit_mixed(&renamed.unwrap(), &outcome, &groups, Criterion::Reml).unwrap();
    assert!((with.coefficients[0] - 2.0 * without.coefficients[0]).abs() < 1e-7);
    assert!((with.sd_group - without.sd_group).abs() < 1e-7);
    let at = [1.0, 0.7];
    let half = [2.0, 0.7];
    for (a, b) in with.group_means(&at).unwrap().iter().zip(without.group_means(&half).unwrap()) {
        assert!((a.mean - b.mean).abs() < 1e-7 && (a.variance - b.variance).abs() < 1e-8);
    }
}

#[test]
fn a_group_mean_is_the_fixed_part_plus_the_effect() {
    let (design, outcome, groups) = simulated(8, 3, 1.0, 4);
    let fit = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let at = design.column_means();
    let fixed = fit.contrast(&at).unwrap().value;
    let effects = fit.group_effects();
    for (mean, effect) in fit.group_means(&at).unwrap().iter().zip(&effects) {
        assert!((mean.mean - fixed - effect.effect).abs() < 1e-9);
        assert!(mean.variance > 0.0 && effect.prediction_variance > 0.0);
    }
    let total: f64 = effects.iter().map(|group| group.effect).sum();
    assert!(total.abs() < 1e-8);
}

/// Henderson's equations for `(b, u)` in full: estimates and the inverse of the coefficient matrix, times the residual variance.
fn henderson(
    fit: &MixedFit,
    design: &Design,
    outcome: &[f64],
    groups: &[usize],
) -> (nalgebra::DVector<f64>, nalgebra::DMatrix<f64>) {
    let (n, p, m) = (design.rows(), design.columns(), fit.groups.len());
    let all = nalgebra::DMatrix::from_fn(n, p + m, |row, column| {
        if column < p {
            design.matrix[(row, column)]
        } else {
            f64::from(groups[row] == fit.groups[column - p])
        }
    });
    let mut left = all.tr_mul(&all);
    let ratio = (fit.sd_residual / fit.sd_group).powi(2);
    for place in p..p + m {
        left[(place, place)] += ratio;
    }
    let inverse = left.try_inverse().unwrap();
    let solution = &inverse * all.tr_mul(&nalgebra::DVector::from_column_slice(outcome));
    (solution, inverse * fit.sd_residual.powi(2))
}

#[test]
fn effects_and_their_errors_solve_hendersons_equations() {
    let (design, outcome, groups) = simulated(7, 4, 1.3, 6);
    // unequal groups: drop the last rows of the first group
    let keep: Vec<usize> = (0..28).filter(|&row| row != 2 && row != 3).collect();
    let design = Design {
        names: design.names.clone(),
        matrix: design.matrix.select(ndarray::Axis(0), &keep),
    };
    let outcome: Vec<f64> = keep.iter().map(|&row| outcome[row]).collect();
    let groups: Vec<usize> = keep.iter().map(|&row| groups[row]).collect();
    let fit = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let (solution, covariance) = henderson(&fit, &design, &outcome, &groups);
    let at = [1.0, -0.4];
    for (place, group) in fit.group_effects().iter().enumerate() {
        assert!((group.effect - solution[2 + place]).abs() < 1e-9);
        assert!((group.prediction_variance - covariance[(2 + place, 2 + place)]).abs() < 1e-9);
    }
    for (place, group) in fit.group_means(&at).unwrap().iter().enumerate() {
        let mut weights = nalgebra::DVector::zeros(covariance.nrows());
        weights[0] = at[0];
        weights[1] = at[1];
        weights[2 + place] = 1.0;
        assert!((group.mean - weights.dot(&solution)).abs() < 1e-8);
        assert!((group.variance - weights.dot(&(&covariance * &weights))).abs() < 1e-9);
    }
}

#[test]
fn analytic_degrees_of_freedom_equal_those_of_numeric_derivatives() {
    let (design, outcome, groups) = simulated(6, 3, 1.0, 11);
    let fit = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let contrast = fit.working_contrast(&[1.0, 0.5]).unwrap();
    let deviance = |ratio: f64, variance: f64| {
        let solution = fit.working.solve(ratio).unwrap();
        fit.working.deviance(&solution)
            - fit.working.degrees() * log_normal_constant(solution.variance(fit.working.degrees()))
            + fit.working.degrees() * variance.ln()
            + solution.residual_square / variance
    };
    let spread = |ratio: f64, variance: f64| {
        variance * contrast.dot(&fit.working.solve(ratio).unwrap().factor.solve(&contrast))
    };
    let (r, v) = (fit.ratio(), fit.working_variance());
    let (dr, dv) = (1e-4 * r, 1e-4 * v);
    let second =
        |f: &dyn Fn(f64) -> f64, step: f64| (f(step) - 2.0 * f(0.0) + f(-step)) / (step * step);
    let rr = second(&|h| deviance(r + h, v), dr);
    let vv = second(&|h| deviance(r, v + h), dv);
    let rv = (deviance(r + dr, v + dv) - deviance(r + dr, v - dv) - deviance(r - dr, v + dv)
        + deviance(r - dr, v - dv))
        / (4.0 * dr * dv);
    let gradient = nalgebra::Vector2::new(
        (spread(r + dr, v) - spread(r - dr, v)) / (2.0 * dr),
        (spread(r, v + dv) - spread(r, v - dv)) / (2.0 * dv),
    );
    let inverse = nalgebra::Matrix2::new(rr, rv, rv, vv).try_inverse().unwrap();
    let numeric = spread(r, v).powi(2) / gradient.dot(&(inverse * gradient));
    let analytic = fit.contrast(&[1.0, 0.5]).unwrap().degrees_of_freedom;
    assert!((analytic - numeric).abs() < 1e-4 * numeric, "{analytic} {numeric}");
}

#[test]
fn the_joint_test_of_one_contrast_is_its_t_squared() {
    let (design, outcome, groups) = simulated(6, 4, 1.0, 13);
    let fit = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let joint = fit.joint(&ndarray::array![[0.0, 1.0]]).unwrap();
    let single = fit.contrast(&[0.0, 1.0]).unwrap();
    assert!((joint.statistic - single.t_statistic().powi(2)).abs() < 1e-8);
    assert!((joint.denominator - single.degrees_of_freedom).abs() < 1e-9);
    assert!(fit.joint(&ndarray::array![[0.0, 1.0], [0.0, 2.0]]).is_err());
}

#[test]
fn profile_intervals_of_dyestuff_are_those_of_its_book() {
    // Davies & Goldsmith 1972, table 6.1; Bates, lme4: Mixed-effects modeling with R, section 1.5: .sig01 12.197461 to 84.063361, .sigma 38.229967 to 67.657697
    // (from memory)
    let outcome: Vec<f64> = [
        1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
        1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445,
    ]
    .map(f64::from)
    .into();
    let groups: Vec<usize> = (0..30).map(|row| row / 5).collect();
    let fit = fit_mixed(&means_only(&outcome), &outcome, &groups, Criterion::Reml).unwrap();
    let found = fit.profile_intervals(0.95).unwrap();
    assert!((found.sd_group.0 - 12.197).abs() < 0.01, "{found:?}");
    assert!((found.sd_group.1 - 84.063).abs() < 0.01, "{found:?}");
    assert!((found.sd_residual.0 - 38.230).abs() < 0.01, "{found:?}");
    assert!((found.sd_residual.1 - 67.658).abs() < 0.01, "{found:?}");
    let icc = found.intraclass_correlation;
    assert!(icc.0 < fit.intraclass_correlation() && fit.intraclass_correlation() < icc.1);
}

#[test]
fn replicates_scatter_about_the_fit_and_do_not_depend_on_threads() {
    let (design, outcome, groups) = simulated(40, 5, 1.0, 21);
    let fit = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.unwrap().install(|| fit.parametric_bootstrap(200, 9))
    };
    let draws = on(1);
    assert_eq!(draws, on(3));
    let group: Vec<f64> = draws.iter().map(|draw| draw.sd_group.powi(2)).collect();
    // the estimator is unbiased here: the mean lies within four standard errors
    let allowed = 4.0 * standard_deviation(&group).unwrap() / 200_f64.sqrt();
    assert!((mean(&group).unwrap() - fit.sd_group.powi(2)).abs() < allowed);
    let inner: Vec<f64> = draws.iter().map(|draw| draw.sd_residual).collect();
    assert!((mean(&inner).unwrap() - fit.sd_residual).abs() < 0.05);
}

#[test]
fn draws_of_group_means_have_the_stated_mean_and_variance_when_the_components_are_known() {
    let (design, outcome, groups) = simulated(6, 4, 1.0, 17);
    let fit = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let known = [VarianceComponents { sd_group: fit.sd_group, sd_residual: fit.sd_residual }];
    let at = design.column_means();
    let draws = fit.draw_group_means(&at, &known, 4000, 1).unwrap();
    for (column, group) in draws.columns().into_iter().zip(fit.group_means(&at).unwrap()) {
        let values = column.to_vec();
        let sd = group.variance.sqrt();
        assert!((mean(&values).unwrap() - group.mean).abs() < 5.0 * sd / 4000_f64.sqrt());
        assert!((standard_deviation(&values).unwrap() / sd - 1.0).abs() < 0.06);
    }
}

#[test]
fn what_cannot_be_fitted_is_refused_with_its_reason() {
    let outcome = [1.0, 2.0, 4.0, 3.0];
    let fit = |groups: &[usize], outcome: &[f64]| {
        fit_mixed(&means_only(outcome), outcome, groups, Criterion::Reml).map(|_| ())
    };
    assert!(matches!(
        fit(&[0, 0, 0, 0], &outcome),
        Err(StatsError::TooFewGroups { found: 1, needed: 2 })
    ));
    assert!(matches!(fit(&[0, 1, 2, 3], &outcome), Err(StatsError::NoDegreesOfFreedom { .. })));
    assert!(matches!(fit(&[0, 0, 1, 1], &[5.0; 4]), Err(StatsError::NoVariation { .. })));
    assert!(matches!(
        fit(&[0, 0, 1, 1], &[5.0, 5.0, 7.0, 7.0]),
        Err(StatsError::NoVariation { .. })
    ));
    assert!(matches!(
        fit(&[0, 0, 1, 1], &[5.0, f64::NAN, 7.0, 7.0]),
        Err(StatsError::NotFinite { row: 1, .. })
    ));
}

#[test]
fn as_many_columns_that_are_constant_inside_groups_as_groups_leave_no_spread_between_them() {
    let outcome = [1.0, 2.0, 4.0, 3.0, 5.0, 5.5];
    let level = [0.0, 0.0, 1.0, 1.0, 0.0, 0.0];
    let other = [0.0, 0.0, 0.0, 0.0, 1.0, 1.0];
    let design =
        Design::builder(6).intercept().number("a", &level).number("b", &other).build().unwrap();
    let fault = fit_mixed(&design, &outcome, &[0, 0, 1, 1, 2, 2], Criterion::Reml).map(|_| ());
    assert!(matches!(fault, Err(StatsError::TooFewGroups { found: 3, needed: 4 })));
}
