//! Rules about names: lots, shapes, players.

use crate::intake::ledger::{Ledger, Words, quoted};
use crate::intake::records::Table;
use crate::intake::values::labels::Joining;

rule!(
    LABELS_JOINED,
    "labels-joined",
    Remark,
    "Joins names that differ in case, spaces or punctuation only, under the commonest spelling.",
    "`lot b` and `Lot B` as two lots would each have half of the reeds.",
    "If they are different things, give them different names."
);

/// Says which spellings were joined under one.
pub(in crate::intake) fn joined(
    ledger: &mut Ledger,
    table: &Table,
    column: usize,
    joining: &Joining,
) {
    let others: Vec<String> = joining
        .others
        .iter()
        .take(8)
        .map(|(other, count)| format!("{} ({count})", quoted(other)))
        .collect();
    let found = format!("{} was joined to {}.", others.join(", "), quoted(&joining.kept));
    ledger.column(&LABELS_JOINED, table, column, Words::new(found, "one spelling of each name"));
}

rule!(
    LABELS_CLOSE,
    "labels-close",
    Remark,
    "Points out names that are merely close: a letter apart, or one the beginning of the other. They are not joined.",
    "If they mean the same, its reeds are split over two names.",
    "If they are the same, write them alike."
);

/// Points out two names that are merely close.
pub(in crate::intake) fn close(
    ledger: &mut Ledger,
    table: &Table,
    column: usize,
    one: &str,
    other: &str,
) {
    let found = format!("{} and {} are close; they were kept apart.", quoted(one), quoted(other));
    ledger.column(
        &LABELS_CLOSE,
        table,
        column,
        Words::new(found, "names that are the same or clearly different"),
    );
}
