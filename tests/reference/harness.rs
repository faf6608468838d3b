//! Runs the checks, keeps the account of agreement and tests itself.

use crate::reference::case::{Agreement, Case, Check, folder, place};
use libtest_mimic::{Failed, Trial};
use std::collections::BTreeMap;
use std::panic::catch_unwind;
use std::sync::Mutex;

/// Cases whose data may not be copied.
const NOT_TO_BE_COPIED: [&str; 3] = ["nist_uni_lew", "sweetspot_engelstad", "permutation_darwin"];

static AGREEMENTS: Mutex<Vec<Agreement>> = Mutex::new(Vec::new());

/// A case as one trial; ignored where its data may not be copied and are not at hand.
pub fn trial(case: &'static str, check: Check) -> Trial {
    let absent = NOT_TO_BE_COPIED.contains(&case) && place(case).is_none();
    let run = move || {
        let mut opened = Case::open(case);
        check(&mut opened);
        AGREEMENTS.lock().map_err(|error| error.to_string())?.extend(opened.finish());
        Ok(())
    };
    Trial::test(case, run).with_ignored_flag(absent)
}

/// Prints how near every case came: the worst value of each, or all of them.
pub fn print_agreements() {
    let agreements = AGREEMENTS.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    let mut cases: BTreeMap<&str, Vec<&Agreement>> = BTreeMap::new();
    for one in agreements.iter() {
        cases.entry(&one.case).or_default().push(one);
    }
    let all = std::env::var("CANEWRIGHT_DIGITS").is_ok_and(|value| value == "all");
    println!(
        "{:<28} {:<32} digits of agreement (log relative error, at most 15)",
        "case", "quantity"
    );
    for (case, mut values) in cases {
        values.sort_by(|a, b| a.digits.total_cmp(&b.digits));
        let shown = if all { values.len() } else { 1 };
        for one in &values[..shown] {
            println!("{case:<28} {:<32} {:4.1}", one.quantity, one.digits);
        }
        if !all {
            println!("{:<28} is the worst of {}", "", values.len());
        }
    }
}

/// The harness must be able to fail, and every case must be looked at.
pub fn own_tests(checked: Vec<&'static str>) -> Vec<Trial> {
    vec![
        Trial::test("every_case_names_its_source_and_licence", every_case_names_its_source),
        Trial::test("every_case_is_checked", move || every_case_is_checked(&checked)),
        Trial::test("a_value_outside_its_tolerance_fails", || {
            // certified 1e7 + 2 to a relative 1e-11
            panics_with("off by", || {
                Case::open("nist_uni_numacc1").compare("mean", 10_000_002.01);
            })
        }),
        Trial::test("a_result_that_is_no_number_fails", || {
            panics_with("off by", || Case::open("nist_uni_numacc1").compare("mean", f64::NAN))
        }),
        Trial::test("a_value_in_neither_list_fails", || {
            panics_with("nobody looks at", || {
                let mut case = Case::open("nist_uni_numacc1");
                case.compare("mean", 10_000_002.0);
                case.finish();
            })
        }),
    ]
}

fn panics_with(part: &str, run: impl FnOnce() + std::panic::UnwindSafe) -> Result<(), Failed> {
    let Err(panic) = catch_unwind(run) else { return Err("did not fail".into()) };
    let message = panic.downcast_ref::<String>().cloned().unwrap_or_default();
    if message.contains(part) { Ok(()) } else { Err(format!("failed with {message:?}").into()) }
}

/// The names of the folders that hold a case.
fn copied_cases() -> Result<Vec<String>, Failed> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder())? {
        let path = entry?.path();
        if path.is_dir() {
            names.push(path.file_name().unwrap_or_default().to_string_lossy().into_owned());
        }
    }
    Ok(names)
}

fn every_case_names_its_source() -> Result<(), Failed> {
    for name in copied_cases()? {
        let text = std::fs::read_to_string(folder().join(&name).join("expected.json"))?;
        let case: serde_json::Value = serde_json::from_str(&text)?;
        for field in ["source", "licence", "computed_with", "verification"] {
            if case[field].is_null() {
                return Err(format!("{name} lacks {field}").into());
            }
        }
        if NOT_TO_BE_COPIED.contains(&name.as_str()) {
            return Err(format!("{name} may not be copied").into());
        }
    }
    Ok(())
}

fn every_case_is_checked(checked: &[&str]) -> Result<(), Failed> {
    let copied = copied_cases()?;
    let known = copied.iter().map(String::as_str).chain(NOT_TO_BE_COPIED);
    let forgotten: Vec<&str> = known.filter(|name| !checked.contains(name)).collect();
    if forgotten.is_empty() { Ok(()) } else { Err(format!("nobody checks {forgotten:?}").into()) }
}
