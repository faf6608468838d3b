//! Mathematics only: knows no reeds and no units.
//!
//! The currency is plain slices and matrices with named columns. Everything that draws random numbers is seeded and gives the same bytes on any number of
//! threads. Nothing here inverts a matrix to solve a system.
//!
//! | module | what it holds |
//! | --- | --- |
//! | [`numeric`] | compensated sums, quantiles, tail probabilities, QR, minimisers and roots |
//! | [`design`] | a design matrix with named columns, contrasts, splines, group means |
//! | [`describe`] | robust spread, shape and normality of one sample |
//! | [`estimate`] | an estimate with its standard error and degrees of freedom |
//! | [`linear`] | least squares with classical, HC3 and CR2 errors, in twice the precision where needed |
//! | [`products`] | cross-products of each group, computed once |
//! | [`mixed`] | one random intercept from products; any crossed or nested random terms; by REML or ML |
//! | [`mixed`] | one random intercept, by REML or ML |
//! | [`logistic`], [`ordinal`], [`ratio`] | yes/no and ordered outcomes, ratios of coefficients |
//! | [`proportion`], [`multiplicity`] | exact intervals of a share; adjusted p values |
//! | [`components`], [`cluster`] | principal components; k-means and Gaussian mixtures with k chosen |
//! | [`refit`] | least squares again and again from the cross-products of the groups |
//! | [`survival`], [`impute`] | how long things last; missing cells filled in several times over |
//! | [`components`], [`cluster`] | principal components; k-means with k chosen |
//! | [`penalised`] | elastic net, ridge, stability and double selection, groups apart |
//! | [`prediction`], [`conformal`] | prediction of groups not seen: its score, a test of it, honest intervals |
//! | [`smooth`] | the smoothing spline |
//! | [`proportion`], [`multiplicity`] | exact intervals of a share; adjusted p values and simultaneous intervals |
//! | [`anova`], [`effect_size`] | tables of variance; differences of means in standard deviations |
//! | [`components`], [`cluster`] | principal components; k-means with k chosen |
//! | [`power`] | sizes of trials, their power and allowance for losses |
//! | [`resample`] | seeded streams, group bootstrap, permutation |
//! | [`agreement`], [`repeatability`] | how far raters agree; how far a reading repeats |
//! | [`control`] | control charts and run rules |
//! | [`rank`], [`lowess`], [`permutation`] | ranks and correlations; a robust smooth; permutation tests |

pub mod agreement;
pub mod anova;
pub mod cluster;
pub mod components;
pub mod describe;
pub mod control;
pub mod conformal;
pub mod design;
pub mod effect_size;
mod error;
pub mod estimate;
pub mod impute;
pub mod linear;
pub mod lowess;
pub mod mixed;
pub mod multiplicity;
pub mod numeric;
pub mod permutation;
pub mod penalised;
pub mod prediction;
pub mod power;
pub mod products;
pub mod proportion;
pub mod refit;
pub mod rank;
pub mod repeatability;
pub mod logistic;
pub mod mixed;
pub mod multiplicity;
pub mod numeric;
pub mod ordinal;
pub mod products;
pub mod proportion;
pub mod ratio;
pub mod resample;
pub mod survival;
pub mod smooth;

pub use error::StatsError;
pub use estimate::{Estimate, JointTest};
