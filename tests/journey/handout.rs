//! The page for a studio, as it is written.

use std::fs;

use super::{Desk, dataset};

#[test]
fn the_page_is_written_where_it_was_asked_for_and_holds_what_was_printed() {
    let desk = Desk::new();
    let printed = desk.printed(&["handout", &dataset("demo"), "--out", "studio"]);
    let page = fs::read_to_string(desk.path("studio/handout.html")).expect("written");
    for heading in
        ["What I would do", "What this cannot tell you", "Test it yourself", "At the bench"]
    {
        assert!(printed.contains(heading) && page.contains(heading), "{heading}");
    }
    assert!(page.contains("role=\"img\""), "the picture of every reed");
    assert!(!page.contains("The invented workshop"), "the title may name people");
    desk.call(&["handout", &dataset("demo"), "--out", "studio", "--names"]).assert().success();
    let named = fs::read_to_string(desk.path("studio/handout.html")).expect("written again");
    assert!(named.contains("The invented workshop"));
}

#[test]
fn a_folder_that_holds_anything_else_is_left_alone() {
    let desk = Desk::with_log("mine", &[("letter.txt", "dear")]);
    let call = desk.call(&["handout", &dataset("demo"), "--out", "mine"]).output().expect("called");
    assert_eq!(call.status.code(), Some(2));
    assert_eq!(super::names(&desk.path("mine")), ["letter.txt"]);
}

#[test]
fn a_review_holds_the_page_too_and_the_page_alone_may_take_its_place() {
    let desk = Desk::new();
    desk.call(&["review", &dataset("demo"), "--out", "report", "--quiet"]).assert().success();
    let first = fs::read_to_string(desk.path("report/handout.html")).expect("part of the review");
    desk.call(&["handout", &dataset("demo"), "--out", "report", "--quiet"]).assert().success();
    let again = fs::read_to_string(desk.path("report/handout.html")).expect("still there");
    assert_eq!(first, again);
    assert!(desk.path("report/review.html").exists());
}

#[test]
fn the_words_come_as_json_where_that_is_asked_for() {
    let desk = Desk::new();
    let told = super::json(&desk.printed(&["handout", &dataset("demo"), "--json", "--quiet"]));
    assert!(told["question"].as_str().is_some_and(|text| text.ends_with('?')));
    assert_eq!(told["title"], serde_json::Value::Null);
    assert!(desk.files().is_empty(), "nothing is written unasked");
}
