//! The readings file: repeat readings of any other measurement.

use super::cells::{self, Cells, NumberRules};
use super::checks::{cells as cell_checks, ids};
use super::context::{Account, Context, FileRules, Sheet, range_of};
use super::identity::Identity;
use super::parts::READING_PARTS;
use super::profile::repeats;
use super::reed_rows::ReedRows;
use super::values::headers;
use super::values::labels::JoinedLabels;
use super::values::numbers::DecimalMark;
use crate::catalogue::{self, Column, Kind, Stage};
use crate::problem::Error;
use crate::study::RepeatReading;

/// What a cell of the column `measure` means.
struct Measure {
    name: String,
    known: Option<&'static Column>,
    /// The unit that the cell or the study file gives.
    unit: Option<catalogue::Unit>,
}

/// Reads the readings file into `readings`. Answers how many rows were used.
pub(super) fn read(
    context: &mut Context,
    sheet: &Sheet,
    identity: &Identity,
    readings: &mut Vec<RepeatReading>,
) -> Result<usize, Error> {
    let mut rows = ReedRows::open(context, sheet, identity, &READING_PARTS)?;
    rows.once(context, &["repeat"], "number of the repeat");
    let (_, value) = (rows.needed("measure")?, rows.needed("value")?);
    let file = context.file_rules(rows.table, &rows.rows, &[value], &[]);
    let measured = rows.names(context, "measure", "what was measured").unwrap_or_default();
    let measures: Vec<Measure> =
        measured.levels.iter().map(|level| meaning(context, level)).collect();
    let values = values(context, &file, rows.cells(value), &measured, &measures);
    let people = rows.names(context, "by", "who measured");
    let person = |at: usize| {
        let people = people.as_ref()?;
        people.levels.get(people.level(at)?).cloned()
    };
    let repeats = repeats(context, &file, rows.part("repeat").map(|column| rows.cells(column)));
    let before = readings.len();
    let pieces = rows.rows.iter().zip(&rows.pieces);
    for (at, ((&row, &piece), value)) in pieces.zip(values).enumerate() {
        let measure = measured.level(at).and_then(|level| measures.get(level));
        match (measure, value) {
            (None, _) => ids::cell_needed(context.ledger, rows.table, row as usize, "measure"),
            (_, None) => ids::cell_needed(context.ledger, rows.table, row as usize, "value"),
            (Some(measure), Some(value)) => readings.push(RepeatReading {
                piece: piece as usize,
                measure: measure.name.clone(),
                value,
                by: person(at),
                repeat: repeats.get(at).copied().flatten(),
            }),
        }
    }
    Ok(readings.len() - before)
}

/// A measure is called as the column of the reeds file that it repeats.
fn meaning(context: &Context, text: &str) -> Measure {
    let header = headers::read(text);
    let setting = context.study.column(text);
    let stated = setting.and_then(|setting| setting.is.clone());
    let known = match &stated {
        Some(name) => catalogue::known(name),
        None => header.candidates().into_iter().find(|column| column.kind == Kind::Number),
    };
    let name =
        known.map(|known| known.name.to_owned()).or(stated).unwrap_or_else(|| headers::fold(text));
    let unit =
        setting.and_then(|setting| setting.unit.clone()).and_then(|(_, unit)| unit).or(header.unit);
    Measure { name, known, unit }
}

/// The values, each in the unit of its measure.
fn values(
    context: &mut Context,
    file: &FileRules,
    cells: Cells,
    measured: &JoinedLabels,
    measures: &[Measure],
) -> Vec<Option<f64>> {
    let setting = context.study.column(cells.header());
    let given = setting.and_then(|setting| setting.decimal).or(file.numbers.given);
    let common = NumberRules { given, ..file.numbers };
    let (mark, decided): (Option<DecimalMark>, _) =
        cells::decide_mark(context.ledger, cells, &common);
    let mut values = Vec::with_capacity(cells.rows.len());
    for (at, (row, text)) in cells.texts().enumerate() {
        let measure = measured.level(at).and_then(|level| measures.get(level));
        let rules = match measure {
            Some(measure) => NumberRules {
                unit: measure.unit,
                kept: measure.known.map_or(measure.unit, |known| known.unit),
                known: measure.known,
                ..common
            },
            None => common,
        };
        values.push(text.and_then(|text| {
            let as_plain = cells::plain(text, mark);
            cells::number(context.ledger, cells.at(row), text, as_plain, mark, &rules)
        }));
    }
    let account = Account {
        name: "value".into(),
        meaning: "what was read, in the unit of its measure".into(),
        stage: Some(Stage::Bookkeeping),
        values: values.iter().flatten().count(),
        range: range_of(&values, cell_checks::rounded),
        decided: decided.map(str::to_owned).into_iter().collect(),
        ..Account::default()
    };
    context.understand(cells, account);
    values
}
