//! What every question must have, asked of each by a program.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use canewright::questions::{REGISTRY, find};

use super::{ask, reeds};

fn verbs() -> BTreeSet<String> {
    let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
    let printed = command.arg("--help").output().expect("the program can be called").stdout;
    let help = String::from_utf8(printed).expect("UTF-8");
    let commands =
        help.split("Commands:").nth(1).expect("a list of verbs").split("Options:").next();
    commands
        .into_iter()
        .flat_map(str::lines)
        .filter_map(|line| line.strip_prefix("  ")?.split_whitespace().next().map(str::to_owned))
        .collect()
}

#[test]
fn every_question_has_a_name_of_its_own_and_is_found_by_it() {
    let names: BTreeSet<&str> = REGISTRY.iter().map(|question| question.name).collect();
    assert_eq!(names.len(), REGISTRY.len());
    for name in names {
        assert!(name.chars().all(|letter| letter.is_ascii_lowercase()), "{name}");
        assert_eq!(find(name).map(|question| question.name), Some(name));
    }
    assert!(find("astrology").is_none());
}

#[test]
fn every_question_is_a_question_and_has_one_line_of_help() {
    for question in &REGISTRY {
        assert!(question.asked.ends_with('?') && question.asked.len() > 10, "{}", question.asked);
        assert!(question.help.len() > 20 && !question.help.contains('\n'), "{}", question.help);
    }
}

#[test]
fn every_question_has_a_verb_with_a_help_of_its_own() {
    let verbs = verbs();
    for question in &REGISTRY {
        assert!(verbs.contains(question.name), "{} among {verbs:?}", question.name);
        let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
        let output = command.args([question.name, "--help"]).output().expect("called");
        assert!(output.status.success() && !output.stdout.is_empty(), "{}", question.name);
    }
}

#[test]
fn every_verb_is_a_question_or_one_of_the_eleven_that_are_none() {
    let others = [
        "check",
        "completions",
        "demo",
        "handout",
        "help",
        "manual",
        "products",
        "review",
        "schema",
        "start",
        "trial",
    ];
    for verb in verbs() {
        assert!(others.contains(&verb.as_str()) || find(&verb).is_some(), "{verb}");
    }
}

#[test]
fn every_question_has_its_line_in_the_readme() {
    let readme = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md"))
        .expect("a README");
    for question in &REGISTRY {
        let line = format!("| `{} LOG` |", question.name);
        assert!(readme.contains(&line), "{line}");
    }
}

#[test]
fn every_question_has_its_module_with_method_source_assumptions_and_refusal() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/questions");
    for question in &REGISTRY {
        let places = [
            folder.join(format!("{}.rs", question.name)),
            folder.join(question.name).join("mod.rs"),
        ];
        let text = places.iter().find_map(|place| fs::read_to_string(place).ok());
        let text = text.unwrap_or_else(|| panic!("no module for {}", question.name));
        let opening: String = text.lines().take_while(|line| line.starts_with("//!")).collect();
        assert!(
            opening.starts_with(&format!("//! {}", question.asked)),
            "{}: {opening}",
            question.name
        );
        for part in ["**Method.**", "**Assumptions.**", "**Refuses**"] {
            assert!(opening.contains(part), "{}: {part}", question.name);
        }
    }
}

#[test]
fn every_question_refuses_a_log_of_one_piece_and_says_what_it_would_take() {
    let study = reeds("reed,lot,hardness,rating\n1,A,12,9\n", "");
    for question in &REGISTRY {
        let refusal = ask(question.name, &study).expect_err(question.name);
        assert_eq!(refusal.question, question.name);
        assert!(refusal.found.ends_with('.') && refusal.takes.starts_with("It takes"), "{refusal}");
    }
}
