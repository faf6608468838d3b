//! A log may hold markup, formulas and escape sequences anywhere; no file of the review carries them out.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::OnceLock;

use super::{Desk, files};

const MARKUP: &str = "<script>alert(1)</script>";
const IMAGE: &str = "<img src=x onerror=alert(2)>";
const LINK: &str = "[here](javascript:alert(3))";
const FORMULA: &str = "=HYPERLINK(1+1)";
const AT: &str = "@SUM(A1)";
const ESCAPE: &str = "\u{1b}[2J\u{1b}]0;owned\u{7}";
const TURNED: &str = "\u{202e}desrever";
const TEMPLATE: &str = "{{ 7*7 }}{% raw %}";
const CLOSING: &str = "]]></style></svg>";
const QUOTES: &str = "\" onload=\"alert(4)' x='";

fn cell(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

/// A cell of ten thousand letters without a place to break.
fn long() -> String {
    "x".repeat(10_000)
}

/// The files of a report by name, and what was printed.
type Reviewed = (BTreeMap<String, String>, String);

/// Seven lots of hostile names, a hostile choice column with a hostile header, hostile ids, tubes, makers, notes, reasons, players, settings and readers, a hostile
/// cell that is no number and so is set aside, and a hostile title.
fn reviewed() -> &'static Reviewed {
    static REVIEWED: OnceLock<Reviewed> = OnceLock::new();
    REVIEWED.get_or_init(|| {
        let desk = Desk::with_log(
            "log",
            &[
                ("reeds.csv", &reeds()),
                ("ratings.csv", &ratings()),
                ("readings.csv", &readings()),
                ("study.toml", &study()),
            ],
        );
        let output = desk.call(&["review", "log", "--out", "report"]).output().expect("called");
        let printed = [output.stdout, output.stderr].concat();
        assert_eq!(output.status.code(), Some(1), "{}", String::from_utf8_lossy(&printed));
        let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
        let report = files(&desk.path("report"));
        (report.into_iter().map(|(name, bytes)| (name, text(bytes))).collect(), text(printed))
    })
}

fn lots() -> [String; 7] {
    let [markup, image, formula] = [MARKUP, IMAGE, FORMULA].map(str::to_owned);
    [markup, image, formula, ESCAPE.to_owned(), LINK.to_owned(), TEMPLATE.to_owned(), long()]
}

const CHOICES: [&str; 3] = [AT, TURNED, CLOSING];

fn id(row: usize) -> String {
    cell(&format!("{} {row}", lots()[row % 6]))
}

fn reeds() -> String {
    let mut text =
        format!("reed,lot,tube,maker,{},hardness,fate,spoiled_at,spoiled_by,note\n", cell(MARKUP));
    for row in 0..56 {
        let (lot, choice) = (cell(&lots()[row % 7]), cell(CHOICES[row / 7 % 3]));
        let (tube, maker) = (cell(CHOICES[row % 3]), cell([IMAGE, QUOTES][row / 2 % 2]));
        let hardness = if row == 5 { cell(FORMULA) } else { format!("{}", 10 + (row * 7) % 13) };
        let note = if row == 9 { long() } else { cell(CHOICES[row % 3]) };
        text += &format!("{},{lot},{tube},{maker},{choice},{hardness},in_use,,,{note}\n", id(row));
    }
    for (row, why) in [MARKUP, IMAGE, FORMULA, ESCAPE, QUOTES].iter().enumerate() {
        text += &format!(
            "lost {row},{},,{},{},12,spoiled,form,{},x\n",
            cell(MARKUP),
            cell(IMAGE),
            cell(AT),
            cell(why)
        );
    }
    text
}

fn ratings() -> String {
    let mut text = "reed,player,setting,rating\n".to_owned();
    for row in 0..56 {
        for (place, player) in [MARKUP, FORMULA].iter().enumerate() {
            let mark = 3 + (row * 5 + place * row % 2) % 7;
            text += &format!("{},{},{},{mark}\n", id(row), cell(player), cell(CHOICES[row % 3]));
        }
    }
    text
}

fn readings() -> String {
    let mut text = "reed,measure,value,by,repeat\n".to_owned();
    for row in 10..30 {
        for (place, reader) in [IMAGE, ESCAPE].iter().enumerate() {
            let value = 10 + (row * 7) % 13 + place * (row % 2);
            text += &format!("{},hardness,{value},{},{}\n", id(row), cell(reader), place + 1);
        }
    }
    text
}

fn study() -> String {
    let header = format!("{:?}", MARKUP);
    format!(
        "title = \"{MARKUP} {IMAGE} {LINK} {TEMPLATE}\"\nscale = [1, 10]\noutcome = \"rating\"\n\
         [columns.{header}]\nis = \"own_choice\"\nstage = \"cane\"\nkind = \"choice\"\n\
         [decide.own_choice]\ncandidates = []\n"
    )
}

fn ends(name: &str, endings: &[&str]) -> bool {
    Path::new(name).extension().is_some_and(|found| endings.iter().any(|ending| found == *ending))
}

#[test]
fn no_page_or_picture_holds_markup_of_the_log() {
    let (report, _) = reviewed();
    for (name, text) in report.iter().filter(|(name, _)| ends(name, &["html", "svg", "md"])) {
        for tag in ["<script", "<img src=x", "]]></style></svg>"] {
            assert!(!text.contains(tag), "{name} holds {tag}");
        }
    }
    // a quotation mark ends an attribute in HTML and SVG, and nothing in Markdown
    for (name, text) in report.iter().filter(|(name, _)| ends(name, &["html", "svg"])) {
        assert!(!text.contains("\" onload=\""), "{name} holds an attribute of the log");
    }
    // a bracket behind a backslash is a bracket and no link
    let markdown = report["review.md"].replace("\\]", "");
    assert!(!markdown.contains("](javascript:"), "a link of the log leads somewhere");
    // the text itself is shown, so that a reader sees what the log holds
    assert!(report["review.html"].contains("&lt;script&gt;alert(1)"));
    assert!(report.contains_key("handout.html"), "the page for a studio is looked at too");
    assert!(report["plots/lots.svg"].contains("&lt;script&gt;alert(1)"));
}

#[test]
fn no_cell_of_ten_thousand_letters_stretches_a_page_a_picture_or_the_terminal() {
    let (report, printed) = reviewed();
    let pages = report.iter().filter(|(name, _)| ends(name, &["html", "svg", "md"]));
    for (name, text) in pages.chain([(&"the terminal".to_owned(), printed)]) {
        assert!(!text.contains(&"x".repeat(400)), "{name}");
    }
}

#[test]
fn no_template_of_the_log_is_worked_out() {
    let (report, _) = reviewed();
    let page = &report["review.html"];
    assert!(page.contains("7*7") && page.contains("raw %"), "shown as it stands");
}

#[test]
fn no_control_or_turning_character_reaches_a_page_a_picture_a_table_or_the_terminal() {
    let (report, printed) = reviewed();
    let mut texts = report.clone();
    texts.insert("the terminal".to_owned(), printed.clone());
    // the cells that were set aside are kept word for word, as evidence
    texts.remove("set_aside.csv");
    for (name, text) in texts {
        let bad = text.chars().find(|letter| letter.is_control() && *letter != '\n');
        assert_eq!(bad, None, "{name}");
        assert!(name == "results.json" || !text.contains('\u{202e}'), "{name} is turned around");
    }
}

#[test]
fn no_cell_of_a_table_runs_as_a_formula() {
    let (report, _) = reviewed();
    for (name, text) in report.iter().filter(|(name, _)| ends(name, &["csv"])) {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(text.as_bytes());
        for record in reader.records() {
            for cell in &record.expect("a table of the review is CSV") {
                let start = cell.trim_start();
                let runs = start.starts_with(['=', '@', '\t', '\r'])
                    || (start.starts_with(['+', '-'])
                        && start.parse::<f64>().is_err()
                        && start != "-");
                assert!(!runs, "{name}: {cell:?}");
            }
        }
    }
}

#[test]
fn the_cell_that_was_set_aside_is_kept_and_the_results_are_json_word_for_word() {
    let (report, _) = reviewed();
    assert!(report["set_aside.csv"].contains(FORMULA), "{}", report["set_aside.csv"]);
    let results: serde_json::Value = super::json(&report["results.json"]);
    let mut lots: Vec<&str> = results["lots"]["list"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|lot| lot["lot"].as_str())
        .collect();
    lots.sort_unstable();
    let mut expected = self::lots();
    expected.sort_unstable();
    assert_eq!(lots, expected);
}

#[test]
fn a_hostile_name_of_a_log_does_not_steer_the_terminal() {
    let desk = Desk::new();
    let output = desk.call(&["check", "no\u{1b}[2Jwhere"]).output().expect("called");
    assert_eq!(output.status.code(), Some(2));
    assert!(!output.stderr.contains(&0x1b), "{}", String::from_utf8_lossy(&output.stderr));
}
