//! Cells that are not what their column holds.

use super::case::{Case, reeds};

/// A column with one good cell on line 2 and the bad one on line 3.
fn bad(
    code: &'static str,
    claim: &'static str,
    column: &'static str,
    good: &str,
    cell: &'static str,
) -> Case {
    let quoted = cell.replace('"', "\"\"");
    reeds(code, claim, format!("reed,{column}\n1,{good}\n2,\"{quoted}\"\n")).cell(3, column, cell)
}

pub fn cases() -> Vec<Case> {
    let mut cases = numbers();
    cases.extend(dates());
    cases.extend(words());
    cases
}

fn numbers() -> Vec<Case> {
    let number = |claim, cell| bad("number-unreadable", claim, "gouge_mm", "1.25", cell);
    vec![
        number("a word in a number column", "thin"),
        number("no finite number", "NaN"),
        number("a number without end", "1e999"),
        number("a range", "1.20-1.30"),
        number("a bound", "<1.30"),
        number("a formula", "=A1+B1"),
        number("a formula that failed", "#REF!"),
        number("another decimal mark than the study file's", "1,25")
            .with("study.toml", "decimal = \".\"\n"),
        number("a number with marks in no order", "1.2.3"),
        bad("unit-unknown", "a unit that nobody knows", "gouge_mm", "1.25", "1.3 furlongs"),
        bad("unit-unfit", "days in a column of millimetres", "gouge_mm", "1.25", "3 days"),
        bad(
            "unit-unfit",
            "weeks among bare numbers of a column of one's own",
            "pinned",
            "14",
            "2 weeks",
        ),
        bad("unit-unfit", "a wire gauge of an unstated system", "wire", "0.64", "22 ga"),
        bad("unit-unfit", "a wire gauge that no wire has", "wire", "0.64", "99 awg"),
        bad("number-approximate", "a tilde before a number", "gouge_mm", "1.25", "~1.3"),
        bad("number-impossible", "a lost decimal mark", "gouge_mm", "1.25", "125"),
        bad("number-impossible", "a gouge of less than nothing", "gouge_mm", "1.25", "-1.25"),
        bad("number-impossible", "inches among thousandths", "gouge (thou)", "50", "0.051"),
        bad("unit-unknown", "a number with a shout behind it", "gouge_mm", "1.25", "1.25!"),
        bad("number-unusual", "an unusual gouge", "gouge_mm", "1.25", "1.55"),
        bad("duration-unreadable", "a span without a number", "forming_days", "10", "overnight"),
        bad("duration-unreadable", "a span of less than nothing", "forming_days", "10", "-3 days"),
        bad("duration-unreadable", "a date among spans", "forming_days", "10", "2024-03-05"),
    ]
}

fn dates() -> Vec<Case> {
    let date = |code, claim, cell| bad(code, claim, "started_on", "2024-03-01", cell);
    vec![
        date("date-unreadable", "words in a date column", "last week"),
        date("date-unreadable", "a month without a day", "Mar 2024"),
        date("date-serial", "a serial number of a spreadsheet", "45356"),
        date("date-impossible", "a day that February does not have", "2024-02-30"),
        date("date-impossible", "a thirteenth month", "2024-13-01"),
        date("date-impossible", "a year before any log", "1024-03-01"),
        reeds("year-short", "years of two digits", "reed,started_on\n1,20.03.24\n")
            .line(1)
            .column("started_on"),
    ]
}

fn words() -> Vec<Case> {
    vec![
        bad("yes-no-unreadable", "neither yes nor no", "beveled", "yes", "a little")
            .with("study.toml", "[columns.beveled]\nkind = \"yes_no\"\nstage = \"profile\"\n"),
        bad("fate-unreadable", "a fate that nobody knows", "fate", "in_use", "on the moon"),
        bad("stage-unreadable", "a stage that nobody makes", "spoiled_at", "gouge", "varnishing"),
        bad("cause-unreadable", "a cause in other words", "spoiled_by", "cracked", "the cat"),
    ]
}
