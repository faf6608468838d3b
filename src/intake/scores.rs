//! Scores as they are gathered: what was read, of which piece, by whom, and where it stands.

use polars::prelude::{Column, DataFrame};
use rayon::prelude::*;

use super::cells::{self, Cells, NumberRules};
use super::checks::{cells as cell_checks, pieces as piece_checks, ratings as checks};
use super::context::{Account, Context, range_of};
use super::endings::Ending;
use super::frames::{self, NONE};
use super::ledger::Cell;
use super::values::fates::FateRead;
use super::values::labels::JoinedLabels;
use super::values::ratings::{self, RatingError, RatingRead, RatingRules};
use crate::catalogue::{self, Kind, Stage};
use crate::whole;

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
    /// Marks such as `2-` by criterion, where nothing says which end is best.
    pub unsaid_marks: Vec<u32>,
    /// Pieces with a rating that could not be read or does not fit: they were rated all the same.
    pub unread: Vec<u32>,
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
    whole::code(at)
}

/// The log's own codes for a column's names.
fn codes(names: &mut Vec<String>, joined: Option<&JoinedLabels>) -> Vec<u32> {
    joined
        .map(|joined| joined.levels.iter().map(|level| code(names, level)).collect())
        .unwrap_or_default()
}

fn of_row(joined: Option<&JoinedLabels>, codes: &[u32], at: usize) -> u32 {
    let level = joined.and_then(|joined| joined.level(at));
    level.and_then(|level| codes.get(level)).copied().unwrap_or(NONE)
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
    pub fn add_long(
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
        self.scores.reserve(column.cells.rows.len());
        let score_at = |(at, row): (usize, usize), score, out_of: Option<f64>, ranked| Score {
            piece: column.pieces.get(at).copied().unwrap_or(NONE),
            player: of_row(column.players, &players, at),
            setting: of_row(column.settings, &settings, at),
            day: column.days.and_then(|days| days.get(at).copied().flatten()),
            criterion: criteria.get(at).copied().unwrap_or(NONE),
            score,
            out_of: out_of.or(column.out_of).unwrap_or(f64::NAN),
            ranked,
            origin: Origin {
                sheet: column.sheet,
                column: whole::code(column.cells.column),
                row: whole::code(row),
            },
        };
        let plain = |at, row, text: &str| {
            cells::plain(text, mark).map(|score| score_at((at, row), score, None, false))
        };
        let named = column.pieces.iter().zip(criteria);
        let mut rows = named.zip(&mut held).enumerate();
        let hear = |row, text: Option<&str>, as_plain: Option<Score>| {
            let (Some((at, ((&piece, &criterion), held))), Some(text)) = (rows.next(), text) else {
                return;
            };
            if piece == NONE || criterion == NONE {
                return;
            }
            if let Some(score) = as_plain {
                *held = true;
                self.scores.push(score);
                return;
            }
            let cell = column.cells.at(row);
            let read = one(context, cell, text, &rules);
            *held = read.is_ok();
            match read {
                Ok(Read::Score { score, out_of, ranked }) => {
                    self.scores.push(score_at((at, row), score, out_of, ranked));
                }
                Ok(Read::Fate(fate)) => {
                    let Some(ending) = endings.get_mut(piece as usize) else { return };
                    match ending.fate {
                        Some(stands) if stands != fate.fate => {
                            piece_checks::fates_disagree(context.ledger, cell, stands.word());
                        }
                        _ => checks::fate_in_rating(context.ledger, cell, fate.fate.word()),
                    }
                    ending.complete(fate);
                }
                Err(error) => {
                    self.unread.push(piece);
                    if error == RatingError::SchoolMark {
                        self.unsaid_marks.push(criterion);
                    }
                }
            }
        };
        column.cells.for_each_placed(plain, hear);
        self.understand(context, column, before, decided);
        held
    }

    fn understand(
        &self,
        context: &mut Context,
        column: &ScoreColumn,
        before: usize,
        decided: Option<&str>,
    ) {
        let values: Vec<Option<f64>> =
            self.scores.iter().skip(before).map(|score| Some(score.score)).collect();
        // a criterion may be called like something else that the catalogue knows
        let known = catalogue::known(column.criterion).filter(|known| known.kind == Kind::Rating);
        let account = Account {
            name: column.criterion.to_owned(),
            meaning: known.map_or_else(
                || "a criterion of rating".to_owned(),
                |known| known.meaning.to_owned(),
            ),
            stage: Some(Stage::Play),
            values: values.len(),
            range: range_of(&values, cell_checks::rounded),
            decided: decided.map(str::to_owned).into_iter().collect(),
            ..Account::default()
        };
        context.understand(column.cells, account);
    }

    /// Whether each piece was rated, be it that its rating could not be read.
    pub fn rated(&self, pieces: usize) -> Vec<bool> {
        let mut rated = vec![false; pieces];
        for piece in self.scores.iter().map(|score| score.piece).chain(self.unread.iter().copied())
        {
            if let Some(rated) = rated.get_mut(piece as usize) {
                *rated = true;
            }
        }
        rated
    }

    /// The frame of ratings by piece, those of a piece in the order of reading.
    pub fn frame(&self) -> DataFrame {
        let mut by_piece: Vec<&Score> = self.scores.iter().collect();
        // stable, so that those of a piece stay as they were read
        by_piece.par_sort_by_key(|score| score.piece);
        let scores = || by_piece.iter().copied();
        let codes = |part: fn(&Score) -> u32| -> Vec<u32> { scores().map(part).collect() };
        let pieces = || {
            let pieces: Vec<_> = scores().map(|score| Some(score.piece)).collect();
            frames::counts("piece", &pieces)
        };
        let players = || frames::coded("player", &codes(|score| score.player), &self.players);
        let settings = || frames::coded("setting", &codes(|score| score.setting), &self.settings);
        let days = || {
            let days: Vec<_> = scores().map(|score| score.day).collect();
            frames::days("date", &days)
        };
        let criteria =
            || frames::coded("criterion", &codes(|score| score.criterion), &self.criteria);
        let numbers = || {
            let numbers: Vec<_> = scores().map(|score| Some(score.score)).collect();
            frames::numbers("score", &numbers)
        };
        let columns: [&(dyn Fn() -> Column + Sync); 6] =
            [&pieces, &players, &settings, &days, &criteria, &numbers];
        let columns = columns.into_par_iter().map(|column| column()).collect();
        frames::frame(self.scores.len(), columns)
    }
}

/// What a cell that is not [`cells::plain`] says of its reed; a problem where it cannot be read.
fn one(
    context: &mut Context,
    cell: Cell,
    text: &str,
    rules: &RatingRules,
) -> Result<Read, RatingError> {
    let ranked = !rules.ranking.is_empty() && rules.ranking.rank(text).is_some();
    match ratings::read(text, rules) {
        Ok(RatingRead::Score { score, out_of, approximate }) => {
            if approximate {
                cell_checks::approximate(context.ledger, cell);
            }
            Ok(Read::Score { score, out_of, ranked })
        }
        Ok(RatingRead::Fate(fate)) => Ok(Read::Fate(fate)),
        Err(error) => {
            checks::unreadable(context.ledger, cell, error);
            Err(error)
        }
    }
}

enum Read {
    Score { score: f64, out_of: Option<f64>, ranked: bool },
    Fate(FateRead),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_frame_is_by_piece_and_those_of_a_piece_stand_as_they_were_read() {
        let score = |(piece, score): (u32, f64)| Score {
            piece,
            player: NONE,
            setting: NONE,
            day: None,
            criterion: 0,
            score,
            out_of: f64::NAN,
            ranked: false,
            origin: Origin { sheet: 0, column: 0, row: 0 },
        };
        let read = [(4, 1.0), (2, 2.0), (4, 3.0), (0, 4.0), (2, 5.0), (4, 6.0)];
        let scores = Scores { scores: read.map(score).to_vec(), ..Scores::default() };
        let frame = scores.frame();
        let pieces = frame.column("piece").unwrap().u32().unwrap().to_vec_null_aware();
        assert_eq!(pieces.left(), Some(vec![0, 2, 2, 4, 4, 4]));
        let numbers = frame.column("score").unwrap().f64().unwrap().to_vec_null_aware();
        assert_eq!(numbers.left(), Some(vec![4.0, 2.0, 5.0, 1.0, 3.0, 6.0]));
        assert_eq!(Scores::default().frame().height(), 0);
    }
}
