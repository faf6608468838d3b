//! Which columns of the ratings file are criteria.

use super::cells::{self, Cells};
use super::checks::columns as column_checks;
use super::context::{Account, Context};
use super::frames::NONE;
use super::records::Table;
use super::reed_rows::names;
use super::scores::code;
use super::values::headers;
use super::values::ratings::{self, RatingError, RatingRules};
use crate::catalogue::Kind;

/// A column of the ratings file that is a criterion.
pub(super) struct Criterion {
    pub column: usize,
    pub name: String,
    /// The 5 in `resp/5`.
    pub out_of: Option<f64>,
}

/// The criteria among the columns that are no other part; of two with one name the first.
pub(super) fn find(
    context: &mut Context,
    table: &Table,
    rows: &[u32],
    found: &[(&'static str, usize)],
) -> Vec<Criterion> {
    let score_alone = |(name, _): &&(&str, usize)| *name != "score" && *name != "criterion";
    let parts: Vec<usize> = found.iter().filter(score_alone).map(|(_, column)| *column).collect();
    let mut criteria: Vec<Criterion> = Vec::new();
    for column in (0..table.width()).filter(|column| !parts.contains(column)) {
        match criterion(context, table, rows, column) {
            Ok(criterion) => match criteria.iter().find(|other| other.name == criterion.name) {
                Some(first) => {
                    column_checks::same_meaning(
                        context.ledger,
                        table,
                        column,
                        first.column,
                        &criterion.name,
                    );
                }
                None => criteria.push(criterion),
            },
            Err(why) => not_a_criterion(context, table, rows, column, why),
        }
    }
    criteria
}

fn criterion(
    context: &Context,
    table: &Table,
    rows: &[u32],
    column: usize,
) -> Result<Criterion, &'static str> {
    let header = headers::read(table.heading(column));
    let setting = context.study.column(table.heading(column));
    if let Some(name) = setting.and_then(|setting| setting.is.clone()) {
        return Ok(Criterion { column, name, out_of: header.out_of });
    }
    if header.name.is_empty() {
        return Err("it has no name");
    }
    let candidates = header.candidates();
    let rating = candidates.iter().find(|known| known.kind == Kind::Rating);
    if rating.is_none() && !candidates.is_empty() && header.out_of.is_none() {
        return Err("it belongs to the making of a reed, not to a rating");
    }
    let name = rating.map_or(header.name.clone(), |known| known.name.to_owned());
    let stated =
        rating.is_some() || header.out_of.is_some() || context.study.criteria.contains(&name);
    if stated || mostly_ratings(context, table, rows, column) {
        return Ok(Criterion { column, name, out_of: header.out_of });
    }
    Err("most of its cells are no ratings")
}

/// Whether at least half of the filled cells of a column read as ratings.
fn mostly_ratings(context: &Context, table: &Table, rows: &[u32], column: usize) -> bool {
    let cells = Cells { table, column, rows, marks: &context.marks };
    let rules = RatingRules {
        mark: None,
        ranking: context.study.ranking.clone(),
        school_marks: context.study.school_marks,
    };
    let (mut ratings, mut filled) = (0, 0);
    for text in cells.texts().filter_map(|(_, text)| text) {
        filled += 1;
        let reads =
            !matches!(ratings::read(text, &rules), Err(error) if error != RatingError::EitherMark);
        ratings += usize::from(cells::plain(text, None).is_some() || reads);
    }
    filled > 0 && 2 * ratings >= filled
}

fn not_a_criterion(context: &mut Context, table: &Table, rows: &[u32], column: usize, why: &str) {
    let marks = context.marks.clone();
    let cells = Cells { table, column, rows, marks: &marks };
    let values = cells.texts().filter(|(_, text)| text.is_some()).count();
    if values > 0 {
        let may_be = cells::may_be(cells, true);
        column_checks::not_used(context.ledger, table, column, why, may_be);
    }
    let account =
        Account { values, decided: vec![format!("not used: {why}")], ..Account::default() };
    context.understand(cells, account);
}

/// The criterion of each row of a long file, under the number that the scores have for it.
pub(super) fn codes(context: &mut Context, cells: Cells, criteria: &mut Vec<String>) -> Vec<u32> {
    let joined = names(context, Some(cells), "criterion", "what was rated").unwrap_or_default();
    let names: Vec<u32> =
        joined.levels.iter().map(|level| code(criteria, &criterion_name(level))).collect();
    let name = |level: u32| names.get(level as usize).copied();
    joined.codes.iter().map(|level| level.and_then(name).unwrap_or(NONE)).collect()
}

/// The catalogue's name of a criterion, or the maker's own, folded.
fn criterion_name(text: &str) -> String {
    let header = headers::read(text);
    let known = header.candidates().into_iter().find(|column| column.kind == Kind::Rating);
    known.map_or(header.name, |known| known.name.to_owned())
}
