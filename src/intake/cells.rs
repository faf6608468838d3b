//! A column's cells as a whole: evidence first, then values, each problem at its cell.

use super::checks::columns::{self as column_checks, BothOrders, MayBe};
use super::checks::{cells as checks, labels as label_checks};
use super::ledger::{Cell, Ledger};
use super::records::Table;
use super::study_file::ColumnSetting;
use super::values::dates::{self, Date, DateError, DayOrder, OrderEvidence, OrderFound};
use super::values::durations;
use super::values::labels::{self, JoinedLabels};
use super::values::missing::MissingMarks;
use super::values::numbers::{self, DecimalMark, MarkEvidence, MarkFound, Number, NumberError};
use crate::catalogue::{Column, Unit};
use rayon::prelude::*;

/// Fewer rows are not worth another thread.
const ROWS_A_THREAD: usize = 8192;
/// As many are held at once while a column is read.
const ROWS_A_BLOCK: usize = 4 * ROWS_A_THREAD;

/// The cells of a column on the rows that count.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cells<'a> {
    pub table: &'a Table,
    pub column: usize,
    pub rows: &'a [u32],
    pub marks: &'a MissingMarks,
}

impl<'a> Cells<'a> {
    /// Row and text of each cell; none where it is missing.
    pub fn texts(self) -> impl Iterator<Item = (usize, Option<&'a str>)> {
        self.rows.iter().map(move |&row| (row as usize, self.text(row as usize)))
    }

    /// Row, text and what the text reads as of each cell, in order; a missing one has neither. Texts are read on several threads, so that what is found wrong is told afterwards; and
    /// a block at a time, so that what is read is still at hand when it is told.
    pub fn for_each_read<T: Send>(
        self,
        read: impl Fn(&'a str) -> Option<T> + Sync,
        tell: impl FnMut(usize, Option<&'a str>, Option<T>),
    ) {
        self.for_each_placed(|_, _, text| read(text), tell);
    }

    /// The same for those who read a cell by its place among the rows and by its row too.
    pub fn for_each_placed<T: Send>(
        self,
        read: impl Fn(usize, usize, &'a str) -> Option<T> + Sync,
        mut tell: impl FnMut(usize, Option<&'a str>, Option<T>),
    ) {
        let mut block = Vec::new();
        for (number, rows) in self.rows.chunks(ROWS_A_BLOCK).enumerate() {
            let one = |(place, &row): (usize, &u32)| {
                let (row, text) = (row as usize, self.text(row as usize));
                let read = text.and_then(|text| read(number * ROWS_A_BLOCK + place, row, text));
                (row, text, read)
            };
            let rows = rows.par_iter().enumerate().with_min_len(ROWS_A_THREAD);
            rows.map(one).collect_into_vec(&mut block);
            block.drain(..).for_each(|(row, text, read)| tell(row, text, read));
        }
    }

    fn text(self, row: usize) -> Option<&'a str> {
        Some(self.table.cell(row, self.column)).filter(|text| !self.marks.holds(text))
    }

    pub fn header(self) -> &'a str {
        self.table.heading(self.column)
    }

    pub fn at(self, row: usize) -> Cell<'a> {
        Cell { table: self.table, row, column: self.column }
    }

    pub fn mark_evidence(self) -> MarkEvidence {
        let mut evidence = MarkEvidence::default();
        if self.table.is_of_numbers(self.column) {
            return evidence;
        }
        for &row in self.rows {
            let row = row as usize;
            // asked first, because it is so of most cells
            if evidence.knows(self.table.raw(row, self.column)) {
                continue;
            }
            let Some(text) = self.text(row).filter(|text| !evidence.knows(text)) else { continue };
            if !text.contains(['.', ',', '\'', '’']) {
                continue;
            }
            // of `8,5/10` the part before the stroke
            evidence.add(row, text.split('/').next().unwrap_or(text).trim());
        }
        evidence
    }

    pub fn order_evidence(self) -> OrderEvidence {
        let mut evidence = OrderEvidence::default();
        for (row, text) in self.texts() {
            if let Some(text) = text {
                evidence.add(row, text);
            }
        }
        evidence
    }

    /// Up to three different cells, as they stand.
    pub fn examples(self) -> Vec<String> {
        let mut examples: Vec<String> = Vec::new();
        for (_, text) in self.texts().take(10_000) {
            let Some(text) = text else { continue };
            if !examples.iter().any(|other| other == text) {
                examples.push(text.chars().take(60).collect());
            }
            if examples.len() == 3 {
                break;
            }
        }
        examples
    }
}

/// How the numbers of a column are to be read.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct NumberRules {
    /// The mark that the study file gives.
    pub given: Option<DecimalMark>,
    /// What the other columns of the file say.
    pub file: Option<DecimalMark>,
    pub unit: Option<Unit>,
    pub kept: Option<Unit>,
    pub known: Option<&'static Column>,
    /// What `22 gauge` is, where the study file says so.
    pub wire_gauge: Option<Unit>,
}

/// The mark of a column, and what was decided about it in words.
pub(super) fn decide_mark(
    ledger: &mut Ledger,
    cells: Cells,
    rules: &NumberRules,
) -> (Option<DecimalMark>, Option<&'static str>) {
    if cells.table.is_of_numbers(cells.column) {
        return (Some(DecimalMark::Point), None);
    }
    if let Some(mark) = rules.given {
        return (Some(mark), Some(mark_words(mark)));
    }
    match cells.mark_evidence().decide() {
        MarkFound::Unneeded => (Some(DecimalMark::Point), None),
        MarkFound::Point => (Some(DecimalMark::Point), None),
        MarkFound::Comma => (Some(DecimalMark::Comma), Some(mark_words(DecimalMark::Comma))),
        MarkFound::Mixed { point, comma } => {
            column_checks::marks_mixed(ledger, cells.at(point), cells.at(comma));
            (None, Some("both decimal marks"))
        }
        MarkFound::Undecided { row } => {
            if let Some(mark) = rules.file {
                let word = if mark == DecimalMark::Comma { "comma" } else { "point" };
                column_checks::mark_found(ledger, cells.at(row), word);
            }
            (rules.file, rules.file.map(mark_words))
        }
    }
}

fn mark_words(mark: DecimalMark) -> &'static str {
    match mark {
        DecimalMark::Point => "decimal point",
        DecimalMark::Comma => "decimal comma",
    }
}

/// A column's numbers in the unit that is kept, and what was decided.
#[derive(Debug, Default)]
pub(super) struct Numbers {
    pub values: Vec<Option<f64>>,
    /// The unit that the cells say, where neither the header nor the catalogue says one.
    pub unit: Option<Unit>,
    pub decided: Vec<String>,
}

/// Reads a column of numbers or of spans of time.
pub(super) fn numbers(ledger: &mut Ledger, cells: Cells, rules: &NumberRules) -> Numbers {
    let (mark, decided) = decide_mark(ledger, cells, rules);
    let unit = if rules.unit.or(rules.kept).is_none() { unit_of_cells(cells, mark) } else { None };
    let rules = &NumberRules { unit: rules.unit.or(unit), ..*rules };
    let mut values = Vec::with_capacity(cells.rows.len());
    cells.for_each_read(
        |text| plain(text, mark),
        |row, text, read| {
            let value = |text| number(ledger, cells.at(row), text, read, mark, rules);
            values.push(text.and_then(value));
        },
    );
    let in_unit = unit.map(|unit| format!("in {}, as its cells say", unit.words()));
    let decided = decided.map(str::to_owned).into_iter().chain(in_unit).collect();
    Numbers { values, unit, decided }
}

/// Share of the numbers of a column that must say a unit for the others to be taken in it too.
const SHARE_WITH_UNIT: f64 = 0.9;

/// The unit that most cells of a column say, where nearly all of them say one.
fn unit_of_cells(cells: Cells, mark: Option<DecimalMark>) -> Option<Unit> {
    let mut counts: Vec<(Unit, usize)> = Vec::new();
    let mut bare = 0;
    for text in cells.texts().filter_map(|(_, text)| text) {
        // what ends with a digit has no unit behind it
        let is_bare = text.ends_with(|sign: char| sign.is_ascii_digit());
        let unit = if is_bare { None } else { numbers::read(text, mark).ok().map(|n| n.unit) };
        match unit {
            None if !is_bare => {}
            None | Some(None) => bare += 1,
            Some(Some(unit)) => match counts.iter_mut().find(|(known, _)| *known == unit) {
                Some((_, count)) => *count += 1,
                None => counts.push((unit, 1)),
            },
        }
    }
    let with_unit: usize = counts.iter().map(|(_, count)| count).sum();
    // of equals the first of the catalogue, whatever the order of the rows
    let place = |unit: Unit| Unit::all().position(|known| known == unit);
    let most =
        counts.into_iter().max_by_key(|(unit, count)| (*count, std::cmp::Reverse(place(*unit))))?;
    let enough = with_unit as f64 >= SHARE_WITH_UNIT * (with_unit + bare) as f64;
    enough.then_some(most.0)
}

fn is_time(unit: Option<Unit>) -> bool {
    matches!(unit, Some(Unit::Day | Unit::Hour | Unit::Minute))
}

/// One number in the unit that is kept, `as_plain` where it is [`plain`]; a problem and nothing where it cannot be used.
pub(super) fn number(
    ledger: &mut Ledger,
    cell: Cell,
    text: &str,
    as_plain: Option<f64>,
    mark: Option<DecimalMark>,
    rules: &NumberRules,
) -> Option<f64> {
    let value = match as_plain {
        Some(value) => {
            converted(ledger, cell, &Number { value, unit: None, approximate: false }, rules)?
        }
        None if is_time(rules.kept) => span(ledger, cell, text, mark, rules)?,
        None => {
            let number = numbers::read(text, mark)
                .map_err(|error| checks::number(ledger, cell, &error))
                .ok()?;
            converted(ledger, cell, &number, rules)?
        }
    };
    match rules.known {
        Some(column) => checks::range(ledger, cell, column, value, rules.unit).then_some(value),
        None => Some(value),
    }
}

/// Digits, with at most one point where that is the decimal mark: what most cells hold,
/// read without ceremony.
pub(super) fn plain(text: &str, mark: Option<DecimalMark>) -> Option<f64> {
    let unsigned = text.strip_prefix('-').unwrap_or(text).as_bytes();
    let digits_at_both_ends =
        [unsigned.first(), unsigned.last()].into_iter().flatten().all(u8::is_ascii_digit);
    if unsigned.is_empty() || unsigned.len() > MOST_DIGITS || !digits_at_both_ends {
        return None;
    }
    let (mut digits, mut point) = (0_u64, None);
    for (place, byte) in unsigned.iter().enumerate() {
        match byte {
            b'0'..=b'9' => digits = 10 * digits + u64::from(byte - b'0'),
            b'.' if point.is_none() && mark == Some(DecimalMark::Point) => point = Some(place),
            _ => return None,
        }
    }
    let decimals = point.map_or(0, |point| unsigned.len() - point - 1);
    // both are doubles without an error, so that their quotient is the nearest double to the number (Clinger 1990)
    let value = digits as f64 / POWERS_OF_TEN.get(decimals)?;
    Some(if unsigned.len() < text.len() { -value } else { value })
}

/// Of so many digits a whole number is a double without an error.
const MOST_DIGITS: usize = 15;
const POWERS_OF_TEN: [f64; MOST_DIGITS] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14];

fn span(
    ledger: &mut Ledger,
    cell: Cell,
    text: &str,
    mark: Option<DecimalMark>,
    rules: &NumberRules,
) -> Option<f64> {
    let kept = rules.kept?;
    let number = durations::read(text, mark, rules.unit, kept)
        .map_err(|error| checks::duration(ledger, cell, &error))
        .ok()?;
    if number.approximate {
        checks::approximate(ledger, cell);
    }
    // a span of time comes back in the unit that is kept
    Some(number.value)
}

fn converted(ledger: &mut Ledger, cell: Cell, number: &Number, rules: &NumberRules) -> Option<f64> {
    let stated = |unit: Option<Unit>| match unit {
        Some(Unit::Gauge) => rules.wire_gauge.or(unit),
        other => other,
    };
    let number = Number { unit: stated(number.unit), ..*number };
    if number.approximate {
        checks::approximate(ledger, cell);
    }
    let value = number.kept_in(stated(rules.unit), rules.kept);
    value.map_err(|error| checks::unit(ledger, cell, error)).ok()
}

/// How many of the filled cells read as numbers, for finding what a column holds.
pub(super) fn count_numbers(cells: Cells, mark: Option<DecimalMark>) -> (usize, usize) {
    let (mut numbers, mut filled) = (0, 0);
    for text in cells.texts().filter_map(|(_, text)| text) {
        filled += 1;
        let reads = plain(text, mark).is_some()
            || !matches!(numbers::read(text, mark), Err(error) if error != NumberError::EitherMark);
        numbers += usize::from(reads);
    }
    (numbers, filled)
}

/// What an unused column may be, from what most of its cells hold.
pub(super) fn may_be(cells: Cells, of_rating: bool) -> MayBe {
    let texts: Vec<&str> = cells.texts().filter_map(|(_, text)| text).take(500).collect();
    let most =
        |test: fn(&str) -> bool| 2 * texts.iter().filter(|text| test(text)).count() > texts.len();
    if texts.is_empty() {
        MayBe::Nothing
    } else if most(dates::looks_like_date) {
        MayBe::Day { of_rating }
    } else if most(|text| numbers::read(text, Some(DecimalMark::Point)).is_ok()) {
        MayBe::Rating
    } else if most(labels::looks_like_name) {
        MayBe::Player
    } else {
        MayBe::Remarks
    }
}

/// Points out a column of remarks that holds numbers: `Note` is the German word for a mark.
pub(super) fn marks_among_notes(ledger: &mut Ledger, cells: Cells) {
    let (numbers, filled) = count_numbers(cells, Some(DecimalMark::Point));
    if filled > 1 && numbers == filled && column_checks::may_be_rating(cells.header()) {
        let why = "its numbers were taken for remarks";
        column_checks::not_used(ledger, cells.table, cells.column, why, MayBe::Rating);
    }
}

/// How the dates of a file are to be read.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct DateRules {
    pub given: Option<DayOrder>,
    /// What the other date columns of the file say.
    pub file: Option<DayOrder>,
}

/// A column's days since 1970-01-01, and what was decided.
#[derive(Debug, Default)]
pub(super) struct Dates {
    pub days: Vec<Option<i32>>,
    pub decided: Vec<String>,
}

/// Reads a column of dates.
pub(super) fn dates(ledger: &mut Ledger, cells: Cells, rules: DateRules) -> Dates {
    let (order, both) = decide_order(ledger, cells, rules);
    let mut read = Dates { days: Vec::with_capacity(cells.rows.len()), ..Dates::default() };
    let mut short_year = None;
    let mut day = |row, date: Option<Result<Date, DateError>>| {
        let told = |error| match both {
            Some(both) if error == DateError::EitherOrder => {
                column_checks::order_unreliable(ledger, cells.at(row), both);
            }
            _ => checks::date(ledger, cells.at(row), &error),
        };
        let date = date?.map_err(told).ok()?;
        if date.short_year {
            short_year = short_year.or(Some((row, date.day)));
        }
        Some(date.day)
    };
    cells.for_each_read(
        |text| Some(dates::read(text, order)),
        |row, _, date| read.days.push(day(row, date)),
    );
    if let Some((row, day)) = short_year {
        checks::year_short(ledger, cells.at(row), &dates::iso(day));
    }
    read.decided.extend(order.map(|order| format!("{} first", order_word(order))));
    read
}

fn order_word(order: DayOrder) -> &'static str {
    match order {
        DayOrder::DayFirst => "day",
        DayOrder::MonthFirst => "month",
    }
}

/// The order of a column's dates; none and a cell of each where it holds both.
fn decide_order<'a>(
    ledger: &mut Ledger,
    cells: Cells<'a>,
    rules: DateRules,
) -> (Option<DayOrder>, Option<BothOrders<'a>>) {
    let found = cells.order_evidence().decide();
    if rules.given.is_some() && found != OrderFound::Unneeded {
        return (rules.given, None);
    }
    let mut say = |order, from| {
        column_checks::order_found(ledger, cells.table, cells.column, order_word(order), from);
        (Some(order), None)
    };
    match (found, rules.file) {
        (OrderFound::DayFirst, _) => say(DayOrder::DayFirst, "as a date in the column shows"),
        (OrderFound::MonthFirst, _) => say(DayOrder::MonthFirst, "as a date in the column shows"),
        (OrderFound::Undecided { .. }, Some(order)) => {
            say(order, "as in the file's other date columns")
        }
        (OrderFound::Unneeded | OrderFound::Undecided { .. }, _) => (None, None),
        (OrderFound::Conflict { day_first, month_first }, _) => {
            let both =
                BothOrders { day_first: cells.at(day_first), month_first: cells.at(month_first) };
            column_checks::orders_mixed(ledger, both);
            (None, Some(both))
        }
    }
}

/// Reads a column of names, joins their variants and those that the study file calls
/// the same, and points out close ones.
pub(super) fn names(
    ledger: &mut Ledger,
    cells: Cells,
    setting: Option<&ColumnSetting>,
) -> JoinedLabels {
    let same = setting.map(|setting| &setting.same).filter(|same| !same.is_empty());
    let texts = cells.texts().map(|(_, text)| text);
    let joined = match same {
        None => labels::join(texts),
        Some(same) => labels::join(texts.map(|text| {
            text.map(|text| same.get(&labels::key(text)).map_or(text, String::as_str))
        })),
    };
    for joining in &joined.joinings {
        label_checks::joined(ledger, cells.table, cells.column, joining);
    }
    for (one, other) in labels::close_pairs(&joined.levels) {
        label_checks::close(ledger, cells.table, cells.column, one, other);
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_not_digits_with_at_most_one_point_between_them_is_not_plain() {
        let point = Some(DecimalMark::Point);
        for text in
            ["", "-", ".", "1.", ".5", "-.5", "1.2.3", "1e5", "+1", "1,5", "٣", "1234567890123456"]
        {
            assert_eq!(plain(text, point), None, "“{text}”");
        }
        assert_eq!(plain("1.5", Some(DecimalMark::Comma)), None);
        assert_eq!(plain("15", Some(DecimalMark::Comma)), Some(15.0));
    }

    proptest! {
        #[test]
        fn a_plain_number_is_the_double_nearest_to_it(
            text in "-?([0-9]{1,14}|[0-9]{1,7}\\.[0-9]{1,7})",
        ) {
            let found = plain(&text, Some(DecimalMark::Point)).map(f64::to_bits);
            prop_assert_eq!(found, text.parse().ok().map(f64::to_bits));
        }
    }
}
