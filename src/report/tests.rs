//! What holds of every page.

use std::fs;

use unicode_width::UnicodeWidthStr;

use super::*;
use crate::finding::example::{self, HOSTILE};
use crate::finding::{Chart, Section};
use crate::problem::Error;

fn review<'a>(
    results: &'a Results,
    findings: &'a [Finding],
    problems: &'a [Problem],
    aside: &'a [SetAside],
) -> Review<'a> {
    Review { results, findings, problems, set_aside: aside, handout: None, parquet: false }
}

/// Writes the example review into a folder of its own and hands both over.
fn written() -> (tempfile::TempDir, std::path::PathBuf) {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let out = folder.path().join("review");
    write_to(&out).expect("written");
    (folder, out)
}

fn write_to(out: &std::path::Path) -> Result<Vec<std::path::PathBuf>, Error> {
    let (results, findings) = (example::results(), example::findings());
    let (problems, aside) = (example::problems(), example::set_aside());
    write_folder(&review(&results, &findings, &problems, &aside), out)
}

fn read(out: &std::path::Path, file: &str) -> String {
    fs::read_to_string(out.join(file)).expect("the file was written")
}

#[test]
fn the_folder_holds_the_pages_the_numbers_the_pictures_and_the_tables() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let out = folder.path().join("deep/review");
    let files = write_to(&out).expect("written");
    let mut names: Vec<String> = files
        .iter()
        .map(|file| file.strip_prefix(&out).expect("inside").display().to_string())
        .collect();
    names.sort();
    let expected = [
        "plots/factor_effects.svg",
        "plots/factor_forming_days.svg",
        "plots/factor_scoring.svg",
        "plots/families.svg",
        "plots/losses.svg",
        "plots/lots.svg",
        "results.json",
        "review.html",
        "review.md",
        "set_aside.csv",
        "tables/lots.csv",
    ];
    assert_eq!(names, expected);
    assert!(files.iter().all(|file| file.is_file()));
    let beside: Vec<_> = fs::read_dir(out.parent().expect("deep")).expect("read").collect();
    assert_eq!(beside.len(), 1, "no temporary folder is left");
}

#[test]
fn the_same_review_gives_the_same_bytes() {
    let ((_one, first), (_other, second)) = (written(), written());
    for file in ["review.html", "review.md", "results.json", "set_aside.csv", "plots/lots.svg"] {
        assert_eq!(read(&first, file), read(&second, file), "{file}");
    }
}

#[test]
fn an_earlier_review_is_replaced_whole() {
    let (_folder, out) = written();
    fs::write(out.join("plots/stale.svg"), "<svg/>").expect("written");
    let page = read(&out, "review.md") + "\n![A picture that is no more](plots/stale.svg)\n";
    fs::write(out.join("review.md"), page).expect("written");
    write_to(&out).expect("replaced");
    assert!(!out.join("plots/stale.svg").exists());
    assert!(out.join("plots/lots.svg").exists());
}

#[test]
fn a_folder_with_anything_else_in_it_is_left_alone() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    fs::write(folder.path().join("letters.txt"), "dear").expect("written");
    let error = write_to(folder.path()).expect_err("refused").to_string();
    assert!(error.contains("not an earlier review") && error.contains("--out"), "{error}");
    assert_eq!(read(folder.path(), "letters.txt"), "dear");
}

#[test]
fn a_file_of_the_readers_own_inside_an_earlier_review_is_not_lost() {
    let (_folder, out) = written();
    fs::write(out.join("my notes.txt"), "buy more").expect("written");
    let error = write_to(&out).expect_err("refused").to_string();
    assert!(error.contains("my notes.txt"), "{error}");
    assert_eq!(read(&out, "my notes.txt"), "buy more");
}

#[test]
fn results_of_another_program_do_not_make_a_folder_ours() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let other = r#"{"made_by": {"name": "somebody"}}"#;
    fs::write(folder.path().join("results.json"), other).expect("written");
    assert!(write_to(folder.path()).is_err());
}

#[test]
fn an_empty_folder_is_filled_and_a_file_is_not_overwritten() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let empty = folder.path().join("empty");
    fs::create_dir(&empty).expect("made");
    write_to(&empty).expect("filled");
    let file = folder.path().join("file");
    fs::write(&file, "text").expect("written");
    assert!(write_to(&file).is_err());
}

#[test]
fn the_page_needs_no_network_and_no_script_and_shows_hostile_text_as_text() {
    let (_folder, out) = written();
    let page = read(&out, "review.html");
    assert!(!page.contains("<script"));
    assert!(page.contains("&lt;script&gt;"));
    for address in ["src=", "@import", "url(", "http-equiv=\"refresh"] {
        assert!(!page.contains(address), "{address}");
    }
    let links = page.replace("http://www.w3.org/2000/svg", "");
    assert!(!links.contains("http://") && !links.contains("https://"));
    assert!(!page.contains(|c: char| c.is_control() && c != '\n'));
    assert!(!page.contains('\u{202e}'));
}

#[test]
fn the_page_has_landmarks_a_skip_link_and_headings_in_order() {
    let (_folder, out) = written();
    let page = read(&out, "review.html");
    for part in
        ["<header>", "<main id=\"answers\">", "<nav ", "<footer>", "class=\"skip\"", "lang=\"en\""]
    {
        assert_eq!(page.matches(part).count(), 1, "{part}");
    }
    assert_eq!(page.matches("<h1").count(), 1);
    assert!(!page.contains("<h3"), "no level is skipped");
}

#[test]
fn every_anchor_of_the_page_exists_once() {
    let (_folder, out) = written();
    let page = read(&out, "review.html");
    let mut ids: Vec<&str> =
        page.split(" id=\"").skip(1).filter_map(|s| s.split('"').next()).collect();
    let number = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), number);
    for target in page.split("href=\"#").skip(1).filter_map(|s| s.split('"').next()) {
        assert!(ids.binary_search(&target).is_ok(), "#{target}");
    }
    for names in page.split("aria-labelledby=\"").skip(1).filter_map(|s| s.split('"').next()) {
        assert!(names.split(' ').all(|name| ids.binary_search(&name).is_ok()), "{names}");
    }
}

#[test]
fn the_answers_stand_before_the_evidence() {
    let (_folder, out) = written();
    for file in ["review.html", "review.md"] {
        let page = read(&out, file);
        let picked = example::results().in_short;
        let begins = |text: &str| text.split([':', '<']).next().unwrap_or("").to_owned();
        let answers: Vec<usize> =
            picked.iter().filter_map(|one| page.find(&begins(&one.sentence))).collect();
        let evidence = page.find("<figure").or_else(|| page.find("![")).expect("a picture");
        assert_eq!(answers.len(), picked.len(), "{file}");
        assert!(answers.is_sorted() && answers.iter().all(|answer| *answer < evidence), "{file}");
    }
}

#[test]
fn the_cautions_stand_where_more_making_is_suggested_and_only_there() {
    let look = Look::plain();
    assert!(page(&example::lots_finding(), &look).contains("no medical"));
    assert!(!page(&example::empty_finding("losses"), &look).contains("At the bench"));
    let (_folder, out) = written();
    assert_eq!(read(&out, "review.html").matches("class=\"bench\"").count(), 1);
}

#[test]
fn markdown_shows_hostile_text_as_text() {
    let (_folder, out) = written();
    let page = read(&out, "review.md");
    assert!(!page.contains("<script"));
    assert!(page.contains("\\!\\[img\\](javascript:x) \\| \\`code\\` \\*b\\*"));
}

#[test]
fn tables_are_harmless_and_set_aside_rows_are_word_for_word() {
    let (_folder, out) = written();
    assert!(read(&out, "tables/lots.csv").contains("'=cmd|"));
    let aside = read(&out, "set_aside.csv");
    for cell in HOSTILE {
        assert!(aside.contains(&cell.replace('"', "\"\"")), "{cell:?}");
    }
}

#[test]
fn json_keeps_every_digit_and_writes_missing_numbers_as_null() {
    let text = json(&example::results());
    let value: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(value["lots"]["sd_between"], serde_json::json!(0.1 + 0.2));
    assert!(value["lots"]["sd_within"].is_null(), "NaN");
    assert!(value.get("factors").is_none(), "a question that was not asked is absent");
    assert_eq!(section_json(&Section::Check), "{}\n");
}

#[test]
fn the_results_keep_to_their_schema_and_broken_ones_do_not() {
    let schema = serde_json::from_str(&schema()).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    let mut value = serde_json::to_value(example::results()).expect("JSON");
    assert!(validator.is_valid(&value));
    value["log"]["pieces"] = "many".into();
    assert!(!validator.is_valid(&value));
}

#[test]
fn a_terminal_page_stays_within_its_width() {
    for width in [24, 40, 80, 100] {
        let look = Look::new(width, false);
        for finding in example::findings() {
            for line in page(&finding, &look).lines() {
                assert!(line.width() <= width, "{width}: {line}");
            }
        }
        for line in problems_page(&example::problems(), &look).lines() {
            assert!(line.width() <= width, "{width}: {line}");
        }
    }
}

#[test]
fn nothing_of_a_log_steers_the_terminal() {
    for look in [Look::plain(), Look::new(30, false)] {
        let mut pages: String = example::findings().iter().map(|f| page(f, &look)).collect();
        let hostile: Vec<Problem> = HOSTILE.iter().map(|cell| example::problem(3, cell)).collect();
        pages.push_str(&problems_page(&hostile, &look));
        assert!(!pages.contains(|c: char| c.is_control() && c != '\n'));
    }
}

#[test]
fn colour_is_there_when_asked_for_and_only_then() {
    let finding = example::lots_finding();
    assert!(page(&finding, &Look::new(80, true)).contains('\u{1b}'));
    assert!(problems_page(&example::problems(), &Look::new(80, true)).contains('\u{1b}'));
    assert!(!page(&finding, &Look::new(80, false)).contains('\u{1b}'));
}

#[test]
fn decimal_points_stand_below_each_other() {
    let text = page(&example::lots_finding(), &Look::plain());
    let column_of_point = |name: &str| {
        let line = text.lines().find(|line| line.starts_with(name)).expect("the row");
        line.chars().position(|c| c == '.').expect("a decimal point")
    };
    assert_eq!(column_of_point("Spring 3"), column_of_point("Autumn 1"));
}

#[test]
fn the_first_twenty_problems_of_a_kind_are_shown_and_the_rest_counted() {
    let text = problems_page(&example::problems(), &Look::plain());
    assert_eq!(text.matches("is not a number").count(), 20);
    assert!(text.contains("and 5 more of this kind"));
    let (error, remark) = (text.find("error: number"), text.find("remark: file"));
    assert!(error.is_some() && error < remark, "the severest first");
}

#[test]
fn the_underlined_cell_is_the_one_that_is_wrong() {
    let text = problems_page(&[example::problem(12, "1.3o")], &Look::plain());
    assert!(text.starts_with("error: number-unreadable"));
    assert!(text.contains("reeds.csv, line 12, column “Gouge centre (mm)”"));
    let mut lines = text.lines().skip_while(|line| !line.contains("R012"));
    let (row, mark) = (lines.next().expect("the row"), lines.next().expect("the mark"));
    let column = |line: &str, found: &str| line.find(found).map(|at| line[..at].chars().count());
    assert_eq!(column(row, "1.3o"), column(mark, "─").or(column(mark, "┬")), "\n{row}\n{mark}");
}

#[test]
fn an_empty_review_is_a_page_too() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let out = folder.path().join("review");
    let mut results = example::results();
    results.refusals.clear();
    write_folder(&review(&results, &[], &[], &[]), &out).expect("written");
    assert!(read(&out, "review.html").contains("Nothing was set aside."));
    let empty = page(&example::empty_finding("losses"), &Look::plain());
    assert!(empty.contains("This rests on 0 reeds."));
}

#[test]
fn the_terminal_page_reads_well() {
    insta::assert_snapshot!("terminal_factors", page(&example::factors_finding(), &Look::plain()));
    insta::assert_snapshot!("terminal_lots", page(&example::lots_finding(), &Look::plain()));
    insta::assert_snapshot!(
        "terminal_lots_narrow",
        page(&example::lots_finding(), &Look::new(40, false))
    );
}

#[test]
fn the_problems_page_reads_well() {
    let problems = [example::problem(12, "1.3o"), example::problem(13, "")];
    insta::assert_snapshot!("problems", problems_page(&problems, &Look::plain()));
}

#[test]
fn the_markdown_page_reads_well() {
    let (_folder, out) = written();
    insta::assert_snapshot!("review_md", read(&out, "review.md"));
}

#[test]
fn a_picture_that_is_read_as_an_earlier_one_of_its_question_names_it() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let out = folder.path().join("review");
    let results = example::results();
    let mut finding = example::findings().into_iter().find(|f| !f.charts.is_empty()).expect("one");
    let first = finding.charts[0].clone();
    finding.charts = vec![first.clone(), Chart { title: "A second".to_owned(), ..first.clone() }];
    write_folder(&review(&results, &[finding], &[], &[]), &out).expect("written");
    for page in ["review.html", "review.md"] {
        let page = read(&out, page);
        assert_eq!(page.matches("To be read like “").count(), 1, "{page}");
    }
    let page = read(&out, "review.html");
    assert_eq!(page.matches("<figcaption>").count(), 2);
    assert!(page.contains(&format!("To be read like “{}” above.", first.title)), "{}", first.title);
}
