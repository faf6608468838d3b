//! What counts: the outcome, the scale, and what was found for want of a word
//! in the study file. Scores that do not fit the scale become missing here.

use super::checks::{ratings as checks, settings as setting_checks};
use super::context::{Context, Sheet};
use super::found_scale;
use super::ledger::{Cell, counted};
use super::player_ranges;
use super::scores::{Score, Scores};
use crate::problem::Error;
use crate::study::{Better, Settings, Settled};
use crate::whole;

/// Share of the scale at which a reed counts as good, where the study file does not say.
const GOOD_SHARE: f64 = 0.7;

/// Share of the scale that is worth having, where the study file does not say.
const WORTHWHILE_SHARE: f64 = 0.05;

/// Days that count as the present practice, where the study file does not say.
const WINDOW: u32 = 90;

/// Settles what counts. Scores that cannot stand on the scale are said and dropped.
pub(super) fn settle(
    context: &mut Context,
    sheets: [Option<&Sheet>; 2],
    scores: &mut Scores,
) -> Result<Settings, Error> {
    let outcome = outcome(context, scores)?;
    refuse_unsaid_marks(context, scores, &outcome)?;
    let best = context.study.best.unwrap_or(Better::Higher);
    let scale = fit(context, sheets, scores, &outcome, best);
    player_ranges::remark(context, scores, &outcome);
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
    match (scores.scores.is_empty(), sheets[0]) {
        (true, Some(reeds)) if reeds.table.rows() > 0 => {
            checks::no_ratings(context.ledger, &reeds.table, !scores.unread.is_empty());
        }
        (true, _) => {}
        (false, _) => say(context, &settings),
    }
    Ok(settings)
}

/// The criterion that is the rating: named, or called `overall` or `rating`, or the only one.
fn outcome(context: &Context, scores: &Scores) -> Result<String, Error> {
    // a column of blanks is no criterion
    let held = |code: usize| scores.scores.iter().any(|score| score.criterion as usize == code);
    let criteria = scores.criteria.iter().enumerate();
    let criteria: Vec<String> =
        criteria.filter(|(code, _)| held(*code)).map(|(_, name)| name.clone()).collect();
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

/// So many marks such as `2-`, and so large a share of the ratings, are no slip.
const FEWEST_UNSAID: usize = 5;
const SHARE_UNSAID: f64 = 0.1;

/// Stops where many ratings look like school marks and nothing says which end is best: without them the others would be read upside down as often as not.
fn refuse_unsaid_marks(context: &Context, scores: &Scores, outcome: &str) -> Result<(), Error> {
    let named = |code: u32| scores.criteria.get(code as usize).is_some_and(|name| name == outcome);
    let unsaid = scores.unsaid_marks.iter().filter(|code| named(**code)).count();
    if unsaid < FEWEST_UNSAID {
        return Ok(());
    }
    let read = scores.scores.iter().filter(|score| named(score.criterion)).count();
    let all = unsaid + read;
    if (unsaid as f64) < SHARE_UNSAID * all as f64 {
        return Ok(());
    }
    Err(checks::marks_unsaid(&context.study_place(), unsaid, all))
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
    let sheet = sheets.get(usize::from(score.origin.sheet))?.as_ref()?;
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
    let of_outcome = scores.criteria.iter().position(|name| name == outcome).map(whole::code);
    let relevant = |score: &Score| Some(score.criterion) == of_outcome;
    let words = context.study.ranking.steps();
    let given = context.study.scale;
    let fitting = match given {
        Some(scale) => Fitting { given, scale, stated: true, dropped: None, words },
        None => {
            let mut of_scale: Vec<&Score> = Vec::with_capacity(scores.scores.len());
            of_scale.extend(scores.scores.iter().filter(|score| relevant(score)));
            let found = found_scale::find(&of_scale, words, best);
            remark_on_finding(context, &sheets, &of_scale, &found);
            let dropped = found.alone.filter(|alone| alone.beyond).map(|alone| alone.at);
            Fitting { given, scale: found.scale, stated: found.stated, dropped, words }
        }
    };
    let mut at = 0;
    let Scores { scores, unread, .. } = scores;
    scores.retain_mut(|score| {
        let on_scale = relevant(score);
        at += usize::from(on_scale);
        let Some(cell) = cell(&sheets, score) else { return true };
        let dropped = on_scale && fitting.dropped == Some(at - 1);
        let kept = !dropped && fitting.fits(context, cell, score, on_scale);
        if !kept {
            unread.push(score.piece);
        }
        kept
    });
    fitting.scale
}

/// Says what the finding of the scale showed: a rating that stands alone, and which end was taken as best.
fn remark_on_finding(
    context: &mut Context,
    sheets: &[Option<&Sheet>; 2],
    scores: &[&Score],
    found: &found_scale::Found,
) {
    if let Some(alone) = found.alone
        && let Some(cell) = scores.get(alone.at).and_then(|score| cell(sheets, score))
    {
        checks::alone(context.ledger, cell, alone.without, alone.with, alone.beyond);
    }
    let undirected = context.study.best.is_none() && context.study.targets.is_empty();
    if let Some([low, high]) = found.like_school_marks.filter(|_| undirected) {
        let place = context.study_place();
        checks::best_end_assumed(context.ledger, &place, low, high);
    }
}

/// The scale, and where it comes from, while scores are brought onto it.
struct Fitting {
    given: Option<[f64; 2]>,
    scale: [f64; 2],
    /// Whether the study file or the ratings themselves say the scale's top.
    stated: bool,
    /// The score that alone would make the scale much longer.
    dropped: Option<usize>,
    words: usize,
}

impl Fitting {
    /// Whether a score can stand. The outcome stands on the scale; another criterion may have one of its own.
    fn fits(&self, context: &mut Context, cell: Cell, score: &mut Score, on_scale: bool) -> bool {
        if score.ranked && self.stated {
            return place_word(context, cell, score, self.given, self.words);
        }
        let scale = self.scale;
        if !score.out_of.is_nan() && on_scale && score.out_of != scale[1] {
            checks::other_scale(context.ledger, cell, score.out_of, scale[1]);
            return false;
        }
        // another criterion that says its own top has its own scale
        let bounded = self.given.is_some() || (on_scale && self.stated);
        if !bounded || !(on_scale || score.out_of.is_nan()) {
            return true;
        }
        let slack = if score.ranked { 1.0 / 3.0 + 1e-9 } else { 0.0 };
        if score.score >= scale[0] - slack && score.score <= scale[1] + slack {
            return true;
        }
        checks::out_of_scale(context.ledger, cell, scale, on_scale);
        !on_scale
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
fn say(context: &mut Context, settings: &Settings) {
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
        let sentence = format!(
            "A difference of {} was taken to be worth having.",
            counted(settings.worthwhile, "rating point")
        );
        setting_checks::found(
            context.ledger,
            &place,
            sentence,
            &format!("worthwhile = {worthwhile}"),
        );
    }
}
