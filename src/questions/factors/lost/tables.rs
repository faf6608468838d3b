//! Say: the tables of what went with losing a piece.

use super::super::Looked;
use super::super::say::in_order;
use super::Beside;
use crate::finding::{Cell, Estimated, LossAtStage, Table, TableColumn};
use crate::words::digits::decimals;
use crate::words::factors::{named_with_level, step_shown, verdict_shown};
use crate::words::losses::factors as words;

/// The factors; chance; and the stages kept apart, where more than one of them lost enough.
pub(super) fn tables(looked: &[Looked], beside: &[Beside]) -> Vec<Table> {
    let pairs: Vec<(&Looked, &Beside)> = in_order(looked)
        .into_iter()
        .filter_map(|entry| {
            let at = looked.iter().position(|other| std::ptr::eq(other, entry))?;
            Some((entry, beside.get(at)?))
        })
        .collect();
    let mut tables = vec![in_ten(&pairs), odds(&pairs)];
    tables.extend(by_stage(&pairs));
    tables
}

fn columns(columns: &[(&str, &str)]) -> Vec<TableColumn> {
    columns.iter().map(|(key, heading)| TableColumn::new(key, heading)).collect()
}

fn in_ten(pairs: &[(&Looked, &Beside)]) -> Table {
    let row = |(entry, beside): &(&Looked, &Beside)| {
        let result = &entry.result;
        let shown = match (result.low, result.high) {
            (Some(low), Some(high)) => decimals((high - low) / 2.0),
            _ => 2,
        };
        let number =
            |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
        vec![
            Cell::Text(entry.label.clone()),
            Cell::Text(step_shown(result, entry.higher_is.as_deref())),
            number(result.estimate),
            number(result.low),
            number(result.high),
            if result.used > 0 { lost_of(beside.lost, result.used) } else { Cell::Empty },
            Cell::Text(verdict_shown(result)),
        ]
    };
    Table {
        name: "loss_factors".to_owned(),
        title: "What went with losing a piece, in lost pieces of ten".to_owned(),
        columns: columns(&[
            ("factor", "Factor"),
            ("step", "For"),
            ("lost_per_ten", "In ten"),
            ("low", "from"),
            ("high", "to"),
            ("lost", "Lost"),
            ("verdict", "Verdict"),
        ]),
        rows: pairs.iter().map(row).collect(),
    }
}

/// Odds and chance of a factor's row.
fn odds(pairs: &[(&Looked, &Beside)]) -> Table {
    let row = |(entry, beside): &(&Looked, &Beside)| {
        let chance = |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, 3));
        let mut row = vec![Cell::Text(named_with_level(&entry.label, &entry.result))];
        row.extend(ratio(beside.odds.map(|odds| odds.ratio)));
        let share = entry.result.kept_share;
        row.extend([
            chance(entry.result.p),
            chance(entry.result.q),
            share.map_or(Cell::Empty, |share| Cell::Number(100.0 * share, 0)),
        ]);
        row
    };
    Table {
        name: "loss_factors_detail".to_owned(),
        title: "The same factors: how the odds of a loss went, and chance".to_owned(),
        columns: columns(&[
            ("factor", "Factor"),
            ("odds_ratio", "Odds times"),
            ("low", "from"),
            ("high", "to"),
            ("p", "p"),
            ("q", "Adjusted p"),
            ("kept_pct", "Its own, %"),
        ]),
        rows: pairs.iter().map(row).collect(),
    }
}

fn lost_of(lost: usize, pieces: usize) -> Cell {
    Cell::Text(words::lost_of(lost, pieces))
}

/// An odds ratio and its ends; two digits of the interval below the ratio, which is the shorter side.
fn ratio(ratio: Option<Estimated>) -> [Cell; 3] {
    let Some(Estimated { estimate, low, high }) = ratio else {
        return [Cell::Empty, Cell::Empty, Cell::Empty];
    };
    let shown = decimals(estimate - low);
    [estimate, low, high].map(|value| Cell::Number(value, shown))
}

/// None where no factor has two stages of its own.
fn by_stage(pairs: &[(&Looked, &Beside)]) -> Option<Table> {
    if pairs.iter().all(|(_, beside)| beside.by_stage.len() < 2) {
        return None;
    }
    let row = |entry: &Looked, at: &LossAtStage| {
        let told = Estimated { estimate: at.estimate, low: at.low, high: at.high };
        let mut row = vec![
            Cell::Text(named_with_level(&entry.label, &entry.result)),
            Cell::Text(words::stage(at.stage)),
            lost_of(at.lost, at.used),
        ];
        row.extend(ratio(Some(told)));
        row.push(Cell::Number(at.p, 3));
        row
    };
    let rows =
        pairs.iter().flat_map(|(entry, beside)| beside.by_stage.iter().map(|at| row(entry, at)));
    Some(Table {
        name: "loss_factors_by_stage".to_owned(),
        title: "The odds of a loss at each stage that lost ten pieces or more".to_owned(),
        columns: columns(&[
            ("factor", "Factor"),
            ("stage", "Lost at"),
            ("lost", "Lost"),
            ("odds_ratio", "Odds times"),
            ("low", "from"),
            ("high", "to"),
            ("p", "p"),
        ]),
        rows: rows.collect(),
    })
}
