//! The reeds file: one row a piece of cane, or one row a rating of it.

use std::borrow::Cow;

use polars::prelude::Column as Series;
use rayon::prelude::*;

use super::cells::{self, Cells};
use super::checks::{patterns, pieces as checks};
use super::columns::{self, Planned, Role};
use super::context::{Account, Context, FileRules, Sheet};
use super::endings::Ending;
use super::frames;
use super::identity::{self, Identity};
use super::ledger::Cell;
use super::piece_columns;
use super::scores::Scores;
use super::study_file::{IdFrom, RowIs};
use super::values::{dates, fates};
use crate::problem::Error;
use crate::study::{Factor, ProfileReading};

/// The pieces of a log, column by column.
pub(super) struct Pieces<'a> {
    pub identity: Identity<'a>,
    pub endings: Vec<Ending>,
    pub held: Held,
}

/// What the columns of the reeds file hold, one entry a piece.
#[derive(Default)]
pub(super) struct Held {
    pub columns: Vec<Series>,
    pub factors: Vec<Factor>,
    /// Thickness readings from wide columns.
    pub profile: Vec<ProfileReading>,
    pub started: Option<Vec<Option<i32>>>,
    pub finished: Option<Vec<Option<i32>>>,
    pub first_played: Option<Vec<Option<i32>>>,
    pub last_played: Option<Vec<Option<i32>>>,
    pub hours: Option<Vec<Option<f64>>>,
    /// Whether a column says that the reed was played.
    pub played: Option<Vec<bool>>,
    /// Whether the last day played stands under a header that says that the reed was retired.
    pub retired: bool,
}

impl Held {
    /// Adds what a later column holds.
    fn add(&mut self, later: Held) {
        self.columns.extend(later.columns);
        self.factors.extend(later.factors);
        self.profile.extend(later.profile);
        self.started = later.started.or(self.started.take());
        self.finished = later.finished.or(self.finished.take());
        self.first_played = later.first_played.or(self.first_played.take());
        if later.last_played.is_some() {
            (self.last_played, self.retired) = (later.last_played, later.retired);
        }
        self.hours = later.hours.or(self.hours.take());
        self.played = later.played.or(self.played.take());
    }
}

/// Reads the reeds file; ratings in it go to `scores`.
pub(super) fn read<'a>(
    context: &mut Context,
    sheet: &'a Sheet,
    scores: &mut Scores,
) -> Result<Pieces<'a>, Error> {
    let table = &sheet.table;
    let study = context.study;
    let rows_are_ratings = study.row_is == RowIs::Rating;
    let plans = columns::plan_reeds(context.ledger, table, study, rows_are_ratings);
    let identity = identity::find(context, sheet, &plans, rows_are_ratings)?;
    let pieces = identity.ids.len();
    let mut reading = Reading {
        file: file_rules(context, table, &identity, &plans),
        pieces: Pieces {
            identity,
            endings: vec![Ending::default(); pieces],
            held: Held::default(),
        },
        context,
        sheet,
        scores,
    };
    reading.run(&plans);
    Ok(reading.pieces)
}

fn file_rules(
    context: &Context,
    table: &super::records::Table,
    identity: &Identity,
    plans: &[Planned],
) -> FileRules {
    let chosen = |wanted: fn(&Planned) -> bool| -> Vec<usize> {
        plans.iter().filter(|plan| wanted(plan)).map(|plan| plan.column).collect()
    };
    let numbers = chosen(|plan| plan.may_hold_numbers() && !matches!(plan.role, Role::Own(None)));
    context.file_rules(table, &identity.used_rows, &numbers, &chosen(|plan| plan.holds_dates()))
}

/// The reeds file while it is read, column by column.
pub(super) struct Reading<'a, 'c, 's, 'x> {
    pub context: &'c mut Context<'x>,
    pub sheet: &'a Sheet,
    pub scores: &'s mut Scores,
    pub file: FileRules,
    pub pieces: Pieces<'a>,
}

impl<'a> Reading<'a, '_, '_, '_> {
    fn run(&mut self, plans: &[Planned]) {
        self.columns(plans);
        self.ratings(plans);
        self.notes(plans);
        self.whole_table(plans);
        self.pieces.held.factors.sort_by_key(|factor| factor.stage);
    }

    /// The ids, and the columns that say something of a piece, read on all threads. What is found wrong stands in the order of the columns.
    fn columns(&mut self, plans: &[Planned]) {
        let plans: Vec<&Planned> = plans.iter().filter(|plan| !is_rating_part(plan)).collect();
        let context = &*self.context;
        let (sheet, file, identity) = (self.sheet, &self.file, &self.pieces.identity);
        let read = |plan: &&Planned| {
            let mut ledger = context.ledger.empty();
            let mut own = context.with(&mut ledger);
            let read = piece_columns::read(&mut own, sheet, identity, file, plan);
            let understood = own.understood;
            (read, understood, ledger)
        };
        let ids = || frames::texts("reed", identity.ids.iter().map(|id| Some(&**id)));
        let (ids, all): (Series, Vec<_>) =
            rayon::join(ids, || plans.par_iter().map(read).collect());
        self.pieces.held.columns.push(ids);
        for (read, understood, ledger) in all {
            self.context.ledger.take(ledger);
            self.context.understood.extend(understood);
            for (piece, said) in read.endings {
                if let Some(ending) = self.pieces.endings.get_mut(piece) {
                    ending.hear(said);
                }
            }
            self.pieces.held.add(read.held);
        }
    }

    /// All notes of a piece, one behind the other; a note that is a fate and nothing else is read as one.
    fn notes(&mut self, plans: &[Planned]) {
        let notes: Vec<&Planned> = plans.iter().filter(|plan| plan.is("note")).collect();
        if notes.is_empty() {
            return;
        }
        let rows = self.pieces.identity.used_rows.clone();
        let pieces = self.pieces.identity.piece_of_used_rows();
        let marks = self.context.marks.clone();
        let mut joined: Vec<Option<Cow<str>>> = vec![None; self.pieces.identity.ids.len()];
        for plan in notes {
            let cells =
                Cells { table: &self.sheet.table, column: plan.column, rows: &rows, marks: &marks };
            let mut values = 0;
            for (&piece, (row, text)) in pieces.iter().zip(cells.texts()) {
                let Some(text) = text else { continue };
                let piece = piece as usize;
                values += 1;
                let Some(joined) = joined.get_mut(piece) else { continue };
                *joined = Some(match joined.take() {
                    // a note that stands on each row of a reed is one note
                    Some(before) if before == text => before,
                    Some(before) => Cow::Owned(format!("{before}; {text}")),
                    None => Cow::Borrowed(text),
                });
                if let Some(read) = fates::read(text) {
                    self.fate_in_note(piece, read, cells.at(row));
                }
            }
            cells::marks_among_notes(self.context.ledger, cells);
            let account = Account { values, ..Account::default() };
            piece_columns::understand(self.context, plan, cells, account, true);
        }
        self.pieces.held.columns.push(frames::texts("note", joined.iter().map(Option::as_deref)));
    }

    /// A note that is a fate and nothing else is one, unless the piece has another already.
    fn fate_in_note(&mut self, piece: usize, read: fates::FateRead, cell: Cell) {
        let Some(ending) = self.pieces.endings.get_mut(piece) else { return };
        match ending.fate {
            None => {
                ending.complete(read);
                checks::fate_in_note(self.context.ledger, cell, read.fate.word());
            }
            Some(stands) if stands != read.fate => {
                checks::fates_disagree(self.context.ledger, cell, stands.word());
            }
            Some(_) => ending.complete(read),
        }
    }

    /// Checks that look at more than one column.
    fn whole_table(&mut self, plans: &[Planned]) {
        let by_name = |name: &str| plans.iter().find(|plan| plan.is(name)).map(|plan| plan.column);
        let pieces = &self.pieces;
        let held = &pieces.held;
        let dated = [
            ("started_on", &held.started),
            ("finished_on", &held.finished),
            ("first_played", &held.first_played),
            ("last_played", &held.last_played),
        ];
        let dated: Vec<(usize, &[Option<i32>])> = dated
            .iter()
            .filter_map(|(name, days)| Some((by_name(name)?, days.as_deref()?)))
            .collect();
        let table = &self.sheet.table;
        for &[(earlier_column, earlier_days), (column, days)] in dated.array_windows() {
            let both = earlier_days.iter().zip(days);
            for ((earlier, day), row) in both.zip(&pieces.identity.first_rows) {
                let (Some(day), Some(earlier)) = (*day, *earlier) else { continue };
                if day < earlier {
                    let cell = Cell { table, row: *row as usize, column };
                    let header = table.heading(earlier_column);
                    checks::dates_out_of_order(
                        self.context.ledger,
                        cell,
                        header,
                        &dates::iso(earlier),
                    );
                }
            }
        }
        if self.context.study.row_is == RowIs::Piece && self.context.study.id_from == IdFrom::Column
        {
            let ids: Vec<usize> =
                plans.iter().filter(|plan| plan.is("reed")).map(|plan| plan.column).collect();
            patterns::rows_alike(self.context.ledger, table, &pieces.identity.first_rows, &ids);
        }
    }
}

fn is_rating_part(plan: &Planned) -> bool {
    matches!(plan.role, Role::Criterion { .. } | Role::Player | Role::Setting | Role::RatedOn)
        || plan.is("note")
}

/// Days after which the last date of a column stands alone.
const ALONE: i32 = 730;

/// Points out the last day of a column when it lies far behind all others.
pub(super) fn far_ahead(context: &mut Context, cells: Cells, days: &[Option<i32>]) {
    let mut last: [Option<(i32, usize)>; 2] = [None, None];
    for (day, &row) in days.iter().zip(cells.rows) {
        let Some(day) = *day else { continue };
        if last[0].is_none_or(|(latest, _)| day > latest) {
            last = [Some((day, row as usize)), last[0]];
        } else if last[1].is_none_or(|(next, _)| day > next) {
            last[1] = Some((day, row as usize));
        }
    }
    if let [Some((latest, row)), Some((next, _))] = last
        && latest - next > ALONE
    {
        checks::day_to_come(context.ledger, cells.at(row), &dates::iso(next));
    }
}
