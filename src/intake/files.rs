//! The files of a log: which there are, their bytes, their tables.

use std::fs;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::checks::files as checks;
use super::context::Sheet;
use super::ledger::Ledger;
use super::study_file::{self, FileNames, StudyFile};
use super::{ReadOptions, dialect, encoding, records};
use crate::problem::Error;
use crate::study::FileRead;

/// Where the files of a log are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct LogFiles {
    /// Of the folder or file, without ending.
    pub name: String,
    pub reeds: PathBuf,
    pub ratings: Option<PathBuf>,
    pub lots: Option<PathBuf>,
    pub profile: Option<PathBuf>,
    pub readings: Option<PathBuf>,
    /// Whether the reeds file is only the folder's single CSV file.
    pub chosen: bool,
    /// CSV files of the folder that are no part of the log.
    pub unread: Vec<PathBuf>,
}

/// Finds the study file of a log and reads it. The file's bytes count as the log's, so they are listed too.
pub(super) fn study_file(log: &Path, shown: &str) -> Result<(StudyFile, Option<FileRead>), Error> {
    let path = if log.is_dir() { log.join("study.toml") } else { log.with_extension("toml") };
    if !path.is_file() {
        return Ok((StudyFile::default(), None));
    }
    let name = shown_name(shown, &path);
    let bytes = fs::read(&path).map_err(|source| Error::reading(&path, source))?;
    let sha256 = sha256(&bytes);
    let text = encoding::decode(bytes).map_err(|reason| checks::no_text(&name, &reason))?;
    let study = study_file::read(&name, &text.text)?;
    let read = FileRead {
        name,
        sha256,
        encoding: text.encoding.to_owned(),
        delimiter: '=',
        rows_read: 0,
        rows_used: 0,
        rows_set_aside: 0,
    };
    Ok((study, Some(read)))
}

/// Finds the files of a log: a folder's, or the one file that it is.
pub(super) fn find(log: &Path, names: &FileNames) -> Result<LogFiles, Error> {
    let metadata = fs::metadata(log).map_err(|source| Error::reading(log, source))?;
    if !metadata.is_dir() {
        return beside(log, names);
    }
    let name = log
        .canonicalize()
        .ok()
        .as_deref()
        .and_then(Path::file_name)
        .map(|name| name.to_string_lossy().into_owned());
    let (reeds, chosen) = reeds_of(log, names)?;
    let optional =
        |given: &Option<String>, usual: &str| optional(log, given.as_deref(), usual, &reeds);
    let mut found = LogFiles {
        name: name.unwrap_or_else(|| "log".into()),
        ratings: optional(&names.ratings, "ratings.csv")?,
        lots: optional(&names.lots, "lots.csv")?,
        profile: optional(&names.profile, "profile.csv")?,
        readings: optional(&names.readings, "readings.csv")?,
        reeds,
        chosen,
        unread: Vec::new(),
    };
    found.unread = tables_of(log)?.into_iter().filter(|path| !found.reads(path)).collect();
    Ok(found)
}

impl LogFiles {
    fn reads(&self, path: &Path) -> bool {
        let others = [&self.ratings, &self.lots, &self.profile, &self.readings];
        let others = others.into_iter().flatten();
        // the disk may not tell case apart, so that reeds.csv and Reeds.csv are one file
        let real = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
        let path = real(path);
        std::iter::once(&self.reeds).chain(others).any(|read| real(read) == path)
    }
}

/// The CSV files of a folder by name.
fn tables_of(folder: &Path) -> Result<Vec<PathBuf>, Error> {
    let mut tables: Vec<PathBuf> = fs::read_dir(folder)
        .map_err(|source| Error::reading(folder, source))?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv")))
        .collect();
    tables.sort();
    Ok(tables)
}

/// A log that is one file; its study file may name others beside it.
fn beside(log: &Path, names: &FileNames) -> Result<LogFiles, Error> {
    let folder = log.parent().unwrap_or(Path::new(""));
    let named = |name: &Option<String>| match name {
        Some(name) => existing(folder, name).map(Some),
        None => Ok(None),
    };
    Ok(LogFiles {
        name: log
            .file_stem()
            .map_or_else(|| "log".into(), |stem| stem.to_string_lossy().into_owned()),
        reeds: log.to_path_buf(),
        ratings: named(&names.ratings)?,
        lots: named(&names.lots)?,
        profile: named(&names.profile)?,
        readings: named(&names.readings)?,
        chosen: false,
        unread: Vec::new(),
    })
}

fn reeds_of(folder: &Path, names: &FileNames) -> Result<(PathBuf, bool), Error> {
    if let Some(name) = &names.reeds {
        return existing(folder, name).map(|path| (path, false));
    }
    let mut tables = tables_of(folder)?;
    let usual = |path: &&PathBuf| {
        path.file_name().is_some_and(|name| name.eq_ignore_ascii_case("reeds.csv"))
    };
    if let Some(reeds) = tables.iter().find(usual) {
        return Ok((reeds.clone(), false));
    }
    let others = ["ratings.csv", "lots.csv", "profile.csv", "readings.csv"];
    tables.retain(|path| {
        path.file_name()
            .is_none_or(|name| !others.iter().any(|other| name.eq_ignore_ascii_case(other)))
    });
    match tables.as_slice() {
        [only] => Ok((only.clone(), true)),
        [] => Err(checks::no_log(
            &folder.display().to_string(),
            "The folder has no list of pieces.".into(),
        )),
        several => {
            let names: Vec<String> = several
                .iter()
                .filter_map(|path| path.file_name())
                .map(|name| format!("“{}”", name.to_string_lossy()))
                .collect();
            let found = format!(
                "The folder has no reeds.csv, and several files could be it: {}.",
                names.join(", ")
            );
            Err(checks::no_log(&folder.display().to_string(), found))
        }
    }
}

fn optional(
    folder: &Path,
    given: Option<&str>,
    usual: &str,
    reeds: &Path,
) -> Result<Option<PathBuf>, Error> {
    match given {
        Some(name) => existing(folder, name).map(Some),
        None => {
            let path = folder.join(usual);
            Ok(Some(path).filter(|path| path.exists() && path != reeds))
        }
    }
}

/// A file that the study file names, counted from the log's folder.
fn existing(folder: &Path, name: &str) -> Result<PathBuf, Error> {
    let path = folder.join(name);
    match fs::metadata(&path) {
        Ok(_) => Ok(path),
        Err(source) => Err(Error::reading(&path, source)),
    }
}

/// A file as problems name it: `reeds.csv`, or `log/reeds.csv` where several logs are read.
pub(super) fn shown_name(shown: &str, path: &Path) -> String {
    let name = path
        .file_name()
        .map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
    if shown.is_empty() { name } else { format!("{shown}/{name}") }
}

fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Reads a CSV file as a table, with the rows that can be used and its entry in the account.
pub(super) fn sheet(
    ledger: &mut Ledger,
    path: &Path,
    shown: &str,
    options: &ReadOptions,
) -> Result<(Sheet, FileRead), Error> {
    let file = shown_name(shown, path);
    let bytes = fs::read(path).map_err(|source| Error::reading(path, source))?;
    let sha256 = sha256(&bytes);
    let decoded = encoding::decode(bytes).map_err(|reason| checks::no_text(&file, &reason))?;
    checks::encoding(ledger, &file, &decoded);
    let dialect = dialect::find(&decoded.text);
    let records = records::read(&file, decoded.text, dialect);
    checks::table_shape(&records, options.max_columns)?;
    let table = records.table;
    if dialect.doubtful {
        checks::delimiter_doubtful(ledger, &table);
    }
    if table.rows() == 0 {
        checks::no_rows(ledger, &table);
    }
    let mut aside = vec![false; table.rows()];
    for ragged in &records.ragged {
        aside[ragged.row] = checks::ragged_row(ledger, &table, ragged);
    }
    for (row, aside) in aside.iter_mut().enumerate() {
        let long = |column: &usize| table.raw(row, *column).len() > options.max_cell;
        if !*aside
            && table.row_length(row) > options.max_cell
            && let Some(column) = (0..table.width()).find(long)
        {
            checks::cell_too_long(ledger, &table, row, column, options.max_cell);
            *aside = true;
        }
    }
    let read = FileRead {
        name: file,
        sha256,
        encoding: decoded.encoding.to_owned(),
        delimiter: dialect.delimiter as char,
        rows_read: table.rows(),
        rows_used: 0,
        rows_set_aside: 0,
    };
    let usable = (0..table.rows() as u32).filter(|row| !aside[*row as usize]).collect();
    Ok((Sheet { table, usable }, read))
}
