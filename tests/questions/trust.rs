//! Can the numbers be trusted: published agreement and repeatability studies asked as logs, and thin data that carry nothing.

use std::fs;
use std::path::Path;

use canewright::finding::{Finding, MeasureTrust, PlayersTrust, Section, TrustSection};
use canewright::study::Study;
use serde_json::Value;

use super::{answered, close, noise, reeds, refused, study, table};

const SETTINGS: &str = "scale = [0, 20]\nworthwhile = 0.5\noutcome = \"overall\"";

fn trust(study: &Study) -> TrustSection {
    match answered("trust", study).section {
        Section::Trust(section) => section,
        other => panic!("{other:?}"),
    }
}

fn players(study: &Study) -> PlayersTrust {
    trust(study).players.expect("several players are compared")
}

fn measure<'a>(section: &'a TrustSection, name: &str) -> &'a MeasureTrust {
    let found = section.measures.iter().find(|found| found.measure == name);
    found.unwrap_or_else(|| panic!("{name} is not among {:?}", section.measures))
}

/// The lines of a published data set, each split at its commas, the header first.
fn published(case: &str) -> (Vec<Vec<String>>, Value) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(case);
    let text = fs::read_to_string(folder.join("data.csv")).expect("the case is there");
    let expected = fs::read_to_string(folder.join("expected.json")).expect("its values too");
    let lines = text.lines().map(|line| line.split(',').map(str::to_owned).collect()).collect();
    let expected: Value = serde_json::from_str(&expected).expect("JSON");
    (lines, expected["values"].clone())
}

fn value(expected: &Value, name: &str) -> f64 {
    expected[name].as_f64().unwrap_or_else(|| panic!("{name} is published"))
}

/// A table of subjects (rows) by raters (columns after the first) as a log of ratings.
fn rated(case: &str) -> (Study, Value) {
    let (lines, expected) = published(case);
    let (head, rows) = lines.split_first().expect("a header");
    let (mut pieces, mut ratings) = ("reed\n".to_owned(), "reed,date,player,overall\n".to_owned());
    for row in rows {
        pieces += &format!("{}\n", row[0]);
        for (player, cell) in head.iter().zip(row).skip(1).filter(|(_, cell)| !cell.is_empty()) {
            ratings += &format!("{},2024-05-01,{player},{cell}\n", row[0]);
        }
    }
    let files = [("reeds.csv", &*pieces), ("ratings.csv", &*ratings), ("study.toml", SETTINGS)];
    (study(&files), expected)
}

/// Shrout & Fleiss 1979, Psychological Bulletin 86, tables 2 to 4: six targets, four judges; their table 4 has 0.17, 0.29, 0.71, 0.44, 0.62 and 0.91.
#[test]
fn the_six_intraclass_correlations_of_shrout_and_fleiss_come_out_of_a_log_of_ratings() {
    let (log, expected) = rated("icc_shrout_fleiss");
    let found = players(&log);
    let forms = [
        ("ICC(1,1)", "icc1", 0.17),
        ("ICC(1,4)", "icc1k", 0.44),
        ("ICC(2,1)", "icc2", 0.29),
        ("ICC(2,4)", "icc2k", 0.62),
        ("ICC(3,1)", "icc3", 0.71),
        ("ICC(3,4)", "icc3k", 0.91),
    ];
    assert_eq!(found.forms.len(), 6);
    for (shown, (form, name, printed)) in found.forms.iter().zip(forms) {
        assert_eq!(shown.form, form);
        close(shown.estimate, printed, 0.005, form);
        close(shown.estimate, value(&expected, name), 1e-9, form);
        close(shown.low, value(&expected, &format!("ci95_lo_{name}")), 1e-6, form);
        close(shown.high, value(&expected, &format!("ci95_hi_{name}")), 1e-6, form);
    }
    assert_eq!((found.form.as_str(), found.reeds, found.players), ("two-way", 6, 4));
    close(found.icc_single.unwrap(), value(&expected, "icc2"), 1e-9, "one rating as it stands");
    close(found.icc_mean.unwrap(), value(&expected, "icc2k"), 1e-9, "the mean of four");
    // judge 1 gave 46 of 127 points over six targets: 7.667 against 5.292
    let first = &found.leniency[0];
    close(first.estimate, 46.0 / 6.0 - 127.0 / 24.0, 1e-9, "leniency of the first judge");
    assert!(first.stands_out && first.low > 0.0);
}

/// By hand from ICC(3,1) = 0.7148 (0.3425 to 0.9459): 4 * 0.2852 / 0.7148 = 1.6, so two ratings; 7.7 at the low end and 0.2 at the high one. With four ratings each the
/// reliability of the scores is ICC(3,4) = 0.9093, and its root 0.9536 the largest correlation.
#[test]
fn the_ratings_a_reed_takes_and_the_ceiling_follow_from_the_intraclass_correlation() {
    let (log, expected) = rated("icc_shrout_fleiss");
    let section = trust(&log);
    let needed = section.players.as_ref().unwrap().ratings_needed.unwrap();
    assert_eq!((needed.estimate, needed.low, needed.high), (2, 1, Some(8)));
    let ceiling = section.ceiling.expect("a ceiling");
    close(ceiling.r2.estimate, value(&expected, "icc3k"), 1e-9, "share");
    close(ceiling.r2.low, value(&expected, "ci95_lo_icc3k"), 1e-6, "its low end");
    close(section.rating_ceiling.unwrap(), 0.909_315_5_f64.sqrt(), 1e-6, "correlation");
}

/// Krippendorff 2011, example C: twelve units, four observers, ratings missing; ordinal alpha 0.815.
#[test]
fn krippendorffs_alpha_of_his_example_comes_out_of_a_log_with_ratings_missing() {
    let (log, expected) = rated("kripp_alpha_c");
    let found = players(&log);
    close(found.alpha.unwrap(), 0.815, 0.0005, "as printed");
    close(found.alpha.unwrap(), value(&expected, "alpha_ordinal"), 1e-9, "as computed twice");
    assert_eq!(found.alpha_low, None, "eleven units are too few for an interval");
}

/// Readings of pieces: (piece, measure, value, by, repeat).
fn readings(
    pieces: usize,
    rows: impl IntoIterator<Item = (usize, String, f64, String, usize)>,
) -> Study {
    let table = table("lot", pieces, |_| "A".to_owned());
    let mut text = "reed,measure,value,by,repeat\n".to_owned();
    for (piece, measure, value, by, repeat) in rows {
        text += &format!("{piece},{measure},{value},{by},{repeat}\n");
    }
    study(&[("reeds.csv", &table), ("readings.csv", &text)])
}

/// Bland & Altman 1986, Lancet i, 307-310, table 1: peak flow of 17 people, each twice with two meters.
#[test]
fn bland_and_altmans_meters_repeat_as_they_printed() {
    let (lines, expected) = published("repeatability_bland_altman_1986");
    let rows = lines[1..].iter().enumerate().flat_map(|(piece, row)| {
        let reading = move |column: usize, meter: &str, repeat| {
            (piece, meter.to_owned(), row[column].parse().unwrap(), String::new(), repeat)
        };
        [
            reading(1, "wright meter", 1),
            reading(2, "wright meter", 2),
            reading(3, "mini meter", 1),
            reading(4, "mini meter", 2),
        ]
    });
    let section = trust(&readings(17, rows.collect::<Vec<_>>()));
    for (measured, name) in [("wright_meter", "wright"), ("mini_meter", "mini")] {
        let found = measure(&section, measured);
        assert_eq!((found.n, found.repeats), (17, 34));
        close(found.within_sd, value(&expected, &format!("{name}_sw")), 1e-9, name);
        close(found.repeatability, value(&expected, &format!("{name}_cr_1_96")), 1e-9, name);
        assert!(found.repeatability_low < Some(found.repeatability));
        assert!(found.reliability_low <= found.reliability);
    }
}

/// AIAG, Measurement Systems Analysis, 4th ed. 2010: ten parts, three appraisers, three trials each; the interaction is pooled.
#[test]
fn the_measurement_study_of_the_manual_splits_as_printed() {
    let (lines, expected) = published("gauge_rr_aiag");
    let rows = lines[1..].iter().enumerate().map(|(at, row)| {
        let part: usize = row[0].parse().unwrap();
        (part - 1, "part value".to_owned(), row[3].parse().unwrap(), row[1].clone(), at + 1)
    });
    let section = trust(&readings(10, rows.collect::<Vec<_>>()));
    let found = measure(&section, "part_value").people.clone().expect("three people");
    let crossed = found.crossed.expect("everybody read everything");
    assert_eq!((crossed.pieces, crossed.people, crossed.readings), (10, 3, 3));
    assert!(!crossed.interaction_kept);
    close(crossed.repeatability.sqrt(), value(&expected, "pooled_ev"), 1e-9, "repeatability");
    close(crossed.reproducibility.sqrt(), value(&expected, "pooled_av"), 1e-9, "reproducibility");
    close(crossed.pieces_variance.sqrt(), value(&expected, "pooled_pv"), 1e-9, "parts");
    assert_eq!(found.levels.len(), 3);
}

/// Eight pieces, readings 0.01 mm apart in turn up and down: s_w² = (8 · 0.01²) / (2 · 8), s_w = 0.01 / √2 = 0.00707, and 1.96 · √2 · s_w = 0.0196 mm.
#[test]
fn two_readings_a_hundredth_apart_repeat_within_two_hundredths() {
    let up = |piece: usize| if piece.is_multiple_of(2) { 0.01 } else { 0.0 };
    let rows = (0..8).flat_map(|piece| {
        let thick = 1.20 + 0.02 * piece as f64;
        [(1, thick + up(piece)), (2, thick + 0.01 - up(piece))].map(|(repeat, value)| {
            (piece, "gouge_center_mm".to_owned(), value, "ann".to_owned(), repeat)
        })
    });
    let section = trust(&readings(8, rows.collect::<Vec<_>>()));
    let found = measure(&section, "gouge_center_mm");
    close(found.within_sd, 0.01 / 2.0_f64.sqrt(), 1e-9, "standard deviation");
    close(found.repeatability, 0.0196, 1e-9, "repeatability");
    assert!(found.people.is_none(), "one person");
    assert!(
        found.sentence.contains("differ by less than 0.020 (0.013 to 0.038) mm"),
        "{}",
        found.sentence
    );
    assert!(section.players.is_none() && section.rating_ceiling.is_none());
}

#[test]
fn readings_that_repeat_exactly_are_told_and_no_size_is_claimed() {
    let rows = (0..9).flat_map(|piece| {
        [1, 2].map(|repeat| {
            (piece, "hardness".to_owned(), 10.0 + piece as f64, String::new(), repeat)
        })
    });
    let section = trust(&readings(9, rows.collect::<Vec<_>>()));
    let found = measure(&section, "hardness");
    assert_eq!((found.within_sd, found.within_low, found.reliability), (0.0, None, None));
    assert!(found.sentence.contains("every repeat gave the same number"), "{}", found.sentence);
    assert!(!found.sentence.contains("true effect"), "{}", found.sentence);
}

/// The second person reads half a unit higher throughout; the first repeats within a tenth.
#[test]
fn a_person_who_reads_higher_is_named_with_the_size() {
    let rows = (0..20).flat_map(|piece| {
        let true_value = 12.0 + 3.0 * noise(piece, 1);
        [("ann", 0.0, 2), ("ben", 0.5, 3)].map(|(by, more, stream)| {
            let value = true_value + more + 0.1 * noise(piece, stream);
            (piece, "hardness".to_owned(), value, by.to_owned(), stream - 1)
        })
    });
    let section = trust(&readings(20, rows.collect::<Vec<_>>()));
    let found = measure(&section, "hardness");
    let levels = &found.people.as_ref().expect("two people").levels;
    close(levels[1].estimate - levels[0].estimate, 0.5, 0.06, "ben above ann");
    assert!(found.sentence.contains("ben read higher than ann"), "{}", found.sentence);
}

fn two_players(reeds: usize, score: impl Fn(usize, usize) -> f64) -> Study {
    let pieces = table("lot", reeds, |row| format!("lot {}", row % 3));
    let mut ratings = "reed,date,player,overall\n".to_owned();
    for row in 0..reeds {
        for (player, name) in ["ann", "ben"].iter().enumerate() {
            ratings += &format!("{row},2024-05-01,{name},{:.1}\n", score(row, player));
        }
    }
    study(&[("reeds.csv", &pieces), ("ratings.csv", &ratings), ("study.toml", SETTINGS)])
}

fn said(finding: &Finding) -> String {
    format!("{} {} {}", finding.answer, finding.more.join(" "), finding.caveats.join(" "))
}

#[test]
fn players_who_rate_at_random_are_called_open_and_nothing_is_claimed_of_them() {
    let log = two_players(20, |row, player| 10.0 + 4.0 * noise(row, 40 + player));
    let finding = answered("trust", &log);
    let found = players(&log);
    assert!(found.low.is_some_and(|low| low <= 0.0), "{found:?}");
    assert!(finding.answer.contains("is open"), "{}", finding.answer);
    let said = said(&finding);
    assert!(said.contains("is open: "), "leniency: {said}");
    assert!(!said.contains("no difference"), "{said}");
    assert!(found.ratings_needed.is_none_or(|needed| needed.high.is_none()));
}

#[test]
fn players_who_always_agree_show_no_error_and_no_interval_is_made_up() {
    let log = two_players(12, |row, _| 5.0 + (row % 5) as f64);
    let found = players(&log);
    assert_eq!((found.low, found.high, found.ratings_needed), (None, None, None));
    assert!(found.leniency.is_empty() && found.kappa.iter().all(|pair| pair.low.is_none()));
    let answer = answered("trust", &log).answer;
    assert!(answer.contains("too small to be measured"), "{answer}");
}

#[test]
fn equal_ratings_of_all_reeds_say_nothing() {
    let answer = answered("trust", &two_players(12, |_, _| 8.0)).answer;
    assert!(answer.contains("cannot be told, because the ratings hardly differ"), "{answer}");
}

/// By hand: eight reeds marked 1 to 4 twice over by ann; ben agrees on six and is one off on two, (1, 2) and (4, 3). Quadratic weights: the mean squared difference is 2/8;
/// by chance, with margins 2,2,2,2 and 1,3,3,1, E(a - b)² = var a + var b + (difference of means)² = 1.25 + 0.75 + 0 = 2. Kappa = 1 - 0.25 / 2 = 0.875.
#[test]
fn weighted_kappa_is_the_hand_worked_one() {
    let ann = [1.0, 2.0, 3.0, 4.0, 1.0, 2.0, 3.0, 4.0];
    let ben = [1.0, 2.0, 3.0, 4.0, 2.0, 2.0, 3.0, 3.0];
    let log = two_players(8, |row, player| if player == 0 { ann[row] } else { ben[row] });
    let kappa = &players(&log).kappa;
    assert_eq!((kappa.len(), kappa[0].reeds), (1, 8));
    close(kappa[0].estimate, 0.875, 1e-9, "kappa");
}

#[test]
fn four_reeds_one_player_and_single_readings_are_refused() {
    let four = two_players(4, |row, player| (row + player) as f64);
    let refusal = refused("trust", &four);
    assert!(refusal.found.contains("4 reeds were rated by several players"), "{refusal}");
    let text = table("hardness,rating", 40, |row| format!("{},{}", 10 + row % 7, 5 + row % 9));
    let refusal = refused("trust", &reeds(&text, ""));
    assert!(refusal.takes.contains("readings.csv"), "{refusal}");
    let once = (0..30).map(|piece| (piece, "hardness".to_owned(), piece as f64, String::new(), 1));
    refused("trust", &readings(30, once.collect::<Vec<_>>()));
}

#[test]
fn a_measure_read_again_on_three_pieces_is_named_and_not_judged() {
    let rows = (0..12).flat_map(|piece| {
        let measures: &[&str] = if piece < 3 { &["hardness", "flex_mm"] } else { &["hardness"] };
        measures.iter().flat_map(move |measure| {
            [1, 2].map(|repeat| {
                let value = 2.0 + 0.1 * noise(piece, repeat);
                (piece, (*measure).to_owned(), value, String::new(), repeat)
            })
        })
    });
    let log = readings(12, rows.collect::<Vec<_>>());
    let section = trust(&log);
    assert_eq!(section.measures.len(), 1);
    assert_eq!(section.too_few[0].pieces, 3);
    let caveats = answered("trust", &log).caveats.join(" ");
    assert!(caveats.contains("only 3 pieces were read again"), "{caveats}");
}

/// Twelve reeds that ann rates four months running; reeds in use lose 0.4 points a month, the two anchors none.
fn rated_monthly(anchors: bool) -> Study {
    let pieces = table("lot,anchor", 12, |row| {
        format!("A,{}", if anchors && row < 3 { "yes" } else { "no" })
    });
    let mut ratings = "reed,date,player,overall\n".to_owned();
    for row in 0..12 {
        for month in 0..4 {
            let lost = if anchors && row < 3 { 0.0 } else { 0.4 * f64::from(month) };
            let score =
                12.0 + 2.0 * noise(row, 1) - lost + 0.1 * noise(4 * row + month as usize, 2);
            ratings += &format!("{row},2024-0{}-10,ann,{score:.2}\n", month + 1);
        }
    }
    let pieces = if anchors { pieces } else { pieces.replace(",anchor", "").replace(",no", "") };
    study(&[("reeds.csv", &pieces), ("ratings.csv", &ratings), ("study.toml", SETTINGS)])
}

#[test]
fn without_anchors_ageing_and_a_drifting_scale_are_said_to_be_one() {
    let log = rated_monthly(false);
    let found = trust(&log).same_player.expect("rated again");
    let change = found.change_per_month.expect("over four months");
    assert!(change.low <= -0.4 && -0.4 <= change.high, "{change:?}");
    close(change.estimate, -0.4, 0.05, "points a month");
    let finding = answered("trust", &log);
    assert!(finding.caveats.join(" ").contains("cannot tell the ageing of reeds"), "{finding:?}");
    assert!(finding.answer.contains("How far players agree cannot be told"), "{}", finding.answer);
    assert!(trust(&log).ceiling.is_some_and(|ceiling| ceiling.from.contains("one player")));
}

#[test]
fn anchor_reeds_tell_the_scale_from_the_ageing() {
    let log = rated_monthly(true);
    let found = trust(&log).same_player.expect("rated again");
    let (used, anchors) = (found.change_per_month.unwrap(), found.anchors_per_month.unwrap());
    close(used.estimate, -0.4, 0.05, "reeds in use");
    assert!(anchors.low <= 0.0 && 0.0 <= anchors.high, "{anchors:?}");
    assert_eq!(found.anchors, 3);
    let said = said(&answered("trust", &log));
    assert!(said.contains("Whether the marking itself drifts is open"), "{said}");
    assert!(!said.contains("cannot tell the ageing"), "{said}");
}

/// Points of ten blades read twice, 0.01 mm apart: by hand s_w = 0.01 / √2. A blade is 0.05 mm thicker than the one before at every point.
#[test]
fn points_of_a_blade_read_twice_are_one_measurement() {
    let pieces = table("lot", 10, |_| "A".to_owned());
    let mut profile = "reed,from_tip_mm,line,repeat,thickness_mm\n".to_owned();
    for piece in 0..10 {
        for at in [5, 10] {
            let thick = 0.1 * f64::from(at) + 0.05 * f64::from(piece);
            profile += &format!(
                "{piece},{at},spine,1,{thick:.2}\n{piece},{at},spine,2,{:.2}\n",
                thick + 0.01
            );
        }
    }
    let section = trust(&study(&[("reeds.csv", &pieces), ("profile.csv", &profile)]));
    let found = measure(&section, "profile_mm");
    assert_eq!((found.n, found.repeats), (20, 40));
    close(found.within_sd, 0.01 / 2.0_f64.sqrt(), 1e-9, "standard deviation");
    // the spread of ten equal steps: 0.05² · (10² - 1) / 12 · 10 / 9; a half of s_w² is error
    let (step, within): (f64, f64) = (0.05 * 0.05 * 99.0 / 12.0 * 10.0 / 9.0, 0.000_05);
    let between = step - within / 2.0;
    close(found.reliability.unwrap(), between / (between + within), 1e-9, "reliability");
}

#[test]
fn the_order_of_the_rows_changes_nothing() {
    let rows: Vec<_> = (0..30)
        .flat_map(|piece| {
            [("ann", 1), ("ben", 2), ("ann", 3)].map(|(by, repeat)| {
                let value = 12.0 + 3.0 * noise(piece, 1) + 0.4 * noise(piece, 1 + repeat);
                (piece, "hardness".to_owned(), value, by.to_owned(), repeat)
            })
        })
        .collect();
    let mut turned = rows.clone();
    turned.reverse();
    let (one, other) = (trust(&readings(30, rows)), trust(&readings(30, turned)));
    let (one, other) = (measure(&one, "hardness"), measure(&other, "hardness"));
    close(one.within_sd, other.within_sd, 1e-12, "standard deviation");
    close(one.reliability.unwrap(), other.reliability.unwrap(), 1e-12, "reliability");
    assert_eq!(one.sentence, other.sentence);
}

/// Of thirty reeds, two of three players each rate twenty: no reed has all three.
#[test]
fn where_no_reed_has_all_players_the_one_way_form_is_taken_and_says_so() {
    let pieces = table("lot", 30, |_| "A".to_owned());
    let mut ratings = "reed,date,player,overall\n".to_owned();
    for row in 0..30 {
        for (player, name) in
            ["ann", "ben", "cleo"].iter().enumerate().filter(|(p, _)| row % 3 != *p)
        {
            let score = 10.0 + 3.0 * noise(row, 1) + noise(row, 2 + player) + 1.5 * player as f64;
            ratings += &format!("{row},2024-05-01,{name},{score:.1}\n");
        }
    }
    let log = study(&[("reeds.csv", &pieces), ("ratings.csv", &ratings), ("study.toml", SETTINGS)]);
    let found = players(&log);
    assert_eq!((found.form.as_str(), found.reeds, found.players), ("one-way", 30, 3));
    let (single, without) = (found.icc_single.unwrap(), found.consistency.unwrap().estimate);
    assert!(without > single + 0.1, "leniency out: {without} against {single}");
    close(found.leniency[2].estimate - found.leniency[0].estimate, 3.0, 0.8, "cleo above ann");
    let said = answered("trust", &log).method.assumptions.join(" ");
    assert!(said.contains("one-way form"), "{said}");
}
