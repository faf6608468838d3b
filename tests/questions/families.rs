//! What kinds of reeds there are: two clouds, one cloud, too few.

use canewright::study::Study;

use super::{answered, families, noise, reeds, refused, table};

/// Pieces in as many clouds as there are centres, each a hardness and a gouge. A sum of twelve even draws is close to normal.
fn clouds(pieces: usize, centres: &[(f64, f64)]) -> Study {
    let normal = |row: usize, stream: usize| {
        (0..12).map(|draw| noise(row, stream + draw)).sum::<f64>() / 2.0
    };
    let text = table("hardness,gouge_center_mm,rating", pieces, |row| {
        let (hardness, gouge) = centres[row % centres.len()];
        format!(
            "{:.2},{:.4},{:.1}",
            hardness + 0.5 * normal(row, 100),
            gouge + 0.01 * normal(row, 200),
            10.0 + noise(row, 3)
        )
    });
    reeds(&text, "")
}

#[test]
fn two_clouds_far_apart_are_found_and_each_piece_put_into_its_own() {
    let study = clouds(60, &[(11.0, 1.20), (18.0, 1.34)]);
    let section = families(&study);
    assert_eq!(section.k, 2, "{}", section.sentence);
    assert!(section.stability.iter().all(|stability| *stability > 0.9), "{:?}", section.stability);
    let family = |row: usize| section.assigned[row].family;
    for row in 0..60 {
        assert_eq!(section.assigned[row].piece, row.to_string());
        assert_eq!(family(row) == family(0), row % 2 == 0, "piece {row}");
    }
    assert_eq!(section.list.iter().map(|family| family.n).collect::<Vec<_>>(), [30, 30]);
}

#[test]
fn each_kind_is_told_by_what_sets_it_apart_and_nobody_is_told_to_prefer_one() {
    let study = clouds(60, &[(11.0, 1.20), (18.0, 1.34)]);
    let finding = answered("families", &study);
    assert!(
        finding.answer.contains("higher hardness") && finding.answer.contains("lower hardness")
    );
    assert!(
        finding.caveats.join(" ").contains("Nobody assigned the reeds"),
        "{:?}",
        finding.caveats
    );
}

#[test]
fn one_cloud_is_one_family_and_that_is_the_answer() {
    let study = clouds(60, &[(14.0, 1.27)]);
    let section = families(&study);
    assert_eq!((section.k, section.list.len(), section.list[0].n), (1, 1, 60));
    assert!(section.assigned.iter().all(|member| member.family == 1));
    assert!(section.sentence.starts_with("Your reeds are one family"), "{}", section.sentence);
}

#[test]
fn fewer_than_twenty_whole_pieces_are_refused_and_told_that_it_takes_twenty() {
    let refusal = refused("families", &clouds(19, &[(11.0, 1.20), (18.0, 1.34)]));
    assert_eq!(refusal.found, "Only 19 pieces have all of the measurements.");
    assert!(refusal.takes.contains("20"), "{}", refusal.takes);
    assert_eq!(families(&clouds(20, &[(11.0, 1.20), (18.0, 1.34)])).assigned.len(), 20);
}

#[test]
fn one_measurement_is_refused_and_told_that_it_takes_two() {
    let text = table("hardness,rating", 40, |row| format!("{:.1},9", 14.0 + 3.0 * noise(row, 1)));
    let refusal = refused("families", &reeds(&text, ""));
    assert!(refusal.takes.starts_with("It takes two"), "{}", refusal.takes);
}

#[test]
fn a_measurement_that_most_pieces_lack_and_a_piece_with_a_gap_stay_out() {
    let text = table("hardness,gouge_center_mm,crow_hz,rating", 40, |row| {
        let gouge =
            if row < 3 { String::new() } else { format!("{:.3}", 1.27 + 0.05 * noise(row, 2)) };
        let crow =
            if row < 20 { String::new() } else { format!("{:.0}", 480.0 + 20.0 * noise(row, 3)) };
        format!("{:.1},{gouge},{crow},9", 14.0 + 3.0 * noise(row, 1))
    });
    let finding = answered("families", &reeds(&text, ""));
    assert_eq!(finding.used, (37, "pieces"));
    assert_eq!(finding.left_out.iter().map(|out| out.n).sum::<usize>(), 3);
    assert!(!finding.method.model.contains("crow"), "{}", finding.method.model);
}
