//! Show: the picture of the lots and their tables.

use super::Rated;
use super::fit::Fitted;
use crate::finding::{Cell, Chart, ChartKind, LotResult, LotShown, Table, TableColumn};
use crate::study::Study;
use crate::words::digits::decimals;
use crate::words::lots as words;

pub(super) fn chart(study: &Study, rated: &Rated, fitted: &Fitted, results: &[LotResult]) -> Chart {
    let mut scores = rated.by_lot();
    let shown = results.iter().filter_map(|result| {
        let code = rated.code(&result.lot)?;
        let pooled = fitted.of_lot(code)?;
        Some(LotShown {
            lot: result.lot.clone(),
            raw_mean: result.raw_mean,
            pooled: pooled.band,
            reeds: scores.remove(&code)?,
        })
    });
    Chart {
        name: "lots".to_owned(),
        title: "How each lot's reeds were rated".to_owned(),
        description: words::description(results),
        reading: words::READING.to_owned(),
        kind: ChartKind::Lots {
            lots: shown.collect(),
            overall: fitted.average(),
            good_at: super::super::good_line(study),
            y_label: super::super::outcome_words(study).axis(),
            range: super::super::score_range(study),
        },
    }
}

/// Eight columns at most each, so that a narrow page shows them whole.
pub(super) fn tables(results: &[LotResult], adjusted: bool) -> Vec<Table> {
    vec![pooled(results), worth(results), evenness(results, adjusted)]
}

fn columns(keys_and_headings: &[(&str, &str)]) -> Vec<TableColumn> {
    keys_and_headings.iter().map(|(key, heading)| TableColumn::new(key, heading)).collect()
}

fn number(value: Option<f64>, decimals: usize) -> Cell {
    value.map_or(Cell::Empty, |value| Cell::Number(value, decimals))
}

/// Decimals that the interval supports.
fn supported(low: Option<f64>, high: Option<f64>) -> usize {
    low.zip(high).map_or(1, |(low, high)| decimals((high - low) / 2.0))
}

fn pooled(results: &[LotResult]) -> Table {
    let row = |result: &LotResult| {
        let shown = supported(result.low, result.high);
        vec![
            Cell::Text(result.lot.clone()),
            Cell::Count(result.pieces),
            Cell::Count(result.spoiled),
            Cell::Count(result.rated),
            number(result.raw_mean, shown),
            number(result.pooled_mean, shown),
            number(result.low, shown),
            number(result.high, shown),
        ]
    };
    Table {
        name: "lots".to_owned(),
        title: "Lots by pooled mean".to_owned(),
        columns: columns(&[
            ("lot", "Lot"),
            ("pieces", "Pieces"),
            ("spoiled", "spoiled"),
            ("rated", "Reeds rated"),
            ("raw_mean", "Plain mean"),
            ("pooled_mean", "Pooled mean"),
            ("low", "from"),
            ("high", "to"),
        ]),
        rows: results.iter().map(row).collect(),
    }
}

fn worth(results: &[LotResult]) -> Table {
    let row = |result: &LotResult| {
        let shown = supported(result.good_low, result.good_high);
        vec![
            Cell::Text(result.lot.clone()),
            number(result.good_per_ten, shown),
            number(result.good_low, shown),
            number(result.good_high, shown),
            number(result.cost_per_good, 2),
            number(result.p_best, 2),
            number(result.p_above, 2),
            result.advice.clone().map_or(Cell::Empty, Cell::Text),
        ]
    };
    Table {
        name: "lots_worth".to_owned(),
        title: "What each lot is worth".to_owned(),
        columns: columns(&[
            ("lot", "Lot"),
            ("good_per_ten", "Good of ten"),
            ("good_low", "from"),
            ("good_high", "to"),
            ("cost_per_good", "A good one costs"),
            ("p_best", "Chance best"),
            ("p_above", "above"),
            ("advice", "Advice"),
        ]),
        rows: results.iter().map(row).collect(),
    }
}

/// The spread of each lot's reeds and, where it was asked for, the mean with the making taken out.
fn evenness(results: &[LotResult], adjusted: bool) -> Table {
    let row = |result: &LotResult| {
        let mut cells = vec![
            Cell::Text(result.lot.clone()),
            Cell::Count(result.rated),
            number(result.spread, supported(result.low, result.high)),
        ];
        if adjusted {
            let (low, high) = (result.adjusted.map(|a| a.low), result.adjusted.map(|a| a.high));
            let shown = supported(low, high);
            cells.push(number(result.adjusted.map(|a| a.estimate), shown));
            cells.extend([number(low, shown), number(high, shown)]);
        }
        cells
    };
    let mut headings = vec![("lot", "Lot"), ("rated", "Reeds rated"), ("spread", "Scatter")];
    if adjusted {
        headings.extend([("adjusted", "Adjusted mean"), ("low", "from"), ("high", "to")]);
    }
    Table {
        name: "lots_evenness".to_owned(),
        title: words::evenness_title(adjusted).to_owned(),
        columns: columns(&headings),
        rows: results.iter().map(row).collect(),
    }
}
