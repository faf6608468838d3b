//! Whether the measurements foretell a reed of a lot that was not seen, what stays when the lots change, and what is adjusted for where reeds are few.

use canewright::finding::{ChartKind, FactorsSection, Section};
use canewright::study::Study;

use super::{answered, close, factor, factors, noise, reeds, table};

/// So many lots of 12 reeds; a unit of hardness lowers the rating by `effect` points, the gouge does nothing, and lots differ by up to `apart` points.
fn hardness_does(effect: f64, lots: usize, apart: f64) -> Study {
    let text = table("lot,hardness,gouge_center_mm,rating", 12 * lots, |row| {
        let hardness = noise(row, 1);
        let of_lot = apart * noise(row % lots, 7);
        let rating = 10.0 - effect * hardness + of_lot + noise(row, 3);
        let gouge = 1.27 + 0.05 * noise(row, 2);
        format!("lot {},{:.3},{gouge:.4},{rating:.3}", row % lots, 14.0 + hardness)
    });
    reeds(&text, "")
}

fn stability(section: &FactorsSection, name: &str) -> f64 {
    factor(section, name).stability.expect("enough reeds for halves")
}

/// Hardness is even between -1 and 1 and so is the rest: with 2 points a unit four fifths of the variance is hardness, 4 to 1 (uniform variances 4/3 and 1/3).
#[test]
fn what_the_ratings_hang_on_is_foretold_to_its_share() {
    let section = factors(&hardness_does(2.0, 10, 0.0));
    let found = section.predictive.expect("ten lots of twelve");
    close(found.r2_out_of_lot, 0.8, 0.06, "share foretold");
    assert!(found.p < 0.01, "{found:?}");
    // the mean absolute value of what is left, even between -1 and 1, is a half
    close(found.mae_out_of_lot, 0.5, 0.06, "missed by the measurements");
    assert!(found.mae_nothing > 0.9, "{found:?}");
    assert_eq!(found.used, 120);
}

#[test]
fn columns_that_do_nothing_foretell_nothing() {
    let finding = answered("factors", &hardness_does(0.0, 10, 0.0));
    let Section::Factors(section) = &finding.section else { panic!("{:?}", finding.section) };
    let found = section.predictive.as_ref().expect("ten lots of twelve");
    assert!(found.r2_out_of_lot < 0.05 && found.p > 0.05, "{found:?}");
    assert!(found.sentence.contains("none") || found.sentence.contains("chance"), "{found:?}");
    assert!(finding.answer.ends_with(&found.sentence), "{}", finding.answer);
}

/// The lot is known from its other reeds and in no column: the lot's mean misses by less than the average, the measurements do not.
#[test]
fn differences_between_lots_are_foretold_by_the_lot_and_not_by_idle_columns() {
    let section = factors(&hardness_does(0.0, 10, 4.0));
    let found = section.predictive.expect("ten lots of twelve");
    let lots = found.mae_lot_means.expect("lots with several reeds");
    close(lots, 0.5, 0.1, "missed by what is known of the lot");
    assert!(found.mae_nothing > 2.0 * lots, "{found:?}");
    assert!(found.mae_out_of_lot > 1.8 * lots && found.r2_out_of_lot < 0.0, "{found:?}");
}

#[test]
fn under_three_lots_or_thirty_reeds_nothing_is_foretold_and_the_reader_is_told() {
    for (study, word) in [
        (hardness_does(2.0, 2, 0.0), "24 rated reeds in 2 lots"),
        (
            reeds(
                &table("lot,hardness,rating", 60, |row| {
                    let hardness = noise(row, 1);
                    format!("lot {},{hardness:.3},{:.3}", row % 2, 9.0 + hardness + noise(row, 2))
                }),
                "",
            ),
            "60 rated reeds in 2 lots",
        ),
    ] {
        let finding = answered("factors", &study);
        let Section::Factors(section) = &finding.section else { panic!("{:?}", finding.section) };
        assert!(section.predictive.is_none());
        assert!(finding.caveats.iter().any(|said| said.contains(word)), "{:?}", finding.caveats);
    }
}

#[test]
fn foretold_reeds_stand_in_a_picture_each_once() {
    let finding = answered("factors", &hardness_does(2.0, 10, 0.0));
    let chart = finding.charts.iter().find(|chart| chart.name == "foretold").expect("a picture");
    let ChartKind::Foretold { points, average, .. } = &chart.kind else {
        panic!("{:?}", chart.kind)
    };
    assert_eq!(points.iter().map(|point| point.reeds).sum::<usize>(), 120);
    let mean = points.iter().map(|point| point.y).sum::<f64>() / 120.0;
    close(*average, mean, 1e-9, "the average of the dots");
}

#[test]
fn what_matters_stays_in_every_half_of_the_lots_and_what_does_nothing_stays_less() {
    let section = factors(&hardness_does(2.0, 10, 0.0));
    assert_eq!(stability(&section, "hardness"), 1.0);
    // of two factors one comes in
    assert_eq!(stability(&section, "gouge_center_mm"), 0.0);
}

#[test]
fn under_six_lots_the_halves_are_of_reeds_and_that_is_said() {
    let said = |lots: usize| {
        let finding = answered("factors", &hardness_does(2.0, lots, 0.0));
        let Section::Factors(section) = &finding.section else { panic!("{:?}", finding.section) };
        assert_eq!(stability(section, "hardness"), 1.0, "{lots} lots");
        let notes = finding.method.assumptions.join(" ");
        (notes.contains("halves of the lots"), notes.contains("halves of the reeds of every lot"))
    };
    assert_eq!(said(5), (false, true));
    assert_eq!(said(6), (true, false));
}

/// Three ways of scoring; no scoring is two points better.
#[test]
fn any_level_of_a_choice_counts_as_the_factor() {
    let text = table("lot,scoring,hardness,rating", 96, |row| {
        let scoring = ["crosshatch", "lengthwise", "none"][(row / 8) % 3];
        let better = if scoring == "none" { 2.0 } else { 0.0 };
        let (hardness, rating) = (14.0 + noise(row, 2), 9.0 + better + 0.5 * noise(row, 1));
        format!("lot {},{scoring},{hardness:.2},{rating:.2}", row % 8)
    });
    let section = factors(&reeds(&text, ""));
    let of_scoring = section.list.iter().filter(|result| result.factor == "scoring");
    let found: Vec<f64> = of_scoring.filter_map(|result| result.stability).collect();
    assert_eq!(found, [1.0, 1.0], "{section:?}");
}

#[test]
fn the_same_log_gives_the_same_shares_on_any_number_of_threads() {
    let study = hardness_does(0.3, 10, 1.0);
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads can be had").install(|| factors(&study))
    };
    assert_eq!(on(1), on(3));
}

/// Every reed is alone in its lot: nothing can move within lots, so scores are shuffled over all reeds.
#[test]
fn reeds_alone_in_their_lots_are_foretold_from_the_others() {
    let text = table("lot,hardness,rating", 60, |row| {
        let hardness = noise(row, 1);
        let rating = 10.0 + 2.0 * hardness + noise(row, 2);
        format!("lot {row},{:.2},{rating:.2}", 14.0 + hardness)
    });
    let found = factors(&reeds(&text, "")).predictive.expect("sixty lots");
    assert!(found.p < 0.01 && found.r2_out_of_lot > 0.6, "{found:?}");
    assert_eq!(found.mae_lot_means, None);
}

/// A real cause early, a later factor that only goes with it, and eight idle columns: 48 reeds for 11 columns.
#[test]
fn the_cause_of_a_later_factor_is_adjusted_for_though_reeds_are_few() {
    let idle = "profile_a,profile_b,profile_c,profile_d,profile_e,profile_f,profile_g,profile_h";
    let text = table(&format!("lot,hardness,{idle},gouge_center_mm,rating"), 48, |row| {
        let hardness = noise(row, 1);
        let gouge = 0.9 * hardness + 0.4 * noise(row, 2);
        let others: Vec<String> =
            (10..18).map(|stream| format!("{:.3}", noise(row, stream))).collect();
        let rating = 10.0 + 1.5 * hardness + 0.6 * noise(row, 3);
        format!(
            "lot {},{:.3},{},{:.4},{rating:.3}",
            row % 6,
            14.0 + hardness,
            others.join(","),
            1.27 + 0.05 * gouge
        )
    });
    let own: String = idle
        .split(',')
        .map(|name| {
            format!("[columns.{name}]\nis = \"{name}\"\nstage = \"cane\"\nkind = \"number\"\n")
        })
        .collect();
    let study = reeds(&text, &own);
    let finding = answered("factors", &study);
    let notes = finding.method.assumptions.join(" ");
    assert!(notes.contains("double selection"), "{notes}");
    let Section::Factors(section) = finding.section else { panic!("not factors") };
    let gouge = factor(&section, "gouge_center_mm");
    assert!(gouge.adjusted_for.contains(&"hardness".to_owned()), "{:?}", gouge.adjusted_for);
    assert!(gouge.low.expect("fitted") < 0.0 && gouge.high.expect("fitted") > 0.0, "{gouge:?}");
}
