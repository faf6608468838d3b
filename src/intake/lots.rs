//! The lots file: what was bought, when and for how much.

use std::collections::hash_map::Entry;
use std::collections::{HashMap, HashSet};

use polars::prelude::DataFrame;

use super::cells::{self, Cells, DateRules, NumberRules};
use super::checks::{cells as cell_checks, ids};
use super::context::{Account, Context, FileRules, Sheet, range_of};
use super::frames;
use super::parts::{self, LOT_PARTS};
use super::values::{dates, headers, labels, totals};
use crate::catalogue::Stage;
use crate::problem::Error;

/// The lots of a log, and how many rows of the file were used.
pub(super) struct Lots {
    pub frame: DataFrame,
    pub used: usize,
}

/// Reads the lots file. A lot is spelled as the reeds file spells it, where that has it.
pub(super) fn read(
    context: &mut Context,
    sheet: &Sheet,
    known_lots: &[String],
) -> Result<Lots, Error> {
    let table = &sheet.table;
    let found = parts::find(context.ledger, table, context.study, &LOT_PARTS);
    let part =
        |name: &str| found.iter().find(|(other, _)| *other == name).map(|(_, column)| *column);
    let lot =
        part("lot").ok_or_else(|| super::checks::columns::column_missing(table, "lot", None))?;
    let (rows, names) = named_rows(context, sheet, lot, known_lots);
    let marks = context.marks.clone();
    let cells = |column: usize| Cells { table, column, rows: &rows, marks: &marks };
    let numbers: Vec<usize> =
        [part("price_per_piece"), part("pieces_bought")].into_iter().flatten().collect();
    let bought: Vec<usize> = part("bought_on").into_iter().collect();
    let file = context.file_rules(table, &rows, &numbers, &bought);
    let mut columns = vec![frames::texts("lot", names.iter().map(|name| Some(name.as_str())))];
    let values = rows.len();
    account(
        context,
        cells(lot),
        "lot",
        "the lot of cane",
        Account { values, ..Account::default() },
    );
    for (name, column) in found.iter().filter(|(name, _)| *name != "lot") {
        columns.push(match *name {
            "bought_on" => day_column(context, &file, cells(*column)),
            name => number_column(context, &file, cells(*column), name),
        });
    }
    let others: Vec<usize> = (0..table.width())
        .filter(|column| found.iter().all(|(_, other)| other != column))
        .collect();
    for column in others {
        columns.extend(other_column(context, cells(column), &columns));
    }
    Ok(Lots { frame: frames::frame(rows.len(), columns), used: rows.len() })
}

/// Rows with a lot that stands on no earlier row, and the lots' names.
fn named_rows(
    context: &mut Context,
    sheet: &Sheet,
    lot: usize,
    known: &[String],
) -> (Vec<u32>, Vec<String>) {
    let table = &sheet.table;
    let spellings = Spellings::of(known);
    let (mut rows, mut names): (Vec<u32>, Vec<String>) = (Vec::new(), Vec::new());
    let mut first_row: HashMap<String, u32> = HashMap::new();
    for &row in &sheet.usable {
        let text = table.cell(row as usize, lot);
        if context.marks.holds(text) {
            ids::id_missing(context.ledger, table, row as usize, "lot");
            continue;
        }
        let name = spellings.spelled(text);
        if totals::is_no_id(&name) && !spellings.names.contains(name.as_str()) {
            ids::row_of_totals(context.ledger, table, row as usize, text);
            continue;
        }
        match first_row.entry(name) {
            Entry::Occupied(known) => {
                let first = *known.get() as usize;
                ids::lot_repeated(context.ledger, table, row as usize, known.key(), first);
            }
            Entry::Vacant(free) => {
                rows.push(row);
                names.push(free.key().clone());
                free.insert(row);
            }
        }
    }
    (rows, names)
}

/// The lots as the reeds file spells them.
struct Spellings<'a> {
    names: HashSet<&'a str>,
    /// The first of the names that are one but for their spelling.
    by_key: HashMap<String, &'a str>,
}

impl<'a> Spellings<'a> {
    fn of(known: &'a [String]) -> Self {
        let mut by_key: HashMap<String, &str> = HashMap::new();
        for name in known {
            by_key.entry(labels::key(name)).or_insert(name);
        }
        Self { names: known.iter().map(String::as_str).collect(), by_key }
    }

    /// A lot's name as the reeds file spells it, where that has it.
    fn spelled(&self, text: &str) -> String {
        let known = self.names.get(text).or_else(|| self.by_key.get(&labels::key(text)));
        known.map_or_else(|| text.to_owned(), |name| (*name).to_owned())
    }
}

fn account(context: &mut Context, cells: Cells, name: &str, meaning: &str, rest: Account) {
    let stage = Some(Stage::Bookkeeping);
    context
        .understand(cells, Account { name: name.into(), meaning: meaning.into(), stage, ..rest });
}

fn day_column(context: &mut Context, file: &FileRules, cells: Cells) -> polars::prelude::Column {
    let setting = context.study.column(cells.header());
    let given = setting.and_then(|setting| setting.day_order).or(file.dates.given);
    let read = cells::dates(context.ledger, cells, DateRules { given, ..file.dates });
    let rest = Account {
        values: read.days.iter().flatten().count(),
        range: range_of(&read.days, dates::iso),
        decided: read.decided,
        ..Account::default()
    };
    account(context, cells, "bought_on", "the day on which the lot was bought", rest);
    frames::days("bought_on", &read.days)
}

fn number_column(
    context: &mut Context,
    file: &FileRules,
    cells: Cells,
    name: &str,
) -> polars::prelude::Column {
    let setting = context.study.column(cells.header());
    let given = setting.and_then(|setting| setting.decimal).or(file.numbers.given);
    let rules = NumberRules { given, ..file.numbers };
    let mut read = prices(context, cells, &rules);
    for (value, &row) in read.values.iter_mut().zip(cells.rows) {
        if value.is_some_and(|value| value < 0.0) {
            *value = None;
            cell_checks::below_nothing(context.ledger, cells.at(row as usize));
        }
    }
    let rest = Account {
        values: read.values.iter().flatten().count(),
        range: range_of(&read.values, cell_checks::rounded),
        decided: read.decided,
        ..Account::default()
    };
    let meaning = if name == "price_per_piece" {
        "what one piece cost"
    } else {
        "how many pieces were bought"
    };
    account(context, cells, name, meaning, rest);
    frames::numbers(name, &read.values)
}

/// Prices may carry a sign of money before or behind the number, which is no unit.
fn prices(context: &mut Context, cells: Cells, rules: &NumberRules) -> cells::Numbers {
    let (mark, decided) = cells::decide_mark(context.ledger, cells, rules);
    let value = |(row, text): (usize, Option<&str>)| {
        let money = |character: char| {
            matches!(character, '€' | '$' | '£' | '¥') || character.is_whitespace()
        };
        let bare = text?.trim_matches(money);
        let bare = ["EUR", "USD", "GBP", "CHF"].iter().fold(bare, |bare, sign| {
            bare.strip_prefix(sign).or(bare.strip_suffix(sign)).unwrap_or(bare).trim()
        });
        cells::number(context.ledger, cells.at(row), bare, cells::plain(bare, mark), mark, rules)
    };
    let values = cells.texts().map(value).collect();
    cells::Numbers { values, unit: None, decided: decided.map(str::to_owned).into_iter().collect() }
}

/// Any other column is kept as text under its folded header.
fn other_column(
    context: &mut Context,
    cells: Cells,
    before: &[polars::prelude::Column],
) -> Option<polars::prelude::Column> {
    let name = headers::fold(cells.header());
    if name.is_empty() || before.iter().any(|column| column.name().as_str() == name) {
        return None;
    }
    let values = cells.texts().filter(|(_, text)| text.is_some()).count();
    account(context, cells, &name, "kept with the lot", Account { values, ..Account::default() });
    Some(frames::texts(&name, cells.texts().map(|(_, text)| text)))
}
