//! Rules about what a piece's own cells say together: fates, stages, dates.

use crate::intake::ledger::{Cell, Ledger, Words, counted, quoted};
use crate::intake::records::Table;
use crate::problem::Place;

rule!(
    FATE_IN_NOTE,
    "fate-in-note",
    Remark,
    "Says when a note that is nothing but a fate (`gave to Sam`, `cracked`) was read as the fate of a piece that has no other.",
    "A reed that left is otherwise counted as still there.",
    "If it is not so, write the fate into a column `fate`."
);

/// Says that a note was read as the fate.
pub(in crate::intake) fn fate_in_note(ledger: &mut Ledger, cell: Cell, fate: &str) {
    let found = format!("{} was read as the fate `{fate}`.", quoted(cell.text()));
    ledger.cell(&FATE_IN_NOTE, cell, Words::new(found, "a fate in a column of its own"));
}

rule!(
    FATE_ASSUMED,
    "fate-assumed",
    Remark,
    "Says what was assumed of pieces without a fate: rated ones are in use, unrated ones unfinished.",
    "Reeds that wore out or were thrown away unnoted would count as still playing.",
    "Fill in the column `fate`."
);

/// Says how many pieces were given which fate for want of one: in use, worn out, unfinished.
pub(in crate::intake) fn fate_assumed(ledger: &mut Ledger, file: &str, counts: [usize; 3]) {
    let whose = [
        "with a rating, a playing or a finishing date as `in_use`",
        "with a day of retirement as `worn_out`",
        "without a rating or any of these dates as `unfinished`",
    ];
    let parts: Vec<String> = counts
        .iter()
        .zip(whose)
        .filter(|(count, _)| **count > 0)
        .map(|(count, whose)| format!("{count} {whose}"))
        .collect();
    let found = format!("Pieces without a fate were taken so: {}.", parts.join(", "));
    ledger.file(&FATE_ASSUMED, Place::file(file), Words::new(found, "a fate for each piece"));
}

rule!(
    FATES_DISAGREE,
    "fates-disagree",
    Warning,
    "Compares a fate in a rating or note with the column `fate`.",
    "A reed has one fate; the column's stands.",
    "Correct one of the two."
);

/// Says that two cells name different fates.
pub(in crate::intake) fn fates_disagree(ledger: &mut Ledger, cell: Cell, stands: &str) {
    let found = format!("{} is another fate than `{stands}`, which stands.", quoted(cell.text()));
    ledger.cell(&FATES_DISAGREE, cell, Words::new(found, "one fate for a piece"));
}

rule!(
    SPOILED_WITHOUT_STAGE,
    "spoiled-without-stage",
    Remark,
    "Counts spoiled pieces that do not say at which stage.",
    "They count as lost, but no stage can be blamed for them.",
    "Fill in the column `spoiled_at`."
);

/// Says how many spoiled pieces name no stage.
pub(in crate::intake) fn spoiled_without_stage(
    ledger: &mut Ledger,
    table: &Table,
    count: usize,
    first: usize,
) {
    let found = format!(
        "{} spoiled without a stage; the first is on line {}.",
        counted(count as f64, "piece"),
        table.line(first)
    );
    let place = Place::file(&table.file).at_line(table.line(first));
    ledger.file(
        &SPOILED_WITHOUT_STAGE,
        place,
        Words::new(found, "a stage of making in `spoiled_at`"),
    );
}

rule!(
    DATES_OUT_OF_ORDER,
    "dates-out-of-order",
    Warning,
    "Compares the dates of a piece: started, finished, first played, last played.",
    "One of the two is a slip; both were used as they stand.",
    "Check the two dates."
);

/// Says that one date lies before another that it should follow.
pub(in crate::intake) fn dates_out_of_order(
    ledger: &mut Ledger,
    cell: Cell,
    earlier_header: &str,
    earlier: &str,
) {
    let found =
        format!("{} lies before {} in {}.", quoted(cell.text()), earlier, quoted(earlier_header));
    ledger.cell(
        &DATES_OUT_OF_ORDER,
        cell,
        Words::new(found, format!("a day on or after {earlier}")),
    );
}

rule!(
    DAY_TO_COME,
    "day-to-come",
    Warning,
    "Looks for dates far beyond all others of their file: more than two years after the last but one.",
    "It is mostly a wrong year; the date was used as it stands.",
    "Check the year of the date that is named."
);

/// Says that a date lies far after all others.
pub(in crate::intake) fn day_to_come(ledger: &mut Ledger, cell: Cell, next: &str) {
    let found = format!(
        "{} lies more than two years after all others in the column, the last of which is {next}.",
        quoted(cell.text())
    );
    ledger.cell(&DAY_TO_COME, cell, Words::new(found, "a day near the others"));
}
