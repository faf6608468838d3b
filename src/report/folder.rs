//! The review folder, whole or not at all.
//!
//! Everything is written to a folder beside the target, which then takes the
//! target's place. An earlier review is replaced as a whole; a folder that
//! holds anything else is left alone, and so is one behind a link.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde::Deserialize;

use super::view::{Attached, View, view};
use super::{Review, csv_files, handout, html, json, markdown, parquet_files};
use crate::disk::Fresh;
use crate::problem::Error;

/// What a review folder may hold.
const TOP_FILES: [&str; 5] = ["review.html", "review.md", "handout.html", RESULTS, "set_aside.csv"];
const SUBFOLDERS: [(&str, &[&str]); 2] = [("plots", &["svg"]), ("tables", &["csv", "parquet"])];
const RESULTS: &str = "results.json";
const OUR_NAME: &str = "canewright";

/// Writes the review folder and gives the paths of its files.
///
/// # Errors
/// [`Error::Call`] where `out` exists and is neither an empty folder nor an
/// earlier review; [`Error::Write`] where the disk refuses.
pub fn write_folder(review: &Review, out: &Path) -> Result<Vec<PathBuf>, Error> {
    may_be_replaced(out)?;
    let fresh = Fresh::beside(out)?;
    // the results are the largest file by far: they are written while the pages are laid out
    let (written, files) =
        rayon::join(|| fresh.write(RESULTS, json(review.results)), || contents(review));
    written?;
    let files = files?;
    for (file, contents) in &files {
        fresh.write(file, contents)?;
    }
    fresh.take_place()?;
    let names = std::iter::once(RESULTS.to_owned()).chain(files.into_iter().map(|(file, _)| file));
    Ok(names.map(|file| out.join(file)).collect())
}

/// Writes a folder of these files in the place of what is there.
pub(super) fn write_whole(files: &[(String, impl AsRef<[u8]>)], out: &Path) -> Result<(), Error> {
    let fresh = Fresh::beside(out)?;
    for (file, contents) in files {
        fresh.write(file, contents)?;
    }
    fresh.take_place()
}

/// Every file of the folder but the results, by its path inside it.
fn contents(review: &Review) -> Result<Vec<(String, Vec<u8>)>, Error> {
    let (view, Attached { charts, tables }) = view(review);
    let mut files = pages(&view)?;
    if let Some(handout) = review.handout {
        files.push((handout::FILE.to_owned(), handout::handout(handout, &review.results.made_by)?));
    }
    files.push(("set_aside.csv".to_owned(), csv_files::set_aside(review.set_aside)));
    files.extend(charts);
    files
        .par_extend(tables.par_iter().map(|(file, table)| (file.clone(), csv_files::table(table))));
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
    let (html, markdown) = rayon::join(|| html::page(view), || markdown::page(view));
    Ok(vec![
        ("review.html".to_owned(), html.map_err(failed)?),
        ("review.md".to_owned(), markdown.map_err(failed)?),
    ])
}

/// Nothing there, an empty folder, or an earlier review and nothing beside it.
fn may_be_replaced(out: &Path) -> Result<(), Error> {
    if !is_folder(out)? {
        return Ok(());
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

/// Whether there is a folder; refuses what is none, and a link, behind which lies a folder that nobody named.
pub(super) fn is_folder(out: &Path) -> Result<bool, Error> {
    match fs::symlink_metadata(out) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(source) => Err(Error::writing(out, source)),
        Ok(metadata) if metadata.is_dir() => Ok(true),
        Ok(metadata) if metadata.is_symlink() => {
            refused(out, "is a link, and nothing is written behind one")
        }
        Ok(_) => refused(out, "is not a folder"),
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
    /// Of large results nothing else is held.
    #[derive(Deserialize)]
    struct Made {
        made_by: Program,
    }
    #[derive(Deserialize)]
    struct Program {
        name: String,
    }
    let read = fs::read(folder.join(RESULTS)).ok();
    let made = read.and_then(|bytes| serde_json::from_slice::<Made>(&bytes).ok());
    made.is_some_and(|made| made.made_by.name == OUR_NAME)
}

/// The first entry that the earlier review did not write: it names all its pictures and tables.
fn stranger(folder: &Path, names: &[String]) -> Result<Option<String>, Error> {
    // without its page nothing in the subfolders is known to be the review's
    let page = fs::read_to_string(folder.join("review.md")).unwrap_or_default();
    for name in names {
        let subfolder = SUBFOLDERS.iter().find(|(subfolder, _)| subfolder == name);
        let Some((_, endings)) = subfolder else {
            if TOP_FILES.contains(&name.as_str()) && !folder.join(name).is_dir() {
                continue;
            }
            return Ok(Some(name.clone()));
        };
        for file in names_in(&folder.join(name))? {
            let path = format!("{name}/{file}");
            let ending = Path::new(&file).extension();
            let is_ours = ending.is_some_and(|e| endings.iter().any(|ending| e == *ending))
                && page.contains(&named_as(&path))
                && !folder.join(&path).is_dir();
            if !is_ours {
                return Ok(Some(path));
            }
        }
    }
    Ok(None)
}

/// What the page calls a file: of a table it names the CSV alone.
fn named_as(path: &str) -> String {
    path.strip_suffix(".parquet").map_or_else(|| path.to_owned(), |table| format!("{table}.csv"))
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
