//! Yes/no and ordered outcomes, and ratios of coefficients.

use crate::reference::case::{Case, Check};
use canewright::stats::design::Design;
use canewright::stats::linear::least_squares;
use canewright::stats::logistic::{
    BinomialOutcome, LogisticFit, area_under_curve, brier_score, fit_firth, fit_logistic,
};
use canewright::stats::numeric::quantile;
use canewright::stats::ordinal::{OrderedOutcome, fit_ordinal, fit_ordinal_mixed};
use canewright::stats::ratio::{FiellerSet, Ratio};
use canewright::stats::resample::{bootstrap_indices, replicate};
use ndarray::Array2;

pub const CHECKS: &[(&str, Check)] = &[
    ("logistic_birthwt", low_birth_weight_agrees),
    ("logistic_ld50_budworm", the_dose_that_kills_half_agrees),
    ("firth_endometrial", firth_with_a_separating_column_agrees),
    ("ordinal_wine", the_bitterness_of_wine_agrees),
    ("sweetspot_engelstad", the_best_nitrogen_agrees),
];

fn near(found: f64, expected: f64, relative: f64) {
    let off = (found - expected).abs();
    assert!(off <= relative * expected.abs(), "{found} is not {expected}");
}

fn low_birth_weight_agrees(case: &mut Case) {
    let low = case.numbers("low");
    let race = case.texts("race");
    let design = Design::builder(low.len())
        .intercept()
        .number("age", &case.numbers("age"))
        .number("lwt", &case.numbers("lwt"))
        .choice("race", &race, Some("1"))
        .number("ftv", &case.numbers("ftv"))
        .build()
        .unwrap();
    let outcome = BinomialOutcome::binary(&low).unwrap();
    let fit = fit_logistic(&design, &outcome).unwrap();
    for column in &fit.names {
        let found = fit.contrast(&fit.pick(column).unwrap()).unwrap();
        let name = column.replace("race: ", "race").replace("intercept", "0");
        case.compare(&format!("b_{name}"), found.value);
        case.compare(&format!("se_{name}"), found.standard_error);
        case.compare(&format!("z_{name}"), found.t_statistic());
        case.compare(&format!("p_{name}"), found.p_value());
    }
    // MASS 7.3.58.2, confint(glm(.)) under R 4.2.2, whose profile is interpolated to about four digits
    let profiles = [("age", -0.091651400, 0.041266801), ("lwt", -0.027819773, -0.002049746)];
    for (name, low, high) in profiles {
        let found = fit.profile_interval(&fit.pick(name).unwrap(), 0.95).unwrap();
        near(found.0, low, 1e-3);
        near(found.1, high, 1e-3);
    }
    case.compare("loglik", fit.log_likelihood);
    case.compare("deviance", fit.deviance);
    case.compare("null_deviance", fit.null_deviance);
    case.compare("aic", fit.akaike());
    let slopes = Array2::from_shape_fn((5, 6), |(i, j)| f64::from(u8::from(j == i + 1)));
    let ratio = fit.likelihood_ratio(&slopes).unwrap();
    case.compare("lr_chisq", ratio.statistic * ratio.numerator);
    case.compare("brier", brier_score(&outcome, &fit.probabilities).unwrap());
    case.compare("auc", area_under_curve(&outcome, &fit.probabilities).unwrap());
}

/// The dose at which a share of the females responds, from `share = logistic(b_f + b_d dose)`.
fn dose(fit: &LogisticFit, share: f64) -> Ratio {
    let (female, slope) = (fit.pick("sexf").unwrap(), fit.pick("ldose").unwrap());
    let log_odds = (share / (1.0 - share)).ln();
    let [start, rise] = [&female, &slope].map(|contrast| fit.contrast(contrast).unwrap());
    let variances = (start.standard_error.powi(2), rise.standard_error.powi(2));
    let covariance = -fit.covariance(&female, &slope).unwrap();
    Ratio::new(log_odds - start.value, rise.value, variances, covariance, f64::INFINITY).unwrap()
}

fn the_dose_that_kills_half_agrees(case: &mut Case) {
    let sex = case.texts("sex");
    let is = |wanted: &str| -> Vec<f64> {
        sex.iter().map(|other| f64::from(u8::from(other == wanted))).collect()
    };
    let design = Design::builder(sex.len())
        .number("sexf", &is("F"))
        .number("sexm", &is("M"))
        .number("ldose", &case.numbers("ldose"))
        .build()
        .unwrap();
    let outcome = BinomialOutcome::counts(&case.numbers("numdead"), &case.numbers("n")).unwrap();
    let fit = fit_logistic(&design, &outcome).unwrap();
    for name in ["sexf", "sexm", "ldose"] {
        let found = fit.contrast(&fit.pick(name).unwrap()).unwrap();
        case.compare(&format!("b_{name}"), found.value);
        case.compare(&format!("se_{name}"), found.standard_error);
    }
    case.compare("deviance", fit.deviance);
    for (name, share) in [("ld25", 0.25), ("ld50", 0.5), ("ld75", 0.75)] {
        let found = dose(&fit, share).delta();
        case.compare(&format!("female_{name}"), found.value);
        case.compare(&format!("female_{name}_delta_se"), found.standard_error);
    }
    let set = dose(&fit, 0.5).fieller(0.95).unwrap();
    let FiellerSet::Interval { low, high } = set else { panic!("{set:?}") };
    case.compare("female_ld50_fieller_lo", low);
    case.compare("female_ld50_fieller_hi", high);
}

fn firth_with_a_separating_column_agrees(case: &mut Case) {
    let outcome = BinomialOutcome::binary(&case.numbers("hg")).unwrap();
    let mut builder = Design::builder(outcome.rows()).intercept();
    for name in ["nv", "pi", "eh"] {
        builder = builder.number(name, &case.numbers(name));
    }
    let design = builder.build().unwrap();
    let fit = fit_firth(&design, &outcome).unwrap();
    for column in &fit.names {
        let contrast = fit.pick(column).unwrap();
        let found = fit.contrast(&contrast).unwrap();
        let name = if column == "intercept" { "0" } else { column };
        case.compare(&format!("b_{name}"), found.value);
        case.compare(&format!("se_{name}"), found.standard_error);
        let row = Array2::from_shape_vec((1, 4), contrast.clone()).unwrap();
        let ratio = fit.likelihood_ratio(&row).unwrap();
        case.compare(&format!("plr_chisq_{name}"), ratio.statistic);
        let (low, high) = fit.profile_interval(&contrast, 0.95).unwrap();
        case.compare(&format!("plr_ci95_lo_{name}"), low);
        case.compare(&format!("plr_ci95_hi_{name}"), high);
    }
    case.compare("pen_loglik", fit.penalised_log_likelihood);
}

fn the_bitterness_of_wine_agrees(case: &mut Case) {
    let rating = case.numbers("rating");
    let design = Design::builder(rating.len())
        .choice("temp", &case.texts("temp"), Some("cold"))
        .choice("contact", &case.texts("contact"), Some("no"))
        .build()
        .unwrap();
    let outcome = OrderedOutcome::new(&rating).unwrap();
    let fit = fit_ordinal(&design, &outcome).unwrap();
    let mixed = fit_ordinal_mixed(&design, &outcome, &case.codes("judge")).unwrap();
    for (column, name) in [("temp: warm", "tempwarm"), ("contact: yes", "contactyes")] {
        let contrast = fit.pick(column).unwrap();
        let found = fit.contrast(&contrast).unwrap();
        case.compare(&format!("b_{name}"), found.value);
        case.compare(&format!("se_{name}"), found.standard_error);
        case.compare(&format!("p_{name}"), found.p_value());
        let inside = mixed.contrast(&contrast).unwrap();
        case.compare(&format!("clmm_{name}"), inside.value);
        case.compare(&format!("clmm_se_{name}"), inside.standard_error);
    }
    for place in 0..4 {
        let number = place + 1;
        let found = fit.threshold(place).unwrap();
        case.compare(&format!("thr_{number}"), found.value);
        case.compare(&format!("se_thr_{number}"), found.standard_error);
        let inside = mixed.threshold(place).unwrap();
        case.compare(&format!("clmm_thr_{number}"), inside.value);
        case.compare(&format!("clmm_se_thr_{number}"), inside.standard_error);
    }
    case.compare("loglik", fit.log_likelihood);
    case.compare("aic", fit.akaike());
    let ratio = fit.likelihood_ratio();
    case.compare("lr_chisq", ratio.statistic * ratio.numerator);
    case.compare("clmm_var_judge", mixed.sd_group.powi(2));
    case.compare("clmm_loglik", mixed.log_likelihood);
    // sandwich 3.0.2 under R 4.2.2: sqrt(diag(vcovCL(polr(rating ~ temp + contact), cluster = judge, type = "HC0", cadjust = TRUE)))
    let judges = fit.clustered(&case.codes("judge")).unwrap();
    for (column, error) in [("temp: warm", 0.35390148823), ("contact: yes", 0.43439776373)] {
        let found = judges.contrast(&fit.pick(column).unwrap()).unwrap();
        near(found.standard_error, error, 1e-5);
    }
    // ordinal 2022.11.16: ranef and sqrt(condVar) of clmm(rating ~ temp + contact + (1 | judge), nAGQ = 25), judges 1 and 7
    let effects = mixed.group_effects();
    for (place, effect, error) in
        [(0, 1.6984636583, 0.5542155054), (6, -1.9136067802, 0.5866240607)]
    {
        near(effects[place].effect, effect, 1e-4);
        near(effects[place].standard_error, error, 1e-4);
    }
}

fn the_best_nitrogen_agrees(case: &mut Case) {
    let (dose, outcome) = (case.numbers("nitro"), case.numbers("yield"));
    let squares: Vec<f64> = dose.iter().map(|x| x * x).collect();
    let builder = Design::builder(dose.len()).intercept();
    let design = builder.number("x", &dose).number("x^2", &squares).build().unwrap();
    let fit = least_squares(&design, &outcome).unwrap();
    let estimate = |contrast: [f64; 3]| fit.classical(&contrast).unwrap();
    let units = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let parts = units.map(estimate);
    for (place, part) in parts.iter().enumerate() {
        case.compare(&format!("b{place}"), part.value);
        case.compare(&format!("se_b{place}"), part.standard_error);
    }
    // var(b1 + k b2) = v1 + 2 k cov + k^2 v2; k of the size of v1 / v2 keeps the digits
    let [_, v1, v2] = parts.map(|part| part.standard_error.powi(2));
    let k = (v1 / v2).sqrt();
    let joint = estimate([0.0, 1.0, k]).standard_error.powi(2);
    let covariance = (joint - v1 - k * k * v2) / (2.0 * k);
    case.compare("cov_b1_b2", covariance);
    let free = fit.residual_degrees_of_freedom as f64;
    let (b1, b2) = (parts[1].value, parts[2].value);
    let best = Ratio::optimum_of_quadratic(b1, b2, (v1, v2), covariance, free).unwrap();
    let delta = best.delta();
    case.compare("x_opt", delta.value);
    case.compare("y_opt", estimate([1.0, delta.value, delta.value.powi(2)]).value);
    case.compare("delta_se", delta.standard_error);
    let (low, high) = delta.interval(0.95).unwrap();
    case.compare("delta_ci95_lo", low);
    case.compare("delta_ci95_hi", high);
    let set = best.fieller(0.95).unwrap();
    let FiellerSet::Interval { low, high } = set else { panic!("{set:?}") };
    case.compare("fieller_ci95_lo", low);
    case.compare("fieller_ci95_hi", high);
    let optima = bootstrapped_optima(&design, &outcome);
    case.compare("boot_pct_ci95_lo", quantile(&optima, 0.025).unwrap());
    case.compare("boot_pct_ci95_hi", quantile(&optima, 0.975).unwrap());
}

/// The optimum in samples of rows drawn with replacement; a sample without three doses has none.
fn bootstrapped_optima(design: &Design, outcome: &[f64]) -> Vec<f64> {
    let optima = replicate(1, 10_000, |generator| {
        let rows = bootstrap_indices(generator, outcome.len());
        let matrix = design.matrix.select(ndarray::Axis(0), &rows);
        let drawn: Vec<f64> = rows.iter().map(|&row| outcome[row]).collect();
        let design = Design { names: design.names.clone(), matrix };
        let fit = least_squares(&design, &drawn).ok()?;
        let [b1, b2] = [1, 2].map(|place| fit.coefficients[place]);
        Some(-b1 / (2.0 * b2))
    });
    optima.into_iter().flatten().collect()
}
