//! Rules about Parquet files.

use super::files::no_text;
use crate::intake::ledger::{Ledger, Words, problem, quoted};
use crate::intake::parquet::Fault;
use crate::problem::{Error, Place, Problem};

rule!(
    PARQUET_BOTH,
    "csv-and-parquet",
    Error,
    "Looks for a table that lies in the folder both as CSV and as Parquet.",
    "One of them may be the older; read both, every row would count twice.",
    "Take one of the two out of the folder, or say in study.toml which is meant: `[files]` and under it `reeds = \"reeds.parquet\"`."
);

/// Refuses a log that holds a table twice.
pub(in crate::intake) fn both(place: &str, name: &str) -> Error {
    let found = format!("The folder holds both {name}.csv and {name}.parquet.");
    let words = Words::new(found, "one of them").remedy(format!(
        "Take one of the two out of the folder, or say in study.toml which is meant: `[files] {name} = \"{name}.parquet\"`."
    ));
    refused(problem(&PARQUET_BOTH, Place::file(place), words))
}

rule!(
    PARQUET_DAMAGED,
    "parquet-unreadable",
    Error,
    "Holds what a Parquet file says of itself against its bytes, and decodes it.",
    "A file that is cut off or damaged holds wrong values where it holds any.",
    "Write it again from the program that it came from, or save the table as CSV."
);
rule!(
    PARQUET_COLUMN,
    "parquet-column-unfit",
    Error,
    "Looks at the type of each column of a Parquet file.",
    "A log's cell is one number, text, day or yes or no.",
    "Leave the column out, or make it a column of numbers, text or dates."
);
rule!(
    PARQUET_TOO_LARGE,
    "parquet-too-large",
    Error,
    "Adds up what a Parquet file says that it unpacks to.",
    "A few bytes can claim to be any number of rows, and a machine would run out of memory over them.",
    "Check what wrote the file; a table that truly repeats itself so often can be read as CSV."
);

rule!(
    PARQUET_ROW_NUMBERS,
    "parquet-row-numbers",
    Remark,
    "Looks for columns in which the program that wrote the file keeps the numbers of its rows.",
    "They say nothing of a reed, and as a column of numbers they would be taken for a factor.",
    "Nothing; or, if the numbers mean something, give the column a name of its own before the file is written."
);

/// Says that a column that numbers the rows was left out.
pub(in crate::intake) fn row_numbers(ledger: &mut Ledger, file: &str, name: &str) {
    let found = format!("The column {} numbers the rows; it was not used.", quoted(name));
    let words = Words::new(found, "the columns of the table alone");
    ledger.file(&PARQUET_ROW_NUMBERS, Place::file(file).at_line(1), words);
}

/// Says why a Parquet file cannot be read.
pub(in crate::intake) fn unread(file: &str, fault: Fault) -> Error {
    let place = Place::file(file);
    refused(match fault {
        Fault::NoText(reason) => return no_text(file, &reason),
        Fault::Damaged(why) => {
            let found = format!("The file cannot be read as Parquet: {why}.");
            problem(&PARQUET_DAMAGED, place, Words::new(found, "a whole Parquet file"))
        }
        Fault::Column { name, holds } => {
            let found = format!("The column {} holds {holds}.", quoted(&name));
            let expected = "numbers, text, dates, or yes and no";
            problem(&PARQUET_COLUMN, place.in_column(&name), Words::new(found, expected))
        }
        Fault::Twice(name) => {
            let found = format!("Two columns are named {}.", quoted(&name));
            let words = Words::new(found, "a name of its own for each column")
                .remedy("Name one of the two otherwise, or leave it out.");
            problem(&PARQUET_COLUMN, place.in_column(&name), words)
        }
        Fault::TooLarge { limit } => {
            let found = format!("The file would unpack to more than {} MB.", limit >> 20);
            let expected = "no more than 256 MB and 64 bytes for each of the file's own";
            problem(&PARQUET_TOO_LARGE, place, Words::new(found, expected))
        }
    })
}

fn refused(problem: Problem) -> Error {
    Error::Unreadable(Box::new(problem))
}
