//! `trial plan`: one command from the log to sheets that can be printed, and nothing of a begun trial is ever lost.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use canewright::plan;
use predicates::prelude::*;

use super::{Desk, dataset, json, names};

const DATE: [&str; 2] = ["--date", "2025-11-30"];

fn plan_of_demo(desk: &Desk, more: &[&str]) -> assert_cmd::assert::Assert {
    let demo = dataset("demo");
    let call = [&["trial", "plan", demo.as_str(), "--quiet"], &DATE[..], more].concat();
    desk.call(&call).assert()
}

fn rows(path: &Path) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_path(path).expect("written");
    reader.records().map(|row| row.expect("a row").iter().map(str::to_owned).collect()).collect()
}

#[test]
fn the_demo_log_gives_a_plan_its_sheets_and_a_key_in_one_command() {
    let desk = Desk::new();
    plan_of_demo(&desk, &[]).success().stdout(predicate::str::contains("print sheet.html"));
    let folder = desk.path("canewright_trial");
    let expected =
        ["key.csv", "plan.toml", "plots/power.svg", "rating_sheet.csv", "sheet.csv", "sheet.html"];
    assert_eq!(names(&folder), expected);
    assert_eq!(names(desk.0.path()).len(), expected.len(), "nothing beside the folder");
    let read = plan::read(&folder.join("plan.toml")).expect("a plan");
    assert!(read.unchanged && read.key_holds);
    let plan = read.plan;
    assert_eq!(plan.made_on, "2025-11-30");
    let drawn: BTreeMap<String, String> = plan
        .pieces
        .iter()
        .zip(plan.arms_of_pieces())
        .map(|(piece, arm)| (piece.label.clone(), plan.arms[arm].value.clone()))
        .collect();
    let key: BTreeMap<String, String> = rows(&folder.join("key.csv"))
        .into_iter()
        .map(|row| (row[0].clone(), row[1].clone()))
        .collect();
    assert_eq!(key, drawn, "the key is what the seed gives");
    let made: BTreeMap<String, String> = rows(&folder.join("sheet.csv"))
        .into_iter()
        .map(|row| (row[1].clone(), row[4].clone()))
        .collect();
    assert_eq!(made, key, "the maker's sheet says the same");
}

#[test]
fn neither_the_plan_nor_the_rating_sheet_tells_the_arm_of_a_piece() {
    let desk = Desk::new();
    plan_of_demo(&desk, &[]).success();
    let folder = desk.path("canewright_trial");
    let plan = fs::read_to_string(folder.join("plan.toml")).expect("written");
    let pieces: String = plan.split("[[pieces]]").skip(1).collect();
    let keys: BTreeSet<&str> = pieces.lines().filter_map(|line| line.split(" =").next()).collect();
    assert_eq!(keys, BTreeSet::from(["", "block", "label", "order"]));
    let sheet = rows(&folder.join("rating_sheet.csv"));
    assert!(!sheet.is_empty() && sheet.iter().all(|row| row[1..].iter().all(String::is_empty)));
    let labels: Vec<&String> = sheet.iter().map(|row| &row[0]).collect();
    assert!(labels.is_sorted(), "the order of the labels is not that of the making");
    // the player's page of the sheets begins after the maker's and names no practice
    let page = fs::read_to_string(folder.join("sheet.html")).expect("written");
    let player = page.split("class=\"player\"").nth(1).expect("a page for the player");
    assert!(labels.iter().all(|label| player.contains(label.as_str())));
    assert!(!player.contains("days"), "{player}");
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_another_key() {
    let desk = Desk::new();
    plan_of_demo(&desk, &["--out", "one"]).success();
    plan_of_demo(&desk, &["--out", "same"]).success();
    plan_of_demo(&desk, &["--out", "other", "--seed", "7"]).success();
    let files = desk.files();
    for name in names(&desk.path("one")) {
        assert!(files[&format!("one/{name}")] == files[&format!("same/{name}")], "{name}");
    }
    assert_ne!(files["one/key.csv"], files["other/key.csv"]);
}

#[test]
fn a_trial_that_may_have_begun_is_never_written_over() {
    let desk = Desk::new();
    plan_of_demo(&desk, &[]).success();
    let filled = "reed,date,player,overall\nfilled in\n";
    fs::write(desk.path("canewright_trial/rating_sheet.csv"), filled).expect("the desk");
    fs::remove_file(desk.path("canewright_trial/sheet.html")).expect("the desk");
    // another plan is refused
    let before = desk.files();
    let told = predicate::str::contains("another plan, whose trial may have begun");
    plan_of_demo(&desk, &["--seed", "7"]).code(2).stderr(told);
    assert_eq!(desk.files(), before);
    // the same plan writes what is gone and leaves what was filled in
    let told = predicate::str::contains("rating_sheet.csv was there already");
    plan_of_demo(&desk, &[]).success().stdout(told);
    let after = desk.files();
    assert_eq!(after["canewright_trial/rating_sheet.csv"], filled.as_bytes());
    assert!(after.contains_key("canewright_trial/sheet.html"));
}

#[test]
fn a_folder_of_other_things_is_left_alone() {
    let desk = Desk::with_log("mine", &[("notes.txt", "mine")]);
    let before = desk.files();
    plan_of_demo(&desk, &["--out", "mine"]).code(2).stderr(predicate::str::contains("no trial"));
    assert_eq!(desk.files(), before);
}

#[test]
fn as_json_the_plan_is_printed_and_nothing_is_written() {
    let desk = Desk::new();
    let output = plan_of_demo(&desk, &["--json"]).success().get_output().stdout.clone();
    let plan = json(&String::from_utf8(output).expect("UTF-8"));
    for key in
        ["factor", "arms", "blocks", "pieces", "power", "smallest_difference", "sizes", "seed"]
    {
        assert!(!plan[key].is_null(), "{key}");
    }
    assert!(desk.files().is_empty());
}

#[test]
fn a_trial_that_cannot_work_says_what_would_and_writes_nothing() {
    let desk = Desk::new();
    let told = predicate::str::contains("No answer yet").and(predicate::str::contains("--arms"));
    plan_of_demo(&desk, &["--arms", "14"]).success().stdout(told);
    assert!(desk.files().is_empty());
}

#[test]
fn names_that_a_spreadsheet_would_run_or_a_page_would_obey_are_made_harmless() {
    let desk = Desk::new();
    plan_of_demo(&desk, &["--lots", "=1+1,<b>x</b>"]).success();
    let folder = desk.path("canewright_trial");
    let page = fs::read_to_string(folder.join("sheet.html")).expect("written");
    assert!(page.contains("&lt;b&gt;x") && !page.contains("<b>"));
    let lots: BTreeSet<String> =
        rows(&folder.join("sheet.csv")).into_iter().map(|row| row[2].clone()).collect();
    assert_eq!(lots, BTreeSet::from(["'=1+1".to_owned(), "<b>x</b>".to_owned()]));
    let read = plan::read(&folder.join("plan.toml")).expect("a plan");
    assert_eq!(read.plan.blocks[0].lot, "=1+1", "the plan keeps the name as it is");
}
