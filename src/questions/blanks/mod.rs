//! What will the unfinished pieces do?
//!
//! For each piece that is neither finished, rated nor spoiled: the rating to expect from the measurements that it has so far, the range in which nine of ten
//! such reeds fall, and the chance of a good reed.
//!
//! **Method.** Pieces differ in how far they got, so each is foretold from columns that it has all of: the commonest sets of known columns, or the largest of
//! those sets that its own holds. Where the log holds several makers, who makes a piece is one more column of its rule, but no measurement: without one nothing is foretold, and
//! whether anything is foretold is judged without it. The rule is the elastic net (Zou & Hastie 2005), its strength chosen by cross-validation. A piece of a lot that has rated
//! reeds also gets what those reeds tell of the lot, drawn towards nothing by the lots' and the reeds' spread; its range is cross-conformal over reeds (CV+:
//! Barber, Candès, Ramdas & Tibshirani 2021). A piece of a new lot is foretold by rules that each have not seen one lot, and its range comes from lots that
//! were held out whole (Dunn, Wasserman & Ramdas 2022). The chance of a good reed is that of the cross-conformal distribution (Vovk et al. 2018); counted with
//! the losses on the way it is multiplied by the share of pieces that came from the same stage to their first note.
//!
//! **Assumptions.** The unfinished pieces are made, measured and rated like those before them. A piece of a new lot comes of a lot like the others.
//!
//! **Refuses** where no piece is unfinished, where none of them has a measurement that the rated reeds have too, with fewer than 30 rated reeds or three lots,
//! and where the measurements do not foretell a reed of a lot that was held out (`factors::foretell`): then the pieces may be finished in any order. A piece whose own
//! set of columns foretells nothing is not ranked.

mod arrival;
mod expected;
mod rules;
mod say;
mod select;
mod show;

use std::collections::BTreeSet;

use super::factors::foretell::{FEWEST_LOTS, FEWEST_REEDS, Rows, Table, held_out};
use super::factors::measured::Measured;
use super::factors::profile;
use super::factors::sample::Columns;
use super::scores::{ReedScores, reed_scores};
use super::{Options, Question, outcome_words};
use crate::finding::{Finding, Predictive};
use crate::problem::Refusal;
use crate::stats::penalised::Folds;
use crate::study::{Better, Study};
use crate::words::{blanks as words, foretell};

use expected::{Expected, expected};
use select::{Known, Unfinished, known, unfinished};

pub const QUESTION: Question = Question {
    name: "blanks",
    asked: "What will the unfinished pieces do?",
    help: "what rating to expect of each unfinished piece, and which to finish first",
    ask,
    asked_of: super::any_log,
};

/// What all unfinished pieces are held against.
struct Bench<'a> {
    columns: &'a Columns<'a>,
    /// By the names of the reeds.
    rows: Rows,
    /// Whether each rated reed was good.
    good: Vec<bool>,
    lower_is_better: bool,
    /// Lots with rated reeds.
    rated_lots: BTreeSet<usize>,
    held_out: Folds,
    measured: Measured,
    seed: u64,
    /// Rated reeds that could have been taken.
    all: usize,
}

/// Everything that is said.
struct Told {
    unfinished: Unfinished,
    known: Known,
    /// Of the columns that the pieces have, all sets together.
    predictive: Predictive,
    /// The pieces that something is foretold of, the most promising first.
    expected: Vec<Expected>,
    /// Places in `unfinished.pieces` of those whose own columns foretell nothing.
    untold: Vec<usize>,
}

/// Answers the question.
///
/// # Errors
/// A [`Refusal`] where nothing is unfinished or nothing is foretold.
pub fn ask(study: &Study, options: &Options) -> Result<Finding, Refusal> {
    let scores = reed_scores(study);
    let unfinished = unfinished(study);
    if unfinished.pieces.is_empty() {
        return Err(refusal(words::none_unfinished(study.pieces()), words::TAKES_UNFINISHED));
    }
    let derived = profile::derived(study, &scores);
    let maker = select::maker(study, &scores);
    let columns = Columns::of(study, &scores).with(&derived.factors).with(maker.as_slice());
    let bench = bench(study, &columns, &scores, &unfinished.pieces, options.seed)?;
    let known = known(&bench, &unfinished);
    if known.sets.is_empty() {
        return Err(refusal(
            words::nothing_measured(unfinished.pieces.len()),
            words::TAKES_MEASURED,
        ));
    }
    let measured = bench.without_maker(&known.all());
    let predictive = foretold(study, &bench, &measured, unfinished.pieces.len())?;
    let (expected, untold) = expected(study, &bench, &unfinished, &known);
    let told = Told { unfinished, known, predictive, expected, untold };
    let mut finding = say::finding(study, &bench, &told);
    if bench.rows.pieces.len() < bench.all {
        let chosen = crate::words::many::chosen(bench.rows.pieces.len(), bench.all);
        finding.method.assumptions.push(chosen);
    }
    Ok(finding)
}

fn refusal(found: String, takes: &str) -> Refusal {
    Refusal { question: QUESTION.name.to_owned(), found, takes: takes.to_owned() }
}

/// The rated reeds by their names, so that no answer hangs on the order of the rows.
fn bench<'a>(
    study: &Study,
    columns: &'a Columns<'a>,
    scores: &ReedScores,
    unfinished: &[usize],
    seed: u64,
) -> Result<Bench<'a>, Refusal> {
    let their_lots = unfinished.iter().filter_map(|&piece| columns.lots[piece]).collect();
    let rows = by_name(Rows::of(columns, scores), &study.ids());
    let all = rows.pieces.len();
    let rows = rows.taken(columns, &their_lots);
    let unfinished = unfinished.len();
    if rows.scores.len() < FEWEST_REEDS || rows.lots < FEWEST_LOTS {
        return Err(refusal(
            words::too_few(rows.scores.len(), rows.lots, unfinished),
            words::TAKES_REEDS,
        ));
    }
    if rows.scores.windows(2).all(|pair| pair[0] == pair[1]) {
        return Err(refusal(words::all_alike(unfinished), words::TAKES_SPREAD));
    }
    let table = held_out(&rows, seed).ok().and_then(|held_out| {
        let measured = Measured::of(columns, &rows.pieces, held_out.of_rows())?;
        Some((held_out, measured))
    });
    match table {
        Some((held_out, measured)) => {
            let good = study.good();
            let good = rows.pieces.iter().map(|&piece| good[piece] == Some(true)).collect();
            let lower_is_better = study.outcome().better == Better::Lower;
            let rated_lots = rows.lot.iter().copied().collect();
            Ok(Bench {
                columns,
                rows,
                good,
                lower_is_better,
                rated_lots,
                held_out,
                measured,
                seed,
                all,
            })
        }
        None => Err(refusal(words::nothing_measured(unfinished), words::TAKES_MEASURED)),
    }
}

fn by_name(rows: Rows, ids: &[&str]) -> Rows {
    let mut order: Vec<usize> = (0..rows.pieces.len()).collect();
    order.sort_by(|&a, &b| ids[rows.pieces[a]].cmp(ids[rows.pieces[b]]));
    Rows {
        pieces: order.iter().map(|&row| rows.pieces[row]).collect(),
        scores: order.iter().map(|&row| rows.scores[row]).collect(),
        lot: order.iter().map(|&row| rows.lot[row]).collect(),
        ..rows
    }
}

impl Bench<'_> {
    /// The least and the largest value that a rated reed has; none for a choice.
    fn range(&self, factor: usize) -> Option<(f64, f64)> {
        let cells = &self.columns.factors[factor].1;
        let values = self.rows.pieces.iter().filter_map(|&piece| cells.number(piece));
        let wider = |range: Option<(f64, f64)>, value: f64| match range {
            Some((low, high)) => Some((low.min(value), high.max(value))),
            None => Some((value, value)),
        };
        values.fold(None, wider)
    }

    /// Those of the factors that are measurements.
    fn without_maker(&self, factors: &[usize]) -> Vec<usize> {
        let is_measured = |at: &usize| self.columns.factors[*at].0.name != words::MAKER;
        factors.iter().copied().filter(is_measured).collect()
    }

    /// How far these factors foretell reeds of lots that were held out; none where nothing can be fitted.
    fn foretells(&self, factors: &[usize]) -> Option<Predictive> {
        let outcome = crate::words::factors::OutcomeWords::default();
        let told = self.table(factors)?.foretold(&self.rows, outcome, self.seed);
        told.ok().map(|(predictive, _)| predictive)
    }

    /// Whether some of the columns have a say of their own, once all together were held against chance.
    fn has_a_say(&self, factors: &[usize]) -> bool {
        let share = self.table(factors).map(|table| table.share_foretold(&self.rows, self.seed));
        matches!(share, Some(Ok(share)) if share > 0.0)
    }

    fn table(&self, factors: &[usize]) -> Option<Table> {
        let design = self.measured.design.select(&self.measured.places(factors));
        Table::new(design, self.held_out.clone(), self.seed).ok()
    }
}

/// Refuses unless the columns that the pieces have foretell reeds.
fn foretold(
    study: &Study,
    bench: &Bench,
    factors: &[usize],
    unfinished: usize,
) -> Result<Predictive, Refusal> {
    let Some(mut predictive) = bench.foretells(factors) else {
        return Err(refusal(words::nothing_measured(unfinished), words::TAKES_MEASURED));
    };
    predictive.sentence = foretell::sentence(&predictive, outcome_words(study));
    if foretell::is_foretold(&predictive) {
        return Ok(predictive);
    }
    Err(refusal(
        words::any_order(&predictive, unfinished, bench.columns.makers.is_some()),
        words::TAKES_FORETELLING,
    ))
}
