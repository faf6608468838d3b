//! An ordered outcome.

use crate::stats::error::{StatsError, require_finite};

/// A threshold a category: with more of them than this the outcome is a measurement, and the equations are too large to hold.
const MOST_CATEGORIES: usize = 1_000;

/// Ordered categories that are also numbers, such as ratings; only their order enters the model.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderedOutcome {
    /// The value of each category, rising.
    levels: Vec<f64>,
    /// Place of each row's value in `levels`.
    codes: Vec<usize>,
}

impl OrderedOutcome {
    /// The categories are the values that occur.
    ///
    /// # Errors
    /// `Empty`, `NotFinite`; `NoVariation` for a single value; `OutOfRange` for more than 1,000 different ones.
    pub fn new(values: &[f64]) -> Result<Self, StatsError> {
        require_finite("the outcome", values)?;
        let mut levels = values.to_vec();
        levels.sort_by(f64::total_cmp);
        // 0 and -0 are one value
        levels.dedup_by(|a, b| a == b);
        Self::with_levels(values, &levels)
    }

    /// The categories are given, and each must occur: a category that no row has leaves its thresholds undefined.
    ///
    /// # Errors
    /// `Empty`, `NotFinite`; `NoVariation` for a single category; `OutOfRange` for a value that is not a category, categories that do not rise or too many;
    /// `UnknownLevel` with the category that no row has.
    pub fn with_levels(values: &[f64], levels: &[f64]) -> Result<Self, StatsError> {
        require_finite("the outcome", values)?;
        require_finite("the list of categories", levels)?;
        if levels.len() > MOST_CATEGORIES {
            let (what, value) = ("the number of categories".into(), levels.len() as f64);
            let expected = format!("at most {MOST_CATEGORIES}");
            return Err(StatsError::OutOfRange { what, value, expected });
        }
        if let Some(pair) = levels.windows(2).find(|pair| pair[0] >= pair[1]) {
            let (what, expected) = ("a category".into(), format!("more than {}", pair[0]));
            return Err(StatsError::OutOfRange { what, value: pair[1], expected });
        }
        let mut codes = Vec::with_capacity(values.len());
        for &value in values {
            let place = levels.partition_point(|&level| level < value);
            if levels.get(place) != Some(&value) {
                let (what, expected) = ("an outcome".into(), "one of the categories".into());
                return Err(StatsError::OutOfRange { what, value, expected });
            }
            codes.push(place);
        }
        let outcome = Self { levels: levels.to_vec(), codes };
        if let Some(place) = outcome.counts().iter().position(|&count| count == 0) {
            let level = levels[place].to_string();
            return Err(StatsError::UnknownLevel { factor: "the outcome".into(), level });
        }
        if levels.len() < 2 {
            return Err(StatsError::NoVariation { what: "the outcome".into() });
        }
        Ok(outcome)
    }

    /// The value of each category, rising.
    pub fn levels(&self) -> &[f64] {
        &self.levels
    }

    /// The category of each row, from 0.
    pub fn codes(&self) -> &[usize] {
        &self.codes
    }

    /// Rows in each category.
    pub fn counts(&self) -> Vec<usize> {
        let mut counts = vec![0; self.levels.len()];
        self.codes.iter().for_each(|&code| counts[code] += 1);
        counts
    }
}
