//! How far raters agree: intraclass correlations for numbers, kappa and alpha for categories, Kendall's W for orders; and who gives more than others.

mod bootstrap;
mod fleiss;
mod intraclass;
mod kappa;
mod krippendorff;
mod levels;
mod one_way;

pub use bootstrap::BootstrapInterval;
pub use fleiss::{CategoryKappa, FleissKappa, fleiss_kappa};
pub use intraclass::{Intraclass, IntraclassForm, RatingUnit, intraclass};
pub use kappa::{CohenKappa, Weights, cohen_kappa};
pub use krippendorff::{KrippendorffAlpha, Scale, krippendorff_alpha};
pub use levels::{RaterLevels, joined_raters, rater_levels};
pub use one_way::{OneWayIntraclass, intraclass_one_way};

pub use crate::stats::rank::{Concordance, kendall_w};
