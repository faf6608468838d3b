//! The tables of a trial that was read.

use crate::finding::{
    Cell, Interval, Table, TableColumn, TrialArmResult, TrialComparison, TrialDeviation,
    TrialReadSection,
};

pub(super) fn tables(section: &TrialReadSection) -> Vec<Table> {
    let mut tables = vec![arms(&section.arms), comparisons(&section.comparisons)];
    if !section.deviations.is_empty() {
        tables.push(deviations(&section.deviations));
    }
    tables
}

fn arms(arms: &[TrialArmResult]) -> Table {
    let row = |arm: &TrialArmResult| {
        let mut row = vec![
            Cell::Text(arm.arm.clone()),
            Cell::Text(if arm.present { "compared with" } else { "" }.to_owned()),
            Cell::Count(arm.pieces),
            Cell::Count(arm.spoiled),
            Cell::Count(arm.rated),
            number(arm.raw_mean),
        ];
        row.extend(three(arm.mean));
        row.extend(three(arm.good_per_ten));
        row
    };
    Table {
        name: "trial_arms".to_owned(),
        title: "The arms of the trial".to_owned(),
        columns: columns(&[
            ("arm", "Arm"),
            ("present", "Role"),
            ("pieces", "Pieces"),
            ("spoiled", "Spoiled"),
            ("rated", "Marks"),
            ("raw_mean", "Plain mean"),
            ("mean", "Mean over lots"),
            ("low", "from"),
            ("high", "to"),
            ("good_per_ten", "Good of ten"),
            ("good_low", "from"),
            ("good_high", "to"),
        ]),
        rows: arms.iter().map(row).collect(),
    }
}

fn comparisons(comparisons: &[TrialComparison]) -> Table {
    let row = |one: &TrialComparison| {
        let difference = Interval { estimate: one.estimate, low: one.low, high: one.high };
        let mut row = vec![Cell::Text(one.arm.clone()), Cell::Text(one.instead_of.clone())];
        row.extend(three(Some(difference)));
        row.extend([
            number(Some(one.standard_error)),
            Cell::Number(one.df, 1),
            Cell::Number(one.p, 4),
            Cell::Text(one.verdict.word().to_owned()),
        ]);
        row.extend(three(one.good_per_ten));
        row.extend(three(one.good_per_ten_over_blocks));
        row.extend(three(one.as_made));
        row
    };
    Table {
        name: "trial_comparisons".to_owned(),
        title: "Each arm with the one it is compared with".to_owned(),
        columns: columns(&[
            ("arm", "Arm"),
            ("instead_of", "Instead of"),
            ("difference", "Difference"),
            ("low", "from"),
            ("high", "to"),
            ("standard_error", "Error"),
            ("df", "df"),
            ("p", "p"),
            ("verdict", "Verdict"),
            ("good_per_ten", "Good of ten"),
            ("good_low", "from"),
            ("good_high", "to"),
            ("good_over_lots", "Good, over lots"),
            ("good_over_lots_low", "from"),
            ("good_over_lots_high", "to"),
            ("as_made", "As made"),
            ("as_made_low", "from"),
            ("as_made_high", "to"),
        ]),
        rows: comparisons.iter().map(row).collect(),
    }
}

fn deviations(deviations: &[TrialDeviation]) -> Table {
    let row = |one: &TrialDeviation| {
        [&one.label, &one.what, &one.planned, &one.found]
            .map(|text| Cell::Text(text.clone()))
            .to_vec()
    };
    Table {
        name: "trial_deviations".to_owned(),
        title: "Not done as planned".to_owned(),
        columns: columns(&[
            ("label", "Label"),
            ("what", "What"),
            ("planned", "Planned"),
            ("found", "In the log"),
        ]),
        rows: deviations.iter().map(row).collect(),
    }
}

fn columns(named: &[(&str, &str)]) -> Vec<TableColumn> {
    named.iter().map(|(key, heading)| TableColumn::new(key, heading)).collect()
}

fn three(interval: Option<Interval>) -> [Cell; 3] {
    match interval {
        Some(found) => [found.estimate, found.low, found.high].map(|value| number(Some(value))),
        None => [Cell::Empty, Cell::Empty, Cell::Empty],
    }
}

/// Two decimals are what a trial of some dozen reeds supports; the CSV files hold all digits.
fn number(value: Option<f64>) -> Cell {
    value.filter(|value| value.is_finite()).map_or(Cell::Empty, |value| Cell::Number(value, 2))
}
