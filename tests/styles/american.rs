//! American: thousandths of an inch, letters and marks in one column, spans in words.

use canewright::problem::Problem;
use canewright::study::Fate;

use super::{
    day, errors, expected, fate, number, read, rows_add_up, said, scores, style, with_study_file,
    without_study_file, word,
};

#[test]
fn thousandths_of_an_inch_become_millimetres() {
    let study = with_study_file("american").study;
    assert_eq!(number(&study, "24-101", "gouge_center_mm"), Some(1.2954));
    assert_eq!(number(&study, "24-102", "gouge_center_mm"), Some(1.2573));
    assert_eq!(number(&study, "24-103", "gouge_center_mm"), None);
}

#[test]
fn spans_in_words_become_days() {
    let study = with_study_file("american").study;
    let days: Vec<Option<f64>> = ["24-101", "24-103", "24-104", "24-105", "24-106"]
        .map(|id| number(&study, id, "forming_days"))
        .into();
    assert_eq!(days, [Some(14.0), Some(21.0), Some(10.0), Some(7.0), Some(10.0)]);
    assert!(said(&with_study_file("american"), "Formed", "~"), "the tilde is kept as a remark");
}

#[test]
fn dates_are_read_month_first() {
    let study = with_study_file("american").study;
    assert_eq!(day(&study, "24-101", "started_on").as_deref(), Some("2024-02-05"));
    assert_eq!(day(&study, "24-105", "started_on").as_deref(), Some("2024-03-11"));
    assert_eq!(day(&study, "24-101", "finished_on").as_deref(), Some("2024-02-26"));
}

/// D is the lower end of the scale and A the upper, so that a letter is three points.
#[test]
fn letters_are_read_once_they_are_ranked_and_stand_beside_numbers_once_the_scale_is_said() {
    let reading = with_study_file("american");
    let placed = [("24-101", 9.0), ("24-103", 5.0), ("24-105", 7.0), ("24-107", 7.0)];
    assert_eq!(scores(&reading.study), expected(&placed));
    assert_eq!(errors(&reading), Vec::<&Problem>::new());
}

#[test]
fn letters_beside_a_mark_out_of_ten_are_asked_about_while_the_scale_is_not_said() {
    let folder = tempfile::tempdir().expect("a folder for the copy");
    std::fs::copy(style("american").join("log.csv"), folder.path().join("log.csv"))
        .expect("copied");
    let study = "[words]\nranking = [\"D\", \"C\", \"B\", \"A\"]\n";
    std::fs::write(folder.path().join("study.toml"), study).expect("written");
    let reading = read(folder.path().to_path_buf());
    assert!(said(&reading, "Rating", "scale"), "{:#?}", reading.problems);
    assert_eq!(scores(&reading.study), expected(&[("24-107", 7.0)]), "no letter is guessed");
}

#[test]
fn without_a_ranking_the_letters_are_asked_for_and_kept_word_for_word() {
    let reading = without_study_file("american");
    assert!(said(&reading, "Rating", "ranking"), "{:#?}", reading.problems);
    let set_aside: Vec<&str> =
        reading.study.set_aside().iter().flat_map(|cell| &cell.text).map(String::as_str).collect();
    for letter in ["A-", "C+", "B"] {
        assert!(set_aside.contains(&letter), "{letter}");
    }
}

#[test]
fn fates_typed_elsewhere_are_read_as_fates() {
    let study = with_study_file("american").study;
    assert_eq!(fate(&study, "24-102"), Some(Fate::Spoiled));
    assert_eq!(word(&study, "24-102", "spoiled_by").as_deref(), Some("cracked"));
    assert_eq!(fate(&study, "24-103"), Some(Fate::GivenAway), "from the notes");
    assert_eq!(fate(&study, "24-104"), Some(Fate::GivenAway), "from the rating");
    assert_eq!(
        fate(&study, "24-106"),
        Some(Fate::Unfinished),
        "nothing is said of it and it has no rating"
    );
}

#[test]
fn spellings_are_joined_and_close_names_only_pointed_out() {
    let reading = with_study_file("american");
    let study = &reading.study;
    assert_eq!(word(study, "24-104", "lot").as_deref(), Some("Lot K, '23"), "only case differs");
    assert_eq!(word(study, "24-105", "lot").as_deref(), Some("lot k"), "the year is missing");
    assert!(said(&reading, "Cane", "lot k"), "both are said");
}

#[test]
fn every_row_is_used() {
    let study = with_study_file("american").study;
    rows_add_up(&study);
    assert_eq!(study.pieces(), 7);
    assert_eq!(number(&study, "24-106", "hardness"), None, "a question mark is a missing value");
}
