//! German: semicolons, decimal commas, umlauts in Windows-1252, school marks.

use canewright::problem::Problem;
use canewright::study::Fate;

use super::{
    day, errors, expected, fate, number, rows_add_up, said, scores, with_outcome, with_study_file,
    without_study_file, word,
};

#[test]
fn decimal_commas_and_umlauts_are_read() {
    let reading = with_study_file("german");
    let study = &reading.study;
    assert_eq!(number(study, "201", "gouge_center_mm"), Some(1.27));
    assert_eq!(number(study, "204", "gouge_center_mm"), Some(1.3));
    assert_eq!(number(study, "201", "gouge_edge_mm"), Some(0.98));
    assert_eq!(number(study, "202", "gouge_edge_mm"), None);
    assert_eq!(number(study, "202", "hardness"), Some(18.0));
    assert_eq!(word(study, "203", "lot").as_deref(), Some("Süd 2021"));
    let file = &study.files()[0];
    assert_eq!(file.delimiter, Some(';'));
    assert!(file.encoding.contains("1252"), "{}", file.encoding);
}

#[test]
fn dotted_dates_are_day_first() {
    let study = without_study_file("german").study;
    assert_eq!(day(&study, "201", "started_on").as_deref(), Some("2024-02-12"));
    assert_eq!(day(&study, "204", "started_on").as_deref(), Some("2024-03-01"));
    assert_eq!(day(&study, "203", "finished_on").as_deref(), Some("2024-03-08"));
}

#[test]
fn school_marks_are_read_with_one_as_the_best() {
    let reading = with_study_file("german");
    assert_eq!(scores(&reading.study), expected(&[("201", 1.7), ("203", 3.0), ("204", 1.3)]));
    assert!(reading.study.is_good(1.3) && !reading.study.is_good(5.0));
    assert_eq!(errors(&reading), Vec::<&Problem>::new());
    let response = with_outcome("german", "response");
    assert_eq!(scores(&response.study), expected(&[("201", 1.3), ("203", 3.0), ("204", 2.0)]));
    let tone = with_outcome("german", "tone");
    assert_eq!(scores(&tone.study), expected(&[("201", 2.0), ("203", 2.3), ("204", 1.0)]));
}

#[test]
fn without_a_study_file_the_plus_and_minus_are_asked_about() {
    let reading = without_study_file("german");
    assert!(said(&reading, "Gesamt", "best = \"low\""), "{:#?}", reading.problems);
    rows_add_up(&reading.study);
}

#[test]
fn a_fate_in_the_remarks_is_read_and_said() {
    let reading = with_study_file("german");
    assert_eq!(fate(&reading.study, "202"), Some(Fate::Spoiled));
    assert_eq!(word(&reading.study, "202", "spoiled_by").as_deref(), Some("cracked"));
    assert!(said(&reading, "Bemerkung", "gerissen"));
}
