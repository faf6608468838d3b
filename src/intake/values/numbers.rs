//! Numbers as people type them: decimal point or comma, thousands separated, a
//! unit behind, a tilde before.

use crate::catalogue::Unit;

/// The character between the whole part and the decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DecimalMark {
    Point,
    Comma,
}

/// What a column's cells say about its decimal mark. Rows are the caller's own numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkFound {
    /// No cell has decimals or thousands: nothing to decide.
    Unneeded,
    Point,
    Comma,
    /// Some cells can only have a point, others only a comma. Each such cell can be
    /// read by itself (`read` with no mark); `1,234` among them cannot.
    Mixed { point: usize, comma: usize },
    /// Only cells such as `1,234` that can be read either way; the first of them.
    Undecided { row: usize },
}

impl MarkFound {
    /// The mark to hand to [`read`].
    pub fn mark(self) -> Option<DecimalMark> {
        match self {
            MarkFound::Point | MarkFound::Unneeded => Some(DecimalMark::Point),
            MarkFound::Comma => Some(DecimalMark::Comma),
            MarkFound::Mixed { .. } | MarkFound::Undecided { .. } => None,
        }
    }
}

/// Gathers what the cells of a column say about the decimal mark.
///
/// A cell is evidence when it can be read in one way only: `49.5`, `0.523`
/// (a group of thousands never starts with 0), `1.234,5`, `1,234,567`. A cell
/// of one to three digits, one mark and exactly three digits could be either.
#[derive(Debug, Clone, Copy, Default)]
pub struct MarkEvidence {
    point: Option<usize>,
    comma: Option<usize>,
    either: Option<usize>,
}

impl MarkEvidence {
    /// Takes one cell; missing marks and words say nothing.
    pub fn add(&mut self, _row: usize, _cell: &str) {
        unimplemented!()
    }

    /// Joins the evidence of another column of the same file.
    pub fn merge(&mut self, _other: MarkEvidence) {
        unimplemented!()
    }

    pub fn decide(&self) -> MarkFound {
        unimplemented!()
    }
}

/// A number with what stood around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number {
    /// Always finite.
    pub value: f64,
    /// The unit in the cell: `1.30 mm`, `51 thou`, `38%`, `22 swg`.
    pub unit: Option<Unit>,
    /// `~10`, `ca. 10`, `about 10`, `10?`.
    pub approximate: bool,
}

/// Why a cell is no number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NumberError {
    /// No number stands there at all.
    NotANumber,
    /// `1,234`: the mark has to be known first.
    EitherMark,
    /// The mark in the cell is not the column's, and it is no thousands separator either.
    OtherMark,
    /// A number, then something that is no known unit.
    UnknownUnit(String),
    /// `10-12`, `10 to 12`.
    TwoNumbers,
    /// `<0.5`, `>20`: a bound, not a value.
    Bound,
    /// Too large to be held.
    NotFinite,
    /// `=A1+B1` or `#REF!`: a formula or its failure instead of its value.
    Formula,
}

/// Reads a number. With no `mark`, a cell that can be read either way is refused
/// and every other cell is read by itself. Fractions are taken for inches only (`2 5/16 in`).
pub fn read(_cell: &str, _mark: Option<DecimalMark>) -> Result<Number, NumberError> {
    unimplemented!()
}

/// Why a number cannot be brought to the unit that is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitError {
    /// Millimetres are no days.
    OtherQuantity { found: Unit, kept: Unit },
    /// `22 gauge`: AWG or SWG is not said.
    GaugeUnstated,
    /// No wire has that gauge number.
    NoSuchGauge,
}

impl Number {
    /// The value in the unit that is kept. The unit in the cell wins, then the
    /// column's, and without either the number is taken to be in `kept` already.
    pub fn kept_in(&self, _column: Option<Unit>, _kept: Option<Unit>) -> Result<f64, UnitError> {
        unimplemented!()
    }
}
