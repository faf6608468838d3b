//! Show: the picture and the table.

use super::super::{good_line, outcome_words, score_range};
use super::expected::Expected;
use crate::finding::{Band, BlankResult, BlankShown, Cell, Chart, ChartKind, Table, TableColumn};
use crate::study::Study;
use crate::words::blanks as words;
use crate::words::digits::decimals;

/// None where nothing is foretold.
pub(super) fn chart(study: &Study, list: &[BlankResult], expected: &[Expected]) -> Option<Chart> {
    if expected.is_empty() {
        return None;
    }
    let shown = |(blank, expected): (&BlankResult, &Expected)| BlankShown {
        piece: blank.piece.clone(),
        beside: words::beside(blank),
        rating: Band {
            estimate: expected.rating,
            low: expected.low,
            high: expected.high,
            // the middle half of the distribution may lie aside of the median of the rules
            half_low: expected.half_low.min(expected.rating),
            half_high: expected.half_high.max(expected.rating),
        },
    };
    Some(Chart {
        name: "blanks".to_owned(),
        title: words::TITLE.to_owned(),
        description: words::description(list),
        reading: words::READING.to_owned(),
        kind: ChartKind::Blanks {
            blanks: list.iter().zip(expected).map(shown).collect(),
            good_at: good_line(study),
            y_label: outcome_words(study).axis(),
            range: score_range(study),
        },
    })
}

pub(super) fn table(list: &[BlankResult]) -> Table {
    let row = |blank: &BlankResult| {
        let shown = match (blank.low, blank.high) {
            (Some(low), Some(high)) => decimals((high - low) / 2.0),
            _ => 1,
        };
        let number =
            |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
        let percent =
            |value: Option<f64>| value.map_or(Cell::Empty, |value| Cell::Number(100.0 * value, 0));
        vec![
            Cell::Text(blank.piece.clone()),
            blank.lot.clone().map_or(Cell::Empty, Cell::Text),
            Cell::Text(words::stands(blank)),
            number(blank.rating),
            number(blank.low),
            number(blank.high),
            percent(blank.p_good_if_played),
            percent(blank.p_good),
        ]
    };
    Table {
        name: "blanks".to_owned(),
        title: "Unfinished pieces, the most promising first".to_owned(),
        columns: vec![
            TableColumn::new("piece", "Piece"),
            TableColumn::new("lot", "Lot"),
            TableColumn::new("stage", "Stands at"),
            TableColumn::new("rating", "Rating to expect"),
            TableColumn::new("low", "90 % from"),
            TableColumn::new("high", "to"),
            TableColumn::new("good_if_played_pct", "Good if played, %"),
            TableColumn::new("good_pct", "Good, losses counted, %"),
        ],
        rows: list.iter().map(row).collect(),
    }
}
