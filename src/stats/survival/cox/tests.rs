use super::*;
use crate::stats::resample::{replicate, stream};
use crate::stats::survival::example::{ENTRIES, TIMES, X, Z, close, design, ended, lifetimes};
use crate::stats::survival::{log_rank, nelson_aalen};
use proptest::prelude::*;
use rand::RngExt;
use rand_distr::{Distribution, Exp1, StandardNormal};

// Values called R's are from coxph(Surv(time, end) ~ x + z, ties =, cluster = row %/% 4, eps = 1e-15) and the calls named beside them, see `example`.

fn example(ties: Ties) -> CoxFit {
    fit_cox(&design(), &lifetimes(), None, ties).unwrap()
}

fn stratified() -> CoxFit {
    let strata: Vec<usize> = (0..24).map(|row| row % 2).collect();
    let late = lifetimes().entering_at(&ENTRIES).unwrap();
    fit_cox(&design(), &late, Some(&strata), Ties::Efron).unwrap()
}

fn clusters() -> Vec<usize> {
    (0..24).map(|row| row / 4).collect()
}

fn one(x: &[f64]) -> Design {
    Design::builder(x.len()).number("x", x).build().unwrap()
}

fn errors(fit: &CoxFit) -> [f64; 2] {
    [[1.0, 0.0], [0.0, 1.0]].map(|contrast| fit.contrast(&contrast).unwrap().standard_error)
}

fn robust_errors(fit: &CoxFit) -> [f64; 2] {
    let robust = fit.clustered(&clusters()).unwrap();
    [[1.0, 0.0], [0.0, 1.0]].map(|contrast| robust.contrast(&contrast).unwrap().standard_error)
}

fn all_close(found: &[f64], expected: &[f64]) {
    assert_eq!(found.len(), expected.len());
    found.iter().zip(expected).for_each(|(found, expected)| close(*found, *expected));
}

#[test]
fn efron_fits_agree_with_r() {
    let fit = example(Ties::Efron);
    all_close(&fit.coefficients, &[2.529623652025454, 0.694252092921121]);
    all_close(&errors(&fit), &[0.600771207017258, 0.552179903135116]);
    all_close(
        &[fit.log_likelihood_null, fit.log_likelihood],
        &[-42.1187034591899, -27.4125485616328],
    );
    close(fit.score_test().statistic, 29.6478765843822);
    close(fit.wald_test().statistic, 19.4698130058626);
    all_close(&robust_errors(&fit), &[0.856163985004444, 0.499176948146231]);
}

#[test]
fn breslow_fits_agree_with_r() {
    let fit = example(Ties::Breslow);
    all_close(&fit.coefficients, &[2.41646523670176, 0.673955319325509]);
    all_close(&errors(&fit), &[0.587980627348428, 0.551252411894966]);
    close(fit.log_likelihood, -28.4611951791827);
    all_close(&robust_errors(&fit), &[0.850002130668978, 0.510240493626595]);
}

#[test]
fn stratified_fits_with_delayed_entry_agree_with_r() {
    // coxph(Surv(entry, time, end) ~ x + z + strata(s))
    let fit = stratified();
    all_close(&fit.coefficients, &[2.532092256248825, 0.616849440400396]);
    all_close(&errors(&fit), &[0.751260330016497, 0.621641914276937]);
    all_close(&robust_errors(&fit), &[0.969225973503976, 0.341771706737425]);
    close(fit.log_likelihood, -17.3293545619793);
    close(fit.score_test().statistic, 23.4987574538408);
    let found = fit.concordance().unwrap();
    assert_eq!((found.concordant, found.discordant, found.tied), (82.0, 13.0, 0.0));
}

#[test]
fn strata_that_copy_each_other_double_the_information() {
    let twice = |values: &[f64]| [values, values].concat();
    let design =
        Design::builder(48).number("x", &twice(&X)).number("z", &twice(&Z)).build().unwrap();
    let lifetimes = Lifetimes::new(&twice(&TIMES), &[ended(), ended()].concat()).unwrap();
    let strata: Vec<usize> = (0..48).map(|row| 9 - row / 24).collect();
    let fit = fit_cox(&design, &lifetimes, Some(&strata), Ties::Efron).unwrap();
    let single = example(Ties::Efron);
    all_close(&fit.coefficients, &single.coefficients);
    all_close(&errors(&fit), &errors(&single).map(|error| error / 2.0_f64.sqrt()));
    close(fit.log_likelihood, 2.0 * single.log_likelihood);
}

#[test]
fn score_residuals_agree_with_r_and_sum_to_zero() {
    // residuals(fit, type = "score")
    let residuals = example(Ties::Efron).score_residuals();
    let first = [-0.979654339540382, -1.08617340631995, 0.06267736510895579, 0.00621412984587064];
    for (row, expected) in first.into_iter().enumerate() {
        close(residuals[(row, 0)], expected);
    }
    close(residuals[(2, 1)], 0.5128198892806679);
    for sum in residuals.sum_axis(ndarray::Axis(0)) {
        assert!(sum.abs() < 1e-10);
    }
    let breslow = example(Ties::Breslow).score_residuals();
    close(breslow[(3, 0)], 0.0249477364627783);
}

#[test]
fn the_concordance_agrees_with_r() {
    let found = example(Ties::Efron).concordance().unwrap();
    assert_eq!((found.concordant, found.discordant, found.tied), (189.0, 25.0, 0.0));
    close(found.share(), 0.8831775700934579);
}

fn statistics(fit: &CoxFit, scale: TimeScale) -> Vec<f64> {
    let test = fit.proportionality(scale).unwrap();
    let columns = test.columns.iter().map(|column| column.test.statistic);
    columns.chain([test.global.statistic]).collect()
}

#[test]
fn tests_of_proportionality_agree_with_r() {
    // cox.zph(fit, transform =)
    let fit = example(Ties::Efron);
    let identity = [0.5742970558342273, 0.0862933951336904, 0.6103293706171973];
    let logarithm = [0.0620726265735618, 0.0417436832354128, 0.0857921419197490];
    let kaplan_meier = [0.898995798046475, 0.153127413951423, 0.980622013569656];
    all_close(&statistics(&fit, TimeScale::Identity), &identity);
    all_close(&statistics(&fit, TimeScale::Logarithm), &logarithm);
    all_close(&statistics(&fit, TimeScale::KaplanMeier), &kaplan_meier);
    let strata = [1.2565941991803897, 0.0542905020939063, 1.3178449125093408];
    all_close(&statistics(&stratified(), TimeScale::Identity), &strata);
}

#[test]
fn scaled_residuals_agree_with_r() {
    // t(cox.zph(fit)$y)
    let residuals = example(Ties::Efron).scaled_residuals();
    assert_eq!((residuals.len(), residuals[0].row, residuals[0].time), (18, 15, 1.0));
    all_close(&residuals[0].values, &[2.82387581967209, 1.21185099385402]);
    all_close(&residuals[1].values, &[4.84951102350035, 1.32035374326114]);
}

#[test]
fn predicted_hazards_and_their_errors_agree_with_r() {
    // survfit(fit, newdata = data.frame(x = 2, z = 1)): cumhaz and std.err
    let fit = example(Ties::Efron);
    let curve = fit.baseline().predict(&[2.0, 1.0], 0).unwrap();
    let early = curve.hazard_at(4.5).unwrap();
    close(early.value, 0.4773054267186646);
    close(early.standard_error, 0.2631122441219467);
    let late = curve.hazard_at(14.0).unwrap();
    assert!((late.value / 60.16800995243494 - 1.0).abs() < 1e-9);
    assert!((late.standard_error / 55.81012377728955 - 1.0).abs() < 1e-9);
    let fit = example(Ties::Breslow);
    let breslow = fit.baseline().predict(&[2.0, 1.0], 0).unwrap().hazard_at(7.0).unwrap();
    all_close(&[breslow.value, breslow.standard_error], &[2.677707937314036, 1.4398581778164732]);
    let fit = stratified();
    let own = fit.baseline().predict(&[2.0, 1.0], 1).unwrap().hazard_at(5.0).unwrap();
    all_close(&[own.value, own.standard_error], &[0.8444922050232347, 0.513656123255824]);
}

#[test]
fn predictions_say_nothing_beyond_what_was_watched() {
    let fit = stratified();
    let baseline = fit.baseline();
    assert!(matches!(baseline.predict(&[2.0, 1.0], 7), Err(StatsError::UnknownLevel { .. })));
    assert!(matches!(baseline.predict(&[2.0], 0), Err(StatsError::LengthMismatch { .. })));
    assert!(baseline.predict(&[f64::NAN, 1.0], 0).is_err());
    let curve = baseline.predict(&[2.0, 1.0], 0).unwrap();
    assert!(curve.survival_at(14.0).is_err() && curve.hazard_at(-1.0).is_err());
    assert_eq!(curve.interval_at(0.5, 0.95).unwrap(), None);
    let share = curve.survival_at(4.0).unwrap().value;
    let (low, high) = curve.interval_at(4.0, 0.95).unwrap().unwrap();
    assert!(0.0 <= low && low < share && share < high && high <= 1.0);
}

#[test]
fn the_joint_test_of_one_contrast_is_its_z_squared() {
    let fit = example(Ties::Efron);
    let single = fit.contrast(&[1.0, -2.0]).unwrap();
    let joint = fit.joint(&ndarray::array![[1.0, -2.0]]).unwrap();
    close(joint.statistic, single.t_statistic().powi(2));
    close(joint.p_value(), single.p_value());
    let robust = fit.clustered(&clusters()).unwrap();
    let single = robust.contrast(&[1.0, -2.0]).unwrap();
    let joint = robust.joint(&ndarray::array![[1.0, -2.0]]).unwrap();
    close(joint.statistic, single.t_statistic().powi(2));
    close(joint.p_value(), single.p_value());
    let both = fit.joint(&ndarray::array![[1.0, 0.0], [1.0, 1.0]]).unwrap();
    close(2.0 * both.statistic, fit.wald_test().statistic);
    let twice = ndarray::array![[1.0, 0.0], [2.0, 0.0]];
    assert!(matches!(fit.joint(&twice), Err(StatsError::RankDeficient { .. })));
    assert!(matches!(robust.joint(&twice), Err(StatsError::RankDeficient { .. })));
}

#[test]
fn the_score_test_of_two_groups_without_ties_is_the_log_rank_test() {
    let group: Vec<f64> = Z.to_vec();
    let codes: Vec<usize> = Z.iter().map(|&z| z as usize).collect();
    let times: Vec<f64> = (0..24).map(|row| f64::from((row * 7) % 24)).collect();
    let lifetimes = Lifetimes::new(&times, &ended()).unwrap();
    let fit = fit_cox(&one(&group), &lifetimes, None, Ties::Efron).unwrap();
    let groups = log_rank(&lifetimes, &codes, None).unwrap();
    close(fit.score_test().statistic, groups.test.statistic);
}

#[test]
fn with_a_column_of_no_effect_the_baseline_is_the_nelson_aalen_hazard() {
    // x repeats inside every tie and its coefficient is 0 by symmetry
    let times = [1.0, 1.0, 2.0, 2.0, 3.0, 3.0];
    let lifetimes = Lifetimes::new(&times, &[true; 6]).unwrap();
    let design = one(&[0.0, 1.0, 0.0, 1.0, 0.0, 1.0]);
    let fit = fit_cox(&design, &lifetimes, None, Ties::Breslow).unwrap();
    assert!(fit.coefficients[0].abs() < 1e-12);
    let curve = fit.baseline().predict(&[0.0], 0).unwrap();
    let plain = nelson_aalen(&lifetimes);
    for (found, step) in curve.cumulative_hazard.iter().zip(&plain.steps) {
        close(*found, step.hazard);
    }
}

proptest! {
    #[test]
    fn units_and_the_order_of_rows_do_not_matter(
        rows in prop::collection::vec((1_u8..30, any::<bool>(), -2.0_f64..2.0), 12..40),
        scale in 0.001_f64..1000.0, shift in -100.0_f64..100.0,
    ) {
        let times: Vec<f64> = rows.iter().map(|row| f64::from(row.0)).collect();
        let ended: Vec<bool> = rows.iter().map(|row| row.1).collect();
        let x: Vec<f64> = rows.iter().map(|row| row.2).collect();
        let plain = fit_cox(&one(&x), &Lifetimes::new(&times, &ended).unwrap(), None, Ties::Efron);
        let back = |values: &[f64]| values.iter().rev().map(|x| shift + scale * x).collect::<Vec<_>>();
        let later: Vec<f64> = times.iter().rev().map(|time| time.powi(3)).collect();
        let back_ended: Vec<bool> = ended.iter().rev().copied().collect();
        let lifetimes = Lifetimes::new(&later, &back_ended).unwrap();
        // only the order of the times matters, and the coefficient follows the unit
        let moved = fit_cox(&one(&back(&x)), &lifetimes, None, Ties::Efron);
        if let (Ok(plain), Ok(moved)) = (&plain, &moved) {
            let size = plain.contrast(&[1.0]).unwrap().standard_error;
            prop_assert!((plain.coefficients[0] - scale * moved.coefficients[0]).abs() < 1e-7 * size);
            prop_assert!((plain.log_likelihood - moved.log_likelihood).abs() < 1e-8);
        }
        prop_assert_eq!(plain.is_ok(), moved.is_ok());
    }
}

/// Simulated truth: exponential lives with hazard `exp(0.7 x)`, a third of them censored, 120 rows in 24 lots that make no difference. The plain and the
/// clustered interval hold the coefficient about as often as they say, and the test of proportionality is rarely wrong.
#[test]
fn intervals_hold_the_true_coefficient() {
    let held = replicate(5, 250, |generator| {
        let normal = |generator: &mut _| -> f64 { StandardNormal.sample(generator) };
        let x: Vec<f64> = (0..120).map(|_| normal(generator)).collect();
        let drawn: Vec<(f64, f64)> = x
            .iter()
            .map(|x| {
                let (life, censoring): (f64, f64) =
                    (Exp1.sample(generator), Exp1.sample(generator));
                (life * (-0.7 * x).exp(), 2.0 * censoring)
            })
            .collect();
        let times: Vec<f64> = drawn.iter().map(|row| row.0.min(row.1)).collect();
        let ended: Vec<bool> = drawn.iter().map(|row| row.0 <= row.1).collect();
        let lifetimes = Lifetimes::new(&times, &ended).unwrap();
        let fit = fit_cox(&one(&x), &lifetimes, None, Ties::Efron).unwrap();
        let lots: Vec<usize> = (0..120).map(|row| row / 5).collect();
        let robust = fit.clustered(&lots).unwrap();
        let inside = |found: Estimate| {
            let (low, high) = found.interval(0.95).unwrap();
            usize::from(low <= 0.7 && 0.7 <= high)
        };
        let zph = fit.proportionality(TimeScale::KaplanMeier).unwrap();
        let rejected = usize::from(zph.global.p_value() < 0.05);
        [inside(fit.contrast(&[1.0]).unwrap()), inside(robust.contrast(&[1.0]).unwrap()), rejected]
    });
    let share = |place: usize| held.iter().map(|each| each[place]).sum::<usize>() as f64 / 250.0;
    // standard error 0.014; the sandwich of 24 clusters falls a little short
    assert!((0.91..=0.99).contains(&share(0)), "{}", share(0));
    assert!((0.89..=0.99).contains(&share(1)), "{}", share(1));
    assert!(share(2) < 0.1, "{}", share(2));
}

#[test]
fn a_coefficient_that_fades_is_seen() {
    // the hazard ratio is e^2 up to time 0.3 and 1 after it
    let mut generator = stream(3, 0);
    let x: Vec<f64> = (0..600).map(|_| f64::from(u8::from(generator.random::<bool>()))).collect();
    let life = |x: f64, risk: f64| {
        let early = (2.0 * x).exp();
        if risk < 0.3 * early { risk / early } else { 0.3 + risk - 0.3 * early }
    };
    let times: Vec<f64> = x.iter().map(|&x| life(x, Exp1.sample(&mut generator))).collect();
    let lifetimes = Lifetimes::new(&times, &[true; 600]).unwrap();
    let fit = fit_cox(&one(&x), &lifetimes, None, Ties::Efron).unwrap();
    for scale in [TimeScale::Identity, TimeScale::Logarithm, TimeScale::KaplanMeier] {
        let trend = &fit.proportionality(scale).unwrap().columns[0];
        assert!(trend.test.p_value() < 1e-4 && trend.slope < 0.0);
    }
}
