//! Rules about headers and whole columns.

use crate::catalogue::COLUMNS;
use crate::catalogue::spelling::nearest;
use crate::intake::ledger::{Cell, Ledger, Words, problem, quoted};
use crate::intake::records::Table;
use crate::intake::values::headers::fold;
use crate::problem::{Error, Place};

use super::settings::of_column;

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
        quoted(table.heading(column))
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
    "Say in study.toml what the other column is: `[columns.\"header\"]` and under it `is = \"another_name\"`."
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
        quoted(table.heading(first)),
        quoted(table.heading(column))
    );
    let setting = of_column(table.heading(column), "is = \"another_name\"");
    let remedy = format!("Say in study.toml what the other column is: {setting}.");
    let words = Words::new(found, "one column of each meaning").remedy(remedy);
    ledger.column(&COLUMNS_SAME_MEANING, table, column, words);
}

rule!(
    COLUMN_MISSING,
    "column-missing",
    Error,
    "Looks for the columns that a file must have.",
    "Without them its rows belong to no reed, or say nothing.",
    "Name the column in the header, or say in study.toml which one it is: `[columns.\"header\"]` and under it `is = \"reed\"`."
);

/// Refuses a file that lacks a column which it must have.
pub(in crate::intake) fn column_missing(table: &Table, name: &str, remedy: Option<&str>) -> Error {
    let headers: Vec<String> = table.header.iter().take(12).map(|header| quoted(header)).collect();
    let found = format!("No column is `{name}`. The headers are {}.", headers.join(", "));
    let setting = of_column(
        table.header.first().map_or("header", String::as_str),
        &format!("is = \"{name}\""),
    );
    let usual =
        format!("Name the column `{name}`, or say in study.toml which one it is, as in {setting}.");
    let words = Words::new(found, format!("a column `{name}`"))
        .remedy(remedy.map_or(usual.clone(), |more| format!("{usual} {more}")));
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
    "Say its stage in study.toml: `[columns.\"header\"]` and under it `stage = \"form\"`."
);

/// Says that a column was kept without a stage.
pub(in crate::intake) fn unplaced(
    ledger: &mut Ledger,
    table: &Table,
    column: usize,
    as_what: &str,
    of_names: bool,
) {
    let header = table.heading(column);
    let found = format!(
        "{} is no column that the catalogue knows; it was kept as {as_what} without a stage.",
        quoted(header)
    );
    let is = |name: &str| of_column(header, &format!("is = \"{name}\""));
    let stage = format!(
        "its stage in study.toml (cane, gouge, shape, profile, form, bind or finish), as in {}",
        of_column(header, "stage = \"form\"")
    );
    let remedy = if may_be_rating(header) {
        format!(
            "If it is the rating, say so in study.toml: {}; otherwise say {stage}.",
            is("overall")
        )
    } else if let Some(meant) = nearest(header, COLUMNS.iter().map(|known| known.name)) {
        format!("If it is `{meant}`, say so in study.toml: {}; otherwise say {stage}.", is(meant))
    } else if of_names {
        format!(
            "If it says who rated, say so in study.toml: {}; otherwise say {stage}.",
            is("player")
        )
    } else {
        format!("Say {stage}.")
    };
    let words = Words::new(found, "a known column, or its stage in study.toml");
    ledger.column(&COLUMN_UNPLACED, table, column, words.remedy(remedy));
}

rule!(
    COLUMN_NOT_USED,
    "column-not-used",
    Remark,
    "Says which columns take no part.",
    "A column that was passed over cannot be missed silently.",
    "If it should count, say what it is in study.toml: `[columns.\"header\"]` and under it `kind = \"number\"`."
);

/// What would make a column count, from what its cells hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::intake) enum MayBe {
    Day { of_rating: bool },
    Rating,
    Player,
    Remarks,
    Nothing,
}

impl MayBe {
    fn remedy(self, header: &str) -> String {
        let is = |name: &str| of_column(header, &format!("is = \"{name}\""));
        match self {
            MayBe::Day { of_rating: true } => {
                format!("If it is the day of the rating, say so in study.toml: {}.", is("date"))
            }
            MayBe::Day { of_rating: false } => format!(
                "Say in study.toml which day it is: {}, or `finished_on`, `first_played`, `last_played`.",
                is("started_on")
            ),
            MayBe::Rating => {
                format!("If it is the rating, say so in study.toml: {}.", is("overall"))
            }
            MayBe::Player => {
                format!("If it says who rated, say so in study.toml: {}.", is("player"))
            }
            MayBe::Remarks => format!(
                "If it should count as a choice, say so in study.toml: {}; if it holds remarks: {}.",
                of_column(header, "kind = \"choice\""),
                is("note")
            ),
            MayBe::Nothing => "Nothing, as long as it is empty.".to_owned(),
        }
    }
}

/// Says that a column was not used, and why.
pub(in crate::intake) fn not_used(
    ledger: &mut Ledger,
    table: &Table,
    column: usize,
    why: &str,
    may_be: MayBe,
) {
    let header = table.heading(column);
    let found = format!("{} was not used: {why}.", quoted(header));
    let words = Words::new(found, "numbers, a few repeating words, or ratings");
    ledger.column(&COLUMN_NOT_USED, table, column, words.remedy(may_be.remedy(header)));
}

rule!(
    DECIMAL_MARK_FOUND,
    "decimal-mark-found",
    Remark,
    "Says when a column's decimal mark was found from the file's other columns.",
    "`1,250` is 1.25 or 1250, and the column itself does not say which.",
    "If it is not so, say it in study.toml: `[columns.\"header\"]` and under it `decimal = \",\"`."
);

/// Says that the file's other columns decided the mark.
pub(in crate::intake) fn mark_found(ledger: &mut Ledger, cell: Cell, mark: &str) {
    let found = format!(
        "{} was read with a decimal {mark}, as in the file's other columns.",
        quoted(cell.text())
    );
    let other = if mark == "comma" { "decimal = \".\"" } else { "decimal = \",\"" };
    let remedy =
        format!("If it is not so, say it in study.toml: {}.", of_column(cell.header(), other));
    let words = Words::new(found, "a number that can be read one way only").remedy(remedy);
    ledger.column(&DECIMAL_MARK_FOUND, cell.table, cell.column, words);
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
    let column = of_column(cell.header(), "decimal = \",\"");
    let remedy = format!(
        "Say it in study.toml: `decimal = \",\"` or `decimal = \".\"` for the whole log, or for this column alone: {column}."
    );
    let words = Words::new(found, "a number with a known decimal mark").remedy(remedy);
    ledger.cell(&DECIMAL_MARK_UNDECIDED, cell, words);
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
    Warning,
    "Finds columns in which one date can only have the day first and another only the month.",
    "Each date that can be read in one way only was read so; no other date such as 3/4/2024 in the column can be relied on.",
    "Write the dates as 2024-03-05, or say the order in study.toml; the dates that do not fit it are then listed."
);

/// Two cells of one column: one that has the day first, one that has the month first.
#[derive(Debug, Clone, Copy)]
pub(in crate::intake) struct BothOrders<'a> {
    pub day_first: Cell<'a>,
    pub month_first: Cell<'a>,
}

impl BothOrders<'_> {
    fn words(&self) -> String {
        format!(
            "the column holds both orders: {} (line {}) has the day first, {} (line {}) the month",
            quoted(self.day_first.text()),
            self.day_first.table.line(self.day_first.row),
            quoted(self.month_first.text()),
            self.month_first.table.line(self.month_first.row)
        )
    }
}

/// Says that a column uses both orders, naming a cell of each.
pub(in crate::intake) fn orders_mixed(ledger: &mut Ledger, both: BothOrders) {
    let found = format!("Day and month cannot be told apart: {}.", both.words());
    let (table, column) = (both.day_first.table, both.day_first.column);
    ledger.column(&DAY_ORDERS_MIXED, table, column, Words::new(found, "one order in a column"));
}

/// Says that a date cannot be read because its column uses both orders.
pub(in crate::intake) fn order_unreliable(ledger: &mut Ledger, cell: Cell, both: BothOrders) {
    let found = format!("{} can be read in two ways, and {}.", quoted(cell.text()), both.words());
    let words = Words::new(found, "a date such as 2024-03-05, or one order in the column")
        .remedy("Write the dates of the column as 2024-03-05; where all others have one order, correct the ones that do not.");
    ledger.cell(&DAY_ORDER_UNDECIDED, cell, words);
}
