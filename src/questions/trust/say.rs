//! Say: the answer, the pictures and the tables.

use super::measures::Measured;
use super::pairs;
use super::players::Cells;
use super::tables;
use crate::finding::{
    Chart, ChartKind, Finding, Interval, LeftOut, LevelShown, MeasureTrust, Method, PlayersTrust,
    Section, TrustSection,
};
use crate::questions::score_range;
use crate::study::Study;
use crate::words;
use crate::words::lists::name;

use super::super::scores::count_out;
use super::QUESTION;

/// Pictures of so many measurements stand on the page; the others are in the table.
const MOST_PICTURES: usize = 3;

pub(super) fn finding(
    study: &Study,
    section: TrustSection,
    measured: &[Measured],
    cells: &Cells,
    seed: u64,
) -> Finding {
    let mut more: Vec<String> =
        section.players.iter().flat_map(words::trust::players::more).collect();
    more.extend(section.ceiling.as_ref().map(words::trust::players::ceiling));
    more.extend(section.same_player.as_ref().map(|found| found.sentence.clone()));
    more.extend(section.measures.iter().map(|found| found.sentence.clone()));
    let averaged = section.players.is_some() && cells.shared().ratings.iter().any(|n| *n > 1);
    let seldom: Vec<_> = section
        .too_few
        .iter()
        .map(|few| (few.clone(), super::measures::named(study, few.measure.clone()).label))
        .collect();
    let mut charts = pair_chart(study, section.players.as_ref(), cells);
    charts.extend(section.players.as_ref().and_then(leniency_chart));
    charts.extend(repeat_charts(measured));
    Finding {
        question: QUESTION.name,
        asked: QUESTION.asked.to_owned(),
        answer: section.sentence.clone(),
        more,
        caveats: words::trust::caveats(&section, averaged, &seldom),
        charts,
        tables: tables::tables(&section, measured),
        method: method(&section, seed),
        used: used(&section, study),
        left_out: left_out(&section, cells, study),
        section: Section::Trust(section),
    }
}

/// The reeds that several rated where there are any, else those rated again, else the pieces read again.
fn used(section: &TrustSection, study: &Study) -> (usize, &'static str) {
    match (&section.players, &section.same_player) {
        (Some(players), _) => (players.reeds, "reeds rated by several players"),
        (None, Some(same)) => (same.n, "reeds rated again"),
        (None, None) => {
            let most = section.measures.iter().map(|found| found.n).max().unwrap_or(0);
            (most.min(study.pieces()), "pieces read again")
        }
    }
}

/// Every piece is used or left out.
fn left_out(section: &TrustSection, cells: &Cells, study: &Study) -> Vec<LeftOut> {
    let mut left_out = Vec::new();
    let mut rest = study.pieces().saturating_sub(used(section, study).0);
    if let Some(players) = &section.players {
        let n = cells.reeds().saturating_sub(players.reeds);
        let why = match players.form.as_str() {
            "two-way" => "rated, but not by all of the players who are compared",
            _ => "rated by one player only",
        };
        count_out(&mut left_out, why, n);
        rest = rest.saturating_sub(n);
    }
    let why = match (&section.players, &section.same_player) {
        (Some(_), _) => "without a rating that counts",
        (None, Some(_)) => "not rated again by the same player",
        (None, None) => "not read again",
    };
    count_out(&mut left_out, why, rest);
    left_out
}

/// The two players with most reeds in common, where players are compared.
fn pair_chart(study: &Study, players: Option<&PlayersTrust>, cells: &Cells) -> Vec<Chart> {
    let shown = players.and_then(|_| pairs::pair(&cells.shared()));
    let Some(([first, second], points)) = shown else { return Vec::new() };
    let (first, second) = (name(&first), name(&second));
    let chart = Chart {
        name: "rating_agreement".to_owned(),
        title: "Two players on the same reeds".to_owned(),
        description: format!(
            "Ratings of {} reeds by {first} against those by {second}.",
            points.len()
        ),
        reading: words::trust::READING_PLAYERS.to_owned(),
        kind: ChartKind::Pairs {
            x_label: format!("rating by {first}"),
            y_label: format!("rating by {second}"),
            points,
            apart: None,
            range: Some(score_range(study)),
        },
    };
    vec![chart]
}

fn leniency_chart(players: &PlayersTrust) -> Option<Chart> {
    if players.leniency.is_empty() {
        return None;
    }
    let rows = players.leniency.iter().map(|found| LevelShown {
        label: found.player.clone(),
        level: Interval { estimate: found.estimate, low: found.low, high: found.high },
        n: found.reeds,
    });
    let mut rows: Vec<LevelShown> = rows.collect();
    rows.sort_by(|a, b| b.level.estimate.total_cmp(&a.level.estimate));
    Some(Chart {
        name: "leniency".to_owned(),
        title: "Who marks higher on the same reeds".to_owned(),
        description: format!("Leniency of {} players against their average.", rows.len()),
        reading: words::trust::READING_LENIENCY.to_owned(),
        kind: ChartKind::Levels {
            rows,
            x_label: "rating points above the average of the players".to_owned(),
        },
    })
}

/// The measurements that lose most to their error first.
fn repeat_charts(measured: &[Measured]) -> Vec<Chart> {
    let mut shown: Vec<&Measured> =
        measured.iter().filter(|found| found.result.within_sd > 0.0).collect();
    let reliability = |found: &MeasureTrust| found.reliability.unwrap_or(1.0);
    shown.sort_by(|a, b| {
        let order = reliability(&a.result).total_cmp(&reliability(&b.result));
        order.then(a.result.measure.cmp(&b.result.measure))
    });
    shown.into_iter().take(MOST_PICTURES).map(repeat_chart).collect()
}

fn repeat_chart(found: &Measured) -> Chart {
    let unit = found.result.unit.as_ref().map_or(String::new(), |unit| format!(", {unit}"));
    let label = name(&found.label);
    Chart {
        name: format!("repeat_{}", words::labels::file_stem(&found.result.measure)),
        title: format!("Read twice: {label}"),
        description: format!("First and later readings of {} pieces, {label}.", found.result.n),
        reading: words::trust::READING_REPEATS.to_owned(),
        kind: ChartKind::Pairs {
            x_label: format!("first reading{unit}"),
            y_label: format!("later reading{unit}"),
            points: found.pairs.clone(),
            apart: Some(found.result.repeatability),
            range: None,
        },
    }
}

fn method(section: &TrustSection, seed: u64) -> Method {
    let mut model = "Repeat readings: one-way analysis of variance, pieces apart; the within-piece standard deviation, 1.96·√2 times it, and the pieces’ share of \
                     the variance with its exact interval (Wald 1940)."
        .to_owned();
    let mut sources = vec![
        "Bland & Altman 1996, British Medical Journal 312, 1654".to_owned(),
        "Fuller 1987, Measurement Error Models, 1.1".to_owned(),
    ];
    let mut assumptions = vec![
        "Pieces read again stand for all pieces; errors are alike over the range and independent of each other.".to_owned(),
    ];
    if let Some(players) = &section.players {
        model += &format!(
            " Players: {} intraclass correlation, absolute agreement for one rating as it stands, consistency with leniency taken out; leniency by least squares of \
             the ratings on reed and player; kappa with quadratic weights; Krippendorff’s alpha on ordered categories, its interval from whole reeds drawn again.",
            players.form
        );
        sources.extend([
            "Shrout & Fleiss 1979, Psychological Bulletin 86, 420–428".to_owned(),
            "McGraw & Wong 1996, Psychological Methods 1, 30–46".to_owned(),
            "Cohen 1968, Psychological Bulletin 70, 213–220".to_owned(),
            "Krippendorff 2004, Content Analysis, chapter 11".to_owned(),
            "Spearman 1910 and Brown 1910, British Journal of Psychology 3".to_owned(),
        ]);
        assumptions.push(format!("The {} form was taken, since {}.", players.form, players.why));
        assumptions.push("Reeds rated by several players stand for all reeds, and nobody knew the others’ ratings.".to_owned());
    }
    if section.same_player.is_some() {
        model += " The same player again: the within-series standard deviation, and the slope on time within series with errors that let the ratings of one reed \
                  resemble each other.";
        sources.push("Bell & McCaffrey 2002, Survey Methodology 28, 169–181".to_owned());
    }
    let drawn = section.players.as_ref().is_some_and(|players| players.alpha_low.is_some());
    Method { model, assumptions, sources, seed: drawn.then_some(seed) }
}
