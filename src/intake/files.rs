//! The files of a log: which there are, their bytes, their tables.

use std::fs;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::access;
use super::checks::files as checks;
use super::checks::parquet as parquet_checks;
use super::study_file::{self, StudyFile};
use super::{encoding, parquet};
use crate::disk;
use crate::problem::{Error, Place};
use crate::study::FileRead;

/// Bytes; a setting for each of the most columns that a file may have takes less.
const MOST_OF_A_STUDY_FILE: u64 = 4 << 20;

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
    /// Whether the reeds file is only the folder's single table.
    pub chosen: bool,
    /// Tables of the folder that are no part of the log.
    pub unread: Vec<PathBuf>,
}

/// Finds the study file of a log and reads it. The file's bytes count as the log's, so they are listed too.
pub(super) fn study_file(log: &Path, shown: &str) -> Result<(StudyFile, Option<FileRead>), Error> {
    let usual = if log.is_dir() { PathBuf::from("study.toml") } else { log.with_extension("toml") };
    let usual = usual.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let name = shown_name(shown, Path::new(&usual));
    let Some(path) = access::file_of(&access::folder_of(log), &usual, Place::file(&name))? else {
        return Ok((StudyFile::default(), None));
    };
    let bytes = disk::read(&path, MOST_OF_A_STUDY_FILE)?;
    let sha256 = sha256(&bytes);
    let text = encoding::decode(bytes).map_err(|reason| checks::no_text(&name, &reason))?;
    let study = study_file::read(&name, &text.text)?;
    let read = FileRead {
        name,
        sha256,
        encoding: text.encoding.to_owned(),
        delimiter: None,
        rows_read: 0,
        rows_used: 0,
        rows_set_aside: 0,
    };
    Ok((study, Some(read)))
}

/// Finds the files of a log: a folder's, or the one file that it is. `shown` stands before the files' names.
pub(super) fn find(log: &Path, study: &StudyFile, shown: &str) -> Result<LogFiles, Error> {
    let looking = Looking { folder: access::folder_of(log), study, shown };
    let metadata = fs::metadata(log).map_err(|source| Error::reading(log, source))?;
    if !metadata.is_dir() {
        return looking.beside(log);
    }
    let name = log
        .canonicalize()
        .ok()
        .as_deref()
        .and_then(Path::file_name)
        .map(|name| name.to_string_lossy().into_owned());
    let (reeds, chosen) = looking.reeds()?;
    let names = &study.files;
    let mut found = LogFiles {
        name: name.unwrap_or_else(|| "log".into()),
        ratings: looking.other("ratings", &names.ratings, &reeds)?,
        lots: looking.other("lots", &names.lots, &reeds)?,
        profile: looking.other("profile", &names.profile, &reeds)?,
        readings: looking.other("readings", &names.readings, &reeds)?,
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

/// How the names of tables end.
const ENDINGS: [&str; 2] = ["csv", "parquet"];

/// The tables of a folder by name.
fn tables_of(folder: &Path) -> Result<Vec<PathBuf>, Error> {
    let mut tables: Vec<PathBuf> = fs::read_dir(folder)
        .map_err(|source| Error::reading(folder, source))?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| {
            let ends = |with: &&str| path.extension().is_some_and(|e| e.eq_ignore_ascii_case(with));
            ENDINGS.iter().any(ends)
        })
        .collect();
    tables.sort();
    Ok(tables)
}

/// A log's folder while its files are looked for.
struct Looking<'a> {
    folder: PathBuf,
    study: &'a StudyFile,
    shown: &'a str,
}

impl Looking<'_> {
    /// A log that is one file; its study file may name others beside it.
    fn beside(&self, log: &Path) -> Result<LogFiles, Error> {
        access::regular(log, Place::file(shown_name(self.shown, log)))?;
        let names = &self.study.files;
        let named = |key: &str, name: &Option<String>| {
            name.as_ref().map(|name| self.named(key, name)).transpose()
        };
        Ok(LogFiles {
            name: log
                .file_stem()
                .map_or_else(|| "log".into(), |stem| stem.to_string_lossy().into_owned()),
            reeds: log.to_path_buf(),
            ratings: named("ratings", &names.ratings)?,
            lots: named("lots", &names.lots)?,
            profile: named("profile", &names.profile)?,
            readings: named("readings", &names.readings)?,
            chosen: false,
            unread: Vec::new(),
        })
    }

    /// The list of pieces: as the study file names it, else by its usual name, else the folder's only table.
    fn reeds(&self) -> Result<(PathBuf, bool), Error> {
        if let Some(name) = &self.study.files.reeds {
            return Ok((self.named("reeds", name)?, false));
        }
        let mut tables = tables_of(&self.folder)?;
        let called = |path: &Path, name: &str| {
            ENDINGS.iter().any(|ending| {
                let usual = format!("{name}.{ending}");
                path.file_name().is_some_and(|found| found.eq_ignore_ascii_case(&usual))
            })
        };
        let reeds: Vec<&PathBuf> = tables.iter().filter(|path| called(path, "reeds")).collect();
        if let Some(reeds) = self.only_one("reeds", &reeds)? {
            return Ok((self.table(reeds)?, false));
        }
        let others = ["ratings", "lots", "profile", "readings"];
        tables.retain(|path| !others.iter().any(|other| called(path, other)));
        match tables.as_slice() {
            [only] => Ok((self.table(only)?, true)),
            several => Err(self.no_reeds(several)),
        }
    }

    /// Of the tables of one name the only one; they cannot both be the log's.
    fn only_one<'a>(
        &self,
        name: &str,
        tables: &[&'a PathBuf],
    ) -> Result<Option<&'a PathBuf>, Error> {
        let mut endings = tables.iter().map(|path| parquet::has_ending(path));
        if endings.clone().any(|parquet| parquet) && endings.any(|parquet| !parquet) {
            return Err(parquet_checks::both(
                &shown_name(self.shown, &self.folder.join(name)),
                name,
            ));
        }
        Ok(tables.first().copied())
    }

    fn no_reeds(&self, tables: &[PathBuf]) -> Error {
        let names: Vec<String> = tables
            .iter()
            .filter_map(|path| path.file_name())
            .map(|name| format!("“{}”", name.to_string_lossy()))
            .collect();
        let found = if names.is_empty() {
            "The folder has no list of pieces.".to_owned()
        } else {
            format!(
                "The folder has no reeds.csv, and several files could be it: {}.",
                names.join(", ")
            )
        };
        checks::no_log(&self.folder.display().to_string(), found)
    }

    /// A file that a log may have: the one that the study file names, else the one of the usual name.
    fn other(
        &self,
        key: &str,
        given: &Option<String>,
        reeds: &Path,
    ) -> Result<Option<PathBuf>, Error> {
        if let Some(name) = given {
            return self.named(key, name).map(Some);
        }
        let mut found = Vec::new();
        for ending in ENDINGS {
            let usual = format!("{key}.{ending}");
            let place = Place::file(shown_name(self.shown, Path::new(&usual)));
            found.extend(access::file_of(&self.folder, &usual, place)?);
        }
        // the study file may have made a table of that name the list of pieces
        found.retain(|path| path != reeds);
        let found: Vec<&PathBuf> = found.iter().collect();
        Ok(self.only_one(key, &found)?.cloned())
    }

    /// A table that lies in the folder under that name.
    fn table(&self, path: &Path) -> Result<PathBuf, Error> {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let found =
            access::file_of(&self.folder, &name, Place::file(shown_name(self.shown, path)))?;
        // a name that is no text cannot be asked for again; the folder itself gave the path
        Ok(found.unwrap_or_else(|| path.to_path_buf()))
    }

    /// A file that the study file names, counted from the log's folder.
    fn named(&self, key: &str, name: &str) -> Result<PathBuf, Error> {
        let file = self.study.file.clone().unwrap_or_else(|| "study.toml".into());
        let place = Place::file(file).in_column(key);
        let found = access::file_of(&self.folder, name, place.clone())?;
        found.ok_or_else(|| checks::named_file_missing(place, name))
    }
}

/// A file as problems name it: `reeds.csv`, or `log/reeds.csv` where several logs are read.
pub(super) fn shown_name(shown: &str, path: &Path) -> String {
    let name = path
        .file_name()
        .map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
    if shown.is_empty() { name } else { format!("{shown}/{name}") }
}

pub(super) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}
