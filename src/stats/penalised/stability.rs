//! Whether a choice of columns comes back in other groups.

use super::gram::Gram;
use super::moments::Moments;
use super::path;
use super::{check_mixing, check_penalty};
use crate::stats::error::StatsError;
use crate::stats::products::Products;
use crate::stats::resample::{permutation, replicate};
use ndarray::Array2;
use rand::Rng;

/// How the stability is found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StabilityOptions {
    /// Share of the absolute penalty, `0 < mixing <= 1`. Default 1, the lasso.
    pub mixing: f64,
    /// Half-samples of groups. Default 200.
    pub subsamples: usize,
    /// Seed. Default 1.
    pub seed: u64,
}

impl Default for StabilityOptions {
    fn default() -> Self {
        Self { mixing: 1.0, subsamples: 200, seed: 1 }
    }
}

/// How often each column is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct StabilitySelection {
    /// Names of the columns.
    pub names: Vec<String>,
    /// The penalties, as given.
    pub penalties: Vec<f64>,
    /// Share of the half-samples that keep the column at the penalty: one row a penalty, one column a column.
    pub shares: Array2<f64>,
    /// Largest share of each column over the penalties.
    pub largest: Vec<f64>,
    /// Mean over half-samples of the number of columns kept at any of the penalties.
    pub mean_kept: f64,
    /// Columns that vary, so that they could be kept.
    pub candidates: usize,
}

impl StabilitySelection {
    /// Places of the columns whose largest share is at or above a threshold.
    pub fn stable(&self, threshold: f64) -> Vec<usize> {
        (0..self.largest.len()).filter(|&place| self.largest[place] >= threshold).collect()
    }

    /// At most so many columns without effect are expected among the stable ones: `q^2 / ((2 threshold - 1) p)` with the mean number kept `q` and `p` candidates
    /// (Meinshausen & Buehlmann 2010, theorem 1). It supposes that columns without effect are exchangeable and that the method beats guessing.
    ///
    /// # Errors
    /// `OutOfRange` unless `0.5 < threshold <= 1`.
    pub fn expected_false(&self, threshold: f64) -> Result<f64, StatsError> {
        if !(threshold > 0.5 && threshold <= 1.0) {
            return Err(StatsError::OutOfRange {
                what: "the threshold of stability".into(),
                value: threshold,
                expected: "above 0.5 and at most 1".into(),
            });
        }
        if self.candidates == 0 {
            return Ok(0.0);
        }
        Ok(self.mean_kept.powi(2) / ((2.0 * threshold - 1.0) * self.candidates as f64))
    }
}

/// Stability selection (Meinshausen & Buehlmann 2010, Journal of the Royal Statistical Society B 72, 417-473): the share of half-samples, each of half of the
/// groups (rounded down) drawn without replacement, in which the elastic net gives a column a coefficient other than zero. Halves are of groups and not of rows, so
/// that rows which resemble each other do not vouch for each other. Columns are standardised anew in each half.
///
/// One ChaCha stream a half-sample, and cross-products alone: 200 half-samples cost no pass over the rows.
///
/// # Errors
/// `OutOfRange` for mixing, a penalty, or no half-sample; `Empty` without penalties; `TooFewGroups` under four groups; `NoVariation` for an outcome that
/// does not vary; `NotConverged`.
pub fn stability_selection(
    products: &Products,
    penalties: &[f64],
    options: &StabilityOptions,
) -> Result<StabilitySelection, StatsError> {
    let candidates = checked_candidates(products, penalties, options)?;
    let halves = replicate(options.seed, options.subsamples, |generator| {
        kept_in_half(products, penalties, options.mixing, generator)
    });
    let halves: Vec<Array2<bool>> = halves.into_iter().collect::<Result<_, _>>()?;
    let count = options.subsamples as f64;
    let shares = Array2::from_shape_fn((penalties.len(), products.names.len()), |place| {
        halves.iter().filter(|kept| kept[place]).count() as f64 / count
    });
    let ever = |kept: &Array2<bool>| {
        kept.columns().into_iter().filter(|column| column.iter().any(|&kept| kept)).count()
    };
    Ok(StabilitySelection {
        names: products.names.clone(),
        penalties: penalties.to_vec(),
        largest: shares.columns().into_iter().map(|c| c.fold(0.0, |a: f64, &b| a.max(b))).collect(),
        mean_kept: halves.iter().map(ever).sum::<usize>() as f64 / count,
        shares,
        candidates,
    })
}

/// The number of columns that vary, after the checks.
fn checked_candidates(
    products: &Products,
    penalties: &[f64],
    options: &StabilityOptions,
) -> Result<usize, StatsError> {
    check_mixing(options.mixing)?;
    penalties.iter().try_for_each(|&penalty| check_penalty(penalty))?;
    if penalties.is_empty() {
        return Err(StatsError::Empty { what: "the list of penalties".into() });
    }
    if options.subsamples == 0 {
        let what = "the number of half-samples".into();
        return Err(StatsError::OutOfRange { what, value: 0.0, expected: "1 or more".into() });
    }
    if products.groups.len() < 4 {
        return Err(StatsError::TooFewGroups { found: products.groups.len(), needed: 4 });
    }
    let gram = Gram::new(&Moments::all(products))?;
    if gram.outcome_scale == 0.0 {
        return Err(StatsError::NoVariation { what: "the outcome".into() });
    }
    Ok(gram.columns.len())
}

/// Which columns are kept at each penalty in a random half of the groups.
fn kept_in_half(
    products: &Products,
    penalties: &[f64],
    mixing: f64,
    generator: &mut impl Rng,
) -> Result<Array2<bool>, StatsError> {
    let mut half = permutation(generator, products.groups.len());
    half.truncate(products.groups.len() / 2);
    half.sort_unstable();
    let size = products.names.len() + 1;
    let moments = Moments::of(size, half.iter().map(|&place| &products.groups[place]));
    let fits = path::fits(&Gram::new(&moments)?, mixing, penalties)?;
    let shape = (penalties.len(), products.names.len());
    Ok(Array2::from_shape_fn(shape, |(penalty, column)| fits[penalty].coefficients[column] != 0.0))
}
