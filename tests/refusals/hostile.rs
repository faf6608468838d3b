//! Text that would harm a terminal, a page or a spreadsheet, and inputs of a hostile size.

use std::path::Path;

use canewright::problem::Error;
use proptest::prelude::*;

use super::case::{Case, problems, read, reeds};
use super::{complete, rows_add_up};

pub fn cases() -> Vec<Case> {
    vec![
        reeds(
            "number-unreadable",
            "a terminal escape in a cell",
            "reed,gouge_mm\n1,1.25\n2,\x1b[31mred\x07\n",
        )
        .line(3)
        .column("gouge_mm"),
        reeds(
            "number-unreadable",
            "markup in a cell",
            "reed,gouge_mm\n1,1.25\n2,<script>alert(1)</script>\n",
        )
        .line(3),
        reeds(
            "header-repeated",
            "a terminal escape in a header",
            "reed,\x1b[2Jx,\x1b[2Jx\n1,2,3\n",
        )
        .line(1),
        reeds("number-unreadable", "a line break in a cell", "reed,gouge_mm\n1,1.25\n2,\"1\n2\"\n")
            .line(3),
        reeds(
            "number-unreadable",
            "letters that turn the text around",
            "reed,gouge_mm\n1,1.25\n2,\u{202e}52.1\n",
        )
        .line(3),
        reeds("id-repeated", "ids that differ in nothing but spaces", "reed,lot\n 1,a\n1 ,b\n")
            .line(2)
            .rows_aside(2),
    ]
}

#[test]
fn a_folder_where_a_file_should_be_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::create_dir(folder.path().join("reeds.csv")).expect("a folder of that name");
    let error = read(folder.path()).expect_err("there is nothing to read");
    assert!(error.to_string().contains("reeds.csv"), "{error}");
}

/// What a call ends with, in a thread of its own: opening a pipe would wait for a writer for ever.
#[cfg(unix)]
fn soon(path: std::path::PathBuf) -> Result<(), String> {
    let (send, receive) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let outcome = read(&path).map(|_| ()).map_err(|error| error.to_string());
        let _ = send.send(outcome);
    });
    receive.recv_timeout(std::time::Duration::from_secs(20)).expect("it ends")
}

#[cfg(unix)]
#[test]
fn a_pipe_where_a_file_should_be_is_refused_and_does_not_hang() {
    for name in ["reeds.csv", "ratings.csv", "study.toml"] {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("reeds.csv"), "reed\n1\n").expect("written");
        let pipe = folder.path().join(name);
        let _ = std::fs::remove_file(&pipe);
        let made = std::process::Command::new("mkfifo").arg(&pipe).status().expect("mkfifo runs");
        assert!(made.success());
        let refused = soon(folder.path().to_path_buf()).expect_err("a pipe is no file");
        assert!(refused.contains(name) && refused.contains("a pipe"), "{refused}");
    }
}

#[cfg(unix)]
#[test]
fn a_device_as_the_log_itself_is_refused_and_does_not_hang() {
    let refused = soon("/dev/zero".into()).expect_err("a device is no file");
    assert!(refused.contains("a device"), "{refused}");
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_log_is_refused_and_what_it_leads_to_is_not_shown() {
    let elsewhere = tempfile::tempdir().expect("a folder");
    let secret = elsewhere.path().join("secret.csv");
    std::fs::write(&secret, "hidden words\nmore of them\n").expect("written");
    for name in ["reeds.csv", "only.csv", "ratings.csv", "lots.csv", "study.toml"] {
        let folder = tempfile::tempdir().expect("a folder");
        if name != "only.csv" && name != "reeds.csv" {
            std::fs::write(folder.path().join("reeds.csv"), "reed\n1\n").expect("written");
        }
        std::os::unix::fs::symlink(&secret, folder.path().join(name)).expect("linked");
        let refused = read(folder.path()).expect_err("it leads out").to_string();
        assert!(refused.contains("inside the log's folder"), "{refused}");
        assert!(!refused.contains("hidden") && !refused.contains("secret"), "{refused}");
    }
}

#[cfg(unix)]
#[test]
fn a_link_that_was_named_as_the_log_and_links_within_it_are_followed() {
    let elsewhere = tempfile::tempdir().expect("a folder");
    let log = elsewhere.path().join("log");
    std::fs::create_dir(&log).expect("a folder");
    std::fs::write(log.join("pieces.csv"), "reed\n1\n").expect("written");
    std::os::unix::fs::symlink("pieces.csv", log.join("reeds.csv")).expect("linked");
    let link = elsewhere.path().join("link");
    std::os::unix::fs::symlink(&log, &link).expect("linked");
    assert_eq!(read(&link).expect("a log").study.pieces(), 1);
    let file = elsewhere.path().join("file.csv");
    std::os::unix::fs::symlink(log.join("pieces.csv"), &file).expect("linked");
    assert_eq!(read(&file).expect("a log").study.pieces(), 1);
}

#[test]
fn what_the_system_says_is_told_in_words() {
    let missing = read(Path::new("no-such-folder/log.csv")).expect_err("nothing to read");
    let text = missing.to_string();
    assert!(text.contains("there is nothing of that name"), "{text}");
    assert!(!text.contains("os error") && !text.contains("entity"), "{text}");
}

#[test]
fn a_path_that_does_not_exist_is_said() {
    let error = read(Path::new("no-such-folder/log.csv")).expect_err("there is nothing to read");
    assert!(matches!(error, Error::Read { .. }), "{error}");
    assert!(
        error.to_string().contains("no-such-folder") && error.to_string().contains("Check"),
        "{error}"
    );
}

#[test]
fn a_million_lines_of_commas_hold_no_row() {
    let outcome = reeds(
        "file-without-rows",
        "a million lines of commas",
        format!("reed,lot\n{}", ",\n".repeat(1_000_000)),
    )
    .read();
    let reading = outcome.expect("the header can be read");
    assert_eq!(reading.study.files()[0].rows_read, 0);
    assert!(reading.problems.iter().any(|problem| problem.code == "file-without-rows"));
}

#[test]
fn a_column_of_bad_cells_is_counted_and_not_printed_whole() {
    let rows: String = (0..5_000).map(|at| format!("{at},thin\n")).collect();
    let outcome =
        reeds("number-unreadable", "five thousand bad cells", format!("reed,gouge_mm\n{rows}"))
            .read();
    let reading = outcome.expect("the log can be read");
    let of_kind: Vec<_> =
        reading.problems.iter().filter(|problem| problem.code == "number-unreadable").collect();
    assert!(of_kind.len() < 2_000, "{}", of_kind.len());
    let kept = of_kind.iter().filter(|problem| problem.place.line.is_some()).count();
    let rest = format!("{}", 5_000 - kept);
    assert!(
        of_kind.iter().any(|problem| problem.message.replace(',', "").contains(&rest)),
        "the rest is counted"
    );
    let listed =
        reading.study.set_aside().iter().filter(|cell| cell.code == "number-unreadable").count();
    assert_eq!(listed, 5_000, "every cell is listed");
    assert_eq!(rows_add_up(&reading.study, Some(0)), Ok(()));
}

#[test]
fn one_row_is_a_log() {
    let reading =
        reeds("fate-assumed", "one row", "reed,lot\n1,a\n").read().expect("one row can be read");
    assert_eq!((reading.study.pieces(), reading.study.files()[0].rows_used), (1, 1));
}

/// Whatever a file holds, reading ends in a study whose rows add up or in a complete message.
fn ends_well(case: &Case) -> Result<(), TestCaseError> {
    let outcome = case.read();
    for problem in problems(&outcome) {
        complete(&problem).map_err(TestCaseError::fail)?;
    }
    if let Ok(reading) = &outcome {
        rows_add_up(&reading.study, None).map_err(TestCaseError::fail)?;
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn any_bytes_anywhere_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        ends_well(&reeds("file-empty", "any bytes", bytes))?;
    }

    #[test]
    fn any_text_in_any_cell_never_panics(
        headers in prop::sample::subsequence(
            vec!["lot", "made", "gouge (.001)", "formed", "wire", "rating", "resp/5", "why", "hrs", "note", "profile_15_spine_mm", "my own"], 1..8),
        cells in prop::collection::vec("[a-eB0-9 ,;.\"'/~<=%é+-]{0,9}", 0..60),
    ) {
        let mut text = format!("reed,{}\n", headers.join(","));
        for (row, cells) in cells.chunks(headers.len()).enumerate() {
            let quoted: Vec<String> = cells.iter().map(|cell| format!("\"{}\"", cell.replace('"', "\"\""))).collect();
            text.push_str(&format!("{row},{}\n", quoted.join(",")));
        }
        ends_well(&reeds("file-empty", "any cells", text))?;
    }

    #[test]
    fn any_text_with_delimiters_and_quotes_never_panics(text in "[a-c1-9,;|\t\"\r\n .-]{0,120}", study in "[a-z=\\[\\]\"0-9 \n]{0,40}") {
        ends_well(&reeds("file-empty", "any text", format!("reed,lot,rating\n{text}")))?;
        ends_well(&reeds("file-empty", "any study file", "reed\n1\n").with("study.toml", study))?;
    }
}
