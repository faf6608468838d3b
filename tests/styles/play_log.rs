//! A play log: one row a day beside the list of pieces.

use canewright::intake;
use canewright::problem::Problem;

use super::{expected, read, rows_add_up, scores, style, with_study_file};

#[test]
fn a_row_a_day_gives_a_rating_a_day() {
    let reading = with_study_file("playlog");
    let found = scores(&reading.study);
    assert_eq!(found, expected(&[("B3", 7.0), ("B3", 8.5), ("B5", 6.5)]));
    assert_eq!(reading.study.settings().scale, [1.0, 10.0]);
}

#[test]
fn the_ratings_keep_their_days() {
    let study = with_study_file("playlog").study;
    let days: Vec<Option<String>> =
        study.rating_rows().day.iter().map(|day| day.map(intake::values::dates::iso)).collect();
    assert_eq!(days, ["2024-04-02", "2024-04-05", "2024-04-11"].map(|day| Some(day.to_owned())));
}

#[test]
fn the_humidity_of_the_hall_is_no_rating() {
    let study = with_study_file("playlog").study;
    assert_eq!(study.ratings(), 3);
    assert!(study.factor("rh").is_none() && study.factor("forming_rh_pct").is_none());
}

#[test]
fn a_rating_of_an_unknown_reed_is_set_aside_word_for_word() {
    let reading = with_study_file("playlog");
    rows_add_up(&reading.study);
    let aside: Vec<_> =
        reading.study.set_aside().iter().filter(|row| row.code == "reed-unknown").collect();
    assert_eq!(aside.len(), 1);
    assert_eq!(
        (aside[0].file.as_str(), aside[0].line),
        ("plays.csv", 5),
        "a quoted line break is a line of the file"
    );
    assert_eq!(aside[0].text, ["2024-04-06", "B9", "reh", "47%", "6", ""]);
}

#[test]
fn a_day_without_a_mark_is_set_aside_as_such() {
    let reading = with_study_file("playlog");
    let aside: Vec<_> =
        reading.study.set_aside().iter().filter(|row| row.code == "rating-row-empty").collect();
    assert_eq!(aside.len(), 1);
    assert_eq!(aside[0].text, ["2024-04-09", "B5", "reh", "44%", "-", ""]);
}

#[test]
fn without_a_study_file_the_play_log_is_pointed_out_and_not_read() {
    let folder = tempfile::tempdir().expect("a folder for the copy");
    for file in ["reeds.csv", "plays.csv"] {
        std::fs::copy(style("playlog").join(file), folder.path().join(file)).expect("copied");
    }
    let reading = read(folder.path().to_path_buf());
    assert_eq!(reading.study.ratings(), 0);
    let pointed_out = |problem: &&Problem| {
        problem.place.file == "plays.csv" && problem.remedy.contains("[files]")
    };
    assert!(
        reading.problems.iter().any(|problem| pointed_out(&problem)),
        "{:#?}",
        reading.problems
    );
}
