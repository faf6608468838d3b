//! `review`: one folder, whole or not at all, and nothing beside it.

use std::fs;

use predicates::prelude::*;

use super::{Desk, SOUND, dataset, json, names};

/// The demo's review asks four questions; `handout.html` is another verb's.
#[test]
fn the_review_of_the_demo_holds_these_files_and_no_others() {
    let desk = Desk::new();
    let told = predicate::str::contains("The review is in");
    desk.call(&["review", &dataset("demo"), "--out", "report"]).assert().success().stdout(told);
    let (plots, others): (Vec<String>, Vec<String>) =
        names(&desk.path("report")).into_iter().partition(|name| name.starts_with("plots/"));
    let expected = [
        "handout.html",
        "results.json",
        "review.html",
        "review.md",
        "set_aside.csv",
        "tables/blanks.csv",
        "tables/columns_lots_csv.csv",
        "tables/columns_profile_csv.csv",
        "tables/columns_ratings_csv.csv",
        "tables/columns_readings_csv.csv",
        "tables/columns_reeds_csv.csv",
        "tables/decide_forming_days.csv",
        "tables/decide_forming_days_against_present.csv",
        "tables/decide_forming_days_support.csv",
        "tables/drift.csv",
        "tables/factors.csv",
        "tables/factors_criteria.csv",
        "tables/factors_detail.csv",
        "tables/families_profile.csv",
        "tables/files.csv",
        "tables/life.csv",
        "tables/life_factors.csv",
        "tables/life_factors_detail.csv",
        "tables/life_lots.csv",
        "tables/loss_factors.csv",
        "tables/loss_factors_detail.csv",
        "tables/losses.csv",
        "tables/losses_worth.csv",
        "tables/lots.csv",
        "tables/lots_evenness.csv",
        "tables/lots_worth.csv",
        "tables/sort.csv",
        "tables/trust_again.csv",
        "tables/trust_agreement.csv",
        "tables/trust_leniency.csv",
        "tables/trust_measures.csv",
    ];
    assert_eq!(others, expected);
    for wanted in ["plots/factor_effects.svg", "plots/losses.svg", "plots/lots.svg"] {
        assert!(plots.iter().any(|name| name == wanted), "{wanted} among {plots:?}");
    }
    assert!(plots.iter().all(|name| name.ends_with(".svg")), "{plots:?}");
    assert_eq!(names(desk.0.path()).len(), others.len() + plots.len(), "nothing beside the folder");
}

#[test]
fn every_picture_and_table_of_the_folder_is_named_in_the_markdown() {
    let desk = Desk::new();
    desk.call(&["review", &dataset("demo"), "--out", "report"]).assert().success();
    let page = fs::read_to_string(desk.path("report/review.md")).expect("written");
    for name in names(&desk.path("report")) {
        if name.starts_with("plots/") || name.starts_with("tables/") {
            assert!(page.contains(&name), "{name}");
        }
    }
}

#[test]
fn a_second_review_replaces_the_first_whole() {
    let desk = Desk::with_log("log", &SOUND);
    desk.call(&["review", &dataset("demo"), "--out", "report"]).assert().success();
    desk.call(&["review", "log", "--out", "report"]).assert().success();
    let replaced = desk.files();
    desk.call(&["review", "log", "--out", "fresh"]).assert().success();
    assert_eq!(names(&desk.path("report")), names(&desk.path("fresh")));
    assert_eq!(replaced["report/results.json"], desk.files()["fresh/results.json"]);
}

#[test]
fn without_a_folder_named_the_review_goes_to_the_current_folder_under_its_own_name() {
    let desk = Desk::with_log("log", &SOUND);
    desk.call(&["review", "log"]).assert().success();
    let beside =
        |name: &&String| !name.starts_with("log/") && !name.starts_with("canewright_review/");
    assert!(desk.path("canewright_review/review.html").is_file());
    assert_eq!(desk.files().keys().find(beside), None);
}

#[test]
fn a_folder_that_is_no_review_is_refused_and_left_as_it_was() {
    let desk = Desk::with_log("log", &SOUND);
    let before = desk.files();
    // the log itself is the folder that a slip of the hand would name
    let told = predicate::str::contains("Nothing was written");
    desk.call(&["review", "log", "--out", "log"]).assert().code(2).stderr(told);
    assert_eq!(desk.files(), before);
}

#[test]
fn a_review_with_a_file_of_the_readers_own_in_it_is_not_replaced() {
    let desk = Desk::with_log("log", &SOUND);
    desk.call(&["review", "log", "--out", "report"]).assert().success();
    fs::write(desk.path("report/my notes.txt"), "keep").expect("written");
    let before = desk.files();
    let told = predicate::str::contains("my notes.txt");
    desk.call(&["review", "log", "--out", "report"]).assert().code(2).stderr(told);
    assert_eq!(desk.files(), before);
}

#[test]
fn a_target_that_cannot_be_made_leaves_nothing_behind() {
    let desk = Desk::with_log("log", &SOUND);
    fs::write(desk.path("a file"), "not a folder").expect("written");
    let before = desk.files();
    for out in ["a file", "a file/report", "a file/deeper/report", "..", "/"] {
        let told = predicate::str::starts_with("canewright: ");
        desk.call(&["review", "log", "--out", out, "--quiet"]).assert().code(2).stderr(told);
        assert_eq!(desk.files(), before, "{out}");
    }
}

#[test]
fn the_log_is_read_and_never_written() {
    let desk = Desk::with_log("log", &SOUND);
    let before = desk.files();
    desk.call(&["review", "log", "--out", "deep/er/report"]).assert().success();
    let written = desk.files();
    for (name, bytes) in &before {
        assert_eq!(written.get(name), Some(bytes), "{name}");
    }
    let outside =
        |name: &&String| !before.contains_key(*name) && !name.starts_with("deep/er/report/");
    assert_eq!(written.keys().find(outside), None);
}

#[test]
fn the_review_as_json_is_the_results_file_and_writes_none_unless_a_folder_is_named() {
    let desk = Desk::with_log("log", &SOUND);
    let printed = desk.printed(&["review", "log", "--json"]);
    assert!(!desk.path("canewright_review").exists());
    desk.call(&["review", "log", "--json", "--out", "report"]).assert().success();
    let written = fs::read_to_string(desk.path("report/results.json")).expect("written");
    assert_eq!(json(&printed), json(&written));
}
