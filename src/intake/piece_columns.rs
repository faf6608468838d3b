//! The columns of the reeds file, each by its kind.

use std::collections::HashMap;

use super::cells::{self, Cells};
use super::checks::{cells as cell_checks, columns as column_checks, patterns};
use super::columns::{Planned, Role};
use super::context::{Account, Context, FileRules, Sheet, range_of};
use super::endings::Said;
use super::frames;
use super::identity::Identity;
use super::pieces::{Held, far_ahead};
use super::values::{dates, fates, headers, labels, yes_no};
use crate::catalogue::{Kind, Stage, Unit};
use crate::study::{Factor, FactorKind, ProfileReading};

/// Most levels that a column of words may have and still be a choice.
const MOST_LEVELS: usize = 12;

/// Share of filled cells that must read as numbers for a column to be one of numbers.
const SHARE_OF_NUMBERS: f64 = 0.9;

/// What one column holds, and what it says of how pieces ended.
#[derive(Default)]
pub(super) struct ColumnRead {
    pub held: Held,
    pub endings: Vec<(usize, Said)>,
}

/// Reads one column.
pub(super) fn read(
    context: &mut Context,
    sheet: &Sheet,
    identity: &Identity,
    file: &FileRules,
    plan: &Planned,
) -> ColumnRead {
    let (table, marks) = (&sheet.table, context.marks.clone());
    let rows = identity.rows_of_column(context.ledger, table, &marks, plan.column);
    let cells = Cells { table, column: plan.column, rows: &rows, marks: &marks };
    let mut reading = Reading { context, file, read: ColumnRead::default() };
    reading.column(plan, cells);
    reading.read
}

/// Reads what was not read before: the same few words stand on most rows.
fn remembered<'a, Read: Copy>(read: impl Fn(&str) -> Read) -> impl FnMut(&'a str) -> Read {
    let mut known: HashMap<&str, Read> = HashMap::new();
    move |text| *known.entry(text).or_insert_with(|| read(text))
}

/// Writes down how a column was understood.
pub(super) fn understand(
    context: &mut Context,
    plan: &Planned,
    cells: Cells,
    account: Account,
    used: bool,
) {
    let known = plan.known();
    let meaning = match known {
        Some(known) => known.meaning.to_owned(),
        None if used => "a column of the maker's own".to_owned(),
        None => String::new(),
    };
    let account = Account {
        name: if used { plan.name.clone() } else { String::new() },
        meaning: if account.meaning.is_empty() { meaning } else { account.meaning },
        stage: account.stage.or(Some(plan.stage)),
        ..account
    };
    context.understand(cells, account);
}

/// A column while it is read.
struct Reading<'c, 'x> {
    context: &'c mut Context<'x>,
    file: &'c FileRules,
    read: ColumnRead,
}

impl Reading<'_, '_> {
    fn column(&mut self, plan: &Planned, cells: Cells) {
        match plan.role {
            Role::Known(known) => match known.kind {
                Kind::Id => self.id_column(plan, cells),
                Kind::Number => self.number_column(plan, cells),
                Kind::Date => self.date_column(plan, cells),
                Kind::YesNo => self.yes_no_column(plan, cells),
                Kind::Choice => self.choice_or_ending(plan, cells),
                // notes are read together; ratings have a role of their own
                Kind::Text | Kind::Rating => {}
            },
            Role::Own(Some(Kind::Number)) => self.number_column(plan, cells),
            Role::Own(Some(Kind::Date)) => self.date_column(plan, cells),
            Role::Own(Some(Kind::YesNo)) => self.yes_no_column(plan, cells),
            Role::Own(Some(Kind::Choice)) => self.choice_column(plan, cells),
            Role::Own(Some(_)) => self.unused_column(plan, cells, "it holds text"),
            Role::Own(None) => self.own_column(plan, cells),
            Role::ProfilePoint { from_tip_mm, line } => {
                self.profile_column(plan, cells, from_tip_mm, line)
            }
            Role::Unused => self.understand(plan, cells, Account::default(), false),
            // read with the ratings
            Role::Criterion { .. } | Role::Player | Role::Setting | Role::RatedOn => {}
        }
    }

    fn understand(&mut self, plan: &Planned, cells: Cells, account: Account, used: bool) {
        understand(self.context, plan, cells, account, used);
    }

    fn id_column(&mut self, plan: &Planned, cells: Cells) {
        let values = cells.texts().filter(|(_, text)| text.is_some()).count();
        self.understand(plan, cells, Account { values, ..Account::default() }, true);
    }

    fn number_column(&mut self, plan: &Planned, cells: Cells) {
        let rules = self.context.number_rules(self.file, plan);
        let read = cells::numbers(self.context.ledger, cells, &rules);
        patterns::unit_slip(
            self.context.ledger,
            cells.table,
            cells.column,
            cells.rows,
            &read.values,
        );
        let account = Account {
            unit_read: rules.unit.or(rules.kept).or(read.unit),
            unit_text: plan.unit_text.clone().filter(|_| plan.known().is_none()),
            unit_kept: rules.kept.or(read.unit),
            values: read.values.iter().flatten().count(),
            range: range_of(&read.values, cell_checks::rounded),
            decided: read.decided,
            ..Account::default()
        };
        self.understand(plan, cells, account, true);
        self.read.held.columns.push(frames::numbers(&plan.name, &read.values));
        self.factor(plan, FactorKind::Number, cells, read.unit);
        if plan.is("hours_played") {
            self.read.held.hours = Some(read.values);
        }
    }

    fn date_column(&mut self, plan: &Planned, cells: Cells) {
        let rules = self.context.date_rules(self.file, plan);
        let read = cells::dates(self.context.ledger, cells, rules);
        let account = Account {
            values: read.days.iter().flatten().count(),
            range: range_of(&read.days, dates::iso),
            decided: read.decided,
            ..Account::default()
        };
        self.understand(plan, cells, account, true);
        far_ahead(self.context, cells, &read.days);
        self.read.held.columns.push(frames::days(&plan.name, &read.days));
        match plan.name.as_str() {
            "started_on" => self.read.held.started = Some(read.days),
            "finished_on" => self.read.held.finished = Some(read.days),
            "first_played" => self.read.held.first_played = Some(read.days),
            "last_played" => {
                self.read.held.retired = is_retirement(cells.header());
                self.read.held.last_played = Some(read.days);
            }
            _ => {}
        }
    }

    fn yes_no_column(&mut self, plan: &Planned, cells: Cells) {
        let mut values: Vec<Option<&str>> = Vec::with_capacity(cells.rows.len());
        for (row, text) in cells.texts() {
            let read = text.and_then(yes_no::read);
            if read.is_none() && text.is_some() {
                cell_checks::yes_no(self.context.ledger, cells.at(row));
            }
            values.push(read.map(|yes| if yes { "yes" } else { "no" }));
        }
        let account = Account { values: values.iter().flatten().count(), ..Account::default() };
        self.understand(plan, cells, account, true);
        if plan.is("played") {
            self.read.held.played =
                Some(values.iter().map(|value| *value == Some("yes")).collect());
        }
        self.read.held.columns.push(frames::texts(&plan.name, values.into_iter()));
        self.factor(plan, FactorKind::Choice, cells, None);
    }

    fn choice_or_ending(&mut self, plan: &Planned, cells: Cells) {
        match plan.name.as_str() {
            "fate" => self.fate_column(plan, cells),
            "spoiled_at" => self.stage_column(plan, cells),
            "spoiled_by" => self.cause_column(plan, cells),
            _ if all_yes_no(cells) => self.yes_no_column(plan, cells),
            _ => self.choice_column(plan, cells),
        }
    }

    fn choice_column(&mut self, plan: &Planned, cells: Cells) {
        let joined = cells::names(self.context.ledger, cells, plan.setting);
        let decided = match joined.joinings.len() {
            0 => Vec::new(),
            joinings => vec![format!(
                "{} names, {joinings} joined from several spellings",
                joined.levels.len()
            )],
        };
        let values = joined.codes.iter().flatten().count();
        self.understand(plan, cells, Account { values, decided, ..Account::default() }, true);
        self.read.held.columns.push(frames::labels(&plan.name, &joined));
        self.factor(plan, FactorKind::Choice, cells, None);
    }

    fn fate_column(&mut self, plan: &Planned, cells: Cells) {
        let mut values = 0;
        let mut fate = remembered(fates::read);
        for (piece, (row, text)) in cells.texts().enumerate() {
            let Some(text) = text else { continue };
            match fate(text) {
                Some(read) => {
                    values += 1;
                    self.read.endings.push((piece, Said::Fate(read)));
                }
                None => cell_checks::fate(self.context.ledger, cells.at(row)),
            }
        }
        self.understand(plan, cells, Account { values, ..Account::default() }, true);
    }

    fn stage_column(&mut self, plan: &Planned, cells: Cells) {
        let mut values = 0;
        let mut stage = remembered(fates::stage);
        for (piece, (row, text)) in cells.texts().enumerate() {
            let Some(text) = text else { continue };
            match stage(text) {
                Some(stage) => {
                    values += 1;
                    self.read.endings.push((piece, Said::Stage(stage)));
                }
                None => cell_checks::stage(self.context.ledger, cells.at(row)),
            }
        }
        self.understand(plan, cells, Account { values, ..Account::default() }, true);
    }

    fn cause_column(&mut self, plan: &Planned, cells: Cells) {
        let mut values = 0;
        let mut cause = remembered(|text| (fates::cause(text), fates::read(text)));
        for (piece, (row, text)) in cells.texts().enumerate() {
            let Some(text) = text else { continue };
            values += 1;
            let said = match cause(text) {
                (Some(cause), _) => Said::Cause(cause),
                (None, Some(read)) => Said::FateBeside(read),
                (None, None) => {
                    cell_checks::cause(self.context.ledger, cells.at(row));
                    Said::Cause(fates::Cause::Other)
                }
            };
            self.read.endings.push((piece, said));
        }
        self.understand(plan, cells, Account { values, ..Account::default() }, true);
    }

    /// A column of the maker's own whose kind the cells show.
    fn own_column(&mut self, plan: &Planned, cells: Cells) {
        let rules = self.context.number_rules(self.file, plan);
        let mark = rules.given.or(cells.mark_evidence().decide().mark()).or(rules.file);
        let (numbers, filled) = cells::count_numbers(cells, mark);
        let place = plan.stage == Stage::Unplaced;
        if filled == 0 {
            return self.unused_column(plan, cells, "it is empty");
        }
        if numbers as f64 >= SHARE_OF_NUMBERS * filled as f64 {
            if place {
                column_checks::unplaced(
                    self.context.ledger,
                    cells.table,
                    cells.column,
                    "a number",
                    false,
                );
            }
            return self.number_column(plan, cells);
        }
        if cells
            .texts()
            .flat_map(|(_, text)| text)
            .filter(|text| dates::looks_like_date(text))
            .count()
            * 2
            > filled
        {
            return self.unused_column(plan, cells, "it holds dates, and which ones is not said");
        }
        if all_yes_no(cells) {
            if place {
                column_checks::unplaced(
                    self.context.ledger,
                    cells.table,
                    cells.column,
                    "yes or no",
                    false,
                );
            }
            return self.yes_no_column(plan, cells);
        }
        let joined = labels::join(cells.texts().map(|(_, text)| text));
        if joined.levels.len() > MOST_LEVELS || 2 * joined.levels.len() >= filled.max(3) {
            return self.unused_column(plan, cells, "it holds text of too many kinds for a choice");
        }
        if place {
            let of_names = joined.levels.len() > 1
                && joined.levels.iter().all(|level| labels::looks_like_name(level));
            column_checks::unplaced(
                self.context.ledger,
                cells.table,
                cells.column,
                "a choice",
                of_names,
            );
        }
        self.choice_column(plan, cells);
    }

    fn unused_column(&mut self, plan: &Planned, cells: Cells, why: &str) {
        let may_be = cells::may_be(cells, false);
        column_checks::not_used(self.context.ledger, cells.table, cells.column, why, may_be);
        let values = cells.texts().filter(|(_, text)| text.is_some()).count();
        let account =
            Account { values, decided: vec![format!("not used: {why}")], ..Account::default() };
        self.understand(plan, cells, account, false);
    }

    fn profile_column(&mut self, plan: &Planned, cells: Cells, from_tip_mm: f64, line: &str) {
        let mut rules = self.context.number_rules(self.file, plan);
        rules.kept = Some(Unit::Millimetre);
        let read = cells::numbers(self.context.ledger, cells, &rules);
        for (piece, value) in read.values.iter().enumerate() {
            let Some(thickness_mm) = *value else { continue };
            let line = line.to_owned();
            self.read.held.profile.push(ProfileReading {
                piece,
                from_tip_mm,
                line,
                repeat: 1,
                thickness_mm,
            });
        }
        let account = Account {
            meaning: format!("thickness {from_tip_mm} mm from the tip, {}", line.replace('_', " ")),
            unit_read: rules.unit.or(rules.kept),
            unit_kept: rules.kept,
            values: read.values.iter().flatten().count(),
            range: range_of(&read.values, cell_checks::rounded),
            decided: read.decided,
            ..Account::default()
        };
        self.understand(plan, cells, Account { stage: Some(Stage::Profile), ..account }, true);
    }

    /// Adds the factor that a column is, unless it only keeps the books or says how the reed played.
    /// Its unit is the catalogue's, the header's, or what its cells say.
    fn factor(&mut self, plan: &Planned, kind: FactorKind, cells: Cells, said: Option<Unit>) {
        if matches!(plan.stage, Stage::Bookkeeping | Stage::Play) {
            return;
        }
        let known = plan.known();
        let symbol = |unit: Unit| unit.symbol().to_owned();
        let unit = match known {
            Some(known) => known.unit.or(said).map(symbol),
            None => plan.unit_text.clone().or(said.map(symbol)),
        };
        let study = self.context.study;
        self.read.held.factors.push(Factor {
            name: plan.name.clone(),
            label: plan.label.clone(),
            header: cells.header().to_owned(),
            stage: plan.stage,
            kind,
            unit: unit.filter(|_| kind == FactorKind::Number),
            step: plan
                .setting
                .and_then(|setting| setting.step)
                .or(known.and_then(|known| known.step)),
            higher_is: plan.setting.and_then(|setting| setting.higher_is.clone()),
            asked_beforehand: study.candidates.contains_key(&plan.name),
        });
    }
}

fn all_yes_no(cells: Cells) -> bool {
    yes_no::are_yes_no(cells.texts().filter_map(|(_, text)| text))
}

fn is_retirement(header: &str) -> bool {
    ["retired", "retired_on", "date_retired", "ausgemustert"]
        .contains(&headers::fold(header).as_str())
}
