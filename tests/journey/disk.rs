//! A disk that refuses, links, and what stood in the target before: nothing that is whole is lost for something that is not.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use predicates::prelude::*;

use super::shell::{in_a_disk_of_its_own, shell};
use super::{Desk, SOUND, dataset};

/// A desk with a log and its review in `report`.
fn reviewed() -> Desk {
    let desk = Desk::with_log("log", &SOUND);
    desk.call(&["review", "log", "--out", "report", "--quiet"]).assert().success();
    desk
}

#[test]
fn a_disk_that_is_full_keeps_the_earlier_review_whole_and_nothing_beside_it() {
    let desk = reviewed();
    let before = desk.files();
    // no file may grow beyond this: the first pages fit, and a larger one is cut off
    let call = "trap '' XFSZ; ulimit -f 16; exec \"$PROGRAM\" review log --out report --quiet";
    let told = predicate::str::contains("file too large").and(predicate::str::contains("has room"));
    shell(&desk, call).assert().code(2).stderr(told);
    assert_eq!(desk.files(), before);
}

#[cfg(target_os = "linux")]
#[test]
fn a_disk_without_room_is_told_as_such_and_keeps_the_earlier_review_whole() {
    let desk = reviewed();
    // this disk keeps files in pages of 4 KiB; there is room for one review, and for half of another
    let pages =
        files_of(&desk, "report").values().map(|bytes| bytes.len().div_ceil(4096)).sum::<usize>();
    let size = format!("size={}k", 4 * (pages + pages / 2));
    let call = "cp -r report disk/report && \"$PROGRAM\" review log --out disk/report --quiet > told; status=$?; ls -A disk; cp -r disk/report after; exit $status";
    let Some(mut command) = in_a_disk_of_its_own(&desk, &size, call) else {
        return;
    };
    let told = predicate::str::contains("there is no room left");
    command.assert().code(2).stderr(told).stdout("report\n");
    assert_eq!(files_of(&desk, "after"), files_of(&desk, "report"));
}

#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_can_only_be_read_is_told_as_such() {
    let desk = Desk::with_log("log", &SOUND);
    for (verb, out) in [
        ("review log --out", "report"),
        ("handout log forming_days --out", "page"),
        ("demo", "log"),
        ("manual", "pages"),
    ] {
        let call = format!("mount -o remount,ro disk && \"$PROGRAM\" {verb} disk/{out}");
        let Some(mut command) = in_a_disk_of_its_own(&desk, "size=64k", &call) else { return };
        let output = command.output().expect("called");
        // the small log has no days on the pin, so that no page is made of it
        let is_refused = verb.starts_with("handout");
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{verb}: {told}");
        assert!(is_refused || told.contains("the disk can only be read"), "{verb}: {told}");
    }
}

fn files_of(desk: &Desk, folder: &str) -> BTreeMap<String, Vec<u8>> {
    super::files(&desk.path(folder))
}

#[cfg(target_os = "linux")]
#[test]
fn results_that_a_full_disk_did_not_take_are_no_success() {
    let desk = Desk::with_log("log", &SOUND);
    for verb in ["check log --json", "lots log", "review log --json", "schema"] {
        let told = predicate::str::contains("standard output: there is no room left");
        let call = format!("exec \"$PROGRAM\" {verb} --quiet > /dev/full");
        let call = if verb == "schema" { call.replace(" --quiet", "") } else { call };
        shell(&desk, &call).assert().code(2).stderr(told);
    }
    assert!(!desk.path("canewright_review").exists());
}

#[test]
fn a_picture_or_a_table_of_the_readers_own_in_an_earlier_review_is_not_lost() {
    for name in
        ["plots/bocal.svg", "tables/prices.csv", "tables/lots.csv.csv", "handout.html/mine.txt"]
    {
        let desk = reviewed();
        let path = desk.path("report").join(name);
        if let Some(folder) = path.parent() {
            let _ = fs::remove_file(folder);
            fs::create_dir_all(folder).expect("a folder");
        }
        fs::write(&path, "keep").expect("written");
        let before = desk.files();
        let told = predicate::str::contains("beside an earlier review");
        desk.call(&["review", "log", "--out", "report", "--quiet"]).assert().code(2).stderr(told);
        assert_eq!(desk.files(), before, "{name}");
    }
}

#[cfg(unix)]
#[test]
fn nothing_is_written_through_a_link_out_of_the_folder_that_was_named() {
    let desk = reviewed();
    let link = |to: &str, at: &str| {
        std::os::unix::fs::symlink(desk.path(to), desk.path(at)).expect("linked")
    };
    fs::create_dir(desk.path("elsewhere")).expect("a folder");
    link("elsewhere", "link");
    link("nowhere", "dangling");
    let standing = || ["log", "report", "elsewhere"].map(|folder| files_of(&desk, folder));
    let before = standing();
    let demo = dataset("demo");
    for target in ["link", "dangling"] {
        for call in [
            vec!["review", "log", "--quiet", "--out", target],
            vec!["lots", "log", "--quiet", "--out", target],
            vec!["trial", "plan", &demo, "--quiet", "--out", target],
            vec!["start", target],
            vec!["demo", target],
        ] {
            let told = predicate::str::contains("is a link, and nothing is written behind one");
            desk.call(&call).assert().code(2).stderr(told);
            assert!(standing() == before && !desk.path("nowhere").exists(), "{call:?}");
        }
    }
    let told = predicate::str::contains("is a link");
    desk.call(&["handout", &demo, "forming_days", "--quiet", "--out", "link"])
        .assert()
        .code(2)
        .stderr(told);
    assert!(standing() == before);
}

#[cfg(unix)]
#[test]
fn a_link_in_the_target_is_replaced_and_what_it_leads_to_stays() {
    let desk = reviewed();
    fs::write(desk.path("mine.html"), "mine").expect("written");
    fs::write(desk.path("mine.1"), "mine").expect("written");
    fs::rename(desk.path("report/plots"), desk.path("my plots")).expect("moved");
    fs::remove_file(desk.path("report/review.html")).expect("removed");
    let link = |to: &str, at: &str| {
        std::os::unix::fs::symlink(desk.path(to), desk.path(at)).expect("linked")
    };
    link("mine.html", "report/review.html");
    link("my plots", "report/plots");
    let mine = files_of(&desk, "my plots");
    assert!(!mine.is_empty());
    desk.call(&["review", "log", "--out", "report", "--quiet"]).assert().success();
    assert_eq!(files_of(&desk, "my plots"), mine);
    assert!(
        !desk.path("report/plots").is_symlink() && !desk.path("report/review.html").is_symlink()
    );
    fs::create_dir(desk.path("pages")).expect("a folder");
    link("mine.1", "pages/canewright.1");
    desk.call(&["manual", "pages"]).assert().success();
    for name in ["mine.html", "mine.1"] {
        assert_eq!(fs::read(desk.path(name)).expect("read"), b"mine", "{name}");
    }
}

#[cfg(unix)]
#[test]
fn a_trial_whose_pictures_lie_behind_a_link_is_left_alone() {
    let desk = Desk::new();
    let plan = ["trial", "plan", &dataset("demo"), "--date", "2025-11-30", "--quiet"];
    desk.call(&plan).assert().success();
    fs::remove_dir_all(desk.path("canewright_trial/plots")).expect("removed");
    fs::create_dir(desk.path("elsewhere")).expect("a folder");
    std::os::unix::fs::symlink(desk.path("elsewhere"), desk.path("canewright_trial/plots"))
        .expect("linked");
    let told = predicate::str::contains("is a link");
    desk.call(&plan).assert().code(2).stderr(told);
    assert_eq!(files_of(&desk, "elsewhere").len(), 0);
}

#[cfg(unix)]
#[test]
fn a_log_that_is_a_link_to_itself_is_refused() {
    let desk = Desk::with_log("log", &[]);
    for name in ["loop", "log/reeds.csv"] {
        std::os::unix::fs::symlink(desk.path(name), desk.path(name)).expect("linked");
    }
    for log in ["loop", "log"] {
        let told = predicate::str::contains("the system could not do it (")
            .and(predicate::str::contains("loop"));
        desk.call(&["check", log]).assert().code(2).stderr(told);
    }
}

#[cfg(unix)]
#[test]
fn a_log_that_may_not_be_read_is_told_as_such() {
    use std::os::unix::fs::PermissionsExt;
    let desk = Desk::with_log("log", &SOUND);
    let reeds = desk.path("log/reeds.csv");
    fs::set_permissions(&reeds, fs::Permissions::from_mode(0o000)).expect("set");
    if fs::File::open(&reeds).is_ok() {
        // the system refuses nothing to the one who runs this
        return;
    }
    let told =
        predicate::str::contains("it is not allowed").and(predicate::str::contains("reeds.csv"));
    desk.call(&["check", "log"]).assert().code(2).stderr(told);
}

#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_fails_while_the_log_is_read_ends_the_call() {
    // an ordinary file by its looks, whose first byte cannot be read
    let desk = Desk::new();
    let told =
        predicate::str::contains("/proc/self/mem").and(predicate::str::contains("Check that"));
    desk.call(&["check", "/proc/self/mem"]).assert().code(2).stderr(told);
}

#[test]
fn a_log_that_another_program_holds_locked_is_read() {
    let desk = Desk::with_log("log", &SOUND);
    let reeds = fs::OpenOptions::new()
        .read(true)
        .append(true)
        .open(desk.path("log/reeds.csv"))
        .expect("opened");
    if reeds.try_lock().is_err() {
        // this disk knows no locks
        return;
    }
    if cfg!(unix) {
        desk.call(&["check", "log"]).assert().success();
    }
}

/// The number of reeds a page of `check --json` counts, and the checksum of the list it read.
fn counted(printed: &str) -> (u64, String) {
    let results = super::json(printed);
    let files = results["log"]["files"].as_array().expect("files").clone();
    let reeds = files.iter().find(|file| file["name"] == "reeds.csv").expect("the list of pieces");
    (
        reeds["rows"].as_u64().expect("a count"),
        reeds["sha256"].as_str().expect("a checksum").to_owned(),
    )
}

#[test]
fn a_log_that_changes_while_it_is_read_is_read_as_it_was_at_one_moment() {
    let desk = Desk::with_log("log", &SOUND);
    let mut versions = BTreeMap::new();
    let longer = SOUND[0].1.to_owned() + "10,Birch,2024-03-01,13,1.25,6,in_use,,\n";
    for text in [SOUND[0].1, &longer] {
        fs::write(desk.path("log/reeds.csv"), text).expect("written");
        let (rows, checksum) = counted(&desk.printed(&["check", "log", "--json", "--quiet"]));
        versions.insert(checksum, rows);
    }
    assert_eq!(
        versions.values().copied().collect::<std::collections::BTreeSet<u64>>(),
        [9, 10].into()
    );
    let done = std::sync::atomic::AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| save_in_turn(&desk.path("log"), [SOUND[0].1, &longer], &done));
        for _ in 0..10 {
            let (rows, checksum) = counted(&desk.printed(&["check", "log", "--json", "--quiet"]));
            assert_eq!(versions.get(&checksum), Some(&rows));
        }
        done.store(true, std::sync::atomic::Ordering::Relaxed);
    });
}

/// As a careful program saves: beside the file, then in its place.
fn save_in_turn(log: &Path, texts: [&str; 2], done: &std::sync::atomic::AtomicBool) {
    while !done.load(std::sync::atomic::Ordering::Relaxed) {
        for text in texts {
            fs::write(log.join("saving"), text).expect("written");
            fs::rename(log.join("saving"), log.join("reeds.csv")).expect("in place");
        }
    }
}
