//! Decimal point or decimal comma: what a cell can mean, and what a column says.

use super::numbers::digits_in;

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
    Mixed {
        point: usize,
        comma: usize,
    },
    /// Only cells such as `1,234` that can be read either way; the first of them.
    Undecided {
        row: usize,
    },
}

impl MarkFound {
    /// The mark to hand to [`read`](super::numbers::read).
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
    pub fn add(&mut self, row: usize, cell: &str) {
        if !self.knows(cell) {
            self.take(row, cell);
        }
    }

    fn take(&mut self, row: usize, cell: &str) {
        let Some(digits) = digits_in(cell) else { return };
        let slot = match shape(digits) {
            Shape::Decimal(DecimalMark::Point) => &mut self.point,
            Shape::Decimal(DecimalMark::Comma) => &mut self.comma,
            Shape::Either(_) => &mut self.either,
            Shape::Whole | Shape::Neither => return,
        };
        slot.get_or_insert(row);
    }

    /// Whether the cell holds digits and no mark; or digits and one point, and an earlier one has said as much: so it is with most cells.
    pub fn knows(&self, cell: &str) -> bool {
        let are_digits = |text: &[u8]| text.iter().all(u8::is_ascii_digit);
        let cell = cell.as_bytes();
        let point = cell.iter().position(|byte| *byte == b'.').unwrap_or(cell.len());
        let (whole, [_, decimals @ ..]) = cell.split_at(point) else { return are_digits(cell) };
        let may_be_thousands = decimals.len() == 3;
        self.point.is_some()
            && (self.either.is_some() || !may_be_thousands)
            && !whole.is_empty()
            && !decimals.is_empty()
            && are_digits(whole)
            && are_digits(decimals)
    }

    /// Joins the evidence of another column of the same file.
    pub fn merge(&mut self, other: MarkEvidence) {
        self.point = self.point.or(other.point);
        self.comma = self.comma.or(other.comma);
        self.either = self.either.or(other.either);
    }

    pub fn decide(&self) -> MarkFound {
        match (self.point, self.comma, self.either) {
            (Some(point), Some(comma), _) => MarkFound::Mixed { point, comma },
            (Some(_), None, _) => MarkFound::Point,
            (None, Some(_), _) => MarkFound::Comma,
            (None, None, Some(row)) => MarkFound::Undecided { row },
            (None, None, None) => MarkFound::Unneeded,
        }
    }
}

/// How the marks of a run of digits can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Whole,
    /// Only this mark can be the decimal one.
    Decimal(DecimalMark),
    /// One mark before exactly three digits: a decimal mark, or a thousands separator. Which mark stands there.
    Either(DecimalMark),
    /// Several marks in an order that no number has.
    Neither,
}

/// Looks at digits and marks; a sign, an exponent and spaces or apostrophes between thousands are passed over.
pub(super) fn shape(digits: &str) -> Shape {
    let body = mantissa(digits).trim_start_matches(['+', '-', '−']);
    let (points, commas) = (body.matches('.').count(), body.matches(',').count());
    match (points, commas) {
        (0, 0) => Shape::Whole,
        (1, 0) => one_mark(body, DecimalMark::Point),
        (0, 1) => one_mark(body, DecimalMark::Comma),
        (_, 0) if grouped(body, '.') => Shape::Decimal(DecimalMark::Comma),
        (0, _) if grouped(body, ',') => Shape::Decimal(DecimalMark::Point),
        (_, 1) => both_marks(body, '.', ',', DecimalMark::Comma),
        (1, _) => both_marks(body, ',', '.', DecimalMark::Point),
        _ => Shape::Neither,
    }
    .or_swapped(body, points, commas)
}

impl Shape {
    /// With one of each mark, either may be the decimal one: the last one is.
    fn or_swapped(self, body: &str, points: usize, commas: usize) -> Shape {
        if self == Shape::Neither && points == 1 && commas == 1 {
            return both_marks(body, ',', '.', DecimalMark::Point);
        }
        self
    }
}

fn one_mark(body: &str, mark: DecimalMark) -> Shape {
    let character = mark.character();
    let Some((whole, decimals)) = body.split_once(character) else { return Shape::Whole };
    // spaces or apostrophes between thousands leave the mark no other meaning
    let other_groups = whole.contains(is_group_space);
    let could_group =
        decimals.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0');
    if could_group && !other_groups { Shape::Either(mark) } else { Shape::Decimal(mark) }
}

fn both_marks(body: &str, group: char, decimal: char, mark: DecimalMark) -> Shape {
    match body.split_once(decimal) {
        Some((whole, decimals)) if grouped(whole, group) && !decimals.contains(group) => {
            Shape::Decimal(mark)
        }
        _ => Shape::Neither,
    }
}

/// Whether the separator stands before every three digits, as between thousands.
fn grouped(whole: &str, separator: char) -> bool {
    let mut groups = whole.split(separator);
    let first = groups.next().unwrap_or_default();
    (1..=3).contains(&first.len()) && groups.all(|group| group.len() == 3)
}

impl DecimalMark {
    /// The mark itself.
    pub fn character(self) -> char {
        match self {
            DecimalMark::Point => '.',
            DecimalMark::Comma => ',',
        }
    }
}

/// Spaces and apostrophes that separate thousands: the plain, the narrow and the fixed space.
pub(super) fn is_group_space(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}' | '\'' | '’')
}

/// The digits without the exponent.
pub(super) fn mantissa(digits: &str) -> &str {
    digits.split(['e', 'E']).next().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_cell_that_is_passed_over_would_have_said_nothing_new(
            cells in prop::collection::vec("[0-9]{0,4}[.,]?[0-9]{0,4}|-?[0-9]\\.[0-9] mm", 0..30),
        ) {
            let (mut passing, mut taking) = (MarkEvidence::default(), MarkEvidence::default());
            for (row, cell) in cells.iter().enumerate() {
                passing.add(row, cell);
                taking.take(row, cell);
            }
            prop_assert_eq!(passing.decide(), taking.decide());
        }
    }
}
