//! What the smaller files share: each row speaks of a reed that the reeds file has.

use super::cells::{self, Cells};
use super::checks::{columns as column_checks, ids as checks, patterns};
use super::context::{Account, Context, Sheet};
use super::identity::{Found, IdColumns, Identity};
use super::ledger::Cell;
use super::parts::{self, Part};
use super::records::Table;
use super::values::labels::JoinedLabels;
use super::values::missing::MissingMarks;
use super::values::totals;
use crate::catalogue::Stage;
use crate::problem::Error;

/// The rows of a smaller file that speak of known reeds, and what its columns are.
pub(super) struct ReedRows<'a> {
    pub table: &'a Table,
    pub rows: Vec<u32>,
    /// The piece of each row.
    pub pieces: Vec<u32>,
    pub parts: Vec<(&'static str, usize)>,
    marks: MissingMarks,
}

impl<'a> ReedRows<'a> {
    /// Finds the parts and the reeds of a file. Rows of unknown reeds are set aside.
    pub fn open(
        context: &mut Context,
        sheet: &'a Sheet,
        identity: &Identity,
        parts: &[Part],
    ) -> Result<ReedRows<'a>, Error> {
        let table = &sheet.table;
        let parts = parts::find(context.ledger, table, context.study, parts);
        let reed = parts.iter().find(|(name, _)| *name == "reed").map(|(_, column)| *column);
        let ids = reed_columns(context, table, reed)?;
        let (rows, pieces) = known_rows(context, sheet, identity, &ids, "reed");
        let opened = ReedRows { table, rows, pieces, parts, marks: context.marks.clone() };
        account_for_id(context, opened.cells(ids.column().unwrap_or_default()));
        Ok(opened)
    }

    /// Sets rows aside that repeat an earlier one in every cell, these parts among them. Where the file lacks one of
    /// them the same may well have been found twice: then the repetitions are pointed out and used.
    pub fn once(&mut self, context: &mut Context, needed: &[&str], telling: &str) {
        let columns: Option<Vec<usize>> = needed.iter().map(|name| self.part(name)).collect();
        let repeats =
            patterns::repeated_rows(self.table, &self.rows, columns.as_deref().unwrap_or_default());
        if columns.is_none() {
            return patterns::rows_repeated(context.ledger, self.table, &repeats, telling);
        }
        for row in &self.rows {
            if let Some(first) = repeats.get(row) {
                checks::row_repeated(context.ledger, self.table, *row as usize, *first as usize);
            }
        }
        let kept = self.rows.iter().zip(&self.pieces).filter(|(row, _)| !repeats.contains_key(row));
        (self.rows, self.pieces) = kept.map(|(&row, &piece)| (row, piece)).unzip();
    }

    pub fn part(&self, name: &str) -> Option<usize> {
        self.parts.iter().find(|(other, _)| *other == name).map(|(_, column)| *column)
    }

    /// A part that the file cannot be without.
    pub fn needed(&self, name: &str) -> Result<usize, Error> {
        self.part(name).ok_or_else(|| column_checks::column_missing(self.table, name, None))
    }

    pub fn cells(&self, column: usize) -> Cells<'_> {
        Cells { table: self.table, column, rows: &self.rows, marks: &self.marks }
    }

    /// The names of a part, where the file has it.
    pub fn names(&self, context: &mut Context, part: &str, meaning: &str) -> Option<JoinedLabels> {
        names(context, self.part(part).map(|column| self.cells(column)), part, meaning)
    }

    pub fn account_for_note(&self, context: &mut Context) {
        account_for_note(context, self.part("note").map(|column| self.cells(column)));
    }
}

/// Where a smaller file names its reed: in the columns that make the id, or in its reed column.
fn reed_columns(context: &Context, table: &Table, reed: Option<usize>) -> Result<IdColumns, Error> {
    let found =
        IdColumns::of(table, &context.study.id_from, reed).filter(|ids| *ids != IdColumns::Row);
    found.ok_or_else(|| column_checks::column_missing(table, "reed", None))
}

/// The rows of reeds that are known, and their pieces. Others are set aside.
fn known_rows(
    context: &mut Context,
    sheet: &Sheet,
    identity: &Identity,
    ids: &IdColumns,
    name: &str,
) -> (Vec<u32>, Vec<u32>) {
    let table = &sheet.table;
    let (mut rows, mut pieces) = (Vec::new(), Vec::new());
    for &row in &sheet.usable {
        let at = row as usize;
        let Some(id) = ids.id(table, at, &context.marks) else {
            checks::id_missing(context.ledger, table, at, name);
            continue;
        };
        let piece = match identity.find(&id) {
            Found::Piece(piece) => piece,
            Found::Otherwise(piece) => {
                if let Some(column) = ids.column() {
                    let cell = Cell { table, row: at, column };
                    checks::reed_spelled_otherwise(context.ledger, cell, identity.id(piece));
                }
                piece
            }
            Found::Unknown { .. } if totals::is_no_id(&id) => {
                checks::row_of_totals(context.ledger, table, at, &id);
                continue;
            }
            Found::Unknown { ambiguous } => {
                checks::reed_unknown(context.ledger, table, at, &id, ambiguous);
                continue;
            }
        };
        rows.push(row);
        pieces.push(piece);
    }
    (rows, pieces)
}

/// Writes down that a column names the reed.
fn account_for_id(context: &mut Context, cells: Cells) {
    let account = Account {
        name: "reed".into(),
        meaning: "which reed the row speaks of".into(),
        stage: Some(Stage::Bookkeeping),
        values: cells.rows.len(),
        ..Account::default()
    };
    context.understand(cells, account);
}

/// Reads a column of names of one of the smaller files.
pub(super) fn names(
    context: &mut Context,
    cells: Option<Cells>,
    name: &str,
    meaning: &str,
) -> Option<JoinedLabels> {
    let cells = cells?;
    let setting = context.study.column(cells.header());
    let joined = cells::names(context.ledger, cells, setting);
    let account = Account {
        name: name.into(),
        meaning: meaning.into(),
        stage: Some(Stage::Play),
        values: joined.codes.iter().flatten().count(),
        ..Account::default()
    };
    context.understand(cells, account);
    Some(joined)
}

/// Parts of a smaller file that say nothing to the reader but are no mystery either.
fn account_for_note(context: &mut Context, cells: Option<Cells>) {
    let Some(cells) = cells else { return };
    cells::marks_among_notes(context.ledger, cells);
    let account = Account {
        name: "note".into(),
        meaning: "remarks".into(),
        stage: Some(Stage::Bookkeeping),
        values: cells.texts().filter(|(_, text)| text.is_some()).count(),
        ..Account::default()
    };
    context.understand(cells, account);
}
