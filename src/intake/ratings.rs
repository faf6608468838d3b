//! Ratings: from ratings.csv, wide or long, and from columns of the reeds file.

use polars::prelude::DataFrame;

use super::cells::{self, Cells, NumberRules};
use super::checks::{ids, patterns, pieces as piece_checks, ratings as checks};
use super::columns::{self, RATING_PARTS};
use super::context::{Account, Context, FileRules, Sheet, range_of};
use super::endings::Ending;
use super::frames::{self, NONE};
use super::identity::{Found, IdColumns, Identity};
use super::ledger::Cell;
use super::records::Table;
use super::values::labels::JoinedLabels;
use super::values::ratings::{self, RatingError, RatingRead, RatingRules};
use super::values::{dates, headers};
use crate::catalogue::{self, Kind, Stage};
use crate::problem::Error;

/// Where a score stands, so that a problem found later can name it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Origin {
    pub sheet: u8,
    pub column: u32,
    pub row: u32,
}

/// One score as it was read; what it is worth is settled once the scale is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Score {
    pub piece: u32,
    pub player: u32,
    pub setting: u32,
    pub day: Option<i32>,
    pub criterion: u32,
    pub score: f64,
    /// The 10 of `7/10`, or of the header; not a number where it is not said.
    pub out_of: f64,
    /// Whether it was a word of the ranking.
    pub ranked: bool,
    pub origin: Origin,
}

/// All scores of a log, with the names that their codes stand for.
#[derive(Debug, Default)]
pub(super) struct Scores {
    pub scores: Vec<Score>,
    pub players: Vec<String>,
    pub settings: Vec<String>,
    pub criteria: Vec<String>,
}

/// One column of scores.
pub(super) struct ScoreColumn<'a> {
    pub cells: Cells<'a>,
    /// 0 for the reeds file, 1 for the ratings file.
    pub sheet: u8,
    pub criterion: &'a str,
    pub out_of: Option<f64>,
    /// The piece of each row.
    pub pieces: &'a [u32],
    pub players: Option<&'a JoinedLabels>,
    pub settings: Option<&'a JoinedLabels>,
    pub days: Option<&'a [Option<i32>]>,
    pub rules: NumberRules,
}

/// The number under which a name is known, new or old.
pub(super) fn code(names: &mut Vec<String>, name: &str) -> u32 {
    let at = names.iter().position(|other| other == name).unwrap_or_else(|| {
        names.push(name.to_owned());
        names.len() - 1
    });
    at as u32
}

/// The log's own codes for a column's names.
fn codes(names: &mut Vec<String>, joined: Option<&JoinedLabels>) -> Vec<u32> {
    joined
        .map(|joined| joined.levels.iter().map(|level| code(names, level)).collect())
        .unwrap_or_default()
}

fn of_row(joined: Option<&JoinedLabels>, codes: &[u32], at: usize) -> u32 {
    let level = joined.and_then(|joined| joined.codes[at]);
    level.map_or(NONE, |level| codes[level as usize])
}

impl Scores {
    /// Reads a column of scores. Answers which rows held a score or a fate.
    pub fn add(
        &mut self,
        context: &mut Context,
        column: &ScoreColumn,
        endings: &mut [Ending],
    ) -> Vec<bool> {
        let criterion = code(&mut self.criteria, column.criterion);
        let criteria = vec![criterion; column.cells.rows.len()];
        self.add_long(context, column, &criteria, endings)
    }

    /// The same with a criterion a row; [`NONE`] where the row has none.
    fn add_long(
        &mut self,
        context: &mut Context,
        column: &ScoreColumn,
        criteria: &[u32],
        endings: &mut [Ending],
    ) -> Vec<bool> {
        let (mark, decided) = cells::decide_mark(context.ledger, column.cells, &column.rules);
        let study = context.study;
        let rules =
            RatingRules { mark, ranking: study.ranking.clone(), school_marks: study.school_marks };
        let players = codes(&mut self.players, column.players);
        let settings = codes(&mut self.settings, column.settings);
        let mut held = vec![false; column.cells.rows.len()];
        let before = self.scores.len();
        for (at, (row, text)) in column.cells.texts().enumerate() {
            let Some(text) = text else { continue };
            if column.pieces[at] == NONE || criteria[at] == NONE {
                continue;
            }
            let cell = column.cells.at(row);
            let read = self.one(context, cell, text, &rules);
            held[at] = read.is_some();
            match read {
                Some(Read::Score { score, out_of, ranked }) => self.scores.push(Score {
                    piece: column.pieces[at],
                    player: of_row(column.players, &players, at),
                    setting: of_row(column.settings, &settings, at),
                    day: column.days.and_then(|days| days[at]),
                    criterion: criteria[at],
                    score,
                    out_of: out_of.or(column.out_of).unwrap_or(f64::NAN),
                    ranked,
                    origin: Origin {
                        sheet: column.sheet,
                        column: column.cells.column as u32,
                        row: row as u32,
                    },
                }),
                Some(Read::Fate(fate)) => {
                    let ending = &mut endings[column.pieces[at] as usize];
                    match ending.fate {
                        Some(stands) if stands != fate.fate => {
                            piece_checks::fates_disagree(context.ledger, cell, stands.word());
                        }
                        _ => checks::fate_in_rating(context.ledger, cell, fate.fate.word()),
                    }
                    ending.complete(fate);
                }
                None => {}
            }
        }
        self.understand(context, column, before, decided);
        held
    }

    fn one(
        &self,
        context: &mut Context,
        cell: Cell,
        text: &str,
        rules: &RatingRules,
    ) -> Option<Read> {
        if let Some(score) = cells::plain(text, rules.mark) {
            return Some(Read::Score { score, out_of: None, ranked: false });
        }
        let ranked = !rules.ranking.is_empty() && rules.ranking.rank(text).is_some();
        match ratings::read(text, rules) {
            Ok(RatingRead::Score { score, out_of, approximate }) => {
                if approximate {
                    super::checks::cells::approximate(context.ledger, cell);
                }
                Some(Read::Score { score, out_of, ranked })
            }
            Ok(RatingRead::Fate(fate)) => Some(Read::Fate(fate)),
            Err(error) => {
                checks::unreadable(context.ledger, cell, error);
                None
            }
        }
    }

    fn understand(
        &self,
        context: &mut Context,
        column: &ScoreColumn,
        before: usize,
        decided: Option<&str>,
    ) {
        let values: Vec<Option<f64>> =
            self.scores[before..].iter().map(|score| Some(score.score)).collect();
        let known = catalogue::known(column.criterion);
        let account = Account {
            name: column.criterion.to_owned(),
            meaning: known.map_or_else(
                || "a criterion of rating".to_owned(),
                |known| known.meaning.to_owned(),
            ),
            stage: Some(Stage::Play),
            values: values.len(),
            range: range_of(&values, super::checks::cells::rounded),
            decided: decided.map(str::to_owned).into_iter().collect(),
            ..Account::default()
        };
        context.understand(column.cells, account);
    }

    /// Whether each piece has a score.
    pub fn rated(&self, pieces: usize) -> Vec<bool> {
        let mut rated = vec![false; pieces];
        self.scores.iter().for_each(|score| rated[score.piece as usize] = true);
        rated
    }

    /// The frame of ratings, in the order of reading.
    pub fn frame(&self) -> DataFrame {
        let of = |part: fn(&Score) -> u32| -> Vec<u32> { self.scores.iter().map(part).collect() };
        let pieces: Vec<Option<u32>> = self.scores.iter().map(|score| Some(score.piece)).collect();
        let days: Vec<Option<i32>> = self.scores.iter().map(|score| score.day).collect();
        let scores: Vec<Option<f64>> = self.scores.iter().map(|score| Some(score.score)).collect();
        let columns = vec![
            frames::counts("piece", &pieces),
            frames::coded("player", &of(|score| score.player), &self.players),
            frames::coded("setting", &of(|score| score.setting), &self.settings),
            frames::days("date", &days),
            frames::coded("criterion", &of(|score| score.criterion), &self.criteria),
            frames::numbers("score", &scores),
        ];
        frames::frame(self.scores.len(), columns)
    }
}

enum Read {
    Score { score: f64, out_of: Option<f64>, ranked: bool },
    Fate(super::values::fates::FateRead),
}

/// Reads the ratings file. Answers how many of its rows were used.
pub(super) fn read(
    context: &mut Context,
    sheet: &Sheet,
    identity: &Identity,
    endings: &mut [Ending],
    finished: Option<&[Option<i32>]>,
    scores: &mut Scores,
) -> Result<usize, Error> {
    let table = &sheet.table;
    let found = columns::find_parts(context.ledger, table, context.study, &RATING_PARTS);
    let part =
        |name: &str| found.iter().find(|(other, _)| *other == name).map(|(_, column)| *column);
    let ids = reed_columns(context, table, part("reed"))?;
    let (rows, pieces) = known_rows(context, sheet, identity, &ids, "reed");
    let (rows, pieces) = once(context, table, rows, pieces, &[part("date"), part("player")]);
    let long = part("criterion").zip(part("score"));
    let criteria = match long {
        Some(_) => Vec::new(),
        None => criteria_columns(context, table, &rows, &found),
    };
    let marks = context.marks.clone();
    let cells = |column: usize| Cells { table, column, rows: &rows, marks: &marks };
    let numbers: Vec<usize> = match long {
        Some((_, score)) => vec![score],
        None => criteria.iter().map(|criterion| criterion.column).collect(),
    };
    let dates_column: Vec<usize> = part("date").into_iter().collect();
    let file = context.file_rules(table, &rows, &numbers, &dates_column);
    account_for_id(context, cells(ids.column().unwrap_or_default()));
    let players = names(context, part("player").map(cells), "player", "who rated");
    let settings = names(context, part("setting").map(cells), "setting", "where it was rated");
    let days = part("date").map(|column| rated_days(context, &file, cells(column)));
    let column = |column: usize, criterion, out_of, rules| ScoreColumn {
        cells: cells(column),
        sheet: 1,
        criterion,
        out_of,
        pieces: &pieces,
        players: players.as_ref(),
        settings: settings.as_ref(),
        days: days.as_deref(),
        rules,
    };
    let mut held = vec![false; rows.len()];
    let mut note =
        |here: Vec<bool>| held.iter_mut().zip(here).for_each(|(held, here)| *held |= here);
    match long {
        Some((criterion, score)) => {
            let rules = number_rules(context, &file, table, score);
            let job = column(score, "score", None, rules);
            let codes = criterion_codes(context, cells(criterion), &mut scores.criteria);
            note(scores.add_long(context, &job, &codes, endings));
        }
        None => {
            for criterion in &criteria {
                let rules = number_rules(context, &file, table, criterion.column);
                let job = column(criterion.column, &criterion.name, criterion.out_of, rules);
                note(scores.add(context, &job, endings));
            }
        }
    }
    account_for_note(context, part("note").map(cells));
    if let (Some(finished), Some(days)) = (finished, &days) {
        before_finish(context, table, &rows, &pieces, finished, days);
    }
    let empty = rows.iter().zip(&held).filter(|(_, held)| !**held).map(|(row, _)| *row as usize);
    let mut aside = 0;
    for row in empty {
        checks::row_empty(context.ledger, table, row);
        aside += 1;
    }
    Ok(rows.len() - aside)
}

fn number_rules(context: &Context, file: &FileRules, table: &Table, column: usize) -> NumberRules {
    let setting = context.study.column(&table.header[column]);
    let given = setting.and_then(|setting| setting.decimal).or(file.numbers.given);
    NumberRules { given, ..file.numbers }
}

/// The rows without those that repeat an earlier one in every cell, day and player
/// among them. Without both, two players may well have said the same.
fn once(
    context: &mut Context,
    table: &Table,
    rows: Vec<u32>,
    pieces: Vec<u32>,
    needed: &[Option<usize>],
) -> (Vec<u32>, Vec<u32>) {
    let Some(needed) = needed.iter().copied().collect::<Option<Vec<usize>>>() else {
        return (rows, pieces);
    };
    let repeats = patterns::repeated_rows(table, &rows, &needed);
    if repeats.is_empty() {
        return (rows, pieces);
    }
    let mut kept = (Vec::new(), Vec::new());
    for (row, piece) in rows.into_iter().zip(pieces) {
        match repeats.get(&row) {
            Some(&first) => ids::row_repeated(context.ledger, table, row as usize, first as usize),
            None => {
                kept.0.push(row);
                kept.1.push(piece);
            }
        }
    }
    kept
}

/// Where a smaller file names its reed: in the columns that make the id, or in its reed column.
pub(super) fn reed_columns(
    context: &Context,
    table: &Table,
    reed: Option<usize>,
) -> Result<IdColumns, Error> {
    let found =
        IdColumns::of(table, &context.study.id_from, reed).filter(|ids| *ids != IdColumns::Row);
    found.ok_or_else(|| super::checks::columns::column_missing(table, "reed", None))
}

/// The rows of reeds that are known, and their pieces. Others are set aside.
pub(super) fn known_rows(
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
            super::checks::ids::id_missing(context.ledger, table, at, name);
            continue;
        };
        let piece = match identity.find(&id) {
            Found::Piece(piece) => piece,
            Found::Otherwise(piece) => {
                if let Some(column) = ids.column() {
                    let cell = Cell { table, row: at, column };
                    ids::reed_spelled_otherwise(
                        context.ledger,
                        cell,
                        &identity.ids[piece as usize],
                    );
                }
                piece
            }
            Found::Unknown { ambiguous } => {
                ids::reed_unknown(context.ledger, table, at, &id, ambiguous);
                continue;
            }
        };
        rows.push(row);
        pieces.push(piece);
    }
    (rows, pieces)
}

/// Writes down that a column names the reed.
pub(super) fn account_for_id(context: &mut Context, cells: Cells) {
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
    let setting = context.study.column(&cells.table.header[cells.column]);
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

fn rated_days(context: &mut Context, file: &FileRules, cells: Cells) -> Vec<Option<i32>> {
    let setting = context.study.column(&cells.table.header[cells.column]);
    let given = setting.and_then(|setting| setting.day_order).or(file.dates.given);
    let read = cells::dates(context.ledger, cells, cells::DateRules { given, ..file.dates });
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

fn criterion_codes(context: &mut Context, cells: Cells, criteria: &mut Vec<String>) -> Vec<u32> {
    let joined = names(context, Some(cells), "criterion", "what was rated").unwrap_or_default();
    let names: Vec<u32> =
        joined.levels.iter().map(|level| code(criteria, &criterion_name(level))).collect();
    joined.codes.iter().map(|level| level.map_or(NONE, |level| names[level as usize])).collect()
}

/// The catalogue's name of a criterion, or the maker's own, folded.
fn criterion_name(text: &str) -> String {
    let header = headers::read(text);
    let known = header.candidates().into_iter().find(|column| column.kind == Kind::Rating);
    known.map_or(header.name, |known| known.name.to_owned())
}

/// A column of the ratings file that is a criterion.
struct Criterion {
    column: usize,
    name: String,
    out_of: Option<f64>,
}

fn criteria_columns(
    context: &mut Context,
    table: &Table,
    rows: &[u32],
    found: &[(&'static str, usize)],
) -> Vec<Criterion> {
    let score_alone = |(name, _): &&(&str, usize)| *name != "score" && *name != "criterion";
    let parts: Vec<usize> = found.iter().filter(score_alone).map(|(_, column)| *column).collect();
    let mut criteria: Vec<Criterion> = Vec::new();
    for column in (0..table.width()).filter(|column| !parts.contains(column)) {
        match criterion(context, table, rows, column) {
            Ok(criterion) => match criteria.iter().find(|other| other.name == criterion.name) {
                Some(first) => {
                    super::checks::columns::same_meaning(
                        context.ledger,
                        table,
                        column,
                        first.column,
                        &criterion.name,
                    );
                }
                None => criteria.push(criterion),
            },
            Err(why) => not_a_criterion(context, table, rows, column, why),
        }
    }
    criteria
}

fn criterion(
    context: &Context,
    table: &Table,
    rows: &[u32],
    column: usize,
) -> Result<Criterion, &'static str> {
    let header = headers::read(&table.header[column]);
    let setting = context.study.column(&table.header[column]);
    if let Some(name) = setting.and_then(|setting| setting.is.clone()) {
        return Ok(Criterion { column, name, out_of: header.out_of });
    }
    if header.name.is_empty() {
        return Err("it has no name");
    }
    let candidates = header.candidates();
    let rating = candidates.iter().find(|known| known.kind == Kind::Rating);
    if rating.is_none() && !candidates.is_empty() && header.out_of.is_none() {
        return Err("it belongs to the making of a reed, not to a rating");
    }
    let name = rating.map_or(header.name.clone(), |known| known.name.to_owned());
    let stated =
        rating.is_some() || header.out_of.is_some() || context.study.criteria.contains(&name);
    if stated || mostly_ratings(context, table, rows, column) {
        return Ok(Criterion { column, name, out_of: header.out_of });
    }
    Err("most of its cells are no ratings")
}

/// Whether at least half of the filled cells of a column read as ratings.
fn mostly_ratings(context: &Context, table: &Table, rows: &[u32], column: usize) -> bool {
    let cells = Cells { table, column, rows, marks: &context.marks };
    let rules = RatingRules {
        mark: None,
        ranking: context.study.ranking.clone(),
        school_marks: context.study.school_marks,
    };
    let (mut ratings, mut filled) = (0, 0);
    for text in cells.texts().filter_map(|(_, text)| text) {
        filled += 1;
        let reads =
            !matches!(ratings::read(text, &rules), Err(error) if error != RatingError::EitherMark);
        ratings += usize::from(cells::plain(text, None).is_some() || reads);
    }
    filled > 0 && 2 * ratings >= filled
}

fn not_a_criterion(context: &mut Context, table: &Table, rows: &[u32], column: usize, why: &str) {
    let marks = context.marks.clone();
    let cells = Cells { table, column, rows, marks: &marks };
    let values = cells.texts().filter(|(_, text)| text.is_some()).count();
    if values > 0 {
        super::checks::columns::not_used(context.ledger, table, column, why);
    }
    let account =
        Account { values, decided: vec![format!("not used: {why}")], ..Account::default() };
    context.understand(cells, account);
}

fn before_finish(
    context: &mut Context,
    table: &Table,
    rows: &[u32],
    pieces: &[u32],
    finished: &[Option<i32>],
    days: &[Option<i32>],
) {
    for (at, day) in days.iter().enumerate() {
        let (Some(day), Some(end)) = (*day, finished[pieces[at] as usize]) else { continue };
        if day < end {
            let (rated, finished) = (dates::iso(day), dates::iso(end));
            checks::before_finish(context.ledger, table, rows[at] as usize, &rated, &finished);
        }
    }
}

/// Parts of a smaller file that say nothing to the reader but are no mystery either.
pub(super) fn account_for_note(context: &mut Context, cells: Option<Cells>) {
    let Some(cells) = cells else { return };
    let account = Account {
        name: "note".into(),
        meaning: "remarks".into(),
        stage: Some(Stage::Bookkeeping),
        values: cells.texts().filter(|(_, text)| text.is_some()).count(),
        ..Account::default()
    };
    context.understand(cells, account);
}
