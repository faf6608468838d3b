//! What is shown of long work: on a terminal, and nowhere else.

use std::path::Path;
use std::process::Command;

use super::Desk;

/// What a review shows on a terminal, by the program that makes one; none where there is no such program.
fn on_a_terminal(options: &str) -> Option<String> {
    let desk = Desk::new();
    let log = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/results/twelve");
    let program = env!("CARGO_BIN_EXE_canewright");
    let call = format!("{program} review {} --out report {options}", log.display());
    let output = Command::new("script")
        .args(["-qec", &call, "/dev/null"])
        .current_dir(desk.0.path())
        .output();
    output.ok().map(|output| String::from_utf8_lossy(&output.stdout).into_owned())
}

#[test]
fn a_review_counts_its_questions_on_a_terminal_and_keeps_quiet_when_told() {
    let Some(shown) = on_a_terminal("") else { return };
    assert!(shown.contains("The review is in report"), "{shown}");
    let bar = regex::Regex::new(r"[0-9]+ of 1[0-9]: ").expect("a pattern");
    assert!(bar.is_match(&shown), "{shown}");
    let quiet = on_a_terminal("--quiet").expect("it could be called before");
    assert!(quiet.contains("The review is in report") && !bar.is_match(&quiet), "{quiet}");
}
