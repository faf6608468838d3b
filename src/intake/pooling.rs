//! Several logs as one study: whether they may be pooled, and how they are kept apart.

use std::path::PathBuf;

use polars::prelude::DataFrame;

use super::checks::settings as setting_checks;
use super::frames;
use super::ledger::Ledger;
use super::studio::{LogParts, known_lots};
use crate::problem::{Error, SetAside};
use crate::study::{Better, Factor, Settings, StudyParts};
use crate::whole;

/// Pools logs. One log is passed on as it is; of several, ids and lots are kept apart by the log's name.
pub(super) fn pool(logs: Vec<LogParts>, set_aside: Vec<SetAside>) -> Result<StudyParts, Error> {
    agree(&logs)?;
    let several = logs.len() > 1;
    let mut logs = logs;
    let rated = logs.iter().find(|log| has_scale(log));
    let Some(first) = rated.or(logs.first()) else {
        return Err(Error::Call(
            "No log was named. Name a folder with reeds.csv, or a CSV file.".into(),
        ));
    };
    let mut settings = first.settings.clone();
    let name = logs.iter().map(|log| log.name.as_str()).collect::<Vec<_>>().join(", ");
    if several {
        logs.iter_mut().for_each(apart);
        settings.title =
            logs.iter().map(|log| log.settings.title.as_str()).collect::<Vec<_>>().join(", ");
        for log in &logs {
            settings.targets.extend(log.settings.targets.clone());
            settings.candidates.extend(log.settings.candidates.clone());
        }
    }
    let mut factors: Vec<Factor> = Vec::new();
    for factor in logs.iter().flat_map(|log| &log.factors) {
        if !factors.iter().any(|other| other.name == factor.name) {
            factors.push(factor.clone());
        }
    }
    factors.sort_by_key(|factor| factor.stage);
    let heights: Vec<u32> = logs.iter().map(|log| whole::code(log.pieces.height())).collect();
    let stacked = |of: fn(&LogParts) -> &DataFrame, by_piece: bool| {
        let mut before = 0;
        let mut parts = Vec::with_capacity(logs.len());
        for (log, height) in logs.iter().zip(&heights) {
            parts.push(if by_piece { shifted(of(log), before) } else { of(log).clone() });
            before += height;
        }
        if several { frames::stacked(parts) } else { parts.swap_remove(0) }
    };
    Ok(StudyParts {
        name,
        pieces: stacked(|log| &log.pieces, false),
        ratings: stacked(|log| &log.ratings, true),
        lots: stacked(|log| &log.lots, false),
        profile: stacked(|log| &log.profile, true),
        readings: stacked(|log| &log.readings, true),
        settings,
        files: logs.iter().flat_map(|log| log.files.clone()).collect(),
        understood: logs.iter().flat_map(|log| log.understood.clone()).collect(),
        factors,
        set_aside,
    })
}

/// Ratings of several logs can be pooled only when they mean the same.
fn agree(logs: &[LogParts]) -> Result<(), Error> {
    let mut rated = logs.iter().filter(|log| has_scale(log));
    let Some(first) = rated.next() else { return Ok(()) };
    for other in rated {
        if let Some(why) = difference(first, other) {
            return Err(Error::Call(format!(
                "The logs rate differently and cannot be pooled: {why}"
            )));
        }
    }
    Ok(())
}

/// A log without ratings has no scale of its own, unless its study file gives one.
fn has_scale(log: &LogParts) -> bool {
    log.ratings.height() > 0 || log.settings.scale_given
}

/// In what two logs rate differently, and what to do about it.
fn difference(first: &LogParts, other: &LogParts) -> Option<String> {
    let (one, two) = (&first.settings, &other.settings);
    let (here, there) = (&first.name, &other.name);
    if one.outcome != two.outcome {
        let setting = setting_checks::of_column(
            header_of(other, &two.outcome),
            &format!("is = \"{}\"", one.outcome),
        );
        return Some(format!(
            "the rating of {here} is called `{}`, that of {there} `{}`. Where they mean the same, say in the study file of {there}: {setting}.",
            one.outcome, two.outcome
        ));
    }
    if one.best != two.best {
        return Some(format!(
            "in {here} the {} mark is best, in {there} the {}. Correct `best` where it is wrong; \
             otherwise turn the marks of one log around in its spreadsheet.",
            best(one),
            best(two)
        ));
    }
    if one.scale != two.scale {
        let [[low, high], [from, to]] = [one.scale, two.scale];
        return Some(format!(
            "{here} has a scale from {low} to {high}, {there} one from {from} to {to}. The scale must be the same in fact, \
             not merely in name: only where both gave marks on one scale, say it in the study file of each, `scale = [{}, {}]`; \
             otherwise read the logs one by one.",
            low.min(from),
            high.max(to)
        ));
    }
    None
}

fn best(settings: &Settings) -> &'static str {
    match settings.best {
        Better::Higher => "highest",
        Better::Lower => "lowest",
    }
}

/// The header under which a criterion stands in a log.
fn header_of<'a>(log: &'a LogParts, criterion: &'a str) -> &'a str {
    let found = log.understood.iter().find(|column| column.name == criterion);
    found.map_or(criterion, |column| column.header.as_str())
}

/// Refuses a log that is given twice: its reeds would count double, and every interval be too short.
pub(super) fn each_once(paths: &[PathBuf], logs: &[LogParts]) -> Result<(), Error> {
    let each = || paths.iter().zip(logs);
    for (at, (later, log)) in each().enumerate() {
        for (earlier, earlier_log) in each().take(at) {
            let same_place = earlier.canonicalize().ok() == later.canonicalize().ok();
            if same_place || same_pieces(earlier_log, log) {
                return Err(Error::Call(format!(
                    "{} and {} are the same log: the lists of pieces are equal to the byte. Pooled, each reed would count twice. Name each log once.",
                    earlier.display(),
                    later.display()
                )));
            }
        }
    }
    Ok(())
}

fn same_pieces(one: &LogParts, other: &LogParts) -> bool {
    let (Some(one), Some(other)) = (one.files.first(), other.files.first()) else { return false };
    // two logs that were only just begun hold the same header and nothing else
    one.sha256 == other.sha256 && one.rows_read > 0
}

/// Says when lots of one name are kept apart because no study file calls them the same.
pub(super) fn remark_on_lots(ledger: &mut Ledger, logs: &[LogParts]) {
    let apart = logs.iter().find(|log| !log.same_lots);
    let Some(apart) = apart.filter(|_| logs.len() > 1) else { return };
    let lots: Vec<Vec<String>> = logs.iter().map(|log| known_lots(log.pieces.columns())).collect();
    let shared = lots.iter().enumerate().find_map(|(at, names)| {
        let elsewhere = |name: &&String| lots.iter().take(at).any(|other| other.contains(name));
        names.iter().find(elsewhere)
    });
    if let Some(lot) = shared {
        let sentence = format!(
            "Several of the logs have a lot {}; each was taken as a lot of its own.",
            super::ledger::quoted(lot)
        );
        let place = format!("{}/study.toml", apart.name);
        setting_checks::found(ledger, &place, sentence, "same_lots = true");
    }
}

/// Puts the log's name before its ids and lots, and fills in the maker.
fn apart(log: &mut LogParts) {
    let name = log.name.clone();
    prefix(&mut log.pieces, "reed", &name);
    prefix(&mut log.pieces, "tube", &name);
    if !log.same_lots {
        prefix(&mut log.pieces, "lot", &name);
        prefix(&mut log.lots, "lot", &name);
    }
    let height = log.pieces.height();
    let makers: Vec<Option<String>> =
        match log.pieces.column("maker").and_then(|column| column.str().cloned()) {
            Ok(makers) => makers.iter().map(|maker| maker.map(str::to_owned)).collect(),
            Err(_) => vec![None; height],
        };
    let filled = makers.iter().map(|maker| Some(maker.as_deref().unwrap_or(&name)));
    put(&mut log.pieces, frames::texts("maker", filled));
}

fn prefix(frame: &mut DataFrame, column: &str, name: &str) {
    let Some(cells) = frame.column(column).ok().and_then(|cells| cells.str().ok()) else { return };
    let prefixed: Vec<Option<String>> =
        cells.iter().map(|cell| cell.map(|cell| format!("{name}/{cell}"))).collect();
    put(frame, frames::texts(column, prefixed.iter().map(Option::as_deref)));
}

/// Replaces or adds a column of the frame's own height.
fn put(frame: &mut DataFrame, column: polars::prelude::Column) {
    let done = frame.with_column(column);
    debug_assert!(done.is_ok(), "of the frame's height");
}

/// The frame with its row numbers of pieces moved behind the pieces of earlier logs.
fn shifted(frame: &DataFrame, by: u32) -> DataFrame {
    let mut frame = frame.clone();
    if by > 0
        && let Some(pieces) =
            frame.column("piece").ok().and_then(|pieces| pieces.u32().cloned().ok())
    {
        let moved: Vec<Option<u32>> =
            pieces.iter().map(|piece| piece.map(|piece| piece + by)).collect();
        put(&mut frame, frames::counts("piece", &moved));
    }
    frame
}
