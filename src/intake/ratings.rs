//! The ratings file, with a column a criterion, or long with `criterion` and `score`.

use super::cells::{self, Cells, DateRules, NumberRules};
use super::checks::ratings as checks;
use super::context::{Account, Context, FileRules, Sheet, range_of};
use super::criteria::{self, Criterion};
use super::endings::Ending;
use super::identity::Identity;
use super::parts::RATING_PARTS;
use super::records::Table;
use super::reed_rows::ReedRows;
use super::scores::{ScoreColumn, Scores};
use super::values::dates;
use super::values::labels::JoinedLabels;
use crate::catalogue::Stage;
use crate::problem::Error;

/// Reads the ratings file. Answers how many of its rows were used.
pub(super) fn read(
    context: &mut Context,
    sheet: &Sheet,
    identity: &Identity,
    endings: &mut [Ending],
    finished: Option<&[Option<i32>]>,
    scores: &mut Scores,
) -> Result<usize, Error> {
    let mut rows = ReedRows::open(context, sheet, identity, &RATING_PARTS)?;
    rows.once(context, &["date", "player"], "day and player");
    let form = Form::of(context, &rows);
    let dates: Vec<usize> = rows.part("date").into_iter().collect();
    let file = context.file_rules(rows.table, &rows.rows, &form.columns(), &dates);
    let raters = Raters {
        players: rows.names(context, "player", "who rated"),
        settings: rows.names(context, "setting", "where it was rated"),
        days: rows.part("date").map(|column| rated_days(context, &file, rows.cells(column))),
    };
    let held = gather(context, &rows, &form, &file, &raters, endings, scores);
    rows.account_for_note(context);
    if let (Some(finished), Some(days)) = (finished, &raters.days) {
        before_finish(context, rows.table, &rows.rows, &rows.pieces, finished, days);
    }
    let mut used = 0;
    for (row, held) in rows.rows.iter().zip(held) {
        if held {
            used += 1;
        } else {
            checks::row_empty(context.ledger, rows.table, *row as usize);
        }
    }
    Ok(used)
}

/// A column a criterion, or one of criteria and one of scores.
enum Form {
    Wide(Vec<Criterion>),
    Long { criterion: usize, score: usize },
}

impl Form {
    fn of(context: &mut Context, rows: &ReedRows) -> Form {
        match rows.part("criterion").zip(rows.part("score")) {
            Some((criterion, score)) => Form::Long { criterion, score },
            None => Form::Wide(criteria::find(context, rows.table, &rows.rows, &rows.parts)),
        }
    }

    fn columns(&self) -> Vec<usize> {
        match self {
            Form::Wide(criteria) => criteria.iter().map(|criterion| criterion.column).collect(),
            Form::Long { score, .. } => vec![*score],
        }
    }
}

/// Who rated, where and when, row by row.
struct Raters {
    players: Option<JoinedLabels>,
    settings: Option<JoinedLabels>,
    days: Option<Vec<Option<i32>>>,
}

/// Reads all scores of the file. Answers which rows held one, or a fate.
fn gather(
    context: &mut Context,
    rows: &ReedRows,
    form: &Form,
    file: &FileRules,
    raters: &Raters,
    endings: &mut [Ending],
    scores: &mut Scores,
) -> Vec<bool> {
    let job = |criterion, column: usize, out_of, rules| ScoreColumn {
        cells: rows.cells(column),
        sheet: 1,
        criterion,
        out_of,
        pieces: &rows.pieces,
        players: raters.players.as_ref(),
        settings: raters.settings.as_ref(),
        days: raters.days.as_deref(),
        rules,
    };
    match form {
        Form::Long { criterion, score } => {
            let rules = number_rules(context, file, rows.table, *score);
            let codes = criteria::codes(context, rows.cells(*criterion), &mut scores.criteria);
            scores.add_long(context, &job("score", *score, None, rules), &codes, endings)
        }
        Form::Wide(criteria) => {
            let mut held = vec![false; rows.rows.len()];
            for Criterion { column, name, out_of } in criteria {
                let rules = number_rules(context, file, rows.table, *column);
                let here = scores.add(context, &job(name, *column, *out_of, rules), endings);
                held.iter_mut().zip(here).for_each(|(held, here)| *held |= here);
            }
            held
        }
    }
}

fn number_rules(context: &Context, file: &FileRules, table: &Table, column: usize) -> NumberRules {
    let setting = context.study.column(table.heading(column));
    let given = setting.and_then(|setting| setting.decimal).or(file.numbers.given);
    NumberRules { given, ..file.numbers }
}

fn rated_days(context: &mut Context, file: &FileRules, cells: Cells) -> Vec<Option<i32>> {
    let setting = context.study.column(cells.header());
    let given = setting.and_then(|setting| setting.day_order).or(file.dates.given);
    let read = cells::dates(context.ledger, cells, DateRules { given, ..file.dates });
    super::pieces::far_ahead(context, cells, &read.days);
    let account = Account {
        name: "date".into(),
        meaning: "the day of the rating".into(),
        stage: Some(Stage::Play),
        values: read.days.iter().flatten().count(),
        range: range_of(&read.days, dates::iso),
        decided: read.decided,
        ..Account::default()
    };
    context.understand(cells, account);
    read.days
}

fn before_finish(
    context: &mut Context,
    table: &Table,
    rows: &[u32],
    pieces: &[u32],
    finished: &[Option<i32>],
    days: &[Option<i32>],
) {
    for ((day, &row), &piece) in days.iter().zip(rows).zip(pieces) {
        let end = finished.get(piece as usize).copied().flatten();
        let (Some(day), Some(end)) = (*day, end) else { continue };
        if day < end {
            let (rated, finished) = (dates::iso(day), dates::iso(end));
            checks::before_finish(context.ledger, table, row as usize, &rated, &finished);
        }
    }
}
