//! Intervals of a share.

use crate::stats::error::{StatsError, require_level};
use crate::stats::numeric::{beta_quantile, normal_quantile};

/// A share with its interval, all from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proportion {
    /// `successes / trials`.
    pub share: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Exact interval of a binomial share (Clopper & Pearson 1934, Biometrika 26, 404-413): with `a = (1 - level) / 2` the quantiles `a` of
/// beta(x, n - x + 1) and `1 - a` of beta(x + 1, n - x). It covers at least `level`, often more.
///
/// # Errors
/// `Empty` without trials; `OutOfRange` for more successes than trials or a level outside 0 to 1.
pub fn clopper_pearson(successes: u64, trials: u64, level: f64) -> Result<Proportion, StatsError> {
    let share = checked_share(successes, trials, level)?;
    let tail = 0.5 * (1.0 - level);
    let (x, n) = (successes as f64, trials as f64);
    let low = if successes == 0 { 0.0 } else { beta_quantile(tail, x, n - x + 1.0) };
    let high = if successes == trials { 1.0 } else { beta_quantile(1.0 - tail, x + 1.0, n - x) };
    Ok(Proportion { share, low, high })
}

/// Score interval of a binomial share (Wilson 1927, Journal of the American Statistical Association 22, 209-212): the shares `p` with
/// `|x/n - p| <= z sqrt(p (1 - p) / n)`. Covers `level` on average; shorter than the exact one.
///
/// # Errors
/// As [`clopper_pearson`].
pub fn wilson(successes: u64, trials: u64, level: f64) -> Result<Proportion, StatsError> {
    let share = checked_share(successes, trials, level)?;
    let n = trials as f64;
    let z = normal_quantile(0.5 * (1.0 + level));
    let square = z * z / n;
    let centre = (share + 0.5 * square) / (1.0 + square);
    let half = z * ((share * (1.0 - share) + 0.25 * square) / n).sqrt() / (1.0 + square);
    Ok(Proportion {
        share,
        // at the ends the formula is exact and only rounding stands in the way
        low: if successes == 0 { 0.0 } else { centre - half },
        high: if successes == trials { 1.0 } else { centre + half },
    })
}

/// Interval of the difference of two independent shares, the first less the second (Newcombe 1998, Statistics in Medicine 17, 873-890, method 10): with the
/// score intervals `(l1, u1)` and `(l2, u2)` of [`wilson`], from `d - sqrt((p1 - l1)^2 + (u2 - p2)^2)` to `d + sqrt((u1 - p1)^2 + (p2 - l2)^2)`. Each pair
/// holds successes and trials; all results lie between -1 and 1.
///
/// # Errors
/// As [`clopper_pearson`].
pub fn newcombe_difference(
    first: (u64, u64),
    second: (u64, u64),
    level: f64,
) -> Result<Proportion, StatsError> {
    let one = wilson(first.0, first.1, level)?;
    let two = wilson(second.0, second.1, level)?;
    let share = one.share - two.share;
    Ok(Proportion {
        share,
        low: share - (one.share - one.low).hypot(two.high - two.share),
        high: share + (one.high - one.share).hypot(two.share - two.low),
    })
}

fn checked_share(successes: u64, trials: u64, level: f64) -> Result<f64, StatsError> {
    require_level("the level of an interval", level)?;
    if trials == 0 {
        let what = "the list of trials".into();
        return Err(StatsError::Empty { what });
    }
    if successes > trials {
        return Err(StatsError::OutOfRange {
            what: "the number of successes".into(),
            value: successes as f64,
            expected: format!("at most the {trials} trials"),
        });
    }
    Ok(successes as f64 / trials as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::numeric::beta_cdf;
    use proptest::prelude::*;

    #[test]
    fn differences_of_shares_are_those_of_newcombe() {
        // Newcombe 1998, Statistics in Medicine 17, 873-890, table II, method 10 (from memory): 56/70 less 48/80, 9/10 less 3/10, 10/10 less 0/10
        let table = [
            ((56, 70), (48, 80), 0.0524, 0.3339),
            ((9, 10), (3, 10), 0.1705, 0.8090),
            ((10, 10), (0, 10), 0.6075, 1.0),
        ];
        for (first, second, low, high) in table {
            let found = newcombe_difference(first, second, 0.95).unwrap();
            assert!(
                (found.low - low).abs() < 6e-5 && (found.high - high).abs() < 6e-5,
                "{found:?}"
            );
        }
        assert!(newcombe_difference((0, 0), (1, 2), 0.95).is_err());
        assert!(newcombe_difference((1, 2), (3, 2), 0.95).is_err());
    }

    #[test]
    fn no_success_in_n_has_the_closed_form() {
        // upper end 1 - (a/2)^(1/n)
        let found = clopper_pearson(0, 10, 0.95).unwrap();
        assert_eq!(found.low, 0.0);
        assert!((found.high - (1.0 - 0.025_f64.powf(0.1))).abs() < 1e-13);
        let all = clopper_pearson(10, 10, 0.95).unwrap();
        assert!((all.low - 0.025_f64.powf(0.1)).abs() < 1e-13);
        assert_eq!(all.high, 1.0);
    }

    #[test]
    fn published_intervals_of_81_in_263_are_met() {
        // Newcombe 1998, Statistics in Medicine 17, 857-872, table I (from memory): score 0.2553 to 0.3662, exact 0.2527 to 0.3676
        let score = wilson(81, 263, 0.95).unwrap();
        assert!((score.low - 0.2553).abs() < 5e-5 && (score.high - 0.3662).abs() < 5e-5);
        let exact = clopper_pearson(81, 263, 0.95).unwrap();
        assert!((exact.low - 0.2527).abs() < 5e-5 && (exact.high - 0.3676).abs() < 5e-5);
    }

    #[test]
    fn impossible_counts_are_refused() {
        assert!(clopper_pearson(0, 0, 0.95).is_err());
        assert!(wilson(3, 2, 0.95).is_err());
        assert!(wilson(1, 2, 1.0).is_err());
    }

    proptest! {
        #[test]
        fn the_exact_ends_leave_exactly_the_tails(trials in 1_u64..400, part in 0.0_f64..1.0) {
            let successes = (part * trials as f64) as u64;
            let found = clopper_pearson(successes, trials, 0.9).unwrap();
            prop_assert!(found.low <= found.share && found.share <= found.high);
            let (x, n) = (successes as f64, trials as f64);
            if successes > 0 {
                // P(X >= x | low) = 0.05
                prop_assert!((beta_cdf(x, n - x + 1.0, found.low) - 0.05).abs() < 1e-10);
            }
        }

        #[test]
        fn success_and_failure_mirror_each_other(trials in 1_u64..400, part in 0.0_f64..1.0) {
            let successes = (part * trials as f64) as u64;
            for interval in [clopper_pearson, wilson] {
                let one = interval(successes, trials, 0.95).unwrap();
                let other = interval(trials - successes, trials, 0.95).unwrap();
                prop_assert!((one.low - (1.0 - other.high)).abs() < 1e-9);
            }
        }
    }
}
