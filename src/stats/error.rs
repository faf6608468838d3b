//! What can be wrong with numbers handed to a method.

use thiserror::Error;

/// Why a method gave no number. Every variant names what was wrong, and the columns where there are any.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StatsError {
    /// There is nothing to compute from.
    #[error("{what} has no values")]
    Empty { what: String },
    /// A cell is not a number or is infinite; `row` counts from 0.
    #[error("{what} holds {value} in row {row}; every value must be finite")]
    NotFinite { what: String, row: usize, value: f64 },
    /// Two inputs that belong together differ in length.
    #[error("{what} has {found} values where {expected} are needed")]
    LengthMismatch { what: String, expected: usize, found: usize },
    /// The same name was given to two columns.
    #[error("two columns are called {name}")]
    DuplicateColumn { name: String },
    /// A name that is not a column of the design.
    #[error("the design has no column called {name}")]
    UnknownColumn { name: String },
    /// A level that does not occur.
    #[error("{factor} has no level {level}")]
    UnknownLevel { factor: String, level: String },
    /// Not more rows than columns.
    #[error("{rows} rows cannot carry {columns} columns; at least {} rows are needed", columns + 1)]
    TooFewRows { rows: usize, columns: usize },
    /// Some columns are exact combinations of the others.
    #[error("these columns are exact combinations of the others: {}", columns.join(", "))]
    RankDeficient { columns: Vec<String> },
    /// Everything is equal where a spread is needed.
    #[error("{what} does not vary")]
    NoVariation { what: String },
    /// Too few groups to measure a spread between groups.
    #[error("{found} groups; at least {needed} are needed")]
    TooFewGroups { found: usize, needed: usize },
    /// A row is fitted exactly whatever its outcome, so its error cannot be seen; `row` counts from 0.
    #[error("row {row} alone decides a coefficient, so its error cannot be seen")]
    FullLeverage { row: usize },
    /// The data leave no degree of freedom for this contrast.
    #[error("no degrees of freedom are left for {what}")]
    NoDegreesOfFreedom { what: String },
    /// An option outside its range.
    #[error("{what} is {value}; expected {expected}")]
    OutOfRange { what: String, value: f64, expected: String },
    /// An iteration did not reach its tolerance.
    #[error("{what} did not converge")]
    NotConverged { what: String },
    /// The library underneath refused.
    #[error("{what}: {message}")]
    Backend { what: String, message: String },
    /// A matrix of variances or correlations that no data could have.
    #[error("{what} is not positive semi-definite")]
    NotPositive { what: String },
}

/// Refuses an empty slice and any value that is not finite.
pub(crate) fn require_finite(what: &str, values: &[f64]) -> Result<(), StatsError> {
    if values.is_empty() {
        return Err(StatsError::Empty { what: what.into() });
    }
    match values.iter().position(|value| !value.is_finite()) {
        Some(row) => Err(StatsError::NotFinite { what: what.into(), row, value: values[row] }),
        None => Ok(()),
    }
}

/// Refuses a length other than the expected one.
pub(crate) fn require_length(what: &str, expected: usize, found: usize) -> Result<(), StatsError> {
    if expected == found {
        return Ok(());
    }
    Err(StatsError::LengthMismatch { what: what.into(), expected, found })
}

/// Refuses a probability or level outside the open interval (0, 1).
pub(crate) fn require_level(what: &str, value: f64) -> Result<(), StatsError> {
    if value > 0.0 && value < 1.0 {
        return Ok(());
    }
    Err(StatsError::OutOfRange {
        what: what.into(),
        value,
        expected: "a number between 0 and 1".into(),
    })
}
