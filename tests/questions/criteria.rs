//! The same screen for every further criterion of the ratings.

use canewright::finding::{Cell, CriterionEffect, FactorsSection, Verdict};
use canewright::stats::multiplicity::benjamini_hochberg;
use canewright::study::Study;

use super::{answered, close, factor, factors, noise, study, table};

fn effect<'a>(section: &'a FactorsSection, criterion: &str, name: &str) -> &'a CriterionEffect {
    let found = section.criteria.iter().find(|result| result.criterion == criterion);
    let list = &found.unwrap_or_else(|| panic!("no criterion {criterion}")).list;
    list.iter().find(|effect| effect.factor == name).unwrap_or_else(|| panic!("no factor {name}"))
}

/// Eighty reeds in eight lots. Hardness lowers the response by 0.4 a unit and does nothing else; marks for the further
/// criteria come from `mark`.
fn log(criteria: &[&str], settings: &str, mark: impl Fn(usize, &str, f64) -> f64) -> Study {
    let hardness = |row: usize| 14.0 + 3.0 * noise(row, 1);
    let pieces = table("lot,hardness,gouge_center_mm", 80, |row| {
        format!("lot {},{:.2},{:.4}", row % 8, hardness(row), 1.27 + 0.05 * noise(row, 2))
    });
    let mut ratings = format!("reed,date,player,overall,{}\n", criteria.join(","));
    for row in 0..80 {
        let marks: Vec<String> =
            criteria.iter().map(|name| format!("{:.2}", mark(row, name, hardness(row)))).collect();
        let overall = 10.0 + noise(row, 3);
        ratings += &format!("{row},2024-05-01,ann,{overall:.2},{}\n", marks.join(","));
    }
    let settings = format!("scale = [0, 20]\nworthwhile = 0.5\noutcome = \"overall\"\n{settings}");
    study(&[("reeds.csv", &pieces), ("ratings.csv", &ratings), ("study.toml", &settings)])
}

fn slow_response(row: usize, name: &str, hardness: f64) -> f64 {
    let own = if name == "response" { -0.4 * (hardness - 14.0) } else { 0.0 };
    10.0 + own + 0.5 * noise(row, name.len())
}

#[test]
fn what_moved_one_criterion_alone_is_found_there_and_not_in_the_rating() {
    let log = log(&["response", "pitch"], "", slow_response);
    let section = factors(&log);
    let response = effect(&section, "response", "hardness");
    assert_eq!(response.verdict, Verdict::Clear);
    close(
        response.estimate.expect("fitted") / response.step.expect("a number"),
        -0.4,
        0.06,
        "a unit",
    );
    assert_eq!(response.used, 80);
    for quiet in
        [effect(&section, "pitch", "hardness"), effect(&section, "response", "gouge_center_mm")]
    {
        assert!(!matches!(quiet.verdict, Verdict::Clear | Verdict::Leaning), "{quiet:?}");
    }
    assert!(!matches!(factor(&section, "hardness").verdict, Verdict::Clear | Verdict::Leaning));
}

#[test]
fn a_criterion_has_a_sentence_and_a_row_for_what_stands_out_alone() {
    let finding = answered("factors", &log(&["response", "pitch"], "", slow_response));
    let said: Vec<&String> =
        finding.more.iter().filter(|sentence| sentence.starts_with("Response: ")).collect();
    assert_eq!(said.len(), 1, "{:?}", finding.more);
    assert!(
        said[0].contains("hardness, clear") && said[0].contains("response moved by −"),
        "{}",
        said[0]
    );
    assert!(said[0].ends_with("among reeds of the same lot; 80 reeds in 8 lots."), "{}", said[0]);
    let table = finding.tables.iter().find(|table| table.name == "factors_criteria");
    let rows = &table.expect("something stands out").rows;
    let verdicts: Vec<&Cell> = rows.iter().filter_map(|row| row.last()).collect();
    assert_eq!(rows[0][..2], ["response", "hardness"].map(|text| Cell::Text(text.to_owned())));
    assert_eq!(verdicts[0], &Cell::Text("clear".to_owned()));
    assert!(
        verdicts[1..].iter().all(|word| **word == Cell::Text("open".to_owned())),
        "{verdicts:?}"
    );
}

#[test]
fn where_nothing_stands_out_one_sentence_says_so() {
    let quiet = |row: usize, name: &str, _| 10.0 + noise(row, name.len());
    let finding = answered("factors", &log(&["response", "pitch"], "", quiet));
    let said = "Nothing stands out for response and pitch either, all looked at together.";
    assert!(finding.more.iter().any(|sentence| sentence == said), "{:?}", finding.more);
}

/// Pitch is right at 10 and strays on both sides of it, by more where the cane is hard.
#[test]
fn of_a_criterion_with_an_ideal_in_the_middle_the_distance_from_it_is_looked_at() {
    let strays = |row: usize, _: &str, hardness: f64| {
        let side = if (row / 8).is_multiple_of(2) { 1.0 } else { -1.0 };
        10.0 + side * (2.0 + 0.4 * (hardness - 14.0) + 0.3 * noise(row, 4)).max(0.0)
    };
    let aimed = log(&["pitch"], "[criteria.pitch]\ntarget = 10", strays);
    let section = factors(&aimed);
    assert_eq!(section.criteria[0].target, Some(10.0));
    let hardness = effect(&section, "pitch", "hardness");
    close(
        hardness.estimate.expect("fitted") / hardness.step.expect("a number"),
        0.4,
        0.06,
        "a unit",
    );
    let said = answered("factors", &aimed).more.join(" ");
    assert!(said.contains("Pitch, distance from 10: hardness, clear."), "{said}");
    assert!(said.contains("the distance from the ideal moved by +"), "{said}");
    assert!(said.contains("which is worse here"), "{said}");
    let plain = factors(&log(&["pitch"], "", strays));
    assert!(effect(&plain, "pitch", "hardness").verdict != Verdict::Clear, "the two sides cancel");
}

#[test]
fn the_further_criteria_are_one_family_and_the_rating_is_another() {
    let names = ["response", "pitch", "stability"];
    let mark = |row: usize, name: &str, _| 10.0 + noise(row, 7 * name.len());
    let section = factors(&log(&names, "", mark));
    let all: Vec<&CriterionEffect> =
        section.criteria.iter().flat_map(|criterion| &criterion.list).collect();
    let p: Vec<f64> = all.iter().filter_map(|effect| effect.p).collect();
    assert_eq!(p.len(), 6, "three criteria, two factors");
    for (effect, q) in all.iter().zip(benjamini_hochberg(&p).expect("p values")) {
        close(effect.q.expect("screened"), q, 1e-12, &effect.factor);
    }
    let alone = factors(&log(&["response"], "", mark));
    for name in ["hardness", "gouge_center_mm"] {
        assert_eq!(factor(&section, name).q, factor(&alone, name).q, "the rating's own family");
    }
}

#[test]
fn nothing_is_asked_beforehand_of_a_further_criterion() {
    let decide = "[decide.hardness]\ncandidates = [12, 16]";
    let section = factors(&log(&["response"], decide, slow_response));
    assert_eq!(factor(&section, "hardness").q, None);
    assert!(effect(&section, "response", "hardness").q.is_some());
}

#[test]
fn beyond_eight_further_criteria_the_rest_are_named_and_not_looked_at() {
    let names = [
        "response",
        "pitch",
        "stability",
        "warmth",
        "focus",
        "ring",
        "depth",
        "core",
        "sheen",
        "bite",
    ];
    let mark = |row: usize, name: &str, _| 10.0 + noise(row, 3 * name.len());
    let log = log(&names, "", mark);
    let looked_at: Vec<String> =
        factors(&log).criteria.into_iter().map(|criterion| criterion.criterion).collect();
    assert_eq!(looked_at, names[..8]);
    let caveats = answered("factors", &log).caveats.join(" ");
    assert!(caveats.contains("2 further criteria were not: sheen and bite"), "{caveats}");
}

#[test]
fn a_criterion_with_the_same_mark_throughout_is_named_and_not_looked_at() {
    let log =
        log(
            &["response", "pitch"],
            "",
            |row, name, _| {
                if name == "pitch" { 9.0 } else { 10.0 + noise(row, 5) }
            },
        );
    assert_eq!(factors(&log).criteria.len(), 1);
    let caveats = answered("factors", &log).caveats.join(" ");
    assert!(caveats.contains("Not held against the factors: pitch"), "{caveats}");
}

#[test]
fn marks_off_the_scale_of_the_rating_are_held_against_a_twentieth_of_their_own_spread() {
    // cents: -40 to +40, a step of hardness moves them by far more than half a point
    let cents = |row: usize, _: &str, _: f64| 40.0 * noise(row, 6);
    let pieces =
        table("lot,hardness", 60, |row| format!("lot {},{:.1}", row % 6, 14.0 + noise(row, 1)));
    let mut ratings = "reed,date,player,criterion,score\n".to_owned();
    for row in 0..60 {
        ratings += &format!("{row},2024-05-01,ann,overall,{:.1}\n", 10.0 + noise(row, 3));
        ratings += &format!("{row},2024-05-01,ann,cents,{:.1}\n", cents(row, "", 0.0));
    }
    let log = study(&[
        ("reeds.csv", &pieces),
        ("ratings.csv", &ratings),
        ("study.toml", "worthwhile = 0.5\noutcome = \"overall\""),
    ]);
    if factors(&log).criteria.is_empty() {
        panic!("the reader kept no mark for cents");
    }
    let caveats = answered("factors", &log).caveats.join(" ");
    assert!(caveats.contains("The marks for cents lie off the scale of the rating"), "{caveats}");
}

#[test]
fn a_log_with_the_rating_alone_has_no_further_criteria_and_no_word_of_them() {
    let text = table("lot,hardness,rating", 40, |row| {
        format!("lot {},{:.1},{:.1}", row % 4, 14.0 + noise(row, 1), 10.0 + noise(row, 2))
    });
    let finding = answered("factors", &super::reeds(&text, ""));
    assert!(finding.tables.iter().all(|table| table.name != "factors_criteria"));
    let all = format!("{:?} {:?} {:?}", finding.more, finding.caveats, finding.method.assumptions);
    assert!(!all.contains("criteri"), "{all}");
}
