//! Fit: a yes or no on the columns of a factor.

use super::super::fit::{LOT_MEAN, own_name};
use super::super::model::FEWEST_CLUSTERS;
use super::change::{Asked, Side};
use super::pieces::Table;
use super::{odds_ratio, shown};
use crate::finding::Estimated;
use crate::stats::Estimate;
use crate::stats::design::Design;
use crate::stats::linear::LinearFit;
use crate::stats::logistic::{
    LogisticFit, LogisticMixedFit, Standardised, fit_firth, fit_logistic_mixed,
};
use ndarray::Array2;

/// An odds ratio with its 95 % interval, and the p of odds that do not change.
#[derive(Debug, Clone, Copy)]
pub(in crate::questions::factors) struct Odds {
    pub ratio: Estimated,
    pub p: f64,
    pub df: f64,
}

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

    /// Of a loss: a random intercept a lot in five lots or more, where the lots differ by more than chance makes them; else Firth's penalty, whose intervals are
    /// those of its likelihood.
    pub fn of_losses(table: &Table) -> Option<Self> {
        let has_lots = table.model.lots >= FEWEST_CLUSTERS;
        let mixed = has_lots.then(|| Self::mixed(table)).flatten().filter(Self::lots_differ);
        mixed.or_else(|| {
            fit_firth(&table.design, &table.outcome)
                .ok()
                .map(|fit| Self::Firth(Box::new(fit), None))
        })
    }

    fn lots_differ(&self) -> bool {
        matches!(self, Self::Mixed(fit) if !fit.at_boundary)
    }

    pub fn is_mixed(&self) -> bool {
        matches!(self, Self::Mixed(_))
    }

    /// The change's odds ratio with its 95 % interval and the p of no change: from the profile of Firth's likelihood where that is the model, else from the
    /// error.
    pub fn odds(&self, table: &Table, asked: Asked) -> Option<Odds> {
        let by_error = self.log_odds(table, asked)?;
        let profiled = self.profiled(table, asked, by_error.value);
        let by_error = || {
            shown(by_error).map(|told| Odds {
                ratio: odds_ratio(told),
                p: by_error.p_value(),
                df: by_error.degrees_of_freedom,
            })
        };
        profiled.or_else(by_error)
    }

    /// From lot to lot there are too few lots for what the likelihood promises.
    fn profiled(&self, table: &Table, asked: Asked, estimate: f64) -> Option<Odds> {
        let Self::Firth(fit, None) = self else { return None };
        if matches!(asked, Asked::Between(_)) {
            return None;
        }
        let contrast = asked.contrast(&table.model, &fit.names)?;
        let (low, high) = fit.profile_interval(&contrast, 0.95).ok()?;
        let row = Array2::from_shape_vec((1, contrast.len()), contrast).ok()?;
        let p = fit.likelihood_ratio(&row).ok()?.p_value();
        // an end found by search may miss the estimate by rounding
        let told = Estimated { estimate, low: low.min(estimate), high: high.max(estimate) };
        Some(Odds { ratio: odds_ratio(told), p, df: f64::INFINITY })
    }

    /// How much more the odds change from lot to lot than among pieces of the same lot: the p of no difference.
    pub fn p_differs(&self, step: f64) -> Option<f64> {
        let mut contrast = vec![0.0; self.names().len()];
        for (name, weight) in [(LOT_MEAN.to_owned(), step), (own_name(0), -step)] {
            contrast[self.names().iter().position(|known| *known == name)?] = weight;
        }
        let found = match self {
            Self::Mixed(fit) => fit.contrast(&contrast).ok(),
            Self::Firth(fit, _) => fit.contrast(&contrast).ok(),
        };
        found.and_then(sound).map(|found| found.p_value())
    }

    /// The likelihood-ratio test that none of several changes moves the odds; none for a random intercept.
    pub fn p_together(&self, table: &Table, asked: &[Asked]) -> Option<f64> {
        let Self::Firth(fit, None) = self else { return None };
        let rows: Option<Vec<Vec<f64>>> =
            asked.iter().map(|asked| asked.contrast(&table.model, &fit.names)).collect();
        let rows = rows?;
        let shape = (rows.len(), fit.names.len());
        let contrasts = Array2::from_shape_vec(shape, rows.concat()).ok()?;
        fit.likelihood_ratio(&contrasts).ok().map(|test| test.p_value())
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
    pub fn per_ten(&self, table: &Table, asked: Asked) -> Option<Estimate> {
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
