//! The sums as one statement of plain SQL: SELECT, FROM, CASE, COUNT, SUM, GROUP BY, names in double quotes, nothing that one engine has and another lacks.

use std::fmt::Write;

use super::{Summed, columns, is_name, shown};

/// The table of reeds as the engine knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Its name, with dots between the parts of a qualified one.
    table: String,
    /// The column of the cane lot.
    lot: String,
}

impl Source {
    /// # Errors
    /// A sentence where a name is none: a line break would end the remark above the statement, and what follows would be run.
    pub fn new(table: &str, lot: &str) -> Result<Source, String> {
        if table.split('.').any(|part| !is_name(part)) {
            return Err(format!("“{}” is no name of a table.", shown(table)));
        }
        if !is_name(lot) {
            return Err(format!("“{}” is no name of a column.", shown(lot)));
        }
        Ok(Source { table: table.to_owned(), lot: lot.to_owned() })
    }
}

/// One statement, with a remark above it that says what it takes.
pub fn sql(summed: &Summed, source: &Source) -> String {
    let mut lines = vec![
        format!("  {LOT} AS {}", quoted(columns::LOT)),
        format!("  {} AS {}", text(summed.score()), quoted(columns::SCORE)),
        format!("  COUNT(*) AS {}", quoted(columns::REEDS)),
        format!("  SUM({USED}) AS {}", quoted(columns::USED)),
    ];
    let names = summed.names();
    for (name, centre) in names.iter().zip(summed.centres()) {
        lines.push(format!("  {} AS {}", number(*centre), quoted(&columns::centre(name))));
    }
    for (place, name) in names.iter().enumerate() {
        lines.push(format!("  SUM({}) AS {}", away(place), quoted(&columns::sum(name))));
    }
    for ((i, one), (j, other)) in columns::pairs(&names) {
        let heading = quoted(&columns::product(one, other));
        lines.push(format!("  SUM({} * {}) AS {heading}", away(i), away(j)));
    }
    format!(
        "{}SELECT\n{}\nFROM (\n{}\n) AS reeds_about_constants\nGROUP BY {LOT}\n",
        remark(summed, source),
        lines.join(",\n"),
        about_constants(summed, source),
    )
}

/// Names inside the statement.
const LOT: &str = "lot_of_reed";
const USED: &str = "has_all";

fn away(place: usize) -> String {
    format!("away_{}", place + 1)
}

fn remark(summed: &Summed, source: &Source) -> String {
    format!(
        "-- Sums by lot for: canewright factors --products FILE\n\
         -- Takes a table {} of one row a reed: its lot in {}, and as numbers {}.\n\
         -- {} is the reed's rating, or the mean of its ratings. A reed that lacks one of them is counted and not summed.\n\
         -- Keep the result, one row a lot, as CSV with all digits or as Parquet.\n",
        table(source),
        quoted(&source.lot),
        summed.names().iter().map(|name| quoted(name)).collect::<Vec<_>>().join(", "),
        quoted(summed.score()),
    )
}

/// Every reed's differences from the constants, none where it lacks anything.
fn about_constants(summed: &Summed, source: &Source) -> String {
    let names = summed.names();
    let known: Vec<String> =
        names.iter().map(|name| format!("{} IS NOT NULL", quoted(name))).collect();
    let known = known.join(" AND ");
    let mut text = format!(
        "  SELECT\n    {} AS {LOT},\n    CASE WHEN {known} THEN 1 ELSE 0 END AS {USED}",
        quoted(&source.lot)
    );
    for (place, (name, centre)) in names.iter().zip(summed.centres()).enumerate() {
        // a text can always be written to
        let _ = write!(
            text,
            ",\n    CASE WHEN {known} THEN {} - {} END AS {}",
            quoted(name),
            number(*centre),
            away(place)
        );
    }
    text + "\n  FROM " + &table(source)
}

fn table(source: &Source) -> String {
    source.table.split('.').map(quoted).collect::<Vec<_>>().join(".")
}

/// A name in double quotes, so that its case and its blanks are kept.
fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

fn text(text: &str) -> String {
    format!("'{}'", text.replace('\'', "''"))
}

/// With an exponent a number is a double in every engine; without one it would be a decimal of few digits in some. Beside an operator a sign needs brackets.
fn number(value: f64) -> String {
    if value < 0.0 { format!("({value:E})") } else { format!("{value:E}") }
}
