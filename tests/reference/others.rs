//! Summaries, components and clusters.

use crate::reference::case::{Case, Check};
use canewright::stats::Estimate;
use canewright::stats::cluster::{
    MixtureShape, adjusted_rand_index, gaussian_mixture, k_means, mean_silhouette,
};
use canewright::stats::components::{Scaling, principal_components};
use canewright::stats::describe::{
    coefficient_of_variation, excess_kurtosis, median_absolute_deviation, shapiro_wilk, skewness,
    trimmed_mean,
};
use canewright::stats::numeric::{
    autocorrelation, inter_quartile_range, mean, median, quantile, standard_deviation, variance,
};
use ndarray::Array2;

pub const CHECKS: &[(&str, Check)] = &[
    ("nist_uni_lew", a_univariate_summary_is_certified),
    ("nist_uni_michelso", a_univariate_summary_is_certified),
    ("nist_uni_numacc1", a_univariate_summary_is_certified),
    ("nist_uni_numacc3", a_univariate_summary_is_certified),
    ("desc_precip", the_summary_of_precipitation_agrees),
    ("pca_usarrests", principal_components_agree),
    ("cluster_faithful", clusters_and_mixtures_of_eruptions_agree),
];

fn a_univariate_summary_is_certified(case: &mut Case) {
    let values = case.numbers("y");
    case.compare("mean", mean(&values).unwrap());
    case.compare("sd", standard_deviation(&values).unwrap());
    case.compare("autocorr_lag1", autocorrelation(&values, 1).unwrap());
    case.compare("n", values.len() as f64);
}

fn the_summary_of_precipitation_agrees(case: &mut Case) {
    let values = case.numbers("precip");
    let count = values.len() as f64;
    let centre = Estimate {
        value: mean(&values).unwrap(),
        standard_error: standard_deviation(&values).unwrap() / count.sqrt(),
        degrees_of_freedom: count - 1.0,
    };
    let (low, high) = centre.interval(0.95).unwrap();
    case.compare("n", count);
    case.compare("mean", centre.value);
    case.compare("sem", centre.standard_error);
    case.compare("sd", standard_deviation(&values).unwrap());
    case.compare("var", variance(&values).unwrap());
    case.compare("median", median(&values).unwrap());
    case.compare("iqr", inter_quartile_range(&values).unwrap());
    for (name, probability) in [("q25", 0.25), ("q75", 0.75), ("q10", 0.1), ("q90", 0.9)] {
        case.compare(name, quantile(&values, probability).unwrap());
    }
    case.compare("min", quantile(&values, 0.0).unwrap());
    case.compare("max", quantile(&values, 1.0).unwrap());
    case.compare("ci95_lo", low);
    case.compare("ci95_hi", high);
    case.compare("mad_scaled", median_absolute_deviation(&values).unwrap());
    case.compare("skew_g1", skewness(&values).unwrap());
    case.compare("exkurt_g2", excess_kurtosis(&values).unwrap());
    case.compare("cv", coefficient_of_variation(&values).unwrap());
    case.compare("trimmed_mean_10", trimmed_mean(&values, 0.1).unwrap());
    case.compare("shapiro_w", shapiro_wilk(&values).unwrap().statistic);
}

fn matrix(case: &Case, names: &[&str]) -> Array2<f64> {
    let columns: Vec<Vec<f64>> = names.iter().map(|name| case.numbers(name)).collect();
    Array2::from_shape_fn((columns[0].len(), names.len()), |(i, j)| columns[j][i])
}

fn principal_components_agree(case: &mut Case) {
    let names = ["murder", "assault", "urbanpop", "rape"];
    let data = matrix(case, &names);
    let owned = names.map(String::from);
    for (label, scaling) in [("corr", Scaling::Standardise), ("cov", Scaling::Centre)] {
        let found = principal_components(&owned, &data, 4, scaling).unwrap();
        for component in 0..4 {
            let number = component + 1;
            case.compare(&format!("{label}_sdev_{number}"), found.standard_deviations[component]);
            case.compare(&format!("{label}_prop_{number}"), found.shares[component]);
            for (place, name) in names.iter().enumerate() {
                let loading = found.loadings[(component, place)];
                case.compare(&format!("{label}_pc{number}_{name}"), loading);
            }
        }
    }
}

fn clusters_and_mixtures_of_eruptions_agree(case: &mut Case) {
    let points = matrix(case, &["eruptions", "waiting"]);
    for count in 2..=4 {
        let found = k_means(&points, count, 40, 1).unwrap();
        let silhouette = mean_silhouette(&points, &found.memberships).unwrap();
        case.compare(&format!("kmeans_k{count}_within_ss"), found.within_sum_of_squares);
        case.compare(&format!("kmeans_k{count}_silhouette"), silhouette);
        for (place, &size) in found.sizes.iter().enumerate() {
            case.compare(&format!("kmeans_k{count}_size_{}", place + 1), size as f64);
        }
    }
    for (name, shape, count) in [
        ("eee3", MixtureShape::Common, 3),
        ("vvv2", MixtureShape::Full, 2),
        ("vvi2", MixtureShape::Diagonal, 2),
    ] {
        let found = gaussian_mixture(&points, count, shape, 10, 1).unwrap();
        case.compare(&format!("gmm_{name}_loglik"), found.log_likelihood);
        case.compare(&format!("gmm_{name}_bic"), found.bayesian);
        if name == "vvv2" {
            let parting = k_means(&points, 2, 40, 1).unwrap().memberships;
            let index = adjusted_rand_index(&parting, &found.memberships).unwrap();
            case.compare("ari_kmeans2_vs_gmm_vvv2", index);
        }
    }
}
