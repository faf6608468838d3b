//! What has changed since an earlier review.

use std::fs;

use super::{Desk, dataset, json};

/// The demo log up to the end of 2024, and then all of it.
fn two_reviews() -> (Desk, String) {
    let desk = Desk::new();
    let demo = dataset("demo");
    desk.call(&["review", &demo, "--until", "2024-12-31", "--out", "first", "--quiet"])
        .assert()
        .success();
    let printed =
        desk.printed(&["review", &demo, "--since", "first", "--out", "second", "--quiet"]);
    (desk, printed)
}

#[test]
fn what_has_come_and_what_reads_otherwise_is_told_on_every_page() {
    let (desk, printed) = two_reviews();
    let read = |name: &str| fs::read_to_string(desk.path(name)).expect("part of the review");
    let (first, second) = (json(&read("first/results.json")), json(&read("second/results.json")));
    let count = |results: &serde_json::Value, key: &str| results["log"][key].as_i64();
    let since = &second["since"];
    assert_eq!(
        since["more_pieces"].as_i64(),
        Some(count(&second, "pieces").unwrap() - count(&first, "pieces").unwrap())
    );
    assert_eq!(
        since["more_reeds"].as_i64(),
        Some(count(&second, "reeds").unwrap() - count(&first, "reeds").unwrap())
    );
    assert_eq!(since["last_day"], first["log"]["last_day"]);
    let sentences: Vec<&str> =
        since["sentences"].as_array().into_iter().flatten().filter_map(|s| s.as_str()).collect();
    assert!(sentences[0].contains("pieces more"), "{sentences:?}");
    let flat = printed.split_whitespace().collect::<Vec<_>>().join(" ");
    for sentence in &sentences {
        assert!(flat.contains(sentence), "{sentence} is not in {printed}");
    }
    // every change names two different answers
    for change in since["changes"].as_array().into_iter().flatten() {
        assert_ne!(change["before"], change["now"]);
    }
    assert!(first.get("since").is_none(), "nothing is told of what was not asked");
}

#[test]
fn the_same_log_again_reads_as_before() {
    let desk = Desk::new();
    let demo = dataset("demo");
    desk.call(&["review", &demo, "--out", "first", "--quiet"]).assert().success();
    let again =
        desk.printed(&["review", &demo, "--since", "first/results.json", "--json", "--quiet"]);
    let since = &json(&again)["since"];
    assert_eq!(since["changes"], serde_json::json!([]));
    assert!(since["sentences"][0].as_str().is_some_and(|text| text.contains("nothing has come")));
}

#[test]
fn what_is_no_earlier_review_is_refused_before_anything_is_computed() {
    let desk = Desk::with_log("other", &[("results.json", "{\"format\": 1}")]);
    for named in ["other", "other/results.json", "nowhere"] {
        let call = desk
            .call(&["review", &dataset("demo"), "--since", named, "--out", "report"])
            .output()
            .expect("called");
        assert_eq!(call.status.code(), Some(2), "{named}");
        assert!(!desk.path("report").exists(), "{named}");
    }
}
