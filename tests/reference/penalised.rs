//! Shrinking, choosing, and smoothing.

use crate::reference::case::{Case, Check};
use canewright::stats::design::Design;
use canewright::stats::penalised::{
    Folds, PenalisedFit, Ridge, cross_validate, elastic_net, largest_penalty, penalised_fits,
};
use canewright::stats::products::Products;
use canewright::stats::smooth::SmoothingSpline;

pub const CHECKS: &[(&str, Check)] = &[
    ("lasso_diabetes", the_elastic_net_and_its_cross_validation_agree),
    ("ridge_longley", ridge_agrees),
    ("spline_nhtemp", the_smoothing_spline_agrees),
];

fn design(case: &Case, names: &[&str]) -> Design {
    let first = case.numbers(names[0]);
    let builder = Design::builder(first.len());
    let columns = names.iter().fold(builder, |b, name| b.number(name, &case.numbers(name)));
    columns.build().unwrap()
}

const PATIENT: [&str; 10] = ["age", "sex", "bmi", "bp", "s1", "s2", "s3", "s4", "s5", "s6"];

fn compare_rule(case: &mut Case, label: &str, names: &[&str], rule: &PenalisedFit) {
    case.compare(&format!("{label}_b_0"), rule.intercept);
    for (name, &coefficient) in names.iter().zip(&rule.coefficients) {
        case.compare(&format!("{label}_b_{name}"), coefficient);
    }
}

/// Rows through linfa, and once more from cross-products.
fn the_elastic_net_and_its_cross_validation_agree(case: &mut Case) {
    let design = design(case, &PATIENT);
    let outcome = case.numbers("y");
    let groups = case.codes("fold");
    let products = Products::new(&design, &outcome, &groups).unwrap();
    case.compare("lambda_max_lasso", largest_penalty(&products, 1.0).unwrap());
    for (mixing, of_mixing) in [(1.0, "alpha1"), (0.5, "alpha0_5"), (0.1, "alpha0_1")] {
        for penalty in [10.0, 2.0] {
            let label = format!("en_{of_mixing}_lambda{penalty}");
            let rule = elastic_net(&design, &outcome, penalty, mixing).unwrap();
            compare_rule(case, &label, &PATIENT, &rule);
            case.compare(&format!("{label}_nonzero"), rule.kept().len() as f64);
            let from_products = penalised_fits(&products, mixing, &[penalty]).unwrap();
            compare_rule(case, &label, &PATIENT, &from_products[0]);
        }
    }
    let tried = [
        (20.0, "20"),
        (10.0, "10"),
        (5.0, "5"),
        (2.0, "2"),
        (1.0, "1"),
        (0.5, "0_5"),
        (0.2, "0_2"),
    ];
    let folds = Folds::each_group(&groups).unwrap();
    let found = cross_validate(&products, &folds, 1.0, &tried.map(|(penalty, _)| penalty)).unwrap();
    for (place, (_, label)) in tried.iter().enumerate() {
        let error = found.mean_squared_errors[place];
        case.compare(&format!("cv_mse_lasso_lambda{label}"), error);
    }
    case.compare("cv_best_lambda_lasso", found.best_penalty());
}

fn ridge_agrees(case: &mut Case) {
    let names = ["gnp_deflator", "gnp", "unemployed", "armed", "population", "year"];
    let ridge = Ridge::new(&design(case, &names), &case.numbers("y")).unwrap();
    for (penalty, label) in [(0.01, "lambda0_01"), (0.1, "lambda0_1"), (1.0, "lambda1")] {
        let found = ridge.fit(penalty).unwrap();
        compare_rule(case, label, &names, &found.fit);
        case.compare(&format!("{label}_edf"), found.effective_degrees_of_freedom);
    }
}

fn the_smoothing_spline_agrees(case: &mut Case) {
    let years = case.numbers("year");
    let spline = SmoothingSpline::new(&years, &case.numbers("temp")).unwrap();
    for penalty in [10.0, 100.0, 1000.0] {
        let label = format!("lambda{penalty}");
        let found = spline.fit(penalty).unwrap();
        for place in [1, 13, 25, 36, 48, 60] {
            case.compare(&format!("{label}_fit_{place}"), found.at(years[place - 1]).unwrap());
        }
        case.compare(&format!("{label}_edf"), found.effective_degrees_of_freedom);
        case.compare(&format!("{label}_rss"), found.residual_sum_of_squares);
        case.compare(&format!("{label}_gcv"), found.generalised_cross_validation);
    }
}
