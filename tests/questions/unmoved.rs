//! What answers must not hang on: the order of rows and of columns, what a lot is called, the unit of a column. And how they move when all marks are stretched.
//!
//! The log is the demo's, in which every question finds something to answer.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use canewright::finding::{Finding, Section};
use canewright::questions::{Options, REGISTRY};
use canewright::report::section_json;
use canewright::study::Study;
use serde_json::Value;

use super::{answered, study};

/// Sums in another order may differ by so much of their size.
const ROUNDING: f64 = 1e-7;

type Table = Vec<Vec<String>>;
type Log = BTreeMap<String, String>;

fn demo() -> Log {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("datasets/demo");
    let files = fs::read_dir(folder).expect("the demo is part of the project");
    let paths = files.map(|file| file.expect("a file of the demo").path());
    let named = |path: PathBuf| {
        let name = path.file_name()?.to_str()?.to_owned();
        let is_log = name.ends_with(".csv") || name == "study.toml";
        is_log.then(|| (name, fs::read_to_string(&path).expect("UTF-8")))
    };
    paths.filter_map(named).collect()
}

fn table(text: &str) -> Table {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let rows = reader.records().map(|row| row.expect("tidy CSV"));
    rows.map(|row| row.iter().map(str::to_owned).collect()).collect()
}

fn text(table: &Table) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in table {
        writer.write_record(row).expect("rows of one length");
    }
    String::from_utf8(writer.into_inner().expect("in memory")).expect("UTF-8 as it came")
}

/// The demo with each of its tables changed.
fn changed(change: impl Fn(&str, &mut Table)) -> Log {
    let mut log = demo();
    for (name, contents) in log.iter_mut().filter(|(name, _)| name.ends_with(".csv")) {
        let mut rows = table(contents);
        change(name, &mut rows);
        *contents = text(&rows);
    }
    log
}

fn place(table: &Table, column: &str) -> Option<usize> {
    table[0].iter().position(|name| name == column)
}

fn every_cell(table: &mut Table, column: &str, change: impl Fn(&str) -> String) {
    let Some(place) = place(table, column) else { return };
    for row in table.iter_mut().skip(1).filter(|row| !row[place].is_empty()) {
        row[place] = change(&row[place]);
    }
}

fn read(log: &Log) -> Study {
    let files: Vec<(&str, &str)> =
        log.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    study(&files)
}

type Answers = BTreeMap<&'static str, Result<Finding, String>>;

/// The demo's own answers, found once.
fn as_it_is() -> &'static Answers {
    static FOUND: OnceLock<Answers> = OnceLock::new();
    FOUND.get_or_init(|| answers(&demo()))
}

/// Every question's answer, or its refusal in words.
fn answers(log: &Log) -> Answers {
    let study = read(log);
    let asked = REGISTRY.iter().filter(|question| (question.asked_of)(&study));
    asked
        .map(|question| {
            let answer = (question.ask)(&study, &Options::default());
            (question.name, answer.map_err(|refusal| refusal.to_string()))
        })
        .collect()
}

fn numbers(finding: &Finding) -> Value {
    serde_json::from_str(&section_json(&finding.section)).expect("our own JSON")
}

/// Where two values differ by more than rounding, in words.
fn difference(at: &str, one: &Value, other: &Value) -> Option<String> {
    match (one, other) {
        (Value::Number(one), Value::Number(other)) => {
            let (one, other) = (one.as_f64()?, other.as_f64()?);
            let apart = (one - other).abs() > ROUNDING * one.abs().max(1.0);
            apart.then(|| format!("{at}: {one} and {other}"))
        }
        (Value::Array(one), Value::Array(other)) if one.len() == other.len() => {
            let pairs = one.iter().zip(other).enumerate();
            pairs
                .filter_map(|(place, (one, other))| {
                    difference(&format!("{at}[{place}]"), one, other)
                })
                .next()
        }
        (Value::Object(one), Value::Object(other)) if one.len() == other.len() => one
            .iter()
            .filter_map(|(key, value)| difference(&format!("{at}.{key}"), value, other.get(key)?))
            .next(),
        _ => (one != other).then(|| format!("{at}: {one} and {other}")),
    }
}

fn sentences(finding: &Finding) -> Vec<&String> {
    std::iter::once(&finding.answer).chain(&finding.more).chain(&finding.caveats).collect()
}

/// The demo's answers: every sentence the same, and every number but for rounding.
fn assert_answered_alike(other: &Log) {
    let (one, other) = (as_it_is(), answers(other));
    assert!(one.keys().eq(other.keys()));
    for (question, answer) in one {
        match (answer, &other[question]) {
            (Ok(one), Ok(other)) => {
                let differs = difference(question, &numbers(one), &numbers(other));
                assert_eq!(differs, None);
                assert_eq!(sentences(one), sentences(other), "{question}");
            }
            (Err(one), Err(other)) => assert_eq!(one, other),
            (one, other) => panic!("{question}: {one:?} and {other:?}"),
        }
    }
}

#[test]
fn no_answer_hangs_on_the_order_of_the_rows() {
    let shuffled = changed(|_, table| {
        let rows = table.len() - 1;
        // a step that shares no factor with the number of rows visits each once
        let step = (rows / 3..).find(|step| gcd(*step, rows) == 1).expect("a prime is among them");
        let (head, body) = (table[0].clone(), table[1..].to_vec());
        *table = std::iter::once(head)
            .chain((0..rows).map(|row| body[(row * step + 5) % rows].clone()))
            .collect();
    });
    assert_answered_alike(&shuffled);
}

/// Columns of a step of the making are told in the file's order, so sentences may name them in another one; what is told of each is the same.
#[test]
fn nothing_told_of_a_factor_hangs_on_the_order_of_the_columns() {
    let turned = changed(|_, table| table.iter_mut().for_each(|row| row.reverse()));
    let (one, other) = (list(plain("factors")), list(&answered("factors", &read(&turned))));
    assert_eq!(one.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>());
    for (name, told) in &one {
        assert_eq!(difference(name, told, &other[name]), None);
    }
}

/// The factors of `results.json` by name and level.
fn list(finding: &Finding) -> BTreeMap<String, Value> {
    let section = numbers(finding);
    let factors = section["list"].as_array().expect("a list of factors");
    let name = |factor: &Value| format!("{} {}", factor["factor"], factor["level"]);
    factors.iter().map(|factor| (name(factor), with_names_in_order(factor.clone()))).collect()
}

fn with_names_in_order(mut factor: Value) -> Value {
    for value in factor.as_object_mut().into_iter().flat_map(|keys| keys.values_mut()) {
        if let Some(names) = value.as_array_mut().filter(|list| list.iter().all(Value::is_string)) {
            names.sort_by_key(|name| name.to_string());
        }
    }
    factor
}

/// Draws go by the order of the lots' names; what is not drawn is the same.
#[test]
fn no_effect_hangs_on_what_the_lots_are_called() {
    let renamed = changed(|_, table| {
        every_cell(table, "lot", |name| name.chars().rev().collect());
        every_cell(table, "tube", |name| name.chars().rev().collect());
    });
    let Section::Factors(one) = &plain("factors").section else { panic!("factors") };
    let other = super::factors(&read(&renamed));
    for (one, other) in one.list.iter().zip(&other.list) {
        assert_eq!((&one.factor, one.verdict), (&other.factor, other.verdict));
        for (one_end, other_end) in
            [(one.estimate, other.estimate), (one.low, other.low), (one.high, other.high)]
        {
            let apart = one_end.zip(other_end).map_or(0.0, |(one, other)| (one - other).abs());
            assert!(apart < 1e-6, "{}: {one_end:?} and {other_end:?}", one.factor);
        }
    }
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[test]
fn no_answer_hangs_on_the_unit_of_a_column() {
    let inches = changed(|_, table| {
        every_cell(table, "tube_diameter_mm", |cell| {
            format!("{:.15}", cell.parse::<f64>().expect("millimetres") / 25.4)
        });
        if let Some(place) = place(table, "tube_diameter_mm") {
            table[0][place] = "tube_diameter_in".to_owned();
        }
    });
    assert_answered_alike(&inches);
}

/// Marks from 1 to 10 become marks from 5 to 23, and so do the mark of a good reed and the smallest difference worth having.
fn stretched() -> Log {
    let mut log = changed(|name, table| {
        if name == "ratings.csv" {
            for criterion in ["overall", "response", "pitch"] {
                every_cell(table, criterion, |cell| {
                    (2.0 * cell.parse::<f64>().expect("a mark") + 3.0).to_string()
                });
            }
        }
    });
    let settings = log.get_mut("study.toml").expect("the demo has a study file");
    for (was, is) in [
        ("scale = [1, 10]", "scale = [5, 23]"),
        ("good_at = 6.5", "good_at = 16"),
        ("worthwhile = 0.5", "worthwhile = 1.0"),
    ] {
        assert!(settings.contains(was), "{was} is in the demo's study file");
        *settings = settings.replace(was, is);
    }
    log
}

fn plain(question: &str) -> &'static Finding {
    as_it_is()[question].as_ref().unwrap_or_else(|why| panic!("{question} was refused: {why}"))
}

fn on_stretched_marks(question: &str) -> Finding {
    answered(question, &read(&stretched()))
}

fn twice(one: Option<f64>, other: Option<f64>, and: f64, what: &str) {
    let expected = one.map(|one| 2.0 * one + and);
    let apart = expected.zip(other).map(|(expected, other)| (expected - other).abs());
    assert_eq!(one.is_some(), other.is_some(), "{what}");
    assert!(apart.is_none_or(|apart| apart < 1e-6), "{what}: {one:?} and {other:?}");
}

#[test]
fn effects_stretch_with_the_marks_and_verdicts_stay() {
    let of = |finding: &Finding| match &finding.section {
        Section::Factors(section) => section.list.clone(),
        other => panic!("{other:?}"),
    };
    let (plain, stretched) = (of(plain("factors")), of(&on_stretched_marks("factors")));
    assert_eq!(plain.len(), stretched.len());
    for (one, other) in plain.iter().zip(&stretched) {
        assert_eq!((&one.factor, &one.verdict), (&other.factor, &other.verdict));
        twice(one.estimate, other.estimate, 0.0, &one.factor);
        twice(one.low, other.low, 0.0, &one.factor);
        twice(one.high, other.high, 0.0, &one.factor);
    }
}

#[test]
fn lots_move_with_the_marks_and_are_advised_alike() {
    let of = |finding: &Finding| match &finding.section {
        Section::Lots(section) => section.list.clone(),
        other => panic!("{other:?}"),
    };
    let (plain, stretched) = (of(plain("lots")), of(&on_stretched_marks("lots")));
    assert_eq!(plain.len(), stretched.len());
    for (one, other) in plain.iter().zip(&stretched) {
        assert_eq!((&one.lot, &one.advice), (&other.lot, &other.advice));
        twice(one.pooled_mean, other.pooled_mean, 3.0, &one.lot);
        twice(one.low, other.low, 3.0, &one.lot);
        twice(one.high, other.high, 3.0, &one.lot);
    }
}

#[test]
fn what_is_no_rating_does_not_move_with_the_marks() {
    for question in ["losses", "life"] {
        let (plain, stretched) = (plain(question), on_stretched_marks(question));
        assert_eq!(difference(question, &numbers(plain), &numbers(&stretched)), None);
    }
}

#[test]
fn a_practice_is_advised_alike_on_stretched_marks() {
    let of = |finding: &Finding| match &finding.section {
        Section::Decide(answers) => answers.clone(),
        other => panic!("{other:?}"),
    };
    let (plain, stretched) = (of(plain("decide")), of(&on_stretched_marks("decide")));
    for (one, other) in plain.iter().zip(&stretched) {
        assert_eq!(one.recommendation, other.recommendation);
        assert!((one.regret_stay - other.regret_stay).abs() < 1e-6);
        for (one, other) in one.candidates.iter().zip(&other.candidates) {
            twice(one.difference, other.difference, 0.0, "the rating");
            assert_eq!(one.good_per_ten.is_some(), other.good_per_ten.is_some());
        }
    }
}
