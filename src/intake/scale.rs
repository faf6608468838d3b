//! What counts: the outcome, the scale, and what was found for want of a word
//! in the study file. Scores that do not fit the scale become missing here.

use super::checks::{ratings as checks, settings as setting_checks};
use super::context::{Context, Sheet};
use super::ledger::Cell;
use super::scores::{Score, Scores};
use crate::problem::Error;
use crate::study::{Better, Settings, Settled};

/// Share of the scale at which a reed counts as good, where the study file does not say.
const GOOD_SHARE: f64 = 0.7;

/// Share of the scale that is worth having, where the study file does not say.
const WORTHWHILE_SHARE: f64 = 0.05;

/// Days that count as the present practice, where the study file does not say.
const WINDOW: u32 = 90;

/// Scales that people use, from the shortest; the first that holds all scores is taken.
const COMMON_SCALES: [[f64; 2]; 5] =
    [[1.0, 5.0], [1.0, 10.0], [0.0, 10.0], [0.0, 20.0], [0.0, 100.0]];

/// School marks where 1 is best and 6 worst (common practice).
const MARK_SCALES: [[f64; 2]; 1] = [[1.0, 6.0]];

/// Settles what counts. Scores that cannot stand on the scale are said and dropped.
pub(super) fn settle(
    context: &mut Context,
    sheets: [Option<&Sheet>; 2],
    scores: &mut Scores,
) -> Result<Settings, Error> {
    let outcome = outcome(context, scores)?;
    let best = context.study.best.unwrap_or(Better::Higher);
    let scale = fit(context, sheets, scores, &outcome, best);
    let study = context.study;
    let span = scale[1] - scale[0];
    let target = study.targets.get(&outcome).copied();
    let good_at = study.good_at.unwrap_or_else(|| default_good_at(scale, best, target));
    let settings = Settings {
        title: study.title.clone().unwrap_or_else(|| context.log.clone()),
        scale,
        scale_given: study.scale.is_some(),
        good_at,
        good_at_given: study.good_at.is_some(),
        worthwhile: study.worthwhile.unwrap_or(WORTHWHILE_SHARE * span),
        worthwhile_given: study.worthwhile.is_some(),
        outcome,
        settled: study.settled.unwrap_or(Settled::All),
        best,
        window: study.window.unwrap_or(WINDOW),
        targets: study.targets.clone(),
        candidates: study.candidates.clone(),
    };
    say(context, &settings, scores.scores.is_empty());
    Ok(settings)
}

/// The criterion that is the rating: named, or called `overall` or `rating`, or the only one.
fn outcome(context: &Context, scores: &Scores) -> Result<String, Error> {
    // a column of blanks is no criterion
    let held = |code: usize| scores.scores.iter().any(|score| score.criterion as usize == code);
    let criteria: Vec<String> = (0..scores.criteria.len())
        .filter(|code| held(*code))
        .map(|code| scores.criteria[code].clone())
        .collect();
    let criteria = &criteria;
    if let Some(named) = &context.study.outcome {
        if criteria.is_empty() || criteria.contains(named) {
            return Ok(named.clone());
        }
        return Err(checks::outcome_undecided(&context.study_place(), criteria, Some(named)));
    }
    let usual =
        ["overall", "rating"].into_iter().find(|usual| criteria.iter().any(|name| name == usual));
    match (usual, criteria.as_slice()) {
        (Some(usual), _) => Ok(usual.to_owned()),
        (None, []) => Ok("overall".to_owned()),
        (None, [only]) => Ok(only.clone()),
        (None, several) => Err(checks::outcome_undecided(&context.study_place(), several, None)),
    }
}

fn default_good_at(scale: [f64; 2], best: Better, target: Option<f64>) -> f64 {
    let [low, high] = scale;
    let span = high - low;
    match (target, best) {
        // the distance from the ideal, of which the same share of the longest is good
        (Some(target), _) => (1.0 - GOOD_SHARE) * (target - low).max(high - target),
        (None, Better::Higher) => low + GOOD_SHARE * span,
        (None, Better::Lower) => high - GOOD_SHARE * span,
    }
}

fn cell<'a>(sheets: &[Option<&'a Sheet>; 2], score: &Score) -> Option<Cell<'a>> {
    let sheet = sheets[usize::from(score.origin.sheet).min(1)]?;
    Some(Cell {
        table: &sheet.table,
        row: score.origin.row as usize,
        column: score.origin.column as usize,
    })
}

/// Finds the scale and brings every score onto it.
fn fit(
    context: &mut Context,
    sheets: [Option<&Sheet>; 2],
    scores: &mut Scores,
    outcome: &str,
    best: Better,
) -> [f64; 2] {
    let of_outcome = scores.criteria.iter().position(|name| name == outcome).map(|at| at as u32);
    let relevant = |score: &&Score| Some(score.criterion) == of_outcome;
    let tops = tops(scores.scores.iter().filter(relevant));
    let given = context.study.scale;
    let words = context.study.ranking.steps();
    let scale = given
        .unwrap_or_else(|| found_scale(scores.scores.iter().filter(relevant), &tops, words, best));
    // the outcome stands on the scale; another criterion may have a scale of its own
    scores.scores.retain_mut(|score| {
        let on_scale = Some(score.criterion) == of_outcome;
        let Some(cell) = cell(&sheets, score) else { return true };
        if score.ranked && (given.is_some() || !tops.is_empty()) {
            return place_word(context, cell, score, given, words);
        }
        if !score.out_of.is_nan() && on_scale && score.out_of != scale[1] {
            checks::other_scale(context.ledger, cell, score.out_of, scale[1]);
            return false;
        }
        // another criterion that says its own top has its own scale
        let bounds = given.filter(|_| on_scale || score.out_of.is_nan());
        let slack = if score.ranked { 1.0 / 3.0 + 1e-9 } else { 0.0 };
        match bounds.filter(|[low, high]| score.score < low - slack || score.score > high + slack) {
            Some(bounds) => {
                checks::out_of_scale(context.ledger, cell, bounds, on_scale);
                !on_scale
            }
            None => true,
        }
    });
    scale
}

/// The different numbers that scores are out of, the commonest first.
fn tops<'a>(scores: impl Iterator<Item = &'a Score>) -> Vec<f64> {
    let mut counts: Vec<(f64, usize)> = Vec::new();
    for top in scores.map(|score| score.out_of).filter(|top| !top.is_nan()) {
        match counts.iter_mut().find(|(other, _)| *other == top) {
            Some((_, count)) => *count += 1,
            None => counts.push((top, 1)),
        }
    }
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    counts.into_iter().map(|(top, _)| top).collect()
}

fn found_scale<'a>(
    scores: impl Iterator<Item = &'a Score>,
    tops: &[f64],
    words: usize,
    best: Better,
) -> [f64; 2] {
    let (mut low, mut high, mut any_ranked) = (f64::INFINITY, f64::NEG_INFINITY, false);
    for score in scores {
        any_ranked |= score.ranked;
        if score.out_of.is_nan() || Some(&score.out_of) == tops.first() {
            low = low.min(score.score);
            high = high.max(score.score);
        }
    }
    let worst = if low < 1.0 { low.min(0.0) } else { 1.0 };
    if let Some(&top) = tops.first() {
        return [worst, top];
    }
    if any_ranked && words > 1 {
        return [low.min(1.0), high.max(words as f64)];
    }
    let common: &[[f64; 2]] = if best == Better::Lower { &MARK_SCALES } else { &COMMON_SCALES };
    let holding = common.iter().find(|[bottom, top]| low >= *bottom && high <= *top);
    match holding {
        Some(scale) => *scale,
        None if low < high => [low, high],
        // no score at all, or one value beyond every common scale
        None if low.is_finite() => [low - 1.0, low + 1.0],
        None => [1.0, 10.0],
    }
}

/// A ranked word among numbers: on the scale that the study file gives, from its lower end to its upper.
fn place_word(
    context: &mut Context,
    cell: Cell,
    score: &mut Score,
    given: Option<[f64; 2]>,
    words: usize,
) -> bool {
    let Some([low, high]) = given.filter(|_| words > 1) else {
        checks::word_among_numbers(context.ledger, cell);
        return false;
    };
    let share = (score.score - 1.0) / (words as f64 - 1.0);
    // `A+` above the best letter is the best that the scale has
    score.score = (low + share * (high - low)).clamp(low, high);
    true
}

/// Says what was found because the study file does not say it.
fn say(context: &mut Context, settings: &Settings, no_ratings: bool) {
    if no_ratings {
        return;
    }
    let place = context.study_place();
    let print = super::checks::cells::rounded;
    let [low, high] = settings.scale.map(print);
    if !settings.scale_given {
        let sentence = format!("The ratings were taken to be on a scale from {low} to {high}.");
        setting_checks::found(
            context.ledger,
            &place,
            sentence,
            &format!("scale = [{low}, {high}]"),
        );
    }
    if !settings.good_at_given {
        let good_at = print(settings.good_at);
        let side = match (settings.targets.contains_key(&settings.outcome), settings.best) {
            (true, _) => "within that distance of the ideal",
            (false, Better::Higher) => "or above",
            (false, Better::Lower) => "or below",
        };
        let sentence = format!("A reed rated {good_at} {side} was taken to be good.");
        setting_checks::found(context.ledger, &place, sentence, &format!("good_at = {good_at}"));
    }
    if !settings.worthwhile_given {
        let worthwhile = print(settings.worthwhile);
        let sentence =
            format!("A difference of {worthwhile} rating points was taken to be worth having.");
        setting_checks::found(
            context.ledger,
            &place,
            sentence,
            &format!("worthwhile = {worthwhile}"),
        );
    }
}
