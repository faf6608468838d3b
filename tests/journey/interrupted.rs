//! A run that is ended from outside leaves the review that was there, or the new one, and nothing by halves.

use std::collections::BTreeMap;
use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use super::shell::shell;
use super::{Desk, SOUND, dataset, files};

/// Beside the program a shell looks for the folder in which the review is made, and sends the signal as soon as it is begun.
const WHEN_IT_IS_WRITTEN: &str = "\
program=$$
(
  while kill -0 $program; do
    for part in .report.part-*; do
      if [ -d \"$part\" ]; then kill -$SIGNAL $program; exit; fi
    done
  done
) > /dev/null 2>&1 &
exec \"$PROGRAM\" review \"$LOG\" --out report --quiet";

fn desk_with_two_reviews() -> (Desk, [BTreeMap<String, Vec<u8>>; 2]) {
    let desk = Desk::with_log("log", &SOUND);
    desk.call(&["review", &dataset("cake"), "--out", "report", "--quiet"]).assert().success();
    let new = files(&desk.path("report"));
    desk.call(&["review", "log", "--out", "report", "--quiet"]).assert().success();
    let earlier = files(&desk.path("report"));
    (desk, [earlier, new])
}

fn beginnings(desk: &Desk) -> Vec<String> {
    let names = fs::read_dir(desk.0.path()).expect("the desk");
    let names =
        names.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned());
    names.filter(|name| name.starts_with('.')).collect()
}

#[test]
fn a_signal_while_the_review_is_written_leaves_one_that_is_whole_and_nothing_beside_it() {
    let (desk, whole) = desk_with_two_reviews();
    let mut interrupted = 0;
    for signal in ["TERM", "INT", "HUP", "TERM", "INT"] {
        let mut call = shell(&desk, WHEN_IT_IS_WRITTEN);
        let output =
            call.env("SIGNAL", signal).env("LOG", dataset("cake")).output().expect("called");
        interrupted += usize::from(output.status.signal().is_some());
        assert!(whole.contains(&files(&desk.path("report"))), "after {signal}");
        assert_eq!(beginnings(&desk), Vec::<String>::new(), "after {signal}");
    }
    assert!(interrupted > 0, "no signal came in time");
}

#[test]
fn a_signal_that_the_caller_asked_to_be_ignored_is_ignored() {
    let (desk, [_, new]) = desk_with_two_reviews();
    let mut call = shell(&desk, &format!("trap '' HUP; {WHEN_IT_IS_WRITTEN}"));
    call.env("SIGNAL", "HUP").env("LOG", dataset("cake")).assert().success();
    assert_eq!(files(&desk.path("report")), new);
}

#[test]
fn a_process_that_is_killed_at_any_moment_leaves_a_review_that_is_whole() {
    let (desk, whole) = desk_with_two_reviews();
    let mut killed = 0;
    for wait in 0..12 {
        let mut child = Command::new(env!("CARGO_BIN_EXE_canewright"))
            .args(["review", "log", "--out", "report", "--quiet"])
            .current_dir(desk.0.path())
            .stdout(Stdio::null())
            .spawn()
            .expect("called");
        sleep(Duration::from_millis(wait * 25));
        child.kill().expect("killed");
        killed += usize::from(child.wait().expect("ended").signal().is_some());
        assert!(whole.contains(&files(&desk.path("report"))), "after {wait}");
    }
    assert!(killed > 0, "every run was done before it was killed");
    // and the next run is not hindered by what was left
    desk.call(&["review", "log", "--out", "report", "--quiet"]).assert().success();
}
