//! What a distribution builds from: the archive of `cargo package`.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

/// The files of the archive.
fn packed() -> BTreeSet<String> {
    let mut command = Command::new(env!("CARGO"));
    command.args(["package", "--list", "--locked", "--offline", "--allow-dirty"]);
    let output = command.current_dir(env!("CARGO_MANIFEST_DIR")).output().expect("cargo");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told = String::from_utf8(output.stdout).expect("UTF-8");
    // the separator of the system's paths
    told.lines().map(|line| line.replace('\\', "/")).collect()
}

#[test]
fn the_archive_holds_the_licences_and_every_page_and_picture_that_its_pages_lead_to() {
    let packed = packed();
    for file in ["LICENSE-MIT", "LICENSE-APACHE", "Cargo.lock", "README.md"] {
        assert!(packed.contains(file), "{file}");
    }
    for page in ["README.md", "notebooks/README.md", "datasets/README.md", "DEVELOPERS.md"] {
        for link in links(page) {
            let folder = Path::new(page).parent().unwrap_or(Path::new(""));
            let target = folder.join(&link).display().to_string();
            assert!(packed.contains(&target), "{page} leads to {target}");
        }
    }
}

/// What a page of the project leads to inside of the project.
fn links(page: &str) -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join(page)).expect("a page");
    let link = regex::Regex::new(r"\]\(([^)#:]+)\)").expect("a pattern");
    link.captures_iter(&text).map(|found| found[1].to_owned()).collect()
}

#[test]
fn the_archive_holds_what_its_tests_read_and_nothing_that_a_build_leaves() {
    let packed = packed();
    let is_below = |folder: &str| packed.iter().any(|file| file.starts_with(folder));
    for folder in ["datasets/demo/", "reports/demo/", "tests/reference/", "tests/styles/"] {
        assert!(is_below(folder), "{folder}");
    }
    for folder in ["target/", "report/", "tests/browser/node_modules/"] {
        assert!(!is_below(folder), "{folder}");
    }
}

#[test]
fn the_licence_of_every_crate_of_the_lock_file_is_listed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |file: &str| std::fs::read_to_string(root.join(file)).expect("a file");
    let lock: toml::Table = read("Cargo.lock").parse().expect("TOML");
    let crates = lock["package"].as_array().expect("a list");
    let locked: BTreeSet<&str> = crates
        .iter()
        .filter(|one| one.get("source").is_some())
        .filter_map(|one| one["name"].as_str())
        .collect();
    let page = read("LICENSE-THIRD-PARTY.md");
    // a row: licence, how many, which
    let rows = page.lines().filter_map(|line| line.split('|').nth(3)).skip(2);
    let listed: BTreeSet<&str> = rows.flat_map(|names| names.split(',')).map(str::trim).collect();
    let differing: Vec<_> = locked.symmetric_difference(&listed).collect();
    assert!(
        differing.is_empty(),
        "run tests/python/licences.py, then look at .deny.toml: {differing:?}"
    );
}
