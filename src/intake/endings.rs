//! What became of each piece: from its own column, from cells that name a fate,
//! and what was assumed where nothing does.

use polars::prelude::Column;
use rayon::prelude::*;

use super::checks::pieces as checks;
use super::context::Context;
use super::frames;
use super::pieces::Pieces;
use super::records::Table;
use super::values::fates::{Cause, FateRead};
use crate::catalogue::Stage;
use crate::study::Fate;

/// A piece's fate, and where and by what it was spoiled.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Ending {
    pub fate: Option<Fate>,
    pub spoiled_at: Option<Stage>,
    pub spoiled_by: Option<Cause>,
}

/// What a cell says of how a piece ended.
#[derive(Debug, Clone, Copy)]
pub(super) enum Said {
    /// A fate in its own column.
    Fate(FateRead),
    Stage(Stage),
    Cause(Cause),
    /// A fate where something else is asked for.
    FateBeside(FateRead),
}

impl Ending {
    /// Takes what a cell says; a later cell of the same kind is believed.
    pub fn hear(&mut self, said: Said) {
        match said {
            Said::Fate(read) => self.take(read),
            Said::Stage(stage) => self.spoiled_at = Some(stage),
            Said::Cause(cause) => self.spoiled_by = Some(cause),
            Said::FateBeside(read) => self.complete(read),
        }
    }

    /// Takes a fate as it stands in its own column.
    fn take(&mut self, read: FateRead) {
        self.fate = Some(read.fate);
        self.complete(read);
    }

    /// Fills in what is not known yet.
    pub fn complete(&mut self, read: FateRead) {
        self.fate = self.fate.or(Some(read.fate));
        if self.fate == Some(read.fate) {
            self.spoiled_at = self.spoiled_at.or(read.spoiled_at);
            self.spoiled_by = self.spoiled_by.or(read.spoiled_by);
        }
    }
}

/// Fills in the fates that nothing names, says so, and makes the columns of them.
pub(super) fn settle(
    context: &mut Context,
    table: &Table,
    pieces: &mut Pieces,
    rated: &[bool],
) -> Vec<Column> {
    let (mut in_use, mut unfinished, mut retired) = (0, 0, 0);
    for (piece, &rated) in rated.iter().enumerate() {
        let played = rated || was_played(pieces, piece);
        let was_retired = pieces.held.retired && day(&pieces.held.last_played, piece).is_some();
        let Some(ending) = pieces.endings.get_mut(piece) else { continue };
        if ending.fate.is_some() {
            continue;
        }
        ending.fate = Some(if ending.spoiled_at.is_some() || ending.spoiled_by.is_some() {
            Fate::Spoiled
        } else if was_retired {
            retired += 1;
            Fate::WornOut
        } else if played {
            in_use += 1;
            Fate::InUse
        } else {
            unfinished += 1;
            Fate::Unfinished
        });
    }
    if in_use + unfinished + retired > 0 {
        checks::fate_assumed(context.ledger, &table.file, [in_use, retired, unfinished]);
    }
    without_stage(context, table, pieces);
    columns(&pieces.endings)
}

fn day(days: &Option<Vec<Option<i32>>>, piece: usize) -> Option<i32> {
    days.as_ref().and_then(|days| days.get(piece).copied().flatten())
}

fn was_played(pieces: &Pieces, piece: usize) -> bool {
    let held = &pieces.held;
    let dated = [&held.finished, &held.first_played, &held.last_played];
    let hours = held.hours.as_ref().and_then(|hours| hours.get(piece).copied().flatten());
    dated.into_iter().any(|days| day(days, piece).is_some())
        || hours.is_some_and(|hours| hours > 0.0)
        || held.played.as_ref().is_some_and(|played| played.get(piece) == Some(&true))
}

fn without_stage(context: &mut Context, table: &Table, pieces: &Pieces) {
    let lacking =
        |ending: &Ending| ending.fate == Some(Fate::Spoiled) && ending.spoiled_at.is_none();
    let count = pieces.endings.iter().filter(|ending| lacking(ending)).count();
    let mut rows = pieces.endings.iter().zip(&pieces.identity.first_rows);
    if let Some((_, row)) = rows.find(|(ending, _)| lacking(ending)) {
        checks::spoiled_without_stage(context.ledger, table, count, *row as usize);
    }
}

/// A column by its name, and the word for each piece.
type Words = (&'static str, fn(&Ending) -> Option<&'static str>);

fn columns(endings: &[Ending]) -> Vec<Column> {
    // where and by what is said of spoiled pieces only
    fn spoiled(ending: &Ending) -> bool {
        ending.fate == Some(Fate::Spoiled)
    }
    let mut columns: Vec<Words> = vec![("fate", |ending| ending.fate.map(Fate::word))];
    if endings.iter().any(|ending| ending.spoiled_at.is_some()) {
        let stage: fn(&Ending) -> _ =
            |ending| ending.spoiled_at.filter(|_| spoiled(ending)).map(Stage::word);
        columns.push(("spoiled_at", stage));
    }
    if endings.iter().any(|ending| ending.spoiled_by.is_some()) {
        let cause: fn(&Ending) -> _ =
            |ending| ending.spoiled_by.filter(|_| spoiled(ending)).map(Cause::word);
        columns.push(("spoiled_by", cause));
    }
    let texts = |(name, word): Words| frames::texts(name, endings.iter().map(word));
    columns.into_par_iter().map(texts).collect()
}
