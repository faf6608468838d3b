//! Several correlated t or normal statistics at once: how likely is it that the largest passes a bound?
//!
//! Where the correlations are products, `r_ij = l_i l_j` (two variables, or several groups against one control), the probability is a one-dimensional
//! integral over the shared part and one more over the scale (Dunnett 1955, Journal of the American Statistical Association 50, 1096-1121), exact to about
//! nine digits. Any other correlation goes through the separation of variables with a randomised lattice (Genz & Bretz 2009, Computation of Multivariate
//! Normal and t Probabilities, chapter 4), and the result carries its standard error.

mod checks;
mod factor;
mod lattice;
mod product;
mod rectangle;
mod scale_quantiles;
mod tail;
#[cfg(test)]
mod tests;

use super::find_root_within;
use super::{t_quantile, t_sf};
use crate::stats::error::{StatsError, require_level};
use checks::{require_bound, require_correlation, require_degrees_of_freedom};
use ndarray::Array2;
use product::Loadings;
pub use rectangle::multivariate_t_rectangle;
use tail::TailPlan;

/// Whether a deviation counts in both directions or only upwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// `|T| > bound`.
    Two,
    /// `T > bound`.
    Upper,
}

impl Sides {
    /// How many tails of a symmetrical distribution that is.
    pub fn tails(self) -> f64 {
        match self {
            Sides::Two => 2.0,
            Sides::Upper => 1.0,
        }
    }
}

/// How an integral of many dimensions is sampled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// The random shifts of the lattice follow from it.
    pub seed: u64,
    /// The lattice is doubled until the standard error is below this share of the value ...
    pub relative_error: f64,
    /// ... or each of its twelve copies has so many points.
    pub most_points: usize,
}

impl Sampling {
    /// A standard error of 1/2000 of the value, with at most 16,384 points a copy.
    pub fn from_seed(seed: u64) -> Self {
        Self { seed, relative_error: 5e-4, most_points: 1 << 14 }
    }
}

/// A number with the standard error of its computation; 0 where it is exact to about nine digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Approximation {
    /// The number.
    pub value: f64,
    /// Its standard error, from twelve random shifts of the lattice.
    pub error: f64,
}

impl Approximation {
    fn exact(value: f64) -> Self {
        Self { value, error: 0.0 }
    }
}

/// `P(|T_i| > bound for some i)`, or `P(T_i > bound for some i)` upwards, for the multivariate t: `T_i = Z_i / S`, the `Z` normal with a correlation matrix
/// (`m x m`, may be singular) and `S = sqrt(chi-squared_df / df)`; `df` may be infinite.
///
/// Sums `P(T_i passes and those before it do not)`, each with the first factor integrated by hand, so that the error is relative to the tail, however small.
/// Time is of order `m^2` times the points.
///
/// # Errors
/// `LengthMismatch`, `NotFinite`, `OutOfRange`, `NotPositive` for what is no correlation matrix; `OutOfRange` for `df <= 0`; `NotFinite` for the bound.
pub fn multivariate_t_tail(
    correlation: &Array2<f64>,
    bound: f64,
    df: f64,
    sides: Sides,
    sampling: Sampling,
) -> Result<Approximation, StatsError> {
    Largest::new(correlation, df, sides, sampling)?.tail(bound)
}

/// The bound that the largest of several t statistics passes with probability `tail`; see [`multivariate_t_tail`]. It lies between the univariate point and
/// that of Bonferroni.
///
/// # Errors
/// As [`multivariate_t_tail`]; `OutOfRange` unless `0 < tail < 1`; `NotConverged`.
pub fn equicoordinate_quantile(
    correlation: &Array2<f64>,
    tail: f64,
    df: f64,
    sides: Sides,
    sampling: Sampling,
) -> Result<Approximation, StatsError> {
    Largest::new(correlation, df, sides, sampling)?.quantile(tail)
}

/// The largest of several correlated t statistics, prepared once for many bounds.
pub struct Largest {
    df: f64,
    sides: Sides,
    sampling: Sampling,
    method: Method,
    count: usize,
}

enum Method {
    Integral(Loadings),
    Lattice(TailPlan),
}

impl Largest {
    /// Checks the arguments and chooses the method.
    ///
    /// # Errors
    /// As [`multivariate_t_tail`].
    pub fn new(
        correlation: &Array2<f64>,
        df: f64,
        sides: Sides,
        sampling: Sampling,
    ) -> Result<Self, StatsError> {
        require_correlation(correlation)?;
        require_degrees_of_freedom(df)?;
        let method = match Loadings::of(correlation) {
            Some(loadings) => Method::Integral(loadings),
            None => Method::Lattice(TailPlan::new(correlation, df, sides)),
        };
        Ok(Self { df, sides, sampling, method, count: correlation.nrows() })
    }

    /// The probability that the largest passes a bound.
    ///
    /// # Errors
    /// `NotFinite`.
    pub fn tail(&self, bound: f64) -> Result<Approximation, StatsError> {
        require_bound(bound)?;
        if self.sides == Sides::Two && bound <= 0.0 {
            return Ok(Approximation::exact(1.0));
        }
        Ok(match &self.method {
            Method::Integral(loadings) => {
                Approximation::exact(loadings.tail(bound, self.df, self.sides))
            }
            Method::Lattice(plan) => plan.tail(bound, self.sampling).0,
        })
    }

    /// The bound that is passed with a given probability.
    ///
    /// # Errors
    /// `OutOfRange`, `NotConverged`.
    pub fn quantile(&self, tail: f64) -> Result<Approximation, StatsError> {
        require_level("the tail", tail)?;
        let share = tail / self.sides.tails();
        let low = t_quantile(1.0 - share, self.df);
        let high = -t_quantile(share / self.count as f64, self.df);
        match &self.method {
            Method::Integral(loadings) => {
                let above = |bound: f64| loadings.tail(bound, self.df, self.sides);
                Ok(Approximation::exact(crossing(above, tail, low, high)?))
            }
            Method::Lattice(plan) => {
                // as many points as the error needs there, and the same ones at every bound
                let (found, points) = plan.tail(high, self.sampling);
                let above = |bound: f64| plan.mean(bound, self.sampling.seed, points);
                let value = crossing(above, tail, low, high)?;
                let step = 1e-3 * value.abs().max(0.1);
                let slope = (above(value - step) - above(value + step)) / (2.0 * step);
                // the relative error hardly changes on the short way from the Bonferroni bound
                let error = found.error / found.value * tail / slope.max(f64::MIN_POSITIVE);
                Ok(Approximation { value, error })
            }
        }
    }
}

/// Where a falling tail meets a probability. Rounding may put the end points on the wrong side when all statistics are the same or all independent.
fn crossing(above: impl Fn(f64) -> f64, tail: f64, low: f64, high: f64) -> Result<f64, StatsError> {
    let excess = |bound: f64| settled((above(bound) / tail).ln());
    if excess(low) <= 0.0 {
        return Ok(low);
    }
    if excess(high) >= 0.0 {
        return Ok(high);
    }
    let found = find_root_within(excess, low, high, 1e-9);
    found.ok_or_else(|| StatsError::NotConverged { what: "the simultaneous bound".into() })
}

/// A difference below the accuracy of the integrals is none; the search ends there instead of halving noise.
pub(super) fn settled(excess: f64) -> f64 {
    if excess.abs() < 1e-9 { 0.0 } else { excess }
}

/// One-variable tail with as many sides.
fn one_tail(bound: f64, df: f64, sides: Sides) -> f64 {
    sides.tails() * t_sf(bound, df)
}
