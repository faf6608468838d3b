//! Say: the tables of the factors.

use super::Looked;
use super::say::in_order;
use crate::finding::{Cell, Table, TableColumn};
use crate::words::digits::decimals;
use crate::words::factors as words;

pub(super) fn table(looked: &[Looked]) -> Table {
    Table {
        name: "factors".to_owned(),
        title: "Every factor looked at".to_owned(),
        columns: vec![
            TableColumn::new("factor", "Factor"),
            TableColumn::new("step", "For"),
            TableColumn::new("estimate", "Moved by"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
            TableColumn::new("used", "Reeds"),
            TableColumn::new("verdict", "Verdict"),
        ],
        rows: in_order(looked).into_iter().map(row).collect(),
    }
}

fn row(entry: &Looked) -> Vec<Cell> {
    let result = &entry.result;
    let shown = shown_decimals(entry);
    let number = |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
    vec![
        Cell::Text(entry.label.clone()),
        Cell::Text(words::step_shown(result, entry.higher_is.as_deref())),
        number(result.estimate),
        number(result.low),
        number(result.high),
        Cell::Count(result.used),
        Cell::Text(words::verdict_shown(result)),
    ]
}

fn shown_decimals(entry: &Looked) -> usize {
    match (entry.result.low, entry.result.high) {
        (Some(low), Some(high)) => decimals((high - low) / 2.0),
        _ => 2,
    }
}

pub(super) fn detail_table(looked: &[Looked]) -> Table {
    Table {
        name: "factors_detail".to_owned(),
        title: "The same factors: chance, and from lot to lot".to_owned(),
        columns: vec![
            TableColumn::new("factor", "Factor"),
            TableColumn::new("p", "p"),
            TableColumn::new("q", "Adjusted p"),
            TableColumn::new("p_levels", "p, all kinds"),
            TableColumn::new("between", "Lot to lot"),
            TableColumn::new("p_differs", "p differs"),
            TableColumn::new("kept_pct", "Its own, %"),
        ],
        rows: in_order(looked).into_iter().map(detail_row).collect(),
    }
}

fn detail_row(entry: &Looked) -> Vec<Cell> {
    let result = &entry.result;
    let chance = |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, 3));
    let between = result.between.as_ref();
    let decimals_between =
        between.map_or(2, |between| decimals((between.high - between.low) / 2.0));
    vec![
        Cell::Text(words::named_with_level(&entry.label, result)),
        chance(result.p),
        chance(result.q),
        chance(result.p_levels),
        between.map_or(Cell::Empty, |between| Cell::Number(between.estimate, decimals_between)),
        chance(between.and_then(|between| between.p_differs)),
        result.kept_share.map_or(Cell::Empty, |share| Cell::Number(100.0 * share, 0)),
    ]
}
