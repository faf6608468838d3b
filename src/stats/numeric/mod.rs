//! Sums, quantiles, tail probabilities, factorisations, minimisers: the ground the methods stand on.

mod beta;
mod distributions;
mod minimise;
mod qr;
mod quantiles;
mod sums;

pub use beta::{beta_cdf, beta_sf};
pub use distributions::{
    beta_quantile, chi_squared_quantile, chi_squared_sf, f_quantile, f_sf, normal_cdf,
    normal_quantile, normal_sf, t_quantile, t_sf, t_two_sided,
};
pub use minimise::{Minimum, find_root, minimise_bounded};
pub use qr::{PivotedQr, RANK_TOLERANCE};
pub use quantiles::{inter_quartile_range, median, quantile, quantile_of_sorted};
pub use sums::{autocorrelation, mean, standard_deviation, sum, sum_of_squares, variance};
