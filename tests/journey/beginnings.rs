//! Help, version, the empty log, the invented demo, the schema.

use canewright::questions::REGISTRY;
use predicates::prelude::*;

use super::{Desk, dataset, files, json, names};

#[test]
fn help_is_an_answer_and_names_every_verb() {
    let mut wanted = Desk::new().call(&["--help"]).assert().success().stderr("");
    for verb in [
        "start", "check", "review", "factors", "lots", "decide", "losses", "life", "trust",
        "drift", "families", "blanks", "sort", "makers", "handout", "trial", "demo", "schema",
    ] {
        wanted = wanted.stdout(predicate::str::contains(format!("\n  {verb} ")));
    }
    wanted.stdout(predicate::str::contains("Exit status: 0"));
}

#[test]
fn the_version_is_the_packages() {
    let expected = format!("canewright {}\n", env!("CARGO_PKG_VERSION"));
    Desk::new().call(&["--version"]).assert().success().stdout(expected).stderr("");
}

#[test]
fn an_unknown_verb_or_none_is_refused_with_status_2_and_nothing_on_standard_output() {
    for arguments in [vec!["polish", "log"], vec![]] {
        let told = predicate::str::contains("Usage");
        Desk::new().call(&arguments).assert().code(2).stdout("").stderr(told);
    }
}

#[test]
fn an_empty_log_can_be_checked_and_reviewed_before_a_row_is_filled_in() {
    let desk = Desk::new();
    let told = predicate::str::contains("canewright check my_log");
    desk.call(&["start", "my_log"]).assert().success().stdout(told);
    let expected = ["HOW_TO.md", "lots.csv", "ratings.csv", "reeds.csv", "study.toml"];
    assert_eq!(names(&desk.path("my_log")), expected);
    let told = predicate::str::contains("file-without-rows");
    desk.call(&["check", "my_log"]).assert().success().stdout(told);
    desk.call(&["review", "my_log", "--out", "report"]).assert().success();
    let results: serde_json::Value =
        json(&String::from_utf8_lossy(&desk.files()["report/results.json"]));
    assert_eq!(results["log"]["pieces"], 0);
    let refused: Vec<&str> = results["refusals"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|r| r["question"].as_str())
        .collect();
    // of one maker alone nobody asks what holds for several
    let asked = REGISTRY.iter().map(|question| question.name).filter(|name| *name != "makers");
    assert_eq!(refused, asked.collect::<Vec<&str>>());
}

#[test]
fn start_writes_over_nobodys_files() {
    let desk = Desk::with_log("log", &[("reeds.csv", "reed\nmine\n")]);
    let before = desk.files();
    for verb in ["start", "demo"] {
        let told = predicate::str::contains("nothing there is written over");
        desk.call(&[verb, "log"]).assert().code(2).stdout("").stderr(told);
    }
    assert_eq!(desk.files(), before);
}

#[test]
fn the_demo_gives_the_same_bytes_for_the_same_seed_and_others_for_another() {
    let desk = Desk::new();
    for (folder, seed) in [("one", "7"), ("again", "7"), ("other", "8")] {
        desk.call(&["demo", folder, "--seed", seed]).assert().success();
    }
    let of = |folder: &str| files(&desk.path(folder));
    assert_eq!(of("one"), of("again"));
    assert_ne!(of("one")["reeds.csv"], of("other")["reeds.csv"]);
    assert_eq!(of("one")["study.toml"], of("other")["study.toml"]);
}

#[test]
fn the_committed_demo_logs_are_what_the_program_writes() {
    let desk = Desk::new();
    desk.call(&["demo", "tidy"]).assert().success();
    desk.call(&["demo", "messy", "--messy"]).assert().success();
    for (written, committed) in [("tidy", "demo"), ("messy", "demo_messy")] {
        let committed = files(std::path::Path::new(&dataset(committed)));
        for (name, bytes) in files(&desk.path(written)) {
            let same = committed.get(&name) == Some(&bytes);
            assert!(same, "datasets: {name} differs; canewright demo DIR writes it anew");
        }
    }
}

#[test]
fn the_schema_is_json_and_names_every_section() {
    let schema = json(&Desk::new().printed(&["schema"]));
    let questions = REGISTRY.iter().map(|question| question.name);
    for key in ["format", "log", "settings", "problems"].into_iter().chain(questions) {
        assert!(schema["properties"].get(key).is_some(), "{key}");
    }
}
