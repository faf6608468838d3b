//! Fits to groups drawn with replacement.

use super::Refit;
use crate::stats::error::{StatsError, require_finite, require_length, require_level};
use crate::stats::numeric::{quantile, standard_deviation};
use crate::stats::resample::replicate;
use ndarray::Array2;
use rand::{Rng, RngExt};

/// Coefficients of fits to groups drawn with replacement.
#[derive(Debug, Clone, PartialEq)]
pub struct LotBootstrap {
    /// Column names.
    pub names: Vec<String>,
    /// One row a sample that carried all columns, in the order of the draws.
    pub coefficients: Array2<f64>,
    /// Samples that did not: a column was a combination of the others, or the rows were too few.
    pub refused: usize,
}

impl Refit {
    /// Fits to as many groups drawn with replacement as there are (Davison & Hinkley 1997, section 3.8), in parallel, every replicate with a ChaCha stream of
    /// its own: the same bytes on any number of threads.
    ///
    /// # Errors
    /// `TooFewGroups` under two groups; `OutOfRange` without a replicate; `RankDeficient` or `TooFewRows` where no sample carries all columns.
    pub fn lot_bootstrap(&self, replicates: usize, seed: u64) -> Result<LotBootstrap, StatsError> {
        let count = self.groups.len();
        if count < 2 {
            return Err(StatsError::TooFewGroups { found: count, needed: 2 });
        }
        if replicates == 0 {
            let (what, expected) = ("the number of replicates".into(), "at least 1".into());
            return Err(StatsError::OutOfRange { what, value: 0.0, expected });
        }
        let draws = replicate(seed, replicates, |generator| {
            self.counted(&drawn_counts(generator, count)).map(|fit| fit.coefficients)
        });
        self.collected(draws)
    }

    fn collected(
        &self,
        draws: Vec<Result<Vec<f64>, StatsError>>,
    ) -> Result<LotBootstrap, StatsError> {
        let (mut kept, mut faults) = (Vec::new(), Vec::new());
        for draw in draws {
            match draw {
                Ok(coefficients) => kept.push(coefficients),
                Err(fault) => faults.push(fault),
            }
        }
        let refused = faults.len();
        if let (true, Some(fault)) = (kept.is_empty(), faults.into_iter().next()) {
            return Err(fault);
        }
        let shape = (kept.len(), self.names.len());
        let coefficients = Array2::from_shape_fn(shape, |(draw, column)| kept[draw][column]);
        Ok(LotBootstrap { names: self.names.clone(), coefficients, refused })
    }
}

impl LotBootstrap {
    /// `c'b` of every sample.
    ///
    /// # Errors
    /// `LengthMismatch`, `NotFinite` for the contrast.
    pub fn combined(&self, contrast: &[f64]) -> Result<Vec<f64>, StatsError> {
        require_length("the contrast", self.names.len(), contrast.len())?;
        require_finite("the contrast", contrast)?;
        let rows = self.coefficients.rows().into_iter();
        Ok(rows.map(|row| row.iter().zip(contrast).map(|(b, c)| b * c).sum()).collect())
    }

    /// Standard deviation of `c'b` over the samples: its bootstrap standard error.
    ///
    /// # Errors
    /// As [`LotBootstrap::combined`]; `TooFewRows` under two samples.
    pub fn standard_error(&self, contrast: &[f64]) -> Result<f64, StatsError> {
        standard_deviation(&self.combined(contrast)?)
    }

    /// Percentile interval of `c'b`: the `(1 -/+ level) / 2` quantiles (type 7) over the samples. With few groups it is too narrow.
    ///
    /// # Errors
    /// As [`LotBootstrap::combined`]; `OutOfRange` unless `0 < level < 1`.
    pub fn percentile_interval(
        &self,
        contrast: &[f64],
        level: f64,
    ) -> Result<(f64, f64), StatsError> {
        require_level("the level of an interval", level)?;
        let values = self.combined(contrast)?;
        let tail = 0.5 * (1.0 - level);
        Ok((quantile(&values, tail)?, quantile(&values, 1.0 - tail)?))
    }
}

/// How often each of `count` groups is drawn in `count` draws.
fn drawn_counts(generator: &mut impl Rng, count: usize) -> Vec<f64> {
    let mut counts = vec![0.0; count];
    (0..count).for_each(|_| counts[generator.random_range(0..count)] += 1.0);
    counts
}
