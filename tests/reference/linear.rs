//! Least squares and what is said about it.

use crate::reference::case::{Case, Check};
use canewright::stats::design::Design;
use canewright::stats::linear::{
    Centring, ClusterCorrection, LinearFit, RowCorrection, condition_number, least_squares,
    least_squares_linfa, variance_inflation,
};
use canewright::stats::products::Products;

pub const CHECKS: &[(&str, Check)] = &[
    ("nist_lls_norris", norris_is_certified),
    ("nist_lls_noint1", a_line_through_the_origin_is_certified),
    ("nist_lls_noint2", a_line_through_the_origin_is_certified),
    ("nist_lls_wampler1", a_polynomial_of_the_fifth_degree_is_certified),
    ("nist_lls_wampler2", a_polynomial_of_the_fifth_degree_is_certified),
    ("nist_lls_wampler3", a_polynomial_of_the_fifth_degree_is_certified),
    ("nist_lls_wampler4", a_polynomial_of_the_fifth_degree_is_certified),
    ("nist_lls_wampler5", a_polynomial_of_the_fifth_degree_is_certified),
    ("nist_lls_pontius", a_parabola_is_certified),
    ("nist_lls_filip", a_polynomial_of_the_tenth_degree_is_certified),
    ("nist_lls_longley", longley_is_certified_and_linfa_agrees),
    ("nist_anova_sirstv", an_analysis_of_variance_is_certified),
    ("nist_anova_smls01", an_analysis_of_variance_is_certified),
    ("nist_anova_smls02", an_analysis_of_variance_is_certified),
    ("nist_anova_smls04", an_analysis_of_variance_is_certified),
    ("nist_anova_smls07", an_analysis_of_variance_is_certified),
    ("ols_hc3_mtcars", errors_for_unequal_spread_agree),
    ("cluster_se_sleepstudy", cluster_robust_errors_agree),
    ("vif_longley", variance_inflation_and_condition_number_agree),
];

/// A case whose coefficients are called `b0`, `b1`, ... in the order of the design.
fn certified(case: &mut Case, first: usize, design: &Design) -> LinearFit {
    let outcome = case.numbers("y");
    let fit = least_squares(design, &outcome).unwrap();
    let largest = |values: &[f64]| values.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    let size = largest(&outcome);
    for place in 0..design.columns() {
        let mut contrast = vec![0.0; design.columns()];
        contrast[place] = 1.0;
        let found = fit.classical(&contrast).unwrap();
        let number = place + first;
        let column = largest(&design.matrix.column(place).to_vec());
        case.compare(&format!("b{number}"), found.value);
        case.compare_scaled(&format!("se_b{number}"), found.standard_error, size / column);
    }
    fit_as_a_whole(case, &fit, size);
    fit
}

fn fit_as_a_whole(case: &mut Case, fit: &LinearFit, size: f64) {
    let regression = fit.regression_degrees_of_freedom as f64;
    let noise = fit.residual_standard_deviation();
    case.compare_scaled("resid_sd", noise, size);
    case.compare("r_squared", fit.r_squared());
    case.compare("df_regression", regression);
    case.compare("df_residual", fit.residual_degrees_of_freedom as f64);
    case.compare("ss_regression", fit.regression_sum_of_squares);
    case.compare_scaled("ss_residual", fit.residual_sum_of_squares, size * size);
    // an exact fit has no F statistic, and those cases give none
    if noise > 1e-6 * size {
        let f = fit.regression_sum_of_squares / regression / (noise * noise);
        case.compare("f_statistic", f);
    }
}

/// Powers by multiplication one after the other, which gives the same doubles on every machine.
fn polynomial(case: &Case, degree: usize) -> Design {
    let x = case.numbers("x");
    let mut builder = Design::builder(x.len()).intercept();
    let mut values = vec![1.0; x.len()];
    for power in 1..=degree {
        values.iter_mut().zip(&x).for_each(|(value, x)| *value *= x);
        builder = builder.number(&format!("x^{power}"), &values);
    }
    builder.build().unwrap()
}

fn line(case: &Case) -> Design {
    let x = case.numbers("x");
    Design::builder(x.len()).intercept().number("x", &x).build().unwrap()
}

fn longley(case: &Case, names: &[&str]) -> Design {
    let mut builder = Design::builder(16).intercept();
    for name in names {
        builder = builder.number(name, &case.numbers(name));
    }
    builder.build().unwrap()
}

fn norris_is_certified(case: &mut Case) {
    let design = line(case);
    certified(case, 0, &design);
}

fn a_line_through_the_origin_is_certified(case: &mut Case) {
    let x = case.numbers("x");
    let design = Design::builder(x.len()).number("x", &x).build().unwrap();
    certified(case, 1, &design);
}

fn a_polynomial_of_the_fifth_degree_is_certified(case: &mut Case) {
    let design = polynomial(case, 5);
    certified(case, 0, &design);
}

fn a_parabola_is_certified(case: &mut Case) {
    let design = polynomial(case, 2);
    certified(case, 0, &design);
}

/// Coefficients and standard errors of Filip for the powers of x as doubles hold them: exact rational arithmetic (Python 3.11, `fractions`; powers multiplied
/// one after the other in double precision). They differ from the certified values by 1.3e-8: that is what rounding the powers costs, whatever fits them.
const FILIP_AS_HELD: [(f64, f64); 11] = [
    (-1467.4896313887714, 298.0845304564331),
    (-2772.1796242619316, 559.7798644581967),
    (-2316.371108609359, 466.4775712737701),
    (-1127.9739541497518, 227.2042740568501),
    (-354.4782378552308, 71.64786595274843),
    (-75.12420262435174, 15.289717845386996),
    (-10.875318164699452, 2.23691159376235),
    (-1.0622149986404843, 0.22162432148628003),
    (-0.06701911627445624, 0.014236376285786287),
    (-0.002467810813235648, 0.000535617407733857),
    (-4.029625301456807e-05, 8.966328353654346e-06),
];

fn a_polynomial_of_the_tenth_degree_is_certified(case: &mut Case) {
    let design = polynomial(case, 10);
    let fit = certified(case, 0, &design);
    for (name, (value, error)) in design.names.iter().zip(FILIP_AS_HELD) {
        let found = fit.classical(&fit.pick(name).unwrap()).unwrap();
        assert!((found.value / value - 1.0).abs() < 1e-13, "{name} {found:?}");
        assert!((found.standard_error / error - 1.0).abs() < 1e-13, "{name} {found:?}");
    }
}

fn longley_is_certified_and_linfa_agrees(case: &mut Case) {
    let design = longley(case, &["x1", "x2", "x3", "x4", "x5", "x6"]);
    let fit = certified(case, 0, &design);
    // NIST StRD, Longley, certified to 15 digits; here to thirteen
    let exact = [-3482258.63459582, 15.0618722713733, -0.358191792925910E-01];
    for (found, exact) in fit.coefficients.iter().zip(exact) {
        assert!(((found - exact) / exact).abs() < 1e-13, "{found} {exact}");
    }
    let linfa = least_squares_linfa(&design, &case.numbers("y")).unwrap();
    for (ours, theirs) in fit.coefficients.iter().zip(linfa) {
        assert!(((ours - theirs) / ours).abs() < 1e-6, "{ours} {theirs}");
    }
}

/// The sum of squares between the treatments of SmLs07 over the data as doubles hold them: exact rational arithmetic (Python 3.11, `fractions`, each cell read
/// with `float`). The certified 1.68 is that of the decimal data; numbers near 1e12 lie 1.2e-4 apart, so no method that reads doubles comes nearer than this.
const SMLS07_AS_HELD: f64 = 1.6801562694014696;

/// The one-way analysis by the linear model, and the inner sum of squares once more from the group products.
fn an_analysis_of_variance_is_certified(case: &mut Case) {
    let outcome = case.numbers("response");
    let builder = Design::builder(outcome.len()).intercept();
    let design = builder.choice("treatment", &case.texts("treatment"), None).build().unwrap();
    let fit = least_squares(&design, &outcome).unwrap();
    let between = fit.regression_degrees_of_freedom as f64;
    let noise = fit.residual_standard_deviation();
    case.compare("df_between", between);
    case.compare("df_within", fit.residual_degrees_of_freedom as f64);
    case.compare("ss_between", fit.regression_sum_of_squares);
    case.compare("ss_within", fit.residual_sum_of_squares);
    case.compare("ms_between", fit.regression_sum_of_squares / between);
    case.compare("ms_within", noise * noise);
    case.compare("f_statistic", fit.regression_sum_of_squares / between / (noise * noise));
    case.compare("r_squared", fit.r_squared());
    case.compare("resid_sd", noise);
    if case.text("source").contains("SmLs07") {
        let error = fit.regression_sum_of_squares / SMLS07_AS_HELD - 1.0;
        assert!(error.abs() < 1e-12, "{error:e}");
    }
    let ones = Design::builder(outcome.len()).intercept().build().unwrap();
    let products = Products::new(&ones, &outcome, &case.codes("treatment")).unwrap();
    case.compare("ss_within", products.within()[(1, 1)]);
}

fn errors_for_unequal_spread_agree(case: &mut Case) {
    let outcome = case.numbers("mpg");
    let mut builder = Design::builder(outcome.len()).intercept();
    for name in ["wt", "hp", "qsec"] {
        builder = builder.number(name, &case.numbers(name));
    }
    let fit = least_squares(&builder.build().unwrap(), &outcome).unwrap();
    let rows: Vec<usize> = (0..outcome.len()).collect();
    let each_row = fit.clustered(&rows).unwrap();
    for (name, column) in [("0", "intercept"), ("wt", "wt"), ("hp", "hp"), ("qsec", "qsec")] {
        let contrast = fit.pick(column).unwrap();
        let classical = fit.classical(&contrast).unwrap();
        let robust = fit.hc3(&contrast).unwrap();
        let (low, high) = robust.interval(0.95).unwrap();
        case.compare(&format!("b_{name}"), classical.value);
        case.compare(&format!("se_classic_{name}"), classical.standard_error);
        case.compare(&format!("t_{name}"), classical.t_statistic());
        case.compare(&format!("p_{name}"), classical.p_value());
        case.compare(&format!("se_hc3_{name}"), robust.standard_error);
        case.compare(&format!("hc3_ci95_lo_{name}"), low);
        case.compare(&format!("hc3_ci95_hi_{name}"), high);
        // clusters of one row make CR2 the HC2 error
        let single = each_row.contrast(&contrast).unwrap();
        case.compare(&format!("se_hc2_{name}"), single.standard_error);
        for (kind, correction) in [
            ("hc0", RowCorrection::Hc0),
            ("hc1", RowCorrection::Hc1),
            ("hc2", RowCorrection::Hc2),
            ("hc4", RowCorrection::Hc4),
        ] {
            let found = fit.heteroskedastic(correction).unwrap().contrast(&contrast).unwrap();
            case.compare(&format!("se_{kind}_{name}"), found.standard_error);
        }
    }
    let slopes = ndarray::Array2::from_shape_fn((3, 4), |(i, j)| f64::from(u8::from(j == i + 1)));
    case.compare("f_statistic", fit.classical_joint(&slopes).unwrap().statistic);
    case.compare("r_squared", fit.r_squared());
    case.compare("resid_sd", fit.residual_standard_deviation());
    let leverages = fit.leverages();
    case.compare("max_hat", leverages.into_iter().fold(0.0, f64::max));
    case.compare("adj_r_squared", fit.adjusted_r_squared());
    case.compare("loglik", fit.log_likelihood().unwrap());
    case.compare("aic", fit.akaike().unwrap());
    case.compare("bic", fit.bayesian().unwrap());
    case.compare("max_cook", fit.cooks_distances().unwrap().into_iter().fold(0.0, f64::max));
    case.compare("durbin_watson", fit.durbin_watson().unwrap());
}

fn cluster_robust_errors_agree(case: &mut Case) {
    let days = case.numbers("days");
    let design = Design::builder(days.len()).intercept().number("days", &days);
    let fit = least_squares(&design.build().unwrap(), &case.numbers("reaction")).unwrap();
    let robust = fit.clustered(&case.codes("subject")).unwrap();
    for (name, column) in [("0", "intercept"), ("days", "days")] {
        let contrast = fit.pick(column).unwrap();
        let classical = fit.classical(&contrast).unwrap();
        let found = robust.contrast(&contrast).unwrap();
        case.compare(&format!("b_{name}"), found.value);
        case.compare(&format!("se_classic_{name}"), classical.standard_error);
        case.compare(&format!("se_cr2_{name}"), found.standard_error);
        case.compare(&format!("cr2_df_{name}"), found.degrees_of_freedom);
        case.compare(&format!("cr2_p_{name}"), found.p_value());
        for (kind, correction) in [
            ("cr0", ClusterCorrection::Cr0),
            ("cr1", ClusterCorrection::Cr1),
            ("cr1s", ClusterCorrection::Cr1s),
        ] {
            let simpler = robust.corrected(&contrast, correction).unwrap();
            case.compare(&format!("se_{kind}_{name}"), simpler.standard_error);
        }
    }
}

fn variance_inflation_and_condition_number_agree(case: &mut Case) {
    let names = ["gnp_deflator", "gnp", "unemployed", "armed", "population", "year"];
    let design = longley(case, &names);
    for (name, factor) in variance_inflation(&design).unwrap() {
        case.compare(&format!("vif_{name}"), factor);
    }
    let number = condition_number(&design, Centring::Mean).unwrap();
    case.compare("condition_number_corr", number);
}
