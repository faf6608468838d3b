//! The plan of a trial and its reading say the numbers of their sections, which `--json` prints.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use canewright::finding::{Finding, Section};
use canewright::intake::{ReadOptions, read};
use canewright::plan::{Plan, ReadPlan, parse};
use canewright::questions::trial_plan::{self, PlanOptions};
use canewright::questions::trial_read;
use canewright::study::Study;
use regex::Regex;
use serde_json::{Value, json};

use super::held::Scope;
use super::{Missing, complaint, missing};

fn study(log: PathBuf) -> Study {
    let reading = read(&[log], &ReadOptions::default());
    reading.unwrap_or_else(|why| panic!("the log can be read: {why}")).study
}

static DEMO: LazyLock<Study> =
    LazyLock::new(|| study(Path::new(env!("CARGO_MANIFEST_DIR")).join("datasets/demo")));

fn planned(options: PlanOptions) -> (Finding, Plan) {
    trial_plan::ask(&DEMO, &options).unwrap_or_else(|why| panic!("refused: {why}"))
}

fn section(finding: &Finding) -> Value {
    let section = match &finding.section {
        Section::TrialPlan(section) => serde_json::to_value(section),
        Section::TrialRead(section) => serde_json::to_value(section),
        other => panic!("no trial: {other:?}"),
    };
    section.expect("a section is JSON")
}

/// What a page says in sentences: tables and the account of the method are left out.
fn sentences(finding: &Finding) -> Vec<&str> {
    let said = std::iter::once(&finding.answer).chain(&finding.more).chain(&finding.caveats);
    let of_pictures = finding.charts.iter().flat_map(|chart| [&chart.description, &chart.reading]);
    said.chain(of_pictures).map(String::as_str).collect()
}

/// A chance in whole tenths is told as times: `8 times in 10` is `80 %`.
fn with_chances(sentence: &str) -> String {
    let times = Regex::new("([0-9]) times? in 10").expect("a pattern");
    times.replace_all(sentence, "${1}0\u{202f}%").into_owned()
}

fn unheld(finding: &Finding) -> Vec<Missing> {
    let (section, left_out) = (section(finding), json!(finding.left_out));
    let of = |sentence: &str| {
        let scope = Scope::whole(&section).and(&left_out);
        let scope = if sentence.contains(" lowered ") { scope.or_turned_round() } else { scope };
        missing(&with_chances(sentence), &scope)
    };
    sentences(finding).into_iter().flat_map(of).collect()
}

fn holds(finding: &Finding) {
    let found = unheld(finding);
    assert!(found.is_empty(), "{}", complaint(finding.question, &found));
}

fn given(texts: &[&str]) -> Vec<String> {
    texts.iter().map(|text| (*text).to_owned()).collect()
}

#[test]
fn the_plan_of_a_trial_says_the_numbers_of_its_section() {
    let usual = || PlanOptions::on("2026-01-05");
    let small = PlanOptions {
        arms: given(&["7", "14", "20"]),
        lots: given(&["Meadow", "Upper field", "Bank"]),
        pieces: Some(37),
        looks: 3,
        power: 0.9,
        ..usual()
    };
    let far = PlanOptions { worthwhile: Some(0.2), lots: given(&["Meadow"]), ..usual() };
    for options in [usual(), small, far] {
        holds(&planned(options).0);
    }
}

/// What became of a piece of the trial.
enum Came {
    Rated(f64),
    Spoiled,
    NotYet,
    NotMade,
}

/// The log of a trial: a piece comes to what `came` says of its arm and its turn in the plan; of the first nobody wrote how it was made, the second was made
/// as the arm after its own, and one reed more was made of the trial's cane.
fn kept(plan: &Plan, came: impl Fn(usize, usize) -> Came) -> Finding {
    let mut table = "reed,lot,forming_days,started_on,fate,overall\n".to_owned();
    for (turn, (piece, arm)) in plan.pieces.iter().zip(plan.arms_of_pieces()).enumerate() {
        let lot = &plan.blocks[piece.block - 1].lot;
        let days = match turn {
            0 => "",
            1 => &plan.arms[(arm + 1) % plan.arms.len()].value,
            _ => &plan.arms[arm].value,
        };
        let (fate, mark) = match came(arm, turn) {
            Came::Rated(mark) => ("in_use", format!("{mark:.1}")),
            Came::Spoiled => ("spoiled", String::new()),
            Came::NotYet => ("", String::new()),
            Came::NotMade => continue,
        };
        writeln!(table, "{},{lot},{days},2026-02-01,{fate},{mark}", piece.label).expect("text");
    }
    writeln!(table, "another,{},7,2026-02-02,in_use,6.0", plan.blocks[0].lot).expect("text");
    let folder = tempfile::tempdir().expect("a folder for the log");
    let settings = "scale = [1, 10]\ngood_at = 7\nworthwhile = 0.5\noutcome = \"overall\"\n";
    for (name, text) in BTreeMap::from([("reeds.csv", table.as_str()), ("study.toml", settings)]) {
        fs::write(folder.path().join(name), text).expect("the folder can be written to");
    }
    let sealed: ReadPlan = parse("plan.toml", &plan.to_toml()).expect("the plan can be read");
    trial_read::ask(&study(folder.path().to_path_buf()), &sealed)
        .unwrap_or_else(|why| panic!("refused: {why}"))
}

/// Marks that scatter by a tenth and more about a mean of each arm.
fn mark(apart: f64, arm: usize, turn: usize) -> f64 {
    6.0 + apart * arm as f64 + 0.3 * ((7 * turn) % 11) as f64 - 1.5
}

#[test]
fn the_reading_of_a_trial_says_the_numbers_of_its_section() {
    let plan = |looks, arms: &[&str]| {
        let lots = given(&["Meadow", "Upper field", "Bank"]);
        let (arms, pieces) = (given(arms), Some(72));
        planned(PlanOptions { arms, lots, pieces, looks, ..PlanOptions::on("2026-01-05") }).1
    };
    let (plain, looked_at) = (plan(1, &["7", "14"]), plan(2, &["7", "14"]));
    let of_three = plan(1, &["7", "14", "20"]);
    let spoils = |turn: usize| turn % 13 == 5;
    let early = |arm, turn: usize| match turn {
        _ if spoils(turn) => Came::Spoiled,
        0..40 => Came::Rated(mark(0.8, arm, turn)),
        40..50 => Came::NotYet,
        _ => Came::NotMade,
    };
    for apart in [-1.2, -0.3, 0.0, 0.9] {
        let whole = |arm, turn| match spoils(turn) {
            true => Came::Spoiled,
            false => Came::Rated(mark(apart, arm, turn)),
        };
        holds(&kept(&plain, whole));
    }
    let several = |arm, turn| Came::Rated(mark(0.4, arm, turn));
    holds(&kept(&of_three, several));
    holds(&kept(&looked_at, several));
    holds(&kept(&looked_at, early));
    holds(&kept(&of_three, early));
}
