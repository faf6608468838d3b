//! What is known of one factor: where it starts, and what its model says.

use super::again::Answers;
use super::effect::{KEPT_SHARE, Left, band, beside};
use super::fit::Answer;
use super::levels::Kinds;
use super::model::Model;
use super::reading_error::Variance;
use super::sample::{Cells, Columns, Sample};
use super::sweet_spot::Bend;
use super::{ReedScores, count_out};
use crate::finding::{AskedAgain, FactorResult, LeftOut, Verdict};
use crate::stats::Estimate;
use crate::stats::numeric::{inter_quartile_range, standard_deviation};
use crate::study::{Factor, FactorKind};
use crate::words::again::AgainWords;
use crate::words::factors::ModelWords;

/// One factor, or one level of a choice, with all that its sentence and its pictures need.
pub(super) struct Looked {
    pub result: FactorResult,
    pub label: String,
    pub higher_is: Option<String>,
    pub lots: usize,
    pub effect: Option<Estimate>,
    pub at: usize,
    pub reeds: Vec<usize>,
    pub beforehand: bool,
    /// Whether adjusters stayed out for their empty cells, or because the reeds are too few.
    pub gaps: bool,
    pub crowded: bool,
    /// What was in its model.
    pub model: ModelWords,
    /// The same question asked in other ways, and what was done for it.
    pub answers: Answers,
    pub again_words: AgainWords,
    /// Its curve, where a bend was looked for.
    pub bend: Option<Bend>,
    /// The variance of its readings that the effect rests on.
    pub own_variance: Option<Variance>,
}

pub(super) fn described(columns: &Columns, at: usize, why: LeftOut, scores: &ReedScores) -> Looked {
    let (factor, _) = &columns.factors[at];
    let rest = scores.piece.len() - why.n;
    let not_modelled = Some(why.why.clone());
    let mut left_out = vec![why];
    let rest_why = format!("{}, but the factor was not modelled", columns.counted.state());
    count_out(&mut left_out, &rest_why, rest);
    left_out.extend(columns.never_rated.iter().cloned());
    let mut entry = bare(factor, at);
    entry.result = FactorResult { left_out, not_modelled, ..entry.result };
    entry
}

/// An entry that says nothing yet.
pub(super) fn bare(factor: &Factor, at: usize) -> Looked {
    Looked {
        result: blank(factor),
        label: factor.label.clone(),
        higher_is: factor.higher_is.clone(),
        lots: 0,
        effect: None,
        at,
        reeds: Vec::new(),
        beforehand: factor.asked_beforehand,
        gaps: false,
        crowded: false,
        model: ModelWords::default(),
        answers: Answers::default(),
        again_words: AgainWords::default(),
        bend: None,
        own_variance: None,
    }
}

/// A result that says nothing yet.
fn blank(factor: &Factor) -> FactorResult {
    FactorResult {
        factor: factor.name.clone(),
        stage: factor.stage,
        kind: match factor.kind {
            FactorKind::Number => "number".to_owned(),
            FactorKind::Choice => "choice".to_owned(),
        },
        level: None,
        verdict: Verdict::Open,
        estimate: None,
        low: None,
        high: None,
        p: None,
        q: None,
        df: None,
        step: None,
        unit: factor.unit.clone(),
        scope: "no lots".to_owned(),
        between: None,
        p_levels: None,
        sweet_spot: None,
        worst_at: None,
        good_per_ten: None,
        spoilage: None,
        reference: None,
        adjusted_for: Vec::new(),
        tangled_with: Vec::new(),
        kept_share: None,
        true_step: None,
        spread: None,
        asked_again: AskedAgain::default(),
        stability: None,
        used: 0,
        left_out: Vec::new(),
        not_modelled: None,
        sentence: String::new(),
    }
}

/// One fitted factor.
pub(super) struct Fitted<'a> {
    pub columns: &'a Columns<'a>,
    pub at: usize,
    pub sample: &'a Sample,
    pub model: &'a Model,
    pub left: &'a Left,
    pub answer: Option<&'a Answer>,
    pub kinds: &'a Kinds,
    pub has_lots: bool,
}

impl Fitted<'_> {
    /// The entry of its number, or of one of its levels.
    pub fn looked(&self, own: usize) -> Looked {
        let effect = self.answer.and_then(|answer| answer.effect(own));
        let effect = effect.filter(|_| self.kinds.can_compare(own));
        let between = self.answer.and_then(Answer::between);
        let differs = self.answer.and_then(Answer::between_less_within);
        let (factor, cells) = &self.columns.factors[self.at];
        let step = usual_step(factor, self.model);
        let tie = self.kinds.tie(own);
        let tangled = self.left.kept < KEPT_SHARE || tie.is_some();
        let fixed_by_lot = self.has_lots && self.left.within_lots < 1e-6;
        let headline = if fixed_by_lot { between.as_ref() } else { effect.as_ref() };
        let shown = headline.map(|estimate| band(estimate, step));
        let level = |code: u32| match cells {
            Cells::Choice(_, levels) => levels.get(code as usize).cloned(),
            Cells::Number(_) => None,
        };
        let is_number = matches!(cells, Cells::Number(_));
        let result = FactorResult {
            level: self.model.levels.get(own).copied().and_then(level),
            reference: self.model.reference.and_then(level),
            verdict: if tangled { Verdict::Tangled } else { Verdict::Open },
            estimate: shown.map(|shown| shown.estimate),
            low: shown.map(|shown| shown.low),
            high: shown.map(|shown| shown.high),
            p: headline.map(Estimate::p_value),
            df: headline.map(|estimate| estimate.degrees_of_freedom),
            step: is_number.then_some(step),
            scope: scope(self.has_lots, fixed_by_lot).to_owned(),
            between: between.as_ref().map(|between| beside(between, differs, step)),
            p_levels: self.kinds.p_levels.filter(|_| self.left.kept >= KEPT_SHARE),
            adjusted_for: self.model.adjusted_for.clone(),
            tangled_with: if tangled { tangled_with(self.left, tie) } else { Vec::new() },
            kept_share: Some(self.left.kept),
            used: self.sample.reeds.len(),
            left_out: self.sample.left_out.clone(),
            not_modelled: (headline.is_none() && !tangled).then(|| {
                format!("{}: the reeds leave no chance to measure its effect against", factor.label)
            }),
            ..blank(factor)
        };
        Looked {
            result,
            label: factor.label.clone(),
            higher_is: factor.higher_is.clone(),
            lots: self.model.lots,
            effect: if fixed_by_lot { None } else { effect },
            at: self.at,
            reeds: self.sample.reeds.clone(),
            beforehand: factor.asked_beforehand,
            gaps: !self.sample.given_up.is_empty(),
            crowded: !self.model.crowded_out.is_empty(),
            model: self.answer.map_or(ModelWords::default(), |answer| answer.words),
            answers: Answers::default(),
            again_words: AgainWords::default(),
            bend: None,
            own_variance: None,
        }
    }
}

/// The declared step, else the distance between the quartiles, else the spread; 1 for a choice.
pub(super) fn usual_step(factor: &Factor, model: &Model) -> f64 {
    if model.reference.is_some() {
        return 1.0;
    }
    let raw = model.raw.first().map_or(&[][..], Vec::as_slice);
    let spread = || standard_deviation(raw).unwrap_or(f64::NAN);
    let found =
        || inter_quartile_range(raw).ok().filter(|range| *range > 0.0).unwrap_or_else(spread);
    factor.step.unwrap_or_else(|| rounded_step(found()))
}

/// What a factor is tangled with, given the tie of a choice's kind to lots.
pub(super) fn tangled_with(left: &Left, tie: Option<&str>) -> Vec<String> {
    if let Some(tie) = tie.filter(|_| left.kept >= KEPT_SHARE) {
        vec![tie.to_owned()]
    } else if left.with.is_empty() {
        vec!["the other columns together".to_owned()]
    } else {
        left.with.clone()
    }
}

/// `within lots`, `between lots` or `no lots`
pub(super) fn scope(has_lots: bool, fixed_by_lot: bool) -> &'static str {
    match (has_lots, fixed_by_lot) {
        (false, _) => "no lots",
        (true, true) => "between lots",
        (true, false) => "within lots",
    }
}

/// A step of two significant digits at most, so that a sentence can name it.
fn rounded_step(step: f64) -> f64 {
    if !(step.is_finite() && step > 0.0) {
        return 1.0;
    }
    let scale = 10f64.powf(1.0 - step.log10().floor());
    (step * scale).round() / scale
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_has_two_digits_at_most() {
        assert!((rounded_step(0.0437) - 0.044).abs() < 1e-12);
        assert!((rounded_step(13.7) - 14.0).abs() < 1e-12);
        assert_eq!(rounded_step(f64::NAN), 1.0);
    }
}
