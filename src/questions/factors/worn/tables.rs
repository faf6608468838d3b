//! Say: the tables of what went with wearing out.

use super::super::Looked;
use super::super::say::in_order;
use super::Beside;
use super::say::ratio;
use crate::finding::{Cell, Interval, Table, TableColumn};
use crate::words::digits::decimals;
use crate::words::factors::{named_with_level, step_shown, verdict_shown};
use crate::words::life::hazards as words;

pub(super) fn tables(looked: &[Looked], beside: &[Beside]) -> Vec<Table> {
    let pairs: Vec<(&Looked, &Beside)> = in_order(looked)
        .into_iter()
        .filter_map(|entry| {
            let at = looked.iter().position(|other| std::ptr::eq(other, entry))?;
            Some((entry, beside.get(at)?))
        })
        .collect();
    vec![ratios(&pairs), chances(&pairs)]
}

fn columns(columns: &[(&str, &str)]) -> Vec<TableColumn> {
    columns.iter().map(|(key, heading)| TableColumn::new(key, heading)).collect()
}

fn ratios(pairs: &[(&Looked, &Beside)]) -> Table {
    let row = |(entry, beside): &(&Looked, &Beside)| {
        let result = &entry.result;
        let is_fitted = beside.retired > 0;
        let mut row = vec![
            Cell::Text(entry.label.clone()),
            Cell::Text(step_shown(result, entry.higher_is.as_deref())),
        ];
        row.extend(times(ratio(beside)));
        row.push(match is_fitted {
            true => Cell::Text(words::retired_of(beside.retired, result.used)),
            false => Cell::Empty,
        });
        row.push(Cell::Text(verdict_shown(result)));
        row
    };
    Table {
        name: "life_factors".to_owned(),
        title: "What went with wearing out: the risk at any moment, times".to_owned(),
        columns: columns(&[
            ("factor", "Factor"),
            ("step", "For"),
            ("ratio", "Times"),
            ("low", "from"),
            ("high", "to"),
            ("retired", "Worn out"),
            ("verdict", "Verdict"),
        ]),
        rows: pairs.iter().map(row).collect(),
    }
}

/// A ratio and its ends; two digits of the interval below the ratio, which is the shorter side.
fn times(ratio: Option<Interval>) -> [Cell; 3] {
    let Some(Interval { estimate, low, high }) = ratio else {
        return [Cell::Empty, Cell::Empty, Cell::Empty];
    };
    let shown = decimals(estimate - low);
    [estimate, low, high].map(|value| Cell::Number(value, shown))
}

fn chances(pairs: &[(&Looked, &Beside)]) -> Table {
    let row = |(entry, beside): &(&Looked, &Beside)| {
        let chance = |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, 3));
        let share = entry.result.kept_share;
        vec![
            Cell::Text(named_with_level(&entry.label, &entry.result)),
            chance(entry.result.p),
            chance(entry.result.q),
            chance(beside.drift.map(|drift| drift.p)),
            share.map_or(Cell::Empty, |share| Cell::Number(100.0 * share, 0)),
            match beside.retired {
                0 => Cell::Empty,
                _ => Cell::Text(words::compared(&entry.result.scope).to_owned()),
            },
        ]
    };
    Table {
        name: "life_factors_detail".to_owned(),
        title: "The same factors: chance, and whether the risk stayed in step".to_owned(),
        columns: columns(&[
            ("factor", "Factor"),
            ("p", "p"),
            ("q", "Adjusted p"),
            ("ph_p", "Same early and late, p"),
            ("kept_pct", "Its own, %"),
            ("scope", "Compared"),
        ]),
        rows: pairs.iter().map(row).collect(),
    }
}
