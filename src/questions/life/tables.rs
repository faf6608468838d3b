//! Say: the tables of the curve and of the lots.

use super::curve::Curve;
use super::lots::Lots;
use super::say::supported;
use crate::finding::{Cell, LotLife, Table, TableColumn};
use crate::words::digits::decimals;
use crate::words::life::{self as words, LifeWords};

pub(super) fn tables(told: &LifeWords, curve: &Curve, lots: &Lots) -> Vec<Table> {
    let mut tables = vec![marks(told, curve)];
    if !lots.list.is_empty() {
        tables.push(by_lot(told, &lots.list));
    }
    tables
}

fn columns(columns: &[(&str, &str)]) -> Vec<TableColumn> {
    columns.iter().map(|(key, heading)| TableColumn::new(key, heading)).collect()
}

fn number(value: Option<f64>, decimals: usize) -> Cell {
    value.map_or(Cell::Empty, |value| Cell::Number(value, decimals))
}

/// By when one in four and half are retired, the mean life, and the share that outlasts round times.
fn marks(told: &LifeWords, curve: &Curve) -> Table {
    let quantile = |name: &str, reached: &words::Reached| {
        let shown = supported(reached.low, reached.high);
        let low = reached.at.and(reached.low);
        let mut row = vec![Cell::Text(name.to_owned())];
        row.extend([reached.at, low, reached.high].map(|value| number(value, shown)));
        row.push(Cell::Empty);
        row
    };
    let mut rows = vec![
        quantile(&words::quartile_row(told), &told.quartile),
        quantile(&words::median_row(told), &told.median),
    ];
    if let Some((mean, to)) = told.mean {
        let shown = supported(Some(mean.low), Some(mean.high));
        let mut row = vec![Cell::Text(words::mean_row(told, to))];
        row.extend([mean.estimate, mean.low, mean.high].map(|value| Cell::Number(value, shown)));
        row.push(Cell::Empty);
        rows.push(row);
    }
    rows.extend(curve.at_risk.iter().skip(1).map(|&(time, at_risk)| {
        let step = curve.steps.iter().take_while(|step| step.t <= time).last();
        let percent = |value: Option<f64>, shown: usize| number(value.map(|v| 100.0 * v), shown);
        let (low, high) = step.map_or((None, None), |step| (step.low, step.high));
        let shown = low.zip(high).map_or(0, |(low, high)| decimals(50.0 * (high - low)).min(1));
        vec![
            Cell::Text(words::outlast_row(told, time)),
            percent(step.map(|step| step.s), shown),
            percent(low, shown),
            percent(high, shown),
            Cell::Count(at_risk),
        ]
    }));
    Table {
        name: "life".to_owned(),
        title: words::MARKS_TITLE.to_owned(),
        columns: columns(&[
            ("what", "What"),
            ("value", "Value"),
            ("low", "from"),
            ("high", "to"),
            ("at_risk", "Still playing"),
        ]),
        rows,
    }
}

fn by_lot(told: &LifeWords, list: &[LotLife]) -> Table {
    let row = |lot: &LotLife| {
        let shown = supported(lot.median_low, lot.median_high);
        vec![
            Cell::Text(lot.lot.clone()),
            Cell::Count(lot.n),
            Cell::Count(lot.retired),
            number(lot.expected, 1),
            number(lot.median, shown),
            number(lot.median.and(lot.median_low), shown),
            number(lot.median_high, shown),
            Cell::Number(lot.longest, 1),
        ]
    };
    let half = words::half_by_column(told);
    Table {
        name: "life_lots".to_owned(),
        title: words::LOTS_TITLE.to_owned(),
        columns: columns(&[
            ("lot", "Lot"),
            ("reeds", "Reeds"),
            ("retired", "Worn out"),
            ("expected", "Expected"),
            ("median", half),
            ("low", "from"),
            ("high", "to"),
            ("longest", "Longest"),
        ]),
        rows: list.iter().map(row).collect(),
    }
}
