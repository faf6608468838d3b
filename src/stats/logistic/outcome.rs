//! A yes/no outcome: single cases, counts, or weighted cases.

use crate::stats::error::{StatsError, require_finite, require_length};
use statrs::function::gamma::ln_gamma;

/// Successes among trials, a row each.
#[derive(Debug, Clone, PartialEq)]
pub struct BinomialOutcome {
    /// Successes (or their weight) in each row, 0 to `trials`.
    successes: Vec<f64>,
    /// Trials (or weight) of each row, above 0.
    trials: Vec<f64>,
    /// `sum ln C(trials, successes)`: the part of the log-likelihood that no coefficient moves.
    constant: f64,
}

impl BinomialOutcome {
    /// One trial a row: 1 for a success, 0 for a failure.
    ///
    /// # Errors
    /// `Empty`, `NotFinite`; `OutOfRange` for any other value.
    pub fn binary(values: &[f64]) -> Result<Self, StatsError> {
        Self::weighted(values, &vec![1.0; values.len()])
    }

    /// Zeros and ones that count `weights` times each. Weights need not be whole; the log-likelihood is the weighted sum of the rows'.
    ///
    /// # Errors
    /// `Empty`, `NotFinite`, `LengthMismatch`; `OutOfRange` for an outcome other than 0 or 1 or a weight that is not positive.
    pub fn weighted(values: &[f64], weights: &[f64]) -> Result<Self, StatsError> {
        require_finite("the outcome", values)?;
        require_length("the list of weights", values.len(), weights.len())?;
        require_finite("the list of weights", weights)?;
        refuse("an outcome", "0 or 1", values, |value| value == 0.0 || value == 1.0)?;
        refuse("a weight", "a positive number", weights, |weight| weight > 0.0)?;
        let successes = values.iter().zip(weights).map(|(value, weight)| value * weight);
        Ok(Self { successes: successes.collect(), trials: weights.to_vec(), constant: 0.0 })
    }

    /// `successes` of `trials` a row, both whole numbers. The log-likelihood holds the binomial coefficients.
    ///
    /// # Errors
    /// `Empty`, `NotFinite`, `LengthMismatch`; `OutOfRange` for numbers that are not whole, a row without trials, more successes than trials.
    pub fn counts(successes: &[f64], trials: &[f64]) -> Result<Self, StatsError> {
        require_finite("the successes", successes)?;
        require_length("the list of trials", successes.len(), trials.len())?;
        require_finite("the list of trials", trials)?;
        let whole = |value: f64| value >= 0.0 && value.fract() == 0.0;
        refuse("a count of trials", "a whole number above 0", trials, |n| whole(n) && n > 0.0)?;
        refuse("a count of successes", "a whole number", successes, whole)?;
        let mut constant = 0.0;
        for (&some, &all) in successes.iter().zip(trials) {
            refuse("a count of successes", "at most the trials", &[some], |s| s <= all)?;
            constant += ln_gamma(all + 1.0) - ln_gamma(some + 1.0) - ln_gamma(all - some + 1.0);
        }
        Ok(Self { successes: successes.to_vec(), trials: trials.to_vec(), constant })
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.trials.len()
    }

    /// Successes of each row.
    pub fn successes(&self) -> &[f64] {
        &self.successes
    }

    /// Trials of each row.
    pub fn trials(&self) -> &[f64] {
        &self.trials
    }

    pub(super) fn constant(&self) -> f64 {
        self.constant
    }

    /// `(successes, failures)` of each row.
    pub(super) fn pairs(&self) -> impl Iterator<Item = (f64, f64)> {
        self.successes.iter().zip(&self.trials).map(|(&some, &all)| (some, all - some))
    }

    /// Share of successes in all trials.
    pub fn share(&self) -> f64 {
        self.successes.iter().sum::<f64>() / self.trials.iter().sum::<f64>()
    }

    /// Log-likelihood of a model with a free probability a row, without the constant.
    pub(super) fn saturated(&self) -> f64 {
        let entropy = |part: f64, all: f64| if part > 0.0 { part * (part / all).ln() } else { 0.0 };
        self.pairs().map(|(s, f)| entropy(s, s + f) + entropy(f, s + f)).sum()
    }

    /// Log-likelihood of one probability for all rows, without the constant.
    pub(super) fn at_one_share(&self) -> f64 {
        let share = self.share();
        let terms = self.pairs().map(|(s, f)| times_log(s, share) + times_log(f, 1.0 - share));
        terms.sum()
    }

    /// Refuses an outcome that is the same everywhere, and one with fewer trials than a model needs.
    pub(super) fn require_informative(&self, columns: usize) -> Result<(), StatsError> {
        let all: f64 = self.trials.iter().sum();
        if self.trials.len() < columns || all <= columns as f64 {
            return Err(StatsError::TooFewRows { rows: self.trials.len(), columns });
        }
        let some: f64 = self.successes.iter().sum();
        if some == 0.0 || some == all {
            return Err(StatsError::NoVariation { what: "the outcome".into() });
        }
        Ok(())
    }
}

fn times_log(count: f64, probability: f64) -> f64 {
    if count > 0.0 { count * probability.ln() } else { 0.0 }
}

fn refuse(
    what: &str,
    expected: &str,
    values: &[f64],
    good: impl Fn(f64) -> bool,
) -> Result<(), StatsError> {
    match values.iter().find(|&&value| !good(value)) {
        Some(&value) => {
            let (what, expected) = (what.into(), expected.into());
            Err(StatsError::OutOfRange { what, value, expected })
        }
        None => Ok(()),
    }
}

/// `1 / (1 + exp(-x))`, with full relative accuracy in both tails when the caller asks for the small side.
pub fn logistic(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + (-x).exp())
    } else {
        let power = x.exp();
        power / (1.0 + power)
    }
}

/// `F(x)` and `1 - F(x)` of the logistic distribution from one exponential, each with full relative accuracy.
#[inline]
pub(crate) fn logistic_both(x: f64) -> (f64, f64) {
    let small = (-x.abs()).exp();
    let (near, far) = (1.0 / (1.0 + small), small / (1.0 + small));
    if x >= 0.0 { (near, far) } else { (far, near) }
}

/// `ln(1 / (1 + exp(-x)))` without loss at either end.
pub(crate) fn log_logistic(x: f64) -> f64 {
    if x >= 0.0 { -(-x).exp().ln_1p() } else { x - x.exp().ln_1p() }
}

/// `F(x)`, `1 - F(x)`, `ln F(x)` and `ln(1 - F(x))` of the logistic distribution from one exponential, each with full relative accuracy.
#[inline]
pub(crate) fn logistic_parts(x: f64) -> LogisticParts {
    let small = (-x.abs()).exp();
    let (near, far) = (1.0 / (1.0 + small), small / (1.0 + small));
    let log_near = -small.ln_1p();
    let log_far = log_near - x.abs();
    if x >= 0.0 {
        LogisticParts { yes: near, no: far, log_yes: log_near, log_no: log_far }
    } else {
        LogisticParts { yes: far, no: near, log_yes: log_far, log_no: log_near }
    }
}

/// See [`logistic_parts`].
#[derive(Debug, Clone, Copy)]
pub(crate) struct LogisticParts {
    pub(crate) yes: f64,
    pub(crate) no: f64,
    pub(crate) log_yes: f64,
    pub(crate) log_no: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_tails_keep_their_digits() {
        for x in [-750.0, -40.0, -1.0, 0.0, 1e-9, 3.0, 37.0, 700.0] {
            let parts = logistic_parts(x);
            assert_eq!((parts.yes, parts.no), (logistic(x), logistic(-x)));
            assert_eq!((parts.yes, parts.no), logistic_both(x));
            assert_eq!((parts.log_yes, parts.log_no), (log_logistic(x), log_logistic(-x)));
        }
        assert_eq!(logistic_parts(f64::INFINITY).no, 0.0);
        assert!(logistic(-700.0) > 0.0 && log_logistic(-800.0) == -800.0);
    }
}
