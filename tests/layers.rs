//! Who may import whom. Data flow one way: read, check, fit, tell.
//!
//! Every mention of `crate::module` in a module's files counts as an arrow, whether it stands in a `use` line or
//! in the middle of an expression.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// May be imported by every module.
const EVERYWHERE: &str = "whole";

/// Module, and the modules it may import beside.
const ALLOWED: [(&str, &[&str]); 16] = [
    (EVERYWHERE, &[]),
    ("problem", &[]),
    ("catalogue", &[]),
    ("stats", &[]),
    ("demo", &[]),
    ("disk", &["problem"]),
    ("plan", &["disk", "problem", "stats"]),
    ("sums", &["catalogue", "problem", "stats"]),
    ("study", &["catalogue", "problem"]),
    ("intake", &["study", "catalogue", "problem", "disk"]),
    ("finding", &["catalogue", "problem"]),
    ("questions", &["study", "stats", "finding", "catalogue", "problem", "words", "plan", "sums"]),
    ("words", &["finding", "catalogue"]),
    ("plots", &["finding", "words"]),
    ("report", &["finding", "words", "plots", "problem", "plan", "disk"]),
    (
        "cli",
        &[
            "problem",
            "catalogue",
            "stats",
            "demo",
            "disk",
            "study",
            "intake",
            "finding",
            "plan",
            "questions",
            "words",
            "plots",
            "report",
            "sums",
        ],
    ),
];

fn sources() -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::from("src")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("src is readable") {
            let path = entry.expect("src is readable").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// `src/stats/linear.rs` and `src/stats.rs` belong to `stats`.
fn module_of(path: &Path) -> String {
    let first = path.components().nth(1).expect("below src").as_os_str().to_string_lossy();
    first.trim_end_matches(".rs").to_owned()
}

/// The names after `crate::` in the code, including those in a `crate::{a, b}` group.
fn imports(text: &str) -> Vec<String> {
    let code: String = text
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect::<Vec<_>>()
        .join(" ");
    code.match_indices("crate::").flat_map(|(at, found)| named(&code[at + found.len()..])).collect()
}

fn named(after: &str) -> Vec<String> {
    let word = |text: &str| -> String {
        text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
    };
    let Some(group) = after.strip_prefix('{') else { return vec![word(after)] };
    let mut depth = 0;
    let mut names = vec![word(group)];
    for (at, letter) in group.char_indices() {
        match letter {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => names.push(word(&group[at + 1..])),
            _ => {}
        }
    }
    names.retain(|name| !name.is_empty());
    names
}

#[test]
fn no_module_imports_what_the_table_does_not_allow() {
    let allowed: BTreeMap<&str, &[&str]> = ALLOWED.into_iter().collect();
    let mut wrong = Vec::new();
    for path in sources() {
        let module = module_of(&path);
        if matches!(module.as_str(), "lib" | "main") {
            continue;
        }
        let Some(may) = allowed.get(module.as_str()) else {
            wrong.push(format!("{}: the module is not in the table", path.display()));
            continue;
        };
        for import in imports(&fs::read_to_string(&path).expect("a source is text")) {
            if ![module.as_str(), EVERYWHERE].contains(&import.as_str())
                && !may.contains(&import.as_str())
            {
                wrong.push(format!("{}: {module} may not import {import}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_module_in_the_table_exists() {
    let present: Vec<String> = sources().iter().map(|path| module_of(path)).collect();
    for (module, _) in ALLOWED {
        assert!(present.iter().any(|name| name == module), "no module {module} in src");
    }
}

#[test]
fn main_sees_only_the_command_line() {
    let text = fs::read_to_string("src/main.rs").expect("src/main.rs");
    let mentions: Vec<&str> = text.matches("canewright::").collect();
    assert_eq!(
        mentions.len(),
        text.matches("canewright::cli").count(),
        "main imports only the cli"
    );
}

#[test]
fn polars_stays_in_the_reader_and_the_study() {
    for path in sources() {
        let text = fs::read_to_string(&path).expect("a source is text");
        let module = module_of(&path);
        let uses = imports_polars(&text);
        assert!(
            !uses || matches!(module.as_str(), "intake" | "study") || writes_parquet(&path),
            "{}: polars does not reach {module}",
            path.display()
        );
    }
}

/// The one writer of Parquet files: its tables go out as they come in, and nothing of polars leaves it.
fn writes_parquet(path: &Path) -> bool {
    path.ends_with("report/parquet_files.rs")
}

fn imports_polars(text: &str) -> bool {
    let named = |line: &str| ["polars::", "polars_io::"].iter().any(|name| line.contains(name));
    text.lines().any(|line| !line.trim_start().starts_with("//") && named(line))
}

#[test]
fn a_group_of_imports_is_read_name_by_name() {
    assert_eq!(
        imports("use crate::{study::{a, b}, stats, finding::Finding};"),
        ["study", "stats", "finding"]
    );
    assert_eq!(imports("let x = crate::words::digits::number(1.0);"), ["words"]);
    assert_eq!(imports("/// see crate::cli"), Vec::<String>::new());
}
