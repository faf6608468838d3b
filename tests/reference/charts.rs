//! Control charts.

use crate::reference::case::{Case, Check};
use canewright::stats::control::{
    CusumOptions, EwmaOptions, MovingRangeCentre, cusum, ewma, individuals,
};

pub const CHECKS: &[(&str, Check)] = &[
    ("control_imr_nist_flow", individual_flow_readings_agree),
    ("control_ewma_nist", the_weighted_average_agrees),
    ("control_cusum_nist", both_cumulative_sums_agree),
];

/// Place of the first signal from 1, 0 without one.
fn first<Kind>(signals: &[(usize, Kind)]) -> f64 {
    signals.first().map_or(0.0, |signal| signal.0 as f64 + 1.0)
}

fn individual_flow_readings_agree(case: &mut Case) {
    let flow = case.numbers("flow");
    let found = individuals(&flow, None, MovingRangeCentre::Mean).unwrap();
    case.compare("mean", found.centre);
    case.compare("mr_bar", found.mean_moving_range);
    case.compare("sigma_hat", found.sigma);
    case.compare("i_ucl", found.upper);
    case.compare("i_lcl", found.lower);
    case.compare("mr_ucl", found.moving_range_upper);
    case.compare("median_mr", found.median_moving_range);
    case.compare("n_beyond_limits", found.beyond_limits(&flow).len() as f64);
}

fn the_weighted_average_agrees(case: &mut Case) {
    let options = EwmaOptions { weight: 0.3, width: 3.0, centre: 50.0, sigma: 2.0539 };
    let found = ewma(&case.numbers("x"), &options).unwrap();
    for (place, average) in found.averages.iter().enumerate() {
        case.compare(&format!("ewma_{}", place + 1), *average);
    }
    case.compare("ucl_asymptotic", found.asymptotic_upper);
    case.compare("lcl_asymptotic", found.asymptotic_lower);
    case.compare("ucl_exact_1", found.upper[0]);
    case.compare("ucl_exact_5", found.upper[4]);
    case.compare("first_signal_exact_limits", first(&found.signals));
}

fn both_cumulative_sums_agree(case: &mut Case) {
    let options = CusumOptions { target: 325.0, slack: 0.3175, decision: 4.1959 };
    let found = cusum(&case.numbers("mean"), &options).unwrap();
    for (place, (high, low)) in found.high.iter().zip(&found.low).enumerate() {
        case.compare(&format!("cusum_hi_{}", place + 1), *high);
        case.compare(&format!("cusum_lo_{}", place + 1), *low);
    }
    case.compare("first_signal", first(&found.signals));
}
