//! Ratings that stand in the reeds file.

use super::cells::{self, Cells};
use super::columns::{Planned, Role};
use super::context::{Account, range_of};
use super::pieces::Reading;
use super::scores::ScoreColumn;
use super::values::dates;
use crate::catalogue::Stage;

impl Reading<'_, '_, '_, '_> {
    /// The ratings that stand in the reeds file.
    pub fn ratings(&mut self, plans: &[Planned]) {
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
}
