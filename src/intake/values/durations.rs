//! Spans of time in words: `2 wks`, `3 weeks`, `~10`, `1 h 30`, `a fortnight`.

use super::numbers::{DecimalMark, Number, NumberError, UnitError};
use crate::catalogue::Unit;

/// Why a cell is no span of time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DurationError {
    Number(NumberError),
    Unit(UnitError),
    /// `overnight`, `a while`: words without a number.
    Words,
    /// Less than nothing.
    Negative,
    /// It is a date, not a span of time.
    Date,
}

/// Reads a span of time in `kept` (`Unit::Day`, `Unit::Minute`, `Unit::Hour`).
/// A bare number is in `column`, else in `kept`. Months count 30.44 days and
/// are marked approximate. The `unit` of the answer is the unit in the cell.
pub fn read(
    _cell: &str,
    _mark: Option<DecimalMark>,
    _column: Option<Unit>,
    _kept: Unit,
) -> Result<Number, DurationError> {
    unimplemented!()
}
