//! The probability of a rectangle, by separation of variables.

use super::checks::{require_correlation, require_degrees_of_freedom};
use super::factor::{Factor, Row};
use super::lattice::{Lattice, average_to_error};
use super::product::Loadings;
use super::scale_quantiles::ScaleQuantiles;
use super::{Approximation, Sampling};
use crate::stats::error::{StatsError, require_length};
use crate::stats::numeric::{normal_cdf, normal_quantile, normal_sf};
use ndarray::Array2;
use std::cmp::Ordering;

/// `P(lower_i < T_i <= upper_i for all i)` of the multivariate t (see [`super::multivariate_t_tail`]); ends may be infinite. The error is relative to the
/// value; product correlations are integrated exactly, with an absolute accuracy of about 1e-9.
///
/// # Errors
/// `LengthMismatch`, `NotFinite`, `OutOfRange`, `NotPositive` for what is no correlation matrix; `LengthMismatch` of the ends; `OutOfRange` for a lower end
/// that is not below its upper end and for `df <= 0`.
pub fn multivariate_t_rectangle(
    correlation: &Array2<f64>,
    lower: &[f64],
    upper: &[f64],
    df: f64,
    sampling: Sampling,
) -> Result<Approximation, StatsError> {
    require_correlation(correlation)?;
    require_degrees_of_freedom(df)?;
    require_ends(correlation.nrows(), lower, upper)?;
    if let Some(loadings) = Loadings::of(correlation) {
        return Ok(Approximation::exact(loadings.rectangle(lower, upper, df)));
    }
    let order: Vec<usize> = (0..lower.len()).collect();
    let factor = Factor::new(correlation, &order);
    let scale = ScaleQuantiles::new(df);
    let mean = |lattice: &Lattice, points: usize| {
        let mut drawn = Vec::with_capacity(factor.rank());
        let mut total = 0.0;
        for point in 0..points {
            let s = if scale.varies() {
                scale.at(normal_quantile(lattice.coordinate(point, 0)))
            } else {
                1.0
            };
            let ends = |variable: usize| (lower[variable] * s, upper[variable] * s);
            total += inside(&factor, lattice, point, ends, &mut drawn);
        }
        total / points as f64
    };
    Ok(average_to_error(sampling, factor.rank(), mean).0)
}

fn require_ends(count: usize, lower: &[f64], upper: &[f64]) -> Result<(), StatsError> {
    require_length("the list of lower ends", count, lower.len())?;
    require_length("the list of upper ends", count, upper.len())?;
    match lower.iter().zip(upper).find(|(low, high)| low.partial_cmp(high) != Some(Ordering::Less))
    {
        None => Ok(()),
        Some((&value, _)) => Err(StatsError::OutOfRange {
            what: "a lower end".into(),
            value,
            expected: "a number below its upper end".into(),
        }),
    }
}

/// The product of the conditional probabilities at one point.
fn inside(
    factor: &Factor,
    lattice: &Lattice,
    point: usize,
    ends: impl Fn(usize) -> (f64, f64),
    drawn: &mut Vec<f64>,
) -> f64 {
    drawn.clear();
    let mut product = 1.0;
    for (step, rows) in factor.steps.iter().enumerate() {
        let (low, high) = range_of(rows, drawn, &ends);
        product *= between(low, high);
        if product <= 0.0 {
            return 0.0;
        }
        if step + 1 < factor.steps.len() {
            drawn.push(draw_between(low, high, lattice.coordinate(point, step + 1)));
        }
    }
    product
}

/// The range of the next direction that keeps every variable which ends there inside.
pub(super) fn range_of(
    rows: &[Row],
    drawn: &[f64],
    ends: impl Fn(usize) -> (f64, f64),
) -> (f64, f64) {
    let mut range = (f64::NEG_INFINITY, f64::INFINITY);
    for row in rows {
        let (low, high) = ends(row.variable);
        let known: f64 = row.known.iter().zip(drawn).map(|(share, value)| share * value).sum();
        let (a, b) = ((low - known) / row.pivot, (high - known) / row.pivot);
        range = (range.0.max(a.min(b)), range.1.min(a.max(b)));
    }
    range
}

/// `P(low < Z <= high)`, on the side where both tails are small; 0 for an empty range.
pub(super) fn between(low: f64, high: f64) -> f64 {
    if low >= high {
        return 0.0;
    }
    if low > 0.0 { normal_sf(low) - normal_sf(high) } else { normal_cdf(high) - normal_cdf(low) }
}

/// The normal variable that has a share of the probability of its range below it.
pub(super) fn draw_between(low: f64, high: f64, share: f64) -> f64 {
    if low > 0.0 {
        let (near, far) = (normal_sf(low), normal_sf(high));
        return -normal_quantile(near + share * (far - near));
    }
    let (below, above) = (normal_cdf(low), normal_cdf(high));
    normal_quantile(below + share * (above - below))
}
