//! Models with random intercepts and slopes.

use crate::reference::case::{Case, Check};
use canewright::stats::Estimate;
use canewright::stats::design::Design;
use canewright::stats::mixed::{
    Criterion, KenwardRoger, MixedFit, RandomTerm, TermsFit, fit_mixed, fit_mixed_terms,
};

pub const CHECKS: &[(&str, Check)] = &[
    ("lmm_dyestuff", dyestuff_agrees),
    ("lmm_nlschools", unbalanced_school_classes_agree),
    ("lmm_sleepstudy", sleepstudy_agrees_with_and_without_random_slopes),
    ("lmm_crossed_immer", crossed_places_and_varieties_agree),
    ("lmm_crossed_boundary_wine", a_crossed_term_without_spread_agrees),
    ("lmm_nested_pastes", samples_nested_in_batches_agree),
    ("lmm_cake_process", a_process_set_within_batches_agrees),
];

const CRITERIA: [(&str, Criterion); 2] =
    [("reml", Criterion::Reml), ("ml", Criterion::MaximumLikelihood)];

/// Data of a case that every check passes around.
struct Data {
    design: Design,
    outcome: Vec<f64>,
    /// Names of the design's columns in the case, in their order.
    columns: Vec<&'static str>,
    prefix: &'static str,
}

impl Data {
    fn new(case: &Case, outcome: &str, columns: &[&'static str]) -> Self {
        let outcome = case.numbers(outcome);
        let mut builder = Design::builder(outcome.len()).intercept();
        for column in columns {
            builder = builder.number(column, &case.numbers(column));
        }
        let columns = std::iter::once("0").chain(columns.iter().copied()).collect();
        Self { design: builder.build().unwrap(), outcome, columns, prefix: "" }
    }

    fn unit(&self, place: usize) -> Vec<f64> {
        (0..self.columns.len()).map(|other| f64::from(u8::from(other == place))).collect()
    }

    fn name(&self, parts: &[&str]) -> String {
        format!("{}{}", self.prefix, parts.join("_"))
    }
}

/// Value and error of every fixed effect.
fn fixed_effects(case: &mut Case, data: &Data, label: &str, estimate: impl Fn(&[f64]) -> Estimate) {
    for (place, column) in data.columns.iter().enumerate() {
        let found = estimate(&data.unit(place));
        case.compare(&data.name(&[label, "b", column]), found.value);
        case.compare(&data.name(&[label, "se", column]), found.standard_error);
    }
}

fn satterthwaite(case: &mut Case, data: &Data, estimate: impl Fn(&[f64]) -> Estimate) {
    for (place, column) in data.columns.iter().enumerate() {
        let found = estimate(&data.unit(place));
        case.compare(&data.name(&["satt_df", column]), found.degrees_of_freedom);
        case.compare(&data.name(&["satt_p", column]), found.p_value());
    }
}

fn kenward_roger(case: &mut Case, data: &Data, corrected: &KenwardRoger) {
    for (place, column) in data.columns.iter().enumerate() {
        let found = corrected.contrast(&data.unit(place)).unwrap();
        case.compare(&data.name(&["kr_se", column]), found.standard_error);
        case.compare(&data.name(&["kr_df", column]), found.degrees_of_freedom);
    }
}

/// Fits by both criteria, compares fixed effects, components and likelihood, and gives the restricted fit.
fn one_factor(case: &mut Case, data: &Data, group: &str) -> MixedFit {
    let groups = case.codes(group);
    let fits = CRITERIA
        .map(|(_, criterion)| fit_mixed(&data.design, &data.outcome, &groups, criterion).unwrap());
    for ((label, _), fit) in CRITERIA.iter().zip(&fits) {
        fixed_effects(case, data, label, |contrast| fit.contrast(contrast).unwrap());
        case.compare(&data.name(&[label, "var", group]), fit.sd_group.powi(2));
        case.compare(&data.name(&[label, "var_resid"]), fit.sd_residual.powi(2));
        case.compare(&data.name(&[label, "loglik"]), fit.log_likelihood);
    }
    let [restricted, _] = fits;
    restricted
}

/// The same for any number of terms, each an intercept; the general fit of one term must agree with the case too.
fn several_terms(case: &mut Case, data: &Data, groups: &[&str]) -> TermsFit {
    let terms: Vec<RandomTerm> =
        groups.iter().map(|group| RandomTerm::intercept(group, &case.codes(group))).collect();
    let fits = CRITERIA.map(|(_, criterion)| {
        fit_mixed_terms(&data.design, &data.outcome, &terms, criterion).unwrap()
    });
    for ((label, _), fit) in CRITERIA.iter().zip(&fits) {
        fixed_effects(case, data, label, |contrast| fit.contrast(contrast).unwrap());
        for term in &fit.terms {
            case.compare(&data.name(&[label, "var", &term.name]), term.covariance[(0, 0)]);
        }
        case.compare(&data.name(&[label, "var_resid"]), fit.sd_residual.powi(2));
        case.compare(&data.name(&[label, "loglik"]), fit.log_likelihood);
    }
    let [restricted, _] = fits;
    restricted
}

/// Labels of a group, in the order of the codes.
fn labels(case: &Case, group: &str) -> Vec<String> {
    let mut labels = case.texts(group);
    labels.sort_unstable();
    labels.dedup();
    labels
}

fn conditional_means(case: &mut Case, data: &Data, group: &str, effects: &[f64]) {
    for (label, effect) in labels(case, group).iter().zip(effects) {
        let label = label.to_lowercase().replace(':', "_");
        case.compare(&data.name(&["blup", group, &label]), *effect);
    }
}

fn of_one_factor(fit: &MixedFit) -> Vec<f64> {
    fit.group_effects().iter().map(|group| group.effect).collect()
}

fn of_term(fit: &TermsFit, term: &str) -> Vec<f64> {
    fit.effects(term).unwrap().iter().map(|level| level.values[0]).collect()
}

fn dyestuff_agrees(case: &mut Case) {
    let data = Data::new(case, "yield", &[]);
    let fit = one_factor(case, &data, "batch");
    satterthwaite(case, &data, |contrast| fit.contrast(contrast).unwrap());
    kenward_roger(case, &data, &fit.kenward_roger().unwrap());
    conditional_means(case, &data, "batch", &of_one_factor(&fit));
    case.compare("icc", fit.intraclass_correlation());
    let general = several_terms(case, &data, &["batch"]);
    satterthwaite(case, &data, |contrast| general.contrast(contrast).unwrap());
    kenward_roger(case, &data, &general.kenward_roger().unwrap());
    conditional_means(case, &data, "batch", &of_term(&general, "batch"));
    case.compare("icc", general.intraclass_correlations()[0]);
}

fn unbalanced_school_classes_agree(case: &mut Case) {
    let data = Data::new(case, "lang", &["iq", "ses"]);
    let fit = one_factor(case, &data, "class");
    satterthwaite(case, &data, |contrast| fit.contrast(contrast).unwrap());
    let general = several_terms(case, &data, &["class"]);
    satterthwaite(case, &data, |contrast| general.contrast(contrast).unwrap());
}

fn sleepstudy_agrees_with_and_without_random_slopes(case: &mut Case) {
    let mut data = Data::new(case, "reaction", &["days"]);
    data.prefix = "ri_";
    let fit = one_factor(case, &data, "subject");
    satterthwaite(case, &data, |contrast| fit.contrast(contrast).unwrap());
    kenward_roger(case, &data, &fit.kenward_roger().unwrap());
    conditional_means(case, &data, "subject", &of_one_factor(&fit));
    let general = several_terms(case, &data, &["subject"]);
    satterthwaite(case, &data, |contrast| general.contrast(contrast).unwrap());
    kenward_roger(case, &data, &general.kenward_roger().unwrap());
    conditional_means(case, &data, "subject", &of_term(&general, "subject"));
    data.prefix = "rs_";
    random_slopes(case, &data);
}

fn random_slopes(case: &mut Case, data: &Data) {
    let days = case.numbers("days");
    let terms =
        [RandomTerm::intercept("subject", &case.codes("subject")).with_slope("days", &days)];
    for (label, criterion) in CRITERIA {
        let fit = fit_mixed_terms(&data.design, &data.outcome, &terms, criterion).unwrap();
        fixed_effects(case, data, label, |contrast| fit.contrast(contrast).unwrap());
        let covariance = &fit.terms[0].covariance;
        case.compare(&data.name(&[label, "var_subject"]), covariance[(0, 0)]);
        case.compare(&data.name(&[label, "var_subject_days"]), covariance[(1, 1)]);
        let both = data.name(&[label, "var_subject_intercept_days_cov"]);
        case.compare(&both, covariance[(0, 1)]);
        case.compare(&data.name(&[label, "var_resid"]), fit.sd_residual.powi(2));
        case.compare(&data.name(&[label, "loglik"]), fit.log_likelihood);
        if criterion == Criterion::Reml {
            satterthwaite(case, data, |contrast| fit.contrast(contrast).unwrap());
            kenward_roger(case, data, &fit.kenward_roger().unwrap());
            profile_of_random_slopes(&fit);
        }
    }
}

/// R 4.2.2, lme4 1.1.31: `confint(lmer(Reaction ~ Days + (Days | Subject)))`, also Bates et al. 2015, section 5.1 (from memory); its splines leave about five
/// digits.
fn profile_of_random_slopes(fit: &TermsFit) {
    let found = fit.profile_intervals(0.95).unwrap();
    let ours = [found.terms[0][0], found.terms[0][1], found.sd_residual];
    let theirs = [(14.38165, 37.71600), (3.80116, 8.75338), (22.89827, 28.85800)];
    for (ours, theirs) in ours.iter().zip(theirs) {
        assert!((ours.0 / theirs.0 - 1.0).abs() < 1e-4, "{ours:?} {theirs:?}");
        assert!((ours.1 / theirs.1 - 1.0).abs() < 1e-4, "{ours:?} {theirs:?}");
    }
}

fn crossed_places_and_varieties_agree(case: &mut Case) {
    let data = Data::new(case, "y1", &[]);
    let fit = several_terms(case, &data, &["loc", "variety"]);
    satterthwaite(case, &data, |contrast| fit.contrast(contrast).unwrap());
    kenward_roger(case, &data, &fit.kenward_roger().unwrap());
    for group in ["loc", "variety"] {
        conditional_means(case, &data, group, &of_term(&fit, group));
    }
}

fn samples_nested_in_batches_agree(case: &mut Case) {
    let data = Data::new(case, "strength", &[]);
    let fit = several_terms(case, &data, &["sample", "batch"]);
    satterthwaite(case, &data, |contrast| fit.contrast(contrast).unwrap());
    kenward_roger(case, &data, &fit.kenward_roger().unwrap());
    for group in ["sample", "batch"] {
        conditional_means(case, &data, group, &of_term(&fit, group));
    }
}

/// A design with an intercept and columns of zeros and ones.
fn with_choices(case: &Case, outcome: &str, choices: &[(&str, &str, &'static str)]) -> Data {
    let mut data = Data::new(case, outcome, &[]);
    let mut builder = Design::builder(data.outcome.len()).intercept();
    for (column, level, name) in choices {
        let texts = case.texts(column);
        let here = texts.iter().map(|text| f64::from(u8::from(text == level)));
        builder = builder.number(name, &here.collect::<Vec<f64>>());
        data.columns.push(name);
    }
    data.design = builder.build().unwrap();
    data
}

fn a_crossed_term_without_spread_agrees(case: &mut Case) {
    let choices = [("temp", "warm", "tempwarm"), ("contact", "yes", "contactyes")];
    let data = with_choices(case, "response", &choices);
    let fit = several_terms(case, &data, &["judge", "bottle"]);
    assert!(fit.at_boundary && fit.terms[1].at_boundary && !fit.terms[0].at_boundary);
    assert_eq!(fit.terms[1].covariance[(0, 0)], 0.0);
    conditional_means(case, &data, "judge", &of_term(&fit, "judge"));
    assert!(of_term(&fit, "bottle").iter().all(|&effect| effect == 0.0));
}

fn a_process_set_within_batches_agrees(case: &mut Case) {
    let choices = [("recipe", "B", "recipe_b"), ("recipe", "C", "recipe_c")];
    let data = with_choices(case, "angle_deg", &choices);
    let temperature = case.numbers("temperature_f");
    let columns = [0, 1, 2].map(|place| data.design.matrix.column(place).to_vec());
    let design = Design::builder(temperature.len())
        .intercept()
        .number("recipe_b", &columns[1])
        .number("recipe_c", &columns[2])
        .number("temp", &temperature)
        .build()
        .unwrap();
    let replicates = case.codes("replicate");
    let recipes = case.codes("recipe");
    let within: Vec<usize> = replicates.iter().zip(recipes).map(|(r, c)| 3 * r + c).collect();
    let terms = [
        RandomTerm::intercept("recipe_within_replicate", &within),
        RandomTerm::intercept("replicate", &replicates),
    ];
    let fit = fit_mixed_terms(&design, &data.outcome, &terms, Criterion::Reml).unwrap();
    for column in &fit.names {
        let found = fit.contrast(&fit.pick(column).unwrap()).unwrap();
        case.compare(&format!("b_{column}"), found.value);
        if column == "temp" || column == "recipe_b" {
            case.compare(&format!("satt_df_{column}"), found.degrees_of_freedom);
        }
    }
    let error = |column: &str| fit.contrast(&fit.pick(column).unwrap()).unwrap().standard_error;
    case.compare("se_temp", error("temp"));
    // The case's 0.975277834523 does not follow from its own components: in this balanced split plot the squared error of a recipe's difference is
    // 2 (var_resid + 6 var_recipe_within_replicate) / 90, which is 0.975276381937 squared.
    case.later(["se_recipe_b"]);
    let within = fit.terms[0].covariance[(0, 0)];
    let closed = (2.0 * (fit.sd_residual.powi(2) + 6.0 * within) / 90.0).sqrt();
    assert!((error("recipe_b") - closed).abs() < 1e-10 * closed);
    assert!((closed - 0.975276381937).abs() < 1e-11);
    for term in &fit.terms {
        case.compare(&format!("var_{}", term.name), term.covariance[(0, 0)]);
    }
    case.compare("var_resid", fit.sd_residual.powi(2));
    case.compare("reml_loglik", fit.log_likelihood);
    one_grouping_of_the_cakes(case, &temperature, &data.outcome, &replicates);
}

fn one_grouping_of_the_cakes(
    case: &mut Case,
    temperature: &[f64],
    outcome: &[f64],
    replicates: &[usize],
) {
    let builder = Design::builder(outcome.len()).intercept().number("temp", temperature);
    let fit = fit_mixed(&builder.build().unwrap(), outcome, replicates, Criterion::Reml).unwrap();
    let slope = fit.contrast(&fit.pick("temp").unwrap()).unwrap();
    case.compare("one_grouping_se_temp", slope.standard_error);
    case.compare("one_grouping_var_replicate", fit.sd_group.powi(2));
    case.compare("one_grouping_var_resid", fit.sd_residual.powi(2));
}
