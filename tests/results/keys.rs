//! The schema and the keys.

use canewright::questions::REGISTRY;
use jsonschema::Validator;
use serde_json::{Value, json};

use super::{LOGS, REVIEWS, TWO_MAKERS, list, review};

/// Keys under which an interval `low` to `high` has its estimate.
const CENTRES: [&str; 9] =
    ["estimate", "pooled_mean", "share", "rating", "ratio", "at", "s", "icc_single", "gain"];

fn schema() -> Validator {
    let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
    let printed = command.arg("schema").output().expect("the program can be called").stdout;
    let schema: Value = serde_json::from_slice(&printed).expect("the schema is JSON");
    jsonschema::draft202012::meta::validate(&schema).expect("the schema is a schema");
    jsonschema::validator_for(&schema).expect("the schema can be used")
}

#[test]
fn the_results_of_every_log_keep_to_the_schema_that_the_program_prints() {
    let schema = schema();
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let faults: Vec<String> =
            schema.iter_errors(&review.results).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{log}: {faults:?}");
    }
}

#[test]
fn the_schema_refuses_results_with_a_key_gone_or_of_another_kind() {
    let schema = schema();
    let whole = &review("datasets/demo").results;
    for key in ["format", "made_by", "seed", "log", "settings", "problems"] {
        let mut without = whole.clone();
        without.as_object_mut().expect("an object").remove(key);
        assert!(!schema.is_valid(&without), "{key} gone");
    }
    for (pointer, other) in [
        ("/factors/list/0/verdict", json!("certain")),
        ("/factors/list/0/estimate", json!("0.5")),
        ("/lots/list/0/rated", json!(-1)),
        ("/losses/stages/0/stage", json!("varnishing")),
        ("/families/k", json!(1.5)),
    ] {
        let mut changed = whole.clone();
        *changed.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer} is there")) = other;
        assert!(!schema.is_valid(&changed), "{pointer}");
    }
}

fn has(value: &Value, keys: &[&str], what: &str) {
    for key in keys {
        assert!(value.get(key).is_some(), "{what} has no {key}: {value}");
    }
}

fn each_has(values: &[Value], keys: &[&str], what: &str) {
    assert!(!values.is_empty(), "no {what} to look at");
    values.iter().for_each(|value| has(value, keys, what));
}

#[test]
fn the_log_the_settings_and_the_problems_stand_under_their_names() {
    let results = &review("datasets/demo_messy").results;
    has(
        results,
        &["format", "made_by", "seed", "log", "settings", "problems", "refusals", "rests_on"],
        "results",
    );
    assert_eq!(results["format"], 1);
    assert_eq!(
        results["made_by"],
        json!({"name": "canewright", "version": env!("CARGO_PKG_VERSION")})
    );
    has(
        &results["log"],
        &[
            "files",
            "pieces",
            "reeds",
            "ratings",
            "lots",
            "rows_set_aside",
            "rows_and_cells_set_aside",
            "first_day",
            "last_day",
        ],
        "log",
    );
    each_has(list(&results["log"], "files"), &["name", "sha256", "rows"], "file");
    let keys = ["code", "severity", "file", "line", "column", "text", "message"];
    each_has(list(results, "problems"), &keys, "problem");
}

#[test]
fn the_factors_stand_under_their_names() {
    let keys = [
        "factor",
        "stage",
        "kind",
        "level",
        "verdict",
        "estimate",
        "low",
        "high",
        "p",
        "q",
        "df",
        "step",
        "unit",
        "scope",
        "between",
        "sweet_spot",
        "worst_at",
        "reference",
        "adjusted_for",
        "tangled_with",
        "kept_share",
        "used",
        "left_out",
        "sentence",
    ];
    for log in ["datasets/demo", "datasets/cake", "tests/results/twelve"] {
        let factors = list(&review(log).results["factors"], "list");
        each_has(factors, &keys, "factor");
        for factor in factors {
            let scope = factor["scope"].as_str().unwrap_or_default();
            assert!(["within lots", "between lots", "no lots"].contains(&scope), "{scope}");
            let left_out = list(factor, "left_out");
            left_out.iter().for_each(|out| has(out, &["why", "n"], "left_out"));
        }
    }
    let demo = list(&review("datasets/demo").results["factors"], "list");
    let between: Vec<&Value> =
        demo.iter().map(|f| &f["between"]).filter(|b| !b.is_null()).collect();
    assert!(!between.is_empty());
    between.into_iter().for_each(|b| has(b, &["estimate", "low", "high", "p_differs"], "between"));
}

#[test]
fn a_best_value_has_its_far_end_and_what_is_lost_there() {
    let factors = list(&TWO_MAKERS.results["factors"], "list");
    let spots: Vec<Value> =
        factors.iter().map(|f| f["sweet_spot"].clone()).filter(|spot| !spot.is_null()).collect();
    let keys = [
        "at",
        "low",
        "high",
        "p_bend",
        "q_bend",
        "unbounded",
        "spline",
        "far_end",
        "change_to_far_end",
    ];
    each_has(&spots, &keys, "best value");
    for spot in &spots {
        has(&spot["change_to_far_end"], &["estimate", "low", "high"], "change_to_far_end");
        // ratings of this log are better when they are higher
        assert!(spot["change_to_far_end"]["estimate"].as_f64() < Some(0.0), "{spot}");
    }
}

#[test]
fn the_lots_the_losses_and_the_families_stand_under_their_names() {
    let results = &review("datasets/demo").results;
    has(
        &results["lots"],
        &["overall", "share_between", "sd_between", "sd_within", "icc", "list"],
        "lots",
    );
    let keys =
        ["lot", "pieces", "spoiled", "rated", "raw_mean", "pooled_mean", "low", "high", "sentence"];
    each_has(list(&results["lots"], "list"), &keys, "lot");
    let stages = list(&results["losses"], "stages");
    each_has(stages, &["stage", "entered", "lost", "share", "low", "high", "by"], "stage");
    let reasons: Vec<Value> = stages.iter().flat_map(|stage| list(stage, "by").clone()).collect();
    each_has(&reasons, &["reason", "n"], "reason");
    let keys = [
        "factor",
        "stage",
        "kind",
        "level",
        "verdict",
        "estimate",
        "low",
        "high",
        "p",
        "q",
        "df",
        "step",
        "unit",
        "scope",
        "between",
        "lost_per_ten",
        "reference",
        "adjusted_for",
        "tangled_with",
        "kept_share",
        "by_stage",
        "used",
        "lost",
        "left_out",
        "sentence",
    ];
    each_has(list(&results["losses"], "factors"), &keys, "factor of loss");
    has(
        &results["families"],
        &[
            "k",
            "criterion",
            "p_one",
            "tried",
            "told_by",
            "stability",
            "agreement",
            "list",
            "differences",
            "assigned",
            "looked_at",
            "explained",
            "profile",
            "sentence",
        ],
        "families",
    );
    let keys = ["family", "n", "words", "rated", "rating", "low", "high", "features", "lot"];
    each_has(list(&results["families"], "list"), &keys, "family");
    each_has(list(&results["families"], "assigned"), &["piece", "family"], "member");
}

#[test]
fn the_life_of_reeds_stands_under_its_names() {
    let life = &review("datasets/demo").results["life"];
    let keys = [
        "unit",
        "n",
        "retired",
        "censored",
        "median",
        "median_low",
        "median_high",
        "restricted_mean",
        "restricted_to",
        "curve",
        "by_lot",
        "lots_differ",
        "hazards",
        "renewal",
        "sentence",
    ];
    has(life, &keys, "life");
    each_has(list(life, "curve"), &["t", "s", "low", "high", "at_risk"], "step");
    let keys = ["lot", "n", "retired", "expected", "median", "median_low", "median_high"];
    each_has(list(life, "by_lot"), &keys, "lot");
    let keys = ["factor", "level", "verdict", "ratio", "low", "high", "p", "q", "ph_p", "scope"];
    let hazards = list(life, "hazards");
    each_has(hazards, &keys, "hazard");
    let scopes = ["within lots", "over all reeds"].map(Value::from);
    assert!(hazards.iter().all(|hazard| scopes.contains(&hazard["scope"])));
    has(
        &life["renewal"],
        &["keep", "mean_life_low", "mean_life_high", "pace", "pace_low", "pace_high", "unit"],
        "renewal",
    );
}

#[test]
fn the_unfinished_pieces_stand_under_their_names() {
    let results = &review("datasets/demo").results;
    let blanks = results["blanks"].as_array().expect("a list");
    let keys = [
        "piece",
        "lot",
        "stage",
        "rating",
        "low",
        "high",
        "p_good",
        "p_good_if_played",
        "p_arrives",
        "p_outdoes_first",
        "lot_is_known",
        "known",
        "sentence",
    ];
    each_has(blanks, &keys, "unfinished piece");
    assert_eq!(blanks.len(), 6, "{blanks:?}");
}

#[test]
fn the_measurements_to_sort_by_stand_under_their_names() {
    let results = &review("datasets/demo").results;
    let keys = [
        "measure",
        "keep_low",
        "keep_high",
        "dropped_share",
        "good_per_ten_all",
        "good_per_ten_kept",
        "gain",
        "low",
        "high",
        "minutes_per_good_kept",
        "minutes_saved_per_good",
        "cost_per_good_all",
        "cost_per_good_kept",
        "net_benefit",
        "verdict",
        "sentence",
    ];
    let sort = results["sort"].as_array().expect("a list");
    each_has(sort, &keys, "measurement");
    let words = ["worth it", "cannot tell", "not worth it"].map(Value::from);
    assert!(sort.iter().all(|one| words.contains(&one["verdict"])), "{sort:?}");
}

#[test]
fn the_decisions_stand_under_their_names() {
    let results = &review("datasets/demo").results;
    let decisions = results["decide"].as_array().expect("a list");
    let keys = [
        "factor",
        "current",
        "recommendation",
        "to",
        "regret_switch",
        "regret_stay",
        "pieces_in_30_days",
        "tangled_with",
        "candidates",
        "sentence",
    ];
    each_has(decisions, &keys, "decision");
    let words = ["switch", "stay", "try it first"].map(Value::from);
    assert!(decisions.iter().all(|decision| words.contains(&decision["recommendation"])));
    let keys = [
        "value",
        "rating",
        "low",
        "high",
        "good_per_ten",
        "good_low",
        "good_high",
        "difference",
        "diff_low",
        "diff_high",
        "pieces",
        "lots",
        "waiting_days",
        "on_the_rack",
    ];
    for decision in decisions {
        let candidates = list(decision, "candidates");
        each_has(candidates, &keys, "candidate");
        assert!(candidates.iter().any(|one| one["value"] == decision["current"]), "{decision}");
    }
}

#[test]
fn a_question_is_either_answered_or_refused() {
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let refused = list(&review.results, "refusals");
        // these logs are of one maker, and a review asks nothing of makers then
        assert!(review.results.get("makers").is_none(), "{log}");
        let names = REGISTRY.iter().map(|question| question.name);
        for question in names.filter(|name| *name != "makers") {
            let is_refused = refused.iter().any(|refusal| refusal["question"] == question);
            assert_ne!(is_refused, review.results.get(question).is_some(), "{log}: {question}");
        }
        for refusal in refused {
            has(refusal, &["found", "takes"], "refusal");
        }
    }
}

/// Every number is finite by the grammar of JSON; a word in its place would be a string.
#[test]
fn no_number_is_a_word() {
    fn words<'a>(value: &'a Value, found: &mut Vec<&'a str>) {
        match value {
            Value::String(text) => found.push(text),
            Value::Array(values) => values.iter().for_each(|value| words(value, found)),
            Value::Object(values) => values.values().for_each(|value| words(value, found)),
            _ => {}
        }
    }
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let mut found = Vec::new();
        words(&review.results, &mut found);
        for text in found {
            let bad = text
                .split(|letter: char| !letter.is_alphanumeric())
                .any(|word| ["nan", "inf", "infinity"].contains(&word.to_lowercase().as_str()));
            assert!(!bad, "{log}: {text}");
        }
    }
}

#[test]
fn every_interval_holds_its_estimate() {
    fn look(value: &Value, log: &str) {
        if let (Some(low), Some(high)) = (value["low"].as_f64(), value["high"].as_f64()) {
            let centre = CENTRES.iter().find_map(|key| value[*key].as_f64());
            assert!(centre.is_some_and(|centre| low <= centre && centre <= high), "{log}: {value}");
        }
        match value {
            Value::Array(values) => values.iter().for_each(|value| look(value, log)),
            Value::Object(values) => values.values().for_each(|value| look(value, log)),
            _ => {}
        }
    }
    LOGS.iter().zip(REVIEWS.iter()).for_each(|(log, review)| look(&review.results, log));
}

#[test]
fn the_twelve_pieces_are_counted_as_they_stand_in_the_log() {
    let results = &review("tests/results/twelve").results;
    let log = &results["log"];
    let count = |key: &str| log[key].as_u64();
    assert_eq!(
        (count("pieces"), count("reeds"), count("ratings"), count("lots")),
        (Some(12), Some(10), Some(12), Some(3))
    );
    assert_eq!((&log["first_day"], &log["last_day"]), (&json!("2024-03-02"), &json!("2024-05-01")));
    let spoiled: u64 =
        list(&results["lots"], "list").iter().filter_map(|lot| lot["spoiled"].as_u64()).sum();
    let lost: u64 =
        list(&results["losses"], "stages").iter().filter_map(|stage| stage["lost"].as_u64()).sum();
    assert_eq!((spoiled, lost), (1, 1));
}
