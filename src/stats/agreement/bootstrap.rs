//! Percentile intervals of a statistic that some bootstrap samples do not have.

use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::quantile_of_sorted;

/// A percentile interval from bootstrap samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BootstrapInterval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Samples in which the statistic does not exist; they are left out.
    pub undefined: usize,
}

/// Quantiles `(1 - level) / 2` and `(1 + level) / 2` of the samples' statistics.
pub(super) fn percentile_interval(
    draws: &[Option<f64>],
    level: f64,
) -> Result<BootstrapInterval, StatsError> {
    require_level("the level of an interval", level)?;
    let mut found: Vec<f64> = draws.iter().copied().flatten().collect();
    let undefined = draws.len() - found.len();
    if undefined * 10 > draws.len() || found.is_empty() {
        let what = "the rating in many bootstrap samples".into();
        return Err(StatsError::NoVariation { what });
    }
    found.sort_by(f64::total_cmp);
    Ok(BootstrapInterval {
        low: quantile_of_sorted(&found, 0.5 * (1.0 - level)),
        high: quantile_of_sorted(&found, 0.5 * (1.0 + level)),
        undefined,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn missing_statistics_are_left_out_and_counted() {
        let mut draws: Vec<Option<f64>> = (0..=100).map(|i| Some(f64::from(i))).collect();
        draws.push(None);
        let found = percentile_interval(&draws, 0.9).unwrap();
        assert!((found.low - 5.0).abs() < 1e-12 && (found.high - 95.0).abs() < 1e-12);
        assert_eq!(found.undefined, 1);
    }

    #[test]
    fn more_than_one_missing_in_ten_is_refused() {
        let draws = [Some(1.0), Some(2.0), None];
        assert!(matches!(percentile_interval(&draws, 0.9), Err(StatsError::NoVariation { .. })));
        assert!(percentile_interval(&[], 0.9).is_err());
        assert!(percentile_interval(&[Some(1.0)], 1.5).is_err());
    }
}
