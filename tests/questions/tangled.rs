//! What a log cannot separate, it must not decide; and what goes on within lots is not what goes on between them.

use canewright::finding::Verdict;
use canewright::study::Study;

use super::{answered, close, factor, factors, noise, per_unit, reeds, table};

#[test]
fn two_factors_that_go_together_are_both_tangled_and_name_each_other() {
    let text = table("lot,gouge_center_mm,gouge_edge_mm,rating", 60, |row| {
        let gouge = 1.27 + 0.06 * noise(row, 1);
        let rating = 10.0 + 30.0 * (gouge - 1.27) + noise(row, 2);
        format!("lot {},{gouge:.4},{:.4},{rating:.2}", row % 6, gouge - 0.25)
    });
    let study = reeds(&text, "");
    let section = factors(&study);
    let (centre, edge) = (factor(&section, "gouge_center_mm"), factor(&section, "gouge_edge_mm"));
    assert_eq!((centre.verdict, edge.verdict), (Verdict::Tangled, Verdict::Tangled));
    assert_eq!(centre.tangled_with, ["gouge at the edge"]);
    assert_eq!(edge.tangled_with, ["gouge at the centre"]);
    assert!(centre.kept_share.is_some_and(|share| share < 1e-6), "{:?}", centre.kept_share);
    assert!(
        centre.sentence.contains("so the log cannot say what it does alone"),
        "{}",
        centre.sentence
    );
    assert!(answered("factors", &study).answer.contains("are tangled with other things"));
}

#[test]
fn two_factors_that_share_half_are_not_tangled() {
    let text = table("lot,gouge_center_mm,gouge_edge_mm,rating", 60, |row| {
        let gouge = 1.27 + 0.06 * noise(row, 1);
        let edge = 1.02 + 0.5 * (gouge - 1.27) + 0.03 * noise(row, 3);
        format!(
            "lot {},{gouge:.4},{edge:.4},{:.2}",
            row % 6,
            10.0 + 30.0 * (gouge - 1.27) + noise(row, 2)
        )
    });
    let section = factors(&reeds(&text, ""));
    assert_eq!(factor(&section, "gouge_center_mm").verdict, Verdict::Clear);
    assert_ne!(factor(&section, "gouge_edge_mm").verdict, Verdict::Tangled);
}

#[test]
fn a_factor_that_is_the_same_for_every_reed_of_a_lot_is_tangled_with_the_lot() {
    let text = table("lot,forming_days,rating", 60, |row| {
        let lot = row % 6;
        format!("lot {lot},{},{:.2}", 5 + 3 * lot, 8.0 + 0.5 * lot as f64 + noise(row, 1))
    });
    let section = factors(&reeds(&text, ""));
    let days = factor(&section, "forming_days");
    assert_eq!((days.verdict, days.scope.as_str()), (Verdict::Tangled, "between lots"));
    assert_eq!(days.tangled_with[0], "the lot");
    // half a point a lot, three days a lot: what goes from lot to lot is still shown beside it
    let between = days.between.as_ref().expect("six lots");
    close(between.estimate / days.step.expect("a number"), 0.5 / 3.0, 0.05, "from lot to lot");
    assert_eq!(between.p_differs, None, "there is no effect within lots to differ from");
}

#[test]
fn a_choice_whose_levels_share_no_lot_is_tangled_with_the_lot() {
    let text = table("lot,shape,rating", 60, |row| {
        let lot = row % 6;
        format!(
            "lot {lot},{},{:.2}",
            if lot < 3 { "narrow" } else { "wide" },
            8.0 + lot as f64 + noise(row, 1)
        )
    });
    let section = factors(&reeds(&text, ""));
    let shape = factor(&section, "shape");
    assert_eq!(shape.verdict, Verdict::Tangled);
    assert_eq!(shape.tangled_with[0], "the lot");
}

/// Within a lot a softer piece plays worse by 0.4 a unit; soft lots play better by 1.0 a unit. Over all reeds together the
/// slope is positive.
fn opposite() -> Study {
    let text = table("lot,hardness,rating", 80, |row| {
        let lot_mean = 10.0 + (row % 8) as f64;
        let own = 2.0 * noise(row, 1);
        let rating = 3.0 + 1.0 * (lot_mean - 10.0) - 0.4 * own + 0.5 * noise(row, 2);
        format!("lot {},{:.2},{rating:.2}", row % 8, lot_mean + own)
    });
    reeds(&text, "")
}

#[test]
fn the_headline_is_the_slope_within_lots_even_where_lots_go_the_other_way() {
    let section = factors(&opposite());
    let hardness = factor(&section, "hardness");
    assert_eq!(hardness.scope, "within lots");
    close(per_unit(hardness), -0.4, 0.1, "within");
    assert!(hardness.high.is_some_and(|high| high < 0.0));
    let between = hardness.between.as_ref().expect("eight lots");
    close(between.estimate / hardness.step.expect("a number"), 1.0, 0.15, "between");
    assert!(between.low > 0.0);
    assert!(between.p_differs.is_some_and(|p| p < 0.001), "{between:?}");
}

#[test]
fn under_five_lots_there_is_no_slope_from_lot_to_lot() {
    let text = table("lot,hardness,rating", 40, |row| {
        format!("lot {},{:.2},{:.2}", row % 4, 14.0 + 2.0 * noise(row, 1), 10.0 + noise(row, 2))
    });
    let section = factors(&reeds(&text, ""));
    let hardness = factor(&section, "hardness");
    assert!(hardness.between.is_none());
    assert!(hardness.estimate.is_some());
}

/// Skill grows: every reed is better by a third of a point a month, and the gouge was made thinner over the same year.
#[test]
fn what_only_drifted_along_with_the_making_date_is_not_taken_for_an_effect() {
    let text = table("lot,started_on,gouge_center_mm,rating", 120, |row| {
        let month = row / 10;
        let gouge = 1.32 - 0.008 * month as f64 + 0.03 * noise(row, 1);
        let rating = 8.0 + 0.33 * month as f64 + 0.8 * noise(row, 2);
        // every lot is used all year
        format!(
            "lot {},2024-{:02}-{:02},{gouge:.3},{rating:.2}",
            row % 6,
            month + 1,
            1 + 2 * (row % 10)
        )
    });
    let section = factors(&reeds(&text, ""));
    let gouge = factor(&section, "gouge_center_mm");
    assert!(gouge.adjusted_for.contains(&"the making date".to_owned()), "{:?}", gouge.adjusted_for);
    let (low, high) = (gouge.low.expect("fitted"), gouge.high.expect("fitted"));
    assert!(low < 0.0 && 0.0 < high, "{low} to {high}");
    // without the date it would be 0.33 / -0.008 = -41 points a millimetre, weakened by the scatter of the gouge
    assert!(per_unit(gouge).abs() < 6.0, "{}", per_unit(gouge));
}
