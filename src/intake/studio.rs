//! One log from its files to its parts, and several logs pooled.

use std::path::{Path, PathBuf};

use polars::prelude::DataFrame;

use super::checks::{files as file_checks, settings as setting_checks};
use super::context::{Context, Sheet};
use super::ledger::Ledger;
use super::pieces::Pieces;
use super::scores::Scores;
use super::study_file::StudyFile;
use super::values::missing::MissingMarks;
use super::{ReadOptions, endings, files, frames, lots, pieces, profile, ratings, readings, scale};
use crate::problem::{Error, SetAside};
use crate::study::{
    Factor, FileRead, ProfileReading, RepeatReading, Settings, StudyParts, Understood,
};

/// One log, read.
pub(super) struct LogParts {
    name: String,
    settings: Settings,
    same_lots: bool,
    files: Vec<FileRead>,
    factors: Vec<Factor>,
    understood: Vec<Understood>,
    pieces: DataFrame,
    ratings: DataFrame,
    lots: DataFrame,
    profile: DataFrame,
    readings: DataFrame,
}

/// Names for logs that are given together: of their folders, and with a number where two have the same.
pub(super) fn shown_names(logs: &[PathBuf]) -> Vec<String> {
    let name = |log: &PathBuf| {
        let canonical = log.canonicalize().unwrap_or_else(|_| log.clone());
        let part = if canonical.is_dir() { canonical.file_name() } else { canonical.file_stem() };
        part.map_or_else(|| "log".to_owned(), |part| part.to_string_lossy().into_owned())
    };
    let names: Vec<String> = logs.iter().map(name).collect();
    let numbered = |(at, name): (usize, &String)| {
        let before = names[..at].iter().filter(|other| *other == name).count();
        if before == 0 { name.clone() } else { format!("{name} {}", before + 1) }
    };
    names.iter().enumerate().map(numbered).collect()
}

/// Reads one log. `shown` stands before its files' names where several logs are read.
pub(super) fn read_log(
    ledger: &mut Ledger,
    log: &Path,
    shown: &str,
    options: &ReadOptions,
) -> Result<LogParts, Error> {
    if !log.exists() {
        let source = std::io::Error::from(std::io::ErrorKind::NotFound);
        return Err(Error::reading(log, source));
    }
    let (study, study_read) = files::study_file(log, shown)?;
    let paths = files::find(log, &study, shown)?;
    let name = if shown.is_empty() { paths.name.clone() } else { shown.to_owned() };
    let mut open = |path: &Option<PathBuf>| {
        path.as_ref().map(|path| files::sheet(ledger, path, shown, options)).transpose()
    };
    let reeds = open(&Some(paths.reeds.clone()))?;
    let [ratings, lots, profile, readings] =
        [open(&paths.ratings)?, open(&paths.lots)?, open(&paths.profile)?, open(&paths.readings)?];
    let Some((reeds, reeds_read)) = reeds else {
        return Err(file_checks::no_log(
            &log.display().to_string(),
            "There is no list of pieces.".into(),
        ));
    };
    if paths.chosen {
        file_checks::log_file_chosen(ledger, &reeds_read.name);
    }
    for path in &paths.unread {
        file_checks::not_read(ledger, &files::shown_name(shown, path));
    }
    let sheets = Sheets { reeds: (reeds, reeds_read), ratings, lots, profile, readings };
    let context = Context {
        log: name,
        study: &study,
        marks: MissingMarks::with(&study.missing),
        ledger,
        understood: Vec::new(),
    };
    assemble(context, &study, sheets, study_read)
}

/// The tables of a log, each with its entry in the account of files.
struct Sheets {
    reeds: (Sheet, FileRead),
    ratings: Option<(Sheet, FileRead)>,
    lots: Option<(Sheet, FileRead)>,
    profile: Option<(Sheet, FileRead)>,
    readings: Option<(Sheet, FileRead)>,
}

fn assemble(
    mut context: Context,
    study: &StudyFile,
    sheets: Sheets,
    study_read: Option<FileRead>,
) -> Result<LogParts, Error> {
    let context = &mut context;
    let mut files = Vec::new();
    let mut scores = Scores::default();
    let mut pieces = pieces::read(context, &sheets.reeds.0, &mut scores)?;
    count(&mut files, &sheets.reeds.1, pieces.identity.used_rows.len());
    if let Some((sheet, read)) = &sheets.ratings {
        let Pieces { identity, endings, finished, .. } = &mut pieces;
        let used =
            ratings::read(context, sheet, identity, endings, finished.as_deref(), &mut scores)?;
        count(&mut files, read, used);
    }
    let mut lots_frame = DataFrame::default();
    if let Some((sheet, read)) = &sheets.lots {
        let lots = lots::read(context, sheet, &known_lots(&pieces))?;
        count(&mut files, read, lots.used);
        lots_frame = lots.frame;
    }
    let mut curves = std::mem::take(&mut pieces.profile);
    if let Some((sheet, read)) = &sheets.profile {
        let used = profile::read(context, sheet, &pieces.identity, &mut curves)?;
        count(&mut files, read, used);
    }
    let mut repeats = Vec::new();
    if let Some((sheet, read)) = &sheets.readings {
        let used = readings::read(context, sheet, &pieces.identity, &mut repeats)?;
        count(&mut files, read, used);
    }
    files.extend(study_read);
    let ratings_sheet = sheets.ratings.as_ref().map(|(sheet, _)| sheet);
    let settings = scale::settle(context, [Some(&sheets.reeds.0), ratings_sheet], &mut scores)?;
    let rated = scores.rated(pieces.identity.ids.len());
    let ended = endings::settle(context, &sheets.reeds.0.table, &mut pieces, &rated);
    unused_names(context, study, &sheets, &scores, &pieces);
    let mut columns = std::mem::take(&mut pieces.columns);
    columns.extend(ended);
    Ok(LogParts {
        name: context.log.clone(),
        settings,
        same_lots: study.same_lots,
        files,
        factors: std::mem::take(&mut pieces.factors),
        understood: std::mem::take(&mut context.understood),
        pieces: frames::frame(pieces.identity.ids.len(), columns),
        ratings: scores.frame(),
        lots: lots_frame,
        profile: profile_frame(&curves),
        readings: readings_frame(&repeats),
    })
}

fn count(files: &mut Vec<FileRead>, read: &FileRead, used: usize) {
    files.push(FileRead { rows_used: used, rows_set_aside: read.rows_read - used, ..read.clone() });
}

fn known_lots(pieces: &Pieces) -> Vec<String> {
    let lots = pieces.columns.iter().find(|column| column.name().as_str() == "lot");
    let names = lots
        .and_then(|column| column.str().ok())
        .map(|column| column.iter().flatten().map(str::to_owned));
    let mut names: Vec<String> = names.map(Iterator::collect).unwrap_or_default();
    names.sort();
    names.dedup();
    names
}

fn profile_frame(curves: &[ProfileReading]) -> DataFrame {
    let numbers = |of: fn(&ProfileReading) -> f64| -> Vec<Option<f64>> {
        curves.iter().map(|one| Some(of(one))).collect()
    };
    let counts = |of: fn(&ProfileReading) -> u32| -> Vec<Option<u32>> {
        curves.iter().map(|one| Some(of(one))).collect()
    };
    let columns = vec![
        frames::counts("piece", &counts(|one| one.piece as u32)),
        frames::numbers("from_tip_mm", &numbers(|one| one.from_tip_mm)),
        frames::texts("line", curves.iter().map(|one| Some(one.line.as_str()))),
        frames::counts("repeat", &counts(|one| one.repeat)),
        frames::numbers("thickness_mm", &numbers(|one| one.thickness_mm)),
    ];
    frames::frame(curves.len(), columns)
}

fn readings_frame(readings: &[RepeatReading]) -> DataFrame {
    let pieces: Vec<Option<u32>> = readings.iter().map(|one| Some(one.piece as u32)).collect();
    let values: Vec<Option<f64>> = readings.iter().map(|one| Some(one.value)).collect();
    let repeats: Vec<Option<u32>> = readings.iter().map(|one| one.repeat).collect();
    let columns = vec![
        frames::counts("piece", &pieces),
        frames::texts("measure", readings.iter().map(|one| Some(one.measure.as_str()))),
        frames::numbers("value", &values),
        frames::texts("by", readings.iter().map(|one| one.by.as_deref())),
        frames::counts("repeat", &repeats),
    ];
    frames::frame(readings.len(), columns)
}

/// Points out names of the study file that nothing in the log has.
fn unused_names(
    context: &mut Context,
    study: &StudyFile,
    sheets: &Sheets,
    scores: &Scores,
    pieces: &Pieces,
) {
    let others = [&sheets.ratings, &sheets.lots, &sheets.profile, &sheets.readings];
    let tables = others.into_iter().flatten().chain([&sheets.reeds]).map(|(sheet, _)| &sheet.table);
    let mut headers: Vec<String> = tables.flat_map(|table| table.header.iter().cloned()).collect();
    headers.sort();
    let place = context.study_place();
    let fold = super::values::headers::fold;
    for name in study.columns.keys() {
        if !headers.iter().any(|header| header == name || fold(header) == fold(name)) {
            setting_checks::name_unused(context.ledger, &place, name, &headers);
        }
    }
    for name in study.criteria.iter().filter(|name| !scores.criteria.contains(name)) {
        setting_checks::name_unused(context.ledger, &place, name, &scores.criteria);
    }
    let factors: Vec<String> = pieces.factors.iter().map(|factor| factor.name.clone()).collect();
    for name in study.candidates.keys().filter(|name| !factors.contains(name)) {
        setting_checks::name_unused(context.ledger, &place, name, &factors);
    }
}

/// Pools logs. One log is passed on as it is; of several, ids and lots are kept apart by the log's name.
pub(super) fn pool(logs: Vec<LogParts>, set_aside: Vec<SetAside>) -> Result<StudyParts, Error> {
    agree(&logs)?;
    let several = logs.len() > 1;
    let mut logs = logs;
    let Some(first) = logs.first() else {
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
    let heights: Vec<u32> = logs.iter().map(|log| log.pieces.height() as u32).collect();
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
    let [first, rest @ ..] = logs else { return Ok(()) };
    for other in rest {
        let (one, two) = (&first.settings, &other.settings);
        let same = one.scale == two.scale && one.best == two.best && one.outcome == two.outcome;
        if !same {
            let words = |settings: &Settings| {
                format!(
                    "`{}` from {} to {}",
                    settings.outcome, settings.scale[0], settings.scale[1]
                )
            };
            return Err(Error::Call(format!(
                "The logs rate differently and cannot be pooled: {} has {}, {} has {}. \
                 Say the same `outcome`, `scale` and `best` in the study file of each.",
                first.name,
                words(one),
                other.name,
                words(two)
            )));
        }
    }
    Ok(())
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
