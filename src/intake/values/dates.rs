//! Dates as people type them, as days since 1970-01-01.

/// Which comes first in `3/4/2024`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DayOrder {
    DayFirst,
    MonthFirst,
}

/// What a column's cells say about the order of day and month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderFound {
    /// Year first or month by name throughout: nothing to decide.
    Unneeded,
    DayFirst,
    MonthFirst,
    /// Only dates such as `3/4/2024`; the first of them.
    Undecided { row: usize },
    /// Some cells can only be day first, others only month first; the first of each.
    Conflict { day_first: usize, month_first: usize },
}

impl OrderFound {
    /// The order to hand to [`read`].
    pub fn order(self) -> Option<DayOrder> {
        match self {
            OrderFound::DayFirst => Some(DayOrder::DayFirst),
            OrderFound::MonthFirst => Some(DayOrder::MonthFirst),
            _ => None,
        }
    }
}

/// Gathers what the cells of a column say. A day over 12 decides; so do dots
/// (`04.03.2024`), which are written day first wherever they are written (common practice).
#[derive(Debug, Clone, Copy, Default)]
pub struct OrderEvidence {
    day_first: Option<usize>,
    month_first: Option<usize>,
    dotted: Option<usize>,
    either: Option<usize>,
}

impl OrderEvidence {
    /// Takes one cell; what is no date says nothing.
    pub fn add(&mut self, _row: usize, _cell: &str) {
        unimplemented!()
    }

    /// Joins the evidence of another date column of the same file.
    pub fn merge(&mut self, _other: OrderEvidence) {
        unimplemented!()
    }

    pub fn decide(&self) -> OrderFound {
        unimplemented!()
    }
}

/// A day, and how it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Date {
    /// Days since 1970-01-01.
    pub day: i32,
    /// `24` was read as 2024 (80 to 99 as 1980 to 1999).
    pub short_year: bool,
}

/// Why a cell is no date.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DateError {
    NotADate,
    /// `45356`: a spreadsheet's serial number; the ISO date that it would be, counted from 1900.
    Serial(String),
    /// `30/2/2024`, `2024-13-01`: no such day in the calendar.
    Impossible,
    /// `3/4/2024` while nothing says which is the day.
    EitherOrder,
    /// `Mar 2024`, `4 March`: the day or the year is not there.
    Incomplete,
    /// Before 1900 or after 2100.
    FarAway,
}

/// Reads a date. `order` is needed for `3/4/2024` only; a cell that can be read in
/// the other order only (`3/20/24` in a day-first column) is [`DateError::Impossible`].
pub fn read(_cell: &str, _order: Option<DayOrder>) -> Result<Date, DateError> {
    unimplemented!()
}

/// Whether the cell looks like a date in any order: for finding what a column holds.
pub fn looks_like_date(_cell: &str) -> bool {
    unimplemented!()
}

/// The day as `2024-03-05`.
pub fn iso(_day: i32) -> String {
    unimplemented!()
}
