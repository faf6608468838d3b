//! Sums, quantiles, tail probabilities, factorisations, minimisers: the ground the methods stand on.

mod beta;
mod distributions;
mod minimise;
mod multivariate;
mod noncentral;
mod normal;
mod qr;
mod quadrature;
mod quantiles;
mod scale;
mod studentised_range;
mod sums;

pub use beta::{beta_cdf, beta_sf};
pub use distributions::{
    beta_quantile, chi_squared_cdf, chi_squared_quantile, chi_squared_sf, f_cdf, f_quantile, f_sf,
    f_upper_quantile, t_quantile, t_sf, t_two_sided,
};
pub use minimise::{Minimum, find_root, find_root_within, minimise_bounded};
pub use multivariate::{
    Approximation, Largest, Sampling, Sides, equicoordinate_quantile, multivariate_t_rectangle,
    multivariate_t_tail,
};
pub use noncentral::{
    MOST_NONCENTRALITY, noncentral_chi_squared_cdf, noncentral_chi_squared_sf, noncentral_f_cdf,
    noncentral_f_sf, noncentral_t_cdf, noncentral_t_sf,
};
pub use normal::{normal_cdf, normal_density, normal_quantile, normal_sf};
pub use qr::{PivotedQr, RANK_TOLERANCE};
pub use quadrature::{composite_rule, integrate};
pub use quantiles::{inter_quartile_range, median, quantile, quantile_of_sorted, quantiles_of};
pub use studentised_range::{
    studentised_range_cdf, studentised_range_sf, studentised_range_upper_quantile,
};
pub(crate) use sums::dot;
pub use sums::{autocorrelation, mean, standard_deviation, sum, sum_of_squares, variance};
