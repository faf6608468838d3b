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
//! | [`combined`] | one quantity estimated from several parts, and whether they differ |
//! | [`linear`] | least squares with classical, HC3 and CR2 errors, in twice the precision where needed |
//! | [`products`] | cross-products of each group, computed once |
//! | [`refit`] | least squares again and again from the cross-products of the groups |
//! | [`mixed`] | one random intercept from products; any crossed or nested random terms; by REML or ML |
//! | [`logistic`], [`ordinal`], [`ratio`] | yes/no and ordered outcomes, ratios of coefficients |
//! | [`penalised`] | elastic net, ridge, stability and double selection, groups apart |
//! | [`prediction`], [`conformal`] | prediction of groups not seen: its score, a test of it, honest intervals |
//! | [`smooth`] | the smoothing spline |
//! | [`survival`], [`impute`] | how long things last; missing cells filled in several times over |
//! | [`sorting`] | dropping units by one measurement, judged on groups that had no part in choosing the limits |
//! | [`proportion`], [`multiplicity`] | exact intervals of a share; adjusted p values and simultaneous intervals |
//! | [`anova`], [`effect_size`] | tables of variance; differences of means in standard deviations |
//! | [`power`] | sizes of trials, their power and allowance for losses |
//! | [`sequential`] | bounds of a trial that is looked at before its end, and what looking costs |
//! | [`rank`], [`lowess`], [`permutation`] | ranks and correlations; a robust smooth; permutation tests |
//! | [`agreement`], [`repeatability`] | how far raters agree; how far a reading repeats |
//! | [`control`] | control charts and run rules |
//! | [`components`], [`cluster`] | principal components; k-means and Gaussian mixtures with k chosen |
//! | [`resample`] | seeded streams, group bootstrap, permutation |

pub mod agreement;
pub mod anova;
pub mod cluster;
pub mod combined;
pub mod components;
pub mod conformal;
pub mod control;
pub mod describe;
pub mod design;
pub mod effect_size;
mod error;
pub mod estimate;
pub mod impute;
pub mod linear;
pub mod logistic;
pub mod lowess;
pub mod mixed;
pub mod multiplicity;
pub mod numeric;
pub mod ordinal;
pub mod penalised;
pub mod permutation;
pub mod power;
pub mod prediction;
pub mod products;
pub mod proportion;
pub mod rank;
pub mod ratio;
pub mod refit;
pub mod repeatability;
pub mod resample;
pub mod sequential;
pub mod smooth;
pub mod sorting;
pub mod survival;

pub use error::StatsError;
pub use estimate::{Estimate, JointTest};
