//! What surrounds a call: names, the language and place of the computer, a terminal of few columns, ends of pipes that are shut.

use std::collections::BTreeMap;
use std::fs;

use super::shell::shell;
use super::{Desk, SOUND, dataset, files, names};

/// What a review of the sound log prints and writes with these variables set, and all others of that kind gone.
fn reviewed(variables: &[(&str, &str)]) -> (Vec<u8>, BTreeMap<String, Vec<u8>>) {
    let desk = Desk::with_log("log", &SOUND);
    let mut call = desk.call(&["review", "log", "--out", "report"]);
    for name in
        ["HOME", "LANG", "LC_ALL", "LC_NUMERIC", "TZ", "COLUMNS", "NO_COLOR", "TERM", "USER"]
    {
        call.env_remove(name);
    }
    let output = call.envs(variables.iter().copied()).output().expect("called");
    assert_eq!(
        output.status.code(),
        Some(0),
        "{variables:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    (output.stdout, files(&desk.path("report")))
}

#[test]
fn the_answers_do_not_depend_on_the_language_the_place_or_the_terminal_of_the_computer() {
    let plain = reviewed(&[]);
    for variables in [
        vec![("LANG", "tr_TR.UTF-8"), ("LC_ALL", "tr_TR.UTF-8")],
        vec![("LC_ALL", "de_DE.UTF-8"), ("LC_NUMERIC", "de_DE.UTF-8")],
        vec![("LC_ALL", "C")],
        vec![("LC_ALL", "POSIX"), ("LANG", "not a locale")],
        vec![("TZ", "Pacific/Kiritimati")],
        vec![("TZ", ":/no/such/zone")],
        vec![("COLUMNS", "20")],
        vec![("NO_COLOR", "1")],
        vec![("TERM", "dumb"), ("HOME", "/no/such/home")],
    ] {
        assert!(reviewed(&variables) == plain, "{variables:?}");
    }
}

#[test]
fn a_plan_of_today_is_dated_alike_in_every_time_zone() {
    let day = |zone: &str| {
        let desk = Desk::new();
        let call = ["trial", "plan", &dataset("demo"), "--json", "--quiet"];
        let output = desk.call(&call).env("TZ", zone).output().expect("called");
        super::json(&String::from_utf8_lossy(&output.stdout))["made_on"].clone()
    };
    // midnight may fall between two calls, but not between four of them twice
    let same = |_: &u8| day("Pacific/Kiritimati") == day("Pacific/Niue");
    assert!([0, 1].iter().any(same));
}

#[test]
fn a_reader_that_has_seen_enough_ends_nothing_by_halves() {
    let desk = Desk::with_log("log", &SOUND);
    for verb in ["review log", "check log", "review log --json", "factors log", "schema", "--help"]
    {
        let quiet = if verb.contains("log") { "--quiet" } else { "" };
        let call = format!("{{ \"$PROGRAM\" {verb} {quiet}; echo $? >&3; }} 3> status | true");
        let output = shell(&desk, &call).output().expect("called");
        assert!(output.stderr.is_empty(), "{verb}: {}", String::from_utf8_lossy(&output.stderr));
        let status = fs::read_to_string(desk.path("status")).expect("a status");
        assert_eq!(status, "0\n", "{verb}");
    }
    assert!(desk.path("canewright_review/review.html").is_file());
}

#[test]
fn a_call_without_standard_input_output_or_error_is_carried_out() {
    let desk = Desk::with_log("log", &SOUND);
    for (shut, out) in [("<&-", "a"), (">&-", "b"), ("2>&-", "c"), ("<&- >&- 2>&-", "d")] {
        shell(&desk, &format!("exec \"$PROGRAM\" review log --out {out} {shut}"))
            .assert()
            .success();
    }
    // what was printed went nowhere, and not into the first file that was opened
    for out in ["b", "c", "d"] {
        assert!(files(&desk.path(out)) == files(&desk.path("a")), "{out}");
    }
}

#[cfg(unix)]
#[test]
fn names_that_are_no_text_are_read_and_written_all_the_same() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let desk = Desk::with_log("log", &SOUND);
    let odd = |bytes: &[u8]| OsStr::from_bytes(bytes).to_owned();
    let (log, out) = (odd(b"l\xF6g"), odd(b"b\xE9richt"));
    if fs::rename(desk.path("log"), desk.0.path().join(&log)).is_err() {
        // this disk takes only text for a name
        return;
    }
    let folder = desk.0.path().join(&log);
    fs::rename(folder.join("reeds.csv"), folder.join(odd(b"st\xFCcke.csv"))).expect("moved");
    for _ in 0..2 {
        let mut call = desk.call(&["review"]);
        call.arg(&log).arg("--quiet").arg("--out").arg(&out).assert().success();
    }
    let mut single = desk.call(&["check"]);
    single.arg(folder.join(odd(b"st\xFCcke.csv"))).assert().success();
    assert!(desk.0.path().join(&out).join("review.html").is_file());
    let beside = fs::read_dir(desk.0.path()).expect("the desk").count();
    assert_eq!(beside, 2, "the log, the review and nothing else");
}

#[test]
fn the_longest_name_that_a_disk_takes_is_taken() {
    let desk = Desk::with_log("log", &SOUND);
    let name = "ä".repeat(127);
    for _ in 0..2 {
        desk.call(&["review", "log", "--quiet", "--out", &name]).assert().success();
    }
    assert!(desk.path(&name).join("review.html").is_file());
    let told = predicates::str::contains("no file can have that name");
    desk.call(&["review", "log", "--quiet", "--out", &"ä".repeat(128)])
        .assert()
        .code(2)
        .stderr(told.clone());
    desk.call(&["check", &"x".repeat(5000)]).assert().code(2).stderr(told);
}

#[test]
fn a_log_and_a_review_far_down_a_deep_path_are_read_and_written() {
    let desk = Desk::new();
    // longer than the 260 letters at which some systems once stopped
    let deep = vec!["a folder of the workshop"; 40].join("/");
    fs::create_dir_all(desk.path(&deep).join("log")).expect("made");
    for (name, text) in SOUND {
        fs::write(desk.path(&deep).join("log").join(name), text).expect("written");
    }
    let [log, out] = ["log", "report"].map(|name| format!("{deep}/{name}"));
    desk.call(&["review", &log, "--quiet", "--out", &out]).assert().success();
    assert!(names(&desk.path(&out)).contains(&"review.html".to_owned()));
}
