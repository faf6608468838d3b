//! What others have built on `results.json` goes on working: its schema may grow by keys that may be missing, and by nothing else, as long as `format` stays.
//!
//! `compatible/` holds the schema and the results of a review as version 0.1.0 writes them, lists cut to their first two entries. Until that version is out they may
//! be written anew, by these tests called with `CANEWRIGHT_RELEASE` set; after that only together with a raised `format`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use canewright::questions::REGISTRY;
use serde_json::{Map, Value, json};

use super::{LOGS, REVIEWS, review};

type Node = Map<String, Value>;

/// Rules of a schema that only tell, or are compared in their own way.
const LOOKED_AT_APART: [&str; 6] =
    ["description", "title", "$defs", "$schema", "properties", "required"];
const HINT: &str = "raise `format`, or until 0.1.0 is out run CANEWRIGHT_RELEASE=1 cargo test --test results compatible";

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/results/compatible").join(name)
}

/// A file of the release, written anew first where that is asked for.
fn released(name: &str, now: impl Fn() -> Value) -> Value {
    let path = file(name);
    if std::env::var_os("CANEWRIGHT_RELEASE").is_some() {
        fs::write(&path, format!("{:#}\n", now())).expect("can be written");
    }
    let text = fs::read_to_string(&path).expect("committed");
    serde_json::from_str(&text).expect("JSON")
}

static SCHEMA: LazyLock<Value> = LazyLock::new(|| released("schema-0.1.0.json", present_schema));
static RESULTS: LazyLock<Value> =
    LazyLock::new(|| released("results-0.1.0.json", || cut(&review("datasets/demo").results)));

fn present_schema() -> Value {
    serde_json::from_str(&canewright::report::schema()).expect("the schema is JSON")
}

/// The same with the first two entries of every list.
fn cut(value: &Value) -> Value {
    match value {
        Value::Array(entries) => entries.iter().take(2).map(cut).collect(),
        Value::Object(keys) => {
            keys.iter().map(|(key, value)| (key.clone(), cut(value))).collect::<Map<_, _>>().into()
        }
        single => single.clone(),
    }
}

/// Two schemas held against each other from the outside in.
struct Comparison<'a> {
    old: &'a Value,
    new: &'a Value,
    /// Pairs of definitions that have been looked at, or are being looked at.
    seen: BTreeSet<(String, String)>,
    faults: Vec<String>,
}

/// What of the newer schema would break what was built on the older one.
fn faults(old: &Value, new: &Value) -> Vec<String> {
    let mut comparison = Comparison { old, new, seen: BTreeSet::new(), faults: Vec::new() };
    comparison.compare(old, new, "results");
    comparison.faults
}

fn reference(node: &Value) -> Option<&str> {
    node["$ref"].as_str()
}

fn resolved<'a>(schema: &'a Value, node: &'a Value) -> &'a Value {
    let Some(name) = reference(node) else { return node };
    let pointer = name.trim_start_matches('#');
    schema.pointer(pointer).unwrap_or_else(|| panic!("{name} is defined"))
}

impl<'a> Comparison<'a> {
    fn compare(&mut self, old: &'a Value, new: &'a Value, at: &str) {
        if let (Some(old), Some(new)) = (reference(old), reference(new))
            && !self.seen.insert((old.to_owned(), new.to_owned()))
        {
            return;
        }
        match (resolved(self.old, old), resolved(self.new, new)) {
            (Value::Object(old), Value::Object(new)) => self.compare_nodes(old, new, at),
            (Value::Array(old), Value::Array(new)) if old.len() == new.len() => {
                old.iter().zip(new).for_each(|(old, new)| self.compare(old, new, at));
            }
            (old, new) if old == new => {}
            (old, new) => self.faults.push(format!("{at}: was {old}, is {new}")),
        }
    }

    fn compare_nodes(&mut self, old: &'a Node, new: &'a Node, at: &str) {
        for rule in old.keys().chain(new.keys()).collect::<BTreeSet<_>>() {
            if !LOOKED_AT_APART.contains(&rule.as_str()) {
                let [old, new] = [old, new].map(|node| node.get(rule).unwrap_or(&Value::Null));
                self.compare(old, new, at);
            }
        }
        let now: BTreeMap<_, _> = properties(new).collect();
        for (key, old) in properties(old) {
            match now.get(key) {
                Some(new) => self.compare(old, new, &format!("{at}.{key}")),
                None => self.faults.push(format!("{at}.{key}: gone")),
            }
        }
        let [had, has] = [old, new].map(required);
        let gone = had.difference(&has).map(|key| format!("{at}.{key}: may be missing now"));
        let come = has.difference(&had).map(|key| format!("{at}.{key}: may not be missing now"));
        self.faults.extend(gone.chain(come));
    }
}

fn properties(node: &Node) -> impl Iterator<Item = (&String, &Value)> {
    node.get("properties").and_then(Value::as_object).into_iter().flatten()
}

fn required(node: &Node) -> BTreeSet<&str> {
    let keys = node.get("required").and_then(Value::as_array);
    keys.into_iter().flatten().filter_map(Value::as_str).collect()
}

#[test]
fn the_schema_has_only_grown_by_keys_that_may_be_missing() {
    let faults = faults(&SCHEMA, &present_schema());
    assert!(faults.is_empty(), "{HINT}: {faults:#?}");
}

#[test]
fn a_key_gone_changed_or_newly_asked_for_is_told_and_a_new_one_that_may_be_missing_is_not() {
    let schema = &*SCHEMA;
    let changed = |change: fn(&mut Value)| {
        let mut changed = schema.clone();
        change(&mut changed);
        faults(schema, &changed)
    };
    fn lot(schema: &mut Value) -> &mut Value {
        &mut schema["$defs"]["LotResult"]
    }
    let none = Vec::<String>::new();
    assert_eq!(
        changed(|schema| lot(schema)["properties"]["smell"] = json!({"type": "string"})),
        none
    );
    assert_eq!(changed(|schema| lot(schema)["description"] = json!("in other words")), none);
    let told = "results.lots.list";
    for (change, fault) in [
        (
            (|schema| {
                drop(lot(schema)["properties"].as_object_mut().map(|keys| keys.remove("rated")));
            }) as fn(&mut Value),
            "rated: gone",
        ),
        (|schema| lot(schema)["properties"]["rated"]["type"] = json!("string"), "rated: was"),
        (|schema| lot(schema)["properties"]["rated"]["minimum"] = json!(-1), "rated: was"),
        (
            |schema| {
                lot(schema)["properties"]["smell"] = json!({"type": "string"});
                lot(schema)["required"].as_array_mut().expect("a list").push(json!("smell"));
            },
            "smell: may not be missing now",
        ),
        (|schema| lot(schema)["required"] = json!([]), "rated: may be missing now"),
    ] {
        let faults = changed(change);
        let is_told = |found: &String| found.starts_with(told) && found.contains(fault);
        assert!(faults.iter().any(is_told), "{fault}: {faults:?}");
    }
}

#[test]
fn the_results_of_today_keep_to_the_schema_of_the_release() {
    let schema = jsonschema::validator_for(&SCHEMA).expect("a schema");
    for (log, review) in LOGS.iter().zip(REVIEWS.iter()) {
        let faults: Vec<String> =
            schema.iter_errors(&review.results).map(|fault| fault.to_string()).collect();
        assert!(faults.is_empty(), "{HINT}: {log}: {faults:#?}");
    }
}

#[test]
fn the_present_schema_takes_the_results_of_the_release() {
    let schema = jsonschema::validator_for(&present_schema()).expect("a schema");
    let results = &*RESULTS;
    let faults: Vec<String> = schema.iter_errors(results).map(|fault| fault.to_string()).collect();
    assert!(faults.is_empty(), "{HINT}: {faults:#?}");
    assert_eq!(results["format"], review("datasets/demo").results["format"], "{HINT}");
}

#[test]
fn the_release_answers_every_question_so_that_every_section_is_looked_at() {
    let results = &*RESULTS;
    // a review of one maker's log asks nothing of makers, plans no trial and reads none
    let elsewhere = ["makers"];
    for question in REGISTRY.iter().filter(|question| !elsewhere.contains(&question.name)) {
        assert!(results.get(question.name).is_some(), "{}", question.name);
    }
}

#[test]
fn a_review_tells_what_has_changed_since_the_results_of_the_release() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let earlier = folder.path().join("results.json");
    fs::write(&earlier, RESULTS.to_string()).expect("can be written");
    let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
    command.args(["review", "tests/results/twelve", "--json", "--quiet", "--since"]);
    command.arg(earlier).current_dir(env!("CARGO_MANIFEST_DIR"));
    let output = command.output().expect("the program can be called");
    let told: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert!(told["since"].is_object(), "{}", output.status);
}
