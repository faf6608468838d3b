//! What every reader of a file needs: the study file, the missing marks, the
//! ledger, and the account of how columns were understood.

use super::cells::{Cells, DateRules, NumberRules};
use super::columns::Planned;
use super::ledger::Ledger;
use super::records::Table;
use super::study_file::StudyFile;
use super::values::dates::OrderEvidence;
use super::values::missing::MissingMarks;
use super::values::numbers::MarkEvidence;
use crate::catalogue::{Stage, Unit};
use crate::study::Understood;
use rayon::prelude::*;

/// A table whose shape was checked, with the rows that can be used.
#[derive(Debug)]
pub(super) struct Sheet {
    pub table: Table,
    pub usable: Vec<u32>,
}

pub(super) struct Context<'a> {
    /// The log's name: of its folder or file.
    pub log: String,
    pub study: &'a StudyFile,
    pub marks: MissingMarks,
    pub ledger: &'a mut Ledger,
    pub understood: Vec<Understood>,
}

/// What the columns of one file say together.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct FileRules {
    pub numbers: NumberRules,
    pub dates: DateRules,
}

impl<'a> Context<'a> {
    /// The same for a part that is read beside others, with a ledger of its own.
    pub fn with<'own>(&self, ledger: &'own mut Ledger) -> Context<'own>
    where
        'a: 'own,
    {
        Context {
            log: self.log.clone(),
            study: self.study,
            marks: self.marks.clone(),
            ledger,
            understood: Vec::new(),
        }
    }

    /// Where remarks about the whole log stand: the study file, or where it would be.
    pub fn study_place(&self) -> String {
        self.study.file.clone().unwrap_or_else(|| "study.toml".into())
    }

    /// Gathers what all number and date columns of a file say of decimal mark and day order.
    pub fn file_rules(
        &self,
        table: &Table,
        rows: &[u32],
        numbers: &[usize],
        dates: &[usize],
    ) -> FileRules {
        let missing = &self.marks;
        let cells = |&column: &usize| Cells { table, column, rows, marks: missing };
        let of_marks: Vec<MarkEvidence> =
            numbers.par_iter().map(|column| cells(column).mark_evidence()).collect();
        let mut marks = MarkEvidence::default();
        of_marks.into_iter().for_each(|evidence| marks.merge(evidence));
        let of_orders: Vec<OrderEvidence> =
            dates.par_iter().map(|column| cells(column).order_evidence()).collect();
        let mut orders = OrderEvidence::default();
        of_orders.into_iter().for_each(|evidence| orders.merge(evidence));
        // a file with both marks decides nothing
        let mark = match marks.decide() {
            super::values::numbers::MarkFound::Unneeded => None,
            found => found.mark(),
        };
        let numbers = NumberRules {
            given: self.study.decimal,
            file: mark,
            wire_gauge: self.study.wire_gauge,
            ..NumberRules::default()
        };
        FileRules {
            numbers,
            dates: DateRules { given: self.study.day_order, file: orders.decide().order() },
        }
    }

    /// The number rules of one planned column.
    pub fn number_rules(&self, file: &FileRules, plan: &Planned) -> NumberRules {
        let known = plan.known();
        let given = plan.setting.and_then(|setting| setting.decimal).or(file.numbers.given);
        let kept = match known {
            Some(known) => known.unit,
            None => plan.unit,
        };
        // a known column without unit (hardness) is kept as it is read
        NumberRules { given, unit: plan.unit, kept, known, ..file.numbers }
    }

    pub fn date_rules(&self, file: &FileRules, plan: &Planned) -> DateRules {
        let given = plan.setting.and_then(|setting| setting.day_order).or(file.dates.given);
        DateRules { given, ..file.dates }
    }

    /// Writes down how a column was understood.
    pub fn understand(&mut self, cells: Cells, account: Account) {
        let missing = cells.rows.len() - account.values;
        let words =
            |unit: Option<Unit>| unit.map(|unit| unit.words().to_owned()).unwrap_or_default();
        self.understood.push(Understood {
            file: cells.table.file.clone(),
            header: cells.header().to_owned(),
            name: account.name,
            meaning: account.meaning,
            stage: account.stage.unwrap_or(Stage::Unplaced),
            unit_read: account.unit_text.unwrap_or_else(|| words(account.unit_read)),
            unit_kept: account.unit_kept.map(|unit| unit.symbol().to_owned()).unwrap_or_default(),
            values: account.values,
            missing,
            range: account.range,
            examples: cells.examples(),
            decided: account.decided,
        });
    }
}

/// How one column was understood, before it is written down.
#[derive(Debug, Default)]
pub(super) struct Account {
    /// Empty for a column that was not used.
    pub name: String,
    pub meaning: String,
    pub stage: Option<Stage>,
    pub unit_read: Option<Unit>,
    /// The unit as the study file writes it, where it is no known one.
    pub unit_text: Option<String>,
    pub unit_kept: Option<Unit>,
    pub values: usize,
    pub range: Option<(String, String)>,
    pub decided: Vec<String>,
}

/// Smallest and largest of some values, as printed.
pub(super) fn range_of<T: Copy + PartialOrd>(
    values: &[Option<T>],
    print: impl Fn(T) -> String,
) -> Option<(String, String)> {
    let mut present = values.iter().flatten().copied();
    let first = present.next()?;
    let (low, high) = present.fold((first, first), |(low, high), value| {
        (if value < low { value } else { low }, if value > high { value } else { high })
    });
    Some((print(low), print(high)))
}
