//! Show: the picture of a decision and its tables.

use super::super::factors::at_values::Value;
use super::super::factors::counted;
use super::super::{good_line, score_range};
use super::{Decided, say};
use crate::finding::{
    CandidateResult, CandidateShown, Cell, Chart, ChartKind, DecisionResult, Interval,
    PlottedPoint, Table, TableColumn,
};
use crate::study::Study;
use crate::words::decide as words;
use crate::words::digits::decimals;
use crate::words::labels::file_stem;

pub(super) fn chart(study: &Study, one: &Decided, result: &DecisionResult) -> Chart {
    let shown = result.candidates.iter().enumerate();
    let candidates = shown.map(|(place, candidate)| candidate_shown(one, place, candidate));
    Chart {
        name: format!("decision_{}", file_stem(&one.factor.name)),
        title: words::title(&one.factor.label),
        description: words::description(result, &one.factor.label),
        reading: words::READING.to_owned(),
        kind: ChartKind::Decision {
            x_label: say::x_axis(one),
            y_label: say::axis(study),
            candidates: candidates.collect(),
            reeds: reeds(one),
            good_at: good_line(study),
            y_range: score_range(study),
        },
    }
}

fn candidate_shown(one: &Decided, place: usize, candidate: &CandidateResult) -> CandidateShown {
    let interval = |estimate: Option<f64>, low: Option<f64>, high: Option<f64>| {
        Some(Interval { estimate: estimate?, low: low?, high: high? })
    };
    CandidateShown {
        label: words::plain_value(&candidate.value),
        x: match one.practice.values[place] {
            Value::Number(value) => value,
            Value::Kind(_) => place as f64,
        },
        rating: interval(candidate.rating, candidate.low, candidate.high),
        good_per_ten: interval(candidate.good_per_ten, candidate.good_low, candidate.good_high),
        is_present: place == one.practice.present,
        is_thin: candidate.thin,
    }
}

/// Reeds of a kind that is no candidate have no place.
fn reeds(one: &Decided) -> Vec<PlottedPoint> {
    let place = |value: &Value| match value {
        Value::Number(value) => Some(*value),
        Value::Kind(_) => {
            one.practice.values.iter().position(|known| known == value).map(|place| place as f64)
        }
    };
    let points = one.found.points.iter().filter_map(|(value, score)| Some((place(value)?, *score)));
    counted(&points.collect::<Vec<_>>())
}

fn columns(keys_and_headings: &[(&str, &str)]) -> Vec<TableColumn> {
    keys_and_headings.iter().map(|(key, heading)| TableColumn::new(key, heading)).collect()
}

fn number(value: Option<f64>, decimals: usize) -> Cell {
    value.map_or(Cell::Empty, |value| Cell::Number(value, decimals))
}

fn supported(low: Option<f64>, high: Option<f64>) -> usize {
    low.zip(high).map_or(1, |(low, high)| decimals((high - low) / 2.0))
}

/// Eight columns at most each, so that a narrow page shows them whole.
pub(super) fn tables(one: &Decided, result: &DecisionResult) -> Vec<Table> {
    vec![levels(one, result), differences(one, result), price(one, result)]
}

fn table(one: &Decided, what: &str, headings: &[(&str, &str)], rows: Vec<Vec<Cell>>) -> Table {
    Table {
        name: format!("decide_{}{what}", file_stem(&one.factor.name)),
        title: words::table_title(&one.factor.label, what),
        columns: columns(headings),
        rows,
    }
}

fn levels(one: &Decided, result: &DecisionResult) -> Table {
    let row = |candidate: &CandidateResult| {
        let rating = supported(candidate.low, candidate.high);
        let good = supported(candidate.good_low, candidate.good_high);
        vec![
            value(candidate),
            number(candidate.rating, rating),
            number(candidate.low, rating),
            number(candidate.high, rating),
            number(candidate.good_per_ten, good),
            number(candidate.good_low, good),
            number(candidate.good_high, good),
        ]
    };
    let headings = [
        ("value", "Choice"),
        ("rating", "Rating"),
        ("low", "from"),
        ("high", "to"),
        ("good_per_ten", "Good of ten"),
        ("good_low", "from"),
        ("good_high", "to"),
    ];
    table(one, "", &headings, result.candidates.iter().map(row).collect())
}

fn value(candidate: &CandidateResult) -> Cell {
    Cell::Text(words::plain_value(&candidate.value))
}

fn differences(one: &Decided, result: &DecisionResult) -> Table {
    let others = result.candidates.iter().filter(|candidate| candidate.value != result.current);
    let row = |candidate: &CandidateResult| {
        let rating = supported(candidate.diff_low, candidate.diff_high);
        let good = supported(candidate.good_diff_low, candidate.good_diff_high);
        vec![
            value(candidate),
            number(candidate.difference, rating),
            number(candidate.diff_low, rating),
            number(candidate.diff_high, rating),
            number(candidate.good_difference, good),
            number(candidate.good_diff_low, good),
            number(candidate.good_diff_high, good),
            number(candidate.p_better, 2),
        ]
    };
    let headings = [
        ("value", "Choice"),
        ("difference", "Rating moved by"),
        ("diff_low", "from"),
        ("diff_high", "to"),
        ("good_difference", "Good of ten by"),
        ("good_diff_low", "from"),
        ("good_diff_high", "to"),
        ("p_better", "Chance better"),
    ];
    table(one, words::AGAINST, &headings, others.map(row).collect())
}

fn price(one: &Decided, result: &DecisionResult) -> Table {
    let is_told = result.tangled_with.is_empty();
    let waits = result.candidates.iter().any(|candidate| candidate.waiting_days.is_some());
    let row = |candidate: &CandidateResult| {
        let thin = if candidate.thin { Cell::Text(words::THIN.to_owned()) } else { Cell::Empty };
        let mut cells = vec![
            value(candidate),
            Cell::Count(candidate.pieces),
            Cell::Count(candidate.lots),
            thin,
            if is_told { Cell::Number(candidate.regret, 2) } else { Cell::Empty },
        ];
        if waits {
            cells.push(number(candidate.waiting_days, 0));
            cells.push(number(candidate.on_the_rack, 1));
        }
        cells
    };
    let mut headings = vec![
        ("value", "Choice"),
        ("pieces", "Pieces near it"),
        ("lots", "Lots"),
        ("support", "Support"),
        ("regret", "Lost on average"),
    ];
    if waits {
        headings.extend([("waiting_days", "Days waiting"), ("on_the_rack", "On the rack")]);
    }
    table(one, words::PRICE, &headings, result.candidates.iter().map(row).collect())
}
