//! Fit: one factor, or each level of a choice, against the lives of the reeds.

use super::super::again::pieces::make_room;
use super::super::again::{Log, odds_ratio, shown};
use super::super::effect::{KEPT_SHARE, Left, left};
use super::super::fit::{LOT_MEAN, own_name};
use super::super::levels::Kinds;
use super::super::model::{Model, model};
use super::super::sample::{Cells, Sample, thinned_sample};
use super::super::{Looked, bare, count_out, described, not_modelled, tangled_with, usual_step};
use super::{Beside, Drift, FEWEST_RETIRED};
use crate::finding::{FactorResult, LeftOut, Verdict};
use crate::questions::lives::Lives;
use crate::questions::scores::group_means;
use crate::stats::design::Design;
use crate::stats::survival::{CoxFit, Lifetimes, Ties, TimeScale, cox_left_out, fit_cox};
use crate::stats::{Estimate, StatsError};
use crate::words::life::hazards as words;
use ndarray::Array2;

/// Less of a factor's variance than this among reeds of the same lot is none.
const NOTHING_WITHIN: f64 = 1e-6;
/// Retired reeds a column (Vittinghoff & McCulloch 2007, American Journal of Epidemiology 165, 710-718: from five on results are no worse than with ten).
const RETIRED_A_COLUMN: usize = 5;
/// With more lots than this the error over lots is the sandwich, which then is a good guide and costs one fit.
const MOST_LEFT_OUT: usize = 80;

/// One entry for a number, one a level for a choice.
pub(super) fn look(log: &Log, lives: &Lives, at: usize) -> Vec<(Looked, Beside)> {
    let why_not =
        |why: LeftOut| vec![(described(log.columns, at, why, log.scores), Beside::none())];
    if let Some(why) = not_modelled(log.columns, at, log.scores) {
        return why_not(why);
    }
    let label = &log.columns.factors[at].0.label;
    let (sample, thinned) = thinned_sample(log.columns, log.scores, at, log.has_lots);
    let retired = sample.reeds.iter().filter(|&&reed| lives.ended[reed]).count();
    let n = sample.reeds.len();
    if retired < FEWEST_RETIRED {
        return why_not(LeftOut { why: words::too_few_known(label, retired, FEWEST_RETIRED), n });
    }
    let model = model(log.columns, log.scores, &sample, at, log.has_lots);
    match (model, lives.lifetimes(&sample.reeds)) {
        (Ok(model), Ok(lifetimes)) if !model.own.is_empty() => {
            let one = One::new(log, at, (sample, thinned), model, lifetimes);
            (0..one.model.own.len()).map(|own| one.entry(own)).collect()
        }
        _ => why_not(LeftOut { why: words::no_chance(label), n }),
    }
}

/// One factor with its fit.
struct One<'a> {
    log: &'a Log<'a>,
    at: usize,
    sample: Sample,
    thinned: bool,
    model: Model,
    lifetimes: Lifetimes,
    left: Left,
    kinds: Kinds,
    step: f64,
    is_between: bool,
    fit: Option<CoxFit>,
}

impl<'a> One<'a> {
    fn new(
        log: &'a Log<'a>,
        at: usize,
        (sample, thinned): (Sample, bool),
        mut model: Model,
        lifetimes: Lifetimes,
    ) -> Self {
        let left = left(&model, &model.raw);
        let kinds = Kinds::of(&model, None);
        let step = usual_step(log.columns.factors[at].0, &model);
        let is_between = log.has_lots && left.within_lots < NOTHING_WITHIN;
        make_room(&mut model, lifetimes.events() / RETIRED_A_COLUMN);
        let mut one = Self {
            log,
            at,
            sample,
            thinned,
            model,
            lifetimes,
            left,
            kinds,
            step,
            is_between,
            fit: None,
        };
        one.fit = one.fitted();
        one
    }

    /// Without the adjusters about which the reeds at risk say nothing, or too much.
    fn fitted(&self) -> Option<CoxFit> {
        let mut design = self.design()?;
        loop {
            let (StatsError::RankDeficient { columns }
            | StatsError::MonotoneLikelihood { columns }) =
                (match fit_cox(&design, &self.lifetimes, self.strata(), Ties::Efron) {
                    Ok(fit) => return Some(fit),
                    Err(fault) => fault,
                })
            else {
                return None;
            };
            let stays = |name: &String| self.is_own(name) || !columns.contains(name);
            let kept: Vec<usize> =
                (0..design.columns()).filter(|&at| stays(&design.names[at])).collect();
            if kept.len() == design.columns() || kept.is_empty() {
                return None;
            }
            design = design.select(&kept);
        }
    }

    fn is_own(&self, name: &str) -> bool {
        name == LOT_MEAN || (0..self.model.own.len()).any(|own| own_name(own) == name)
    }

    /// What is adjusted for and, last, the factor's columns: as deviations from the mean of the lot, or as that mean.
    fn design(&self) -> Option<Design> {
        let adjusters = self.model.adjuster_columns();
        let own: Vec<(String, Vec<f64>)> = if self.is_between {
            let raw = self.model.raw.first().filter(|_| self.model.reference.is_none())?;
            let means = group_means(raw, &self.model.lot);
            let of_lot = self.model.lot.iter().map(|lot| means[lot]).collect();
            vec![(LOT_MEAN.to_owned(), of_lot)]
        } else {
            let own = self.model.own_columns().into_iter().enumerate();
            own.map(|(number, column)| (own_name(number), column)).collect()
        };
        let columns = adjusters.iter().chain(&own);
        let builder = Design::builder(self.model.lot.len());
        let built = columns.fold(builder, |built, (name, column)| built.number(name, column));
        Some(built.build().ok()?.without_aliases().0)
    }

    /// A baseline for each lot where reeds of the same lot are compared.
    fn strata(&self) -> Option<&[usize]> {
        (self.log.has_lots && !self.is_between).then_some(self.model.lot.as_slice())
    }

    fn name(&self, own: usize) -> String {
        if self.is_between { LOT_MEAN.to_owned() } else { own_name(own) }
    }

    fn contrast(&self, own: usize) -> Option<Vec<f64>> {
        let mut contrast = self.fit.as_ref()?.pick(&self.name(own)).ok()?;
        contrast.iter_mut().for_each(|weight| *weight *= self.step);
        Some(contrast)
    }

    /// The logarithm of the ratio of one step.
    fn logarithm(&self, own: usize) -> Option<Estimate> {
        let fit = self.fit.as_ref().filter(|_| self.kinds.can_compare(own))?;
        let contrast = self.contrast(own)?;
        let found = if self.is_between {
            self.over_lots(fit, &contrast)?
        } else {
            fit.contrast(&contrast).ok()?
        };
        let is_sound = found.value.is_finite() && found.standard_error > 0.0;
        is_sound.then_some(found).filter(|found| found.standard_error.is_finite())
    }

    fn over_lots(&self, fit: &CoxFit, contrast: &[f64]) -> Option<Estimate> {
        let lot = &self.model.lot;
        if self.model.lots > MOST_LEFT_OUT {
            return fit.clustered(lot).ok()?.contrast(contrast).ok();
        }
        let design = self.design()?;
        let kept: Option<Vec<usize>> =
            fit.names.iter().map(|name| design.column(name).ok()).collect();
        cox_left_out(&design.select(&kept?), &self.lifetimes, Ties::Efron, lot, contrast).ok()
    }

    /// The test that none of several kinds differs, where there are two or more that can be told from the reference.
    fn p_levels(&self) -> Option<f64> {
        let told = (0..self.model.levels.len()).filter(|&own| self.kinds.tie(own).is_none());
        let rows: Vec<Vec<f64>> = told.filter_map(|own| self.contrast(own)).collect();
        let fit = self.fit.as_ref().filter(|_| rows.len() > 1)?;
        let contrasts =
            Array2::from_shape_vec((rows.len(), fit.names.len()), rows.concat()).ok()?;
        fit.joint(&contrasts).ok().map(|test| test.p_value()).filter(|p| p.is_finite())
    }

    /// None over lots, whose reeds the test would take for independent.
    fn drift(&self, own: usize) -> Option<Drift> {
        let fit = self.fit.as_ref().filter(|_| !self.is_between)?;
        let tested = fit.proportionality(TimeScale::KaplanMeier).ok()?;
        let trend = tested.columns.into_iter().find(|trend| trend.name == self.name(own))?;
        let p = trend.test.p_value();
        // a ratio under 1 grows towards 1 and beyond where its logarithm's slope is above 0
        p.is_finite().then_some(Drift { p, q: p, grows: trend.slope > 0.0 })
    }

    fn entry(&self, own: usize) -> (Looked, Beside) {
        let tie = self.kinds.tie(own);
        let is_tangled = self.left.kept < KEPT_SHARE || tie.is_some();
        let logarithm = self.logarithm(own);
        let told = logarithm.and_then(shown);
        let factor = self.log.columns.factors[self.at].0;
        let mut looked = bare(factor, self.at);
        looked.effect = logarithm.filter(|_| told.is_some() && !self.is_between);
        looked.lots = self.model.lots;
        looked.reeds.clone_from(&self.sample.reeds);
        looked.gaps = !self.sample.given_up.is_empty();
        looked.crowded = !self.model.crowded_out.is_empty();
        looked.result = FactorResult {
            level: self.level(self.model.levels.get(own).copied()),
            reference: self.level(self.model.reference),
            verdict: if is_tangled { Verdict::Tangled } else { Verdict::Open },
            estimate: told.map(|told| told.estimate),
            low: told.map(|told| told.low),
            high: told.map(|told| told.high),
            p: told.and(logarithm).map(|found| found.p_value()),
            df: told.and(logarithm).map(|found| found.degrees_of_freedom),
            step: self.model.reference.is_none().then_some(self.step),
            scope: self.scope().to_owned(),
            p_levels: self.p_levels().filter(|_| !is_tangled),
            adjusted_for: self.model.adjusted_for.clone(),
            tangled_with: if is_tangled { tangled_with(&self.left, tie) } else { Vec::new() },
            kept_share: Some(self.left.kept),
            used: self.model.lot.len(),
            left_out: self.left_out(),
            not_modelled: (told.is_none() && !is_tangled).then(|| words::no_chance(&factor.label)),
            ..looked.result
        };
        let drift = told.and_then(|_| self.drift(own));
        let beside =
            Beside { ratio: told.map(odds_ratio), retired: self.lifetimes.events(), drift };
        (looked, beside)
    }

    fn scope(&self) -> &'static str {
        if self.strata().is_some() { words::WITHIN_LOTS } else { words::OVER_ALL }
    }

    fn level(&self, code: Option<u32>) -> Option<String> {
        match &self.log.columns.factors[self.at].1 {
            Cells::Choice(_, levels) => levels.get(code? as usize).cloned(),
            Cells::Number(_) => None,
        }
    }

    fn left_out(&self) -> Vec<LeftOut> {
        let mut left_out = self.sample.left_out.clone();
        let without: usize = left_out.iter().map(|out| out.n).sum();
        let lifeless: usize = self.log.columns.never_rated.iter().map(|out| out.n).sum();
        let told = self.model.lot.len() + without - lifeless;
        let thinned = self.log.scores.piece.len().saturating_sub(told);
        count_out(&mut left_out, words::THINNED, if self.thinned { thinned } else { 0 });
        left_out
    }
}

impl Beside {
    fn none() -> Self {
        Self { ratio: None, retired: 0, drift: None }
    }
}
