//! The folder of a trial, which is never written over: the trial may have begun.
//!
//! A fresh folder comes to its place whole. Where the same plan lies there already, only files that are gone are written again; sheets that were filled in stay.

use std::fs;
use std::path::Path;

use super::folder::{is_folder, names_in, refused, write_whole};
use super::{csv_files, trial_sheet};
use crate::disk;
use crate::finding::Finding;
use crate::plan::Plan;
use crate::plots;
use crate::problem::Error;

const PLAN: &str = "plan.toml";

/// Writes the plan, its key, the sheets and the picture, and gives the names of files that were there already and differ.
///
/// # Errors
/// [`Error::Call`] where `out` holds anything but the same plan; [`Error::Write`] where the disk refuses.
pub fn write_trial(plan: &Plan, finding: &Finding, out: &Path) -> Result<Vec<String>, Error> {
    let files = contents(plan, finding)?;
    if holds_same_plan(plan, out)? {
        return add_missing(&files, out);
    }
    write_whole(&files, out)?;
    Ok(Vec::new())
}

/// Every file of the folder, by its path inside it.
fn contents(plan: &Plan, finding: &Finding) -> Result<Vec<(String, String)>, Error> {
    let arms = plan.arms_of_pieces();
    let value = |arm: usize| plan.arms.get(arm).map_or(String::new(), |arm| arm.value.clone());
    let sheet = trial_sheet::page(plan).map_err(|error| {
        Error::Call(format!("The sheet could not be laid out ({error}). Please report this."))
    })?;
    let mut files = vec![
        (PLAN.to_owned(), plan.to_toml()),
        ("key.csv".to_owned(), key(plan, &arms, value)),
        ("sheet.csv".to_owned(), making(plan, &arms, value)),
        ("rating_sheet.csv".to_owned(), rating(plan)),
        ("sheet.html".to_owned(), sheet),
    ];
    for chart in &finding.charts {
        files.push((format!("plots/{}.svg", chart.name), plots::svg(chart)));
    }
    Ok(files)
}

fn key(plan: &Plan, arms: &[usize], value: impl Fn(usize) -> String) -> String {
    let mut rows: Vec<Vec<String>> = plan
        .pieces
        .iter()
        .zip(arms)
        .map(|(piece, arm)| vec![piece.label.clone(), value(*arm)])
        .collect();
    rows.sort();
    csv_files::rows(&["reed", &plan.factor.name], rows)
}

/// Columns as a log has them, so that the rows can be taken over into it.
fn making(plan: &Plan, arms: &[usize], value: impl Fn(usize) -> String) -> String {
    let heading = ["order", "reed", "lot", "maker", &plan.factor.name, "started_on", "note"];
    let rows = plan.pieces.iter().zip(arms).map(|(piece, arm)| {
        let block = plan.block_of(piece);
        let lot = block.map_or(String::new(), |block| block.lot.clone());
        let maker = block.and_then(|block| block.maker.clone()).unwrap_or_default();
        let order = piece.order.to_string();
        vec![order, piece.label.clone(), lot, maker, value(*arm), String::new(), String::new()]
    });
    csv_files::rows(&heading, rows)
}

fn rating(plan: &Plan) -> String {
    let heading = ["reed", "date", "player", &plan.outcome.criterion];
    let rows = trial_sheet::labels(plan).into_iter();
    let empty = || vec![String::new(); heading.len() - 1];
    csv_files::rows(&heading, rows.map(|label| [vec![label], empty()].concat()))
}

/// Whether the folder holds this plan to the byte; refuses one that holds anything else.
fn holds_same_plan(plan: &Plan, out: &Path) -> Result<bool, Error> {
    if !is_folder(out)? {
        return Ok(false);
    }
    if names_in(out)?.is_empty() {
        return Ok(false);
    }
    match fs::read(out.join(PLAN)) {
        Ok(bytes) if bytes == plan.to_toml().as_bytes() => Ok(true),
        Ok(_) => refused(out, "holds another plan, whose trial may have begun"),
        Err(_) => refused(out, "holds files that are no trial"),
    }
}

fn add_missing(files: &[(String, String)], out: &Path) -> Result<Vec<String>, Error> {
    let mut kept = Vec::new();
    for (file, text) in files {
        let path = out.join(file);
        if !add(&path, text)? && fs::read(&path).ok().as_deref() != Some(text.as_bytes()) {
            kept.push(file.clone());
        }
    }
    Ok(kept)
}

/// Whether the file was not there and was written.
fn add(path: &Path, text: &str) -> Result<bool, Error> {
    if let Some(folder) = path.parent()
        && !is_folder(folder)?
    {
        fs::create_dir_all(folder).map_err(|source| Error::writing(folder, source))?;
    }
    if fs::symlink_metadata(path).is_ok() {
        return Ok(false);
    }
    disk::replace(path, text.as_bytes()).map(|()| true)
}
