//! What a study is made of.

use std::collections::BTreeMap;

use polars::prelude::DataFrame;

use super::outcome::{Better, Settled};
use crate::catalogue::Stage;
use crate::problem::SetAside;

/// Everything that the reader hands over, validated.
///
/// * `pieces`: one row a piece. `reed` (text, unique, never null); `lot`, `tube`, `maker` (text);
///   `started_on`, `finished_on`, `first_played`, `last_played` (date); `hours_played` (number);
///   `fate` (a word of [`super::Fate`]); `spoiled_at` (a stage's word), `spoiled_by`, `note` (text); then one
///   column a factor under its name: `f64` for numbers, text for choices (yes/no are the choices `yes` and `no`).
///   Columns that the log does not have are absent, except `reed`.
/// * `ratings`: one row a score. `piece` (u32, row of `pieces`, never null, here and below), `player`, `setting` (text), `date`,
///   `criterion` (text, never null), `score` (number, never null, on the maker's own scale).
/// * `lots`: one row a lot of `lots.csv`: `lot`, `bought_on`, `price_per_piece`, `pieces_bought`, others.
/// * `profile`: `piece`, `from_tip_mm`, `line` (text), `repeat` (u32), `thickness_mm`.
/// * `readings`: `piece`, `measure` (text), `value`, `by` (text), `repeat` (u32).
#[derive(Debug, Clone)]
pub struct StudyParts {
    pub name: String,
    pub settings: Settings,
    pub files: Vec<FileRead>,
    pub factors: Vec<Factor>,
    pub understood: Vec<Understood>,
    pub set_aside: Vec<SetAside>,
    pub pieces: DataFrame,
    pub ratings: DataFrame,
    pub lots: DataFrame,
    pub profile: DataFrame,
    pub readings: DataFrame,
}

/// What counts: the study file's answers, or what was found from the data.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    pub title: String,
    /// Worst and best possible mark as numbers: `[1, 10]`. The first is always the smaller.
    pub scale: [f64; 2],
    /// Whether the study file gave the scale.
    pub scale_given: bool,
    pub good_at: f64,
    pub good_at_given: bool,
    /// Smallest difference worth having, in rating points.
    pub worthwhile: f64,
    pub worthwhile_given: bool,
    /// The criterion that is the rating.
    pub outcome: String,
    pub settled: Settled,
    pub best: Better,
    /// Days that count as the present practice.
    pub window: u32,
    /// Criteria with an ideal in the middle, and the ideal.
    pub targets: BTreeMap<String, f64>,
    /// Candidate values that the study file names under `[decide]`, by factor, as text.
    pub candidates: BTreeMap<String, Vec<String>>,
}

/// One file as it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileRead {
    pub name: String,
    /// SHA-256 of the bytes, in hexadecimal.
    pub sha256: String,
    pub encoding: String,
    /// None in a file that has none.
    pub delimiter: Option<char>,
    /// Records below the header that hold anything.
    pub rows_read: usize,
    pub rows_used: usize,
    pub rows_set_aside: usize,
}

/// Whether a factor is a number or a choice among named levels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FactorKind {
    Number,
    Choice,
}

/// A column that may predict how a reed plays.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// Catalogue name, or the folded header of the maker's own column.
    pub name: String,
    /// What pages call it: `gouge at the centre`.
    pub label: String,
    /// The header as it stands in the file.
    pub header: String,
    pub stage: Stage,
    pub kind: FactorKind,
    /// The unit as printed: `mm`, `days`; none for choices and bare numbers.
    pub unit: Option<String>,
    /// The declared usual step, in the unit.
    pub step: Option<f64>,
    /// What a higher reading means (`softer`), where the study file says.
    pub higher_is: Option<String>,
    /// A question that the study file asks beforehand under `[decide]`.
    pub asked_beforehand: bool,
}

impl Factor {
    /// Whether it goes by this name, capitals aside: its own, its header in the log, or what pages call it.
    pub fn is_called(&self, asked: &str) -> bool {
        let folded = |text: &str| text.trim().to_lowercase();
        [&self.name, &self.header, &self.label].iter().any(|own| folded(own) == folded(asked))
    }
}

/// How one column was understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Understood {
    pub file: String,
    pub header: String,
    /// Catalogue name or the maker's own, empty when the column was not used.
    pub name: String,
    pub meaning: String,
    pub stage: Stage,
    /// As read: `thousandths of an inch`; empty where there is none.
    pub unit_read: String,
    /// As kept: `mm`.
    pub unit_kept: String,
    pub values: usize,
    pub missing: usize,
    /// Smallest and largest value kept, for numbers and dates, as printed.
    pub range: Option<(String, String)>,
    /// Up to three cells as they stand in the file.
    pub examples: Vec<String>,
    /// What was decided: `decimal comma`, `day before month`.
    pub decided: Vec<String>,
}

/// A grouping: one code a row, and what the codes stand for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Labels {
    pub codes: Vec<Option<u32>>,
    /// Sorted by name.
    pub levels: Vec<String>,
}

impl Labels {
    /// The name behind a code.
    pub fn name(&self, code: u32) -> &str {
        self.levels.get(code as usize).map_or("", String::as_str)
    }
}

/// One thickness reading of a profile.
#[derive(Debug, Clone, PartialEq)]
pub struct ProfileReading {
    pub piece: usize,
    pub from_tip_mm: f64,
    pub line: String,
    pub repeat: u32,
    pub thickness_mm: f64,
}

/// The features that stand for all readings of a profile: names of factors that no column of the log has.
pub const PROFILE_FEATURES: [&str; 5] = [
    "profile_level",
    "profile_taper",
    "profile_spine_to_rail",
    "profile_spine_to_channel",
    "profile_asymmetry",
];

/// The name under which a study file asks about one point of a profile: `profile_2_5_spine_mm`. Points are told apart to a
/// tenth of a millimetre.
pub fn profile_point_name(from_tip_mm: f64, line: &str) -> String {
    let at = ((from_tip_mm * 10.0).round() / 10.0).to_string().replace('.', "_");
    format!("profile_{at}_{line}_mm")
}

/// One repeat reading of another measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct RepeatReading {
    pub piece: usize,
    pub measure: String,
    pub value: f64,
    pub by: Option<String>,
    pub repeat: Option<u32>,
}
