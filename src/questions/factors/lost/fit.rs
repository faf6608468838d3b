//! Fit: one factor, or each level of a choice, against the loss of the pieces that were at risk.

use super::super::again::binary::{Binary, Odds};
use super::super::again::change::Asked;
use super::super::again::pieces::{FEWEST_OF_A_KIND, Pieces, Selected, Table};
use super::super::again::{Log, shown};
use super::super::effect::{KEPT_SHARE, Left, left};
use super::super::levels::Kinds;
use super::super::model::Model;
use super::super::sample::{Cells, Sample};
use super::super::{
    Looked, ReedScores, bare, count_out, described, not_modelled, scope, tangled_with, usual_step,
};
use super::stages::{AtStage, stages};
use super::{Beside, Gone};
use crate::finding::{FactorResult, LeftOut, Verdict};
use crate::words::losses::factors as words;

/// Less of a factor's variance than this among pieces of the same lot is none.
const NOTHING_WITHIN: f64 = 1e-6;

/// One entry for a number, one a level for a choice; nothing for what is not decided before the first note.
pub(super) fn look(log: &Log, pieces: &Pieces, at: usize) -> Vec<(Looked, Beside)> {
    let stage = log.columns.factors[at].0.stage;
    let Some(outcome) = pieces.spoiled(stage) else { return Vec::new() };
    let gone = gone(log, pieces, outcome, at);
    let why_not =
        |why: LeftOut| vec![(described(log.columns, at, why, outcome), Beside::nothing(gone))];
    if let Some(why) = too_few(log, outcome, at) {
        return why_not(why);
    }
    if let Some(why) = not_modelled(log.columns, at, outcome) {
        return why_not(why);
    }
    match Selected::of(log, outcome, at) {
        Some(selected) => fitted(log, pieces, (at, outcome), selected, gone),
        None => {
            let why = words::too_few_known(&log.columns.factors[at].0.label, FEWEST_OF_A_KIND);
            why_not(LeftOut { why, n: outcome.piece.len() })
        }
    }
}

fn too_few(log: &Log, outcome: &ReedScores, at: usize) -> Option<LeftOut> {
    let n = outcome.piece.len();
    let lost = outcome.score.iter().filter(|lost| **lost > 0.5).count();
    let is_too_few = lost.min(n - lost) < FEWEST_OF_A_KIND;
    let label = &log.columns.factors[at].0.label;
    is_too_few
        .then(|| LeftOut { why: words::too_few_later(label, lost, n - lost, FEWEST_OF_A_KIND), n })
}

/// Counts the pieces whose own cell cannot be trusted to be there, or to be whole, whatever became of them.
fn gone(log: &Log, pieces: &Pieces, outcome: &ReedScores, at: usize) -> Gone {
    let (factor, cells) = &log.columns.factors[at];
    let mut gone = Gone::default();
    for (&piece, lost) in outcome.piece.iter().zip(&outcome.score) {
        let without = usize::from(!cells.present(piece));
        if *lost > 0.5 {
            gone.lost += 1;
            gone.lost_without += without;
        } else {
            gone.kept += 1;
            gone.kept_without += without;
        }
    }
    let is_time = factor.unit.as_deref().is_some_and(|unit| ["days", "h", "min"].contains(&unit));
    if is_time {
        let here = pieces.spoiled_at(factor.stage);
        let lost = here.piece.iter().zip(&here.score).filter(|(_, lost)| **lost > 0.5);
        gone.cut_short = lost.filter(|(piece, _)| cells.present(**piece)).count();
    }
    gone
}

fn fitted(
    log: &Log,
    pieces: &Pieces,
    (at, outcome): (usize, &ReedScores),
    selected: Selected,
    gone: Gone,
) -> Vec<(Looked, Beside)> {
    let left = left(&selected.model, &selected.model.raw);
    let kinds = Kinds::of(&selected.model, None);
    let (sample, lost) = (selected.sample.clone(), selected.positive());
    let step = usual_step(log.columns.factors[at].0, &selected.model);
    let Some(table) = Table::from(selected) else {
        let why = words::no_chance(&log.columns.factors[at].0.label);
        let why = LeftOut { why, n: sample.reeds.len() };
        return vec![(described(log.columns, at, why, outcome), Beside::nothing(gone))];
    };
    let fit = Binary::of_losses(&table);
    let at_risk = outcome.piece.len();
    let stages = stages(log, pieces, at);
    let one = One { log, at, at_risk, step, sample, lost, left, kinds, table, fit, stages, gone };
    (0..one.table.model.own.len()).map(|own| one.entry(own)).collect()
}

/// One factor with its fit.
struct One<'a> {
    log: &'a Log<'a>,
    at: usize,
    /// Pieces that got as far as the factor and whose end is known.
    at_risk: usize,
    step: f64,
    sample: Sample,
    lost: usize,
    left: Left,
    kinds: Kinds,
    table: Table,
    fit: Option<Binary>,
    stages: Vec<AtStage>,
    gone: Gone,
}

impl One<'_> {
    fn entry(&self, own: usize) -> (Looked, Beside) {
        let is_between = self.is_fixed_by_lot();
        let asked = self.asked(own, is_between);
        let tie = self.kinds.tie(own);
        let is_tangled = self.left.kept < KEPT_SHARE || tie.is_some();
        let odds = asked.and_then(|asked| self.odds(asked));
        let per_ten = asked.and_then(|asked| self.fit.as_ref()?.per_ten(&self.table, asked));
        let told = per_ten.and_then(shown).filter(|_| odds.is_some());
        let factor = self.log.columns.factors[self.at].0;
        let mut looked = bare(factor, self.at);
        looked.effect = per_ten.filter(|_| told.is_some() && !is_between);
        looked.lots = self.model().lots;
        looked.reeds = self.sample.reeds.clone();
        looked.gaps = !self.sample.given_up.is_empty();
        looked.crowded = !self.model().crowded_out.is_empty();
        looked.result = FactorResult {
            level: self.level(self.model().levels.get(own).copied()),
            reference: self.level(self.model().reference),
            verdict: if is_tangled { Verdict::Tangled } else { Verdict::Open },
            estimate: told.map(|told| told.estimate),
            low: told.map(|told| told.low),
            high: told.map(|told| told.high),
            p: told.and(odds).map(|odds| odds.p),
            df: told.and(odds).map(|odds| odds.df),
            step: self.model().reference.is_none().then_some(self.step),
            scope: scope(self.log.has_lots, is_between).to_owned(),
            p_levels: self.p_levels().filter(|_| !is_tangled),
            adjusted_for: self.model().adjusted_for.clone(),
            tangled_with: if is_tangled { tangled_with(&self.left, tie) } else { Vec::new() },
            kept_share: Some(self.left.kept),
            used: self.table.design.rows(),
            left_out: self.left_out(),
            not_modelled: (told.is_none() && !is_tangled).then(|| words::no_chance(&factor.label)),
            ..looked.result
        };
        (looked, self.beside(asked, odds))
    }

    fn beside(&self, asked: Option<Asked>, odds: Option<Odds>) -> Beside {
        Beside {
            odds,
            between: self.between(),
            lost: self.lost,
            gone: self.gone,
            is_mixed: self.fit.as_ref().is_some_and(Binary::is_mixed),
            by_stage: asked.map_or_else(Vec::new, |asked| {
                self.stages.iter().filter_map(|stage| stage.told(asked)).collect()
            }),
        }
    }

    fn model(&self) -> &Model {
        &self.table.model
    }

    fn is_fixed_by_lot(&self) -> bool {
        self.log.has_lots && self.left.within_lots < NOTHING_WITHIN
    }

    /// None for a choice that differs from lot to lot alone, or whose kind shares no lot with the reference.
    fn asked(&self, own: usize, is_between: bool) -> Option<Asked> {
        match (self.model().reference, is_between) {
            (None, true) => Some(Asked::Between(self.step)),
            (None, false) => Some(Asked::Within(self.step)),
            (Some(_), true) => None,
            (Some(reference), false) => {
                let level = *self.model().levels.get(own)?;
                self.kinds.can_compare(own).then_some(Asked::Level { level, reference })
            }
        }
    }

    fn odds(&self, asked: Asked) -> Option<Odds> {
        self.fit.as_ref()?.odds(&self.table, asked)
    }

    fn between(&self) -> Option<(Odds, Option<f64>)> {
        let is_number = self.model().reference.is_none();
        let odds = self.odds(Asked::Between(self.step)).filter(|_| is_number)?;
        Some((odds, self.fit.as_ref().and_then(|fit| fit.p_differs(self.step))))
    }

    /// The joint test of all kinds that can be told from the reference, where there are two or more.
    fn p_levels(&self) -> Option<f64> {
        let told_apart =
            (0..self.model().levels.len()).filter(|&own| self.kinds.tie(own).is_none());
        let asked: Vec<Asked> = told_apart.filter_map(|own| self.asked(own, false)).collect();
        let fit = self.fit.as_ref().filter(|_| asked.len() > 1)?;
        fit.p_together(&self.table, &asked).filter(|p| p.is_finite())
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
        let unknown: usize = self.log.columns.never_rated.iter().map(|out| out.n).sum();
        let told = self.table.design.rows() + without - unknown;
        count_out(&mut left_out, words::THINNED, self.at_risk.saturating_sub(told));
        count_out(&mut left_out, words::LOST_EARLIER, self.log.scores.piece.len() - self.at_risk);
        left_out
    }
}

impl Beside {
    pub(super) fn nothing(gone: Gone) -> Self {
        Self { odds: None, between: None, lost: 0, gone, is_mixed: false, by_stage: Vec::new() }
    }
}
