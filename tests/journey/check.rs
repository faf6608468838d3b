//! `check`: what was understood, what was set aside, and the exit status.

use canewright::intake;
use predicates::prelude::*;

use super::{Desk, SOUND, bad_desk, dataset, json};

#[test]
fn a_sound_log_ends_with_status_0_and_says_so() {
    let desk = Desk::with_log("log", &SOUND);
    let told = predicate::str::contains("Every cell was read and every row was used")
        .and(predicate::str::contains("It holds 9 pieces"))
        .and(predicate::str::contains("gouge_center_mm"));
    desk.call(&["check", "log"]).assert().code(0).stdout(told).stderr("");
}

#[test]
fn warnings_alone_end_with_status_0() {
    let told = predicate::str::contains("warning");
    Desk::new().call(&["check", &dataset("demo")]).assert().code(0).stdout(told);
}

#[test]
fn an_unreadable_cell_ends_with_status_1_and_the_page_points_at_it() {
    let told = predicate::str::contains("number-unreadable")
        .and(predicate::str::contains("reeds.csv, line 5, column “hardness”"))
        .and(predicate::str::contains("hard,1.27"))
        .and(predicate::str::contains("Expected:"))
        .and(predicate::str::contains("What to do:"));
    bad_desk().call(&["check", "log"]).assert().code(1).stdout(told);
}

#[test]
fn a_log_that_is_not_there_ends_with_status_2_and_says_what_to_do() {
    let told = predicate::str::contains("nowhere").and(predicate::str::contains("Check that"));
    Desk::new().call(&["check", "nowhere"]).assert().code(2).stdout("").stderr(told);
}

#[test]
fn a_log_without_a_reed_column_or_with_a_study_file_that_cannot_be_is_refused() {
    let no_reed = [("reeds.csv", "lot,rating\nA,3\n")];
    let bad_study = [SOUND[0], ("study.toml", "scal = [1, 10]\n")];
    for files in [no_reed.as_slice(), bad_study.as_slice()] {
        let desk = Desk::with_log("log", files);
        let told = predicate::str::starts_with("canewright: ");
        desk.call(&["check", "log"]).assert().code(2).stdout("").stderr(told);
    }
}

#[test]
fn an_unknown_key_of_the_study_file_is_told_with_the_nearest_known_one() {
    let desk = Desk::with_log("log", &[SOUND[0], ("study.toml", "scal = [1, 10]\n")]);
    let told = predicate::str::contains("scal").and(predicate::str::contains("scale"));
    desk.call(&["check", "log"]).assert().code(2).stderr(told);
}

#[test]
fn every_rule_can_be_explained_under_its_three_headings() {
    let desk = Desk::new();
    for rule in intake::rules() {
        let page = desk.printed(&["check", "--explain", rule.code]);
        for part in [rule.what_it_does, rule.why_it_matters, rule.what_to_do] {
            assert!(page.contains(part), "{}: {page}", rule.code);
        }
        assert!(page.starts_with(rule.code) && page.contains(rule.severity.word()), "{page}");
    }
}

#[test]
fn an_unknown_rule_is_told_with_the_nearest_one_and_the_whole_list() {
    let told = predicate::str::contains("Did you mean “number-unreadable”?")
        .and(predicate::str::contains("date-serial"));
    Desk::new()
        .call(&["check", "--explain", "number-unreadible"])
        .assert()
        .code(2)
        .stdout("")
        .stderr(told);
}

#[test]
fn check_as_json_lists_each_problem_with_its_place() {
    let results = json(&bad_desk().printed(&["check", "log", "--json"]));
    let problems = results["problems"].as_array().expect("a list");
    let cell = problems.iter().find(|problem| problem["code"] == "number-unreadable");
    let cell = cell.expect("the bad cell is listed");
    assert_eq!(cell["severity"], "error");
    assert_eq!(cell["file"], "reeds.csv");
    assert_eq!(cell["line"], 5);
    assert_eq!(cell["column"], "hardness");
    assert_eq!(cell["text"], "hard");
}

#[test]
fn check_writes_no_file_unless_a_folder_is_named() {
    let desk = Desk::with_log("log", &SOUND);
    let before = desk.files();
    desk.call(&["check", "log"]).assert().success();
    assert_eq!(desk.files(), before);
    desk.call(&["check", "log", "--out", "report"]).assert().success();
    assert!(desk.files().contains_key("report/set_aside.csv"));
}
