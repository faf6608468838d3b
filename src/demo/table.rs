//! The tables of the log: which columns, and what each cell holds, before it is spelled.
//!
//! Tidy and messy files are both spelled from these tables, so they cannot
//! differ in content.

use super::entries::{Fate, Log, Measure, Piece, Rating};
use super::instruments::{THOU_MM, millimetres};
use jiff::civil::Date;

/// What a cell holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    Missing,
    Number(f64, usize),
    /// Days, which people also write in weeks.
    Days(f64),
    /// A thickness in thousandths of an inch.
    Thou(f64),
    /// A rating out of ten.
    Score(f64),
    Date(Date),
    Lot(String),
    Word(String),
    Fate(Fate),
    /// A rating that could not be given because the reed was gone.
    Gone,
}

impl Cell {
    /// The cell in the tidy files.
    pub fn tidy(&self) -> String {
        match self {
            Cell::Missing | Cell::Gone => String::new(),
            Cell::Number(value, decimals) => format!("{value:.decimals$}"),
            Cell::Days(value) => format!("{value:.0}"),
            Cell::Thou(value) => millimetres(*value),
            Cell::Score(value) => format!("{value:.1}"),
            Cell::Date(on) => on.to_string(),
            Cell::Lot(word) | Cell::Word(word) => word.clone(),
            Cell::Fate(fate) => fate.word().to_string(),
        }
    }
}

/// A column: its catalogue name and its header in the messy files.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    pub name: &'static str,
    pub messy: &'static str,
}

/// One table of the log.
#[derive(Debug, Clone)]
pub struct Table {
    pub file: &'static str,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Cell>>,
}

/// All tables of the log.
pub fn tables(log: &Log) -> Vec<Table> {
    vec![reeds(log), ratings(log), lots(log), profile(log), readings(log)]
}

fn table(
    file: &'static str,
    columns: &[(&'static str, &'static str)],
    rows: Vec<Vec<Cell>>,
) -> Table {
    let columns = columns.iter().map(|&(name, messy)| Column { name, messy }).collect();
    Table { file, columns, rows }
}

/// Column names of the reeds, tidy and messy, in the order of [`piece_cells`].
const REED_COLUMNS: [(&str, &str); 25] = [
    ("reed", "Reed #"),
    ("lot", "Cane"),
    ("tube", "Tube"),
    ("started_on", "Made"),
    ("finished_on", "Finished on"),
    ("tube_diameter_mm", "Tube diameter (mm)"),
    ("hardness", "Hardness"),
    ("density_g_cm3", "Density (g/cm3)"),
    ("gouge_center_mm", "Gouge centre (thou)"),
    ("gouge_edge_mm", "Gouge edge (mm)"),
    ("shape", "Shape"),
    ("shaping", "Shaping"),
    ("scoring", "Scoring"),
    ("forming_days", "Days on pin"),
    ("forming_rh_pct", "Forming RH (%)"),
    ("forming_c", "Pin room (°C)"),
    ("wire_1_mm", "Wire 1 (mm)"),
    ("length_mm", "Length (mm)"),
    ("tip_opening_mm", "Tip opening (mm)"),
    ("scrape_min", "Scrape (min)"),
    ("first_played", "First played"),
    ("last_played", "Last played"),
    ("hours_played", "Hours played"),
    ("fate", "Fate"),
    ("note", "Note"),
];
/// They follow the fate.
const SPOILED_COLUMNS: [(&str, &str); 2] =
    [("spoiled_at", "Spoiled at"), ("spoiled_by", "Spoiled by")];

fn reeds(log: &Log) -> Table {
    let columns = [REED_COLUMNS.as_slice(), SPOILED_COLUMNS.as_slice()].concat();
    let rows = log.pieces.iter().map(|piece| piece_cells(log, piece)).collect();
    table("reeds.csv", &columns, rows)
}

fn piece_cells(log: &Log, piece: &Piece) -> Vec<Cell> {
    let (spoiled_at, spoiled_by) = match piece.fate {
        Fate::Spoiled(step, how) => (word(step.word()), word(how)),
        _ => (Cell::Missing, Cell::Missing),
    };
    vec![
        word(&piece.reed),
        Cell::Lot(lot_name(log, piece.lot)),
        word(&piece.tube),
        Cell::Date(piece.started_on),
        date(piece.finished_on),
        number(piece.tube_diameter_mm, 1),
        number(piece.hardness, 1),
        number(piece.density_g_cm3, 2),
        piece.gouge_center_thou.map_or(Cell::Missing, Cell::Thou),
        number(piece.gouge_edge_mm, 2),
        choice(piece.shape),
        choice(piece.shaping),
        choice(piece.scoring),
        piece.forming_days.map_or(Cell::Missing, Cell::Days),
        number(piece.forming_rh_pct, 0),
        number(piece.forming_c, 1),
        number(piece.wire_1_mm, 1),
        number(piece.length_mm, 1),
        number(piece.tip_opening_mm, 2),
        number(piece.scrape_min, 0),
        date(piece.first_played),
        date(piece.last_played),
        number(piece.hours_played, 1),
        Cell::Fate(piece.fate),
        word(piece.note),
        spoiled_at,
        spoiled_by,
    ]
}

fn ratings(log: &Log) -> Table {
    let rows = log.ratings.iter().map(|rating| rating_cells(log, rating)).collect();
    let columns = [
        ("reed", "Reed #"),
        ("date", "Date"),
        ("player", "Player"),
        ("setting", "Setting"),
        ("overall", "Overall"),
        ("response", "Response"),
        ("pitch", "Pitch"),
    ];
    table("ratings.csv", &columns, rows)
}

fn rating_cells(log: &Log, rating: &Rating) -> Vec<Cell> {
    vec![
        reed(log, rating.piece),
        Cell::Date(rating.date),
        word(rating.player),
        word(rating.setting),
        rating.overall.map_or(Cell::Gone, Cell::Score),
        number(rating.response, 1),
        number(rating.pitch, 1),
    ]
}

fn lots(log: &Log) -> Table {
    let rows = log.lots.iter().map(|lot| {
        vec![
            word(lot.name),
            Cell::Date(lot.bought_on),
            number(Some(lot.price_per_piece), 2),
            number(Some(f64::from(lot.pieces_bought)), 0),
        ]
    });
    let columns = [
        ("lot", "Cane"),
        ("bought_on", "Bought on"),
        ("price_per_piece", "Price per piece"),
        ("pieces_bought", "Pieces bought"),
    ];
    table("lots.csv", &columns, rows.collect())
}

fn profile(log: &Log) -> Table {
    let rows = log.profile.iter().map(|point| {
        vec![
            reed(log, point.piece),
            number(Some(f64::from(point.from_tip_mm)), 0),
            word(point.line),
            number(Some(point.thickness_mm), 2),
            number(Some(f64::from(point.repeat)), 0),
        ]
    });
    let columns = [
        ("reed", "Reed #"),
        ("from_tip_mm", "From tip (mm)"),
        ("line", "Line"),
        ("thickness_mm", "Thickness (mm)"),
        ("repeat", "Repeat"),
    ];
    table("profile.csv", &columns, rows.collect())
}

fn readings(log: &Log) -> Table {
    let rows = log.readings.iter().map(|reading| {
        let (measure, value) = match reading.measure {
            Measure::Hardness => ("hardness", number(Some(reading.value), 1)),
            Measure::GougeCenter => ("gouge_center_mm", number(Some(reading.value * THOU_MM), 4)),
        };
        vec![
            reed(log, reading.piece),
            word(measure),
            value,
            word(reading.by),
            number(Some(f64::from(reading.repeat)), 0),
        ]
    });
    let columns = [
        ("reed", "Reed #"),
        ("measure", "Measure"),
        ("value", "Value"),
        ("by", "By"),
        ("repeat", "Repeat"),
    ];
    table("readings.csv", &columns, rows.collect())
}

fn word(text: &str) -> Cell {
    if text.is_empty() { Cell::Missing } else { Cell::Word(text.to_string()) }
}

fn choice(text: Option<&'static str>) -> Cell {
    word(text.unwrap_or(""))
}

fn number(value: Option<f64>, decimals: usize) -> Cell {
    value.map_or(Cell::Missing, |value| Cell::Number(value, decimals))
}

fn date(on: Option<Date>) -> Cell {
    on.map_or(Cell::Missing, Cell::Date)
}

fn reed(log: &Log, piece: usize) -> Cell {
    log.pieces.get(piece).map_or(Cell::Missing, |piece| word(&piece.reed))
}

fn lot_name(log: &Log, lot: usize) -> String {
    log.lots.get(lot).map_or_else(String::new, |lot| lot.name.to_string())
}
