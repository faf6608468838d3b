//! The tables of `trust`.

use super::measures::Measured;
use crate::finding::{Cell, Estimated, PlayersTrust, SamePlayer, Table, TableColumn, TrustSection};
use crate::words::digits::decimals;
use crate::words::lists::name;

pub(super) fn tables(section: &TrustSection, measured: &[Measured]) -> Vec<Table> {
    let players = section.players.iter().map(agreement);
    let leniency = section.players.as_ref().and_then(leniency);
    players
        .chain(leniency)
        .chain(section.same_player.iter().map(again))
        .chain(measures(measured))
        .collect()
}

fn maybe(value: Option<f64>, shown: usize) -> Cell {
    value.map_or(Cell::Empty, |value| Cell::Number(value, shown))
}

/// None where no measurement was read again.
fn measures(measured: &[Measured]) -> Option<Table> {
    if measured.is_empty() {
        return None;
    }
    let row = |found: &Measured| {
        let result = &found.result;
        let shown = decimals(result.within_sd);
        let unit = result.unit.as_ref().map_or(String::new(), |unit| format!(", {unit}"));
        vec![
            Cell::Text(format!("{}{unit}", found.label)),
            Cell::Count(result.n),
            Cell::Number(result.within_sd, shown),
            Cell::Number(result.repeatability, shown),
            maybe(result.reliability, 2),
            maybe(result.reliability_low, 2),
            maybe(result.reliability_high, 2),
        ]
    };
    Some(Table {
        name: "trust_measures".to_owned(),
        title: "How measurements repeat".to_owned(),
        columns: vec![
            TableColumn::new("measure", "Measurement"),
            TableColumn::new("n", "Read again"),
            TableColumn::new("within_sd", "SD"),
            TableColumn::new("repeatability", "Two differ by under"),
            TableColumn::new("reliability", "Reliability"),
            TableColumn::new("reliability_low", "from"),
            TableColumn::new("reliability_high", "to"),
        ],
        rows: measured.iter().map(row).collect(),
    })
}

/// Every figure of agreement, each with its interval.
fn agreement(players: &PlayersTrust) -> Table {
    let row =
        |what: String, estimate: Option<f64>, low: Option<f64>, high: Option<f64>, n: usize| {
            let shown = match (low, high) {
                (Some(low), Some(high)) => decimals((high - low) / 2.0).min(3),
                _ => 2,
            };
            vec![
                Cell::Text(what),
                maybe(estimate, shown),
                maybe(low, shown),
                maybe(high, shown),
                Cell::Count(n),
            ]
        };
    let mut rows: Vec<Vec<Cell>> = players
        .forms
        .iter()
        .map(|form| {
            let what = format!("intraclass correlation {}", form.form);
            row(what, Some(form.estimate), Some(form.low), Some(form.high), players.reeds)
        })
        .collect();
    rows.extend(players.consistency.filter(|_| players.form == "one-way").map(|found| {
        let what = "the same with leniency taken out".to_owned();
        row(what, Some(found.estimate), Some(found.low), Some(found.high), players.reeds)
    }));
    rows.extend(players.alpha.map(|alpha| {
        let what = "Krippendorff’s alpha, ordered".to_owned();
        row(what, Some(alpha), players.alpha_low, players.alpha_high, players.reeds)
    }));
    rows.extend(players.kappa.iter().map(|pair| {
        let what =
            format!("weighted kappa, {} and {}", name(&pair.players[0]), name(&pair.players[1]));
        row(what, Some(pair.estimate), pair.low, pair.high, pair.reeds)
    }));
    Table {
        name: "trust_agreement".to_owned(),
        title: "How far players agree".to_owned(),
        columns: vec![
            TableColumn::new("figure", "Figure"),
            TableColumn::new("estimate", "Estimate"),
            TableColumn::new("low", "95 % from"),
            TableColumn::new("high", "to"),
            TableColumn::new("reeds", "Reeds"),
        ],
        rows,
    }
}

/// None where leniency is not known.
fn leniency(players: &PlayersTrust) -> Option<Table> {
    if players.leniency.is_empty() {
        return None;
    }
    let rows = players.leniency.iter().map(|found| {
        let shown = decimals((found.high - found.low) / 2.0);
        vec![
            Cell::Text(found.player.clone()),
            Cell::Count(found.reeds),
            Cell::Number(found.estimate, shown),
            Cell::Number(found.low, shown),
            Cell::Number(found.high, shown),
        ]
    });
    Some(Table {
        name: "trust_leniency".to_owned(),
        title: "Who marks higher on the same reeds".to_owned(),
        columns: vec![
            TableColumn::new("player", "Player"),
            TableColumn::new("reeds", "Reeds shared"),
            TableColumn::new("estimate", "Above average"),
            TableColumn::new("low", "95 % from"),
            TableColumn::new("high", "to"),
        ],
        rows: rows.collect(),
    })
}

fn again(found: &SamePlayer) -> Table {
    let row = |what: &str, found: Option<Estimated>| {
        found.map(|found| {
            let shown = decimals((found.high - found.low) / 2.0);
            vec![
                Cell::Text(what.to_owned()),
                Cell::Number(found.estimate, shown),
                Cell::Number(found.low, shown),
                Cell::Number(found.high, shown),
            ]
        })
    };
    let within = found.within_low.zip(found.within_high).map(|(low, high)| Estimated {
        estimate: found.within_sd,
        low,
        high,
    });
    let rows = [
        row("SD of one player’s ratings of one reed", within),
        row("reliability of one rating, the same player again", found.reliability),
        row("change a month, points", found.change_per_month),
        row("change a month of anchor reeds, points", found.anchors_per_month),
    ];
    Table {
        name: "trust_again".to_owned(),
        title: "The same reed rated again by the same player".to_owned(),
        columns: vec![
            TableColumn::new("figure", "Figure"),
            TableColumn::new("estimate", "Estimate"),
            TableColumn::new("low", "95 % from"),
            TableColumn::new("high", "to"),
        ],
        rows: rows.into_iter().flatten().collect(),
    }
}
