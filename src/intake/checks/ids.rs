//! Rules about ids and about what rows belong to.

use crate::intake::ledger::{Cell, Ledger, Words, quoted};
use crate::intake::records::Table;

rule!(
    ID_MISSING,
    "id-missing",
    Error,
    "Looks for rows that hold something but name no reed.",
    "Nothing can be joined to a row without an id; the row was set aside.",
    "Give the row its id; for a file without ids say `id_from = \"row\"` in study.toml."
);

/// Sets aside a row without an id.
pub(in crate::intake) fn id_missing(ledger: &mut Ledger, table: &Table, row: usize, name: &str) {
    let found = format!("The row has no `{name}`; it was set aside.");
    ledger.row_aside(&ID_MISSING, table, row, Words::new(found, format!("a `{name}` in each row")));
}

rule!(
    ROW_OF_TOTALS,
    "row-of-totals",
    Warning,
    "Looks for rows whose id is the name of a sum or a mean (`Total`, `Average`, `Summe`), or holds no letter and no digit.",
    "Such a row is no piece, and its sums would count as the largest piece of all; it was set aside.",
    "Nothing; or, if it is a piece, give it another id."
);

/// Sets aside a row that a spreadsheet added below the table.
pub(in crate::intake) fn row_of_totals(ledger: &mut Ledger, table: &Table, row: usize, id: &str) {
    let found = format!(
        "{} is taken for a line below the table, not for an id; the row was set aside.",
        quoted(id)
    );
    ledger.row_aside(&ROW_OF_TOTALS, table, row, Words::new(found, "an id of a piece"));
}

rule!(
    ROW_OF_REMARKS,
    "row-of-remarks",
    Warning,
    "Looks below the table for rows that hold one cell alone, a sentence in the place of the id.",
    "A remark below the table is no piece, and would count as one that was never finished; it was set aside.",
    "Nothing; or, if it is a piece, give it a shorter id."
);

/// Sets aside a row that holds a remark and nothing else.
pub(in crate::intake) fn row_of_remarks(ledger: &mut Ledger, table: &Table, row: usize, id: &str) {
    let found = format!(
        "{} stands alone in its row and reads as a remark, not as an id; the row was set aside.",
        quoted(id)
    );
    ledger.row_aside(&ROW_OF_REMARKS, table, row, Words::new(found, "an id of a piece"));
}

rule!(
    ID_REPEATED,
    "id-repeated",
    Error,
    "Looks for ids that stand on several rows which say different things.",
    "Which row is the reed cannot be known, nor whose the ratings are; all of them were set aside.",
    "Give each piece an id of its own; where another column tells equal numbers apart, name both columns in study.toml under `id_from`."
);

/// Sets aside a row whose id stands elsewhere with other values.
pub(in crate::intake) fn id_repeated(
    ledger: &mut Ledger,
    table: &Table,
    row: usize,
    id: &str,
    other: usize,
    remedy: &str,
) {
    let found = format!(
        "The id {} stands on line {} too, with other values; both were set aside.",
        quoted(id),
        table.line(other)
    );
    let words = Words::new(found, "an id of its own for each piece").remedy(remedy);
    ledger.row_aside(&ID_REPEATED, table, row, words);
}

rule!(
    ROW_REPEATED,
    "row-repeated",
    Warning,
    "Looks for rows that repeat an earlier row in every cell.",
    "Counted twice, the same piece, rating or reading would weigh double. Where the id, day and player, or the number of the repeat show that it is the same, the repetition was set aside; elsewhere it was used.",
    "Delete the repetition."
);

/// Sets aside a row that repeats an earlier one.
pub(in crate::intake) fn row_repeated(
    ledger: &mut Ledger,
    table: &Table,
    row: usize,
    first: usize,
) {
    let found =
        format!("The row repeats line {} in every cell; it was set aside.", table.line(first));
    ledger.row_aside(&ROW_REPEATED, table, row, Words::new(found, "each row once"));
}

rule!(
    PIECE_COLUMNS_DISAGREE,
    "piece-columns-disagree",
    Error,
    "Compares what the rows of one reed say of its making, in files with one row a rating.",
    "A reed is made once; the first value stands and the other was not used.",
    "Write the same value on all rows of the reed."
);

/// Says that a later row of a reed has another value than the first.
pub(in crate::intake) fn piece_columns_disagree(
    ledger: &mut Ledger,
    cell: Cell,
    first: Cell,
    id: &str,
) {
    let found = format!(
        "Reed {} has {} here and {} on line {}; the first stands.",
        quoted(id),
        quoted(cell.text()),
        quoted(first.text()),
        first.table.line(first.row)
    );
    ledger.cell(
        &PIECE_COLUMNS_DISAGREE,
        cell,
        Words::new(found, "the same value on all rows of a reed"),
    );
}

rule!(
    REED_UNKNOWN,
    "reed-unknown",
    Error,
    "Looks up the reed of each rating and reading in the reeds file.",
    "Without its piece, it says nothing about how the reed was made; the row was set aside.",
    "Correct the id, or add the piece to reeds.csv."
);

/// Sets aside a row of a reed that the reeds file does not have.
pub(in crate::intake) fn reed_unknown(
    ledger: &mut Ledger,
    table: &Table,
    row: usize,
    id: &str,
    ambiguous: bool,
) {
    let found = if ambiguous {
        format!(
            "The rows of reed {} in the reeds file were set aside, so this row was too.",
            quoted(id)
        )
    } else {
        format!("The reeds file has no reed {}; the row was set aside.", quoted(id))
    };
    ledger.row_aside(&REED_UNKNOWN, table, row, Words::new(found, "an id of the reeds file"));
}

rule!(
    REED_SPELLED_OTHERWISE,
    "reed-spelled-otherwise",
    Remark,
    "Says when an id was matched although case, spaces or punctuation differ.",
    "Two reeds might be meant.",
    "If it is another reed, correct the id."
);

/// Says that an id was matched in another spelling.
pub(in crate::intake) fn reed_spelled_otherwise(ledger: &mut Ledger, cell: Cell, id: &str) {
    let found = format!("{} was taken as reed {}.", quoted(cell.text()), quoted(id));
    ledger.cell(
        &REED_SPELLED_OTHERWISE,
        cell,
        Words::new(found, "the id as the reeds file spells it"),
    );
}

rule!(
    LOT_REPEATED,
    "lot-repeated",
    Error,
    "Looks for lots that stand twice in the lots file.",
    "Which price and date count cannot be known; the later row was set aside.",
    "Write each lot once; a second purchase is a lot of its own."
);

/// Sets aside a lot that stands twice.
pub(in crate::intake) fn lot_repeated(
    ledger: &mut Ledger,
    table: &Table,
    row: usize,
    lot: &str,
    first: usize,
) {
    let found = format!(
        "The lot {} stands on line {} already; the row was set aside.",
        quoted(lot),
        table.line(first)
    );
    ledger.row_aside(&LOT_REPEATED, table, row, Words::new(found, "each lot once"));
}

rule!(
    CELL_NEEDED,
    "cell-needed",
    Error,
    "Looks for readings without the value, the place or the measure that makes them one.",
    "Without it the reading says nothing; the row was set aside.",
    "Fill in the cell, or delete the row."
);

/// Sets aside a row that lacks a cell which it cannot be without.
pub(in crate::intake) fn cell_needed(ledger: &mut Ledger, table: &Table, row: usize, name: &str) {
    let found = format!("The row has no usable `{name}`; it was set aside.");
    ledger.row_aside(
        &CELL_NEEDED,
        table,
        row,
        Words::new(found, format!("a `{name}` in each row")),
    );
}

rule!(
    LINE_UNKNOWN,
    "line-unknown",
    Error,
    "Reads the line along the blade on which a thickness was taken.",
    "A thickness of an unknown line cannot stand beside the others; the row was set aside.",
    "Write spine, left_channel, right_channel, left_rail or right_rail."
);

/// Sets aside a thickness of an unknown line.
pub(in crate::intake) fn line_unknown(ledger: &mut Ledger, table: &Table, row: usize, text: &str) {
    let found = format!("{} is no line of a profile; the row was set aside.", quoted(text));
    let expected = "spine, left_channel, right_channel, left_rail or right_rail";
    ledger.row_aside(&LINE_UNKNOWN, table, row, Words::new(found, expected));
}
