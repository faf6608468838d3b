//! What may be told to a studio?
//!
//! One practice, every rated reed, and what a player may do about it: the answer of `decide` on a page that a student reads. It says no more than that answer,
//! and leaves names out unless they are asked for: the page speaks of a practice and never of a lot, a player or a maker.
//!
//! **Method.** That of `decide`; the counts are plain ones, each piece with the choice nearest to its own.
//!
//! **Refuses** where `decide` does.

use super::{Options, decide, log_summary, outcome_words};
use crate::finding::{
    Cell, Chart, ChartKind, DecisionResult, FactorLevelShown, Finding, Handout, PlottedPoint,
    PracticeValue, Section, Table, TableColumn,
};
use crate::problem::Refusal;
use crate::study::{Fate, Study};
use crate::words::handout::{self as words, HandoutWords};

/// The name in refusals.
pub const NAME: &str = "handout";

/// What the page may tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Names {
    #[default]
    LeftOut,
    Told,
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] where no practice can be judged.
pub fn ask(study: &Study, options: &Options, names: Names) -> Result<Handout, Refusal> {
    let decided = decide::ask(study, options)
        .map_err(|refusal| Refusal { question: NAME.to_owned(), ..refusal })?;
    of(study, &decided, options.seed, names)
}

/// The page of a decision that was made already.
///
/// # Errors
/// A [`Refusal`] where it holds no practice.
pub fn of(study: &Study, decided: &Finding, seed: u64, names: Names) -> Result<Handout, Refusal> {
    let nothing = || Refusal {
        question: NAME.to_owned(),
        found: "No practice of the log can be judged.".to_owned(),
        takes: words::TAKES_A_PRACTICE.to_owned(),
    };
    let result = first_result(decided).ok_or_else(nothing)?;
    let factor = study.factor(&result.factor).ok_or_else(nothing)?;
    let places = decide::nearest_candidates(study, result);
    let counts = counts(study, &places, result.candidates.len());
    let settings = study.settings();
    let told = HandoutWords {
        label: &factor.label,
        outcome: outcome_words(study),
        scale: settings.scale,
        good_at: settings.good_at,
        players: study.rating_rows().player.levels.len(),
        makers: study.several_makers().map_or(1, |makers| makers.levels.len()),
        shown_by_few: result.shown_by_a_student.map(|trial| trial.difference),
        unknown: study.good().iter().filter(|good| good.is_none()).count(),
    };
    let log = log_summary(study);
    let days = log.first_day.as_deref().zip(log.last_day.as_deref());
    Ok(Handout {
        question: words::question(result, &told),
        title: (names == Names::Told).then(|| settings.title.clone()),
        answer: words::answer(result, &told),
        chart: decided
            .charts
            .first()
            .and_then(|chart| every_reed(chart, &factor.label))
            .ok_or_else(nothing)?,
        counts: table(result, &counts),
        rated: words::rated(&told),
        would_do: words::would_do(result),
        cannot_tell: words::cannot_tell(result, &told),
        copy_it: words::copy_it(result, &told),
        rests_on: words::rests_on(log.pieces, log.reeds, log.lots, days),
        seed,
    })
}

fn first_result(decided: &Finding) -> Option<&DecisionResult> {
    match &decided.section {
        Section::Decide(results) => results.first(),
        _ => None,
    }
}

/// The reeds of the decision's picture without anything fitted.
fn every_reed(decision: &Chart, label: &str) -> Option<Chart> {
    let ChartKind::Decision { x_label, y_label, candidates, reeds, good_at, y_range } =
        &decision.kind
    else {
        return None;
    };
    let is_kind = candidates.iter().enumerate().all(|(place, one)| one.x == place as f64)
        && candidates.iter().any(|one| one.label.parse::<f64>().is_err());
    let count: usize = reeds.iter().map(|point| point.reeds).sum();
    let kind = if is_kind {
        let level = |place: usize| FactorLevelShown {
            level: candidates[place].label.clone(),
            reeds: scores_at(reeds, place),
            mean: None,
        };
        ChartKind::FactorChoice {
            y_label: y_label.clone(),
            levels: (0..candidates.len()).map(level).collect(),
            good_at: *good_at,
            y_range: *y_range,
        }
    } else {
        ChartKind::FactorNumber {
            x_label: x_label.clone(),
            y_label: y_label.clone(),
            points: reeds.clone(),
            curve: Vec::new(),
            best: None,
            good_at: *good_at,
            y_range: *y_range,
        }
    };
    Some(Chart {
        name: NAME.to_owned(),
        title: words::chart_title(label),
        description: words::chart_description(count, label),
        reading: words::CHART_READING.to_owned(),
        kind,
    })
}

fn scores_at(reeds: &[PlottedPoint], place: usize) -> Vec<f64> {
    let here = reeds.iter().filter(|point| point.x == place as f64);
    here.flat_map(|point| std::iter::repeat_n(point.y, point.reeds)).collect()
}

/// What became of the pieces of one choice.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Count {
    started: usize,
    spoiled: usize,
    rated: usize,
    good: usize,
}

fn counts(study: &Study, places: &[Option<usize>], choices: usize) -> Vec<Count> {
    let (fates, scores, good) = (study.fates(), study.reed_scores(), study.good());
    let mut counts = vec![Count::default(); choices];
    for (piece, place) in places.iter().enumerate() {
        let Some(count) = place.and_then(|place| counts.get_mut(place)) else { continue };
        // one entry a piece
        let is_rated = scores[piece].is_some();
        count.started += 1;
        count.rated += usize::from(is_rated);
        count.spoiled += usize::from(!is_rated && fates[piece] == Some(Fate::Spoiled));
        count.good += usize::from(good[piece] == Some(true));
    }
    counts
}

fn table(result: &DecisionResult, counts: &[Count]) -> Table {
    let row = |(value, count): (&PracticeValue, &Count)| {
        vec![
            Cell::Text(words::choice(value)),
            Cell::Count(count.started),
            Cell::Count(count.spoiled),
            Cell::Count(count.rated),
            Cell::Count(count.good),
        ]
    };
    let values = result.candidates.iter().map(|one| &one.value);
    Table {
        name: NAME.to_owned(),
        title: words::COUNTS_TITLE.to_owned(),
        columns: vec![
            TableColumn::new("choice", "Choice"),
            TableColumn::new("started", "Pieces"),
            TableColumn::new("spoiled", "Spoiled"),
            TableColumn::new("rated", "Rated"),
            TableColumn::new("good", "Good"),
        ],
        rows: values.zip(counts).map(row).collect(),
    }
}
