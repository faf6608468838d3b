//! The readings of a profile as a few features of each piece.

use std::fs;

use canewright::finding::FactorsSection;
use canewright::intake::{ReadOptions, read};
use canewright::study::Study;

use super::{answered, close, factor, factors, noise, per_unit, reeds, study, table};

const SETTINGS: &str = "scale = [0, 20]\nworthwhile = 0.5\noutcome = \"rating\"";
const DISTANCES: [f64; 4] = [2.0, 6.0, 10.0, 20.0];

/// What the spine of a reed is like, and how far right is thicker than left.
struct Blade {
    level: f64,
    taper: f64,
    lean: f64,
}

fn blade(row: usize) -> Blade {
    Blade {
        level: 0.55 + 0.04 * noise(row, 1),
        taper: 0.30 + 0.05 * noise(row, 2),
        lean: 0.03 * noise(row, 3),
    }
}

/// Ninety reeds in six lots, the first `read` of them with a profile of these distances. A steeper taper is rated 20 points a
/// millimetre lower.
fn log(read: usize, distances: &[f64], sides: [&str; 2], settings: &str) -> Study {
    let pieces = table("lot,forming_days,rating", 90, |row| {
        let rating = 10.0 - 20.0 * (blade(row).taper - 0.30) + 0.4 * noise(row, 4);
        format!("lot {},{},{rating:.2}", row % 6, 8 + row % 5)
    });
    let mut profile = "reed,from_tip_mm,line,thickness_mm,repeat\n".to_owned();
    let middle = distances.iter().sum::<f64>() / distances.len() as f64;
    for row in 0..read {
        let Blade { level, taper, lean } = blade(row);
        for at in distances {
            let spine = level + taper * (at - middle) / 10.0;
            for (line, thick) in
                [("spine", spine), (sides[0], spine - 0.2 - lean), (sides[1], spine - 0.2 + lean)]
            {
                // the two repeats err by as much on either side, so that their mean is right
                profile += &format!("{row},{at},{line},{:.5},1\n", thick - 0.01);
                profile += &format!("{row},{at},{line},{:.5},2\n", thick + 0.01);
            }
        }
    }
    let settings = format!("{SETTINGS}\n{settings}");
    study(&[("reeds.csv", &pieces), ("profile.csv", &profile), ("study.toml", &settings)])
}

const RAILS: [&str; 2] = ["left_rail", "right_rail"];

fn features(section: &FactorsSection) -> Vec<&str> {
    let names = section.list.iter().map(|result| result.factor.as_str());
    names.filter(|name| name.starts_with("profile_")).collect()
}

#[test]
fn a_profile_enters_as_level_taper_spine_above_the_rails_and_left_against_right() {
    let section = factors(&log(90, &DISTANCES, RAILS, ""));
    assert_eq!(
        features(&section),
        ["profile_level", "profile_taper", "profile_spine_to_rail", "profile_asymmetry"]
    );
    let taper = factor(&section, "profile_taper");
    assert_eq!(
        (taper.stage.word(), taper.unit.as_deref(), taper.used),
        ("profile", Some("mm"), 90)
    );
    close(per_unit(taper), -20.0, 1.5, "points a millimetre of rise over ten");
    assert!(
        taper.sentence.starts_with("Rise of the spine over 10 mm: clear."),
        "{}",
        taper.sentence
    );
}

/// The channels of the log lie 0.2 mm below the spine in every reed: what is the same in every reed is not modelled.
#[test]
fn without_readings_of_the_rails_the_spine_is_held_against_the_channels() {
    let section = factors(&log(90, &DISTANCES, ["left_channel", "right_channel"], ""));
    assert!(features(&section).contains(&"profile_spine_to_channel"));
    assert!(!features(&section).contains(&"profile_spine_to_rail"));
}

#[test]
fn later_measurements_are_adjusted_for_the_features_and_the_features_for_each_other() {
    let section = factors(&log(90, &DISTANCES, RAILS, ""));
    let adjusted = |name: &str| factor(&section, name).adjusted_for.clone();
    let taper = "rise of the spine over 10 mm".to_owned();
    assert!(adjusted("forming_days").contains(&taper), "{:?}", adjusted("forming_days"));
    assert!(adjusted("profile_level").contains(&taper), "{:?}", adjusted("profile_level"));
    assert!(!adjusted("profile_taper").contains(&taper));
}

#[test]
fn under_three_fifths_of_the_rated_reeds_nothing_is_made_of_the_profile_and_it_is_said() {
    let few = log(53, &DISTANCES, RAILS, "");
    assert!(features(&factors(&few)).is_empty());
    let caveats = answered("factors", &few).caveats.join(" ");
    assert!(caveats.contains("The profile readings were not looked at"), "{caveats}");
    assert_eq!(
        features(&factors(&log(54, &DISTANCES, RAILS, ""))).len(),
        4,
        "54 of 90 are three fifths"
    );
}

#[test]
fn two_distances_from_the_tip_are_not_enough() {
    assert!(features(&factors(&log(90, &DISTANCES[..2], RAILS, ""))).is_empty());
    assert_eq!(features(&factors(&log(90, &DISTANCES[..3], RAILS, ""))).len(), 4);
}

#[test]
fn a_single_reading_is_looked_at_alone_where_the_study_file_asks_for_it() {
    let plain = log(90, &DISTANCES, RAILS, "");
    assert!(!features(&factors(&plain)).contains(&"profile_20_spine_mm"));
    let caveats = answered("factors", &plain).caveats.join(" ");
    assert!(caveats.contains("[decide.profile_2_spine_mm]"), "{caveats}");
    let asked = "[decide.profile_20_spine_mm]\ncandidates = [0.8, 0.9]";
    let section = factors(&log(90, &DISTANCES, RAILS, asked));
    let tip = factor(&section, "profile_20_spine_mm");
    assert_eq!(tip.q, None, "asked beforehand");
    assert!(tip.estimate.is_some_and(|estimate| estimate < 0.0), "a steep spine is thick at 20 mm");
    assert!(tip.adjusted_for.is_empty(), "{:?}", tip.adjusted_for);
    let taper = factor(&section, "profile_taper");
    close(per_unit(taper), -20.0, 1.5, "the features do not mind");
    assert!(!taper.adjusted_for.iter().any(|name| name.contains("20 mm from the tip")));
}

#[test]
fn a_reading_asked_for_is_known_however_its_line_is_spelled_and_one_that_nobody_took_is_pointed_out()
 {
    let unused = |name: &str| {
        let folder = tempfile::tempdir().expect("a folder for the test");
        let pieces = table("rating", 12, |row| format!("{}", 8 + row % 5));
        let mut profile = "reed,from_tip_mm,line,thickness_mm\n".to_owned();
        for row in 0..12 {
            profile += &format!("{row},2.5,spine,0.{}\n", 40 + row);
        }
        let settings = format!("{SETTINGS}\n[decide.\"{name}\"]\ncandidates = [0.4]");
        for (file, text) in [("reeds", pieces), ("profile", profile)] {
            fs::write(folder.path().join(format!("{file}.csv")), text).expect("written");
        }
        fs::write(folder.path().join("study.toml"), settings).expect("written");
        let reading =
            read(&[folder.path().to_path_buf()], &ReadOptions::default()).expect("readable");
        let asked = reading.study.settings().candidates.contains_key("profile_2_5_spine_mm");
        (asked, reading.problems.iter().any(|problem| problem.code == "study-name-unused"))
    };
    for spelled in ["profile_2_5_spine_mm", "profile_2.5_spine", "profile_2.5_centre_mm"] {
        assert_eq!(unused(spelled), (true, false), "{spelled}");
    }
    assert_eq!(unused("profile_4_spine_mm"), (false, true));
}

/// The same features from columns of the reeds' own table.
#[test]
fn wide_columns_make_the_same_features_and_stay_out_one_by_one() {
    let columns: Vec<String> =
        DISTANCES.iter().map(|at| format!("profile_{at}_spine_mm")).collect();
    let text = table(&format!("lot,{},rating", columns.join(",")), 90, |row| {
        let Blade { level, taper, .. } = blade(row);
        let cells: Vec<String> = DISTANCES
            .iter()
            .map(|at| format!("{:.5}", level + taper * (at - 9.5) / 10.0))
            .collect();
        let rating = 10.0 - 20.0 * (taper - 0.30) + 0.4 * noise(row, 4);
        format!("lot {},{},{rating:.2}", row % 6, cells.join(","))
    });
    let section = factors(&reeds(&text, ""));
    assert_eq!(features(&section), ["profile_level", "profile_taper"]);
    close(per_unit(factor(&section, "profile_taper")), -20.0, 1.5, "points a millimetre");
}

#[test]
fn a_log_without_a_profile_has_no_word_of_one() {
    let text = table("lot,hardness,rating", 40, |row| {
        format!("lot {},{:.1},{:.1}", row % 4, 14.0 + noise(row, 1), 10.0 + noise(row, 2))
    });
    let caveats = answered("factors", &reeds(&text, "")).caveats.join(" ");
    assert!(!caveats.contains("profile"), "{caveats}");
}
