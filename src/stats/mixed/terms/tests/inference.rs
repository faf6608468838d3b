//! Errors, degrees of freedom, conditional means, intervals and comparisons.

use super::*;
use crate::stats::mixed::fit_mixed;
use crate::stats::numeric::{mean, standard_deviation};
use ndarray::array;

/// Penicillin with three rows of four and two invented columns: unbalanced, crossed, with fixed effects.
fn thinned() -> (Design, Vec<f64>, [RandomTerm; 2], Vec<usize>) {
    let (mut x, mut z, mut y) = (Vec::new(), Vec::new(), Vec::new());
    let (mut plates, mut samples) = (Vec::new(), Vec::new());
    for plate in 1..=24 {
        for sample in 1..=6 {
            if (plate * 6 + sample) % 4 != 1 {
                x.push(((plate * 7 + sample * 3) % 5) as f64);
                z.push((plate * sample % 4) as f64);
                y.push(f64::from(PENICILLIN[plate - 1][sample - 1]));
                plates.push(plate);
                samples.push(sample);
            }
        }
    }
    let builder = Design::builder(y.len()).intercept().number("x", &x).number("z", &z);
    let terms =
        [RandomTerm::intercept("plate", &plates), RandomTerm::intercept("sample", &samples)];
    (builder.build().unwrap(), y, terms, samples)
}

// Values of the next three tests: R 4.2.2, lme4 1.1.31 (bobyqa, rhoend 1e-10), lmerTest 3.1.3, pbkrtest 0.5.2 on the same rows:
// m <- lmer(diameter ~ x + z + (1|plate) + (1|sample)); contestMD(m, rbind(c(0,1,0), c(0,0,1)), ddf = ...); contest1D(m, c(1,2,1), ddf = ...); vcovAdj(m).
// The optimiser of lme4 leaves its variances about seven digits.

#[test]
fn joint_tests_of_a_crossed_unbalanced_model_agree() {
    let (design, outcome, terms, _) = thinned();
    let fit = reml(&design, &outcome, &terms);
    close(fit.terms[0].covariance[(0, 0)], 0.6865259035, 1e-6);
    close(fit.terms[1].covariance[(0, 0)], 3.8247679135, 1e-6);
    close(fit.sd_residual.powi(2), 0.3152731906, 1e-6);
    close(fit.log_likelihood, -135.712981178, 1e-10);
    let contrasts = array![[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let plain = fit.joint(&contrasts).unwrap();
    close(plain.statistic, 0.398992251122, 1e-5);
    close(plain.denominator, 85.5641582924, 1e-5);
    let corrected = fit.kenward_roger().unwrap();
    let joint = corrected.joint(&contrasts).unwrap();
    close(joint.statistic, 0.394329359104, 1e-5);
    close(joint.denominator, 85.9538379434, 1e-5);
    let single = fit.contrast(&[1.0, 2.0, 1.0]).unwrap();
    close(single.standard_error, 0.818222465171, 1e-6);
    close(single.degrees_of_freedom, 5.45314247731, 1e-5);
    let single = corrected.contrast(&[1.0, 2.0, 1.0]).unwrap();
    close(single.standard_error, 0.818224913764, 1e-6);
    close(single.degrees_of_freedom, 5.44297743882, 1e-5);
    close(corrected.covariance()[(0, 0)], 0.68389572279449, 1e-6);
    close(corrected.covariance()[(1, 2)], 0.000013849021128, 1e-4);
}

#[test]
fn the_correction_from_products_is_that_of_the_general_model() {
    let (design, outcome, terms, samples) = thinned();
    let special = fit_mixed(&design, &outcome, &samples, Criterion::Reml).unwrap();
    let general = reml(&design, &outcome, &terms[1..]);
    let contrasts = array![[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let joint = special.kenward_roger().unwrap().joint(&contrasts).unwrap();
    close(joint.statistic, 0.454571842099, 1e-5);
    close(joint.denominator, 100.824969827, 1e-5);
    close(special.joint(&contrasts).unwrap().statistic, 0.455996292657, 1e-5);
    close(special.joint(&contrasts).unwrap().denominator, 100.815231087, 1e-5);
    let single = special.kenward_roger().unwrap().contrast(&[1.0, 2.0, 1.0]).unwrap();
    close(single.standard_error, 0.811316915497, 1e-6);
    close(single.degrees_of_freedom, 4.98703817681, 1e-5);
    let other = general.kenward_roger().unwrap();
    close(other.joint(&contrasts).unwrap().denominator, joint.denominator, 1e-7);
    close(other.joint(&contrasts).unwrap().statistic, joint.statistic, 1e-7);
    let one = special.kenward_roger().unwrap().covariance();
    assert!((one - other.covariance()).amax() < 1e-8);
}

#[test]
fn a_likelihood_ratio_agrees_and_weighs_the_boundary() {
    let (design, outcome, terms, _) = thinned();
    let large = reml(&design, &outcome, &terms);
    let small = reml(&design, &outcome, &terms[..1]);
    assert!(small.at_boundary);
    let ratio = small.compare(&large).unwrap();
    close(ratio.statistic, 190.46589, 1e-7);
    assert_eq!((ratio.degrees_of_freedom, &ratio.mixture[..]), (1, &[(0.5, 0), (0.5, 1)][..]));
    assert!(matches!(large.compare(&small), Err(StatsError::NotNested { .. })));
    assert!(matches!(large.compare(&large), Err(StatsError::NotNested { .. })));
    let other = reml(&ones(outcome.len()), &outcome, &terms);
    assert!(matches!(other.compare(&large), Err(StatsError::NotNested { .. })));
}

#[test]
fn the_correction_needs_restricted_likelihood() {
    let (design, outcome, terms, samples) = thinned();
    let by = Criterion::MaximumLikelihood;
    let general = fit_mixed_terms(&design, &outcome, &terms, by).unwrap().kenward_roger();
    assert!(matches!(general.map(|_| ()), Err(StatsError::NeedsRestricted { .. })));
    let special = fit_mixed(&design, &outcome, &samples, by).unwrap().kenward_roger();
    assert!(matches!(special.map(|_| ()), Err(StatsError::NeedsRestricted { .. })));
}

#[test]
fn contrasts_that_repeat_each_other_have_no_joint_test() {
    let (design, outcome, terms, _) = thinned();
    let fit = reml(&design, &outcome, &terms);
    let twice = array![[0.0, 1.0, 0.0], [0.0, 2.0, 0.0]];
    assert!(matches!(fit.joint(&twice), Err(StatsError::RankDeficient { .. })));
    let corrected = fit.kenward_roger().unwrap();
    assert!(corrected.joint(&twice).is_err());
    assert!(matches!(corrected.contrast(&[1.0]), Err(StatsError::LengthMismatch { .. })));
    assert!(matches!(fit.contrast(&[0.0, f64::NAN, 0.0]), Err(StatsError::NotFinite { .. })));
}

/// The row of Henderson's equations that belongs to each fixed effect and each coefficient of each level, and the inverse of their matrix.
fn henderson(
    shop: &Workshop,
    fit: &TermsFit,
) -> (nalgebra::DVector<f64>, DMatrix<f64>, Vec<usize>) {
    let n = shop.outcome.len();
    let groups = [&shop.lots, &shop.reeds, &shop.players];
    let sizes: Vec<usize> = fit.terms.iter().map(|term| term.coefficients.len()).collect();
    let mut firsts = vec![2];
    for (term, size) in fit.terms.iter().zip(&sizes) {
        firsts.push(firsts[firsts.len() - 1] + term.levels * size);
    }
    let total = firsts[3];
    let mut all = DMatrix::zeros(n, total);
    for row in 0..n {
        all[(row, 0)] = 1.0;
        all[(row, 1)] = shop.x[row];
        for term in 0..3 {
            let at = firsts[term] + groups[term][row] * sizes[term];
            all[(row, at)] = 1.0;
            if sizes[term] == 2 {
                all[(row, at + 1)] = shop.x[row];
            }
        }
    }
    let mut left = all.tr_mul(&all);
    for (term, spread) in fit.terms.iter().enumerate() {
        let inverse = spread.covariance.clone().try_inverse().unwrap() * fit.sd_residual.powi(2);
        for level in 0..spread.levels {
            let at = firsts[term] + level * sizes[term];
            let mut block = left.view_mut((at, at), (sizes[term], sizes[term]));
            block += &inverse;
        }
    }
    let inverse = left.try_inverse().unwrap();
    let right = all.tr_mul(&nalgebra::DVector::from_column_slice(&shop.outcome));
    (&inverse * right, inverse * fit.sd_residual.powi(2), firsts)
}

#[test]
fn effects_and_predictions_solve_hendersons_equations() {
    let shop = workshop(12, 60, 14);
    let mut slopes = shop.slopes();
    slopes.pop();
    slopes.push(RandomTerm::intercept("player", &shop.players));
    for terms in [shop.terms(), slopes] {
        let fit = reml(&shop.design, &shop.outcome, &terms);
        assert!(!fit.at_boundary, "{:?}", fit.terms);
        let (solution, covariance, firsts) = henderson(&shop, &fit);
        for (place, term) in fit.terms.iter().enumerate() {
            let size = term.coefficients.len();
            for level in fit.effects(&term.name).unwrap() {
                let at = firsts[place] + level.code * size;
                for i in 0..size {
                    assert!((level.values[i] - solution[at + i]).abs() < 1e-7);
                    for j in 0..size {
                        let found = level.prediction_covariance[(i, j)];
                        assert!((found - covariance[(at + i, at + j)]).abs() < 1e-7);
                    }
                }
            }
        }
        let one = vec![1.0; fit.terms[0].coefficients.len()];
        let found = fit.predict(&[1.0, 0.3], &[("lot", 4, &one), ("reed", 11, &[-2.0])]).unwrap();
        let mut weights = nalgebra::DVector::zeros(solution.len());
        weights[0] = 1.0;
        weights[1] = 0.3;
        (0..one.len()).for_each(|i| weights[firsts[0] + 4 * one.len() + i] = 1.0);
        weights[firsts[1] + 11] = -2.0;
        assert!((found.value - weights.dot(&solution)).abs() < 1e-7);
        assert!((found.variance - weights.dot(&(covariance * &weights))).abs() < 1e-7);
    }
}

#[test]
fn unknown_terms_and_levels_are_named() {
    let (design, outcome, terms, _) = thinned();
    let fit = reml(&design, &outcome, &terms);
    assert!(matches!(fit.effects("lot"), Err(StatsError::UnknownColumn { .. })));
    let row = [1.0, 0.0, 0.0];
    let unknown = fit.predict(&row, &[("plate", 25, &[1.0])]);
    assert!(matches!(unknown, Err(StatsError::UnknownLevel { .. })));
    let weights = fit.predict(&row, &[("plate", 3, &[1.0, 2.0])]);
    assert!(matches!(weights, Err(StatsError::LengthMismatch { .. })));
}

#[test]
fn profile_intervals_of_penicillin_are_those_of_its_book() {
    let (outcome, plates, samples) = penicillin();
    let terms =
        [RandomTerm::intercept("plate", &plates), RandomTerm::intercept("sample", &samples)];
    let fit = reml(&ones(144), &outcome, &terms);
    let found = fit.profile_intervals(0.95).unwrap();
    // Bates, lme4: Mixed-effects modeling with R, section 2.1 (from memory), and lme4 1.1.31 confint(), whose splines leave about five digits
    let expected = [(0.633565966, 1.182103975), (1.095789465, 3.556291864)];
    for (ours, theirs) in found.terms.iter().zip(expected) {
        close(ours[0].0, theirs.0, 1e-4);
        close(ours[0].1, theirs.1, 1e-4);
    }
    close(found.sd_residual.0, 0.485845400, 1e-4);
    close(found.sd_residual.1, 0.629453479, 1e-4);
}

#[test]
fn profile_intervals_of_one_term_are_those_of_the_one_factor_model() {
    let shop = workshop(9, 40, 15);
    let fit = reml(&shop.design, &shop.outcome, &[RandomTerm::intercept("lot", &shop.lots)]);
    let special = fit_mixed(&shop.design, &shop.outcome, &shop.lots, Criterion::Reml).unwrap();
    let (general, special) =
        (fit.profile_intervals(0.9).unwrap(), special.profile_intervals(0.9).unwrap());
    close(general.terms[0][0].1, special.sd_group.1, 1e-6);
    assert!((general.terms[0][0].0 - special.sd_group.0).abs() < 1e-5);
    close(general.sd_residual.0, special.sd_residual.0, 1e-6);
    close(general.sd_residual.1, special.sd_residual.1, 1e-6);
}

fn on_threads<Output: Send>(threads: usize, work: impl FnOnce() -> Output + Send) -> Output {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
    pool.build().unwrap().install(work)
}

#[test]
fn replicates_scatter_about_the_fit_and_do_not_depend_on_threads() {
    let shop = workshop(20, 100, 16);
    let fit = reml(&shop.design, &shop.outcome, &shop.terms());
    let draws = on_threads(1, || fit.parametric_bootstrap(40, 3));
    assert_eq!(draws, on_threads(2, || fit.parametric_bootstrap(40, 3)));
    assert_eq!(draws, on_threads(7, || fit.parametric_bootstrap(40, 3)));
    let values: Vec<f64> = draws.iter().map(|draw| draw.sd_residual.powi(2)).collect();
    // the residual variance is estimated without bias but for boundary fits: within four standard errors
    let error = standard_deviation(&values).unwrap() / (values.len() as f64).sqrt();
    assert!((mean(&values).unwrap() - fit.sd_residual.powi(2)).abs() < 4.0 * error);
}

#[test]
fn a_sampled_comparison_agrees_with_the_mixture_where_it_holds() {
    let shop = workshop(30, 120, 18);
    let large = reml(&shop.design, &shop.outcome, &shop.terms()[..2]);
    let small = reml(&shop.design, &shop.outcome, &shop.terms()[1..2]);
    let sampled = on_threads(2, || small.bootstrap_comparison(&large, 99, 1)).unwrap();
    assert_eq!(sampled, on_threads(7, || small.bootstrap_comparison(&large, 99, 1)).unwrap());
    // lots differ clearly: no sample of the model without them comes near
    assert!(small.compare(&large).unwrap().p_value() < 0.01);
    assert_eq!(sampled, 0.01);
    assert!(large.compare_with_no_terms().statistic > small.compare_with_no_terms().statistic);
}
