//! Several questions at once: adjusted p values and simultaneous intervals.
//!
//! | method | keeps | may be used when |
//! | --- | --- | --- |
//! | [`bonferroni`], [`holm`] | the chance of any false alarm | always; Holm's is never larger |
//! | [`hochberg`] | the chance of any false alarm | p values are independent or depend positively |
//! | [`benjamini_hochberg`] | the share of false alarms among the findings | p values are independent or depend positively |
//! | [`benjamini_hochberg_weighted`] | the same | as the line above, the weights fixed before the p values are seen |
//! | [`benjamini_yekutieli`] | the same | always |
//! | [`tukey_kramer`] | the chance that any interval misses | all pairs of group means |
//! | [`dunnett`] | the same | several groups against one control |
//! | [`simultaneous`] | the same | any set of contrasts of known covariance |

mod adjusted;
mod contrasts;
mod tukey;

pub use adjusted::{
    benjamini_hochberg, benjamini_hochberg_weighted, benjamini_yekutieli, bonferroni, hochberg,
    holm,
};
pub use contrasts::{Family, SimultaneousEstimate, dunnett, simultaneous};
pub use tukey::{GroupMeans, PairDifference, tukey_kramer};
