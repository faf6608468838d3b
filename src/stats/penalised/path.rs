//! Penalties from the one that lets nothing in downwards.

use super::gram::Gram;
use super::moments::Moments;
use super::solver::Solver;
use super::{PenalisedFit, check_mixing, check_penalty};
use crate::stats::error::StatsError;
use crate::stats::products::Products;

/// The penalties to be tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridOptions {
    /// Share of the absolute penalty, `0 < mixing <= 1`. Default 1, the lasso.
    pub mixing: f64,
    /// How many penalties. Default 60.
    pub steps: usize,
    /// The smallest penalty as a share of the largest. Default 0.001.
    pub smallest_share: f64,
}

impl Default for GridOptions {
    fn default() -> Self {
        Self { mixing: 1.0, steps: 60, smallest_share: 1e-3 }
    }
}

/// The least penalty at which every coefficient is zero: `max_j |sum_i z_ij y_i| / (n mixing)` with standardised columns; 0 where no column is correlated
/// with the outcome.
///
/// # Errors
/// `OutOfRange` for the mixing; `Empty` without rows.
pub fn largest_penalty(products: &Products, mixing: f64) -> Result<f64, StatsError> {
    check_mixing(mixing)?;
    Ok(largest(&whole(products)?, mixing))
}

/// Penalties from [`largest_penalty`] down, evenly spaced on a logarithmic scale.
///
/// # Errors
/// `OutOfRange` for an option (at least two steps; `0 < smallest_share < 1`); `NoVariation` where no column is correlated with the outcome.
pub fn penalty_grid(products: &Products, options: &GridOptions) -> Result<Vec<f64>, StatsError> {
    check_grid(options)?;
    grid(&whole(products)?, options)
}

/// The elastic net at each of some penalties, from cross-products alone: `O(p^2)` a step and no row is touched. Fits come in the order of the penalties; they
/// are found from the largest down, each starting from the one before.
///
/// Every answer meets the conditions of a minimum to `1e-9` of the outcome's spread. Where columns repeat each other the minimum of the lasso is not
/// unique and the one that coordinate descent finds is given (to `1e-7`), earlier columns first. An outcome that does not vary gives zeros.
///
/// # Errors
/// `OutOfRange` for mixing or a penalty; `Empty` without rows; `NotConverged`.
pub fn penalised_fits(
    products: &Products,
    mixing: f64,
    penalties: &[f64],
) -> Result<Vec<PenalisedFit>, StatsError> {
    check_mixing(mixing)?;
    penalties.iter().try_for_each(|&penalty| check_penalty(penalty))?;
    fits(&whole(products)?, mixing, penalties)
}

fn whole(products: &Products) -> Result<Gram, StatsError> {
    if products.rows() == 0 {
        return Err(StatsError::Empty { what: "the products".into() });
    }
    Gram::new(&Moments::all(products))
}

/// [`penalised_fits`] where mixing and penalties were checked.
pub(super) fn fits(
    gram: &Gram,
    mixing: f64,
    penalties: &[f64],
) -> Result<Vec<PenalisedFit>, StatsError> {
    let mut order: Vec<usize> = (0..penalties.len()).collect();
    order.sort_by(|&a, &b| penalties[b].total_cmp(&penalties[a]));
    let mut solver = Solver::new(gram, mixing)?;
    let mut found: Vec<(usize, PenalisedFit)> = Vec::with_capacity(penalties.len());
    for place in order {
        found.push((place, solver.fit(penalties[place])?));
    }
    found.sort_by_key(|(place, _)| *place);
    Ok(found.into_iter().map(|(_, fit)| fit).collect())
}

pub(super) fn check_grid(options: &GridOptions) -> Result<(), StatsError> {
    check_mixing(options.mixing)?;
    let refuse = |what: &str, value, expected: &str| {
        Err(StatsError::OutOfRange { what: what.into(), value, expected: expected.into() })
    };
    if options.steps < 2 {
        return refuse("the number of penalties", options.steps as f64, "2 or more");
    }
    if !(options.smallest_share > 0.0 && options.smallest_share < 1.0) {
        let what = "the smallest share of the largest penalty";
        return refuse(what, options.smallest_share, "a number between 0 and 1");
    }
    Ok(())
}

/// [`penalty_grid`] with options that were checked.
pub(super) fn grid(gram: &Gram, options: &GridOptions) -> Result<Vec<f64>, StatsError> {
    let largest = largest(gram, options.mixing);
    if largest <= 0.0 {
        let what = "the part of the outcome that the columns could explain".into();
        return Err(StatsError::NoVariation { what });
    }
    let step = options.smallest_share.ln() / (options.steps - 1) as f64;
    Ok((0..options.steps).map(|place| largest * (step * place as f64).exp()).collect())
}

fn largest(gram: &Gram, mixing: f64) -> f64 {
    let strongest = gram.with_outcome.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    strongest * gram.outcome_scale / mixing
}
