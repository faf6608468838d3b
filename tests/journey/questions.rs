//! Each question alone, and the options that all of them share.

use canewright::questions::REGISTRY;
use predicates::prelude::*;

use super::{Desk, SOUND, bad_desk, dataset, json};

#[test]
fn each_question_alone_prints_its_page_and_its_numbers() {
    let desk = Desk::new();
    // the demo is of one maker
    for question in REGISTRY.iter().filter(|question| question.name != "makers") {
        let told = predicate::str::contains(question.asked);
        desk.call(&[question.name, &dataset("demo")]).assert().success().stdout(told);
        let section = json(&desk.printed(&[question.name, &dataset("demo"), "--json"]));
        let list = match question.name {
            "losses" => &section["stages"],
            "life" => &section["curve"],
            "trust" | "drift" => &section["measures"],
            "decide" | "blanks" | "sort" => &section,
            _ => &section["list"],
        };
        let length = list.as_array().map(Vec::len);
        assert!(length.is_some_and(|length| length > 0), "{}: {section}", question.name);
    }
    assert!(desk.files().is_empty(), "a question alone writes nothing");
}

#[test]
fn a_question_that_the_log_cannot_carry_says_what_it_would_take_and_ends_with_status_0() {
    let desk = Desk::with_log("log", &SOUND);
    let told =
        predicate::str::contains("No answer yet").and(predicate::str::contains("It takes 20"));
    desk.call(&["families", "log"]).assert().code(0).stdout(told);
    let results = json(&desk.printed(&["families", "log", "--json"]));
    assert_eq!(results["refusals"][0]["question"], "families");
}

#[test]
fn a_word_about_warnings_goes_to_standard_error_and_quiet_silences_it() {
    let told = predicate::str::is_match("^[0-9]+ warnings? in the log").expect("a pattern");
    let log = dataset("demo");
    Desk::new().call(&["losses", &log]).assert().success().stderr(told);
    Desk::new().call(&["losses", &log, "--quiet"]).assert().success().stderr("");
}

#[test]
fn a_question_of_a_log_with_errors_is_answered_and_ends_with_status_1() {
    let told = predicate::str::contains("1 of 9 pieces was spoiled");
    bad_desk().call(&["losses", "log"]).assert().code(1).stdout(told);
}

#[test]
fn strict_stops_at_an_error_with_status_2_answers_nothing_and_writes_nothing() {
    let desk = bad_desk();
    let before = desk.files();
    for verb in ["losses", "review"] {
        let told = predicate::str::contains("Stopped, because --strict was asked for")
            .and(predicate::str::contains("number-unreadable"));
        desk.call(&[verb, "log", "--strict", "--out", "report"])
            .assert()
            .code(2)
            .stdout("")
            .stderr(told);
    }
    assert_eq!(desk.files(), before);
}

#[test]
fn strict_lets_a_log_without_errors_pass() {
    let desk = Desk::with_log("log", &SOUND);
    desk.call(&["losses", "log", "--strict"]).assert().code(0);
}

#[test]
fn from_and_until_take_the_pieces_started_on_those_days_and_between() {
    let desk = Desk::with_log("log", &SOUND);
    let pieces = |window: &[&str]| {
        let log =
            json(&desk.printed(&[&["check", "log", "--json"], window].concat()))["log"].clone();
        (
            log["pieces"].as_u64().expect("a count"),
            log["first_day"].clone(),
            log["last_day"].clone(),
        )
    };
    assert_eq!(pieces(&[]), (9, "2024-01-02".into(), "2024-02-29".into()));
    assert_eq!(pieces(&["--from", "2024-02-08"]), (4, "2024-02-08".into(), "2024-02-29".into()));
    assert_eq!(pieces(&["--until", "2024-01-16"]), (3, "2024-01-02".into(), "2024-01-16".into()));
    let both = ["--from", "2024-01-09", "--until", "2024-02-01"];
    assert_eq!(pieces(&both), (4, "2024-01-09".into(), "2024-02-01".into()));
}

#[test]
fn days_that_hold_no_piece_or_end_before_they_begin_are_refused() {
    let desk = Desk::with_log("log", &SOUND);
    for (window, told) in [
        (&["--from", "2030-01-01"][..], "from 2024-01-02 to 2024-02-29"),
        (&["--from", "2024-02-08", "--until", "2024-01-08"], "end on 2024-01-08 before they begin"),
    ] {
        let call = [&["check", "log"], window].concat();
        let told = predicate::str::contains(told);
        desk.call(&call).assert().code(2).stdout("").stderr(told);
    }
}

#[test]
fn a_factor_that_the_log_does_not_have_is_told_and_nothing_is_called_done() {
    let desk = Desk::with_log("log", &SOUND);
    for call in [
        &["decide", "log", "hardnes"][..],
        &["sort", "log", "hardnes"],
        &["handout", "log", "hardnes"],
        &["drift", "log", "--measure", "hardnes"],
        &["trial", "plan", "log", "--factor", "hardnes"],
    ] {
        desk.call(call).assert().code(2).stdout(predicate::str::contains("No answer yet"));
    }
}

#[test]
fn a_day_that_is_no_day_is_refused() {
    let desk = Desk::with_log("log", &SOUND);
    for day in ["2024-02-30", "yesterday", "01/02/2024"] {
        let told = predicate::str::contains("--from");
        desk.call(&["check", "log", "--from", day]).assert().code(2).stdout("").stderr(told);
    }
}

#[test]
fn several_logs_are_pooled_and_their_ids_and_lots_kept_apart() {
    let desk = Desk::with_log("ann", &SOUND);
    std::fs::create_dir(desk.path("ben")).expect("the desk can be written to");
    for (name, text) in SOUND {
        // one more line end makes it another file: a copy would be refused
        std::fs::write(desk.path("ben").join(name), format!("{text}\n"))
            .expect("the desk can be written to");
    }
    let results = json(&desk.printed(&["check", "ann", "ben", "--json"]));
    assert_eq!(
        (results["log"]["pieces"].as_u64(), results["log"]["lots"].as_u64()),
        (Some(18), Some(4))
    );
}

#[test]
fn a_review_asks_what_holds_for_all_makers_only_where_there_are_several() {
    let desk = Desk::with_log("ann", &SOUND);
    std::fs::create_dir(desk.path("ben")).expect("the desk can be written to");
    for (name, text) in SOUND {
        std::fs::write(desk.path("ben").join(name), format!("{text}\n"))
            .expect("the desk can be written to");
    }
    let alone = json(&desk.printed(&["review", "ann", "--json"]));
    let refused = alone["refusals"].as_array().cloned().unwrap_or_default();
    assert!(alone.get("makers").is_none());
    assert!(refused.iter().all(|refusal| refusal["question"] != "makers"));
    let both = json(&desk.printed(&["review", "ann", "ben", "--json"]));
    assert_eq!(both["makers"]["list"][1]["maker"], "ben");
    let told = predicate::str::contains("Two makers started 18 pieces");
    desk.call(&["makers", "ann", "ben"]).assert().success().stdout(told);
    let told = predicate::str::contains("It takes two");
    desk.call(&["makers", "ann"]).assert().success().stdout(told);
}

#[test]
fn a_log_and_its_copy_are_not_pooled_since_the_evidence_would_count_twice() {
    let desk = Desk::with_log("ann", &SOUND);
    std::fs::create_dir(desk.path("copy")).expect("the desk can be written to");
    for (name, text) in SOUND {
        std::fs::write(desk.path("copy").join(name), text).expect("the desk can be written to");
    }
    desk.call(&["check", "ann", "copy"]).assert().code(2);
}

#[test]
fn a_pipe_gets_no_escape_sequences_whatever_the_terminal_is_said_to_be() {
    for (name, value) in [("NO_COLOR", "1"), ("TERM", "xterm-256color"), ("COLORTERM", "truecolor")]
    {
        for verb in ["losses", "check"] {
            let output = Desk::new().call(&[verb, &dataset("demo")]).env(name, value).output();
            let output = output.expect("the program can be called");
            assert!(!output.stdout.is_empty());
            assert!(![output.stdout, output.stderr].concat().contains(&0x1b), "{name} {verb}");
        }
    }
}
