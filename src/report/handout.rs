//! `handout.html`: the page for a studio, which prints on one sheet.

use std::fs;
use std::path::{Path, PathBuf};

use minijinja::{AutoEscape, Error as LayoutError, context};
use serde::Serialize;

use super::cells::table_text;
use super::folder::{is_earlier_review, is_folder, names_in, refused};
use super::{cautions, template};
use crate::disk;
use crate::finding::{Handout, MadeBy};
use crate::plots::{self, palette};
use crate::problem::Error;
use crate::words::labels::plain;

const TEMPLATE: &str = include_str!("templates/handout.html");
const STYLE: &str = include_str!("templates/handout.css");
/// Its name in a folder.
pub(super) const FILE: &str = "handout.html";

#[derive(Serialize)]
struct View {
    question: String,
    title: Option<String>,
    answer: Vec<String>,
    /// Made by us and escaped where it was made.
    svg: String,
    reading: String,
    counts_title: String,
    headings: Vec<String>,
    rows: Vec<Vec<String>>,
    rated: String,
    would_do: Vec<String>,
    cannot_tell: Vec<String>,
    copy_it: Vec<String>,
    cautions_title: &'static str,
    cautions: String,
    rests_on: String,
    made_by: String,
    seed: String,
}

/// The page as one file that works offline, without a script.
///
/// # Errors
/// [`Error::Call`] for a fault of the template; a test renders it.
pub fn handout(handout: &Handout, made_by: &MadeBy) -> Result<String, Error> {
    laid_out(handout, made_by).map_err(|error| {
        Error::Call(format!("The page could not be laid out ({error}). Please report this."))
    })
}

fn laid_out(handout: &Handout, made_by: &MadeBy) -> Result<String, LayoutError> {
    let mut environment = template::environment()?;
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template(FILE, TEMPLATE)?;
    let style = format!("{}{}{STYLE}", palette::custom_properties(), palette::style_sheet());
    let handout = template::value(&view(handout, made_by));
    environment.get_template(FILE)?.render(context! { handout, style })
}

fn view(handout: &Handout, made_by: &MadeBy) -> View {
    let all_plain = |texts: &[String]| texts.iter().map(|text| plain(text)).collect();
    let counts = table_text(&handout.counts);
    let row =
        |cells: &Vec<super::cells::CellText>| cells.iter().map(|cell| cell.joined()).collect();
    View {
        question: plain(&handout.question),
        title: handout.title.as_deref().map(plain),
        answer: all_plain(&handout.answer),
        svg: plots::for_page(&plots::svg(&handout.chart)),
        reading: plain(&handout.chart.reading),
        counts_title: plain(&handout.counts.title),
        headings: counts.headings.clone(),
        rows: counts.rows.iter().map(row).collect(),
        rated: plain(&handout.rated),
        would_do: all_plain(&handout.would_do),
        cannot_tell: all_plain(&handout.cannot_tell),
        copy_it: all_plain(&handout.copy_it),
        cautions_title: cautions::TITLE,
        cautions: cautions::SENTENCES.join(" "),
        rests_on: plain(&handout.rests_on),
        made_by: format!("{} {}", made_by.name, made_by.version),
        seed: handout.seed.to_string(),
    }
}

/// Writes the page into a new or empty folder, an earlier review, or one that holds nothing but an earlier page, and gives its path.
///
/// # Errors
/// [`Error::Call`] where the folder holds anything else; [`Error::Write`] where the disk refuses.
pub fn write_handout(page: &str, out: &Path) -> Result<PathBuf, Error> {
    if is_folder(out)? {
        let is_ours = names_in(out)?.iter().all(|file| file == FILE);
        if !is_ours && !is_earlier_review(out) {
            return refused(out, "holds files that are not an earlier review");
        }
    }
    fs::create_dir_all(out).map_err(|source| Error::writing(out, source))?;
    let path = out.join(FILE);
    disk::replace(&path, page.as_bytes())?;
    Ok(path)
}
