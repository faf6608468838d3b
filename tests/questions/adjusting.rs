//! The order of the making decides what is adjusted for: earlier and equal stages are, later ones are not.

use canewright::finding::Verdict;
use canewright::study::Study;

use super::{close, factor, factors, noise, per_unit, reeds, table};

/// A thick gouge takes longer to scrape, and scraping alone lowers the mark: 150 minutes and so 7.5 points a millimetre.
/// Hard cane is gouged thinner and plays better for its own sake.
fn by_way_of_scraping() -> Study {
    let text = table("lot,hardness,gouge_center_mm,forming_days,scrape_min,rating", 160, |row| {
        let hardness = 14.0 + 3.0 * noise(row, 1);
        let gouge = 1.27 + 0.008 * (hardness - 14.0) + 0.05 * noise(row, 2);
        let scrape = 40.0 + 150.0 * (gouge - 1.27) + 3.0 * noise(row, 3);
        let rating = 10.0 - 0.05 * (scrape - 40.0) - 0.3 * (hardness - 14.0) + 0.4 * noise(row, 4);
        let days = 10 + row % 7;
        format!("lot {},{hardness:.2},{gouge:.4},{days},{scrape:.2},{rating:.2}", row % 8)
    });
    reeds(&text, "")
}

#[test]
fn an_earlier_measurement_is_adjusted_for_and_a_later_one_is_not() {
    let section = factors(&by_way_of_scraping());
    let adjusted_for = |name: &str| factor(&section, name).adjusted_for.clone();
    assert!(adjusted_for("hardness").is_empty(), "{:?}", adjusted_for("hardness"));
    assert_eq!(adjusted_for("gouge_center_mm"), ["hardness"]);
    assert_eq!(adjusted_for("forming_days"), ["hardness", "gouge at the centre"]);
    assert_eq!(adjusted_for("scrape_min"), ["hardness", "gouge at the centre", "days on the pin"]);
}

#[test]
fn an_effect_that_works_by_way_of_a_later_measurement_is_found_whole() {
    let section = factors(&by_way_of_scraping());
    let gouge = factor(&section, "gouge_center_mm");
    close(per_unit(gouge), -7.5, 1.5, "points a millimetre");
    assert!(gouge.high.is_some_and(|high| high < 0.0));
    close(per_unit(factor(&section, "scrape_min")), -0.05, 0.02, "points a minute");
}

/// Unadjusted, a millimetre of gouge would also carry the hardness that goes with it.
#[test]
fn what_an_earlier_measurement_did_is_not_laid_to_the_later_one() {
    let text = table("lot,hardness,gouge_center_mm,rating", 160, |row| {
        let hardness = 14.0 + 3.0 * noise(row, 1);
        let gouge = 1.27 + 0.012 * (hardness - 14.0) + 0.03 * noise(row, 2);
        format!(
            "lot {},{hardness:.2},{gouge:.4},{:.2}",
            row % 8,
            10.0 - 0.5 * (hardness - 14.0) + 0.5 * noise(row, 4)
        )
    });
    let section = factors(&reeds(&text, ""));
    let gouge = factor(&section, "gouge_center_mm");
    assert!(gouge.low.expect("fitted") < 0.0 && gouge.high.expect("fitted") > 0.0, "{gouge:?}");
    assert!(!matches!(gouge.verdict, Verdict::Clear | Verdict::Leaning));
    close(per_unit(factor(&section, "hardness")), -0.5, 0.08, "points a unit of hardness");
}

#[test]
fn factors_of_the_same_stage_are_adjusted_for_each_other() {
    let text = table("lot,gouge_center_mm,gouge_edge_mm,rating", 80, |row| {
        let (centre, edge) = (1.27 + 0.05 * noise(row, 1), 1.02 + 0.05 * noise(row, 2));
        format!("lot {},{centre:.4},{edge:.4},{:.2}", row % 8, 10.0 + noise(row, 3))
    });
    let section = factors(&reeds(&text, ""));
    assert_eq!(factor(&section, "gouge_center_mm").adjusted_for, ["gouge at the edge"]);
    assert_eq!(factor(&section, "gouge_edge_mm").adjusted_for, ["gouge at the centre"]);
}

#[test]
fn a_column_of_no_stage_is_adjusted_for_nothing_that_was_measured_and_the_reader_is_told() {
    let text = table("lot,hardness,moon,rating", 80, |row| {
        format!(
            "lot {},{:.2},{:.2},{:.2}",
            row % 8,
            14.0 + noise(row, 1),
            5.0 + noise(row, 2),
            10.0 + noise(row, 3)
        )
    });
    let study = reeds(&text, "");
    let section = factors(&study);
    assert!(factor(&section, "moon").adjusted_for.is_empty());
    assert!(factor(&section, "hardness").adjusted_for.is_empty());
    let caveats = super::answered("factors", &study).caveats.join(" ");
    assert!(caveats.contains("no stage of the making"), "{caveats}");
}

#[test]
fn the_stage_of_a_column_of_ones_own_is_the_one_that_the_study_file_gives() {
    let text = table("lot,hardness,water,gouge_center_mm,rating", 120, |row| {
        let cells = [
            14.0 + noise(row, 1),
            5.0 + noise(row, 2),
            1.27 + 0.05 * noise(row, 3),
            10.0 + noise(row, 4),
        ];
        format!("lot {},{:.2},{:.2},{:.3},{:.2}", row % 8, cells[0], cells[1], cells[2], cells[3])
    });
    let own = |stage: &str| {
        format!("[columns.water]\nis = \"water\"\nstage = \"{stage}\"\nkind = \"number\"")
    };
    let early = factors(&reeds(&text, &own("cane")));
    assert!(factor(&early, "gouge_center_mm").adjusted_for.contains(&"water".to_owned()));
    let late = factors(&reeds(&text, &own("form")));
    assert!(!factor(&late, "gouge_center_mm").adjusted_for.contains(&"water".to_owned()));
    assert!(factor(&late, "water").adjusted_for.contains(&"gouge at the centre".to_owned()));
}

/// Four makers, of whom those whose reeds play better happen to form longer; the days themselves do nothing.
fn makers_with_habits(named: bool) -> Study {
    let text = table("lot,maker,hardness,forming_days,rating", 160, |row| {
        let maker = row % 4;
        let (better, usual) = [(0.0, 12.0), (1.8, 20.0), (-1.5, 7.0), (0.6, 16.0)][maker];
        let days = usual + 2.0 * noise(row, 1);
        let rating = 10.0 + better + 0.8 * noise(row, 2);
        let name = if named { format!("maker {maker}") } else { String::new() };
        format!("lot {},{name},{:.1},{days:.1},{rating:.2}", row / 4 % 8, 14.0 + noise(row, 3))
    });
    reeds(&text, "")
}

#[test]
fn what_the_better_maker_does_most_is_not_taken_for_what_makes_reeds_better() {
    let found = factors(&makers_with_habits(true));
    let days = factor(&found, "forming_days");
    assert_eq!(days.adjusted_for, ["the maker", "hardness"]);
    assert!(days.low.is_some_and(|low| low < 0.0) && days.high.is_some_and(|high| high > 0.0));
    // without their names nothing tells them apart, and the habit is all that is seen
    let nameless = factors(&makers_with_habits(false));
    let days = factor(&nameless, "forming_days");
    assert!(days.low.is_some_and(|low| low > 0.0), "{days:?}");
}

/// Makers who buy cane of their own: each lot is one maker's, and one of them gouges thinner and scores higher.
#[test]
fn what_goes_from_lot_to_lot_is_held_against_lots_of_the_same_maker() {
    let text = |named: bool| {
        table("lot,maker,gouge_center_mm,rating", 240, |row| {
            let lot = row % 24;
            let maker = lot % 2;
            let usual = 1.30 - 0.10 * maker as f64 + 0.01 * noise(lot, 1);
            let rating = 9.0 + 3.0 * maker as f64 + noise(row, 2);
            let name = if named { format!("maker {maker}") } else { String::new() };
            format!("lot {lot},{name},{:.4},{rating:.2}", usual + 0.02 * noise(row, 3))
        })
    };
    let between = |named: bool| {
        let found = factors(&reeds(&text(named), ""));
        factor(&found, "gouge_center_mm").between.clone().expect("twelve lots a maker")
    };
    let (held, seen) = (between(true), between(false));
    assert!(held.low < 0.0 && held.high > 0.0, "{held:?}");
    assert!(seen.high < 0.0, "without names the maker passes for the gouge: {seen:?}");
}
