//! Rules about headers and whole columns.

use crate::intake::ledger::{Cell, Ledger, Words, problem, quoted};
use crate::intake::records::Table;
use crate::intake::values::headers::fold;
use crate::problem::{Error, Place, Severity};

rule!(
    HEADER_BLANK,
    "header-blank",
    Error,
    "Looks for columns that hold values under a blank header.",
    "What the values mean cannot be known, so they are not used.",
    "Give the column a name in the first line."
);

/// Says that a column has values and no name.
pub(in crate::intake) fn header_blank(ledger: &mut Ledger, table: &Table, column: usize) {
    let words = Words::new(
        format!("Column {} has no name; it was not used.", column + 1),
        "a name in the header",
    );
    ledger.column(&HEADER_BLANK, table, column, words);
}

rule!(
    HEADER_REPEATED,
    "header-repeated",
    Error,
    "Looks for headers that stand twice.",
    "Which of the two columns is meant cannot be known, so the later one is not used.",
    "Give the two columns different names."
);

/// Says that a header stands twice.
pub(in crate::intake) fn header_repeated(ledger: &mut Ledger, table: &Table, column: usize) {
    let found = format!(
        "The header {} stands twice; this column was not used.",
        quoted(&table.header[column])
    );
    ledger.column(
        &HEADER_REPEATED,
        table,
        column,
        Words::new(found, "a name of its own for each column"),
    );
}

rule!(
    COLUMNS_SAME_MEANING,
    "columns-same-meaning",
    Error,
    "Looks for two columns that mean the same.",
    "Which of the two counts cannot be known, so the later one is not used.",
    "Say in study.toml what the other column is: `[columns.\"header\"] is = \"another_name\"`."
);

/// Says that two headers mean the same column.
pub(in crate::intake) fn same_meaning(
    ledger: &mut Ledger,
    table: &Table,
    column: usize,
    first: usize,
    name: &str,
) {
    let found = format!(
        "Both {} and {} mean `{name}`; this column was not used.",
        quoted(&table.header[first]),
        quoted(&table.header[column])
    );
    ledger.column(
        &COLUMNS_SAME_MEANING,
        table,
        column,
        Words::new(found, "one column of each meaning"),
    );
}

rule!(
    COLUMN_MISSING,
    "column-missing",
    Error,
    "Looks for the columns that a file must have.",
    "Without them its rows belong to no reed, or say nothing.",
    "Name the column in the header, or say in study.toml which one it is: `[columns.\"header\"] is = \"reed\"`."
);

/// Refuses a file that lacks a column which it must have.
pub(in crate::intake) fn column_missing(table: &Table, name: &str, remedy: Option<&str>) -> Error {
    let headers: Vec<String> = table.header.iter().take(12).map(|header| quoted(header)).collect();
    let found = format!("No column is `{name}`. The headers are {}.", headers.join(", "));
    let mut words = Words::new(found, format!("a column `{name}`"));
    words.remedy = remedy.map(str::to_owned);
    let place = Place::file(&table.file).at_line(table.header_line);
    Error::Unreadable(Box::new(problem(&COLUMN_MISSING, place, words)))
}

/// Words in headers under which people write how good a reed is, folded; English and German.
const RATING_WORDS: [&str; 20] = [
    "rating",
    "rate",
    "mark",
    "marks",
    "score",
    "scores",
    "grade",
    "note",
    "noten",
    "schulnote",
    "points",
    "punkte",
    "stars",
    "sterne",
    "verdict",
    "urteil",
    "quality",
    "qualitaet",
    "wertung",
    "bewertung",
];

/// Whether a header looks like that of a rating.
pub(in crate::intake) fn may_be_rating(header: &str) -> bool {
    fold(header).split('_').any(|word| RATING_WORDS.contains(&word))
}

rule!(
    COLUMN_UNPLACED,
    "column-unplaced",
    Remark,
    "Says when a column of the maker's own was kept as a factor without a stage of making.",
    "Without its stage, nothing can be adjusted for it and it for nothing.",
    "Say its stage in study.toml: `[columns.\"header\"] stage = \"profile\"`."
);

/// Says that a column was kept without a stage.
pub(in crate::intake) fn unplaced(
    ledger: &mut Ledger,
    table: &Table,
    column: usize,
    as_what: &str,
) {
    let header = quoted(&table.header[column]);
    let found = format!(
        "{header} is no column that the catalogue knows; it was kept as {as_what} without a stage."
    );
    ledger.column(
        &COLUMN_UNPLACED,
        table,
        column,
        Words::new(found, "a known column, or its stage in study.toml"),
    );
}

rule!(
    COLUMN_NOT_USED,
    "column-not-used",
    Remark,
    "Says which columns take no part.",
    "A column that was passed over cannot be missed silently.",
    "If it should count, say what it is in study.toml: `[columns.\"header\"] kind = \"number\"`."
);

/// Says that a column was not used, and why.
pub(in crate::intake) fn not_used(ledger: &mut Ledger, table: &Table, column: usize, why: &str) {
    let found = format!("{} was not used: {why}.", quoted(&table.header[column]));
    ledger.column(
        &COLUMN_NOT_USED,
        table,
        column,
        Words::new(found, "numbers, a few repeating words, or ratings"),
    );
}

rule!(
    DECIMAL_MARK_FOUND,
    "decimal-mark-found",
    Remark,
    "Says when a column's decimal mark was found from the file's other columns.",
    "`1,250` is 1.25 or 1250, and the column itself does not say which.",
    "If it is not so, say it in study.toml: `[columns.\"header\"] decimal = \",\"`."
);

/// Says that the file's other columns decided the mark.
pub(in crate::intake) fn mark_found(ledger: &mut Ledger, cell: Cell, mark: &str) {
    let found = format!(
        "{} was read with a decimal {mark}, as in the file's other columns.",
        quoted(cell.text())
    );
    ledger.column(
        &DECIMAL_MARK_FOUND,
        cell.table,
        cell.column,
        Words::new(found, "a number that can be read one way only"),
    );
}

rule!(
    DECIMAL_MARK_UNDECIDED,
    "decimal-mark-undecided",
    Error,
    "Looks for numbers that can be read in two ways: `1,234` is a little over one or over a thousand.",
    "A guess would be wrong by a factor of a thousand.",
    "Say it in study.toml: `decimal = \",\"` or `decimal = \".\"`, for the whole log or under `[columns.\"header\"]`."
);

/// Says that a number cannot be read before the decimal mark is known.
pub(in crate::intake) fn mark_undecided(ledger: &mut Ledger, cell: Cell) {
    let found = format!(
        "{} can be read in two ways, and nothing in the column decides.",
        quoted(cell.text())
    );
    ledger.cell(
        &DECIMAL_MARK_UNDECIDED,
        cell,
        Words::new(found, "a number with a known decimal mark"),
    );
}

rule!(
    DECIMAL_MARKS_MIXED,
    "decimal-marks-mixed",
    Warning,
    "Finds columns that write some numbers with a decimal point and others with a comma.",
    "Each number that can be read one way only was read so; others are asked for.",
    "Write the column with one mark throughout."
);

/// Says that a column uses both marks, naming a cell of each.
pub(in crate::intake) fn marks_mixed(ledger: &mut Ledger, point: Cell, comma: Cell) {
    let found = format!(
        "Some numbers have a decimal point ({}, line {}), others a comma ({}, line {}).",
        quoted(point.text()),
        point.table.line(point.row),
        quoted(comma.text()),
        comma.table.line(comma.row)
    );
    ledger.column(
        &DECIMAL_MARKS_MIXED,
        point.table,
        point.column,
        Words::new(found, "one decimal mark in a column"),
    );
}

rule!(
    DAY_ORDER_FOUND,
    "day-order-found",
    Remark,
    "Says which of day and month was taken to come first, and from what.",
    "In the other order most dates would be other days.",
    "If it is not so, say it in study.toml: `day_order = \"day first\"` or `\"month first\"`."
);

/// Says how the order of day and month was found.
pub(in crate::intake) fn order_found(
    ledger: &mut Ledger,
    table: &Table,
    column: usize,
    order: &str,
    from: &str,
) {
    let found = format!("Dates were read with the {order} first, {from}.");
    ledger.column(
        &DAY_ORDER_FOUND,
        table,
        column,
        Words::new(found, "dates as 2024-03-05, which need no deciding"),
    );
}

rule!(
    DAY_ORDER_UNDECIDED,
    "day-order-undecided",
    Error,
    "Looks for dates such as 3/4/2024 in files where nothing says which is the day.",
    "A guess would move the date by months.",
    "Say it in study.toml: `day_order = \"day first\"` or `day_order = \"month first\"`."
);

/// Says that a date cannot be read before the order is known.
pub(in crate::intake) fn order_undecided(ledger: &mut Ledger, cell: Cell) {
    let found = format!(
        "{} can be read in two ways, and nothing in the file decides.",
        quoted(cell.text())
    );
    ledger.cell(
        &DAY_ORDER_UNDECIDED,
        cell,
        Words::new(found, "a date whose day and month are known, such as 2024-03-05"),
    );
}

rule!(
    DAY_ORDERS_MIXED,
    "day-orders-mixed",
    Error,
    "Finds columns in which one date can only have the day first and another only the month.",
    "Then no date of the kind 3/4/2024 in it can be relied on.",
    "Write the dates as 2024-03-05, or say the order in study.toml; the dates that do not fit it are then listed."
);

/// Says that a column uses both orders, naming a cell of each.
pub(in crate::intake) fn orders_mixed(ledger: &mut Ledger, day_first: Cell, month_first: Cell) {
    let found = format!(
        "{} (line {}) can only have the day first, {} (line {}) only the month.",
        quoted(day_first.text()),
        day_first.table.line(day_first.row),
        quoted(month_first.text()),
        month_first.table.line(month_first.row)
    );
    let (table, column) = (day_first.table, day_first.column);
    ledger.column_as(
        &DAY_ORDERS_MIXED,
        Severity::Error,
        table,
        column,
        Words::new(found, "one order in a column"),
    );
}
