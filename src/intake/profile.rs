//! The profile file: one thickness a row, somewhere along a blade.

use super::cells::{self, Cells, NumberRules};
use super::checks::{cells as cell_checks, ids};
use super::columns::{self, PROFILE_PARTS};
use super::context::{Account, Context, FileRules, Sheet, range_of};
use super::identity::Identity;
use super::ratings::{account_for_id, known_rows, reed_columns};
use super::values::headers;
use crate::catalogue::{Stage, Unit};
use crate::problem::Error;
use crate::study::ProfileReading;

/// Reads the profile file into `profile`. Answers how many rows were used.
pub(super) fn read(
    context: &mut Context,
    sheet: &Sheet,
    identity: &Identity,
    profile: &mut Vec<ProfileReading>,
) -> Result<usize, Error> {
    let table = &sheet.table;
    let found = columns::find_parts(context.ledger, table, context.study, &PROFILE_PARTS);
    let part =
        |name: &str| found.iter().find(|(other, _)| *other == name).map(|(_, column)| *column);
    let needed = |name: &str| {
        part(name).ok_or_else(|| super::checks::columns::column_missing(table, name, None))
    };
    let ids = reed_columns(context, table, part("reed"))?;
    let (from_tip, line, thickness) =
        (needed("from_tip_mm")?, needed("line")?, needed("thickness_mm")?);
    let (rows, pieces) = known_rows(context, sheet, identity, &ids, "reed");
    let marks = context.marks.clone();
    let cells = |column: usize| Cells { table, column, rows: &rows, marks: &marks };
    let file = context.file_rules(table, &rows, &[from_tip, thickness], &[]);
    account_for_id(context, cells(ids.column().unwrap_or_default()));
    let from_tips =
        lengths(context, &file, cells(from_tip), "from_tip_mm", "distance from the tip");
    let thicknesses =
        lengths(context, &file, cells(thickness), "thickness_mm", "thickness of the blade");
    let repeats = repeats(context, &file, part("repeat").map(cells));
    let mut used = 0;
    for (at, &row) in rows.iter().enumerate() {
        let row = row as usize;
        let text = table.cell(row, line);
        match (headers::blade_line(text), from_tips[at], thicknesses[at]) {
            (None, _, _) => ids::line_unknown(context.ledger, table, row, text),
            (_, None, _) => ids::cell_needed(context.ledger, table, row, "from_tip_mm"),
            (_, _, None) => ids::cell_needed(context.ledger, table, row, "thickness_mm"),
            (Some(line), Some(from_tip_mm), Some(thickness_mm)) => {
                used += 1;
                let piece = pieces[at] as usize;
                let repeat = repeats.get(at).copied().flatten().unwrap_or(1);
                profile.push(ProfileReading {
                    piece,
                    from_tip_mm,
                    line: line.to_owned(),
                    repeat,
                    thickness_mm,
                });
            }
        }
    }
    let account = Account {
        name: "line".into(),
        meaning: "along which line of the blade".into(),
        stage: Some(Stage::Profile),
        values: rows.len(),
        ..Account::default()
    };
    context.understand(cells(line), account);
    Ok(used)
}

fn lengths(
    context: &mut Context,
    file: &FileRules,
    cells: Cells,
    name: &str,
    meaning: &str,
) -> Vec<Option<f64>> {
    let setting = context.study.column(&cells.table.header[cells.column]);
    let header = headers::read(&cells.table.header[cells.column]);
    let unit =
        setting.and_then(|setting| setting.unit.clone()).and_then(|(_, unit)| unit).or(header.unit);
    let given = setting.and_then(|setting| setting.decimal).or(file.numbers.given);
    let rules = NumberRules { given, unit, kept: Some(Unit::Millimetre), ..file.numbers };
    let mut read = cells::numbers(context.ledger, cells, &rules);
    if name == "thickness_mm" {
        super::checks::patterns::unit_slip(
            context.ledger,
            cells.table,
            cells.column,
            cells.rows,
            &read.values,
        );
    }
    for (value, &row) in read.values.iter_mut().zip(cells.rows) {
        if value.is_some_and(|value| value < 0.0) {
            *value = None;
            cell_checks::below_nothing(context.ledger, cells.at(row as usize));
        }
    }
    let account = Account {
        name: name.into(),
        meaning: meaning.into(),
        stage: Some(Stage::Profile),
        unit_read: unit.or(rules.kept),
        unit_kept: rules.kept,
        values: read.values.iter().flatten().count(),
        range: range_of(&read.values, cell_checks::rounded),
        decided: read.decided,
        ..Account::default()
    };
    context.understand(cells, account);
    read.values
}

/// The number of each repetition; one where it is not said.
pub(super) fn repeats(
    context: &mut Context,
    file: &FileRules,
    cells: Option<Cells>,
) -> Vec<Option<u32>> {
    let Some(cells) = cells else { return Vec::new() };
    let read = cells::numbers(context.ledger, cells, &file.numbers);
    let mut repeats = Vec::with_capacity(read.values.len());
    for (value, &row) in read.values.iter().zip(cells.rows) {
        let whole = value.filter(|value| value.fract() == 0.0 && (0.0..=1e6).contains(value));
        if whole.is_none() && value.is_some() {
            cell_checks::not_a_count(context.ledger, cells.at(row as usize));
        }
        repeats.push(whole.map(|value| value as u32));
    }
    let account = Account {
        name: "repeat".into(),
        meaning: "which repetition of the reading".into(),
        stage: Some(Stage::Bookkeeping),
        values: repeats.iter().flatten().count(),
        ..Account::default()
    };
    context.understand(cells, account);
    repeats
}
