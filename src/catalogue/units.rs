//! Units that people write, and the one unit that each is kept in.

/// A unit of measurement as it may stand in a header, a cell or the study file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    Millimetre,
    Day,
}
