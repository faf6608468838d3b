//! Mathematics only: knows no reeds and no units.
//!
//! The currency is plain slices and matrices with named columns. Everything that draws random numbers is seeded and gives the same bytes on any number of
//! threads. Nothing here inverts a matrix to solve a system.
//!
//! | module | what it holds |
//! | --- | --- |
//! | [`numeric`] | compensated sums, quantiles, tail probabilities, QR, minimisers and roots |
//! | [`design`] | a design matrix with named columns, contrasts, splines, group means |
//! | [`estimate`] | an estimate with its standard error and degrees of freedom |
//! | [`linear`] | least squares with classical, HC3 and CR2 errors |
//! | [`products`] | cross-products of each group, computed once |
//! | [`mixed`] | one random intercept, by REML or ML |
//! | [`proportion`], [`multiplicity`] | exact intervals of a share; adjusted p values and simultaneous intervals |
//! | [`anova`], [`effect_size`] | tables of variance; differences of means in standard deviations |
//! | [`components`], [`cluster`] | principal components; k-means with k chosen |
//! | [`power`] | sizes of trials, their power and allowance for losses |
//! | [`resample`] | seeded streams, group bootstrap, permutation |

pub mod anova;
pub mod cluster;
pub mod components;
pub mod design;
pub mod effect_size;
mod error;
pub mod estimate;
pub mod linear;
pub mod mixed;
pub mod multiplicity;
pub mod numeric;
pub mod power;
pub mod products;
pub mod proportion;
pub mod resample;

pub use error::StatsError;
pub use estimate::{Estimate, JointTest};
