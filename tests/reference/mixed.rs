//! The model with one random intercept.

use crate::reference::case::{Case, Check};
use canewright::stats::design::Design;
use canewright::stats::mixed::{Criterion, MixedFit, fit_mixed};

pub const CHECKS: &[(&str, Check)] = &[
    ("lmm_dyestuff", dyestuff_agrees),
    ("lmm_nlschools", unbalanced_school_classes_agree),
    ("lmm_sleepstudy", sleepstudy_agrees_as_far_as_one_random_intercept_reaches),
    ("lmm_cake_process", the_temperature_of_the_cakes_agrees_with_one_grouping),
];

/// Fits by both criteria and compares what every case gives of them, under a prefix.
fn both_criteria(
    case: &mut Case,
    prefix: &str,
    design: &Design,
    outcome: &[f64],
    group: &str,
) -> MixedFit {
    let groups = case.codes(group);
    let fits = [("reml", Criterion::Reml), ("ml", Criterion::MaximumLikelihood)];
    for (label, criterion) in fits {
        let fit = fit_mixed(design, outcome, &groups, criterion).unwrap();
        for column in &fit.names {
            let name = short(column);
            let found = fit.contrast(&fit.pick(column).unwrap()).unwrap();
            case.compare(&format!("{prefix}{label}_b_{name}"), found.value);
            case.compare(&format!("{prefix}{label}_se_{name}"), found.standard_error);
            if criterion == Criterion::Reml {
                case.compare(&format!("{prefix}satt_df_{name}"), found.degrees_of_freedom);
                case.compare(&format!("{prefix}satt_p_{name}"), found.p_value());
            }
        }
        case.compare(&format!("{prefix}{label}_var_{group}"), fit.sd_group.powi(2));
        case.compare(&format!("{prefix}{label}_var_resid"), fit.sd_residual.powi(2));
        case.compare(&format!("{prefix}{label}_loglik"), fit.log_likelihood);
    }
    fit_mixed(design, outcome, &groups, Criterion::Reml).unwrap()
}

fn short(column: &str) -> &str {
    if column == "intercept" { "0" } else { column }
}

fn with_columns(case: &Case, rows: usize, columns: &[&str]) -> Design {
    let mut builder = Design::builder(rows).intercept();
    for column in columns {
        builder = builder.number(column, &case.numbers(column));
    }
    builder.build().unwrap()
}

/// Labels of a group, in the order of the codes.
fn labels(case: &Case, group: &str) -> Vec<String> {
    let mut labels = case.texts(group);
    labels.sort_unstable();
    labels.dedup();
    labels
}

fn compare_effects(case: &mut Case, prefix: &str, group: &str, fit: &MixedFit) {
    for (label, effect) in labels(case, group).iter().zip(fit.group_effects()) {
        let name = format!("{prefix}blup_{group}_{}", label.to_lowercase());
        case.compare(&name, effect.effect);
    }
}

fn dyestuff_agrees(case: &mut Case) {
    let outcome = case.numbers("yield");
    let design = with_columns(case, outcome.len(), &[]);
    let fit = both_criteria(case, "", &design, &outcome, "batch");
    compare_effects(case, "", "batch", &fit);
    case.compare("icc", fit.intraclass_correlation());
    case.later(["kr_se_0", "kr_df_0"]);
}

fn unbalanced_school_classes_agree(case: &mut Case) {
    let outcome = case.numbers("lang");
    let design = with_columns(case, outcome.len(), &["iq", "ses"]);
    both_criteria(case, "", &design, &outcome, "class");
}

fn sleepstudy_agrees_as_far_as_one_random_intercept_reaches(case: &mut Case) {
    let outcome = case.numbers("reaction");
    let design = with_columns(case, outcome.len(), &["days"]);
    let fit = both_criteria(case, "ri_", &design, &outcome, "subject");
    compare_effects(case, "ri_", "subject", &fit);
    case.later(["ri_kr_se_0", "ri_kr_se_days", "ri_kr_df_0", "ri_kr_df_days"]);
    for criterion in ["rs_reml", "rs_ml"] {
        let parts = ["b_0", "b_days", "se_0", "se_days", "var_subject", "var_subject_days"];
        case.later(parts.map(|part| format!("{criterion}_{part}")));
        let parts = ["var_subject_intercept_days_cov", "var_resid", "loglik"];
        case.later(parts.map(|part| format!("{criterion}_{part}")));
    }
    case.later(["rs_satt_df_0", "rs_satt_df_days", "rs_satt_p_0", "rs_satt_p_days"]);
    case.later(["rs_kr_se_0", "rs_kr_se_days", "rs_kr_df_0", "rs_kr_df_days"]);
}

fn the_temperature_of_the_cakes_agrees_with_one_grouping(case: &mut Case) {
    let outcome = case.numbers("angle_deg");
    let design = with_columns(case, outcome.len(), &["temperature_f"]);
    let groups = case.codes("replicate");
    let fit = fit_mixed(&design, &outcome, &groups, Criterion::Reml).unwrap();
    let slope = fit.contrast(&fit.pick("temperature_f").unwrap()).unwrap();
    // the design is balanced: neither recipe nor the second grouping moves the slope
    case.compare("b_temp", slope.value);
    case.compare("one_grouping_se_temp", slope.standard_error);
    case.compare("one_grouping_var_replicate", fit.sd_group.powi(2));
    case.compare("one_grouping_var_resid", fit.sd_residual.powi(2));
    case.later(["b_intercept", "b_recipe_b", "b_recipe_c", "se_temp", "se_recipe_b"]);
    case.later(["satt_df_temp", "satt_df_recipe_b", "reml_loglik"]);
    case.later(["var_recipe_within_replicate", "var_replicate", "var_resid"]);
}
