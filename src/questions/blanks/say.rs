//! Say: which to finish first, and what each may come to.

use std::collections::BTreeMap;

use super::super::outcome_words;
use super::super::scores::count_out;
use super::expected::Expected;
use super::{Bench, QUESTION, Told, show};
use crate::finding::{BlankResult, Finding, LeftOut, Method, Section};
use crate::study::Study;
use crate::words::blanks as words;

/// From this chance on that it does better than the first, a piece can hardly be told from it.
const TOSS_UP: f64 = 0.4;

pub(super) fn finding(study: &Study, bench: &Bench, told: &Told) -> Finding {
    let outcome = outcome_words(study);
    let list = list(study, bench, told);
    let toss_up =
        told.expected.iter().take_while(|expected| expected.outdoes_first >= TOSS_UP).count();
    let new = told.expected.iter().filter(|expected| !expected.by_lot).count();
    let number = told.expected.len();
    let tells_of_losses = told.expected.iter().all(|expected| expected.arrives.is_some());
    let has_makers = bench.columns.makers.is_some();
    let has_fates = study.understood().iter().any(|column| column.name == "fate");
    let caveats = words::caveats(has_fates, tells_of_losses, &outside(study, bench, told));
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: words::answer(&list, toss_up, outcome),
        more: words::spread(&list)
            .into_iter()
            .chain(words::new_lots(new, number, has_makers))
            .chain([told.predictive.sentence.clone()])
            .collect(),
        caveats,
        charts: show::chart(study, &list, &told.expected).into_iter().collect(),
        tables: vec![show::table(&list)],
        method: Method {
            model: words::model(told.predictive.used, bench.rows.lots, has_makers),
            assumptions: words::assumptions(),
            sources: words::sources(),
            seed: Some(bench.seed),
        },
        used: (number, "unfinished pieces"),
        left_out: left_out(told, number, study.pieces()),
        section: Section::Blanks(list, Some(told.predictive.clone())),
    }
}

/// The foretold pieces in their order, then the others by name.
fn list(study: &Study, bench: &Bench, told: &Told) -> Vec<BlankResult> {
    let (ids, lots) = (study.ids(), study.words("lot"));
    let nothing_known = |at: &usize| told.known.set_of[*at].is_none();
    let mut untold: Vec<usize> = (0..told.unfinished.pieces.len()).filter(nothing_known).collect();
    untold.extend(&told.untold);
    untold.sort_unstable();
    let bare = |at: usize| {
        let piece = told.unfinished.pieces[at];
        BlankResult {
            piece: ids[piece].to_owned(),
            lot: lots[piece].map(str::to_owned),
            stage: told.unfinished.stage[at],
            rating: None,
            low: None,
            high: None,
            p_good: None,
            p_good_if_played: None,
            p_arrives: None,
            p_outdoes_first: None,
            lot_is_known: false,
            known: labels(bench, told, at),
            sentence: String::new(),
        }
    };
    let full = |expected: &Expected| BlankResult {
        rating: Some(expected.rating),
        low: Some(expected.low),
        high: Some(expected.high),
        p_good: expected.arrives.map(|_| expected.good()),
        p_good_if_played: Some(expected.good_if_played),
        p_arrives: expected.arrives,
        p_outdoes_first: Some(expected.outdoes_first),
        lot_is_known: expected.by_lot,
        ..bare(expected.at)
    };
    let outcome = outcome_words(study);
    let said =
        |blank: BlankResult| BlankResult { sentence: words::sentence(&blank, outcome), ..blank };
    told.expected.iter().map(full).chain(untold.into_iter().map(bare)).map(said).collect()
}

/// What a piece is foretold from.
fn labels(bench: &Bench, told: &Told, at: usize) -> Vec<String> {
    let set = told.known.set_of[at].map_or(&[][..], |set| &told.known.sets[set]);
    set.iter().map(|&factor| bench.columns.factors[factor].0.label.clone()).collect()
}

/// The foretold pieces with a number below or above all that were rated.
fn outside(study: &Study, bench: &Bench, told: &Told) -> Vec<String> {
    let all = told.known.all();
    let ranges: BTreeMap<usize, (f64, f64)> =
        all.into_iter().filter_map(|at| Some((at, bench.range(at)?))).collect();
    let is_outside = |expected: &&Expected| {
        let piece = told.unfinished.pieces[expected.at];
        let set = told.known.set_of[expected.at].map_or(&[][..], |set| &told.known.sets[set]);
        set.iter().any(|at| match (ranges.get(at), bench.columns.factors[*at].1.number(piece)) {
            (Some((low, high)), Some(value)) => value < *low || value > *high,
            _ => false,
        })
    };
    let ids = study.ids();
    let name = |expected: &Expected| ids[told.unfinished.pieces[expected.at]].to_owned();
    told.expected.iter().filter(is_outside).map(name).collect()
}

/// Every piece is used or left out.
fn left_out(told: &Told, used: usize, pieces: usize) -> Vec<LeftOut> {
    let bare = told.known.set_of.iter().filter(|set| set.is_none()).count();
    let mut left_out = Vec::new();
    count_out(&mut left_out, words::LEFT_OUT_BARE, bare);
    count_out(&mut left_out, words::LEFT_OUT, told.untold.len());
    let counted: usize = left_out.iter().map(|out| out.n).sum();
    count_out(&mut left_out, words::LEFT_OUT_DONE, pieces.saturating_sub(used + counted));
    left_out
}
