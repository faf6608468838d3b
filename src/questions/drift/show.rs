//! The pictures and tables of `drift`.

use super::Charted;
use crate::finding::{
    Cell, Chart, ChartKind, ControlShown, DriftSection, SeriesPoint, Table, TableColumn,
};
use crate::words::dates::iso;
use crate::words::digits::decimals;
use crate::words::drift as say;
use crate::words::factors::capitalised;
use crate::words::lists::name;

/// So many charts stand on the page; the others are in the table.
const MOST_PICTURES: usize = 3;
/// So many days are named on the axis.
const DATES: i32 = 3;

/// The charts of what moved, the farthest first; else of the reed scores, or of what comes nearest.
pub(super) fn charts(charted: &[Charted]) -> Vec<Chart> {
    let mut order: Vec<&Charted> = charted.iter().collect();
    // among equals the reed scores, which stand last, come first
    order.sort_by(|a, b| {
        let straying = b.charts.straying().total_cmp(&a.charts.straying());
        b.result.moved.cmp(&a.result.moved).then(a.result.q.total_cmp(&b.result.q)).then(straying)
    });
    let moved = order.iter().filter(|found| found.result.moved).count();
    let mut scores =
        charted.iter().filter(|found| found.series.label == say::SCORE && !found.result.moved);
    let most = order.into_iter().take(moved.clamp(1, MOST_PICTURES));
    let mut shown: Vec<&Charted> = most.collect();
    if let Some(scores) = scores
        .next_back()
        .filter(|scores| shown.iter().all(|found| found.series.measure != scores.series.measure))
    {
        shown.push(scores);
    }
    shown.into_iter().map(chart).collect()
}

fn chart(found: &Charted) -> Chart {
    let label = name(&found.series.label);
    let unit = found.series.unit.as_ref().map_or(String::new(), |unit| format!(", {unit}"));
    let rules = &found.charts.rules;
    let points = found.points.iter().zip(rules).map(|(point, rule)| SeriesPoint {
        x: f64::from(point.day),
        y: point.value,
        is_flagged: rule.is_some(),
    });
    let average = found.points.iter().zip(&found.charts.ewma.averages);
    Chart {
        name: format!("drift_{}", crate::words::labels::file_stem(&found.series.measure)),
        title: format!("{} over time", capitalised(&label)),
        description: format!(
            "{label} of {} in the order of the making, with limits from the first {}.",
            crate::words::digits::plural(found.series.pieces, "piece", "pieces"),
            found.base
        ),
        reading: say::READING.to_owned(),
        kind: ChartKind::Control(ControlShown {
            y_label: format!("{label}{unit}"),
            average: average.map(|(point, value)| [f64::from(point.day), *value]).collect(),
            points: points.collect(),
            centre: found.charts.centre,
            lower: found.charts.individuals.lower,
            upper: found.charts.individuals.upper,
            base: [f64::from(found.points[0].day), f64::from(found.points[found.base - 1].day)],
            dates: dates(found),
        }),
    }
}

/// Days spread evenly from the first to the last.
fn dates(found: &Charted) -> Vec<(f64, String)> {
    let (Some(first), Some(last)) = (found.points.first(), found.points.last()) else {
        return Vec::new();
    };
    let span = i64::from(last.day) - i64::from(first.day);
    let mut days: Vec<i32> = (0..DATES)
        // between two days there is no day beyond them
        .map(|step| i64::from(first.day) + span * i64::from(step) / i64::from(DATES - 1))
        .filter_map(|day| i32::try_from(day).ok())
        .collect();
    days.dedup();
    days.into_iter().map(|day| (f64::from(day), iso(day))).collect()
}

pub(super) fn tables(section: &DriftSection, charted: &[Charted]) -> Vec<Table> {
    let mut tables = vec![measures(charted)];
    tables.extend(flagged(section));
    tables.extend(wear(section));
    tables
}

fn measures(charted: &[Charted]) -> Table {
    let row = |found: &Charted| {
        let result = &found.result;
        let unit = result.unit.as_ref().map_or(String::new(), |unit| format!(", {unit}"));
        let shown = result.change.map_or(2, |change| decimals((change.high - change.low) / 2.0));
        let cell =
            |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
        vec![
            Cell::Text(format!("{}{unit}", found.series.label)),
            Cell::Count(result.n),
            Cell::Count(result.flagged),
            Cell::Number(result.flagged_by_chance, usize::from(result.flagged_by_chance < 10.0)),
            cell(result.change.map(|change| change.estimate)),
            cell(result.change.map(|change| change.low)),
            cell(result.change.map(|change| change.high)),
            Cell::Number(result.q, 3),
        ]
    };
    Table {
        name: "drift".to_owned(),
        title: "What moved".to_owned(),
        columns: vec![
            TableColumn::new("measure", "Series"),
            TableColumn::new("n", "Pieces"),
            TableColumn::new("flagged", "Flags"),
            TableColumn::new("flagged_by_chance", "by chance"),
            TableColumn::new("change", "Now − base"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
            TableColumn::new("q", "q"),
        ],
        rows: charted.iter().map(row).collect(),
    }
}

/// The flagged pieces of what moved, for the maker to look up; at most this many.
const MOST_FLAGGED: usize = 40;

fn flagged(section: &DriftSection) -> Option<Table> {
    let has_moved = |measure: &str| {
        section.measures.iter().any(|found| found.moved && found.measure == measure)
    };
    let charts = section
        .charts
        .iter()
        .filter(|chart| chart.kind == "individuals" && has_moved(&chart.measure));
    let rows: Vec<Vec<Cell>> = charts
        .flat_map(|chart| {
            chart.points.iter().filter_map(|point| {
                let shown = chart.upper.map_or(2, |upper| decimals(upper - chart.center));
                Some(vec![
                    Cell::Text(chart.measure.clone()),
                    Cell::Text(point.date.clone()),
                    Cell::Number(point.value, shown),
                    Cell::Text(point.flag.clone()?),
                ])
            })
        })
        .take(MOST_FLAGGED)
        .collect();
    (!rows.is_empty()).then(|| Table {
        name: "drift_flags".to_owned(),
        title: format!("Flagged pieces of what moved, at most {MOST_FLAGGED}"),
        columns: vec![
            TableColumn::new("measure", "Series"),
            TableColumn::new("date", "Day"),
            TableColumn::new("value", "Value"),
            TableColumn::new("flag", "Flag"),
        ],
        rows,
    })
}

fn wear(section: &DriftSection) -> Option<Table> {
    if section.wear.is_empty() {
        return None;
    }
    let rows = section.wear.iter().map(|found| {
        let change = found.per_ten_pieces;
        let shown = decimals((change.high - change.low) / 2.0);
        vec![
            Cell::Text(found.measure.clone()),
            Cell::Count(found.pieces),
            Cell::Count(found.sharpenings),
            Cell::Number(change.estimate, shown),
            Cell::Number(change.low, shown),
            Cell::Number(change.high, shown),
            Cell::Number(found.q, 3),
        ]
    });
    Some(Table {
        name: "drift_wear".to_owned(),
        title: "As the edge wears".to_owned(),
        columns: vec![
            TableColumn::new("measure", "Series"),
            TableColumn::new("pieces", "Pieces"),
            TableColumn::new("sharpenings", "Edges"),
            TableColumn::new("per_ten_pieces", "For ten pieces"),
            TableColumn::new("low", "95 % from"),
            TableColumn::new("high", "to"),
            TableColumn::new("q", "q"),
        ],
        rows: rows.collect(),
    })
}
