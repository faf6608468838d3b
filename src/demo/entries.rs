//! What the invented maker wrote down: plain tables, before they become files.

use jiff::civil::Date;

/// The whole invented log.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    pub lots: Vec<Lot>,
    /// In the order in which they were started.
    pub pieces: Vec<Piece>,
    pub ratings: Vec<Rating>,
    pub profile: Vec<ProfilePoint>,
    pub readings: Vec<Reading>,
    /// What no maker can know, for tests that ask for the truth back.
    pub hidden: Hidden,
}

/// The truth behind the log.
#[derive(Debug, Clone, PartialEq)]
pub struct Hidden {
    /// Rating points that each lot adds, in the order of [`Log::lots`].
    pub lot_effects: Vec<f64>,
    /// The quality each piece has or would have had, in the order of [`Log::pieces`].
    pub qualities: Vec<f64>,
}

/// One purchase of cane.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    pub name: &'static str,
    pub bought_on: Date,
    pub price_per_piece: f64,
    pub pieces_bought: u32,
}

/// The steps of the making, in order; a spoiled piece is spoiled at one of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    Cane,
    Gouge,
    Shape,
    Profile,
    Form,
    Bind,
    Finish,
    Play,
}

impl Step {
    /// The word for the step in the files.
    pub fn word(self) -> &'static str {
        match self {
            Step::Cane => "cane",
            Step::Gouge => "gouge",
            Step::Shape => "shape",
            Step::Profile => "profile",
            Step::Form => "form",
            Step::Bind => "bind",
            Step::Finish => "finish",
            Step::Play => "play",
        }
    }
}

/// What became of a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    InUse,
    WornOut,
    Lost,
    GivenAway,
    Unfinished,
    /// Spoiled at a step, and how.
    Spoiled(Step, &'static str),
}

impl Fate {
    /// The word for the fate in the files.
    pub fn word(self) -> &'static str {
        match self {
            Fate::InUse => "in_use",
            Fate::WornOut => "worn_out",
            Fate::Lost => "lost",
            Fate::GivenAway => "given_away",
            Fate::Unfinished => "unfinished",
            Fate::Spoiled(..) => "spoiled",
        }
    }
}

/// One piece of cane as it was written down; `None` is an empty cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    pub reed: String,
    /// Index into [`Log::lots`].
    pub lot: usize,
    pub tube: String,
    pub started_on: Date,
    pub finished_on: Option<Date>,
    pub tube_diameter_mm: Option<f64>,
    pub hardness: Option<f64>,
    pub density_g_cm3: Option<f64>,
    /// Read on a dial in half thousandths of an inch: see [`super::instruments::dial_reading`].
    pub gouge_center_thou: Option<f64>,
    pub gouge_edge_mm: Option<f64>,
    pub shape: Option<&'static str>,
    pub shaping: Option<&'static str>,
    pub scoring: Option<&'static str>,
    pub forming_days: Option<f64>,
    pub forming_rh_pct: Option<f64>,
    pub forming_c: Option<f64>,
    pub wire_1_mm: Option<f64>,
    pub length_mm: Option<f64>,
    pub tip_opening_mm: Option<f64>,
    pub scrape_min: Option<f64>,
    pub first_played: Option<Date>,
    pub last_played: Option<Date>,
    pub hours_played: Option<f64>,
    pub fate: Fate,
    pub note: &'static str,
}

/// One player's rating of one reed on one day; `overall` is empty where the reed was gone by then.
#[derive(Debug, Clone, PartialEq)]
pub struct Rating {
    /// Index into [`Log::pieces`].
    pub piece: usize,
    pub date: Date,
    pub player: &'static str,
    pub setting: &'static str,
    pub overall: Option<f64>,
    pub response: Option<f64>,
    pub pitch: Option<f64>,
}

/// One thickness of a finished blade.
#[derive(Debug, Clone, PartialEq)]
pub struct ProfilePoint {
    /// Index into [`Log::pieces`].
    pub piece: usize,
    pub from_tip_mm: u32,
    pub line: &'static str,
    pub thickness_mm: f64,
    pub repeat: u32,
}

/// What was read again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    GougeCenter,
    Hardness,
}

/// One of several readings of the same thing; `value` is in the unit of the instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Index into [`Log::pieces`].
    pub piece: usize,
    pub measure: Measure,
    pub value: f64,
    pub by: &'static str,
    pub repeat: u32,
}
