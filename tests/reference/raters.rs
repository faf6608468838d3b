//! Raters, repeat readings and the measurement study.

use crate::reference::case::{Case, Check};
use canewright::stats::agreement::{
    IntraclassForm, RatingUnit, Scale, Weights, cohen_kappa, fleiss_kappa, intraclass,
    intraclass_one_way, kendall_w, krippendorff_alpha,
};
use canewright::stats::numeric::standard_deviation;
use canewright::stats::rank::{friedman, pearson};
use canewright::stats::repeatability::{
    Interaction, crossed_study, limits_of_agreement, repeat_readings,
};
use ndarray::{Array2, array};

pub const CHECKS: &[(&str, Check)] = &[
    ("icc_shrout_fleiss", intraclass_correlations_are_the_published_ones),
    ("kappa_cohen1960", kappas_are_the_published_ones),
    ("fleiss_kappa_10x14", fleiss_kappa_agrees),
    ("kripp_alpha_c", alpha_is_the_published_one_on_four_scales),
    ("kendall_w_rounding", concordance_and_friedman_agree),
    ("repeatability_bland_altman_1986", peak_flow_meters_repeat_as_published),
    ("gauge_rr_aiag", the_measurement_study_splits_alike),
];

fn table(case: &Case, columns: &[&str]) -> Array2<f64> {
    let columns: Vec<Vec<f64>> = columns.iter().map(|name| case.numbers(name)).collect();
    Array2::from_shape_fn((columns[0].len(), columns.len()), |(i, j)| columns[j][i])
}

fn intraclass_correlations_are_the_published_ones(case: &mut Case) {
    let ratings = table(case, &["j1", "j2", "j3", "j4"]);
    let found = intraclass(&ratings).unwrap();
    let forms = [
        ("1", IntraclassForm::OneWay),
        ("2", IntraclassForm::TwoWayRandom),
        ("3", IntraclassForm::TwoWayMixed),
    ];
    for (number, form) in forms {
        for (k, unit) in [("", RatingUnit::Single), ("k", RatingUnit::Average)] {
            let (low, high) = found.interval(form, unit, 0.95).unwrap();
            let name = format!("icc{number}{k}");
            case.compare(&name, found.coefficient(form, unit).unwrap());
            case.compare(&format!("f_{name}"), found.test(form).unwrap().statistic);
            case.compare(&format!("ci95_lo_{name}"), low);
            case.compare(&format!("ci95_hi_{name}"), high);
        }
    }
    case.compare("bms", found.subject_mean_square);
    case.compare("wms", found.within_mean_square);
    case.compare("jms", found.rater_mean_square);
    case.compare("ems", found.error_mean_square);
    one_way_by_rows(case, &ratings);
}

/// The same once more from one row a rating.
fn one_way_by_rows(case: &mut Case, ratings: &Array2<f64>) {
    let values: Vec<f64> = ratings.iter().copied().collect();
    let subjects: Vec<usize> = ratings.indexed_iter().map(|((subject, _), _)| subject).collect();
    let found = intraclass_one_way(&values, &subjects).unwrap();
    let (low, high) = found.interval(0.95).unwrap();
    case.compare("icc1", found.coefficient);
    case.compare("icc1k", found.of_mean(4.0));
    case.compare("f_icc1", found.test().unwrap().statistic);
    case.compare("ci95_lo_icc1", low);
    case.compare("ci95_hi_icc1", high);
}

fn kappas_are_the_published_ones(case: &mut Case) {
    // the categories are 1 to 3
    let codes = |name: &str| -> Vec<usize> {
        case.numbers(name).iter().map(|number| *number as usize - 1).collect()
    };
    let (first, second) = (codes("rater_a"), codes("rater_b"));
    let cohen = array![[0.0, 1.0, 3.0], [1.0, 0.0, 6.0], [3.0, 6.0, 0.0]];
    let all = [
        ("kappa", Weights::Equal),
        ("kappa_linear", Weights::Linear),
        ("kappa_quadratic", Weights::Quadratic),
        ("kappa_cohen1968_weights", Weights::Disagreement(cohen)),
    ];
    for (name, weights) in all {
        let found = cohen_kappa(&first, &second, &weights).unwrap();
        case.compare(name, found.kappa.value);
        case.compare(&format!("se_{name}"), found.kappa.standard_error);
        if weights == Weights::Equal {
            case.compare("n", found.subjects as f64);
            case.compare("p_observed", found.observed);
        }
    }
}

fn fleiss_kappa_agrees(case: &mut Case) {
    let (mut categories, mut subjects) = (Vec::new(), Vec::new());
    for rater in 1..=14 {
        for (subject, category) in case.numbers(&format!("r{rater}")).into_iter().enumerate() {
            categories.push(category as usize);
            subjects.push(subject);
        }
    }
    let found = fleiss_kappa(&categories, &subjects).unwrap();
    case.compare("kappa", found.kappa.value);
    case.compare("z", found.kappa.t_statistic());
    for one in &found.categories {
        case.compare(&format!("kappa_cat_{}", one.category), one.kappa.value);
    }
}

fn alpha_is_the_published_one_on_four_scales(case: &mut Case) {
    let (mut ratings, mut units) = (Vec::new(), Vec::new());
    for rater in ["a", "b", "c", "d"] {
        for (unit, cell) in case.texts(rater).into_iter().enumerate() {
            if !cell.is_empty() {
                ratings.push(cell.parse().unwrap());
                units.push(unit);
            }
        }
    }
    let scales = [
        ("nominal", Scale::Nominal),
        ("ordinal", Scale::Ordinal),
        ("interval", Scale::Interval),
        ("ratio", Scale::Ratio),
    ];
    for (name, scale) in scales {
        let found = krippendorff_alpha(&ratings, &units, scale).unwrap();
        case.compare(&format!("alpha_{name}"), found.alpha);
    }
}

fn concordance_and_friedman_agree(case: &mut Case) {
    let players = table(case, &["round_out", "narrow_angle", "wide_angle"]);
    let found = kendall_w(&players.t().to_owned()).unwrap();
    case.compare("w", found.w);
    case.compare("w_uncorrected", found.uncorrected);
    case.compare("chisq", found.chi_squared());
    case.compare("df", found.degrees_of_freedom());
    case.compare("p", found.p_value());
    case.compare("friedman_chisq", friedman(&players).unwrap().chi_squared());
}

fn peak_flow_meters_repeat_as_published(case: &mut Case) {
    let subjects = case.codes("subject");
    for meter in ["wright", "mini"] {
        let first = case.numbers(&format!("{meter}1"));
        let second = case.numbers(&format!("{meter}2"));
        let both = [&first[..], &second[..]].concat();
        let found = repeat_readings(&both, &[&subjects[..], &subjects[..]].concat()).unwrap();
        let sw = found.within_standard_deviation;
        let differences: Vec<f64> = first.iter().zip(&second).map(|(a, b)| a - b).collect();
        case.compare(&format!("{meter}_sw"), sw);
        case.compare(&format!("{meter}_cr_1_96"), found.coefficient());
        // for duplicates the mean squared difference is 2 sw^2
        case.compare(&format!("{meter}_cr_2sd"), 2.0 * std::f64::consts::SQRT_2 * sw);
        case.compare(&format!("{meter}_sd_diff"), standard_deviation(&differences).unwrap());
    }
    let (wright, mini) = (case.numbers("wright1"), case.numbers("mini1"));
    for (name, multiplier) in [("loa_2sd", 2.0), ("loa_1_96", 1.96)] {
        let found = limits_of_agreement(&wright, &mini, multiplier).unwrap();
        case.compare("mean_diff", found.bias.value);
        case.compare("sd_diff", found.standard_deviation);
        case.compare(&format!("{name}_lo"), found.low.value);
        case.compare(&format!("{name}_hi"), found.high.value);
    }
    case.compare("r_pearson", pearson(&wright, &mini).unwrap().value);
}

fn the_measurement_study_splits_alike(case: &mut Case) {
    let values = case.numbers("value");
    let study = crossed_study(&values, &case.codes("part"), &case.codes("operator")).unwrap();
    let sources = [
        ("part", study.part),
        ("operator", study.appraiser),
        ("interaction", study.interaction),
        ("repeatability", study.repeatability),
    ];
    for (name, source) in sources {
        case.compare(&format!("ss_{name}"), source.sum_of_squares);
        case.compare(&format!("df_{name}"), source.degrees_of_freedom);
    }
    case.compare("f_interaction", study.interaction_test().unwrap().statistic);
    let full = study.components(Interaction::Kept).unwrap();
    case.compare("full_var_repeatability", full.repeatability.variance);
    case.compare("full_var_interaction", full.interaction.variance);
    case.compare("full_var_operator", full.appraiser.variance);
    case.compare("full_var_part", full.part.variance);
    case.compare("full_pct_grr", 100.0 * full.measurement_share());
    let pooled = study.components(Interaction::Pooled).unwrap();
    case.compare("pooled_ev", pooled.repeatability.variance.sqrt());
    case.compare("pooled_av", pooled.appraiser.variance.sqrt());
    case.compare("pooled_grr", pooled.measurement().sqrt());
    case.compare("pooled_pv", pooled.part.variance.sqrt());
    case.compare("pooled_tv", pooled.total().sqrt());
    case.compare("pooled_pct_grr", 100.0 * pooled.measurement_share());
    case.compare("pooled_ndc_raw", pooled.distinct_categories());
}
