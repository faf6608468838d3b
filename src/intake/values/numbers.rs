//! Numbers as people type them: decimal point or comma, thousands separated, a
//! unit behind, a tilde before.

pub use super::decimal_marks::{DecimalMark, MarkEvidence, MarkFound};
use super::decimal_marks::{Shape, is_group_space, mantissa, shape};
use crate::catalogue::Unit;

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
/// and every other cell is read by itself. Fractions
/// with a stroke are taken for inches only (`2 5/16 in`); `6½` is a number anywhere.
pub fn read(cell: &str, mark: Option<DecimalMark>) -> Result<Number, NumberError> {
    let cell = cell.trim();
    if let Some(value) = plain(cell) {
        return Ok(Number { value, unit: None, approximate: false });
    }
    match cell.chars().next() {
        Some('=' | '#' | '@') => return Err(NumberError::Formula),
        Some('<' | '>' | '≤' | '≥') => return Err(NumberError::Bound),
        _ => {}
    }
    let (cell, approximate) = without_tilde(cell);
    if let Some((value, rest)) = single_fraction(cell) {
        return Ok(Number { value, unit: unit_behind(rest)?, approximate });
    }
    let end = number_end(cell);
    let (digits, rest) = cell.split_at(end);
    let digits = digits.trim_end();
    if !digits.contains(|c: char| c.is_ascii_digit()) {
        return Err(NumberError::NotANumber);
    }
    if let Some(inches) = fraction_of_an_inch(cell) {
        return Ok(Number { value: inches, unit: Some(Unit::Inch), approximate });
    }
    let unit = unit_behind(rest)?;
    let value = value_of(digits, mark)?;
    Ok(Number { value, unit, approximate })
}

/// The fast path: an optional minus, digits, and at most one point that cannot separate thousands.
fn plain(cell: &str) -> Option<f64> {
    let bytes = cell.as_bytes();
    if bytes.is_empty() || bytes.len() > 15 {
        return None;
    }
    let body = bytes.strip_prefix(b"-").unwrap_or(bytes);
    let point = body.iter().position(|&byte| byte == b'.').unwrap_or(body.len());
    let (whole, behind) = body.split_at(point);
    let decimals = behind.get(1..).unwrap_or_default();
    let all_digits = |part: &[u8]| part.iter().all(u8::is_ascii_digit);
    let simple = !whole.is_empty() && all_digits(whole) && all_digits(decimals);
    let either = decimals.len() == 3 && whole.len() <= 3 && !whole.starts_with(b"0");
    let decided = point == body.len() || (!decimals.is_empty() && !either);
    if simple && decided { cell.parse().ok() } else { None }
}

fn value_of(digits: &str, mark: Option<DecimalMark>) -> Result<f64, NumberError> {
    if !well_spaced(mantissa(digits)) {
        return Err(NumberError::TwoNumbers);
    }
    let decimal = match (shape(digits), mark) {
        (Shape::Whole, _) => DecimalMark::Point,
        (Shape::Decimal(found), None) => found,
        (Shape::Decimal(found), Some(mark)) if found == mark => mark,
        (Shape::Decimal(_), Some(_)) => return Err(NumberError::OtherMark),
        (Shape::Either(_), Some(mark)) => mark,
        (Shape::Either(_), None) => return Err(NumberError::EitherMark),
        (Shape::Neither, _) => return Err(NumberError::NotANumber),
    };
    let normal: String = digits
        .chars()
        .filter(|&c| !is_group_space(c) && (c == decimal.character() || !matches!(c, '.' | ',')))
        .map(|c| match c {
            ',' => '.',
            '−' => '-',
            other => other,
        })
        .collect();
    match normal.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(NumberError::NotFinite),
        Err(_) => Err(NumberError::NotANumber),
    }
}

/// Whether spaces and apostrophes stand between groups of three digits only.
fn well_spaced(mantissa: &str) -> bool {
    if !mantissa.contains(is_group_space) {
        return true;
    }
    let body = mantissa.trim_start_matches(['+', '-', '−']);
    let whole = body.split(['.', ',']).next().unwrap_or_default();
    let mut groups = whole.split(is_group_space);
    let first = groups.next().unwrap_or_default();
    let rest = body.strip_prefix(whole).unwrap_or_default();
    let rest_is_digits = !rest.contains(is_group_space);
    rest_is_digits && (1..=3).contains(&first.len()) && groups.all(|group| group.len() == 3)
}

/// The run of digits that a cell starts with, after a tilde; none where it starts with something else.
pub(super) fn digits_in(cell: &str) -> Option<&str> {
    let (cell, _) = without_tilde(cell.trim());
    let digits = cell.get(..number_end(cell))?.trim_end();
    // a second number behind makes it a date, a range or a time: no evidence
    let rest = cell.strip_prefix(digits)?;
    let alone = !rest.trim_start().starts_with(['/', ':', '-', '–', '.', ',']);
    (alone && digits.contains(|c: char| c.is_ascii_digit())).then_some(digits)
}

/// Takes `~`, `ca.`, `about` from the front or `?` from the end, and says whether there was one.
fn without_tilde(cell: &str) -> (&str, bool) {
    const SIGNS: [&str; 11] = [
        "~",
        "≈",
        "ca.",
        "ca ",
        "circa ",
        "c. ",
        "about ",
        "approx.",
        "approx ",
        "etwa ",
        "ungefähr ",
    ];
    for sign in SIGNS {
        let Some((start, rest)) = cell.split_at_checked(sign.len()) else { continue };
        if start.eq_ignore_ascii_case(sign) {
            return (rest.trim_start(), true);
        }
    }
    match cell.strip_suffix(['?', '~']) {
        Some(rest) => (rest.trim_end(), true),
        None => (cell, false),
    }
}

/// Where the number at the front of the cell ends, in bytes.
fn number_end(cell: &str) -> usize {
    let mut end = 0;
    let mut characters = cell.char_indices().peekable();
    if let Some((_, '+' | '-' | '−')) = characters.peek() {
        characters.next();
    }
    let exponent = |at: usize| cell.get(at..).and_then(exponent_length);
    while let Some((at, c)) = characters.next() {
        let next = characters.peek().map(|(_, next)| *next);
        let is_part = match c {
            '0'..='9' | '.' | ',' => true,
            c if is_group_space(c) => at > 0 && next.is_some_and(|next| next.is_ascii_digit()),
            'e' | 'E' => exponent(at).is_some(),
            _ => false,
        };
        if !is_part {
            break;
        }
        end = at + c.len_utf8();
        if matches!(c, 'e' | 'E') {
            return at + exponent(at).unwrap_or(1);
        }
    }
    end
}

/// The length of `e-05` at the front, where it is an exponent and not the start of a word.
fn exponent_length(text: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    let sign = usize::from(matches!(bytes.get(1), Some(b'+' | b'-')));
    let digits = bytes.get(1 + sign..)?.iter().take_while(|byte| byte.is_ascii_digit()).count();
    (digits > 0).then_some(1 + sign + digits)
}

/// The unit in what stands behind the digits; nothing there is no unit.
fn unit_behind(rest: &str) -> Result<Option<Unit>, NumberError> {
    let rest = rest.trim();
    if rest.is_empty() {
        return Ok(None);
    }
    if let Some(unit) = Unit::from_text(rest) {
        return Ok(Some(unit));
    }
    let after_joint =
        rest.trim_start_matches(['-', '–', '/', ':', '.', ' ']).trim_start_matches("to ");
    if after_joint.trim_start().starts_with(|c: char| c.is_ascii_digit()) {
        return Err(NumberError::TwoNumbers);
    }
    Err(NumberError::UnknownUnit(rest.chars().take(40).collect()))
}

/// Fractions that are one character.
const FRACTIONS: [(char, f64); 9] = [
    ('½', 0.5),
    ('¼', 0.25),
    ('¾', 0.75),
    ('⅓', 1.0 / 3.0),
    ('⅔', 2.0 / 3.0),
    ('⅛', 0.125),
    ('⅜', 0.375),
    ('⅝', 0.625),
    ('⅞', 0.875),
];

/// `½`, `6½`, `6 ½ mm`: a whole number or none, one of the fractions, and what stands behind it.
fn single_fraction(cell: &str) -> Option<(f64, &str)> {
    let (at, sign, fraction) = cell.char_indices().find_map(|(at, c)| {
        let found = FRACTIONS.iter().find(|(sign, _)| *sign == c)?;
        Some((at, found.0, found.1))
    })?;
    let (whole, behind) = cell.split_at_checked(at)?;
    let whole = whole.trim();
    let digits = whole.len() <= 6 && whole.bytes().all(|byte| byte.is_ascii_digit());
    let whole = if whole.is_empty() { Some(0.0) } else { whole.parse::<f64>().ok() };
    let rest = behind.strip_prefix(sign)?;
    whole.filter(|_| digits).map(|whole| (whole + fraction, rest))
}

/// `2 5/16 in`, `1/4"`: whole inches and a fraction with a power of two below.
fn fraction_of_an_inch(cell: &str) -> Option<f64> {
    let unit_at = cell.find(|c: char| !(c.is_ascii_digit() || matches!(c, '/' | ' ')))?;
    let (number, unit) = cell.split_at_checked(unit_at)?;
    if Unit::from_text(unit) != Some(Unit::Inch) {
        return None;
    }
    let (before, below) = number.trim().split_once('/')?;
    let (whole, above) = before.rsplit_once(' ').unwrap_or(("0", before));
    let [whole, above, below] = [whole, above, below].map(|part| part.trim().parse::<u32>().ok());
    let below = below.filter(|below| below.is_power_of_two() && *below <= 128)?;
    Some(f64::from(whole?) + f64::from(above?) / f64::from(below))
}

/// Why a number cannot be brought to the unit that is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitError {
    /// Millimetres are no days.
    OtherQuantity { found: Unit, kept: Unit },
    /// `2 weeks` among bare numbers, in a column of which no unit is known.
    ColumnWithout(Unit),
    /// `22 gauge`: AWG or SWG is not said.
    GaugeUnstated,
    /// No wire has that gauge number.
    NoSuchGauge,
}

impl Number {
    /// The value in the unit that is kept. The unit in the cell wins, then the
    /// column's, and without either the number is taken to be in `kept` already.
    /// A unit in the cell of a column that has none, and none that is kept, is refused.
    ///
    /// `22 ga` in a column whose unit is AWG or SWG is read in the column's system.
    pub fn kept_in(&self, column: Option<Unit>, kept: Option<Unit>) -> Result<f64, UnitError> {
        let own = match (self.unit, column) {
            (Some(Unit::Gauge), Some(system @ (Unit::Awg | Unit::Swg))) => Some(system),
            (own, column) => own.or(column),
        };
        let Some(found) = own else { return Ok(self.value) };
        // which unit the other numbers of such a column are in nothing says
        let Some(kept) = kept.or(column) else { return Err(UnitError::ColumnWithout(found)) };
        if found == kept {
            return Ok(self.value);
        }
        found.convert(self.value, kept).filter(|value| value.is_finite()).ok_or(match found {
            Unit::Gauge => UnitError::GaugeUnstated,
            Unit::Awg | Unit::Swg if kept.comparable(found) => UnitError::NoSuchGauge,
            _ => UnitError::OtherQuantity { found, kept },
        })
    }
}

#[cfg(test)]
#[path = "numbers_tests.rs"]
mod tests;
