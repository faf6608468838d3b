//! Say: the answer, what went with losses and what they took.

use crate::finding::{
    Cell, Chart, ChartKind, Finding, Interval, LeftOut, LossWorth, LossesSection, LostInAll,
    Method, Section, StageResult, StageShown, StageWorth, Table, TableColumn,
};
use crate::questions::factors::lost::Lost;
use crate::stats::proportion::clopper_pearson;
use crate::study::{LossCount, Study};
use crate::words;

use super::QUESTION;

pub(super) fn finding(
    study: &Study,
    stages: Vec<StageResult>,
    lost: Lost,
    worth: Option<LossWorth>,
    counts: &[LossCount],
) -> Finding {
    let count = |wanted: fn(&LossCount) -> bool| {
        counts.iter().filter(|count| wanted(count)).map(|count| count.pieces).sum::<usize>()
    };
    let (spoiled, unplaced) = (count(|_| true), count(|count| count.stage.is_none()));
    let share = lost_in_all(spoiled, study.pieces());
    let stands_out = lost.list.iter().any(|factor| factor.verdict.stands_out());
    let counted = words::losses::answer(&stages, spoiled, study.pieces(), share);
    let (answer, aside) = match lost.answer {
        Some(told) if stands_out => (format!("{counted} {told}"), None),
        aside => (counted, aside),
    };
    let mut more = words::losses::more(&stages);
    more.extend(aside.or_else(|| lost.not_modelled.clone()));
    more.extend(lost.more);
    more.extend(worth.iter().flat_map(words::losses::worth::sentences));
    let mut caveats = words::losses::caveats(unplaced, spoiled);
    caveats.extend(lost.caveats);
    let mut tables: Vec<Table> = table(&stages).into_iter().collect();
    tables.extend(lost.tables);
    tables.extend(worth.as_ref().map(worth_table));
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer,
        more,
        caveats,
        charts: chart(&stages).into_iter().chain(lost.charts).collect(),
        tables,
        method: method(lost.assumptions, lost.sources),
        used: (study.pieces() - unplaced, "pieces"),
        left_out: left_out(unplaced),
        section: Section::Losses(LossesSection {
            overall: LostInAll {
                pieces: study.pieces(),
                lost: spoiled,
                share: share.estimate,
                low: share.low,
                high: share.high,
            },
            stages,
            factors: lost.list,
            not_modelled: lost.not_modelled,
            worth,
        }),
    }
}

fn method(assumptions: Vec<String>, sources: Vec<String>) -> Method {
    let independent =
        "Pieces are lost independently of each other; pieces of one tube may not be.".to_owned();
    let exact = "Clopper & Pearson 1934, Biometrika 26, 404–413".to_owned();
    Method {
        model: "For each stage: pieces spoiled there, of the pieces that were spoiled there or \
                went on to a later stage, with the exact 95 % interval of a proportion."
            .to_owned(),
        assumptions: std::iter::once(independent).chain(assumptions).collect(),
        sources: std::iter::once(exact).chain(sources).collect(),
        seed: None,
    }
}

fn left_out(unplaced: usize) -> Vec<LeftOut> {
    let why = "spoiled, but the log does not say at which stage".to_owned();
    if unplaced == 0 { Vec::new() } else { vec![LeftOut { why, n: unplaced }] }
}

/// The share of all pieces that was spoiled, wherever.
fn lost_in_all(spoiled: usize, pieces: usize) -> Interval {
    match clopper_pearson(spoiled as u64, pieces as u64, 0.95) {
        Ok(share) => Interval { estimate: share.share, low: share.low, high: share.high },
        // only of no pieces, and then the question is refused
        Err(_) => Interval { estimate: 0.0, low: 0.0, high: 1.0 },
    }
}

fn chart(stages: &[StageResult]) -> Option<Chart> {
    if stages.iter().all(|stage| stage.lost == 0) {
        return None;
    }
    let shown = stages
        .iter()
        .map(|result| StageShown {
            stage: words::stages::doing(result.stage).to_owned(),
            entered: result.entered,
            lost: result.lost,
            share: Interval { estimate: result.share, low: result.low, high: result.high },
            reasons: result.by.iter().map(|by| (words::losses::reason(&by.reason), by.n)).collect(),
        })
        .collect();
    Some(Chart {
        name: "losses".to_owned(),
        title: "Pieces lost, by stage".to_owned(),
        description: words::losses::description(stages),
        reading: words::losses::READING.to_owned(),
        kind: ChartKind::Losses { stages: shown },
    })
}

/// None where no stage can be told.
fn table(stages: &[StageResult]) -> Option<Table> {
    if stages.is_empty() {
        return None;
    }
    let row = |result: &StageResult| {
        vec![
            Cell::Text(words::stages::doing(result.stage).to_owned()),
            Cell::Count(result.entered),
            Cell::Count(result.lost),
            Cell::Number(100.0 * result.share, 0),
            Cell::Number(100.0 * result.low, 0),
            Cell::Number(100.0 * result.high, 0),
            Cell::Text(words::losses::reasons(&result.by)),
        ]
    };
    Some(Table {
        name: "losses".to_owned(),
        title: "Pieces lost, by stage".to_owned(),
        columns: vec![
            TableColumn::new("stage", "Stage"),
            TableColumn::new("entered", "Came to it"),
            TableColumn::new("lost", "Lost"),
            TableColumn::new("share_pct", "Lost, %"),
            TableColumn::new("low_pct", "from, %"),
            TableColumn::new("high_pct", "to, %"),
            TableColumn::new("by", "By what"),
        ],
        rows: stages.iter().map(row).collect(),
    })
}

/// What the lost pieces of each stage took.
fn worth_table(worth: &LossWorth) -> Table {
    let amount =
        |value: Option<f64>, shown| value.map_or(Cell::Empty, |value| Cell::Number(value, shown));
    let row = |stage: &StageWorth| {
        let mut row =
            vec![Cell::Text(words::losses::worth::stage(stage.stage)), Cell::Count(stage.lost)];
        if worth.cane.is_some() {
            row.extend([Cell::Count(stage.priced), amount(stage.cane, 2)]);
        }
        if worth.minutes.is_some() {
            row.extend([Cell::Count(stage.timed), amount(stage.minutes, 0)]);
        }
        row
    };
    let mut columns = vec![TableColumn::new("stage", "Stage"), TableColumn::new("lost", "Lost")];
    if worth.cane.is_some() {
        columns.push(TableColumn::new("priced", "With a price"));
        columns.push(TableColumn::new("cane", "Cane, money of the log"));
    }
    if worth.minutes.is_some() {
        columns.push(TableColumn::new("timed", "With minutes"));
        columns.push(TableColumn::new("minutes", "Scraping, minutes"));
    }
    Table {
        name: "losses_worth".to_owned(),
        title: "What the lost pieces took".to_owned(),
        columns,
        rows: worth.by_stage.iter().map(row).collect(),
    }
}
