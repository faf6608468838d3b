//! The committed sample review is what the program gives, byte for byte.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

const COMMAND: &str = "cargo run -- review datasets/demo --out reports/demo";

/// Every file below a folder, by its path from there.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(&next).unwrap_or_else(|why| panic!("{}: {why}", next.display())) {
            let path = entry.expect("a readable folder").path();
            if path.is_dir() {
                open.push(path);
                continue;
            }
            let name = path.strip_prefix(folder).expect("below the folder").display().to_string();
            found.insert(name, fs::read(&path).expect("a readable file"));
        }
    }
    found
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn the_committed_review_of_the_demo_is_what_the_program_gives() {
    let fresh = tempfile::tempdir().expect("a folder for the test");
    let out = fresh.path().join("demo");
    assert_cmd::cargo::cargo_bin_cmd!("canewright")
        .current_dir(root())
        .args(["review", "datasets/demo", "--out"])
        .arg(&out)
        .assert()
        .success();
    let (committed, given) = (files(&root().join("reports/demo")), files(&out));
    let names = committed.keys().chain(given.keys());
    let mut differing: Vec<&String> =
        names.filter(|name| committed.get(*name) != given.get(*name)).collect();
    differing.sort();
    differing.dedup();
    assert!(
        differing.is_empty(),
        "reports/demo is out of date in {differing:?}. If the program was changed on purpose, run\n  {COMMAND}\nlook at what changed, and commit it."
    );
}

#[test]
fn the_folder_says_how_it_is_rebuilt_and_that_its_log_is_invented() {
    let readme = fs::read_to_string(root().join("reports/README.md")).expect("a README");
    assert!(readme.contains(COMMAND) && readme.contains("invented"));
}

#[test]
fn what_the_readme_shows_and_links_to_is_there() {
    let readme = fs::read_to_string(root().join("README.md")).expect("a README");
    let links: Vec<&str> = readme
        .split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
        .filter(|link| !link.contains("://") && !link.starts_with('#'))
        .collect();
    assert!(links.len() > 3, "{links:?}");
    for link in links {
        let path = link.split('#').next().unwrap_or(link);
        assert!(root().join(path).exists(), "{link}");
    }
}

#[test]
fn the_sample_holds_no_path_of_the_machine_it_was_made_on() {
    for (name, bytes) in files(&root().join("reports/demo")) {
        let text = String::from_utf8(bytes).expect("UTF-8");
        let home = root().display().to_string();
        assert!(!text.contains(&home) && !text.contains("/home/"), "{name}");
    }
}
