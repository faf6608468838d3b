//! Missing cells: described, filled in several times over, and the answers pooled.
//!
//! A cell may be filled in from the other columns where it is missing for reasons that those columns show (missing at random; Rubin 1976, Biometrika 63,
//! 581-592). Filling in once would pretend to know it; filling in several times, analysing each filled table and pooling carries the doubt along (Rubin 1987).
//!
//! | what | where |
//! | --- | --- |
//! | a table with gaps, and where they lie | [`IncompleteTable`] |
//! | chained equations with predictive mean matching | [`impute`], [`Imputations`] |
//! | Rubin's rules | [`pool`], [`pool_joint`] |

mod chained_equations;
mod matching;
mod pooling;
mod regression;
mod table;

pub use chained_equations::{Imputations, Settings, impute};
pub use pooling::{Pooled, pool, pool_joint};
pub use table::{IncompleteTable, MissingPattern};
