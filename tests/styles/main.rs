//! Four ways in which makers keep their spreadsheets, each as its own small log.
//!
//! The files are invented; the styles are those that makers use: American with
//! thousandths of an inch and letters, German with decimal commas and school
//! marks, British with a wide grid and wire gauges, and a play log with a row a day.

use std::path::{Path, PathBuf};

use canewright::intake::{self, ReadOptions, Reading};
use canewright::problem::{Problem, Severity};
use canewright::study::{Fate, Stage, Study};

fn style(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/styles").join(name)
}

fn read(path: PathBuf) -> Reading {
    intake::read(&[path], &ReadOptions::default()).expect("the log can be read")
}

/// Reads the folder, with its study file.
fn with_study_file(name: &str) -> Reading {
    read(style(name))
}

/// Reads the CSV file alone; the study file of the folder is then no part of the log.
fn without_study_file(name: &str) -> Reading {
    read(style(name).join("log.csv"))
}

fn row(study: &Study, id: &str) -> usize {
    study
        .ids()
        .iter()
        .position(|found| found == id)
        .unwrap_or_else(|| panic!("reed {id} is in the log"))
}

fn number(study: &Study, id: &str, column: &str) -> Option<f64> {
    study.numbers(column)[row(study, id)].map(|value| (value * 1e9).round() / 1e9)
}

fn word(study: &Study, id: &str, column: &str) -> Option<String> {
    study.words(column)[row(study, id)].clone()
}

fn day(study: &Study, id: &str, column: &str) -> Option<String> {
    study.days(column)[row(study, id)].map(intake::values::dates::iso)
}

fn fate(study: &Study, id: &str) -> Option<Fate> {
    study.fates()[row(study, id)]
}

/// The scores of the main criterion, as (reed, score), in the file's order.
fn scores(study: &Study) -> Vec<(String, f64)> {
    let ids = study.ids();
    let rows = study.rating_rows();
    let pairs = rows.piece.iter().zip(&rows.score);
    pairs.map(|(piece, score)| (ids[*piece].clone(), (score * 1e6).round() / 1e6)).collect()
}

fn expected(pairs: &[(&str, f64)]) -> Vec<(String, f64)> {
    pairs.iter().map(|(id, score)| ((*id).to_owned(), *score)).collect()
}

/// Reads a copy of the folder whose study file makes another criterion the rating.
fn with_outcome(name: &str, outcome: &str) -> Reading {
    let folder = tempfile::tempdir().expect("a folder for the copy");
    std::fs::copy(style(name).join("log.csv"), folder.path().join("log.csv")).expect("copied");
    let study = std::fs::read_to_string(style(name).join("study.toml"))
        .expect("the style has a study file");
    std::fs::write(folder.path().join("study.toml"), format!("outcome = \"{outcome}\"\n{study}"))
        .expect("written");
    read(folder.path().to_path_buf())
}

fn errors(reading: &Reading) -> Vec<&Problem> {
    reading.problems.iter().filter(|problem| problem.severity == Severity::Error).collect()
}

fn said(reading: &Reading, column: &str, words: &str) -> bool {
    reading.problems.iter().any(|problem| {
        let text = format!("{} {} {}", problem.message, problem.expected, problem.remedy);
        problem.place.column.as_deref() == Some(column) && text.contains(words)
    })
}

fn rows_add_up(study: &Study) {
    for file in study.files() {
        assert_eq!(file.rows_read, file.rows_used + file.rows_set_aside, "{}", file.name);
    }
}

mod american {
    use super::*;

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
        let set_aside: Vec<&str> = reading
            .study
            .set_aside()
            .iter()
            .flat_map(|cell| &cell.text)
            .map(String::as_str)
            .collect();
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
        assert_eq!(
            word(study, "24-104", "lot").as_deref(),
            Some("Lot K, '23"),
            "only case differs"
        );
        assert_eq!(word(study, "24-105", "lot").as_deref(), Some("lot k"), "the year is missing");
        assert!(said(&reading, "Cane", "lot k"), "both are said");
    }

    #[test]
    fn every_row_is_used() {
        let study = with_study_file("american").study;
        rows_add_up(&study);
        assert_eq!(study.pieces(), 7);
        assert_eq!(
            number(&study, "24-106", "hardness"),
            None,
            "a question mark is a missing value"
        );
    }
}

mod german {
    use super::*;

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
        assert_eq!(file.delimiter, ';');
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
}

mod british {
    use super::*;

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
}

mod play_log {
    use super::*;

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
        assert_eq!(
            days,
            ["2024-04-02", "2024-04-05", "2024-04-11"].map(|day| Some(day.to_owned()))
        );
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
}
