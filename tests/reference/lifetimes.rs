//! How long things last, and cells that are missing.

use crate::reference::case::{Case, Check};
use canewright::stats::design::Design;
use canewright::stats::impute::{IncompleteTable, pool};
use canewright::stats::linear::{LinearFit, least_squares};
use canewright::stats::survival::{
    CoxFit, Lifetimes, Ties, fit_cox, fit_weibull, kaplan_meier, log_rank, weighted_log_rank,
};

pub const CHECKS: &[(&str, Check)] = &[
    ("survival_aml", maintained_remissions_agree),
    ("survival_gehan_6mp", remissions_under_6_mp_agree),
    ("missing_nhanes", pooled_estimates_agree),
];

fn lifetimes(case: &Case, status: &str) -> Lifetimes {
    let ended: Vec<bool> = case.numbers(status).iter().map(|&status| status == 1.0).collect();
    Lifetimes::new(&case.numbers("time"), &ended).unwrap()
}

/// Points of the curve of one group with their errors, and its median.
fn curve(case: &mut Case, name: &str, group: &Lifetimes, times: &[f64]) {
    let curve = kaplan_meier(group);
    for &time in times {
        let found = curve.survival_at(time).unwrap();
        case.compare(&format!("{name}_km_t{time}"), found.value);
        // no error is given where the curve is 0
        if found.value > 0.0 {
            case.compare(&format!("{name}_km_se_t{time}"), found.standard_error);
        }
    }
    case.compare(&format!("{name}_median"), curve.median(0.95).unwrap().value.unwrap());
}

fn hazard_ratio(case: &mut Case, prefix: &str, column: &str, fit: &CoxFit) {
    let found = fit.contrast(&[1.0]).unwrap();
    case.compare(&format!("{prefix}_b_{column}"), found.value);
    case.compare(&format!("{prefix}_se_{column}"), found.standard_error);
    case.compare(&format!("{prefix}_hr_{column}"), found.value.exp());
    case.compare(&format!("{prefix}_loglik_null"), fit.log_likelihood_null);
    case.compare(&format!("{prefix}_loglik"), fit.log_likelihood);
    case.compare(&format!("{prefix}_lr_chisq"), fit.likelihood_ratio_test().statistic);
}

/// One 0/1 column for the rows of a level.
fn indicator(case: &Case, column: &str, level: &str) -> Vec<f64> {
    case.texts(column).iter().map(|cell| f64::from(u8::from(cell == level))).collect()
}

fn maintained_remissions_agree(case: &mut Case) {
    let all = lifetimes(case, "status");
    let groups = case.codes("x");
    let maintained = all.of_group(&groups, 0).unwrap();
    curve(case, "maint", &maintained, &[9.0, 13.0, 23.0, 31.0, 48.0]);
    curve(case, "nonm", &all.of_group(&groups, 1).unwrap(), &[5.0, 8.0, 12.0, 23.0, 33.0]);
    let (low, high) = kaplan_meier(&maintained).interval_at(23.0, 0.95).unwrap().unwrap();
    case.compare("maint_km_t23_loglog_lo", low);
    case.compare("maint_km_t23_loglog_hi", high);
    case.compare("logrank_chisq", log_rank(&all, &groups, None).unwrap().test.statistic);
    let column = indicator(case, "x", "Nonmaintained");
    let design = Design::builder(column.len()).number("nonm", &column).build().unwrap();
    hazard_ratio(case, "cox", "nonm", &fit_cox(&design, &all, None, Ties::Efron).unwrap());
}

fn remissions_under_6_mp_agree(case: &mut Case) {
    let all = lifetimes(case, "cens");
    let groups = case.codes("treat");
    let treated = all.of_group(&groups, 0).unwrap();
    curve(case, "mp", &treated, &[6.0, 7.0, 10.0, 13.0, 16.0, 22.0, 23.0]);
    curve(case, "ctl", &all.of_group(&groups, 1).unwrap(), &[1.0, 5.0, 8.0, 12.0, 23.0]);
    case.compare("logrank_chisq", log_rank(&all, &groups, None).unwrap().test.statistic);
    let early = weighted_log_rank(&all, &groups, None, 1.0).unwrap();
    case.compare("peto_chisq", early.test.statistic);
    let column = indicator(case, "treat", "6-MP");
    let design = Design::builder(column.len()).number("trt", &column).build().unwrap();
    hazard_ratio(case, "cox", "trt", &fit_cox(&design, &all, None, Ties::Efron).unwrap());
    hazard_ratio(case, "breslow", "trt", &fit_cox(&design, &all, None, Ties::Breslow).unwrap());
    let design = Design::builder(column.len()).intercept().number("trt", &column).build();
    let weibull = fit_weibull(&design.unwrap(), &all).unwrap();
    case.compare("weibull_b_0", weibull.coefficients[0]);
    case.compare("weibull_b_trt", weibull.coefficients[1]);
    case.compare("weibull_scale", weibull.scale);
    case.compare("weibull_loglik", weibull.log_likelihood);
}

/// The cells of one filled table, 0 the incomplete one.
fn cells(case: &Case, imputation: &str, column: &str) -> Vec<Option<f64>> {
    let numbers = case.texts("imputation");
    let pairs = numbers.iter().zip(case.texts(column));
    let own = pairs.filter(|(number, _)| *number == imputation);
    own.map(|(_, cell)| (!cell.is_empty()).then(|| cell.parse().expect("a number"))).collect()
}

const COLUMNS: [(&str, &str); 3] = [("0", "intercept"), ("age", "age"), ("bmi", "bmi")];

/// `chl ~ 1 + age + bmi` on the rows that have all three.
fn cholesterol(case: &Case, imputation: &str, rows: &[usize]) -> LinearFit {
    let column = |name: &str| -> Vec<f64> {
        let cells = cells(case, imputation, name);
        rows.iter().map(|&row| cells[row].expect("complete")).collect()
    };
    let design = Design::builder(rows.len()).intercept();
    let design = design.number("age", &column("age")).number("bmi", &column("bmi"));
    least_squares(&design.build().unwrap(), &column("chl")).unwrap()
}

fn pooled_estimates_agree(case: &mut Case) {
    let mut table = IncompleteTable::new(cells(case, "0", "age").len()).unwrap();
    for name in ["age", "bmi", "hyp", "chl"] {
        table = table.number(name, &cells(case, "0", name)).unwrap();
    }
    for (name, count) in table.missing_counts() {
        case.compare(&format!("n_missing_{name}"), count as f64);
    }
    case.compare("n_complete", table.complete_rows().len() as f64);
    case.compare("n_patterns", table.patterns().len() as f64);
    let complete = cholesterol(case, "0", &table.complete_rows());
    let all: Vec<usize> = (0..table.rows()).collect();
    let filled = ["1", "2", "3", "4", "5"].map(|number| cholesterol(case, number, &all));
    for (name, column) in COLUMNS {
        let contrast = complete.pick(column).unwrap();
        let found = complete.classical(&contrast).unwrap();
        case.compare(&format!("cc_b_{name}"), found.value);
        case.compare(&format!("cc_se_{name}"), found.standard_error);
        let estimates = filled.each_ref().map(|fit| fit.classical(&contrast).unwrap());
        let pooled = pool(&estimates).unwrap();
        case.compare(&format!("mi_b_{name}"), pooled.estimate.value);
        case.compare(&format!("mi_se_{name}"), pooled.estimate.standard_error);
        case.compare(&format!("mi_df_{name}"), pooled.estimate.degrees_of_freedom);
        case.compare(&format!("mi_p_{name}"), pooled.estimate.p_value());
        case.compare(&format!("mi_riv_{name}"), pooled.relative_increase);
        case.compare(&format!("mi_lambda_{name}"), pooled.share_of_variance);
        case.compare(&format!("mi_fmi_{name}"), pooled.fraction_missing);
    }
}
