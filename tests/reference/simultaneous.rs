//! Families of p values, simultaneous intervals, effect sizes, tables of variance and power.

use crate::reference::case::{Case, Check};
use canewright::stats::Estimate;
use canewright::stats::anova::{one_way, sequential_anova};
use canewright::stats::design::Design;
use canewright::stats::effect_size::{
    StandardisedDifference, paired_difference, paired_standardised, student_difference,
    variance_ratio, welch_difference,
};
use canewright::stats::multiplicity::{
    benjamini_hochberg, benjamini_yekutieli, bonferroni, hochberg, holm, tukey_kramer,
};
use canewright::stats::numeric::{Sides, mean};
use canewright::stats::power::{ArmsLayout, ArmsTrial, TwoArmsLayout, TwoArmsTrial};

pub const CHECKS: &[(&str, Check)] = &[
    ("multiplicity_bh1995", adjusted_p_values_agree),
    ("tukey_nist", honest_differences_agree),
    ("effect_size_sleep", effect_sizes_agree),
    ("anova_blocked_npk", the_table_of_a_blocked_design_agrees),
    ("power_two_arm_blocked", power_and_sizes_agree),
];

fn adjusted_p_values_agree(case: &mut Case) {
    let p_values = case.numbers("p");
    let adjusted = [
        ("bonferroni", bonferroni(&p_values).unwrap()),
        ("holm", holm(&p_values).unwrap()),
        ("hochberg", hochberg(&p_values).unwrap()),
        ("bh", benjamini_hochberg(&p_values).unwrap()),
        ("by", benjamini_yekutieli(&p_values).unwrap()),
    ];
    for (method, values) in &adjusted {
        for (place, &value) in values.iter().enumerate() {
            case.compare(&format!("{method}_{}", place + 1), value);
        }
    }
    let [bonferroni, holm, _, discovery, _] = adjusted.map(|(_, values)| values);
    let below = |values: &[f64], level| values.iter().filter(|&&p| p <= level).count() as f64;
    case.compare("n_reject_bh_05", below(&discovery, 0.05));
    case.compare("n_reject_bh_25", below(&discovery, 0.25));
    case.compare("n_reject_holm_05", below(&holm, 0.05));
    case.compare("n_reject_bonferroni_05", below(&bonferroni, 0.05));
}

fn honest_differences_agree(case: &mut Case) {
    let table = one_way(&case.numbers("value"), &case.codes("group")).unwrap();
    let test = table.test();
    case.compare("df_between", test.numerator);
    case.compare("df_within", test.denominator);
    case.compare("ss_between", table.between);
    case.compare("ss_within", table.within);
    case.compare("f", test.statistic);
    case.compare("p", test.p_value());
    case.compare("eta_squared", table.eta_squared());
    for pair in tukey_kramer(&table.groups, 0.95).unwrap() {
        let names = format!("g{}_minus_g{}", pair.first + 1, pair.second + 1);
        case.compare(&format!("diff_{names}"), pair.difference.value);
        case.compare(&format!("lo_{names}"), pair.low);
        case.compare(&format!("hi_{names}"), pair.high);
        case.compare(&format!("p_{names}"), pair.p_value);
    }
}

fn effect_sizes_agree(case: &mut Case) {
    let (extra, group) = (case.numbers("extra"), case.codes("group"));
    // rows are ordered by subject within each group
    let sample = |code: usize| {
        let rows = extra.iter().zip(&group).filter(move |(_, g)| **g == code);
        rows.map(|(value, _)| *value).collect::<Vec<f64>>()
    };
    let (first, second) = (sample(0), sample(1));
    case.compare("mean_1", mean(&first).unwrap());
    case.compare("mean_2", mean(&second).unwrap());
    let effect = StandardisedDifference::of(&first, &second).unwrap();
    let (low, high) = effect.interval(0.95).unwrap();
    case.compare("cohen_d", effect.cohen_d);
    case.compare("hedges_g_exact", effect.hedges_g());
    case.compare("hedges_g_approx", effect.hedges_g_approximate());
    case.compare("cohen_d_ci95_lo", low);
    case.compare("cohen_d_ci95_hi", high);
    compare_test(case, "student", student_difference(&first, &second).unwrap());
    let welch = welch_difference(&first, &second).unwrap();
    compare_test(case, "welch", welch);
    let (low, high) = welch.interval(0.95).unwrap();
    case.compare("welch_df", welch.degrees_of_freedom);
    case.compare("welch_ci95_lo", low);
    case.compare("welch_ci95_hi", high);
    case.compare("var_ratio_f", variance_ratio(&first, &second).unwrap());
    compare_test(case, "paired", paired_difference(&first, &second).unwrap());
    case.compare("paired_dz", paired_standardised(&first, &second).unwrap());
}

fn compare_test(case: &mut Case, name: &str, found: Estimate) {
    case.compare(&format!("{name}_t"), found.t_statistic());
    case.compare(&format!("{name}_p"), found.p_value());
}

fn the_table_of_a_blocked_design_agrees(case: &mut Case) {
    let [n, p, k] = ["n", "p", "k"].map(|name| case.numbers(name));
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).collect::<Vec<f64>>();
    let design = Design::builder(n.len())
        .intercept()
        .choice("block", &case.texts("block"), None)
        .number("n", &n)
        .number("p", &p)
        .number("k", &k)
        .number("n_p", &product(&n, &p))
        .number("n_k", &product(&n, &k))
        .number("p_k", &product(&p, &k))
        .build()
        .unwrap();
    let terms = [("block", 5), ("n", 1), ("p", 1), ("k", 1), ("n_p", 1), ("n_k", 1), ("p_k", 1)];
    let table = sequential_anova(&design, &terms, &case.numbers("yield")).unwrap();
    for row in &table.rows {
        let test = row.test.unwrap();
        case.compare(&format!("df_{}", row.name), row.degrees_of_freedom as f64);
        case.compare(&format!("ss_{}", row.name), row.sum_of_squares);
        case.compare(&format!("f_{}", row.name), test.statistic);
        case.compare(&format!("p_{}", row.name), test.p_value());
    }
    case.compare("df_resid", table.residual_degrees_of_freedom as f64);
    case.compare("ss_resid", table.residual_sum_of_squares);
}

fn power_and_sizes_agree(case: &mut Case) {
    let scenarios = case.texts("scenario");
    for (row, scenario) in scenarios.iter().enumerate() {
        // an empty cell is what is looked for
        let cell = |column: &str| case.texts(column)[row].parse::<f64>().unwrap_or(f64::NAN);
        let (alpha, power, delta) = (cell("alpha"), cell("power"), cell("delta"));
        let (size, blocks, ratio) = (cell("n_per_group"), cell("blocks"), cell("ratio"));
        let trial = |layout| TwoArmsTrial {
            layout,
            standard_deviation: cell("sd"),
            significance: alpha,
            sides: Sides::Two,
        };
        let independent = trial(TwoArmsLayout::Independent { ratio });
        let found = match case.texts("design")[row].as_str() {
            "rcbd" => {
                let layout = ArmsLayout::Blocked { pieces_per_arm: 1.0 };
                let arms = cell("groups") as usize;
                let trial = ArmsTrial { layout, arms, significance: alpha };
                vec![("power", trial.power(blocks, delta).unwrap())]
            }
            "paired_t" => {
                let pairs = trial(TwoArmsLayout::Paired).size(power, delta).unwrap();
                vec![("pairs", pairs.exact)]
            }
            _ if power.is_nan() => vec![("power", independent.power(size, delta).unwrap())],
            _ => {
                let needed = independent.size(power, delta).unwrap();
                let whole = ("n_ceiling", needed.whole as f64);
                // the case rounds up for one scenario only
                let mut found = vec![("n", needed.exact), whole];
                found.truncate(if scenario == "s2" { 2 } else { 1 });
                found
            }
        };
        for (quantity, value) in found {
            case.compare(&format!("{scenario}_{quantity}"), value);
        }
    }
}
