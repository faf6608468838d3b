//! The review folder, whole or not at all.
//!
//! Everything is written to a folder beside the target, which then takes the
//! target's place. An earlier review is replaced as a whole; a folder that
//! holds anything else is left alone.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::view::{Attached, View, view};
use super::{Review, csv_files, handout, html, json, markdown, parquet_files};
use crate::plots;
use crate::problem::Error;

/// What a review folder may hold.
const TOP_FILES: [&str; 5] =
    ["review.html", "review.md", "handout.html", "results.json", "set_aside.csv"];
const SUBFOLDERS: [(&str, &[&str]); 2] = [("plots", &["svg"]), ("tables", &["csv", "parquet"])];
const OUR_NAME: &str = "canewright";

/// Writes the review folder and gives the paths of its files.
///
/// # Errors
/// [`Error::Call`] where `out` exists and is neither an empty folder nor an
/// earlier review; [`Error::Write`] where the disk refuses.
pub fn write_folder(review: &Review, out: &Path) -> Result<Vec<PathBuf>, Error> {
    may_be_replaced(out)?;
    let files = contents(review)?;
    let (parent, name) = beside(out)?;
    fs::create_dir_all(&parent).map_err(|source| Error::writing(&parent, source))?;
    let fresh = Temporary::new(parent.join(format!(".{name}.part-{}", std::process::id())))?;
    for (file, bytes) in &files {
        write(&fresh.path.join(file), bytes)?;
    }
    swap(&fresh.path, out, &parent.join(format!(".{name}.old-{}", std::process::id())))?;
    Ok(files.into_iter().map(|(file, _)| out.join(file)).collect())
}

/// Every file of the folder, by its path inside it.
fn contents(review: &Review) -> Result<Vec<(String, Vec<u8>)>, Error> {
    let (view, attached) = view(review);
    let Attached { charts, tables } = attached;
    let mut files = pages(&view)?;
    if let Some(handout) = review.handout {
        files.push((handout::FILE.to_owned(), handout::handout(handout, &review.results.made_by)?));
    }
    files.push(("results.json".to_owned(), json(review.results)));
    files.push(("set_aside.csv".to_owned(), csv_files::set_aside(review.set_aside)));
    files.extend(charts.into_iter().map(|(file, chart)| (file, plots::svg(&chart))));
    files.extend(tables.iter().map(|(file, table)| (file.clone(), csv_files::table(table))));
    let mut files: Vec<(String, Vec<u8>)> =
        files.into_iter().map(|(file, text)| (file, text.into_bytes())).collect();
    if review.parquet {
        for (file, table) in tables {
            let file = Path::new(&file).with_extension("parquet").to_string_lossy().into_owned();
            files.push((file, parquet_files::table(table)?));
        }
    }
    Ok(files)
}

fn pages(view: &View) -> Result<Vec<(String, String)>, Error> {
    let failed = |error: minijinja::Error| {
        Error::Call(format!("The page could not be laid out ({error}). Please report this."))
    };
    Ok(vec![
        ("review.html".to_owned(), html::page(view).map_err(failed)?),
        ("review.md".to_owned(), markdown::page(view).map_err(failed)?),
    ])
}

/// The folder that holds the target, and the target's name.
pub(super) fn beside(out: &Path) -> Result<(PathBuf, String), Error> {
    let Some(name) = out.file_name() else {
        return Err(Error::Call(format!(
            "“{}” names no folder that could be made. Give a new folder, such as `--out review`.",
            out.display()
        )));
    };
    let parent = match out.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    };
    Ok((parent, name.to_string_lossy().into_owned()))
}

/// Nothing there, an empty folder, or an earlier review and nothing beside it.
fn may_be_replaced(out: &Path) -> Result<(), Error> {
    let kind = match fs::symlink_metadata(out) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(source) => return Err(Error::writing(out, source)),
        Ok(metadata) => metadata.file_type(),
    };
    if !kind.is_dir() {
        return refused(out, "is not a folder");
    }
    let names = names_in(out)?;
    if names.is_empty() {
        return Ok(());
    }
    if !is_earlier_review(out) {
        return refused(out, "holds files that are not an earlier review");
    }
    match stranger(out, &names)? {
        Some(name) => {
            refused(out, &format!("holds “{name}” beside an earlier review, which would be lost"))
        }
        None => Ok(()),
    }
}

pub(super) fn refused<Nothing>(out: &Path, why: &str) -> Result<Nothing, Error> {
    Err(Error::Call(format!(
        "“{}” {why}. Nothing was written. Name another folder with `--out`, or move what is there.",
        out.display()
    )))
}

/// `made_by.name` of its `results.json` is ours.
pub(super) fn is_earlier_review(folder: &Path) -> bool {
    let read = fs::read(folder.join("results.json")).ok();
    let results = read.and_then(|bytes| serde_json::from_slice::<serde_json::Value>(&bytes).ok());
    results.is_some_and(|results| results["made_by"]["name"] == OUR_NAME)
}

/// The first entry that no review writes.
fn stranger(folder: &Path, names: &[String]) -> Result<Option<String>, Error> {
    for name in names {
        let subfolder = SUBFOLDERS.iter().find(|(subfolder, _)| subfolder == name);
        let Some((_, endings)) = subfolder else {
            if TOP_FILES.contains(&name.as_str()) {
                continue;
            }
            return Ok(Some(name.clone()));
        };
        let inside = names_in(&folder.join(name))?;
        let is_ours = |file: &&String| {
            Path::new(file).extension().is_some_and(|e| endings.iter().any(|ending| e == *ending))
        };
        if let Some(other) = inside.iter().find(|file| !is_ours(file)) {
            return Ok(Some(format!("{name}/{other}")));
        }
    }
    Ok(None)
}

/// Sorted, so that a message names the same entry every time.
pub(super) fn names_in(folder: &Path) -> Result<Vec<String>, Error> {
    let entries = fs::read_dir(folder).map_err(|source| Error::reading(folder, source))?;
    let names: Result<Vec<String>, io::Error> = entries
        .map(|entry| entry.map(|entry| entry.file_name().to_string_lossy().into_owned()))
        .collect();
    let mut names = names.map_err(|source| Error::reading(folder, source))?;
    names.sort();
    Ok(names)
}

pub(super) fn write(path: &Path, contents: impl AsRef<[u8]>) -> Result<(), Error> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).map_err(|source| Error::writing(folder, source))?;
    }
    fs::write(path, contents).map_err(|source| Error::writing(path, source))
}

/// Puts the fresh folder in the target's place. Where the last step fails the
/// earlier review goes back.
pub(super) fn swap(fresh: &Path, out: &Path, aside: &Path) -> Result<(), Error> {
    let moved =
        |from: &Path, to: &Path| fs::rename(from, to).map_err(|source| Error::writing(out, source));
    if !out.exists() {
        return moved(fresh, out);
    }
    moved(out, aside)?;
    if let Err(error) = moved(fresh, out) {
        moved(aside, out)?;
        return Err(error);
    }
    fs::remove_dir_all(aside).map_err(|source| Error::writing(aside, source))
}

/// A folder that goes away when the work is not finished.
pub(super) struct Temporary {
    pub path: PathBuf,
}

impl Temporary {
    pub fn new(path: PathBuf) -> Result<Temporary, Error> {
        if path.exists() {
            fs::remove_dir_all(&path).map_err(|source| Error::writing(&path, source))?;
        }
        fs::create_dir_all(&path).map_err(|source| Error::writing(&path, source))?;
        Ok(Temporary { path })
    }
}

impl Drop for Temporary {
    fn drop(&mut self) {
        // after the renaming there is nothing left here, and that is well
        let _ = fs::remove_dir_all(&self.path);
    }
}
