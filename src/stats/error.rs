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
    /// An option outside its range, or a value so large (over 1e150) that its square cannot be summed.
    #[error("{what} is {value}; expected {expected}")]
    OutOfRange { what: String, value: f64, expected: String },
    /// An iteration did not reach its tolerance.
    #[error("{what} did not converge")]
    NotConverged { what: String },
    /// The library underneath refused.
    #[error("{what}: {message}")]
    Backend { what: String, message: String },
    /// Fewer of something than the method can work with.
    #[error("{found} {what}; at least {needed} are needed")]
    TooFew { what: String, found: usize, needed: usize },
    /// Nothing ended while it was watched, so nothing is known of when things end.
    #[error("{what} holds no event")]
    NoEvents { what: String },
    /// The likelihood keeps rising while these coefficients run to infinity: the columns tell the outcomes apart without fail.
    #[error("the likelihood has no maximum; these columns decide the outcome alone: {}", columns.join(", "))]
    MonotoneLikelihood { columns: Vec<String> },
    /// More cells of a column are missing than may be filled in; shares are 0 to 1.
    #[error("{what} lacks {:.0} % of its cells; at most {:.0} % may be missing", 100.0 * share, 100.0 * most)]
    TooMuchMissing { what: String, share: f64, most: f64 },
    /// Every column has missing cells, so nothing firm is there to predict from.
    #[error("every column has missing cells; one column without any is needed")]
    NoCompleteColumn,
    /// Two things that always change together.
    #[error("{what} cannot be told from {with}")]
    Confounded { what: String, with: String },
    /// A method that is defined for another criterion than the fit's.
    #[error("{what} needs a fit by restricted maximum likelihood")]
    NeedsRestricted { what: String },
    /// Two models of which neither holds the other.
    #[error("the models cannot be compared: {reason}")]
    NotNested { reason: String },
    /// Some columns foretell the outcome without error, so no finite coefficients are best; `complete` where that holds for every row.
    #[error("these columns foretell the outcome without error: {}", columns.join(", "))]
    Separation { columns: Vec<String>, complete: bool },
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

/// Largest value whose square, summed over any number of rows, is still a number.
const LARGEST_SQUARED: f64 = 1e150;

/// [`require_finite`] for methods that square: refuses values so large that sums of squares would overflow.
pub(crate) fn require_squarable(what: &str, values: &[f64]) -> Result<(), StatsError> {
    require_finite(what, values)?;
    match values.iter().find(|value| value.abs() > LARGEST_SQUARED) {
        Some(&value) => Err(StatsError::OutOfRange {
            what: format!("a value of {what}"),
            value,
            expected: format!("at most {LARGEST_SQUARED:e} in size"),
        }),
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

/// Refuses fewer of something than are needed.
pub(crate) fn require_count(what: &str, needed: usize, found: usize) -> Result<(), StatsError> {
    if found >= needed {
        return Ok(());
    }
    Err(StatsError::TooFew { what: what.into(), found, needed })
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
