//! The same question asked in other ways: hand-worked tables, what must be told, what is left alone.

use canewright::finding::{Estimated, FactorResult};
use canewright::study::Study;

use super::{answered, close, factor, factors, noise, reeds, table};

const KNIFE: &str = "[columns.knife]\nis = \"knife\"\nstage = \"profile\"\nkind = \"choice\"\n";

/// Forty pieces with each knife, without lots: 16 spoiled with the new one and 6 with the old one; of the reeds, 12 and 20 are good.
fn two_knives() -> Study {
    let text = table("knife,fate,spoiled_at,rating", 80, |row| {
        let (knife, place) = if row < 40 { ("new", row) } else { ("old", row - 40) };
        let (lost, good) = if knife == "new" { (16, 12) } else { (6, 20) };
        if place < lost {
            format!("{knife},spoiled,form,")
        } else if place < lost + good {
            format!("{knife},in_use,,{:.1}", 14.0 + noise(row, 1))
        } else {
            format!("{knife},in_use,,{:.1}", 9.0 + noise(row, 1))
        }
    });
    reeds(&text, KNIFE)
}

fn knife(study: &Study) -> FactorResult {
    factor(&factors(study), "knife").clone()
}

fn told(answer: Option<Estimated>) -> Estimated {
    answer.expect("it was asked")
}

/// The sign of a change from the old knife to the new one, whichever of the two the log takes as the reference.
fn towards_new(result: &FactorResult) -> f64 {
    if result.level.as_deref() == Some("new") { 1.0 } else { -1.0 }
}

/// In a table of two by two Firth's penalty adds half a piece to each cell (Heinze & Schemper 2002, Statistics in Medicine 21, 2409-2419).
#[test]
fn the_odds_of_losing_a_piece_are_those_of_the_table_with_half_a_piece_in_each_cell() {
    let result = knife(&two_knives());
    let sign = towards_new(&result);
    let log_odds = (16.5f64 / 24.5).ln() - (6.5f64 / 34.5).ln();
    let error = (1.0 / 16.5 + 1.0 / 24.5 + 1.0 / 6.5 + 1.0 / 34.5_f64).sqrt();
    let spoiled = told(result.asked_again.spoiled);
    close(spoiled.estimate.ln(), sign * log_odds, 1e-6, "log odds");
    // the information is that of 41 pieces a knife of which 16.5 and 6.5 are lost, less the half pieces that are none: 40 of 41
    let wide = (spoiled.high / spoiled.low).ln() / 2.0 / 1.959963984540054;
    close(wide, error * (41.0f64 / 40.0).sqrt(), 1e-5, "its error");
    let spoilage = told(result.spoilage);
    close(spoilage.estimate, sign * 10.0 * (16.5 - 6.5) / 41.0, 1e-6, "pieces in ten");
}

#[test]
fn good_reeds_are_counted_over_all_pieces_and_spoiled_ones_are_none() {
    let result = knife(&two_knives());
    let sign = towards_new(&result);
    let good = told(result.good_per_ten);
    close(good.estimate, sign * 10.0 * (12.5 - 20.5) / 41.0, 1e-6, "good reeds in ten");
    let log_odds = (12.5f64 / 28.5).ln() - (20.5f64 / 20.5).ln();
    close(told(result.asked_again.good).estimate, sign * log_odds, 1e-6, "log odds");
}

/// Twelve lots; long forming cracks the pieces that would have been weak, and does nothing else.
fn spoils_the_weak() -> Study {
    let text = table("lot,forming_days,fate,spoiled_at,rating", 360, |row| {
        let days = 4.0 + 3.0 * noise(row, 1);
        let luck = noise(row, 2);
        let lot = row % 12;
        if luck < -0.2 && noise(row, 3) < (days - 4.0) / 3.0 {
            format!("lot {lot},{days:.1},spoiled,form,")
        } else {
            format!("lot {lot},{days:.1},in_use,,{:.1}", 11.0 + 3.0 * luck)
        }
    });
    reeds(&text, "")
}

#[test]
fn what_spoils_the_weak_pieces_is_not_praised_without_a_word() {
    let study = spoils_the_weak();
    let section = factors(&study);
    let days = factor(&section, "forming_days");
    assert!(days.low.is_some_and(|low| low > 0.0), "survivors rate higher: {days:?}");
    assert!(told(days.spoilage).low > 0.0, "{:?}", days.spoilage);
    assert!(told(days.asked_again.spoiled).low > 1.0);
    let word = days.asked_again.differs.first().expect("told");
    assert!(word.contains("spoiled before the first note"), "{word}");
    assert!(word.contains("over all pieces started"), "{word}");
    assert!(days.sentence.contains(word), "{}", days.sentence);
    let caveats = answered("factors", &study).caveats;
    assert!(caveats.iter().any(|caveat| caveat.contains(word)), "{caveats:?}");
}

/// A piece lost at the gouge says nothing about the days on the pin, whatever stands in its cell.
#[test]
fn a_piece_lost_before_the_factors_stage_does_not_count_against_it() {
    let text = table("lot,forming_days,fate,spoiled_at,rating", 200, |row| {
        let days = 4.0 + 3.0 * noise(row, 1);
        if days > 5.0 && row % 2 == 0 {
            format!("lot {},{days:.1},spoiled,gouge,", row % 8)
        } else {
            format!("lot {},{days:.1},in_use,,{:.1}", row % 8, 11.0 + 3.0 * noise(row, 2))
        }
    });
    let section = factors(&reeds(&text, ""));
    let days = factor(&section, "forming_days");
    assert_eq!(days.spoilage, None, "no piece was lost on the pin or later");
    assert_eq!(days.asked_again.spoiled, None);
}

/// Seven marks, as they stand or stretched; the factor went with them either way.
fn marks(of: [f64; 7]) -> FactorResult {
    let text = table("lot,hardness,rating", 180, |row| {
        let hardness = 14.0 + 3.0 * noise(row, 1);
        let place = 3.0 + 0.5 * (hardness - 14.0) + 2.0 * noise(row, 2);
        let mark = of[place.round().clamp(0.0, 6.0) as usize];
        format!("lot {},{hardness:.2},{mark}", row % 9)
    });
    factor(&factors(&reeds(&text, "")), "hardness").clone()
}

#[test]
fn ordered_categories_do_not_ask_how_far_apart_the_marks_are() {
    let even = marks([8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0]);
    let stretched = marks([0.0, 1.0, 2.0, 11.0, 17.0, 19.0, 20.0]);
    let (a, b) = (told(even.asked_again.ordered), told(stretched.asked_again.ordered));
    close(a.estimate, b.estimate, 1e-6, "log odds");
    assert!(a.low > 0.0, "{a:?}");
    assert!((even.estimate.expect("fitted") - stretched.estimate.expect("fitted")).abs() > 0.1);
}

/// Gouge follows hardness, and hardness alone matters; a third of the hardness cells are empty, the more often the thicker the gouge.
fn with_gaps(share: f64) -> FactorResult {
    let text = table("lot,hardness,gouge_center_mm,rating", 300, |row| {
        let hardness = 14.0 + 3.0 * noise(row, 1);
        let gouge = 1.27 + 0.02 * (hardness - 14.0) + 0.04 * noise(row, 2);
        let rating = 10.0 - 0.6 * (hardness - 14.0) + 0.6 * noise(row, 3);
        let is_empty = noise(row, 4) < 2.0 * share - 1.0;
        let cell = if is_empty { String::new() } else { format!("{hardness:.2}") };
        format!("lot {},{cell},{gouge:.4},{rating:.2}", row % 10)
    });
    factor(&factors(&reeds(&text, "")), "gouge_center_mm").clone()
}

#[test]
fn empty_cells_are_filled_in_so_that_the_column_stays_adjusted_for() {
    let gouge = with_gaps(0.35);
    assert!(gouge.adjusted_for.is_empty(), "the headline gives hardness up: {gouge:?}");
    assert!(gouge.high.is_some_and(|high| high < 0.0), "and lays its doing to the gouge");
    let imputed = told(gouge.asked_again.imputed);
    assert!(imputed.low < 0.0 && imputed.high > 0.0, "the truth is nothing: {imputed:?}");
    close(gouge.asked_again.imputed_share.expect("filled in"), 0.35, 0.06, "the share");
    assert!(!gouge.asked_again.differs.is_empty(), "the reader is told");
}

#[test]
fn without_gaps_nothing_is_filled_in() {
    let gouge = with_gaps(0.0);
    assert_eq!((gouge.asked_again.imputed, gouge.asked_again.imputed_share), (None, None));
}

#[test]
fn where_every_piece_is_good_no_odds_are_made_up() {
    let text = table("lot,hardness,fate,rating", 40, |row| {
        format!("lot {},{:.2},in_use,{:.1}", row % 5, 14.0 + noise(row, 1), 15.0 + noise(row, 2))
    });
    let section = factors(&reeds(&text, ""));
    let hardness = factor(&section, "hardness");
    assert_eq!((hardness.good_per_ten, hardness.spoilage), (None, None));
    assert_eq!((hardness.asked_again.good, hardness.asked_again.spoiled), (None, None));
}
