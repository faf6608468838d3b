//! From bytes to a validated [`Study`]: `files -> encoding -> dialect -> records`
//! give tables of cells (`sheets`; of Parquet, `parquet` does); `columns` finds what each header means; `pieces`,
//! `ratings`, `lots`, `profile` and `readings` read each column as a whole;
//! `scale` settles what counts; `studio` pools several logs.
//!
//! Nothing is guessed in silence and nothing is lost: what could not be used is
//! a [`Problem`] and, word for word, set aside. `values` holds the parsers of
//! single cells, `checks` one function a rule.

mod access;
mod cells;
mod checks;
mod columns;
mod context;
mod criteria;
mod dialect;
mod encoding;
mod endings;
mod excerpt;
mod files;
mod found_scale;
mod frames;
mod id_places;
mod identity;
mod ledger;
mod lots;
mod parquet;
mod parts;
mod piece_columns;
mod piece_ratings;
mod pieces;
mod player_ranges;
mod pooling;
mod profile;
mod ratings;
mod readings;
mod records;
mod reed_rows;
mod scale;
mod scores;
mod sheets;
mod studio;
mod study_file;
mod study_keys;
mod text_column;
mod titles;
pub mod values;
mod window;

use std::path::{Path, PathBuf};

use crate::problem::{Error, Problem, Rule, Severity};
use crate::study::Study;

/// How a log is read.
///
/// | option | default | what it does |
/// | --- | --- | --- |
/// | `from` | none | keeps pieces started (or finished) on this day or later |
/// | `until` | none | keeps pieces started (or finished) on this day or earlier |
/// | `max_bytes` | 4 GiB | largest file in bytes; what it holds as text may come to 4 GiB too, and no more |
/// | `max_line` | 16 MiB | longest line in bytes, so that no row asks for more memory than a log |
/// | `max_rows` | 100,000,000 | most rows of a file: what measuring machines write comes to a tenth of that, and short rows take more memory than bytes |
/// | `max_cell` | 65,536 | largest cell in bytes |
/// | `max_columns` | 4,096 | most columns of a file, and most cells of a row |
/// | `kept_of_a_kind` | 1,000 | problems of one rule in one column kept in full; the rest is counted |
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadOptions {
    /// Days since 1970-01-01.
    pub from: Option<i32>,
    /// Days since 1970-01-01.
    pub until: Option<i32>,
    pub max_bytes: u64,
    pub max_line: usize,
    pub max_rows: usize,
    pub max_cell: usize,
    pub max_columns: usize,
    pub kept_of_a_kind: usize,
}

impl Default for ReadOptions {
    fn default() -> Self {
        ReadOptions {
            from: None,
            until: None,
            max_bytes: 4 << 30,
            max_line: 16 << 20,
            max_rows: 100_000_000,
            max_cell: 64 * 1024,
            max_columns: 4096,
            kept_of_a_kind: 1000,
        }
    }
}

/// A log as it was read, and everything that was found on the way.
#[derive(Debug, Clone)]
pub struct Reading {
    pub study: Study,
    pub problems: Vec<Problem>,
}

impl Reading {
    /// Whether a cell became missing or a row was set aside.
    pub fn has_errors(&self) -> bool {
        self.problems.iter().any(|problem| problem.severity == Severity::Error)
    }
}

/// Reads one or more logs: folders, or single files, CSV or Parquet. Several are pooled as a studio's.
///
/// # Errors
/// Where a log cannot be read at all: a file that is not there or is no table, a study
/// file that says what cannot be, an outcome that nobody names. The error says where and what to do.
pub fn read(logs: &[PathBuf], options: &ReadOptions) -> Result<Reading, Error> {
    let mut ledger = ledger::Ledger::new(options.kept_of_a_kind);
    let several = logs.len() > 1;
    let mut read = Vec::with_capacity(logs.len());
    for (log, shown) in logs.iter().zip(studio::shown_names(logs)) {
        read.push(studio::read_log(&mut ledger, log, if several { &shown } else { "" }, options)?);
    }
    pooling::each_once(logs, &read)?;
    pooling::remark_on_lots(&mut ledger, &read);
    let (problems, set_aside) = ledger.close();
    let parts = pooling::pool(read, set_aside)?;
    let study = window::within(Study::new(parts), options.from, options.until)?;
    Ok(Reading { study, problems })
}

/// A table word for word, whatever its columns mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlainTable {
    /// The file's name as problems print it.
    pub file: String,
    pub header: Vec<String>,
    /// Each row's line and its cells, as many as the header has.
    pub rows: Vec<(u64, Vec<String>)>,
}

/// Reads one CSV or Parquet file that is no log.
///
/// # Errors
/// Where it is no table, or a row does not fit its header.
pub fn table(path: &Path) -> Result<PlainTable, Error> {
    sheets::plain(path, &ReadOptions::default())
}

/// Every rule that the reader applies.
pub fn rules() -> &'static [Rule] {
    checks::RULES
}
