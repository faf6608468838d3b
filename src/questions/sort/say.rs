//! Say: the verdicts, the pictures and the table.

use rayon::prelude::*;

use super::QUESTION;
use super::judge::{Judged, WORTHWHILE};
use super::select::{Measure, Selected};
use crate::finding::{
    Cell, Chart, ChartKind, Finding, FittedPoint, Interval, Method, PlottedPoint, Section,
    SortResult, Table, TableColumn,
};
use crate::stats::proportion::wilson;
use crate::study::Study;
use crate::words::{digits::interval_decimals, sort as words};

/// So many measurements have a picture.
const PICTURES: usize = 3;
/// The share of good reeds is drawn in so many parts of the pieces.
const FIFTHS: usize = 5;

pub(super) fn finding(study: &Study, selected: &Selected, judged: Vec<Judged>) -> Finding {
    let label = |one: &Judged| selected.measures[one.at].factor.label.clone();
    let list: Vec<(SortResult, String)> = judged
        .iter()
        .map(|one| {
            let sentence = words::sentence(&one.result, &label(one));
            (SortResult { sentence, ..one.result.clone() }, label(one))
        })
        .collect();
    let answer = words::answer(&list);
    let is_new = |sentence: &String| !answer.starts_with(sentence.as_str());
    let told = list.iter().map(|(result, _)| result.sentence.clone()).filter(is_new);
    let first = list.first().into_iter().flat_map(|(result, label)| {
        [words::spent(result, label), words::exchange(result, label)].into_iter().flatten()
    });
    let more: Vec<String> = first.chain(told).collect();
    let left_out = list.first().map_or_else(Vec::new, |(result, _)| result.left_out.clone());
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer,
        more,
        caveats: words::caveats(&selected.too_few, list.len(), study.labels("maker").levels.len()),
        charts: judged
            .iter()
            .zip(&list)
            .take(PICTURES)
            .map(|(one, (result, _))| (one, result))
            .collect::<Vec<_>>()
            .into_par_iter()
            .map(|(one, result)| chart(&selected.measures[one.at], one, result))
            .collect(),
        tables: vec![table(&list)],
        method: Method {
            model: words::MODEL.to_owned(),
            assumptions: words::assumptions(),
            sources: words::sources(),
            seed: None,
        },
        used: (list.first().map_or(0, |(result, _)| result.used).min(study.pieces()), "pieces"),
        left_out,
        section: Section::Sort(list.into_iter().map(|(result, _)| result).collect()),
    }
}

fn chart(measure: &Measure, judged: &Judged, result: &SortResult) -> Chart {
    let label = &measure.factor.label;
    let points = measure.values.iter().zip(&measure.good);
    let points: Vec<(f64, f64)> =
        points.map(|(value, good)| (*value, f64::from(u8::from(*good)))).collect();
    let gain = judged.sorted.gain;
    Chart {
        name: format!("sort_{}", crate::words::labels::file_stem(&measure.factor.name)),
        title: words::title(label),
        description: result.sentence.clone(),
        reading: words::READING.to_owned(),
        kind: ChartKind::Sorted {
            x_label: words::axis(label, measure.factor.unit.as_deref()),
            pieces: points.iter().map(|&(x, y)| PlottedPoint { x, y, reeds: 1 }).collect(),
            shares: shares(&measure.values, &measure.good),
            keep: [judged.sorted.limits.low, judged.sorted.limits.high],
            gain: Interval {
                estimate: 10.0 * gain.estimate,
                low: 10.0 * gain.low,
                high: 10.0 * gain.high,
            },
            worthwhile: 10.0 * WORTHWHILE,
        },
    }
}

/// The share of good reeds in fifths of the pieces by their values, each at the mean of its values; equal values stay together.
fn shares(values: &[f64], good: &[bool]) -> Vec<FittedPoint> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
    let mut parts: Vec<Vec<usize>> = Vec::new();
    for (turn, &row) in order.iter().enumerate() {
        let is_equal = turn > 0 && values[order[turn - 1]] == values[row];
        let is_new = parts.len() * values.len() <= turn * FIFTHS && !is_equal;
        match parts.last_mut() {
            Some(part) if !is_new => part.push(row),
            _ => parts.push(vec![row]),
        }
    }
    let point = |rows: Vec<usize>| {
        let reached = rows.iter().filter(|&&row| good[row]).count() as u64;
        let share = wilson(reached, rows.len() as u64, 0.95).ok()?;
        let x = rows.iter().map(|&row| values[row]).sum::<f64>() / rows.len() as f64;
        Some(FittedPoint { x, fit: share.share, low: share.low, high: share.high })
    };
    parts.into_iter().filter_map(point).collect()
}

fn table(list: &[(SortResult, String)]) -> Table {
    let row = |(result, label): &(SortResult, String)| {
        let gain = Interval { estimate: result.gain, low: result.low, high: result.high };
        let shown = interval_decimals(gain).min(2);
        let limit = |value: Option<f64>| {
            value.map_or(Cell::Empty, |value| Cell::Text(crate::words::given::given(value)))
        };
        let amount = |value: Option<f64>, decimals| {
            value.map_or(Cell::Empty, |value| Cell::Number(value, decimals))
        };
        vec![
            Cell::Text(words::axis(label, result.unit.as_deref())),
            Cell::Text(result.verdict.word().to_owned()),
            limit(result.keep_low),
            limit(result.keep_high),
            Cell::Number(100.0 * result.dropped_share, 0),
            Cell::Number(result.good_per_ten_all, shown),
            Cell::Number(result.good_per_ten_kept, shown),
            Cell::Number(result.gain, shown),
            Cell::Number(result.low, shown),
            Cell::Number(result.high, shown),
            amount(result.minutes_saved_per_good, 0),
            amount(result.cost_per_good_all, 2),
            amount(result.cost_per_good_kept, 2),
            Cell::Count(result.used),
        ]
    };
    Table {
        name: "sort".to_owned(),
        title: "Dropping pieces by one measurement".to_owned(),
        columns: vec![
            TableColumn::new("measure", "Measurement"),
            TableColumn::new("verdict", "Verdict"),
            TableColumn::new("keep_low", "Keep from"),
            TableColumn::new("keep_high", "up to"),
            TableColumn::new("dropped_pct", "Dropped, %"),
            TableColumn::new("good_per_ten_all", "Good of ten, all"),
            TableColumn::new("good_per_ten_kept", "Good of ten, kept"),
            TableColumn::new("gain", "Gain"),
            TableColumn::new("low", "from"),
            TableColumn::new("high", "to"),
            TableColumn::new("minutes_saved_per_good", "Minutes saved per good reed"),
            TableColumn::new("cost_per_good_all", "Cane per good reed, all"),
            TableColumn::new("cost_per_good_kept", "Cane per good reed, kept"),
            TableColumn::new("used", "Pieces"),
        ],
        rows: list.iter().map(row).collect(),
    }
}
