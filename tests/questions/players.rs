//! Who rated, and on what scale: leniency, school marks, an ideal in the middle.

use canewright::finding::Verdict;
use canewright::study::Study;

use super::{answered, close, factor, factors, lots, noise, per_unit, reeds, study, table};

/// Sixty reeds of equal quality. Ann rates all; Ben is kinder by two points and was handed the thick ones, and a few others.
fn with_a_kind_player() -> Study {
    let thick = |row: usize| row.is_multiple_of(2);
    let pieces = table("lot,gouge_center_mm", 60, |row| {
        let gouge = if thick(row) { 1.31 } else { 1.23 } + 0.02 * noise(row, 1);
        format!("lot {},{gouge:.4}", row / 10)
    });
    let mut ratings = "reed,date,player,overall\n".to_owned();
    for row in 0..60 {
        let quality = 10.0 + noise(row, 2);
        let said = |player: usize| quality + 0.4 * noise(row, 3 + player);
        if !thick(row) || row % 3 == 0 {
            ratings += &format!("{row},2024-05-01,ann,{:.1}\n", said(0));
        }
        if thick(row) || row % 5 == 0 {
            ratings += &format!("{row},2024-05-02,ben,{:.1}\n", said(1) + 2.0);
        }
    }
    let settings = "scale = [0, 20]\nworthwhile = 0.5\noutcome = \"overall\"";
    study(&[("reeds.csv", &pieces), ("ratings.csv", &ratings), ("study.toml", settings)])
}

#[test]
fn a_kind_player_who_was_handed_the_thick_reeds_does_not_make_thick_reeds_good() {
    let log = with_a_kind_player();
    let section = factors(&log);
    let gouge = factor(&section, "gouge_center_mm");
    // untouched, the two points would lie across 0.08 mm: some 20 points a millimetre
    assert!(per_unit(gouge).abs() < 5.0, "{}", per_unit(gouge));
    assert!(!matches!(gouge.verdict, Verdict::Clear | Verdict::Leaning), "{gouge:?}");
    let said = answered("factors", &log).method.assumptions.join(" ");
    assert!(
        said.contains("Leniency taken out") && said.contains("ann") && said.contains("ben"),
        "{said}"
    );
}

/// Ann hears lots A and B, Ben lots C and D, and both hear two reeds of each: Ben says one point more, always.
#[test]
fn leniency_is_taken_out_of_the_lots_by_the_reeds_that_both_players_heard() {
    let pieces = table("lot", 16, |row| ["A", "B", "C", "D"][row / 4].to_owned());
    let mut ratings = "reed,date,player,overall\n".to_owned();
    for row in 0..16 {
        let quality = 5.0 + (row % 4) as f64;
        let both = row % 4 < 2;
        if both || row < 8 {
            ratings += &format!("{row},2024-05-01,ann,{quality}\n");
        }
        if both || row >= 8 {
            ratings += &format!("{row},2024-05-02,ben,{}\n", quality + 1.0);
        }
    }
    let log = study(&[
        ("reeds.csv", &pieces),
        ("ratings.csv", &ratings),
        ("study.toml", "scale = [0, 20]\noutcome = \"overall\""),
    ]);
    let means: Vec<f64> = lots(&log).list.iter().filter_map(|lot| lot.raw_mean).collect();
    assert_eq!(means.len(), 4);
    for mean in &means {
        close(*mean, means[0], 1e-9, "four lots of equal quality");
    }
}

#[test]
fn players_who_never_heard_the_same_reed_or_lot_cannot_be_told_from_their_reeds_and_it_is_said() {
    let pieces = table("lot,hardness", 20, |row| {
        format!("{},{}", if row < 10 { "A" } else { "B" }, 10 + row % 5)
    });
    let mut ratings = "reed,date,player,overall\n".to_owned();
    for row in 0..20 {
        let player = if row < 10 { "ann" } else { "ben" };
        ratings += &format!("{row},2024-05-01,{player},{:.1}\n", 10.0 + noise(row, 1));
    }
    let log = study(&[
        ("reeds.csv", &pieces),
        ("ratings.csv", &ratings),
        ("study.toml", "scale = [0, 20]\noutcome = \"overall\""),
    ]);
    for question in ["lots", "factors"] {
        let caveats = answered(question, &log).caveats.join(" ");
        assert!(
            caveats.contains("a lenient player cannot be told from better reeds"),
            "{question}: {caveats}"
        );
    }
}

/// School marks: 1 is best. The numbers stay as they were given; what is better is the lower.
#[test]
fn where_1_is_best_the_best_lot_has_the_lowest_mark_and_effects_stay_in_marks() {
    let text = table("lot,hardness,rating", 60, |row| {
        let (lot, hardness) = (row % 5, 14.0 + 2.0 * noise(row, 1));
        let mark = 1.5 + 0.7 * lot as f64 + 0.3 * (hardness - 14.0) + 0.4 * noise(row, 2);
        format!("{},{hardness:.2},{:.1}", ["A", "B", "C", "D", "E"][lot], mark.clamp(1.0, 6.0))
    });
    let log = reeds(
        &text,
        "scale = [1, 6]\ngood_at = 2\nworthwhile = 0.3\noutcome = \"rating\"\nbest = \"low\"",
    );
    let section = lots(&log);
    let order: Vec<&str> = section.list.iter().map(|lot| lot.lot.as_str()).collect();
    assert_eq!(order, ["A", "B", "C", "D", "E"]);
    let answer = answered("lots", &log).answer;
    let better = answer.split("played better").next().unwrap_or_default();
    assert!(better.contains('A') && !better.contains('E'), "{answer}");
    close(per_unit(factor(&factors(&log), "hardness")), 0.3, 0.08, "marks a unit");
}

/// Resistance is right at 5: harder cane misses it by more, half the time above and half below.
#[test]
fn of_a_criterion_with_an_ideal_in_the_middle_the_distance_is_what_counts() {
    let text = table("lot,hardness,resistance", 80, |row| {
        let hardness = 14.0 + 3.0 * noise(row, 1);
        let distance = 1.5 + 0.3 * (hardness - 14.0) + 0.3 * noise(row, 2);
        let side = if (row / 8) % 2 == 0 { 1.0 } else { -1.0 };
        format!("lot {},{hardness:.2},{:.2}", row % 8, 5.0 + side * distance.max(0.0))
    });
    let settings =
        "scale = [0, 10]\nworthwhile = 0.3\noutcome = \"resistance\"\n[criteria.resistance]\n";
    let aimed = factors(&reeds(&text, &format!("{settings}target = 5")));
    let hardness = factor(&aimed, "hardness");
    close(per_unit(hardness), 0.3, 0.05, "distance a unit");
    assert_eq!(hardness.verdict, Verdict::Clear);
    // without the target the two sides cancel
    let plain = factors(&reeds(&text, settings.trim_end_matches("[criteria.resistance]\n")));
    assert!(per_unit(factor(&plain, "hardness")).abs() < 0.2);
}

#[test]
fn of_a_criterion_with_an_ideal_in_the_middle_the_lot_that_comes_nearest_is_first() {
    let text = table("lot,resistance", 50, |row| {
        let (lot, side) = (row % 5, if row.is_multiple_of(2) { 1.0 } else { -1.0 });
        format!(
            "{},{:.2}",
            ["A", "B", "C", "D", "E"][lot],
            5.0 + side * (0.2 + 0.8 * lot as f64 + 0.1 * noise(row, 1))
        )
    });
    let settings = "scale = [0, 10]\noutcome = \"resistance\"\n[criteria.resistance]\ntarget = 5";
    let section = lots(&reeds(&text, settings));
    let order: Vec<&str> = section.list.iter().map(|lot| lot.lot.as_str()).collect();
    assert_eq!(order, ["A", "B", "C", "D", "E"]);
}
