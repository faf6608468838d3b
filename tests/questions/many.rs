//! Logs of more reeds than a model takes: a part of them speaks for all, and that is said.

use canewright::finding::ChartKind;
use canewright::plots::svg;
use canewright::study::Study;

use super::{answered, close, factor, factors, noise, per_unit, reeds, table};

const REEDS: usize = 6_000;
const LOTS: usize = 150;

/// A point of hardness costs 0.3 points; lots differ.
fn many() -> Study {
    let text = table("lot,hardness,density_g_cm3,rating", REEDS, |row| {
        let lot = row % LOTS;
        let hardness = 14.0 + 4.0 * noise(row, 1);
        let rating = 12.0 + 2.0 * noise(lot, 2) - 0.3 * (hardness - 14.0) + 3.0 * noise(row, 3);
        format!("lot {lot:03},{hardness:.2},{:.3},{rating:.2}", 0.5 + 0.05 * noise(row, 4))
    });
    reeds(&text, "")
}

/// Noise that is even between -3 and 3 has a standard deviation of the square root of 3, hardness one of 4 / the square root of 3: the slope's error over 5,000 reeds is
/// sqrt(3) / (sqrt(5000) * 2.31) = 0.0106.
#[test]
fn five_thousand_reeds_speak_for_six_thousand_and_the_rest_is_counted() {
    let study = many();
    let section = factors(&study);
    let hardness = factor(&section, "hardness");
    close(per_unit(hardness), -0.3, 4.0 * 0.0106, "the slope");
    assert!(hardness.used <= 5_000 && hardness.used > 4_900, "{}", hardness.used);
    let passed_over: usize = hardness.left_out.iter().map(|out| out.n).sum();
    assert_eq!(hardness.used + passed_over, REEDS, "{:?}", hardness.left_out);
    // counts take every reed
    let lots = answered("lots", &study);
    assert_eq!(lots.used.0, REEDS);
}

#[test]
fn the_picture_of_many_lots_holds_every_reed_of_theirs() {
    let lots = answered("lots", &many());
    let picture = lots.charts.iter().find(|chart| chart.name == "lots").expect("a picture");
    let ChartKind::Lots { lots: shown, .. } = &picture.kind else { panic!("{:?}", picture.kind) };
    assert_eq!(shown.len(), LOTS);
    assert!(shown.iter().all(|lot| lot.reeds.len() == REEDS / LOTS));
    assert_eq!(svg(picture).matches(", 40 reeds</text>").count(), 45, "the rows that are drawn");
}
