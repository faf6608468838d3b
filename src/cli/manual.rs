//! `completions` and `manual`: what a shell completes and what `man` shows, both from the definitions of the verbs.

use std::fs;
use std::path::Path;

use clap::{Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};

use super::arguments::Arguments;
use crate::disk;
use crate::problem::Error;

/// The script that completes verbs and options in a shell.
pub fn completions(shell: Shell) -> String {
    let mut command = Arguments::command();
    let name = command.get_name().to_owned();
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut command, name, &mut script);
    String::from_utf8_lossy(&script).into_owned()
}

/// Writes a page for the program and one for each verb; of what the folder holds only earlier pages of the same names are written over.
///
/// # Errors
/// When the folder cannot be written.
pub fn write(dir: &Path) -> Result<String, Error> {
    fs::create_dir_all(dir).map_err(|why| Error::writing(dir, why))?;
    let pages = pages();
    for (name, page) in &pages {
        disk::replace(&dir.join(name), page)?;
    }
    let (count, dir) = (pages.len(), dir.display());
    Ok(format!("{count} pages are in {dir}. Read the first with: man -l {dir}/canewright.1\n"))
}

/// Every page by the name of its file, the program's own last.
fn pages() -> Vec<(String, Vec<u8>)> {
    let mut command = Arguments::command().disable_help_subcommand(true);
    command.build();
    let mut pages = Vec::new();
    add(&command, &mut pages);
    pages
}

fn add(command: &Command, pages: &mut Vec<(String, Vec<u8>)>) {
    command.get_subcommands().for_each(|verb| add(verb, pages));
    let page = Man::new(command.clone());
    // memory takes whatever is written
    if let Ok(text) = written(&page, command) {
        pages.push((page.get_filename(), text));
    }
}

/// The parts in the usual order. What stands behind the options is written here, because examples must keep their lines.
fn written(page: &Man, command: &Command) -> std::io::Result<Vec<u8>> {
    let mut text = Vec::new();
    page.render_title(&mut text)?;
    page.render_name_section(&mut text)?;
    page.render_synopsis_section(&mut text)?;
    page.render_description_section(&mut text)?;
    page.render_options_section(&mut text)?;
    if command.has_subcommands() {
        page.render_subcommands_section(&mut text)?;
    }
    notes(command).to_writer(&mut text)?;
    Ok(text)
}

fn notes(command: &Command) -> Roff {
    let mut notes = Roff::new();
    let Some(told) = command.get_after_help() else { return notes };
    notes.control("SH", ["NOTES"]);
    for line in told.to_string().lines() {
        notes.text([roman(line)]).control("br", []);
    }
    notes
}
