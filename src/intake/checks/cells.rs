//! Rules about single cells: numbers, dates, durations, fates.

use crate::catalogue::{Column, Unit};
use crate::intake::ledger::{Cell, Ledger, Words, quoted};
use crate::intake::values::dates::DateError;
use crate::intake::values::durations::DurationError;
use crate::intake::values::numbers::{NumberError, UnitError};

use super::columns::{mark_undecided, order_undecided};
use super::settings::of_column;

rule!(
    NUMBER_UNREADABLE,
    "number-unreadable",
    Error,
    "Reads each cell of a number column as a number, with the column's decimal mark and a unit behind it.",
    "A value that is no number cannot be averaged; the cell became missing.",
    "Write one number in the cell, words into the notes, and nothing where there is no value."
);
rule!(
    UNIT_UNKNOWN,
    "unit-unknown",
    Error,
    "Reads what stands behind a number as a unit.",
    "A number of unknown units cannot stand beside the others; the cell became missing.",
    "Write the unit as mm, cm, in, thou, um, days, weeks, h, min, g, Hz, cents, C, F or %."
);

/// Says why a cell is no number.
pub(in crate::intake) fn number(ledger: &mut Ledger, cell: Cell, error: &NumberError) {
    let text = quoted(cell.text());
    let (found, expected) = match error {
        NumberError::EitherMark => return mark_undecided(ledger, cell),
        NumberError::UnknownUnit(unit) => {
            let found =
                format!("{text} has {} behind the number, which is no known unit.", quoted(unit));
            return ledger.cell(
                &UNIT_UNKNOWN,
                cell,
                Words::new(found, "a number, with a known unit or none"),
            );
        }
        NumberError::NotANumber => (format!("{text} is no number."), "a number"),
        NumberError::OtherMark => (
            format!("{text} does not have the column's decimal mark."),
            "the decimal mark of the other cells",
        ),
        NumberError::TwoNumbers => (format!("{text} is two numbers."), "one number"),
        NumberError::Bound => (format!("{text} is a bound, not a value."), "a value"),
        NumberError::NotFinite => {
            (format!("{text} is too large to be held."), "a number of an ordinary size")
        }
        NumberError::Formula => {
            (format!("{text} is a formula or its failure."), "the formula's value")
        }
    };
    ledger.cell(&NUMBER_UNREADABLE, cell, Words::new(found, expected));
}

rule!(
    UNIT_UNFIT,
    "unit-unfit",
    Error,
    "Brings each number to the unit that its column is kept in.",
    "Days are no millimetres, and a wire gauge number of an unstated system is no diameter; the cell became missing.",
    "Correct the unit; for wire, say in study.toml `wire_gauge = \"awg\"` or `\"swg\"`."
);

/// Says why a number cannot be brought to the column's unit.
pub(in crate::intake) fn unit(ledger: &mut Ledger, cell: Cell, error: UnitError) {
    let text = quoted(cell.text());
    let words = match error {
        UnitError::OtherQuantity { found, kept } => Words::new(
            format!("{text} is in {}, and the column in {}.", found.words(), kept.words()),
            format!("a value in {} or what converts to it", kept.words()),
        ),
        UnitError::ColumnWithout(found) => Words::new(
            format!(
                "{text} is in {}, and other numbers of the column have no unit.",
                found.words()
            ),
            "a number alone, or a unit in each cell or in the header",
        )
        .remedy(format!(
            "Write the number in the unit of the others, or say in study.toml which one that is: {}, with the unit for the dots.",
            of_column(cell.header(), "unit = \"…\"")
        )),
        UnitError::GaugeUnstated => Words::new(
            format!("{text} is a wire gauge number, and AWG or SWG is not said."),
            "a diameter, or a number with `awg` or `swg`",
        ),
        UnitError::NoSuchGauge => Words::new(
            format!("No wire has the gauge number {text}."),
            "a gauge number of the table",
        ),
    };
    ledger.cell(&UNIT_UNFIT, cell, words);
}

rule!(
    NUMBER_APPROXIMATE,
    "number-approximate",
    Remark,
    "Says which numbers were written as approximate (`~10`, `ca. 10`, `10?`).",
    "They count like the others although they are less sure.",
    "Nothing, or write the exact number."
);

/// Says that a number was marked as approximate.
pub(in crate::intake) fn approximate(ledger: &mut Ledger, cell: Cell) {
    let found = format!("{} is approximate; the number was used.", quoted(cell.text()));
    ledger.cell(&NUMBER_APPROXIMATE, cell, Words::new(found, "an exact number"));
}

rule!(
    NUMBER_IMPOSSIBLE,
    "number-impossible",
    Error,
    "Compares each number with the range that the catalogue holds for possible.",
    "A gouge of 125 mm is a lost decimal mark; one such value would rule every average. The cell became missing.",
    "Correct the number or its unit."
);
rule!(
    NUMBER_UNUSUAL,
    "number-unusual",
    Warning,
    "Compares each number with the range that the catalogue holds for usual.",
    "It is often a slip of the pen or another unit; the number was used as it stands.",
    "Check the cell; if it is right, nothing need be done."
);

/// Units of length in which a number may have been measured, the likeliest first.
const LENGTHS: [Unit; 5] =
    [Unit::Inch, Unit::Thou, Unit::Millimetre, Unit::Centimetre, Unit::Micrometre];

/// The unit in which a value outside the usual range would be a usual one; none for a cell that says its unit.
fn likely_unit(cell: Cell, column: &Column, value: f64, read_in: Option<Unit>) -> Option<Unit> {
    let (kept, usual) = (column.unit?, column.usual?);
    let read_in = read_in.unwrap_or(kept);
    let raw = kept.convert(value, read_in)?;
    let fits = |unit: &&Unit| {
        **unit != read_in && unit.convert(raw, kept).is_some_and(|value| usual.holds(value))
    };
    let says_unit = cell.text().contains(|c: char| c.is_alphabetic() || matches!(c, '"' | '″'));
    LENGTHS.iter().find(fits).copied().filter(|_| !says_unit)
}

/// Compares a value with the catalogue's ranges. Answers whether it can be used. `read_in` is the column's unit.
pub(in crate::intake) fn range(
    ledger: &mut Ledger,
    cell: Cell,
    column: &Column,
    value: f64,
    read_in: Option<Unit>,
) -> bool {
    let outside = |range: Option<crate::catalogue::Range>| {
        range.filter(|range| value < range.low || value > range.high)
    };
    let symbol = column.unit.map(Unit::symbol).unwrap_or_default();
    let words = |what: &str, range: crate::catalogue::Range| {
        let found = format!(
            "{} is {} {symbol} for {}, {what}.",
            quoted(cell.text()),
            rounded(value),
            column.label
        );
        let expected = format!("{} to {} {symbol}", rounded(range.low), rounded(range.high));
        let words = Words::new(found.replace(" ,", ","), expected.trim_end());
        match likely_unit(cell, column, value, read_in) {
            Some(unit) => words.remedy(format!(
                "It looks like {0}: if the whole column is in {0}, say so in study.toml: {1}; if only this cell is, write `{2} {3}`.",
                unit.words(),
                of_column(cell.header(), &format!("unit = \"{}\"", unit.suffix())),
                cell.text().trim(),
                unit.suffix()
            )),
            None => words,
        }
    };
    if let Some(range) = outside(column.possible) {
        ledger.cell(&NUMBER_IMPOSSIBLE, cell, words("which cannot be", range));
        return false;
    }
    if let Some(range) = outside(column.usual) {
        ledger.cell(&NUMBER_UNUSUAL, cell, words("which is unusual", range));
    }
    true
}

/// Says that a price, a count or a thickness is less than nothing.
pub(in crate::intake) fn below_nothing(ledger: &mut Ledger, cell: Cell) {
    let found = format!("{} is less than nothing.", quoted(cell.text()));
    ledger.cell(&NUMBER_IMPOSSIBLE, cell, Words::new(found, "0 or more"));
}

/// Says that the number of a repetition is no whole number.
pub(in crate::intake) fn not_a_count(ledger: &mut Ledger, cell: Cell) {
    let found = format!("{} is no whole number.", quoted(cell.text()));
    ledger.cell(&NUMBER_IMPOSSIBLE, cell, Words::new(found, "1, 2, 3 and so on"));
}

/// Four significant digits: enough to see which value is meant.
pub(in crate::intake) fn rounded(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return value.to_string();
    }
    let digits = (3.0 - value.abs().log10().floor()).clamp(0.0, 12.0);
    let scale = 10f64.powf(digits);
    ((value * scale).round() / scale).to_string()
}

rule!(
    DURATION_UNREADABLE,
    "duration-unreadable",
    Error,
    "Reads each cell of a column of days, hours or minutes, with or without words for the unit.",
    "A span that is no number cannot be averaged; the cell became missing.",
    "Write a number, alone or with its unit: `14`, `2 wks`, `~10 days`."
);

/// Says why a cell is no span of time.
pub(in crate::intake) fn duration(ledger: &mut Ledger, cell: Cell, error: &DurationError) {
    let text = quoted(cell.text());
    let found = match error {
        DurationError::Number(error) => return number(ledger, cell, error),
        DurationError::Unit(error) => return unit(ledger, cell, *error),
        DurationError::Words => format!("{text} names no number."),
        DurationError::Negative => format!("{text} is less than nothing."),
        DurationError::Date => format!("{text} is a date, not a span of time."),
    };
    ledger.cell(
        &DURATION_UNREADABLE,
        cell,
        Words::new(found, "a span of time such as 14 or `2 wks`"),
    );
}

rule!(
    DATE_UNREADABLE,
    "date-unreadable",
    Error,
    "Reads each cell of a date column as a date.",
    "Without the day nothing can be said of before and after; the cell became missing.",
    "Write the date as 2024-03-05: year, month, day."
);
rule!(
    DATE_SERIAL,
    "date-serial",
    Error,
    "Finds serial day numbers such as 45356 in date columns.",
    "Spreadsheets count from different years, so the number alone is no date; the cell became missing.",
    "Format the column as a date in the spreadsheet (YYYY-MM-DD) and save it again."
);
rule!(
    DATE_IMPOSSIBLE,
    "date-impossible",
    Error,
    "Checks each date against the calendar and the column's order of day and month.",
    "A day that does not exist is a slip; the cell became missing.",
    "Correct the date."
);

/// Says why a cell is no date.
pub(in crate::intake) fn date(ledger: &mut Ledger, cell: Cell, error: &DateError) {
    let text = quoted(cell.text());
    let expected = "a date such as 2024-03-05";
    let (rule, found) = match error {
        DateError::EitherOrder => return order_undecided(ledger, cell),
        DateError::NotADate => (&DATE_UNREADABLE, format!("{text} is no date.")),
        DateError::Incomplete => (&DATE_UNREADABLE, format!("{text} lacks the day or the year.")),
        DateError::Serial(iso) => (
            &DATE_SERIAL,
            format!(
                "{text} is a serial number of a spreadsheet; counted from 1900 it would be {iso}."
            ),
        ),
        DateError::Impossible => (
            &DATE_IMPOSSIBLE,
            format!("{text} is no day of the calendar, day and month read in the column's order."),
        ),
        DateError::FarAway => (&DATE_IMPOSSIBLE, format!("{text} lies before 1900 or after 2100.")),
    };
    ledger.cell(rule, cell, Words::new(found, expected));
}

rule!(
    YEAR_SHORT,
    "year-short",
    Remark,
    "Says when years of two digits were read as 1980 to 2079.",
    "In another century every date would be wrong.",
    "If it is not so, write the years with four digits."
);

/// Says that a column has years of two digits.
pub(in crate::intake) fn year_short(ledger: &mut Ledger, first: Cell, day: &str) {
    let found = format!("Years of two digits were filled up: {} is {day}.", quoted(first.text()));
    ledger.column(
        &YEAR_SHORT,
        first.table,
        first.column,
        Words::new(found, "years of four digits"),
    );
}

rule!(
    YES_NO_UNREADABLE,
    "yes-no-unreadable",
    Error,
    "Reads each cell of a yes-or-no column.",
    "Another word belongs to neither side; the cell became missing.",
    "Write yes or no, or say in study.toml `kind = \"choice\"` for that column."
);

/// Says that a cell is neither yes nor no.
pub(in crate::intake) fn yes_no(ledger: &mut Ledger, cell: Cell) {
    let found = format!("{} is neither yes nor no.", quoted(cell.text()));
    ledger.cell(&YES_NO_UNREADABLE, cell, Words::new(found, "yes or no"));
}

rule!(
    FATE_UNREADABLE,
    "fate-unreadable",
    Error,
    "Reads each cell of the fate column as one of the six fates.",
    "A piece of unknown fate is counted neither as lost nor as kept; the cell became missing.",
    "Write in_use, worn_out, spoiled, lost, given_away or unfinished."
);

/// Says that a cell names no fate.
pub(in crate::intake) fn fate(ledger: &mut Ledger, cell: Cell) {
    let found = format!("{} is no fate that is known.", quoted(cell.text()));
    ledger.cell(
        &FATE_UNREADABLE,
        cell,
        Words::new(found, "in_use, worn_out, spoiled, lost, given_away or unfinished"),
    );
}

rule!(
    STAGE_UNREADABLE,
    "stage-unreadable",
    Error,
    "Reads each cell that says at which stage a piece was spoiled.",
    "A piece spoiled at an unknown stage cannot be counted where it was lost; the cell became missing.",
    "Write cane, gouge, shape, profile, form, bind, finish or play."
);

/// Says that a cell names no stage.
pub(in crate::intake) fn stage(ledger: &mut Ledger, cell: Cell) {
    let found = format!("{} is no stage of making.", quoted(cell.text()));
    let expected = "cane, gouge, shape, profile, form, bind, finish or play";
    ledger.cell(&STAGE_UNREADABLE, cell, Words::new(found, expected));
}

rule!(
    CAUSE_UNREADABLE,
    "cause-unreadable",
    Remark,
    "Reads each cell that says what spoiled a piece.",
    "A cause in other words is counted under `other`.",
    "Write cracked, leaked, warped, cut or other."
);

/// Says that a cause was counted under `other`.
pub(in crate::intake) fn cause(ledger: &mut Ledger, cell: Cell) {
    let found = format!("{} is no cause that is known; it counts as `other`.", quoted(cell.text()));
    ledger.cell(
        &CAUSE_UNREADABLE,
        cell,
        Words::new(found, "cracked, leaked, warped, cut or other"),
    );
}
