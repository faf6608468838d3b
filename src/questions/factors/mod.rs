//! Which factors predict a good reed?
//!
//! **Method.** One linear mixed model a factor, one row a rating. Stage order decides what is adjusted for: factors of earlier stages and
//! of the same stage are in the model, later ones are not, because they may be the road by which the factor works (Pearl
//! 2009; Cinelli, Forney & Pearl 2022). Reeds of the same lot are compared with each other; what goes from lot to lot
//! stands beside it (Mundlak 1978; Bell, Fairbrother & Jones 2019). Lots deviate at random, and so do reeds with several ratings; players stand as
//! columns. The making date is in the model as a natural cubic spline where the log spans 60 days, the season where it spans a year. Where nothing
//! deviates at random it is least squares with cluster-robust errors (CR2: Bell & McCaffrey 2002; Pustejovsky & Tipton 2018). With fewer than ten reeds a
//! column what is adjusted for is chosen by double selection (Belloni, Chernozhukov & Hansen 2014). Many factors are looked at together, so a verdict
//! also needs an adjusted p of at most 0.05 (Benjamini & Hochberg 1995; bends weigh less: Genovese, Roeder & Wasserman 2006); a choice enters that family once.
//!
//! Beside it: curves and best values (`sweet_spot`), how even the reeds are (`spread`), the effect of a true step (`reading_error`), the same question
//! of ordered ratings, of good reeds, of spoiled pieces and with gaps filled in (`again`), further criteria (`criteria`), features of the profile
//! (`profile`), what all of it foretells of lots that were held out (`foretell`) and what is kept in halves of the lots (`stability`).
//!
//! **Assumptions.** Effects are straight over the range of the data, but for the bends that are told, and add up. Cells are missing without regard to how
//! the reed would have played.
//!
//! **Refuses** with fewer than eight rated reeds, or where no column may predict anything.

mod adjusters;
mod again;
pub(super) mod at_values;
mod criteria;
pub(super) mod curve;
mod effect;
mod fit;
pub(super) mod foretell;
mod judge;
mod levels;
pub(super) mod lost;
pub(super) mod measured;
mod model;
pub(super) mod own_effects;
pub(super) mod profile;
mod reading_error;
pub(super) mod sample;
mod say;
mod spread;
mod stability;
mod sweet_spot;
mod tables;
pub(super) mod worn;

use super::many::scores_taken;
use super::rated::RatedRows;
use super::scores::{ReedScores, count_out, reed_scores};
use super::{Options, Question};
use crate::finding::{AskedAgain, FactorResult, Finding, LeftOut, Verdict};
use crate::problem::Refusal;
use crate::stats::Estimate;
use crate::stats::numeric::{inter_quartile_range, standard_deviation};
use crate::study::{Factor, Study};
use crate::words::again::AgainWords;
use crate::words::criteria::kinds_too_rare;
use crate::words::factors::{FactorWords, ModelWords};
use rayon::prelude::*;

use again::{Answers, Log, Pieces, ask_again};
use effect::{KEPT_SHARE, Left, band, beside, left};
use fit::{Answer, Bench};
use judge::judge;
use levels::Kinds;
use model::{Model, model};
use reading_error::{ReadTwice, Variance};
use sample::{
    Cells, Columns, FEWEST_IN_LEVEL, MOST_MISSING, Sample, all_equal, missing_share, sample,
};
pub(super) use say::counted;
use spread::Residuals;
use sweet_spot::{Bend, Telling, bend, tell};

pub const QUESTION: Question = Question {
    name: "factors",
    asked: "Which factors predict a good reed?",
    help: "what went with a better rating among reeds of the same lot",
    ask,
    asked_of: super::any_log,
};

/// With fewer rated reeds nothing is fitted.
const FEWEST_REEDS: usize = 8;
/// One factor, or one level of a choice, with all that its sentence and its pictures need.
struct Looked {
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

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] with fewer than eight rated reeds or without a factor.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let all = reed_scores(study);
    let derived = profile::derived(study, &all);
    let mut columns = Columns::of(study, &all).with(&derived.factors);
    refuse(&columns, &all)?;
    let scores = scores_taken(&all, &columns.lots, &mut columns.never_rated);
    let has_lots = columns.can_compare_within_lots(&scores.piece);
    let rated = RatedRows::of(study, &scores);
    let mut looked = look_at_all(&columns, &scores, &rated, has_lots, Depth::BeyondTheMean);
    let outcome = super::outcome_words(study);
    let worthwhile = study.settings().worthwhile;
    judge(&mut looked, worthwhile);
    tell(
        &mut looked,
        &Telling { seed: options.seed, worthwhile, lower_is_better: outcome.lower_is_better },
    );
    spread::adjust(&mut looked);
    let read_twice = reading_error::correct(&mut looked, study);
    let log = Log {
        study,
        columns: &columns,
        scores: &scores,
        rated: &rated,
        has_lots,
        seed: options.seed,
    };
    ask_again(&log, &Pieces::of(study, &all), &mut looked);
    put_in_words(&mut looked, study, &read_twice);
    let foretold = foretell::foretell(study, &columns, &scores, outcome, options.seed);
    for entry in &mut looked {
        entry.result.stability = foretold.stability[entry.at];
    }
    let held = criteria::criteria(study, &columns, &looked);
    let told =
        say::finding(study, &columns, &scores, looked, &read_twice, (has_lots, options.seed));
    let mut finding = say::with_foretold(told, foretold, options.seed);
    finding.caveats.extend(derived.caveats);
    if scores.piece.len() < all.piece.len() {
        let chosen = crate::words::many::chosen(scores.piece.len(), all.piece.len());
        finding.method.assumptions.push(chosen);
    }
    criteria::tell(&mut finding, held);
    Ok(finding)
}

/// How much is asked of each factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Depth {
    /// How far the mean moved.
    Mean,
    /// Also whether the line bends, and how even the reeds are.
    BeyondTheMean,
}

/// Every factor held against the scores, in the order of the making.
fn look_at_all(
    columns: &Columns,
    scores: &ReedScores,
    rated: &RatedRows,
    has_lots: bool,
    depth: Depth,
) -> Vec<Looked> {
    let look = |at| look(columns, scores, rated, at, (has_lots, depth));
    (0..columns.factors.len()).into_par_iter().flat_map_iter(look).collect()
}

fn refuse(columns: &Columns, scores: &ReedScores) -> Result<(), Refusal> {
    let refusal = |found: String, takes: &str| Refusal {
        question: QUESTION.name.to_owned(),
        found,
        takes: takes.to_owned(),
    };
    if scores.piece.len() < FEWEST_REEDS {
        return Err(refusal(
            format!(
                "The log holds {} with a rating.",
                crate::words::digits::plural(scores.piece.len(), "reed", "reeds")
            ),
            "It takes eight before anything can be said about what went with a good one.",
        ));
    }
    if scores.score.windows(2).all(|pair| pair[0] == pair[1]) {
        return Err(refusal(
            "Every rated reed has the same score.".to_owned(),
            "It takes ratings that differ before anything can be said about what went with a good one.",
        ));
    }
    if columns.factors.is_empty() {
        return Err(refusal(
            "The log has no column that could predict a rating.".to_owned(),
            "It takes at least one measurement or choice of the making, such as gouge, hardness or days on the pin.",
        ));
    }
    Ok(())
}

/// Fits one factor: one entry for a number, one a level for a choice.
fn look(
    columns: &Columns,
    scores: &ReedScores,
    rated: &RatedRows,
    at: usize,
    (has_lots, depth): (bool, Depth),
) -> Vec<Looked> {
    let (factor, _) = &columns.factors[at];
    if let Some(why) = not_modelled(columns, at, scores) {
        return vec![described(columns, at, why, scores)];
    }
    let sample = sample(columns, scores, at, has_lots);
    if sample.reeds.len() < FEWEST_REEDS {
        let n = sample.reeds.len();
        let why = format!("{}: only {n} rated reeds have every cell that it takes", factor.label);
        return vec![described(columns, at, LeftOut { why, n }, scores)];
    }
    let model =
        model(columns, scores, &sample, at, has_lots).ok().filter(|model| !model.own.is_empty());
    let Some(model) = model else {
        let why = kinds_too_rare(columns.counted, &factor.label, 1, FEWEST_IN_LEVEL);
        return vec![described(columns, at, LeftOut { why, n: sample.reeds.len() }, scores)];
    };
    let left = left(&model, &model.raw);
    let bench = Bench::new(&model, rated.of_reeds(&sample.reeds));
    let answer = bench.headline();
    let kinds = Kinds::of(&model, answer.as_ref());
    let fitted = Fitted {
        columns,
        at,
        sample: &sample,
        model: &model,
        left: &left,
        answer: answer.as_ref(),
        kinds: &kinds,
        has_lots,
    };
    let mut entries: Vec<Looked> = (0..model.own.len()).map(|own| fitted.looked(own)).collect();
    if depth == Depth::BeyondTheMean && left.kept >= KEPT_SHARE {
        look_beyond_the_mean(&mut entries, &bench, &model, &left);
    }
    entries
}

/// A number's bend, how even the reeds are, and the variance that reading error is held against.
fn look_beyond_the_mean(entries: &mut [Looked], bench: &Bench, model: &Model, left: &Left) {
    let residuals = Residuals::of(model);
    for (own, entry) in entries.iter_mut().enumerate() {
        if entry.effect.is_none() {
            continue;
        }
        let step = entry.result.step.unwrap_or(1.0);
        entry.result.spread = residuals.as_ref().and_then(|known| known.spread(own, step));
        entry.bend = bend(bench, model);
        entry.own_variance = reading_error::own_variance(model, left);
    }
}

/// Why a factor is described and not modelled.
fn not_modelled(columns: &Columns, at: usize, scores: &ReedScores) -> Option<LeftOut> {
    let (factor, cells) = &columns.factors[at];
    let all: Vec<usize> = (0..scores.piece.len()).collect();
    let noun = columns.counted.noun();
    let missing = all.iter().filter(|&&reed| !cells.present(scores.piece[reed])).count();
    if missing_share(cells, scores, &all) > MOST_MISSING {
        return Some(LeftOut {
            why: format!("{} is missing for too many {noun}", factor.label),
            n: missing,
        });
    }
    let same = match cells {
        Cells::Number(values) => all_equal(&all, |reed| values[scores.piece[reed]]),
        Cells::Choice(codes, _) => all_equal(&all, |reed| codes[scores.piece[reed]]),
    };
    if same {
        let why = format!("{} is the same for {}", factor.label, columns.counted.every_one());
        return Some(LeftOut { why, n: all.len() });
    }
    let Cells::Choice(codes, _) = cells else { return None };
    let enough = levels::kinds_with_enough(codes, &scores.piece);
    (enough < 2).then(|| LeftOut {
        why: kinds_too_rare(columns.counted, &factor.label, enough, FEWEST_IN_LEVEL),
        n: all.len(),
    })
}

fn described(columns: &Columns, at: usize, why: LeftOut, scores: &ReedScores) -> Looked {
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
fn bare(factor: &Factor, at: usize) -> Looked {
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
            crate::study::FactorKind::Number => "number".to_owned(),
            crate::study::FactorKind::Choice => "choice".to_owned(),
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
struct Fitted<'a> {
    columns: &'a Columns<'a>,
    at: usize,
    sample: &'a Sample,
    model: &'a Model,
    left: &'a Left,
    answer: Option<&'a Answer>,
    kinds: &'a Kinds,
    has_lots: bool,
}

impl Fitted<'_> {
    fn looked(&self, own: usize) -> Looked {
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
fn usual_step(factor: &Factor, model: &Model) -> f64 {
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
fn tangled_with(left: &Left, tie: Option<&str>) -> Vec<String> {
    if let Some(tie) = tie.filter(|_| left.kept >= KEPT_SHARE) {
        vec![tie.to_owned()]
    } else if left.with.is_empty() {
        vec!["the other columns together".to_owned()]
    } else {
        left.with.clone()
    }
}

/// `within lots`, `between lots` or `no lots`
fn scope(has_lots: bool, fixed_by_lot: bool) -> &'static str {
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

fn put_in_words(looked: &mut [Looked], study: &Study, read_twice: &ReadTwice) {
    for entry in looked {
        let words = FactorWords {
            label: &entry.label,
            higher_is: entry.higher_is.as_deref(),
            lots: entry.lots,
            worthwhile: study.settings().worthwhile,
            outcome: super::outcome_words(study),
        };
        let turn = entry.bend.as_ref().and_then(|bend| bend.turn.as_ref());
        let sentence = match turn {
            Some(turn) => crate::words::sweet_spot::sentence(&entry.result, &words, turn),
            None => crate::words::factors::sentence(&entry.result, &words),
        };
        let further = [told_true_step(entry, read_twice), told_spread(&entry.result, &words)];
        let differs = entry.result.asked_again.differs.iter().cloned();
        let told: Vec<String> =
            std::iter::once(sentence).chain(further.into_iter().flatten()).chain(differs).collect();
        entry.result.sentence = told.join(" ");
    }
}

/// The corrected effect, where there is one to tell and the error changes it.
fn told_true_step(entry: &Looked, read_twice: &ReadTwice) -> Option<String> {
    const IDLE_FROM: f64 = 0.95;
    let found = entry.result.true_step.filter(|found| found.reliability < IDLE_FROM)?;
    let bends = entry.bend.as_ref().is_some_and(|bend| bend.turn.is_some());
    let is_told = matches!(entry.result.verdict, Verdict::Clear | Verdict::Leaning) && !bends;
    let pieces = *read_twice.get(&entry.result.factor)?;
    is_told.then(|| crate::words::spread::corrected(&found, pieces))
}

fn told_spread(result: &FactorResult, words: &FactorWords) -> Option<String> {
    let found = result.spread.as_ref().filter(|found| spread::stands_out(found))?;
    Some(crate::words::spread::sentence(result, words, found))
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
