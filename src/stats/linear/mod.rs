//! Least squares, with errors that fit the data at hand.

mod cluster_robust;
mod cluster_score;
mod collinearity;
mod coordinates;
mod diagnostics;
mod double_double;
mod extended;
mod fit;
mod heteroskedastic;
mod linfa_fit;
mod tall;
mod triangle;

pub use cluster_robust::{ClusterCorrection, ClusterRobust};
pub use collinearity::{Centring, condition_number, remaining_share, variance_inflation};
pub use fit::{LinearFit, least_squares};
pub use heteroskedastic::{Heteroskedastic, RowCorrection};
pub use linfa_fit::least_squares_linfa;

pub(crate) use cluster_score::ClusterScore;

pub(crate) use coordinates::Coordinates;
