//! What a shell completes, and the pages that `man` shows.

use std::fs;
use std::process::Command;

use canewright::questions::REGISTRY;
use predicates::prelude::*;

use super::{Desk, names};

#[test]
fn each_shell_gets_a_script_that_knows_every_question() {
    let desk = Desk::new();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = desk.printed(&["completions", shell]);
        for question in REGISTRY {
            assert!(script.contains(question.name), "{shell}: {}", question.name);
        }
    }
    assert!(desk.files().is_empty());
}

#[test]
fn bash_completes_verbs_and_options_by_the_script() {
    // where there is no bash there is nothing to complete for
    if Command::new("bash").arg("--version").output().is_err() {
        return;
    }
    let desk = Desk::new();
    fs::write(desk.path("completions.bash"), desk.printed(&["completions", "bash"]))
        .expect("written");
    let complete = |words: &str| {
        let last = words.split(' ').count() - 1;
        let call = format!(
            "source ./completions.bash && complete -p canewright >&2 && COMP_WORDS=({words}) && COMP_CWORD={last} && \
             _canewright canewright \"${{COMP_WORDS[{last}]}}\" && echo \"${{COMPREPLY[*]}}\""
        );
        let output = Command::new("bash").args(["-c", &call]).current_dir(desk.0.path()).output();
        let output = output.expect("bash can be called");
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success() && told.contains("canewright"), "{words}: {told}");
        String::from_utf8(output.stdout).expect("UTF-8").trim().to_owned()
    };
    assert_eq!(complete("canewright fac"), "factors");
    assert_eq!(complete("canewright lots --adj"), "--adjusted");
    assert_eq!(complete("canewright trial pl"), "plan");
}

#[test]
fn the_manual_has_a_page_for_the_program_and_one_for_each_verb() {
    let desk = Desk::new();
    desk.call(&["manual", "man/man1"]).assert().success().stdout(predicate::str::contains("pages"));
    let pages = names(&desk.path("man/man1"));
    for question in REGISTRY {
        assert!(pages.contains(&format!("canewright-{}.1", question.name)), "{pages:?}");
    }
    for page in ["canewright.1", "canewright-trial-plan.1", "canewright-manual.1"] {
        assert!(pages.contains(&page.to_owned()), "{pages:?}");
    }
    for page in &pages {
        let text = fs::read_to_string(desk.path("man/man1").join(page)).expect("UTF-8");
        for part in [".TH ", ".SH NAME", ".SH SYNOPSIS", ".SH DESCRIPTION", ".SH NOTES"] {
            assert_eq!(
                text.lines().filter(|line| line.starts_with(part)).count(),
                1,
                "{page}: {part}"
            );
        }
        assert!(text.contains("Example: canewright"), "{page}: {text}");
        let is_shown = |line: &str| {
            !line.starts_with(['.', '\'']) || line[1..].starts_with(char::is_alphabetic)
        };
        assert!(text.lines().all(is_shown), "{page}: no line is taken for a request by mistake");
    }
}

#[test]
fn the_pages_may_be_written_again_and_nothing_else_of_the_folder_is_touched() {
    let desk = Desk::with_log("man1", &[("other.1", "mine"), ("canewright.1", "old")]);
    desk.call(&["manual", "man1"]).assert().success();
    assert_eq!(fs::read_to_string(desk.path("man1/other.1")).expect("kept"), "mine");
    assert_ne!(fs::read_to_string(desk.path("man1/canewright.1")).expect("written"), "old");
}

#[test]
fn the_formatter_shows_each_example_on_a_line_of_its_own() {
    // where pages cannot be formatted their structure is all that can be looked at, above
    if Command::new("groff").arg("--version").output().is_err() {
        return;
    }
    let desk = Desk::new();
    desk.call(&["manual", "man1"]).assert().success();
    let page = desk.path("man1/canewright-lots.1");
    let output = Command::new("groff").args(["-man", "-Tutf8", "-ww"]).arg(page).output();
    let output = output.expect("groff can be called");
    let shown = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
    let lines = shown.lines().filter(|line| line.trim().starts_with("Example: canewright lots"));
    assert_eq!(lines.count(), 2, "{shown}");
}
