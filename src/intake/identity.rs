//! Which row is which piece: ids, repeated ids, and looking a reed up by its id.

use std::borrow::Cow;
use std::collections::HashSet;
use std::sync::OnceLock;

use foldhash::{HashMap, HashMapExt};

use super::checks::{columns as column_checks, ids as checks, settings as setting_checks};
use super::columns::{Planned, Role};
use super::context::{Context, Sheet};
use super::frames::NONE;
use super::id_places::{IdPlaces, of_list};
use super::ledger::{Cell, Ledger};
use super::records::Table;
use super::study_file::IdFrom;
use super::values::headers;
use super::values::labels;
use super::values::missing::{self, MissingMarks};
use super::values::totals;
use crate::catalogue::{Kind, Stage};
use crate::problem::Error;
use crate::whole;

/// The pieces of a reeds file by id.
#[derive(Debug, Default)]
pub(super) struct Identity<'a> {
    /// One id a piece, each different.
    pub ids: Vec<Cow<'a, str>>,
    /// The first row of each piece.
    pub first_rows: Vec<u32>,
    /// All rows that belong to a piece, in the file's order.
    pub used_rows: Vec<u32>,
    /// The piece of each used row; empty where row and piece are one and the same.
    row_pieces: Vec<u32>,
    by_id: IdPlaces,
    /// Ids whose rows were set aside because they disagree.
    ambiguous: HashSet<String>,
    by_key: OnceLock<HashMap<String, u32>>,
}

/// The piece that an id means.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Found {
    Piece(u32),
    /// Found under another spelling.
    Otherwise(u32),
    Unknown {
        ambiguous: bool,
    },
}

impl Identity<'_> {
    pub fn find(&self, id: &str) -> Found {
        if let Some(piece) = self.by_id.find(id, of_list(&self.ids)) {
            return Found::Piece(piece);
        }
        if self.ambiguous.contains(id) {
            return Found::Unknown { ambiguous: true };
        }
        match self.by_key().get(&labels::key(id)) {
            Some(&piece) if piece != NONE => Found::Otherwise(piece),
            _ => Found::Unknown { ambiguous: false },
        }
    }

    /// Ids without case, spaces and punctuation; [`NONE`] where two ids become one.
    fn by_key(&self) -> &HashMap<String, u32> {
        self.by_key.get_or_init(|| {
            let mut by_key: HashMap<String, u32> = HashMap::with_capacity(self.ids.len());
            for (piece, id) in (0..).zip(&self.ids) {
                let key = labels::key(id);
                if !key.is_empty() {
                    by_key.entry(key).and_modify(|piece| *piece = NONE).or_insert(piece);
                }
            }
            by_key
        })
    }

    /// The id of a piece; empty where there is none.
    pub fn id(&self, piece: u32) -> &str {
        self.ids.get(piece as usize).map_or("", |id| id)
    }

    pub fn piece_of_used_rows(&self) -> Vec<u32> {
        if self.row_pieces.is_empty() {
            (0..whole::code(self.ids.len())).collect()
        } else {
            self.row_pieces.clone()
        }
    }

    /// The row that speaks for each piece in one column: the first that is filled. A later row that
    /// says something else is a problem.
    pub fn rows_of_column(
        &self,
        ledger: &mut Ledger,
        table: &Table,
        marks: &MissingMarks,
        column: usize,
    ) -> Vec<u32> {
        let mut chosen = self.first_rows.clone();
        for (&row, &piece) in self.used_rows.iter().zip(&self.row_pieces) {
            let Some(first) = chosen.get_mut(piece as usize) else { continue };
            if *first == row {
                continue;
            }
            let (before, here) =
                (table.cell(*first as usize, column), table.cell(row as usize, column));
            if marks.holds(here) || before == here {
                continue;
            }
            if marks.holds(before) {
                *first = row;
            } else if labels::key(before) != labels::key(here) {
                let cell = |row: u32| Cell { table, row: row as usize, column };
                checks::piece_columns_disagree(ledger, cell(row), cell(*first), self.id(piece));
            }
        }
        chosen
    }
}

/// Where an id stands in one table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum IdColumns {
    Row,
    Columns(Vec<usize>),
}

impl IdColumns {
    /// The columns that make the ids of a table: the study file's where the table has them, else the reed column.
    pub fn of(table: &Table, from: &IdFrom, reed: Option<usize>) -> Option<IdColumns> {
        match from {
            IdFrom::Row if reed.is_none() => Some(IdColumns::Row),
            IdFrom::Columns(headers) => {
                let columns: Option<Vec<usize>> =
                    headers.iter().map(|header| column_of(table, header)).collect();
                columns.or(reed.map(|column| vec![column])).map(IdColumns::Columns)
            }
            _ => reed.map(|column| IdColumns::Columns(vec![column])),
        }
    }

    /// The id of a row; none where one of its parts is missing.
    pub fn id<'a>(
        &self,
        table: &'a Table,
        row: usize,
        marks: &MissingMarks,
    ) -> Option<Cow<'a, str>> {
        let columns = match self {
            IdColumns::Row => return Some(Cow::Owned((row + 1).to_string())),
            IdColumns::Columns(columns) => columns,
        };
        let part =
            |column: &usize| Some(table.cell(row, *column)).filter(|text| !marks.holds(text));
        match columns.as_slice() {
            [column] => part(column).map(Cow::Borrowed),
            columns => {
                let parts: Option<Vec<&str>> = columns.iter().map(part).collect();
                parts.map(|parts| Cow::Owned(parts.join(" / ")))
            }
        }
    }

    /// The column to underline when an id is wrong.
    pub fn column(&self) -> Option<usize> {
        match self {
            IdColumns::Row => None,
            IdColumns::Columns(columns) => columns.first().copied(),
        }
    }
}

/// The column of that header, spelled exactly or folded.
pub(super) fn column_of(table: &Table, header: &str) -> Option<usize> {
    let exact = table.header.iter().position(|other| other.trim() == header.trim());
    exact.or_else(|| {
        let folded = headers::fold(header);
        table.header.iter().position(|other| headers::fold(other) == folded)
    })
}

/// Finds the pieces of the reeds file. Rows without an id, repeated rows and rows whose
/// ids disagree are set aside.
pub(super) fn find<'a>(
    context: &mut Context,
    sheet: &'a Sheet,
    plans: &[Planned],
    rows_are_ratings: bool,
) -> Result<Identity<'a>, Error> {
    let table = &sheet.table;
    let study = context.study;
    let reed = plans.iter().find(|plan| plan.is("reed")).map(|plan| plan.column);
    // ids by row number win over a column that happens to look like one
    let reed = reed.filter(|_| study.id_from != IdFrom::Row);
    let columns =
        IdColumns::of(table, &study.id_from, reed).ok_or_else(|| no_ids(table, &study.id_from))?;
    let mut rows = Vec::with_capacity(sheet.usable.len());
    for &row in &sheet.usable {
        match columns.id(table, row as usize, &context.marks) {
            Some(id) => rows.push((row, id)),
            None => checks::id_missing(context.ledger, table, row as usize, "reed"),
        }
    }
    if let IdColumns::Columns(of_id) = &columns {
        without_totals(context.ledger, table, &mut rows);
        if let [column] = of_id.as_slice() {
            without_remarks(context, table, *column, &mut rows);
        }
    }
    if rows_are_ratings {
        return Ok(grouped(rows));
    }
    let remedy = |rows: &[(u32, Cow<str>)]| telling_apart(table, plans, &columns, rows);
    Ok(single(context.ledger, table, rows, remedy))
}

/// Share of ids without letter and digit from which such signs are the maker's own way of counting.
const OWN_SIGNS: f64 = 0.2;

/// Sets aside the rows that a spreadsheet added below the table.
fn without_totals(ledger: &mut Ledger, table: &Table, rows: &mut Vec<(u32, Cow<str>)>) {
    let signs = rows.iter().filter(|(_, id)| totals::is_signs(id)).count();
    let own_signs = signs > 1 && signs as f64 > OWN_SIGNS * rows.len() as f64;
    rows.retain(|(row, id)| {
        let totals = totals::is_no_id(id) && !(own_signs && totals::is_signs(id));
        if totals {
            checks::row_of_totals(ledger, table, *row as usize, id);
        }
        !totals
    });
}

/// So many words are no id, where hardly any other id has as many.
const WORDS_OF_A_REMARK: usize = 4;

/// Sets aside remarks below the table, which stand alone in their rows.
fn without_remarks(
    context: &mut Context,
    table: &Table,
    of_id: usize,
    rows: &mut Vec<(u32, Cow<str>)>,
) {
    let is_long = |id: &str| id.split_whitespace().nth(WORDS_OF_A_REMARK - 1).is_some();
    let long = rows.iter().filter(|(_, id)| is_long(id)).count();
    if long as f64 > OWN_SIGNS * rows.len() as f64 {
        return;
    }
    let marks = &context.marks;
    let stands_alone = |row: u32| {
        let others = (0..table.width()).filter(|column| *column != of_id);
        let mut cells = others.map(|column| table.cell(row as usize, column));
        cells.all(|cell| marks.holds(cell))
    };
    let pieces = rows.iter().rposition(|(row, id)| !(is_long(id) && stands_alone(*row)));
    for (row, id) in rows.drain(pieces.map_or(0, |last| last + 1)..) {
        checks::row_of_remarks(context.ledger, table, row as usize, &id);
    }
}

fn no_ids(table: &Table, from: &IdFrom) -> Error {
    match from {
        IdFrom::Columns(headers) => {
            let absent = headers.iter().find(|header| column_of(table, header).is_none());
            let absent = absent.map_or("reed", String::as_str);
            column_checks::column_missing(table, absent, Some("Correct `id_from` in study.toml."))
        }
        _ => {
            let remedy = "For a file without ids, say `id_from = \"row\"`.";
            column_checks::column_missing(table, "reed", Some(remedy))
        }
    }
}

/// Each row is a rating: the rows of one id are one piece.
fn grouped(rows: Vec<(u32, Cow<str>)>) -> Identity {
    let mut identity = Identity::default();
    for (row, id) in rows {
        let next = whole::code(identity.ids.len());
        let ids = &identity.ids;
        // a new id stands where it is put just below
        let id_at = |place| if place == next { &*id } else { of_list(ids)(place) };
        let piece = identity.by_id.find_or_insert(&id, next, id_at);
        if piece == next {
            identity.ids.push(id);
            identity.first_rows.push(row);
        }
        identity.used_rows.push(row);
        identity.row_pieces.push(piece);
    }
    identity
}

/// Each row is a piece: ids that stand twice are set aside, and what would tell them apart is asked for.
fn single<'a>(
    ledger: &mut Ledger,
    table: &Table,
    rows: Vec<(u32, Cow<'a, str>)>,
    remedy: impl FnOnce(&[(u32, Cow<'a, str>)]) -> String,
) -> Identity<'a> {
    let mut places = IdPlaces::with_capacity(rows.len());
    let id_at = |place: u32| rows.get(place as usize).map_or("", |(_, id)| &**id);
    // rows that another row of the same id speaks against, or repeats: the other row
    let mut other: HashMap<u32, u32> = HashMap::new();
    let mut ambiguous = HashSet::new();
    for ((row, id), place) in rows.iter().zip(0..) {
        let first = places.find_or_insert(id, place, id_at);
        if first == place {
            continue;
        }
        let Some(&(first, _)) = rows.get(first as usize) else { continue };
        if same_cells(table, first as usize, *row as usize) {
            checks::row_repeated(ledger, table, *row as usize, first as usize);
            other.insert(*row, *row);
        } else {
            ambiguous.insert(id.clone().into_owned());
            other.insert(*row, first);
            other.entry(first).or_insert(*row);
        }
    }
    let mut identity = Identity { ambiguous, ..Identity::default() };
    if other.is_empty() {
        // nothing was set aside, so the places are those of the pieces
        (identity.first_rows, identity.ids) = rows.into_iter().unzip();
        identity.used_rows = identity.first_rows.clone();
        identity.by_id = places;
        return identity;
    }
    let remedy = remedy(&rows);
    for (row, id) in rows {
        match other.get(&row) {
            // its repetition was said already
            Some(&same) if same == row => {}
            Some(&other) => {
                checks::id_repeated(ledger, table, row as usize, &id, other as usize, &remedy);
            }
            None => {
                identity.ids.push(id);
                identity.first_rows.push(row);
            }
        }
    }
    identity.used_rows = identity.first_rows.clone();
    for (place, id) in (0..).zip(&identity.ids) {
        identity.by_id.find_or_insert(id, place, of_list(&identity.ids));
    }
    identity
}

/// What would tell the repeated ids apart: a column that was tried on these rows, else new numbers.
fn telling_apart(
    table: &Table,
    plans: &[Planned],
    columns: &IdColumns,
    rows: &[(u32, Cow<str>)],
) -> String {
    let used: &[usize] = match columns {
        IdColumns::Columns(columns) => columns,
        IdColumns::Row => &[],
    };
    // what a piece is made from or when may make its name; how it played may not
    let may_name = |plan: &&Planned| {
        !used.contains(&plan.column)
            && plan.is_used()
            && plan.known().is_none_or(|known| {
                known.stage == Stage::Bookkeeping && !matches!(known.kind, Kind::Text | Kind::Id)
            })
            && !matches!(plan.role, Role::Criterion { .. } | Role::ProfilePoint { .. })
    };
    let tells_apart = |plan: &&Planned| {
        let mut seen: HashMap<(&str, &str), u32> = HashMap::with_capacity(rows.len());
        rows.iter().all(|(row, id)| {
            let part = table.cell(*row as usize, plan.column);
            let first = *seen.entry((part, id)).or_insert(*row);
            !missing::is_missing(part)
                && (first == *row || same_cells(table, first as usize, *row as usize))
        })
    };
    match plans.iter().filter(may_name).find(tells_apart) {
        Some(plan) => {
            let mut headers = vec![quoted_header(table, plan.column)];
            headers.extend(used.iter().map(|&column| quoted_header(table, column)));
            format!(
                "Renumber the pieces; or say `id_from = [{}]` in study.toml, which tells all rows apart (files of ratings then need the same columns).",
                headers.join(", ")
            )
        }
        None => "Renumber the pieces; or, where no other file speaks of them, say `id_from = \"row\"` in study.toml.".to_owned(),
    }
}

fn quoted_header(table: &Table, column: usize) -> String {
    format!("\"{}\"", setting_checks::escaped(table.heading(column).trim()))
}

fn same_cells(table: &Table, one: usize, other: usize) -> bool {
    (0..table.width()).all(|column| table.cell(one, column) == table.cell(other, column))
}
