//! Every verb's help ends with examples, and every example works as it stands.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use super::{Desk, dataset};

/// So many pieces of the demo log are enough to answer or to refuse, and do not take long.
const PIECES: usize = 60;

/// The logs that the examples speak of, each the beginning of the demo log.
fn desk() -> Desk {
    let desk = Desk::new();
    for (name, ending) in [("my_log", ""), ("ann_log", ""), ("ben_log", "\n")] {
        // one more line end makes it another file: a copy would be refused
        write_the_beginning(&desk.path(name), ending);
    }
    let sums = desk.printed(&["products", "hardness", "forming_days", "--of", "my_log"]);
    fs::write(desk.path("sums.csv"), sums).expect("the desk can be written to");
    desk
}

fn write_the_beginning(folder: &Path, ending: &str) {
    let read = |file: &str| {
        fs::read_to_string(Path::new(&dataset("demo")).join(file)).expect("part of the demo")
    };
    let reeds = read("reeds.csv");
    let of_row = |row: &str| row.split(',').next().unwrap_or_default().to_owned();
    let kept: BTreeSet<String> = reeds.lines().take(PIECES + 1).map(of_row).collect();
    fs::create_dir_all(folder).expect("the desk can be written to");
    for file in ["reeds.csv", "ratings.csv", "readings.csv", "profile.csv"] {
        let text = read(file);
        let rows: Vec<&str> = text.lines().filter(|row| kept.contains(&of_row(row))).collect();
        assert!(rows.len() > PIECES / 2, "{file} begins with the reed");
        fs::write(folder.join(file), rows.join("\n") + "\n" + ending)
            .expect("the desk can be written to");
    }
    for file in ["lots.csv", "study.toml"] {
        fs::write(folder.join(file), read(file) + ending).expect("the desk can be written to");
    }
}

/// The verbs that a help text lists.
fn verbs(help: &str) -> Vec<String> {
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let listed = listed.take_while(|line| !line.is_empty());
    let names = listed.filter_map(|line| line.strip_prefix("  ")?.split(' ').next());
    names.filter(|name| !name.is_empty() && *name != "help").map(str::to_owned).collect()
}

/// The words of each example, as a shell would part them.
fn examples(help: &str) -> Vec<Vec<String>> {
    let joined = help.replace('\n', " ").replace("  ", " ");
    let texts = joined.split("Example: canewright ").skip(1);
    texts.map(|text| words(text.trim())).collect()
}

fn words(text: &str) -> Vec<String> {
    let parts = text.split('"').enumerate();
    let words = parts.flat_map(|(place, part)| match place % 2 {
        0 => part.split_whitespace().map(str::to_owned).collect(),
        _ => vec![part.to_owned()],
    });
    words.collect()
}

fn help(desk: &Desk, verb: &[&str]) -> String {
    desk.printed(&[verb, &["--help"]].concat())
}

/// All calls that can be made, `trial plan` as one.
fn all_verbs(desk: &Desk) -> Vec<Vec<String>> {
    let mut all = Vec::new();
    for verb in verbs(&help(desk, &[])) {
        let below = verbs(&help(desk, &[&verb]));
        all.extend(below.iter().map(|below| vec![verb.clone(), below.clone()]));
        all.push(vec![verb]);
    }
    all
}

fn examples_of(desk: &Desk, verb: &[String]) -> Vec<Vec<String>> {
    examples(&help(desk, &verb.iter().map(String::as_str).collect::<Vec<_>>()))
}

#[test]
fn every_verb_has_an_example_of_itself() {
    let desk = Desk::new();
    let all = all_verbs(&desk);
    assert!(all.len() > 20, "{all:?}");
    for verb in &all {
        let examples = examples_of(&desk, verb);
        assert!(!examples.is_empty(), "{verb:?}");
        assert!(examples.iter().all(|example| example.starts_with(verb)), "{verb:?}: {examples:?}");
    }
}

#[test]
fn every_example_of_the_help_works_as_it_stands() {
    let desk = desk();
    let all = all_verbs(&desk);
    let told = all.iter().flat_map(|verb| examples_of(&desk, verb)).chain(examples_of(&desk, &[]));
    let calls: BTreeSet<Vec<String>> = told.collect();
    // an example may take up what another one left: the earlier review before the later, the plan before it is read
    let is_later = |call: &Vec<String>| call.iter().any(|word| word == "--since" || word == "read");
    let (later, first): (Vec<_>, Vec<_>) = calls.into_iter().partition(is_later);
    assert_eq!(later.len(), 2, "{later:?}");
    for call in first.iter().chain(&later) {
        let words: Vec<&str> = call.iter().map(String::as_str).collect();
        let output = desk.call(&words).output().expect("the program can be called");
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        // reeds of a trial that are not made yet are no fault of the plan
        assert!(matches!(output.status.code(), Some(0)), "{call:?}: {told}");
        assert!(!output.stdout.is_empty(), "{call:?}");
    }
}
