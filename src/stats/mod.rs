//! Mathematics only: knows no reeds and no units.
//!
//! Every estimator states its formula, its errors and its source. Nothing here inverts a matrix to solve a system, and
//! every use of chance is seeded.

pub mod cluster;
pub mod design;
pub mod linear;
pub mod mixed;
pub mod multiplicity;
pub mod numeric;
pub mod products;
pub mod proportion;
pub mod robust;

/// What was wrong with the numbers that a fit was given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StatsError {
    #[error("{0} is not a finite number")]
    NotFinite(String),
    #[error("{wanted} values were expected and {found} came")]
    Length { wanted: usize, found: usize },
    #[error("{rows} rows cannot carry {columns} columns")]
    TooFewRows { rows: usize, columns: usize },
    #[error("these columns are combinations of earlier ones: {}", .0.join(", "))]
    Aliased(Vec<String>),
    #[error("it takes {wanted} groups and there are {found}")]
    TooFewGroups { wanted: usize, found: usize },
    #[error("{0} does not vary")]
    NoSpread(String),
    #[error("the fit did not converge: {0}")]
    NotConverged(String),
}
