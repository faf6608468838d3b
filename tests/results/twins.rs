//! The invented workshop twice: as tidy files and as a spreadsheet would have exported it (other headers, inches, decimal
//! commas, day-first dates, Windows-1252). Whatever the reader made of the second, every number must be the same.

use serde_json::Value;

use super::review;

/// The results without what must differ: the files' hashes, the problems found in them, and what was set aside: the row of a reed that was never rated is empty in the
/// tidy log, and in the messy one it holds the fate, which is read.
fn comparable(log: &str) -> Value {
    let mut results = review(log).results.clone();
    let whole = results.as_object_mut().expect("an object");
    whole.remove("problems");
    for key in ["rows_set_aside", "rows_and_cells_set_aside"] {
        whole["log"].as_object_mut().expect("an object").remove(key);
    }
    for file in whole["log"]["files"].as_array_mut().into_iter().flatten() {
        for key in ["name", "sha256"] {
            file.as_object_mut().expect("an object").remove(key);
        }
    }
    results
}

/// Paths at which two values differ.
fn differences(a: &Value, b: &Value, path: &str, found: &mut Vec<String>) {
    match (a, b) {
        (Value::Object(one), Value::Object(other)) if one.keys().eq(other.keys()) => {
            one.iter().for_each(|(key, value)| {
                differences(value, &other[key], &format!("{path}/{key}"), found)
            });
        }
        (Value::Array(one), Value::Array(other)) if one.len() == other.len() => {
            let pairs = one.iter().zip(other).enumerate();
            pairs.for_each(|(at, (a, b))| differences(a, b, &format!("{path}/{at}"), found));
        }
        _ if a == b => {}
        _ => found.push(format!("{path}: {a} and {b}")),
    }
}

#[test]
fn the_tidy_and_the_messy_log_agree_in_every_number_and_every_sentence() {
    let (tidy, messy) = (comparable("datasets/demo"), comparable("datasets/demo_messy"));
    assert!(tidy["factors"]["list"].as_array().is_some_and(|list| list.len() > 10));
    let mut found = Vec::new();
    differences(&tidy, &messy, "", &mut found);
    assert!(found.is_empty(), "{} differ:\n{}", found.len(), found.join("\n"));
}

#[test]
fn the_two_are_not_the_same_files_and_the_reader_says_what_it_did_with_the_messy_one() {
    let hash = |log: &str| review(log).results["log"]["files"][0]["sha256"].clone();
    assert_ne!(hash("datasets/demo"), hash("datasets/demo_messy"));
    let codes: Vec<&str> = review("datasets/demo_messy").results["problems"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|problem| problem["code"].as_str())
        .collect();
    for said in ["labels-joined", "day-order-found", "encoding-assumed", "fate-in-rating"] {
        assert!(codes.contains(&said), "{said} among {codes:?}");
    }
}
