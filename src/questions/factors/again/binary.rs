//! Fit: a yes or no on the columns of a factor.

use super::super::fit::own_name;
use super::super::model::FEWEST_CLUSTERS;
use super::change::{Asked, Side};
use super::pieces::Table;
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::linear::LinearFit;
use crate::stats::logistic::{
    LogisticFit, LogisticMixedFit, Standardised, fit_firth, fit_logistic_mixed,
};

/// Answers are told for so many pieces.
const TEN: f64 = 10.0;

pub(in crate::questions::factors) enum Binary {
    /// Lots deviate at random.
    Mixed(Box<LogisticMixedFit>),
    /// Firth's penalty; with the regression from which come errors that allow for lots, where there are enough of them.
    Firth(Box<LogisticFit>, Option<Box<LinearFit>>),
}

impl Binary {
    /// A random intercept a lot, where the data bound it.
    pub fn mixed(table: &Table) -> Option<Self> {
        if table.model.lots < 2 {
            return None;
        }
        let fit = fit_logistic_mixed(&table.design, &table.outcome, &table.model.lot);
        fit.ok().map(Box::new).map(Self::Mixed)
    }

    pub fn firth(table: &Table) -> Option<Self> {
        let fit = fit_firth(&table.design, &table.outcome).ok()?;
        let has_clusters = table.model.lots >= FEWEST_CLUSTERS;
        let working = has_clusters.then(|| fit.working_regression().ok().map(Box::new)).flatten();
        Some(Self::Firth(Box::new(fit), working))
    }

    fn names(&self) -> &[String] {
        match self {
            Self::Mixed(fit) => &fit.names,
            Self::Firth(fit, _) => &fit.names,
        }
    }

    /// The change's log odds.
    pub(super) fn log_odds(&self, table: &Table, asked: Asked) -> Option<Estimate> {
        let contrast = asked.contrast(&table.model, self.names())?;
        let value = contrast.iter().zip(self.coefficients()).map(|(c, b)| c * b).sum();
        let error = self.error(table, &contrast)?;
        sound(asked.guided(&table.model, Estimate { value, ..error })?)
    }

    /// How many more of ten pieces answer yes for the change: the mean over the pieces at hand, each had it been half a step further on, less the mean had it
    /// been half a step back (standardisation).
    pub(super) fn per_ten(&self, table: &Table, asked: Asked) -> Option<Estimate> {
        asked.contrast(&table.model, self.names())?;
        let side = |side| self.mean_of(&asked.had(&table.model, &table.design, side)?);
        let difference = side(Side::More)?.minus(&side(Side::Less)?);
        let estimate = self.with_error(table, &difference)?.scaled(TEN);
        sound(asked.guided(&table.model, estimate)?)
    }

    /// A mean over the pieces with its error.
    pub fn with_error(&self, table: &Table, mean: &Standardised) -> Option<Estimate> {
        let error = match self {
            Self::Mixed(fit) => fit.error_of(mean).ok()?,
            Self::Firth(..) => self.error(table, &mean.gradient)?,
        };
        Some(mean.with_error_of(&error))
    }

    /// A weighted sum of the log odds of the factor's columns; none where one of them is not in the model.
    pub fn combination(&self, table: &Table, weights: &[f64]) -> Option<Estimate> {
        let mut contrast = vec![0.0; self.names().len()];
        for (own, weight) in weights.iter().enumerate() {
            let place = self.names().iter().position(|name| *name == own_name(own))?;
            contrast[place] = *weight;
        }
        let value = contrast.iter().zip(self.coefficients()).map(|(c, b)| c * b).sum();
        Some(Estimate { value, ..self.error(table, &contrast)? })
    }

    fn coefficients(&self) -> &[f64] {
        match self {
            Self::Mixed(fit) => &fit.coefficients,
            Self::Firth(fit, _) => &fit.coefficients,
        }
    }

    /// The mean over the pieces, had their columns been those of another design.
    pub fn mean_of(&self, design: &Design) -> Option<Standardised> {
        match self {
            Self::Mixed(fit) => fit.standardised(design).ok(),
            Self::Firth(fit, _) => fit.standardised(design).ok(),
        }
    }

    fn error(&self, table: &Table, contrast: &[f64]) -> Option<Estimate> {
        match self {
            Self::Mixed(fit) => fit.contrast(contrast).ok(),
            Self::Firth(fit, None) => fit.contrast(contrast).ok(),
            Self::Firth(fit, Some(working)) => {
                let robust = working.clustered(&table.model.lot).ok();
                let robust = robust.and_then(|robust| robust.contrast(contrast).ok());
                robust.and_then(sound).or_else(|| fit.contrast(contrast).ok())
            }
        }
    }
}

fn sound(estimate: Estimate) -> Option<Estimate> {
    let is_sound = estimate.value.is_finite()
        && estimate.standard_error.is_finite()
        && estimate.standard_error > 0.0;
    is_sound.then_some(estimate)
}
