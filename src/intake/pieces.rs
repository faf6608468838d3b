//! The reeds file: one row a piece of cane, or one row a rating of it.

use std::borrow::Cow;

use polars::prelude::Column as Series;

use super::cells::{self, Cells};
use super::checks::{cells as cell_checks, columns as column_checks, patterns, pieces as checks};
use super::columns::{self, Planned, Role};
use super::context::{Account, Context, FileRules, Sheet, range_of};
use super::endings::Ending;
use super::frames;
use super::identity::{self, Identity};
use super::ledger::Cell;
use super::ratings::{ScoreColumn, Scores};
use super::study_file::{IdFrom, RowIs};
use super::values::{dates, fates, headers, labels, yes_no};
use crate::catalogue::{Kind, Stage};
use crate::problem::Error;
use crate::study::{Factor, FactorKind, ProfileReading};

/// The pieces of a log, column by column.
pub(super) struct Pieces<'a> {
    pub identity: Identity<'a>,
    pub columns: Vec<Series>,
    pub factors: Vec<Factor>,
    pub endings: Vec<Ending>,
    /// Thickness readings from wide columns.
    pub profile: Vec<ProfileReading>,
    pub started: Option<Vec<Option<i32>>>,
    pub finished: Option<Vec<Option<i32>>>,
    pub first_played: Option<Vec<Option<i32>>>,
    pub last_played: Option<Vec<Option<i32>>>,
    pub hours: Option<Vec<Option<f64>>>,
    /// Whether the last day played stands under a header that says that the reed was retired.
    pub retired: bool,
}

/// Most levels that a column of words may have and still be a choice.
const MOST_LEVELS: usize = 12;

/// Share of filled cells that must read as numbers for a column to be one of numbers.
const SHARE_OF_NUMBERS: f64 = 0.9;

/// Reads the reeds file; ratings in it go to `scores`.
pub(super) fn read<'a>(
    context: &mut Context,
    sheet: &'a Sheet,
    scores: &mut Scores,
) -> Result<Pieces<'a>, Error> {
    let table = &sheet.table;
    let study = context.study;
    let rows_are_ratings = study.row_is == RowIs::Rating;
    let plans = columns::plan_reeds(context.ledger, table, study, rows_are_ratings);
    let identity = identity::find(context, sheet, &plans, rows_are_ratings)?;
    let pieces = identity.ids.len();
    let mut reading = Reading {
        file: file_rules(context, table, &identity, &plans),
        pieces: Pieces {
            identity,
            columns: Vec::new(),
            factors: Vec::new(),
            endings: vec![Ending::default(); pieces],
            profile: Vec::new(),
            started: None,
            finished: None,
            first_played: None,
            last_played: None,
            hours: None,
            retired: false,
        },
        context,
        sheet,
        scores,
    };
    reading.run(&plans);
    Ok(reading.pieces)
}

fn file_rules(
    context: &Context,
    table: &super::records::Table,
    identity: &Identity,
    plans: &[Planned],
) -> FileRules {
    let chosen = |wanted: fn(&Planned) -> bool| -> Vec<usize> {
        plans.iter().filter(|plan| wanted(plan)).map(|plan| plan.column).collect()
    };
    let numbers = chosen(|plan| plan.may_hold_numbers() && !matches!(plan.role, Role::Own(None)));
    context.file_rules(table, &identity.used_rows, &numbers, &chosen(|plan| plan.holds_dates()))
}

struct Reading<'a, 'c, 's, 'x> {
    context: &'c mut Context<'x>,
    sheet: &'a Sheet,
    scores: &'s mut Scores,
    file: FileRules,
    pieces: Pieces<'a>,
}

impl<'a> Reading<'a, '_, '_, '_> {
    fn run(&mut self, plans: &[Planned]) {
        let reeds = self.pieces.identity.ids.iter().map(|id| Some(&**id));
        let reeds = frames::texts("reed", reeds);
        self.pieces.columns.push(reeds);
        for plan in plans.iter().filter(|plan| !is_rating_part(plan)) {
            let rows = self.piece_rows(plan.column);
            self.column(plan, &rows);
        }
        self.ratings(plans);
        self.notes(plans);
        self.whole_table(plans);
        self.pieces.factors.sort_by_key(|factor| factor.stage);
    }

    /// The row that speaks for each piece in one column.
    fn piece_rows(&mut self, column: usize) -> Cow<'static, [u32]> {
        let identity = &self.pieces.identity;
        Cow::Owned(identity.rows_of_column(
            self.context.ledger,
            &self.sheet.table,
            &self.context.marks,
            column,
        ))
    }

    fn column(&mut self, plan: &Planned, rows: &[u32]) {
        let marks = self.context.marks.clone();
        let cells = Cells { table: &self.sheet.table, column: plan.column, rows, marks: &marks };
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
        self.context.understand(cells, account);
    }

    fn id_column(&mut self, plan: &Planned, cells: Cells) {
        let values = cells.texts().filter(|(_, text)| text.is_some()).count();
        self.understand(plan, cells, Account { values, ..Account::default() }, true);
    }

    fn number_column(&mut self, plan: &Planned, cells: Cells) {
        let rules = self.context.number_rules(&self.file, plan);
        let read = cells::numbers(self.context.ledger, cells, &rules);
        patterns::unit_slip(
            self.context.ledger,
            cells.table,
            cells.column,
            cells.rows,
            &read.values,
        );
        let account = Account {
            unit_read: rules.unit.or(rules.kept),
            unit_text: plan.unit_text.clone().filter(|_| plan.known().is_none()),
            unit_kept: rules.kept,
            values: read.values.iter().flatten().count(),
            range: range_of(&read.values, cell_checks::rounded),
            decided: read.decided,
            ..Account::default()
        };
        self.understand(plan, cells, account, true);
        self.pieces.columns.push(frames::numbers(&plan.name, &read.values));
        self.factor(plan, FactorKind::Number, cells);
        if plan.is("hours_played") {
            self.pieces.hours = Some(read.values);
        }
    }

    fn date_column(&mut self, plan: &Planned, cells: Cells) {
        let rules = self.context.date_rules(&self.file, plan);
        let read = cells::dates(self.context.ledger, cells, rules);
        let account = Account {
            values: read.days.iter().flatten().count(),
            range: range_of(&read.days, dates::iso),
            decided: read.decided,
            ..Account::default()
        };
        self.understand(plan, cells, account, true);
        far_ahead(self.context, cells, &read.days);
        self.pieces.columns.push(frames::days(&plan.name, &read.days));
        match plan.name.as_str() {
            "started_on" => self.pieces.started = Some(read.days),
            "finished_on" => self.pieces.finished = Some(read.days),
            "first_played" => self.pieces.first_played = Some(read.days),
            "last_played" => {
                self.pieces.retired = is_retirement(&cells.table.header[cells.column]);
                self.pieces.last_played = Some(read.days);
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
        self.pieces.columns.push(frames::texts(&plan.name, values.into_iter()));
        self.factor(plan, FactorKind::Choice, cells);
    }

    fn choice_or_ending(&mut self, plan: &Planned, cells: Cells) {
        match plan.name.as_str() {
            "fate" => self.fate_column(plan, cells),
            "spoiled_at" => self.stage_column(plan, cells),
            "spoiled_by" => self.cause_column(plan, cells),
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
        self.pieces.columns.push(frames::labels(&plan.name, &joined));
        self.factor(plan, FactorKind::Choice, cells);
    }

    fn fate_column(&mut self, plan: &Planned, cells: Cells) {
        let mut values = 0;
        for (piece, (row, text)) in cells.texts().enumerate() {
            let Some(text) = text else { continue };
            match fates::read(text) {
                Some(read) => {
                    values += 1;
                    self.pieces.endings[piece].take(read);
                }
                None => cell_checks::fate(self.context.ledger, cells.at(row)),
            }
        }
        self.understand(plan, cells, Account { values, ..Account::default() }, true);
    }

    fn stage_column(&mut self, plan: &Planned, cells: Cells) {
        let mut values = 0;
        for (piece, (row, text)) in cells.texts().enumerate() {
            let Some(text) = text else { continue };
            match fates::stage(text) {
                Some(stage) => {
                    values += 1;
                    self.pieces.endings[piece].spoiled_at = Some(stage);
                }
                None => cell_checks::stage(self.context.ledger, cells.at(row)),
            }
        }
        self.understand(plan, cells, Account { values, ..Account::default() }, true);
    }

    fn cause_column(&mut self, plan: &Planned, cells: Cells) {
        let mut values = 0;
        for (piece, (row, text)) in cells.texts().enumerate() {
            let Some(text) = text else { continue };
            values += 1;
            let ending = &mut self.pieces.endings[piece];
            match (fates::cause(text), fates::read(text)) {
                (Some(cause), _) => ending.spoiled_by = Some(cause),
                (None, Some(read)) => ending.complete(read),
                (None, None) => {
                    ending.spoiled_by = Some(fates::Cause::Other);
                    cell_checks::cause(self.context.ledger, cells.at(row));
                }
            }
        }
        self.understand(plan, cells, Account { values, ..Account::default() }, true);
    }

    /// A column of the maker's own whose kind the cells show.
    fn own_column(&mut self, plan: &Planned, cells: Cells) {
        let rules = self.context.number_rules(&self.file, plan);
        let mark = rules.given.or(cells.mark_evidence().decide().mark()).or(rules.file);
        let (numbers, filled) = cells::count_numbers(cells, mark);
        let place = plan.stage == Stage::Unplaced;
        if filled == 0 {
            return self.unused_column(plan, cells, "it is empty");
        }
        if numbers as f64 >= SHARE_OF_NUMBERS * filled as f64 {
            if place {
                column_checks::unplaced(self.context.ledger, cells.table, cells.column, "a number");
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
        let joined = labels::join(cells.texts().map(|(_, text)| text));
        if joined.levels.len() > MOST_LEVELS || 2 * joined.levels.len() >= filled.max(3) {
            return self.unused_column(plan, cells, "it holds text of too many kinds for a choice");
        }
        if place {
            column_checks::unplaced(self.context.ledger, cells.table, cells.column, "a choice");
        }
        self.choice_column(plan, cells);
    }

    fn unused_column(&mut self, plan: &Planned, cells: Cells, why: &str) {
        column_checks::not_used(self.context.ledger, cells.table, cells.column, why);
        let values = cells.texts().filter(|(_, text)| text.is_some()).count();
        let account =
            Account { values, decided: vec![format!("not used: {why}")], ..Account::default() };
        self.understand(plan, cells, account, false);
    }

    fn profile_column(&mut self, plan: &Planned, cells: Cells, from_tip_mm: f64, line: &str) {
        let mut rules = self.context.number_rules(&self.file, plan);
        rules.kept = Some(crate::catalogue::Unit::Millimetre);
        let read = cells::numbers(self.context.ledger, cells, &rules);
        for (piece, value) in read.values.iter().enumerate() {
            let Some(thickness_mm) = *value else { continue };
            let line = line.to_owned();
            self.pieces.profile.push(ProfileReading {
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
    fn factor(&mut self, plan: &Planned, kind: FactorKind, cells: Cells) {
        if matches!(plan.stage, Stage::Bookkeeping | Stage::Play) {
            return;
        }
        let known = plan.known();
        let unit = match known {
            Some(known) => known.unit.map(|unit| unit.symbol().to_owned()),
            None => plan.unit_text.clone(),
        };
        let study = self.context.study;
        self.pieces.factors.push(Factor {
            name: plan.name.clone(),
            label: plan.label.clone(),
            header: cells.table.header[cells.column].clone(),
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

    /// All notes of a piece, one behind the other; a note that is a fate and nothing else is read as one.
    fn notes(&mut self, plans: &[Planned]) {
        let notes: Vec<&Planned> = plans.iter().filter(|plan| plan.is("note")).collect();
        if notes.is_empty() {
            return;
        }
        let rows = self.pieces.identity.used_rows.clone();
        let pieces = self.pieces.identity.piece_of_used_rows();
        let marks = self.context.marks.clone();
        let mut joined: Vec<Option<Cow<str>>> = vec![None; self.pieces.identity.ids.len()];
        for plan in notes {
            let cells =
                Cells { table: &self.sheet.table, column: plan.column, rows: &rows, marks: &marks };
            let mut values = 0;
            for (&piece, (row, text)) in pieces.iter().zip(cells.texts()) {
                let Some(text) = text else { continue };
                let piece = piece as usize;
                values += 1;
                joined[piece] = Some(match joined[piece].take() {
                    // a note that stands on each row of a reed is one note
                    Some(before) if before == text => before,
                    Some(before) => Cow::Owned(format!("{before}; {text}")),
                    None => Cow::Borrowed(text),
                });
                if let Some(read) = fates::read(text) {
                    self.fate_in_note(piece, read, cells.at(row));
                }
            }
            self.understand(plan, cells, Account { values, ..Account::default() }, true);
        }
        self.pieces.columns.push(frames::texts("note", joined.iter().map(Option::as_deref)));
    }

    /// A note that is a fate and nothing else is one, unless the piece has another already.
    fn fate_in_note(&mut self, piece: usize, read: fates::FateRead, cell: Cell) {
        let ending = &mut self.pieces.endings[piece];
        match ending.fate {
            None => {
                ending.complete(read);
                checks::fate_in_note(self.context.ledger, cell, read.fate.word());
            }
            Some(stands) if stands != read.fate => {
                checks::fates_disagree(self.context.ledger, cell, stands.word());
            }
            Some(_) => ending.complete(read),
        }
    }

    /// The ratings that stand in the reeds file.
    fn ratings(&mut self, plans: &[Planned]) {
        let table = &self.sheet.table;
        let marks = self.context.marks.clone();
        let rows = self.pieces.identity.used_rows.clone();
        let of_rows = self.pieces.identity.piece_of_used_rows();
        let of = |role: fn(&Role) -> bool| {
            let plan = plans.iter().find(|plan| role(&plan.role))?;
            Some((plan, Cells { table, column: plan.column, rows: &rows, marks: &marks }))
        };
        let mut names = |found: Option<(&Planned, Cells)>| {
            let (plan, cells) = found?;
            let joined = cells::names(self.context.ledger, cells, plan.setting);
            let values = joined.codes.iter().flatten().count();
            let name = if matches!(plan.role, Role::Player) { "player" } else { "setting" };
            let meaning =
                if matches!(plan.role, Role::Player) { "who rated" } else { "where it was rated" };
            let account = Account {
                name: name.into(),
                meaning: meaning.into(),
                stage: Some(Stage::Play),
                values,
                ..Account::default()
            };
            self.context.understand(cells, account);
            Some(joined)
        };
        let players = names(of(|role| matches!(role, Role::Player)));
        let settings = names(of(|role| matches!(role, Role::Setting)));
        let rated_on = of(|role| matches!(role, Role::RatedOn));
        let days = rated_on.map(|(plan, cells)| {
            let rules = self.context.date_rules(&self.file, plan);
            let read = cells::dates(self.context.ledger, cells, rules);
            let account = Account {
                name: "date".into(),
                meaning: "the day of the rating".into(),
                stage: Some(Stage::Play),
                values: read.days.iter().flatten().count(),
                range: range_of(&read.days, dates::iso),
                decided: read.decided,
                ..Account::default()
            };
            self.context.understand(cells, account);
            read.days
        });
        for plan in plans {
            let Role::Criterion { out_of } = plan.role else { continue };
            let column = ScoreColumn {
                cells: Cells { table, column: plan.column, rows: &rows, marks: &marks },
                sheet: 0,
                criterion: &plan.name,
                out_of,
                pieces: &of_rows,
                players: players.as_ref(),
                settings: settings.as_ref(),
                days: days.as_deref(),
                rules: self.context.number_rules(&self.file, plan),
            };
            self.scores.add(self.context, &column, &mut self.pieces.endings);
        }
    }

    /// Checks that look at more than one column.
    fn whole_table(&mut self, plans: &[Planned]) {
        let by_name = |name: &str| plans.iter().find(|plan| plan.is(name)).map(|plan| plan.column);
        let pieces = &self.pieces;
        let dated = [
            ("started_on", &pieces.started),
            ("finished_on", &pieces.finished),
            ("first_played", &pieces.first_played),
            ("last_played", &pieces.last_played),
        ];
        let dated: Vec<(usize, &[Option<i32>])> = dated
            .iter()
            .filter_map(|(name, days)| Some((by_name(name)?, days.as_deref()?)))
            .collect();
        let table = &self.sheet.table;
        for (at, &(column, days)) in dated.iter().enumerate().skip(1) {
            let (earlier_column, earlier_days) = dated[at - 1];
            for (piece, day) in days.iter().enumerate() {
                let (Some(day), Some(earlier)) = (day, earlier_days[piece]) else { continue };
                if *day < earlier {
                    let row = pieces.identity.first_rows[piece] as usize;
                    let cell = Cell { table, row, column };
                    let header = &table.header[earlier_column];
                    checks::dates_out_of_order(
                        self.context.ledger,
                        cell,
                        header,
                        &dates::iso(earlier),
                    );
                }
            }
        }
        if self.context.study.row_is == RowIs::Piece && self.context.study.id_from == IdFrom::Column
        {
            let ids: Vec<usize> =
                plans.iter().filter(|plan| plan.is("reed")).map(|plan| plan.column).collect();
            patterns::rows_alike(self.context.ledger, table, &pieces.identity.first_rows, &ids);
        }
    }
}

fn is_rating_part(plan: &Planned) -> bool {
    matches!(plan.role, Role::Criterion { .. } | Role::Player | Role::Setting | Role::RatedOn)
        || plan.is("note")
}

fn is_retirement(header: &str) -> bool {
    ["retired", "retired_on", "date_retired", "ausgemustert"]
        .contains(&headers::fold(header).as_str())
}

/// Days after which the last date of a column stands alone.
const ALONE: i32 = 730;

/// Points out the last day of a column when it lies far behind all others.
pub(super) fn far_ahead(context: &mut Context, cells: Cells, days: &[Option<i32>]) {
    let mut last: [Option<(i32, usize)>; 2] = [None, None];
    for (day, &row) in days.iter().zip(cells.rows) {
        let Some(day) = *day else { continue };
        if last[0].is_none_or(|(latest, _)| day > latest) {
            last = [Some((day, row as usize)), last[0]];
        } else if last[1].is_none_or(|(next, _)| day > next) {
            last[1] = Some((day, row as usize));
        }
    }
    if let [Some((latest, row)), Some((next, _))] = last
        && latest - next > ALONE
    {
        checks::day_to_come(context.ledger, cells.at(row), &dates::iso(next));
    }
}
