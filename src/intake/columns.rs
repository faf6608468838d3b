//! Which header is what: the study file first, then the catalogue, then the
//! column's own cells.

use super::checks::columns as checks;
use super::ledger::Ledger;
use super::records::Table;
use super::study_file::{ColumnSetting, StudyFile};
use super::values::{dates, headers, missing, yes_no};
use crate::catalogue::{self, Column, Kind, Stage, Unit};

/// What a column of the reeds file is for.
#[derive(Debug, Clone, Copy)]
pub(super) enum Role {
    Known(&'static Column),
    /// A column of the maker's own, of that kind or one that its cells show.
    Own(Option<Kind>),
    /// A criterion; `out_of` is the 5 in `resp/5`.
    Criterion {
        out_of: Option<f64>,
    },
    /// Who rated, where the reeds file holds ratings.
    Player,
    Setting,
    /// The day of the rating, in files with one row a rating.
    RatedOn,
    ProfilePoint {
        from_tip_mm: f64,
        line: &'static str,
    },
    Unused,
}

/// One column with what it is for.
#[derive(Debug, Clone)]
pub(super) struct Planned<'a> {
    pub column: usize,
    /// Catalogue name or the maker's own, folded.
    pub name: String,
    /// What pages call it.
    pub label: String,
    pub stage: Stage,
    pub role: Role,
    /// The unit that the study file or the header gives.
    pub unit: Option<Unit>,
    /// The unit as printed, for a column of the maker's own.
    pub unit_text: Option<String>,
    pub setting: Option<&'a ColumnSetting>,
}

impl Planned<'_> {
    pub fn known(&self) -> Option<&'static Column> {
        match self.role {
            Role::Known(column) => Some(column),
            _ => None,
        }
    }

    pub fn is_used(&self) -> bool {
        !matches!(self.role, Role::Unused)
    }

    /// Whether this is the known column of that name.
    pub fn is(&self, name: &str) -> bool {
        self.known().is_some_and(|column| column.name == name)
    }

    /// Whether cells are read as numbers: always, or perhaps.
    pub fn may_hold_numbers(&self) -> bool {
        match self.role {
            Role::Known(column) => column.kind == Kind::Number,
            Role::Own(kind) => matches!(kind, None | Some(Kind::Number)),
            Role::Criterion { .. } | Role::ProfilePoint { .. } => true,
            _ => false,
        }
    }

    pub fn holds_dates(&self) -> bool {
        match self.role {
            Role::Known(column) => column.kind == Kind::Date,
            Role::Own(kind) => kind == Some(Kind::Date),
            Role::RatedOn => true,
            _ => false,
        }
    }
}

/// Words for who rated, where, and when. Common practice.
pub(super) const PLAYERS: &str =
    "player judge rater rated_by tester played_by spieler pruefer student by";
pub(super) const SETTINGS: &str = "setting where place room venue occasion used_for ort anlass";
pub(super) const RATED_ON: &str =
    "date rated_on date_rated rating_date played_on datum day session";

/// The clear ones among them: in a file of pieces `room` or `day` may be the maker's own factor.
const CLEAR_PLAYERS: &str = "player judge rater rated_by tester played_by spieler";
const CLEAR_SETTINGS: &str = "setting where used_for occasion";

pub(super) fn names(words: &str, name: &str) -> bool {
    words.split(' ').any(|word| word == name)
}

/// Finds what each column of the reeds file is for. With one row a rating, players,
/// settings and dates belong to the ratings.
pub(super) fn plan_reeds<'a>(
    ledger: &mut Ledger,
    table: &Table,
    study: &'a StudyFile,
    rows_are_ratings: bool,
) -> Vec<Planned<'a>> {
    let mut planned: Vec<Planned> = Vec::with_capacity(table.width());
    for column in 0..table.width() {
        let mut plan = plan(table, column, study, rows_are_ratings);
        refuse_twins(ledger, table, &planned, &mut plan);
        planned.push(plan);
    }
    planned
}

fn plan<'a>(
    table: &Table,
    column: usize,
    study: &'a StudyFile,
    rows_are_ratings: bool,
) -> Planned<'a> {
    let header = table.heading(column).trim();
    let setting = study.column(header);
    let taken_apart = headers::read(header);
    let role = role(table, column, study, setting, &taken_apart, rows_are_ratings);
    let own_name =
        setting.and_then(|setting| setting.is.clone()).unwrap_or_else(|| headers::fold(header));
    let known = match role {
        Role::Known(known) => Some(known),
        Role::Criterion { .. } => criterion_column(setting, &taken_apart),
        _ => None,
    };
    let name = match (known, role) {
        (Some(known), _) => known.name.to_owned(),
        (None, Role::Criterion { out_of: Some(_) }) => taken_apart.name.clone(),
        _ if own_name.is_empty() => format!("column_{}", column + 1),
        _ => own_name,
    };
    let given_unit = setting.and_then(|setting| setting.unit.clone());
    let unit = match &given_unit {
        Some((_, unit)) => *unit,
        None => taken_apart.unit,
    };
    // a column of the maker's own under a playing header says how the reed was played
    let by_header = taken_apart.candidates().into_iter().find(|known| known.kind == Kind::YesNo);
    let stage = setting
        .and_then(|setting| setting.stage)
        .or(known.map(|known| known.stage))
        .or(by_header.filter(|_| setting.is_none()).map(|known| known.stage));
    Planned {
        column,
        label: label(setting, known, header, &name),
        name,
        stage: stage.unwrap_or(Stage::Unplaced),
        role,
        unit,
        unit_text: given_unit.map(|(text, _)| text).or(unit.map(|unit| unit.symbol().to_owned())),
        setting,
    }
}

fn label(
    setting: Option<&ColumnSetting>,
    known: Option<&Column>,
    header: &str,
    name: &str,
) -> String {
    if let Some(label) = setting.and_then(|setting| setting.label.clone()) {
        return label;
    }
    match (known, setting.and_then(|setting| setting.is.as_ref())) {
        (Some(known), _) => known.label.to_owned(),
        (None, Some(_)) => name.replace('_', " "),
        (None, None) if header.is_empty() => name.replace('_', " "),
        (None, None) => header.to_owned(),
    }
}

fn criterion_column(
    setting: Option<&ColumnSetting>,
    header: &headers::Header,
) -> Option<&'static Column> {
    match setting.and_then(|setting| setting.is.as_deref()) {
        Some(name) => catalogue::known(name).filter(|column| column.kind == Kind::Rating),
        None => header.candidates().into_iter().find(|column| column.kind == Kind::Rating),
    }
}

fn role(
    table: &Table,
    column: usize,
    study: &StudyFile,
    setting: Option<&ColumnSetting>,
    header: &headers::Header,
    rows_are_ratings: bool,
) -> Role {
    let out_of = header.out_of;
    let kind = setting.and_then(|setting| setting.kind);
    if kind == Some(Kind::Rating) {
        return Role::Criterion { out_of };
    }
    if let Some(name) = setting.and_then(|setting| setting.is.as_deref()) {
        return stated(name, kind, out_of, rows_are_ratings);
    }
    if header.name.is_empty() {
        return Role::Unused;
    }
    if out_of.is_some() || study.criteria.contains(&header.name) {
        return Role::Criterion { out_of };
    }
    if let Some((from_tip_mm, line)) = header.profile_point() {
        return Role::ProfilePoint { from_tip_mm, line };
    }
    if let Some(role) = rating_role(&header.name, rows_are_ratings) {
        return role;
    }
    match by_cells(table, column, &header.candidates()) {
        Some(known) if known.kind == Kind::Rating => Role::Criterion { out_of },
        // hours or days under a header that asks yes or no
        Some(known) if known.kind == Kind::YesNo && !mostly_yes_no(table, column) => {
            Role::Own(kind)
        }
        Some(known) => Role::Known(known),
        None => Role::Own(kind),
    }
}

fn mostly_yes_no(table: &Table, column: usize) -> bool {
    let cells = (0..table.rows()).map(|row| table.cell(row, column));
    let filled: Vec<&str> = cells.filter(|cell| !missing::is_missing(cell)).take(500).collect();
    2 * filled.iter().filter(|cell| yes_no::read(cell).is_some()).count() >= filled.len()
}

/// What the study file's `is` makes of a column.
fn stated(name: &str, kind: Option<Kind>, out_of: Option<f64>, rows_are_ratings: bool) -> Role {
    match (name, catalogue::known(name)) {
        ("player", _) => Role::Player,
        ("setting", _) => Role::Setting,
        ("date", _) if rows_are_ratings => Role::RatedOn,
        ("rated_on", _) => Role::RatedOn,
        (_, Some(known)) if known.kind == Kind::Rating => Role::Criterion { out_of },
        (_, Some(known)) => Role::Known(known),
        (_, None) => Role::Own(kind),
    }
}

/// Columns that say who rated, where and when: everywhere, or where each row is a rating.
fn rating_role(name: &str, rows_are_ratings: bool) -> Option<Role> {
    let (players, settings) =
        if rows_are_ratings { (PLAYERS, SETTINGS) } else { (CLEAR_PLAYERS, CLEAR_SETTINGS) };
    if names(players, name) {
        Some(Role::Player)
    } else if names(settings, name) {
        Some(Role::Setting)
    } else if rows_are_ratings && names(RATED_ON, name) {
        Some(Role::RatedOn)
    } else {
        None
    }
}

/// Of several meanings (a date or a number of days) the one that most cells have.
fn by_cells(
    table: &Table,
    column: usize,
    candidates: &[&'static Column],
) -> Option<&'static Column> {
    let [first, rest @ ..] = candidates else { return None };
    if rest.is_empty() || candidates.iter().all(|candidate| candidate.kind == first.kind) {
        return Some(first);
    }
    let filled = (0..table.rows())
        .map(|row| table.cell(row, column))
        .filter(|cell| !cell.is_empty())
        .take(500);
    let (mut dates, mut all) = (0, 0);
    for cell in filled {
        all += 1;
        dates += usize::from(dates::looks_like_date(cell));
    }
    let wanted = |candidate: &&&'static Column| (candidate.kind == Kind::Date) == (2 * dates > all);
    candidates.iter().find(wanted).copied().or(Some(first))
}

/// A header that stands twice, or two headers of one meaning: the later is not used.
fn refuse_twins(ledger: &mut Ledger, table: &Table, before: &[Planned], plan: &mut Planned) {
    let header = table.heading(plan.column).trim();
    if !plan.is_used() {
        if (0..table.rows()).any(|row| !table.cell(row, plan.column).is_empty()) {
            checks::header_blank(ledger, table, plan.column);
        }
        return;
    }
    let used = || before.iter().filter(|other| other.is_used());
    if used().any(|other| table.heading(other.column).trim() == header) {
        checks::header_repeated(ledger, table, plan.column);
        plan.role = Role::Unused;
    } else if let Some(other) = used().find(|other| same_meaning(other, plan)) {
        checks::same_meaning(ledger, table, plan.column, other.column, &plan.name);
        plan.role = Role::Unused;
    }
}

fn same_meaning(one: &Planned, other: &Planned) -> bool {
    match (one.role, other.role) {
        // two notes complete each other
        (Role::Known(known), Role::Known(_)) if known.kind == Kind::Text => false,
        (
            Role::ProfilePoint { from_tip_mm, line },
            Role::ProfilePoint { from_tip_mm: there, line: along },
        ) => from_tip_mm == there && line == along,
        _ => one.name == other.name,
    }
}
