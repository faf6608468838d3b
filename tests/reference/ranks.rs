//! Correlations, comparisons by ranks, smoothing and permutation.

use crate::reference::case::{Case, Check};
use canewright::stats::Estimate;
use canewright::stats::lowess::{LowessOptions, lowess};
use canewright::stats::numeric::{mean, standard_deviation};
use canewright::stats::permutation::{MonteCarlo, paired_signs};
use canewright::stats::rank::{
    Alternative, kendall, kruskal_wallis, mann_whitney, pearson, signed_rank, spearman,
};

pub const CHECKS: &[(&str, Check)] = &[
    ("correlation_tuna", three_correlations_of_tuna_agree),
    ("mannwhitney_permeability", two_samples_of_permeability_agree),
    ("kruskal_corn", several_samples_agree),
    ("kruskal_mucociliary", several_samples_agree),
    ("lowess_cars", smooths_of_stopping_distances_agree),
    ("permutation_darwin", darwins_pairs_have_fishers_count),
];

fn three_correlations_of_tuna_agree(case: &mut Case) {
    let (x, y) = (case.numbers("x"), case.numbers("y"));
    let product = pearson(&x, &y).unwrap();
    let (low, high) = product.interval(0.95).unwrap();
    case.compare("pearson", product.value);
    case.compare("pearson_ci95_lo", low);
    case.compare("pearson_ci95_hi", high);
    case.compare("pearson_p", product.p_value());
    let rank = spearman(&x, &y).unwrap();
    case.compare("spearman", rank.value);
    case.compare("spearman_p_t", rank.approximate_p_value());
    let tau = kendall(&x, &y).unwrap();
    case.compare("kendall_tau_b", tau.value);
    case.compare("kendall_p_exact", tau.exact_p_value().unwrap());
}

fn two_samples_of_permeability_agree(case: &mut Case) {
    let rows: Vec<(String, f64)> =
        case.texts("group").into_iter().zip(case.numbers("value")).collect();
    let of = |name: &str| -> Vec<f64> {
        rows.iter().filter(|row| row.0 == name).map(|row| row.1).collect()
    };
    let found = mann_whitney(&of("at_term"), &of("early")).unwrap();
    let both = Alternative::TwoSided;
    case.compare("u_1", found.u);
    case.compare("p_normal_cc", found.approximate_p_value(both, true));
    case.compare("p_normal_nocc", found.approximate_p_value(both, false));
    case.compare("rank_biserial", found.rank_biserial);
    case.compare("hodges_lehmann", found.shift());
    case.compare("p_exact_two_sided", found.exact_p_value(both).unwrap());
    case.compare("p_exact_greater", found.exact_p_value(Alternative::Greater).unwrap());
}

fn several_samples_agree(case: &mut Case) {
    // one case is by method, the other by diagnosis
    let corn = case.text("source").contains("corn");
    let (values, groups) = if corn { ("yield", "method") } else { ("value", "group") };
    let found = kruskal_wallis(&case.numbers(values), &case.codes(groups)).unwrap();
    case.compare("h_tie_corrected", found.statistic);
    case.compare("df", found.degrees_of_freedom);
    case.compare("p", found.p_value());
    case.compare("epsilon_squared", found.epsilon_squared);
    if corn {
        case.compare("h_uncorrected", found.uncorrected);
    }
}

fn smooths_of_stopping_distances_agree(case: &mut Case) {
    let (speed, distance) = (case.numbers("speed"), case.numbers("dist"));
    for (name, span) in [("f67", 2.0 / 3.0), ("f30", 0.3)] {
        for robust_passes in [0, 3] {
            let options = LowessOptions { span, robust_passes, delta: 0.0 };
            let found = lowess(&speed, &distance, &options).unwrap();
            for row in [1, 10, 20, 30, 40, 50] {
                case.compare(&format!("{name}_iter{robust_passes}_fit_{row}"), found[row - 1]);
            }
        }
    }
}

fn darwins_pairs_have_fishers_count(case: &mut Case) {
    let pairs = case.numbers("cross").into_iter().zip(case.numbers("self"));
    let differences: Vec<f64> = pairs.map(|(cross, own)| cross - own).collect();
    let unused = MonteCarlo { replicates: 0, seed: 0 };
    let one = paired_signs(&differences, Alternative::Greater, &unused).unwrap();
    let two = paired_signs(&differences, Alternative::TwoSided, &unused).unwrap();
    case.compare("mean_diff_inches", one.statistic);
    case.compare("sum_diff_eighths", 8.0 * differences.iter().sum::<f64>());
    case.compare("n_sign_patterns", one.arrangements as f64);
    case.compare("n_ge_observed", one.as_extreme as f64);
    case.compare("p_one_sided", one.p_value());
    case.compare("p_two_sided", two.p_value());
    case.compare("wilcoxon_v", signed_rank(&differences).unwrap().statistic);
    let count = differences.len() as f64;
    let paired = Estimate {
        value: mean(&differences).unwrap(),
        standard_error: standard_deviation(&differences).unwrap() / count.sqrt(),
        degrees_of_freedom: count - 1.0,
    };
    case.compare("t_paired", paired.t_statistic());
    case.compare("p_t_paired", paired.p_value());
}
