//! One log from its files to its parts.

use std::path::{Path, PathBuf};

use polars::prelude::{Column, DataFrame};
use rayon::prelude::*;

use super::checks::{files as file_checks, settings as setting_checks};
use super::context::{Context, Sheet};
use super::identity::Identity;
use super::ledger::Ledger;
use super::pieces::{Held, Pieces};
use super::scores::Scores;
use super::study_file::StudyFile;
use super::values::missing::MissingMarks;
use super::{
    ReadOptions, endings, files, frames, lots, pieces, profile, ratings, readings, scale, sheets,
};
use crate::problem::Error;
use crate::study::{
    Factor, FileRead, PROFILE_FEATURES, ProfileReading, RepeatReading, Settings, Understood,
    profile_point_name,
};
use crate::whole;

/// One log, read. The first of its files is the list of pieces.
pub(super) struct LogParts {
    pub name: String,
    pub settings: Settings,
    pub same_lots: bool,
    pub files: Vec<FileRead>,
    pub factors: Vec<Factor>,
    pub understood: Vec<Understood>,
    pub pieces: DataFrame,
    pub ratings: DataFrame,
    pub lots: DataFrame,
    pub profile: DataFrame,
    pub readings: DataFrame,
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
        let before = names.iter().take(at).filter(|other| *other == name).count();
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
    std::fs::metadata(log).map_err(|source| Error::reading(log, source))?;
    let (study, study_read) = files::study_file(log, shown)?;
    let paths = files::find(log, &study, shown)?;
    let name = if shown.is_empty() { paths.name.clone() } else { shown.to_owned() };
    let others = [&paths.ratings, &paths.lots, &paths.profile, &paths.readings];
    let all: Vec<Option<&Path>> = std::iter::once(Some(paths.reeds.as_path()))
        .chain(others.map(|path| path.as_deref()))
        .collect();
    // each file has a ledger of its own, so that what is found stands in the order of the files
    let open = |path: Option<&Path>| {
        let mut found = ledger.empty();
        path.map(|path| Ok((sheets::read(&mut found, path, shown, options)?, found))).transpose()
    };
    let opened: Vec<Result<Option<_>, Error>> = all.into_par_iter().map(open).collect();
    let mut opened = opened.into_iter().map(|one| {
        let one: Option<(_, Ledger)> = one?;
        Ok(one.map(|(sheet, found)| {
            ledger.take(found);
            sheet
        }))
    });
    let mut next = || opened.next().unwrap_or(Ok(None));
    let reeds = next()?;
    let [ratings, lots, profile, readings] = [next()?, next()?, next()?, next()?];
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
    let mut curves = std::mem::take(&mut pieces.held.profile);
    let Pieces { identity, endings, held } = &mut pieces;
    let (identity, held) = (&*identity, &*held);
    // the smaller files are read beside the ratings; what is found stands in the order of the files
    let (mut of_ratings, mut of_others) = (context.ledger.empty(), context.ledger.empty());
    let mut for_ratings = context.with(&mut of_ratings);
    let mut for_others = context.with(&mut of_others);
    let read_ratings = || match &sheets.ratings {
        Some((sheet, read)) => {
            let finished = held.finished.as_deref();
            let used =
                ratings::read(&mut for_ratings, sheet, identity, endings, finished, &mut scores)?;
            Ok(Some((read, used)))
        }
        None => Ok(None),
    };
    let read_others = || Others::read(&mut for_others, &sheets, identity, held, &mut curves);
    let (rated, others) = rayon::join(read_ratings, read_others);
    if let Some((read, used)) = rated? {
        count(&mut files, read, used);
    }
    let others = others?;
    others.used.iter().for_each(|(read, used)| count(&mut files, read, *used));
    let understood = [for_ratings.understood, for_others.understood];
    context.understood.extend(understood.into_iter().flatten());
    context.ledger.take(of_ratings);
    context.ledger.take(of_others);
    files.extend(study_read);
    let ratings_sheet = sheets.ratings.as_ref().map(|(sheet, _)| sheet);
    let mut settings = scale::settle(context, [Some(&sheets.reeds.0), ratings_sheet], &mut scores)?;
    settings.candidates = settings
        .candidates
        .into_iter()
        .map(|(name, values)| (point_named(&name).unwrap_or(name), values))
        .collect();
    let rated = scores.rated(pieces.identity.ids.len());
    let ended = endings::settle(context, &sheets.reeds.0.table, &mut pieces, &rated);
    unused_names(context, study, &sheets, &scores, &pieces, &curves);
    let mut columns = std::mem::take(&mut pieces.held.columns);
    columns.extend(ended);
    let (ratings, (profile, readings)) = rayon::join(
        || scores.frame(),
        || (profile_frame(&curves), readings_frame(&others.repeats)),
    );
    let parts = LogParts {
        name: context.log.clone(),
        settings,
        same_lots: study.same_lots,
        files,
        factors: std::mem::take(&mut pieces.held.factors),
        understood: std::mem::take(&mut context.understood),
        pieces: frames::frame(pieces.identity.ids.len(), columns),
        ratings,
        lots: others.lots,
        profile,
        readings,
    };
    drop(pieces);
    // nobody waits for the memory of a large log
    rayon::spawn(move || drop((sheets, scores)));
    Ok(parts)
}

/// What the files of lots, profiles and repeat readings hold.
struct Others<'a> {
    lots: DataFrame,
    repeats: Vec<RepeatReading>,
    /// The entry of each file that there is, and its rows used.
    used: Vec<(&'a FileRead, usize)>,
}

impl<'a> Others<'a> {
    /// Readings of profiles are added to those that the reeds file has.
    fn read(
        context: &mut Context,
        sheets: &'a Sheets,
        identity: &Identity,
        held: &Held,
        curves: &mut Vec<ProfileReading>,
    ) -> Result<Others<'a>, Error> {
        let mut others =
            Others { lots: DataFrame::default(), repeats: Vec::new(), used: Vec::new() };
        if let Some((sheet, read)) = &sheets.lots {
            let lots = lots::read(context, sheet, &known_lots(&held.columns))?;
            others.used.push((read, lots.used));
            others.lots = lots.frame;
        }
        if let Some((sheet, read)) = &sheets.profile {
            others.used.push((read, profile::read(context, sheet, identity, curves)?));
        }
        if let Some((sheet, read)) = &sheets.readings {
            let used = readings::read(context, sheet, identity, &mut others.repeats)?;
            others.used.push((read, used));
        }
        Ok(others)
    }
}

fn count(files: &mut Vec<FileRead>, read: &FileRead, used: usize) {
    files.push(FileRead { rows_used: used, rows_set_aside: read.rows_read - used, ..read.clone() });
}

/// The lots of the pieces, each once, by name.
pub(super) fn known_lots(columns: &[Column]) -> Vec<String> {
    let lots = columns.iter().find(|column| column.name().as_str() == "lot");
    let Some(cells) = lots.and_then(|column| column.str().ok()) else { return Vec::new() };
    // pieces of a lot mostly stand together
    let mut names: Vec<&str> = cells.iter().flatten().collect();
    names.dedup();
    names.sort_unstable();
    names.dedup();
    names.into_iter().map(str::to_owned).collect()
}

fn profile_frame(curves: &[ProfileReading]) -> DataFrame {
    let numbers = |of: fn(&ProfileReading) -> f64| -> Vec<Option<f64>> {
        curves.iter().map(|one| Some(of(one))).collect()
    };
    let counts = |of: fn(&ProfileReading) -> u32| -> Vec<Option<u32>> {
        curves.iter().map(|one| Some(of(one))).collect()
    };
    let columns = vec![
        frames::counts("piece", &counts(|one| whole::code(one.piece))),
        frames::numbers("from_tip_mm", &numbers(|one| one.from_tip_mm)),
        frames::texts("line", curves.iter().map(|one| Some(one.line.as_str()))),
        frames::counts("repeat", &counts(|one| one.repeat)),
        frames::numbers("thickness_mm", &numbers(|one| one.thickness_mm)),
    ];
    frames::frame(curves.len(), columns)
}

fn readings_frame(readings: &[RepeatReading]) -> DataFrame {
    let pieces: Vec<Option<u32>> =
        readings.iter().map(|one| Some(whole::code(one.piece))).collect();
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
    curves: &[ProfileReading],
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
    let factors: Vec<String> =
        pieces.held.factors.iter().map(|factor| factor.name.clone()).collect();
    let known = |name: &&String| factors.contains(name) || is_of_profile(name, curves);
    for name in study.candidates.keys().filter(|name| !known(name)) {
        setting_checks::name_unused(context.ledger, &place, name, &factors);
    }
}

/// Whether a name is a point of the profile, or one of the features that are made of the profile's readings.
fn is_of_profile(name: &str, curves: &[ProfileReading]) -> bool {
    let is_feature = PROFILE_FEATURES.contains(&name) && !curves.is_empty();
    let is_read = |point: String| {
        curves.iter().any(|reading| profile_point_name(reading.from_tip_mm, &reading.line) == point)
    };
    is_feature || point_named(name).is_some_and(is_read)
}

/// The name of the point that a name means, however its line is spelled.
fn point_named(name: &str) -> Option<String> {
    let (from_tip_mm, line) = super::values::headers::read(name).profile_point()?;
    Some(profile_point_name(from_tip_mm, line))
}
