//! What was not done as planned.

use std::collections::BTreeSet;

use super::pieces::{Made, TrialLog, TrialPiece, key};
use crate::finding::TrialDeviation;
use crate::plan::Plan;
use crate::study::Study;
use crate::words::trial::keeping as words;

/// Everything that differs from the plan, by the plan's order of pieces.
pub(super) fn deviations(log: &Study, trial: &TrialLog, plan: &Plan) -> Vec<TrialDeviation> {
    let facts = Facts::of(log, &trial.study, plan);
    let of_plan = trial.pieces.iter().flat_map(|piece| facts.of_piece(piece, plan));
    of_plan.chain(unlabelled(log, plan)).collect()
}

/// Pieces of the trial's lots (and makers) that were started after the plan and are none of its pieces; without a date nothing is known of a piece.
fn unlabelled(log: &Study, plan: &Plan) -> Vec<TrialDeviation> {
    let Some(planned_day) = day(&plan.made_on) else { return Vec::new() };
    let labels: BTreeSet<String> = plan.pieces.iter().map(|piece| key(&piece.label)).collect();
    let (lots, makers) = (log.words("lot"), log.words("maker"));
    let is_of_trial = |row: usize| {
        plan.blocks.iter().any(|block| {
            let is_lot = lots[row].is_some_and(|lot| same(&block.lot, lot));
            let planned_maker = block.maker.as_deref().zip(makers[row]);
            is_lot && planned_maker.is_none_or(|(planned, maker)| same(planned, maker))
        })
    };
    let started = log.days("started_on");
    let ids = log.ids().into_iter().enumerate();
    ids.filter(|(row, id)| {
        started[*row].is_some_and(|day| day > planned_day)
            && is_of_trial(*row)
            && !labels.contains(&key(id))
    })
    .map(|(_, label)| TrialDeviation {
        label: label.to_owned(),
        what: words::UNLABELLED.to_owned(),
        planned: "a label".to_owned(),
        found: "none".to_owned(),
    })
    .collect()
}

/// What the log says of its rows.
struct Facts<'a> {
    lots: Vec<Option<&'a str>>,
    makers: Vec<Option<&'a str>>,
    made_days: &'a [Option<i32>],
    started_days: Vec<Option<i32>>,
    first_rated: Vec<Option<i32>>,
    planned_day: Option<i32>,
    /// Labels on rows that were set aside when the log was read.
    set_aside: Vec<String>,
}

impl<'a> Facts<'a> {
    fn of(log: &Study, trial: &'a Study, plan: &Plan) -> Self {
        let mut first_rated: Vec<Option<i32>> = vec![None; trial.pieces()];
        let ratings = trial.rating_rows();
        for (&piece, &day) in ratings.piece.iter().zip(&ratings.day) {
            let first = &mut first_rated[piece]; // pieces of this study
            *first = first.map_or(day, |first| Some(day.map_or(first, |day| day.min(first))));
        }
        let whole_rows = log.set_aside().iter().filter(|row| row.column.is_none());
        Facts {
            lots: trial.words("lot"),
            makers: trial.words("maker"),
            made_days: trial.making_days(),
            started_days: trial.days("started_on"),
            first_rated,
            planned_day: day(&plan.made_on),
            set_aside: whole_rows.flat_map(|row| &row.text).map(|cell| key(cell)).collect(),
        }
    }

    fn of_piece(&self, piece: &TrialPiece, plan: &Plan) -> Vec<TrialDeviation> {
        let told = |what: &str, planned: String, found: String| {
            let (label, what) = (piece.label.clone(), what.to_owned());
            Some(TrialDeviation { label, what, planned, found })
        };
        let Some(row) = piece.row else {
            let is_set_aside = self.set_aside.contains(&key(&piece.label));
            let found = || told(words::SET_ASIDE, "one row".to_owned(), "set aside".to_owned());
            return is_set_aside.then(found).flatten().into_iter().collect();
        };
        let arm = |arm: usize| plan.arms.get(arm).map_or("", |arm| arm.name.as_str()).to_owned();
        let otherwise = match &piece.made {
            Made::Arm(made) if *made != piece.arm => {
                told(words::OTHERWISE, arm(piece.arm), arm(*made))
            }
            Made::Other(made) => told(words::OTHERWISE, arm(piece.arm), made.clone()),
            Made::Arm(_) | Made::Unknown => None,
        };
        let block = plan.blocks.get(piece.block);
        let planned_lot = block.map(|block| block.lot.as_str());
        let lot = differs(planned_lot, self.lots[row])
            .and_then(|(planned, found)| told(words::LOT, planned, found));
        let planned_maker = block.and_then(|block| block.maker.as_deref());
        let maker = differs(planned_maker, self.makers[row])
            .and_then(|(planned, found)| told(words::MAKER, planned, found));
        let twice = if piece.rows > 1 {
            told(words::TWICE, "one row".to_owned(), format!("{} rows", piece.rows))
        } else {
            None
        };
        let dated = |earlier: Option<i32>, later: Option<i32>| Some(earlier? < later?);
        let before_plan = dated(self.started_days[row], self.planned_day) == Some(true);
        let too_soon = dated(self.first_rated[row], self.made_days[row]) == Some(true);
        let days = |is_so: bool, what: &str, planned: &str, found: &str| {
            if is_so { told(what, planned.to_owned(), found.to_owned()) } else { None }
        };
        let before = days(before_plan, words::BEFORE_PLAN, "after the plan", "before it");
        let soon = days(too_soon, words::RATED_BEFORE, "after it was started", "before it");
        [otherwise, lot, maker, twice, before, soon].into_iter().flatten().collect()
    }
}

/// Both names where the log says another one; a name that pooling put the log's before is taken without it.
fn differs(planned: Option<&str>, found: Option<&str>) -> Option<(String, String)> {
    let (planned, found) = (planned?, found?);
    (!same(planned, found)).then(|| (planned.to_owned(), found.to_owned()))
}

fn same(planned: &str, found: &str) -> bool {
    planned.trim() == found.trim() || key(planned) == key(found)
}

/// Days since 1970-01-01 of a date such as 2025-11-30.
fn day(text: &str) -> Option<i32> {
    let date: jiff::civil::Date = text.parse().ok()?;
    Some((date - jiff::civil::Date::constant(1970, 1, 1)).get_days())
}
