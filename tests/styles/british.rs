//! British: day first, wire gauges, a wide grid, a mark out of five, why a reed was retired.

use canewright::problem::Problem;
use canewright::study::{Fate, Stage};

use super::{
    day, errors, expected, fate, number, rows_add_up, said, scores, with_study_file,
    without_study_file, word,
};

#[test]
fn wire_in_the_british_gauge_becomes_millimetres() {
    let study = with_study_file("british").study;
    // British standard wire gauge: number 22 is 0.028 inch, number 21 is 0.032 inch
    assert_eq!(number(&study, "B3", "wire_mm"), Some(0.7112));
    assert_eq!(number(&study, "B5", "wire_mm"), Some(0.8128));
}

#[test]
fn the_grid_is_kept_as_factors_of_the_stage_that_the_study_file_gives() {
    let study = with_study_file("british").study;
    assert_eq!(number(&study, "B3", "tip_left_mm"), Some(0.12));
    assert_eq!(number(&study, "B4", "tip_left_mm"), None);
    let left = study.factor("tip_left_mm").expect("it may predict");
    assert_eq!(
        (left.stage, left.header.as_str(), left.unit.as_deref()),
        (Stage::Finish, "tipL", Some("mm"))
    );
}

#[test]
fn a_column_of_the_makers_own_that_nobody_placed_is_kept_and_said() {
    let reading = with_study_file("british");
    let heart = reading.study.factor("heartc").expect("it may predict");
    assert_eq!(heart.stage, Stage::Unplaced);
    assert_eq!(number(&reading.study, "B3", "heartc"), Some(0.53));
    assert!(said(&reading, "heartC", "stage"));
}

#[test]
fn dates_are_read_day_first_and_days_stay_days() {
    let study = with_study_file("british").study;
    assert_eq!(day(&study, "B3", "started_on").as_deref(), Some("2024-02-05"));
    assert_eq!(number(&study, "B3", "forming_days"), Some(18.0));
    assert_eq!(day(&study, "B3", "last_played").as_deref(), Some("2024-04-09"));
}

#[test]
fn without_a_study_file_the_order_of_day_and_month_is_asked_for() {
    let reading = without_study_file("british");
    assert!(said(&reading, "formed", "day_order"), "{:#?}", reading.problems);
    assert_eq!(day(&reading.study, "B3", "started_on"), None, "nothing is guessed");
    rows_add_up(&reading.study);
}

#[test]
fn a_mark_out_of_five_in_the_header_sets_the_scale() {
    let reading = with_study_file("british");
    assert_eq!(scores(&reading.study), expected(&[("B3", 4.0), ("B5", 3.0), ("B6", 5.0)]));
    assert_eq!(reading.study.settings().scale[1], 5.0);
    assert_eq!(errors(&reading), Vec::<&Problem>::new());
}

#[test]
fn why_a_reed_was_retired_is_its_fate() {
    let study = with_study_file("british").study;
    assert_eq!(fate(&study, "B4"), Some(Fate::Spoiled));
    assert_eq!(word(&study, "B4", "spoiled_by").as_deref(), Some("leaked"));
    assert_eq!(fate(&study, "B3"), Some(Fate::Spoiled));
    assert_eq!(word(&study, "B3", "spoiled_by").as_deref(), Some("cracked"));
    assert_eq!(number(&study, "B3", "hours_played"), Some(11.5));
    assert_eq!(fate(&study, "B6"), Some(Fate::InUse), "rated, and nothing else is said");
}
