//! The polars side of the study: filters, joins and grouped sums.
//!
//! Polars reports a missing column or a wrong type as an error. The reader
//! builds every frame to the layout that [`StudyParts`] states, so a column
//! that is absent means that the log does not have it: each helper here answers
//! with empty values then.

use std::collections::{BTreeSet, HashMap};

use polars::prelude::*;

use super::outcome::{Outcome, RatingRows, Settled};
use super::parts::{Labels, StudyParts};
use crate::whole;

/// The column as text, one entry a row; all missing where the frame has no such column.
pub(super) fn texts(frame: &DataFrame, name: &str) -> Vec<Option<String>> {
    match frame.column(name).and_then(|column| column.str().cloned()) {
        Ok(column) => column.iter().map(|cell| cell.map(str::to_owned)).collect(),
        Err(_) => vec![None; frame.height()],
    }
}

/// The same without copies.
pub(super) fn words<'a>(frame: &'a DataFrame, name: &str) -> Vec<Option<&'a str>> {
    match frame.column(name).and_then(|column| column.str()) {
        Ok(column) => column.iter().collect(),
        Err(_) => vec![None; frame.height()],
    }
}

/// The column as numbers; all missing where the frame has no such column.
pub(super) fn numbers(frame: &DataFrame, name: &str) -> Vec<Option<f64>> {
    match frame.column(name).and_then(|column| column.f64()) {
        Ok(column) => entries(column),
        Err(_) => vec![None; frame.height()],
    }
}

/// A column of row numbers, counts or repeats.
pub(super) fn counts(frame: &DataFrame, name: &str) -> Vec<Option<u32>> {
    match frame.column(name).and_then(|column| column.u32()) {
        Ok(column) => entries(column),
        Err(_) => vec![None; frame.height()],
    }
}

/// A date column as days since 1970-01-01.
pub(super) fn days(frame: &DataFrame, name: &str) -> Vec<Option<i32>> {
    match frame.column(name).and_then(|column| column.date()) {
        Ok(column) => entries(column.physical()),
        Err(_) => vec![None; frame.height()],
    }
}

/// One entry a row; a column without gaps is copied as it lies.
fn entries<T: PolarsNumericType>(column: &ChunkedArray<T>) -> Vec<Option<T::Native>> {
    match column.cont_slice() {
        Ok(values) => values.iter().copied().map(Some).collect(),
        Err(_) => column.iter().collect(),
    }
}

/// Codes for a text column, levels sorted by name; all missing where the frame has no such column.
pub(super) fn labels(frame: &DataFrame, name: &str) -> Labels {
    match frame.column(name).and_then(|column| column.str()) {
        Ok(column) => label(column.iter()),
        Err(_) => Labels { codes: vec![None; frame.height()], levels: Vec::new() },
    }
}

#[expect(clippy::indexing_slicing, reason = "a text is met under the place of one of the levels")]
fn label<'a>(cells: impl Iterator<Item = Option<&'a str>>) -> Labels {
    // numbered as they come, which looks each cell up once, and then by name
    let mut met: HashMap<&str, u32> = HashMap::new();
    // neighbours are often alike: pieces of a lot mostly stand together
    let mut last: Option<(&str, u32)> = None;
    let mut code = |cell: &'a str| match last {
        Some((before, code)) if before == cell => code,
        _ => {
            let next = whole::code(met.len());
            let code = *met.entry(cell).or_insert(next);
            last = Some((cell, code));
            code
        }
    };
    let as_met: Vec<Option<u32>> = cells.map(|cell| cell.map(&mut code)).collect();
    let mut levels: Vec<(&str, u32)> = met.into_iter().collect();
    levels.sort_unstable();
    let mut code_of = vec![0; levels.len()];
    for (code, (_, met)) in (0..).zip(&levels) {
        code_of[*met as usize] = code;
    }
    Labels {
        codes: as_met.into_iter().map(|met| met.map(|met| code_of[met as usize])).collect(),
        levels: levels.into_iter().map(|(level, _)| level.to_owned()).collect(),
    }
}

/// A rating of a criterion, on a known piece.
#[derive(Clone, Copy)]
struct Rating<'a> {
    piece: u32,
    player: Option<&'a str>,
    day: Option<i32>,
    score: f64,
}

/// The ratings of one criterion that speak for their reeds.
pub(super) fn rating_rows(parts: &StudyParts, outcome: &Outcome) -> RatingRows {
    let kept = settle(ratings_of(&parts.ratings, &outcome.criterion), parts.settings.settled);
    let modelled = |score: f64| outcome.target.map_or(score, |target| (score - target).abs());
    RatingRows {
        piece: kept.iter().map(|rating| rating.piece as usize).collect(),
        player: label(kept.iter().map(|rating| rating.player)),
        score: kept.iter().map(|rating| modelled(rating.score)).collect(),
        day: kept.iter().map(|rating| rating.day).collect(),
    }
}

/// The ratings of all other criteria are passed over by their criterion alone.
fn ratings_of<'a>(frame: &'a DataFrame, criterion: &str) -> Vec<Rating<'a>> {
    let columns = || {
        let text = |name: &str| frame.column(name).ok()?.str().ok();
        let criteria = text("criterion")?;
        let pieces = frame.column("piece").ok()?.u32().ok()?;
        let scores = frame.column("score").ok()?.f64().ok()?;
        Some((criteria, pieces, scores, text("player")))
    };
    let Some((criteria, pieces, scores, players)) = columns() else { return Vec::new() };
    let days = frame.column("date").and_then(|column| column.date()).ok();
    let own = criteria.iter().enumerate().filter(|(_, own)| *own == Some(criterion));
    let rating = |(row, _)| {
        let player = players.and_then(|players| players.get(row));
        let day = days.and_then(|days| days.physical().get(row));
        Some(Rating { piece: pieces.get(row)?, player, day, score: scores.get(row)? })
    };
    own.filter_map(rating).collect()
}

/// What a text column holds, each text once, in the order in which they first stand there.
pub(super) fn distinct(frame: &DataFrame, name: &str) -> Vec<String> {
    let Ok(column) = frame.column(name).and_then(|column| column.str()) else { return Vec::new() };
    let mut seen = BTreeSet::new();
    let cells = column.iter().flatten().filter(|cell| seen.insert(*cell));
    cells.map(str::to_owned).collect()
}

/// Keeps the ratings that count under the rule, each reed and player apart, in the file's order.
fn settle(ratings: Vec<Rating>, rule: Settled) -> Vec<Rating> {
    if rule == Settled::All {
        return ratings;
    }
    let mut ordered: Vec<(usize, Rating)> = ratings.into_iter().enumerate().collect();
    ordered.sort_by_key(|(row, rating)| (rating.piece, rating.player, rating.day, *row));
    let mut kept: Vec<(usize, Rating)> = ordered
        .chunk_by(|(_, a), (_, b)| (a.piece, a.player) == (b.piece, b.player))
        .flat_map(|series| match rule {
            Settled::All => series,
            Settled::Last => series.last().map_or(&[][..], std::slice::from_ref),
            Settled::After(first) => series.get(first..).unwrap_or_default(),
        })
        .copied()
        .collect();
    kept.sort_by_key(|(row, _)| *row);
    kept.into_iter().map(|(_, rating)| rating).collect()
}

/// The mean score of each piece.
pub(super) fn mean_by_piece(rows: &RatingRows, pieces: usize) -> Vec<Option<f64>> {
    let mut sums = vec![(0.0, 0_u32); pieces];
    for (&piece, score) in rows.piece.iter().zip(&rows.score) {
        // every rating is of one of the pieces
        if let Some((sum, n)) = sums.get_mut(piece) {
            *sum += score;
            *n += 1;
        }
    }
    sums.into_iter().map(|(sum, n)| (n > 0).then(|| sum / f64::from(n))).collect()
}

/// The same study with its pieces in the order of their ids, and what belongs to them by piece: no answer hangs on the order of the rows in a file. What belongs to one
/// piece stays in the file's order, which says which of several undated ratings came last.
#[expect(clippy::indexing_slicing, reason = "the order holds the place of each id once")]
pub(super) fn in_order(parts: StudyParts) -> StudyParts {
    let ids = words(&parts.pieces, "reed");
    // shorter ids first, so that 9 comes before 10
    let key = |row: &u32| ids[*row as usize].map(|id| (id.len(), id));
    let mut order: Vec<u32> = (0..whole::code(ids.len())).collect();
    order.sort_by(|a, b| key(a).cmp(&key(b)));
    // pieces stay where they are, and every row belongs to one of them
    if order.is_sorted() {
        return StudyParts {
            ratings: by_piece(&parts.ratings),
            profile: by_piece(&parts.profile),
            readings: by_piece(&parts.readings),
            ..parts
        };
    }
    let mut moved_to = vec![None; ids.len()];
    for (new, old) in (0..).zip(&order) {
        moved_to[*old as usize] = Some(new);
    }
    let belonging = |frame: &DataFrame| by_piece(&follow(frame, &moved_to));
    StudyParts {
        pieces: rows(&parts.pieces, order),
        ratings: belonging(&parts.ratings),
        profile: belonging(&parts.profile),
        readings: belonging(&parts.readings),
        ..parts
    }
}

fn by_piece(frame: &DataFrame) -> DataFrame {
    let pieces = counts(frame, "piece");
    if pieces.is_sorted() {
        return frame.clone();
    }
    let mut order: Vec<u32> = (0..whole::code(pieces.len())).collect();
    order.sort_by_key(|row| pieces.get(*row as usize)); // stable, and one piece a row
    rows(frame, order)
}

/// The rows of these numbers, all of which the frame has.
fn rows(frame: &DataFrame, order: Vec<u32>) -> DataFrame {
    frame.take(&IdxCa::from_vec("order".into(), order)).unwrap_or_else(|_| frame.clone())
}

/// The same study with only the pieces marked `true`, and what belongs to them.
pub(super) fn restricted(parts: &StudyParts, keep: &[bool]) -> StudyParts {
    let mut new = 0..;
    let moved_to: Vec<Option<u32>> =
        keep.iter().map(|keep| if *keep { new.next() } else { None }).collect();
    StudyParts {
        pieces: filter(&parts.pieces, keep),
        ratings: follow(&parts.ratings, &moved_to),
        profile: follow(&parts.profile, &moved_to),
        readings: follow(&parts.readings, &moved_to),
        ..parts.clone()
    }
}

fn filter(frame: &DataFrame, keep: &[bool]) -> DataFrame {
    let mask = BooleanChunked::from_slice("keep".into(), keep);
    // the mask has one entry a row, which is all that a filter can find fault with
    frame.filter(&mask).unwrap_or_else(|_| frame.clear())
}

/// Keeps the rows whose piece is kept, with the piece's new row number.
fn follow(frame: &DataFrame, moved_to: &[Option<u32>]) -> DataFrame {
    let moved: Vec<Option<u32>> = counts(frame, "piece")
        .into_iter()
        .map(|piece| piece.and_then(|piece| moved_to.get(piece as usize).copied().flatten()))
        .collect();
    let keep: Vec<bool> = moved.iter().map(Option::is_some).collect();
    let mut kept = filter(frame, &keep);
    if kept.width() > 0 {
        let pieces: Vec<u32> = moved.into_iter().flatten().collect();
        let replaced = kept.with_column(Column::new("piece".into(), pieces));
        debug_assert!(replaced.is_ok(), "one number a kept row");
    }
    kept
}
