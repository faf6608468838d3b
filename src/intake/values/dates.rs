//! Dates as people type them, as days since 1970-01-01.

use jiff::civil::Date as CivilDate;

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
    Undecided {
        row: usize,
    },
    /// Some cells can only be day first, others only month first; the first of each.
    Conflict {
        day_first: usize,
        month_first: usize,
    },
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
    /// Whether a date with dots can only have the month first: then dots say nothing.
    dots_month_first: bool,
    either: Option<usize>,
}

impl OrderEvidence {
    /// Takes one cell; what is no date says nothing.
    pub fn add(&mut self, row: usize, cell: &str) {
        let Some(Parts::Numeric { first, second, dotted, .. }) = parts(without_time(cell)) else {
            return;
        };
        self.dots_month_first |= dotted && second > 12 && first <= 12;
        let slot = match (first > 12, second > 12) {
            (true, false) => &mut self.day_first,
            (false, true) => &mut self.month_first,
            (true, true) => return,
            // the same day whichever comes first
            (false, false) if first == second => return,
            (false, false) if dotted => &mut self.dotted,
            (false, false) => &mut self.either,
        };
        slot.get_or_insert(row);
    }

    /// Joins the evidence of another date column of the same file.
    pub fn merge(&mut self, other: OrderEvidence) {
        self.day_first = self.day_first.or(other.day_first);
        self.month_first = self.month_first.or(other.month_first);
        self.dotted = self.dotted.or(other.dotted);
        self.dots_month_first |= other.dots_month_first;
        self.either = self.either.or(other.either);
    }

    pub fn decide(&self) -> OrderFound {
        let dotted = self.dotted.filter(|_| !self.dots_month_first);
        match (self.day_first.or(dotted), self.month_first) {
            (Some(day_first), Some(month_first)) => OrderFound::Conflict { day_first, month_first },
            (Some(_), None) => OrderFound::DayFirst,
            (None, Some(_)) => OrderFound::MonthFirst,
            (None, None) => {
                self.either.map_or(OrderFound::Unneeded, |row| OrderFound::Undecided { row })
            }
        }
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
pub fn read(cell: &str, order: Option<DayOrder>) -> Result<Date, DateError> {
    let cell = without_time(cell);
    match parts(cell) {
        Some(Parts::YearFirst { year, month, day }) => civil(i64::from(year), month, day, false),
        Some(Parts::Named { day, month, year }) => with_year(year, month, day),
        Some(Parts::Numeric { first, second, year, .. }) => match order {
            Some(DayOrder::DayFirst) => with_year(year, second, first),
            Some(DayOrder::MonthFirst) => with_year(year, first, second),
            None if first == second => with_year(year, first, second),
            // one reading each
            None if first > 12 => with_year(year, second, first),
            None if second > 12 => with_year(year, first, second),
            None => Err(DateError::EitherOrder),
        },
        Some(Parts::Incomplete) => Err(DateError::Incomplete),
        None => Err(serial(cell).map_or(DateError::NotADate, DateError::Serial)),
    }
}

/// Whether the cell looks like a date in any order: for finding what a column holds.
pub fn looks_like_date(cell: &str) -> bool {
    !matches!(parts(without_time(cell)), None | Some(Parts::Incomplete))
}

/// The day as `2024-03-05`.
pub fn iso(day: i32) -> String {
    // every `i32` that a column can hold lies within the calendar's years, or is said as it is
    let span = jiff::Span::new().try_days(i64::from(day));
    match span.and_then(|span| CivilDate::constant(1970, 1, 1).checked_add(span)) {
        Ok(date) => date.to_string(),
        Err(_) => format!("day {day}"),
    }
}

/// A date taken apart, before the calendar was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Parts {
    YearFirst { year: u32, month: u32, day: u32 },
    Numeric { first: u32, second: u32, year: Year, dotted: bool },
    Named { day: u32, month: u32, year: Year },
    Incomplete,
}

/// A year in two or in four digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Year {
    Short(u32),
    Full(u32),
}

/// Drops a time of day behind the date: `2024-03-05T10:15:00Z`, `3/4/24 10:15 PM`.
fn without_time(cell: &str) -> &str {
    let cell = cell.trim();
    let Some((before, _)) = cell.split_once(':') else { return cell };
    match before.rsplit_once(['T', ' ']) {
        Some((date, _)) => date.trim_end(),
        None => cell,
    }
}

fn parts(cell: &str) -> Option<Parts> {
    if let Some(extended) = extended(cell) {
        return Some(extended);
    }
    if cell.len() > 40 || !cell.contains(|c: char| c.is_ascii_digit()) {
        return None;
    }
    if cell.contains(char::is_alphabetic) { named(cell) } else { numeric(cell) }
}

fn numeric(cell: &str) -> Option<Parts> {
    if let Some(compact) = compact(cell) {
        return Some(compact);
    }
    let separator =
        cell.chars().find(|c| !c.is_ascii_digit()).filter(|c| matches!(c, '-' | '/' | '.'))?;
    let mut fields = cell.split(separator).map(str::trim);
    let (a, b, c) = (fields.next()?, fields.next()?, fields.next()?);
    // a fourth field, or anything but digits, makes it no date
    if fields.next().is_some() {
        return None;
    }
    let (first, second) = (number(a)?, number(b)?);
    if a.len() == 4 && b.len() <= 2 && c.len() <= 2 {
        return Some(Parts::YearFirst { year: first, month: second, day: number(c)? });
    }
    if separator == '.' && c.is_empty() && a.len() <= 2 && b.len() <= 2 {
        return Some(Parts::Incomplete);
    }
    let short_fields = a.len() <= 2 && b.len() <= 2;
    short_fields.then_some(Parts::Numeric {
        first,
        second,
        year: year(c)?,
        dotted: separator == '.',
    })
}

/// `2024-03-05`, the extended form of ISO 8601: what most cells hold, read without ceremony.
fn extended(cell: &str) -> Option<Parts> {
    let &[y1, y2, y3, y4, b'-', m1, m2, b'-', d1, d2] = cell.as_bytes() else { return None };
    let number = |digits: &[u8]| {
        digits.iter().try_fold(0, |number, digit| {
            digit.is_ascii_digit().then(|| number * 10 + u32::from(digit - b'0'))
        })
    };
    Some(Parts::YearFirst {
        year: number(&[y1, y2, y3, y4])?,
        month: number(&[m1, m2])?,
        day: number(&[d1, d2])?,
    })
}

/// `20240305`, the basic form of ISO 8601.
fn compact(cell: &str) -> Option<Parts> {
    let whole = number(cell).filter(|_| cell.len() == 8)?;
    let (year, month, day) = (whole / 10_000, whole / 100 % 100, whole % 100);
    let plausible =
        (1900..=2100).contains(&year) && (1..=12).contains(&month) && (1..=31).contains(&day);
    plausible.then_some(Parts::YearFirst { year, month, day })
}

/// `5 Mar 2024`, `March 5, 2024`, `5. März 2024`, `05-Mar-24`.
fn named(cell: &str) -> Option<Parts> {
    let mut month_number = None;
    let mut numbers: [Option<&str>; 2] = [None, None];
    for token in cell.split([' ', ',', '-', '.', '/']).filter(|token| !token.is_empty()) {
        if let Some(found) = month(token) {
            if month_number.replace(found).is_some() {
                return None;
            }
            continue;
        }
        let digits = token.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        let ending = token.strip_prefix(digits).unwrap_or_default();
        if !matches!(ending.to_ascii_lowercase().as_str(), "" | "st" | "nd" | "rd" | "th") {
            return None;
        }
        number(digits)?;
        let free = numbers.iter_mut().find(|slot| slot.is_none())?;
        *free = Some(digits);
    }
    let month = month_number?;
    let [Some(first), Some(second)] = numbers else { return Some(Parts::Incomplete) };
    if first.len() == 4 {
        return Some(Parts::YearFirst { year: number(first)?, month, day: number(second)? });
    }
    Some(Parts::Named { day: number(first)?, month, year: year(second)? })
}

/// English and German month names and their short forms.
const MONTHS: [&[&str]; 12] = [
    &["jan", "january", "januar", "jän", "jänner"],
    &["feb", "february", "februar"],
    &["mar", "march", "mär", "märz", "mrz", "maerz"],
    &["apr", "april"],
    &["may", "mai"],
    &["jun", "june", "juni"],
    &["jul", "july", "juli"],
    &["aug", "august"],
    &["sep", "sept", "september"],
    &["oct", "october", "okt", "oktober"],
    &["nov", "november"],
    &["dec", "december", "dez", "dezember"],
];

fn month(token: &str) -> Option<u32> {
    if !token.starts_with(char::is_alphabetic) {
        return None;
    }
    let token = token.to_lowercase();
    (1..).zip(&MONTHS).find(|(_, names)| names.contains(&token.as_str())).map(|(month, _)| month)
}

fn number(digits: &str) -> Option<u32> {
    let plain = (1..=9).contains(&digits.len()) && digits.bytes().all(|byte| byte.is_ascii_digit());
    if plain { digits.parse().ok() } else { None }
}

fn year(digits: &str) -> Option<Year> {
    match digits.len() {
        2 => number(digits).map(Year::Short),
        4 => number(digits).map(Year::Full),
        _ => None,
    }
}

fn with_year(year: Year, month: u32, day: u32) -> Result<Date, DateError> {
    match year {
        Year::Full(year) => civil(i64::from(year), month, day, false),
        Year::Short(year) if year >= 80 => civil(1900 + i64::from(year), month, day, true),
        Year::Short(year) => civil(2000 + i64::from(year), month, day, true),
    }
}

fn civil(year: i64, month: u32, day: u32, short_year: bool) -> Result<Date, DateError> {
    let small = |value: u32| i8::try_from(value).map_err(|_| DateError::Impossible);
    let year = i16::try_from(year).map_err(|_| DateError::FarAway)?;
    let date =
        CivilDate::new(year, small(month)?, small(day)?).map_err(|_| DateError::Impossible)?;
    if !(1900..=2100).contains(&year) {
        return Err(DateError::FarAway);
    }
    Ok(Date { day: days_since_1970(date), short_year })
}

fn days_since_1970(date: CivilDate) -> i32 {
    let span = date.duration_since(CivilDate::constant(1970, 1, 1));
    // 1900 to 2100 is less than 74,000 days either way
    i32::try_from(span.as_hours() / 24).unwrap_or(0)
}

/// The serial number of 1970-01-01 where 1900-01-01 is number 1 and the day 1900-02-29, which never was, is counted.
const SERIAL_OF_1970: i32 = 25_569;

/// The date behind a spreadsheet's serial number between the years 1954 and 2100.
fn serial(cell: &str) -> Option<String> {
    let whole = cell.split(['.', ',']).next()?;
    let serial = number(whole).filter(|serial| (20_000..=73_050).contains(serial))?;
    Some(iso(i32::try_from(serial).ok()? - SERIAL_OF_1970))
}

#[cfg(test)]
#[path = "dates_tests.rs"]
mod tests;
