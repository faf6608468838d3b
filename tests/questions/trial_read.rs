//! What the trial said: worked by hand, with every way of not keeping to the plan.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Output;

use canewright::finding::{Finding, Section, TrialReadSection, Verdict};
use canewright::plan::{
    Analysis, Arm, Best, Block, Plan, PlannedFactor, PlannedOutcome, ReadPlan, Reckoned, Spending,
    SpoiledCount, parse,
};
use canewright::problem::Refusal;
use canewright::questions::trial_read;
use canewright::study::Study;

use super::{close, study};

/// Arms of 7 (present), 14 and more days; as many pieces in every lot.
fn plan(arms: usize, lots: usize, pieces: usize) -> Plan {
    let arm = |at: usize| {
        let value = (7 * (at + 1)).to_string();
        Arm { name: format!("{value} days"), value, present: at == 0 }
    };
    let block = |at: usize| Block { lot: format!("L{}", at + 1), maker: None, pieces };
    let count = lots * pieces;
    Plan {
        format: 1,
        checksum: String::new(),
        key_sha256: String::new(),
        title: "Forming".to_owned(),
        made_on: "2025-01-10".to_owned(),
        seed: 7,
        spoiled: SpoiledCount::LeftOut,
        factor: PlannedFactor {
            name: "forming_days".to_owned(),
            label: "forming time".to_owned(),
            unit: Some("days".to_owned()),
        },
        outcome: PlannedOutcome {
            criterion: "rating".to_owned(),
            scale: [0.0, 20.0],
            good_at: 12.0,
            best: Best::High,
            target: None,
            settled: "all".to_owned(),
            worthwhile: 0.5,
        },
        analysis: Analysis {
            model: "reed scores on arms and lots".to_owned(),
            comparisons: "each arm with the present one".to_owned(),
            level: 0.95,
            looks: vec![1.0],
            spending: Spending::ObrienFleming,
        },
        reckoned: Reckoned {
            sd_within: 1.0,
            spoilage: 0.0,
            power: 0.8,
            smallest_difference: 1.0,
            pieces: count as u64,
            reeds: count as f64,
        },
        arms: (0..arms).map(arm).collect(),
        blocks: (0..lots).map(block).collect(),
        pieces: Vec::new(),
    }
    .drawn(&BTreeSet::new())
}

fn sealed(plan: &Plan) -> ReadPlan {
    parse("plan.toml", &plan.to_toml()).unwrap_or_else(|why| panic!("the plan can be read: {why}"))
}

/// One row of the log as it would be if the plan were followed.
#[derive(Clone)]
struct Row {
    reed: String,
    lot: String,
    days: String,
    rating: String,
    fate: &'static str,
    arm: usize,
}

/// Every piece made and rated: `mark(block, arm, turn)`, the turn counting within block and arm.
fn rows(plan: &Plan, mark: impl Fn(usize, usize, usize) -> f64) -> Vec<Row> {
    let mut turns = vec![vec![0; plan.arms.len()]; plan.blocks.len()];
    let pieces = plan.pieces.iter().zip(plan.arms_of_pieces());
    let row = |(piece, arm): (&canewright::plan::PlannedPiece, usize)| {
        let block = piece.block - 1;
        let turn = turns[block][arm];
        turns[block][arm] += 1;
        Row {
            reed: piece.label.clone(),
            lot: plan.blocks[block].lot.clone(),
            days: plan.arms[arm].value.clone(),
            rating: mark(block, arm, turn).to_string(),
            fate: "in_use",
            arm,
        }
    };
    pieces.map(row).collect()
}

const SETTINGS: &str = "scale = [0, 20]\ngood_at = 12\nworthwhile = 0.5\noutcome = \"rating\"";

fn csv(rows: &[Row]) -> String {
    let mut text = "reed,lot,forming_days,started_on,fate,rating\n".to_owned();
    for Row { reed, lot, days, rating, fate, .. } in rows {
        writeln!(text, "{reed},{lot},{days},2025-02-01,{fate},{rating}").expect("text");
    }
    text
}

fn log(rows: &[Row]) -> Study {
    study(&[("reeds.csv", &csv(rows)), ("study.toml", SETTINGS)])
}

fn answered(plan: &ReadPlan, rows: &[Row]) -> (Finding, TrialReadSection) {
    let finding = trial_read::ask(&log(rows), plan).unwrap_or_else(|why| panic!("refused: {why}"));
    match finding.section.clone() {
        Section::TrialRead(section) => (finding, section),
        other => panic!("{other:?}"),
    }
}

fn refused(plan: &Plan, rows: &[Row]) -> Refusal {
    match trial_read::ask(&log(rows), &sealed(plan)) {
        Err(refusal) => refusal,
        Ok(finding) => panic!("expected a refusal, not: {}", finding.answer),
    }
}

/// Two lots, two arms, two reeds each. Lot 1: 10, 12 against 13, 15; lot 2: 6, 8 against 8, 12.
fn by_hand(block: usize, arm: usize, turn: usize) -> f64 {
    [[[10.0, 12.0], [13.0, 15.0]], [[6.0, 8.0], [8.0, 12.0]]][block][arm][turn]
}

/// The arms' means within lots differ by 3 and 3, so by 3. Left over: every pair lies at -1 and +1 about its mean, the last at -2 and +2, and the lots'
/// differences agree: 2 + 2 + 2 + 8 = 14 with 8 - 2 - 1 = 5 degrees of freedom. The error is sqrt(14 / 5 * (1/4 + 1/4)) = sqrt(1.4).
/// t(0.975, 5) = 2.5706 (Fisher & Yates 1963, table III, from memory).
#[test]
fn a_balanced_trial_agrees_with_the_hand() {
    let plan = plan(2, 2, 4);
    let (finding, section) = answered(&sealed(&plan), &rows(&plan, by_hand));
    let [one] = section.comparisons.as_slice() else { panic!("{:?}", section.comparisons) };
    close(one.estimate, 3.0, 1e-12, "difference");
    close(one.standard_error, 1.4_f64.sqrt(), 1e-12, "error");
    close(one.df, 5.0, 1e-12, "df");
    close(one.low, 3.0 - 2.5706 * 1.4_f64.sqrt(), 1e-4, "low");
    close(one.high, 3.0 + 2.5706 * 1.4_f64.sqrt(), 1e-4, "high");
    assert_eq!(one.verdict, Verdict::Open);
    // means over the lots: (11 + 7) / 2 and (14 + 10) / 2
    close(section.arms[0].mean.expect("rated").estimate, 9.0, 1e-12, "present");
    close(section.arms[1].mean.expect("rated").estimate, 12.0, 1e-12, "other");
    // good from 12 on: 12 of the first arm; 13, 15, 12 of the second
    close(section.arms[0].good_per_ten.expect("known").estimate, 2.5, 1e-12, "good");
    close(section.arms[1].good_per_ten.expect("known").estimate, 7.5, 1e-12, "good");
    close(one.good_per_ten.expect("known").estimate, 5.0, 1e-12, "good");
    assert!(section.plan_unchanged && section.key_holds && section.deviations.is_empty());
    assert!(!section.look.early && section.information == 1.0);
    assert!(finding.answer.contains("does not settle it"), "{}", finding.answer);
    assert_eq!(finding.used, (8, "marks"));
}

/// 12 reeds a lot and marks that hardly scatter: the difference of 3 lies wholly beyond the 0.5.
fn clear(block: usize, arm: usize, turn: usize) -> f64 {
    8.0 + block as f64 + 3.0 * arm as f64 + 0.2 * (turn as f64 - 2.5)
}

#[test]
fn a_cause_is_called_one_and_held_against_what_is_worth_having() {
    let plan = plan(2, 2, 12);
    let (finding, section) = answered(&sealed(&plan), &rows(&plan, clear));
    assert_eq!(section.comparisons[0].verdict, Verdict::Clear);
    assert!(
        finding
            .answer
            .starts_with("14 days instead of 7 days (forming time) raised the rating by 3.00"),
        "{}",
        finding.answer
    );
    assert!(finding.answer.contains("clear, by more than the 0.5"), "{}", finding.answer);
    let (_, lowered) = answered(&sealed(&plan), &rows(&plan, |b, a, t| 20.0 - clear(b, a, t)));
    assert!(lowered.sentence.contains("lowered the rating by 3.00"), "{}", lowered.sentence);
    let alike = |block: usize, _: usize, turn: usize| clear(block, 0, turn);
    let (_, nothing) = answered(&sealed(&plan), &rows(&plan, alike));
    assert_eq!(nothing.comparisons[0].verdict, Verdict::Negligible);
    assert!(nothing.sentence.contains("no difference worth having"), "{}", nothing.sentence);
}

/// Three arms of `n` reeds each in one lot, so that the model is the one-way layout of Dunnett.
#[test]
fn several_arms_are_compared_together() {
    let plan = plan(3, 2, 12);
    let scattered = |block: usize, arm: usize, turn: usize| {
        8.0 + block as f64 + 0.7 * arm as f64 + [-1.0, 1.0, -0.5, 0.5][turn]
    };
    let (_, section) = answered(&sealed(&plan), &rows(&plan, scattered));
    let [first, second] = section.comparisons.as_slice() else { panic!("two comparisons") };
    close(first.estimate, 0.7, 1e-12, "first");
    close(second.estimate, 1.4, 1e-12, "second");
    // left over 6 * 2.5 with 24 - 2 - 2 = 20 degrees; error sqrt(0.75 / 4); Dunnett 1955, table 2a: two-sided 5 %, two treatments, 20 df: 2.38 (from memory)
    let error = (15.0 / 20.0 * 2.0 / 8.0_f64).sqrt();
    close(first.standard_error, error, 1e-12, "error");
    close((second.high - second.estimate) / error, 2.38, 0.006, "critical value");
    assert!(first.p > 0.05 && second.p < 0.05 && first.verdict == Verdict::Open);
}

#[test]
fn a_piece_of_the_trials_lots_without_a_label_is_named_and_not_counted() {
    let plan = plan(2, 2, 12);
    let mut rows = rows(&plan, clear);
    let extra = |reed: &str, lot: &str| Row {
        reed: reed.to_owned(),
        lot: lot.to_owned(),
        rating: "20".to_owned(),
        ..rows[0].clone()
    };
    let (of_the_lots, of_another) = (extra("X-1", "L2"), extra("X-2", "L9"));
    rows.extend([of_the_lots, of_another]);
    let (finding, section) = answered(&sealed(&plan), &rows);
    let named: Vec<&str> = section.deviations.iter().map(|one| one.label.as_str()).collect();
    assert_eq!(named, ["X-1"]);
    assert_eq!(section.rated, 24);
    let told = finding.more.iter().find(|text| text.contains("X-1")).expect("named");
    assert!(told.contains("carries no label") && !told.contains("X-2"), "{told}");
    assert!(!finding.more.iter().any(|text| text.contains("was done as planned")));
}

#[test]
fn pieces_stay_in_their_arm_and_what_was_done_otherwise_is_listed() {
    let plan = plan(2, 2, 12);
    let mut rows = rows(&plan, clear);
    let at = rows.iter().position(|row| row.arm == 1).expect("an arm of 14 days");
    let label = rows[at].reed.clone();
    rows[at].days = "7".to_owned();
    let strange = rows.iter().position(|row| row.arm == 0).expect("an arm of 7 days");
    rows[strange].days = "9".to_owned();
    let moved = rows.iter().rposition(|row| row.arm == 0).expect("another");
    rows[moved].lot = "L9".to_owned();
    let (finding, section) = answered(&sealed(&plan), &rows);
    close(section.comparisons[0].estimate, 3.0, 1e-9, "as allocated");
    let made = section.comparisons[0].as_made.expect("something was made otherwise");
    assert!(made.estimate < 3.0, "{made:?}");
    let told: Vec<[&str; 4]> = section
        .deviations
        .iter()
        .map(|one| [one.label.as_str(), &one.what, &one.planned, &one.found])
        .collect();
    assert_eq!(told.len(), 3, "{told:?}");
    assert!(told.contains(&[&label, "made otherwise", "14 days", "7 days"]));
    assert!(told.contains(&[&rows[strange].reed, "made otherwise", "7 days", "9"]));
    assert!(told.iter().any(|one| one[1] == "another lot" && one[3] == "L9"));
    assert!(finding.more.iter().any(|text| text.contains(&label)), "{:?}", finding.more);
    assert!(finding.tables.iter().any(|table| table.name == "trial_deviations"));
}

#[test]
fn a_changed_plan_is_read_and_the_answer_says_so() {
    let plan = plan(2, 2, 12);
    let text = plan.to_toml().replace("worthwhile = 0.5", "worthwhile = 5.0");
    let changed = parse("plan.toml", &text).unwrap_or_else(|why| panic!("{why}"));
    let (finding, section) = answered(&changed, &rows(&plan, clear));
    assert!(!section.plan_unchanged);
    assert!(finding.answer.starts_with("The plan was changed"), "{}", finding.answer);
    assert_eq!(section.comparisons[0].verdict, Verdict::Negligible);
    assert!(finding.caveats.iter().any(|text| text.contains("checksum")));
    assert!(
        finding
            .caveats
            .iter()
            .any(|text| text.contains("differ from the plan's in the difference worth having;"))
    );
}

/// The rows of which so many share the arms and lots evenly; the rest is not made yet.
fn early(plan: &Plan, rows: &[Row], turns: usize) -> Vec<Row> {
    let mut counted = std::collections::BTreeMap::new();
    let mut kept = rows.to_vec();
    kept.retain(|row| {
        let seen = counted.entry((row.lot.clone(), row.arm)).or_insert(0);
        *seen += 1;
        *seen <= turns
    });
    assert!(kept.len() < plan.pieces.len());
    kept
}

/// Two looks without a plan at half and at the end: 8.3 false alarms in 100 (Armitage, McPherson & Rowe 1969, table 2, from memory).
#[test]
fn reading_early_is_said_with_its_price() {
    let plan = plan(2, 2, 12);
    let rows = early(&plan, &rows(&plan, clear), 3);
    let (finding, section) = answered(&sealed(&plan), &rows);
    assert!(section.look.early && !section.look.foreseen);
    assert_eq!((section.made, section.rated, section.open), (12, 12, 12));
    close(section.information, 0.5, 1e-12, "information");
    close(section.look.false_alarm.expect("no look was planned"), 0.083, 5e-4, "false alarms");
    assert!(
        finding.answer.starts_with("Read early, with 12 marks of about 24"),
        "{}",
        finding.answer
    );
    assert!(finding.more.iter().any(|text| text.contains("8\u{202F}%")), "{:?}", finding.more);
    // as it is: t(0.975, 9) = 2.262 (Fisher & Yates 1963, from memory)
    let one = &section.comparisons[0];
    close((one.high - one.estimate) / one.standard_error, 2.262, 5e-4, "plain interval");
}

/// Bounds 2.963 and 1.969 at half and at the end (Reboussin et al. 2000, from memory): two-sided levels 0.00305 and 0.0490.
#[test]
fn a_look_that_the_plan_allows_has_a_bound_of_its_own() {
    let mut plan = plan(2, 2, 12);
    plan.analysis.looks = vec![0.5, 1.0];
    let plan = plan.drawn(&BTreeSet::new());
    let all = rows(&plan, clear);
    let (finding, half) = answered(&sealed(&plan), &early(&plan, &all, 3));
    assert!(half.look.foreseen && half.look.early && half.look.reached);
    assert_eq!((half.look.number, half.look.planned), (1, 2));
    close(half.look.nominal_level, 0.00305, 1e-5, "level");
    assert!(finding.more.iter().any(|text| text.contains("may end here")), "{:?}", finding.more);
    let mild = |block: usize, arm: usize, turn: usize| {
        8.0 + block as f64 + 0.4 * arm as f64 + [-1.0, 1.0, -0.4, 0.6, -0.5, 0.5][turn]
    };
    let (finding, unclear) = answered(&sealed(&plan), &early(&plan, &rows(&plan, mild), 3));
    assert!(!unclear.look.reached && unclear.comparisons[0].verdict == Verdict::Open);
    assert!(
        finding.more.iter().any(|text| text.contains("go on to the end")),
        "{:?}",
        finding.more
    );
    let (_, end) = answered(&sealed(&plan), &all);
    assert_eq!((end.look.number, end.look.early), (2, false));
    // what was not spent at half way: 0.05 less 0.00305
    close(end.look.nominal_level, 0.04695, 5e-6, "level at the end");
    let after = end.comparisons[0].after_looks.expect("looks were planned");
    assert!(after.estimate < end.comparisons[0].estimate && after.estimate > 2.0);
}

#[test]
fn spoiled_pieces_count_as_the_plan_says() {
    let mut plan = plan(2, 2, 12);
    let mut rows = rows(&plan, clear);
    let at = rows.iter().position(|row| row.arm == 1).expect("an arm of 14 days");
    rows[at].fate = "spoiled";
    rows[at].rating = String::new();
    let (_, out) = answered(&sealed(&plan), &rows);
    assert_eq!((out.rated, out.spoiled, out.open, out.arms[1].spoiled), (23, 1, 0, 1));
    // eleven of twelve reeds of 11 and more can be good, the spoiled one cannot
    assert!(out.arms[1].good_per_ten.expect("known").estimate < 10.0);
    plan.spoiled = SpoiledCount::WorstMark;
    let plan = plan.drawn(&BTreeSet::new());
    let (finding, worst) = answered(&sealed(&plan), &rows);
    assert_eq!((worst.rated, worst.spoiled), (24, 1));
    assert!(worst.comparisons[0].estimate < out.comparisons[0].estimate - 0.5);
    assert!(finding.caveats.iter().any(|text| text.contains("worst mark")));
}

#[test]
fn a_trial_that_cannot_be_read_yet_says_what_it_takes() {
    let plan = plan(2, 2, 4);
    let all = rows(&plan, by_hand);
    let mut strangers = all.clone();
    for (number, row) in strangers.iter_mut().enumerate() {
        row.reed = format!("reed {number}");
    }
    let none = refused(&plan, &strangers);
    assert!(none.found.contains("None of the plan's 8 labels"), "{none}");
    let mut unrated = all.clone();
    unrated.iter_mut().for_each(|row| row.rating = String::new());
    unrated.push(Row { reed: "other".to_owned(), rating: "3".to_owned(), ..all[0].clone() });
    assert!(refused(&plan, &unrated).found.contains("none has a mark"));
    let mut one_arm = all.clone();
    one_arm.retain(|row| row.arm == 1);
    let refusal = refused(&plan, &one_arm);
    assert!(refusal.found.contains("of one arm, 14 days"), "{refusal}");
    let alike = rows(&plan, |_, arm, _| arm as f64);
    assert!(refused(&plan, &alike).found.contains("do not differ"));
    let mut two = all.clone();
    two.sort_by_key(|row| row.lot.clone());
    let other = two.iter().position(|row| row.arm != two[0].arm).expect("both arms");
    let two = vec![two[0].clone(), two[other].clone()];
    assert!(refused(&plan, &two).found.contains("too few"));
}

#[test]
fn a_lot_of_one_arm_tells_of_the_scatter_alone() {
    let plan = plan(2, 2, 12);
    let mut rows = rows(&plan, |block, arm, turn| clear(block, arm, turn) + 5.0 * block as f64);
    rows.retain(|row| row.lot == "L1" || row.arm == 1);
    let (finding, section) = answered(&sealed(&plan), &rows);
    close(section.comparisons[0].estimate, 3.0, 1e-9, "difference");
    // 18 marks less 2 lots and 1 arm
    close(section.comparisons[0].df, 15.0, 1e-9, "df");
    assert_eq!(finding.used, (18, "marks"));
}

#[test]
fn an_arm_that_never_shared_a_lot_is_set_apart_and_said() {
    let plan = plan(3, 2, 12);
    let mut rows = rows(&plan, clear);
    rows.retain(|row| (row.lot == "L1") == (row.arm < 2));
    let (finding, section) = answered(&sealed(&plan), &rows);
    assert_eq!(section.comparisons.len(), 1);
    close(section.comparisons[0].estimate, 3.0, 1e-9, "difference");
    assert_eq!(finding.used, (8, "marks"));
    assert!(
        finding
            .left_out
            .iter()
            .any(|out| out.n == 4 && out.why.contains("without the arm that the others"))
    );
    assert!(finding.caveats.iter().any(|text| text.contains("21 days")), "{:?}", finding.caveats);
}

#[test]
fn a_pooled_log_finds_its_labels_under_the_log_s_name() {
    let plan = plan(2, 2, 12);
    let mut rows = rows(&plan, clear);
    for row in &mut rows {
        row.reed = format!("studio/{}", row.reed.to_lowercase());
    }
    let (_, section) = answered(&sealed(&plan), &rows);
    assert_eq!((section.made, section.deviations.len()), (24, 0));
}

#[test]
fn numbers_of_every_piece_add_up() {
    let plan = plan(2, 2, 12);
    let mut rows = early(&plan, &rows(&plan, clear), 4);
    rows[0].rating = String::new();
    rows[1].rating = String::new();
    rows[1].fate = "spoiled";
    rows[2].rating = String::new();
    rows[2].fate = "given_away";
    let (finding, section) = answered(&sealed(&plan), &rows);
    let left_out: usize = finding.left_out.iter().map(|out| out.n).sum();
    assert_eq!(finding.used.0 + left_out, plan.pieces.len());
    assert_eq!((section.open, section.spoiled), (9, 1));
}

/// A folder with the log and the plan beside it.
fn on_disk(plan: &Plan, rows: &[Row]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let logs = folder.path().join("log");
    fs::create_dir(&logs).expect("the folder can be written to");
    fs::write(logs.join("reeds.csv"), csv(rows)).expect("the folder can be written to");
    fs::write(logs.join("study.toml"), SETTINGS).expect("the folder can be written to");
    fs::write(folder.path().join("plan.toml"), plan.to_toml()).expect("it can be written");
    folder
}

fn called(folder: &Path, options: &[&str]) -> Output {
    let mut command = assert_cmd::cargo::cargo_bin_cmd!("canewright");
    command.current_dir(folder).args(["trial", "read", "log", "plan.toml"]).args(options);
    command.output().expect("the program can be called")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

#[test]
fn the_command_reads_a_log_by_its_plan_and_writes_the_folder() {
    let plan = plan(2, 2, 12);
    let folder = on_disk(&plan, &rows(&plan, clear));
    let output = called(folder.path(), &["--out", "review", "--quiet"]);
    let page = text(&output.stdout);
    assert!(output.status.success(), "{page}{}", text(&output.stderr));
    assert!(
        page.contains("What did the trial say?") && page.contains("raised the rating"),
        "{page}"
    );
    for file in ["plots/trial_arms.svg", "plots/trial_differences.svg", "tables/trial_arms.csv"] {
        assert!(folder.path().join("review").join(file).is_file(), "{file}");
    }
    let results = fs::read_to_string(folder.path().join("review/results.json")).expect("written");
    let results: serde_json::Value = serde_json::from_str(&results).expect("JSON");
    close(
        results["trial_read"]["comparisons"][0]["estimate"].as_f64().expect("number"),
        3.0,
        1e-9,
        "estimate",
    );
    let alone = text(&called(folder.path(), &["--json"]).stdout);
    let alone: serde_json::Value = serde_json::from_str(&alone).expect("JSON");
    assert_eq!(alone, results["trial_read"]);
}

#[test]
fn a_plan_that_is_none_is_told_with_its_line_and_nothing_is_done() {
    let plan = plan(2, 2, 4);
    let folder = on_disk(&plan, &rows(&plan, by_hand));
    let broken = plan.to_toml().replace("present = true", "present = perhaps");
    fs::write(folder.path().join("plan.toml"), broken).expect("it can be written");
    let output = called(folder.path(), &[]);
    let told = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert!(told.contains("plan.toml, line "), "{told}");
}

#[test]
fn a_trial_not_yet_made_is_refused_with_an_answer_and_not_a_failure() {
    let plan = plan(2, 2, 4);
    let mut strangers = rows(&plan, by_hand);
    for (number, row) in strangers.iter_mut().enumerate() {
        row.reed = format!("reed {number}");
    }
    let folder = on_disk(&plan, &strangers);
    let output = called(folder.path(), &["--quiet"]);
    assert!(output.status.success());
    assert!(text(&output.stdout).contains("None of the plan's 8 labels"));
}
