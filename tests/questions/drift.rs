//! Has the making moved: the handbook's charts asked as logs, planted steps, and series that only chance moves.

use std::fs;
use std::path::Path;

use canewright::finding::{ControlChart, DriftSection, Finding, MeasureDrift, Section};
use canewright::questions::drift::ChartSettings;
use canewright::questions::{Options, find};
use canewright::study::Study;
use serde_json::Value;

use super::{answered, close, noise, reeds, refused, study, table};

fn section(finding: Finding) -> DriftSection {
    match finding.section {
        Section::Drift(section) => section,
        other => panic!("{other:?}"),
    }
}

fn drift(study: &Study) -> DriftSection {
    section(answered("drift", study))
}

fn measure<'a>(section: &'a DriftSection, name: &str) -> &'a MeasureDrift {
    let found = section.measures.iter().find(|found| found.measure == name);
    found.unwrap_or_else(|| panic!("{name} is not among {:?}", section.measures))
}

fn chart<'a>(section: &'a DriftSection, name: &str, kind: &str) -> &'a ControlChart {
    let found = section.charts.iter().find(|chart| chart.measure == name && chart.kind == kind);
    found.unwrap_or_else(|| panic!("{name} has no chart of {kind}"))
}

/// So many days after the first of January 2024.
fn day(days: usize) -> String {
    let first = jiff::civil::date(2024, 1, 1);
    first.checked_add(jiff::Span::new().days(days as i64)).expect("a day").to_string()
}

/// The second column of a published case as a log of one measurement, a piece a day, asked with these settings.
fn published(case: &str, charts: ChartSettings) -> (DriftSection, Value) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(case);
    let text = fs::read_to_string(folder.join("data.csv")).expect("the case is there");
    let expected = fs::read_to_string(folder.join("expected.json")).expect("its values too");
    let mut pieces = "reed,started_on,reading\n".to_owned();
    for (row, line) in text.lines().skip(1).enumerate() {
        let cell = line.split(',').nth(1).expect("two columns");
        pieces += &format!("{row},{},{cell}\n", day(row));
    }
    let settings = "[columns.reading]\nis = \"reading\"\nstage = \"finish\"\nkind = \"number\"";
    let log = study(&[("reeds.csv", &pieces), ("study.toml", settings)]);
    let options = Options { charts, factor: Some("reading".to_owned()), ..Options::default() };
    let finding = (find("drift").expect("in the registry").ask)(&log, &options);
    let expected: Value = serde_json::from_str(&expected).expect("JSON");
    (section(finding.expect("an answer")), expected["values"].clone())
}

fn value(expected: &Value, name: &str) -> f64 {
    expected[name].as_f64().unwrap_or_else(|| panic!("{name} is published"))
}

/// NIST/SEMATECH e-Handbook, section 6.3.2.2: ten flow readings.
#[test]
fn the_handbooks_individuals_chart_comes_out_of_a_log() {
    let (found, expected) = published("control_imr_nist_flow", ChartSettings::default());
    let shown = chart(&found, "reading", "individuals");
    close(shown.center, value(&expected, "mean"), 1e-9, "centre");
    close(shown.upper.unwrap(), value(&expected, "i_ucl"), 1e-9, "upper limit");
    close(shown.lower.unwrap(), value(&expected, "i_lcl"), 1e-9, "lower limit");
    let beyond =
        shown.points.iter().filter(|point| point.flag.as_deref() == Some("beyond a limit"));
    assert_eq!(beyond.count() as f64, value(&expected, "n_beyond_limits"));
    let one = measure(&found, "reading");
    assert_eq!((one.n, one.base.points), (10, 10));
    close(one.sigma, value(&expected, "sigma_hat"), 1e-9, "sigma");
}

/// NIST/SEMATECH e-Handbook, section 6.3.2.4: weight 0.3, width 3, centre 50, sigma 2.0539.
#[test]
fn the_handbooks_weighted_average_comes_out_of_a_log() {
    let settings = ChartSettings {
        weight: 0.3,
        width: 3.0,
        target: Some(50.0),
        sigma: Some(2.0539),
        ..ChartSettings::default()
    };
    let (found, expected) = published("control_ewma_nist", settings);
    let shown = chart(&found, "reading", "ewma");
    assert_eq!(shown.points.len(), 20);
    for (place, point) in shown.points.iter().enumerate() {
        close(point.value, value(&expected, &format!("ewma_{}", place + 1)), 1e-9, "average");
    }
    close(shown.upper.unwrap(), value(&expected, "ucl_asymptotic"), 1e-9, "upper limit");
    close(shown.lower.unwrap(), value(&expected, "lcl_asymptotic"), 1e-9, "lower limit");
    assert_eq!(shown.signals as f64, value(&expected, "first_signal_exact_limits"));
}

/// NIST/SEMATECH e-Handbook, section 6.3.2.3: target 325, k 0.3175, h 4.1959; with a sigma of 0.635 the slack is half of it.
#[test]
fn the_handbooks_cumulative_sums_come_out_of_a_log() {
    let settings = ChartSettings {
        target: Some(325.0),
        sigma: Some(0.635),
        decision: 4.1959 / 0.635,
        ..ChartSettings::default()
    };
    let (found, expected) = published("control_cusum_nist", settings);
    for (kind, name) in [("cusum up", "hi"), ("cusum down", "lo")] {
        for (place, point) in chart(&found, "reading", kind).points.iter().enumerate() {
            let name = format!("cusum_{name}_{}", place + 1);
            close(point.value, value(&expected, &name), 1e-9, &name);
        }
    }
    let first = chart(&found, "reading", "cusum up").points.iter().position(|p| p.flag.is_some());
    assert_eq!(first.map(|place| place as f64 + 1.0), Some(value(&expected, "first_signal")));
    assert!(measure(&found, "reading").off_target.is_some());
}

/// Pieces every third day, a lot of ten at a time; what each cell holds is said by `value`.
fn log(rows: usize, lots: usize, value: impl Fn(usize, usize) -> f64) -> Study {
    let text = table("lot,started_on,gouge_center_mm,hardness,rating", rows, |row| {
        let gouge = 1.28 + 0.02 * noise(row, 1) + value(row, 0);
        let hard = 14.0 + 2.0 * noise(row, 2) + value(row, 1);
        let rating = (10.0 + 4.0 * noise(row, 3) + value(row, 2)).round();
        format!("lot {},{},{gouge:.4},{hard:.2},{rating}", row * lots / rows, day(3 * row))
    });
    reeds(&text, "")
}

#[test]
fn a_gouge_that_drops_half_way_is_said_to_have_moved_and_by_how_much() {
    let log = log(100, 10, |row, what| if what == 0 && row >= 50 { -0.03 } else { 0.0 });
    let finding = answered("drift", &log);
    let found = drift(&log);
    let gouge = measure(&found, "gouge_center_mm");
    assert!(gouge.moved && gouge.q <= 0.05, "{gouge:?}");
    let change = gouge.change.expect("lots enough");
    assert!(change.low < -0.03 && -0.03 < change.high, "{change:?}");
    assert!(gouge.flagged > 50, "{gouge:?}");
    assert!(!measure(&found, "hardness").moved && !measure(&found, "rating").moved);
    assert!(finding.answer.starts_with("Of the three series one moved"), "{}", finding.answer);
    assert!(finding.charts.iter().any(|chart| chart.name == "drift_gouge_center_mm"));
    for causal in ["because", "makes", "improve"] {
        assert!(!finding.answer.contains(causal));
    }
}

#[test]
fn where_nothing_moves_the_flags_are_weighed_against_those_of_shuffles() {
    let found = drift(&log(100, 10, |_, _| 0.0));
    assert!(found.measures.iter().all(|measure| !measure.moved), "{:?}", found.measures);
    assert!(found.sentence.contains("None of the three series is shown to have moved"));
    assert!(
        found.sentence.contains("the same pieces in shuffled order about"),
        "{}",
        found.sentence
    );
    assert!(!found.sentence.contains("no difference") && !found.sentence.contains("has not moved"));
}

/// Lots lie apart by steps far beyond what pieces of one lot do, up and down without order.
#[test]
fn lots_that_differ_without_order_are_no_movement_and_the_lot_means_are_charted() {
    let step = |row: usize| 0.08 * noise(row / 10, 9);
    let found = drift(&log(120, 12, |row, what| if what == 0 { step(row) } else { 0.0 }));
    let gouge = measure(&found, "gouge_center_mm");
    assert_eq!(gouge.shuffled, "lots kept together");
    assert!(!gouge.moved, "{gouge:?}");
    let spread = gouge.lots.expect("twelve lots");
    assert!(spread.sd_between > spread.sd_within && spread.beyond >= 4, "{spread:?}");
    let means = chart(&found, "gouge_center_mm", "lot means");
    assert_eq!((means.points.len(), means.signals), (12, spread.beyond));
    assert_eq!(means.points[0].lot.as_deref(), Some("lot 0"));
    assert!(gouge.flagged > 20, "the lots do flag: {gouge:?}");
}

#[test]
fn a_step_between_three_lots_is_not_called_a_moving_hand() {
    let found =
        drift(&log(90, 3, |row, what| if what == 0 { 0.05 * (row / 30) as f64 } else { 0.0 }));
    let gouge = measure(&found, "gouge_center_mm");
    assert_eq!(gouge.shuffled, "within lots");
    assert!(!gouge.moved, "{gouge:?}");
    assert!(gouge.sentence.contains("cannot be told from a moving hand"), "{}", gouge.sentence);
}

#[test]
fn four_pieces_equal_readings_and_pieces_without_a_day_are_refused() {
    let four = table("started_on,hardness", 4, |row| format!("{},{}", day(row), 12 + row));
    assert!(refused("drift", &reeds(&four, "")).found.contains("it takes ten"));
    let equal = table("started_on,hardness", 40, |row| format!("{},14", day(row)));
    assert!(refused("drift", &reeds(&equal, "")).found.contains("does not vary"));
    let undated = table("hardness,rating", 40, |row| format!("{},{}", 12 + row % 5, row % 7));
    assert!(refused("drift", &reeds(&undated, "")).takes.contains("started_on"));
}

#[test]
fn a_measurement_that_is_not_there_is_refused_by_name() {
    let options = Options { factor: Some("colour".to_owned()), ..Options::default() };
    let asked = (find("drift").expect("in the registry").ask)(&log(40, 4, |_, _| 0.0), &options);
    let refusal = asked.expect_err("no colour");
    assert!(refusal.found.contains("no measurement “colour”"), "{refusal}");
    assert!(refusal.found.contains("hardness"), "{refusal}");
}

/// One maker gouges thinner and comes in half way; neither changes.
#[test]
fn another_maker_who_comes_in_half_way_is_no_moving_hand() {
    let text = table("lot,maker,started_on,gouge_center_mm", 120, |row| {
        let maker = if row < 60 { "A" } else { ["A", "B"][row % 2] };
        let usual = if maker == "A" { 1.30 } else { 1.20 };
        format!("lot {},{maker},{},{:.4}", row / 6, day(3 * row), usual + 0.02 * noise(row, 1))
    });
    let found = drift(&reeds(&text, ""));
    assert!(!measure(&found, "gouge_center_mm").moved, "{:?}", found.measures);
    let unnamed =
        drift(&reeds(&text.replace("maker", "bench").replace("lot,bench", "lot,moon"), ""));
    assert!(measure(&unnamed, "gouge_center_mm").moved, "{:?}", unnamed.measures);
}

/// A maker of whose reeds most are good comes in for the second half.
#[test]
fn more_good_reeds_by_another_maker_are_no_growing_skill() {
    let text = table("maker,started_on,hardness,rating", 160, |row| {
        let (maker, share) =
            if row < 80 { ("A", 3) } else { (["A", "B"][row % 2], 3 + 5 * (row % 2)) };
        let good = (row / 2) * 7 % 10 < share;
        format!(
            "{maker},{},{:.1},{}",
            day(2 * row),
            14.0 + noise(row, 1),
            if good { 15 } else { 8 }
        )
    });
    let odds = |text: &str| drift(&reeds(text, "")).skill.expect("fitted").odds;
    let held = odds(&text);
    assert!(held.low < 1.0 && held.high > 1.0, "{held:?}");
    let unnamed = odds(&text.replace("maker,", "moon,"));
    assert!(unnamed.low > 1.0, "{unnamed:?}");
}

#[test]
fn the_order_of_the_rows_changes_nothing() {
    let line = |row: usize| format!("{row},{},{:.2}\n", day(row / 2), 14.0 + 2.0 * noise(row, 2));
    let rows: Vec<String> = (0..60).map(line).collect();
    let head = "reed,started_on,hardness\n";
    let turned: Vec<String> = rows.iter().rev().cloned().collect();
    let one = drift(&reeds(&(head.to_owned() + &rows.concat()), ""));
    let other = drift(&reeds(&(head.to_owned() + &turned.concat()), ""));
    assert_eq!(one, other);
}

/// Forty finished pieces in the first half with three of ten good, forty in the second with seven: odds ratio of halves (7/3)² = 5.4.
#[test]
fn good_reeds_that_become_commoner_are_told_with_both_ends() {
    let text = table("started_on,hardness,rating", 160, |row| {
        let share = if row < 80 { 3 } else { 7 };
        let good = row * 7 % 10 < share;
        format!("{},{:.1},{}", day(2 * row), 14.0 + noise(row, 1), if good { 15 } else { 8 })
    });
    let skill = drift(&reeds(&text, "")).skill.expect("enough pieces");
    assert_eq!((skill.pieces, skill.good, skill.days), (160, 80, 318));
    assert!(skill.odds.low > 1.0, "{skill:?}");
    assert!(skill.first_per_ten < 3.5 && skill.last_per_ten > 6.5, "{skill:?}");
    assert!(skill.sentence.starts_with("More pieces became good reeds"), "{}", skill.sentence);
}

/// An edge takes off 0.002 mm less with each piece and is sharpened every fifteen pieces: 0.02 mm for ten.
#[test]
fn a_blade_that_wears_shows_as_a_saw_tooth() {
    let text = table("started_on,gouge_center_mm,pieces_since_sharpening", 90, |row| {
        let since = row % 15;
        let gouge = 1.26 + 0.002 * since as f64 + 0.004 * noise(row, 1);
        format!("{},{gouge:.4},{since}", day(row))
    });
    let settings = "[columns.pieces_since_sharpening]\nis = \"pieces_since_sharpening\"\nstage = \"gouge\"\nkind = \"number\"";
    let found = drift(&reeds(&text, settings));
    let wear = found.wear.iter().find(|wear| wear.measure == "gouge_center_mm").expect("looked at");
    assert_eq!((wear.pieces, wear.sharpenings), (90, 6));
    let change = wear.per_ten_pieces;
    assert!(change.low < 0.02 && 0.02 < change.high, "{change:?}");
    close(change.estimate, 0.02, 0.003, "for ten pieces");
    assert!(wear.sentence.starts_with("Ten more pieces on the same edge"), "{}", wear.sentence);
}

#[test]
fn a_log_of_five_thousand_pieces_is_charted_as_means() {
    let text = table("started_on,hardness", 5_000, |row| {
        format!("{},{:.2}", day(row / 5), 14.0 + 2.0 * noise(row, 1))
    });
    let found = drift(&reeds(&text, ""));
    let hard = measure(&found, "hardness");
    assert_eq!((hard.n, hard.pieces_a_point), (5_000, 5));
    assert_eq!(chart(&found, "hardness", "individuals").points.len(), 1_000);
    assert!(!hard.moved, "{hard:?}");
}
