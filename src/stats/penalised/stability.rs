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

    /// At most so many columns without effect are expected among the stable ones: `q^2 / ((2 threshold - 1) p)` with the mean number kept `q` and `p`
    /// candidates (Meinshausen & Buehlmann 2010, theorem 1). It supposes that columns without effect are exchangeable and that the method beats guessing.
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
/// groups (rounded down) drawn without replacement, in which the elastic net gives a column a coefficient other than zero. Halves are of groups and not of
/// rows, so that rows which resemble each other do not vouch for each other. Columns are standardised anew in each half.
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

#[cfg(test)]
mod tests {
    use super::super::tests::simulated;
    use super::*;

    fn quick(seed: u64) -> StabilityOptions {
        StabilityOptions { subsamples: 60, seed, ..Default::default() }
    }

    #[test]
    fn columns_with_an_effect_come_back_and_others_do_not() {
        let sample = simulated(200, 12, 20, 1, &[1.0, -1.0], 1.0);
        let found = stability_selection(&sample.products(), &[0.35], &quick(1)).unwrap();
        assert_eq!(found.stable(0.9), [0, 1]);
        assert!(found.largest[2..].iter().all(|&share| share < 0.3), "{:?}", found.largest);
        assert!((found.mean_kept - found.shares.sum()).abs() < 1e-12);
        assert_eq!(found.candidates, 12);
    }

    #[test]
    fn shares_grow_as_the_penalty_falls_and_the_largest_is_over_all() {
        let sample = simulated(80, 6, 8, 2, &[0.5], 1.0);
        let found = stability_selection(&sample.products(), &[10.0, 0.2, 1e-4], &quick(2)).unwrap();
        assert!(found.shares.row(0).iter().all(|&share| share == 0.0));
        assert!(found.shares.row(2).iter().all(|&share| share == 1.0));
        assert_eq!(found.largest, [1.0; 6]);
        assert_eq!(found.mean_kept, 6.0);
    }

    #[test]
    fn the_bound_on_false_columns_is_hand_worked() {
        let sample = simulated(80, 6, 8, 2, &[0.5], 1.0);
        let found = stability_selection(&sample.products(), &[1e-4], &quick(2)).unwrap();
        // q = 6 of p = 6: 36 / (0.8 * 6)
        assert!((found.expected_false(0.9).unwrap() - 7.5).abs() < 1e-12);
        for threshold in [0.5, 1.1, f64::NAN] {
            assert!(matches!(found.expected_false(threshold), Err(StatsError::OutOfRange { .. })));
        }
    }

    #[test]
    fn the_bytes_do_not_depend_on_the_number_of_threads() {
        let sample = simulated(60, 5, 9, 3, &[1.0], 1.0);
        let products = sample.products();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
            let run = || stability_selection(&products, &[0.3, 0.1], &quick(3)).unwrap();
            pool.unwrap().install(run)
        };
        assert_eq!(on(1), on(2));
        assert_eq!(on(1), on(7));
        let other = stability_selection(&products, &[0.3, 0.1], &quick(4)).unwrap();
        assert_ne!(on(1).shares, other.shares);
    }

    #[test]
    fn groups_of_one_row_and_constant_columns_are_carried() {
        let mut sample = simulated(12, 4, 12, 4, &[1.0], 0.5);
        sample.design.matrix.column_mut(3).fill(7.0);
        let found = stability_selection(&sample.products(), &[0.1], &quick(1)).unwrap();
        assert_eq!(found.largest[3], 0.0);
        assert_eq!(found.candidates, 3);
    }

    #[test]
    fn too_few_groups_and_a_constant_outcome_are_refused() {
        let mut sample = simulated(12, 3, 3, 5, &[1.0], 0.5);
        let run = |products: &Products, penalties: &[f64], options: &StabilityOptions| {
            stability_selection(products, penalties, options)
        };
        let few = sample.products();
        assert!(matches!(
            run(&few, &[0.1], &quick(1)),
            Err(StatsError::TooFewGroups { found: 3, needed: 4 })
        ));
        sample.groups = (0..12).collect();
        let enough = sample.products();
        assert!(matches!(run(&enough, &[], &quick(1)), Err(StatsError::Empty { .. })));
        let none = StabilityOptions { subsamples: 0, ..quick(1) };
        assert!(matches!(run(&enough, &[0.1], &none), Err(StatsError::OutOfRange { .. })));
        sample.outcome.fill(1.0);
        assert!(matches!(
            run(&sample.products(), &[0.1], &quick(1)),
            Err(StatsError::NoVariation { .. })
        ));
    }
}
