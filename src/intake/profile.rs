//! The profile file: one thickness a row, somewhere along a blade.

use super::cells::{self, Cells, NumberRules};
use super::checks::{cells as cell_checks, ids, patterns};
use super::context::{Account, Context, FileRules, Sheet, range_of};
use super::identity::Identity;
use super::parts::PROFILE_PARTS;
use super::reed_rows::ReedRows;
use super::values::headers;
use crate::catalogue::{Stage, Unit};
use crate::problem::Error;
use crate::study::ProfileReading;
use crate::whole;

/// Reads the profile file into `profile`. Answers how many rows were used.
pub(super) fn read(
    context: &mut Context,
    sheet: &Sheet,
    identity: &Identity,
    profile: &mut Vec<ProfileReading>,
) -> Result<usize, Error> {
    let mut rows = ReedRows::open(context, sheet, identity, &PROFILE_PARTS)?;
    rows.once(context, &["repeat"], "number of the repeat");
    let line = rows.needed("line")?;
    let (from_tip, thickness) = (rows.needed("from_tip_mm")?, rows.needed("thickness_mm")?);
    let file = context.file_rules(rows.table, &rows.rows, &[from_tip, thickness], &[]);
    let from_tips = lengths(context, &file, rows.cells(from_tip), "from_tip_mm");
    let thicknesses = lengths(context, &file, rows.cells(thickness), "thickness_mm");
    let repeats = repeats(context, &file, rows.part("repeat").map(|column| rows.cells(column)));
    account_for_line(context, rows.cells(line));
    let before = profile.len();
    let pieces = rows.rows.iter().zip(&rows.pieces);
    let read = from_tips.into_iter().zip(thicknesses);
    for (at, ((&row, &piece), (from_tip, thickness))) in pieces.zip(read).enumerate() {
        let row = row as usize;
        let text = rows.table.cell(row, line);
        match (headers::blade_line(text), from_tip, thickness) {
            (None, _, _) => ids::line_unknown(context.ledger, rows.table, row, text),
            (_, None, _) => ids::cell_needed(context.ledger, rows.table, row, "from_tip_mm"),
            (_, _, None) => ids::cell_needed(context.ledger, rows.table, row, "thickness_mm"),
            (Some(line), Some(from_tip_mm), Some(thickness_mm)) => profile.push(ProfileReading {
                piece: piece as usize,
                from_tip_mm,
                line: line.to_owned(),
                repeat: repeats.get(at).copied().flatten().unwrap_or(1),
                thickness_mm,
            }),
        }
    }
    Ok(profile.len() - before)
}

fn account_for_line(context: &mut Context, cells: Cells) {
    let account = Account {
        name: "line".into(),
        meaning: "along which line of the blade".into(),
        stage: Some(Stage::Profile),
        values: cells.texts().filter(|(_, text)| text.is_some()).count(),
        ..Account::default()
    };
    context.understand(cells, account);
}

fn lengths(context: &mut Context, file: &FileRules, cells: Cells, name: &str) -> Vec<Option<f64>> {
    let setting = context.study.column(cells.header());
    let header = headers::read(cells.header());
    let unit =
        setting.and_then(|setting| setting.unit.clone()).and_then(|(_, unit)| unit).or(header.unit);
    let given = setting.and_then(|setting| setting.decimal).or(file.numbers.given);
    let rules = NumberRules { given, unit, kept: Some(Unit::Millimetre), ..file.numbers };
    let mut read = cells::numbers(context.ledger, cells, &rules);
    if name == "thickness_mm" {
        patterns::unit_slip(context.ledger, cells.table, cells.column, cells.rows, &read.values);
    }
    for (value, &row) in read.values.iter_mut().zip(cells.rows) {
        if value.is_some_and(|value| value < 0.0) {
            *value = None;
            cell_checks::below_nothing(context.ledger, cells.at(row as usize));
        }
    }
    let account = Account {
        name: name.into(),
        meaning: if name == "thickness_mm" {
            "thickness of the blade"
        } else {
            "distance from the tip"
        }
        .into(),
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
        repeats.push(whole.map(|value| whole::code(whole::part(value))));
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
