//! What a trial takes: published sizes, hand-made logs, and designs that cannot work.

use std::collections::BTreeMap;
use std::fmt::Write;

use canewright::finding::{ChartKind, Finding, Section, TrialPlanSection};
use canewright::plan::{Plan, SpoiledCount, parse};
use canewright::problem::Refusal;
use canewright::questions::trial_plan::{PlanOptions, ask};
use canewright::study::Study;
use proptest::prelude::*;

use super::{close, noise, reeds, study, table};

/// Eight lots of three reeds rated one below, at and above the lot's middle: two degrees of freedom and a sum of squares of 2 in each, so the standard
/// deviation within lots is 1.
fn scatter_of_one(settings: &str) -> Study {
    let line = |row: usize| {
        let (lot, place) = (row / 3, row % 3);
        format!("L{lot},{},{}", 5 + lot % 4 + place, 7 + 7 * (row % 2))
    };
    reeds(&table("lot,rating,forming_days", 24, line), settings)
}

fn options() -> PlanOptions {
    PlanOptions::on("2025-11-30")
}

fn one_lot() -> PlanOptions {
    PlanOptions { lots: vec!["Next".to_owned()], ..options() }
}

fn arms(values: &[&str]) -> Vec<String> {
    values.iter().map(|value| (*value).to_owned()).collect()
}

fn planned(study: &Study, options: &PlanOptions) -> (Finding, TrialPlanSection, Plan) {
    let (finding, plan) = ask(study, options).unwrap_or_else(|why| panic!("refused: {why}"));
    let Section::TrialPlan(section) = finding.section.clone() else { panic!("another section") };
    (finding, section, plan)
}

fn refused(study: &Study, options: &PlanOptions) -> Refusal {
    match ask(study, options) {
        Err(refusal) => refusal,
        Ok((finding, _)) => panic!("expected a refusal, not: {}", finding.answer),
    }
}

#[test]
fn one_lot_takes_the_pieces_of_the_table_of_two_samples() {
    // Cohen 1988, table 2.4.1 (two sides .05), n of each sample, from memory; two arms in one block have as many degrees of freedom as two samples
    let study = scatter_of_one("");
    for (power, d, n) in [(0.8, 0.5, 64), (0.8, 0.8, 26), (0.8, 1.0, 17), (0.9, 0.8, 34)] {
        let options = PlanOptions { power, worthwhile: Some(d), ..one_lot() };
        let (_, section, plan) = planned(&study, &options);
        close(section.sd_within, 1.0, 1e-12, "the scatter");
        assert_eq!((section.sd_df, section.pieces), (16, 2 * n), "{d} {power}");
        assert!(section.power >= power && section.smallest_difference <= d);
        assert_eq!(plan.pieces.len(), 2 * n);
    }
}

#[test]
fn the_power_of_a_given_number_is_that_of_the_table() {
    // Cohen 1988, table 2.3.5 (two sides .05), in hundredths, from memory
    let study = scatter_of_one("");
    for (n, d, percent) in [(20, 0.8, 69.0), (30, 0.5, 47.0), (50, 0.2, 17.0)] {
        let options = PlanOptions { pieces: Some(2 * n), worthwhile: Some(d), ..one_lot() };
        close(100.0 * planned(&study, &options).1.power, percent, 1.0, "the power");
    }
}

#[test]
fn three_arms_and_looks_on_the_way_take_more_pieces() {
    let study = scatter_of_one("");
    let pieces = |options: PlanOptions| planned(&study, &options).1.pieces;
    let two = PlanOptions { worthwhile: Some(0.5), ..one_lot() };
    let three = PlanOptions { arms: arms(&["7", "14", "21"]), ..two.clone() };
    // two comparisons together at .05: more than half as many again
    assert!(pieces(three.clone()) * 2 > pieces(two.clone()) * 3);
    let looks = PlanOptions { looks: 5, ..two.clone() };
    let (fewest, most) = (pieces(two.clone()) as f64, pieces(looks.clone()) as f64);
    assert!(most > fewest && most < 1.06 * fewest, "{most} {fewest}");
    assert_eq!(planned(&study, &looks).2.analysis.looks, [0.2, 0.4, 0.6, 0.8, 1.0]);
}

/// 24 rated reeds as above and 6 spoiled ones: one piece in five.
fn with_spoiled() -> Study {
    let mut text = "reed,lot,rating,forming_days,fate\n".to_owned();
    for row in 0..24 {
        let (lot, place) = (row / 3, row % 3);
        writeln!(text, "{row},L{lot},{},{},in_use", 5 + lot % 4 + place, 7 + 7 * (row % 2))
            .unwrap();
    }
    for row in 24..30 {
        writeln!(text, "{row},L{},,7,spoiled", row % 8).unwrap();
    }
    reeds(&text, "")
}

#[test]
fn enough_reeds_are_left_nine_times_in_ten() {
    let options = PlanOptions { worthwhile: Some(0.8), ..one_lot() };
    let (finding, section, plan) = planned(&with_spoiled(), &options);
    close(section.spoilage.unwrap(), 0.2, 1e-12, "spoiled");
    close(section.reeds_expected, 0.8 * section.pieces as f64, 1e-9, "reeds");
    // 52 reeds are needed (26 each, as above); each piece is kept with 0.8
    let chance =
        |pieces: usize| -> f64 { (52..=pieces).map(|kept| binomial(pieces, kept, 0.8)).sum() };
    assert!(chance(section.pieces) >= 0.9);
    assert!(chance(section.pieces - 2) < 0.9, "{}", section.pieces);
    assert!(
        finding.more.iter().any(|more| more.contains("20\u{202F}% of the pieces were spoiled"))
    );
    assert_eq!(plan.reckoned.pieces, section.pieces as u64);
}

fn binomial(count: usize, kept: usize, chance: f64) -> f64 {
    let ways: f64 = (0..kept).map(|i| ((count - i) as f64 / (i + 1) as f64).ln()).sum();
    (ways + kept as f64 * chance.ln() + (count - kept) as f64 * (1.0 - chance).ln()).exp()
}

#[test]
fn where_spoiled_pieces_get_the_worst_mark_they_count_in_the_scatter() {
    let worst =
        PlanOptions { spoiled: SpoiledCount::WorstMark, worthwhile: Some(0.8), ..one_lot() };
    let (_, section, plan) = planned(&with_spoiled(), &worst);
    // each lot's marks are m - 1, m, m + 1, and in six lots a 0: squares 2 + 3 m^2 / 4, with m 6, 7, 8, 9 by lot modulo 4
    let middles = [6.0, 7.0, 8.0, 9.0, 6.0, 7.0, 8.0, 9.0];
    let squares: f64 = middles
        .iter()
        .enumerate()
        .map(|(lot, m)| if lot < 6 { 2.0 + 0.75 * m * m } else { 2.0 })
        .sum();
    close(section.sd_within, (squares / 22.0_f64).sqrt(), 1e-12, "the scatter");
    assert_eq!(plan.spoiled, SpoiledCount::WorstMark);
}

#[test]
fn the_present_practice_is_the_first_arm_and_the_promising_candidate_the_other() {
    let line = |row: usize| {
        let days = [7, 7, 7, 10, 14, 21][row % 6];
        // half a point a week better, the same in every lot
        format!("L{},{:.2},{days}", row / 6, 6.0 + days as f64 / 14.0 + noise(row, 0))
    };
    let settings = "[decide.forming_days]\ncandidates = [5, 14, 21, 60]\n";
    let study = reeds(&table("lot,rating,forming_days", 48, line), settings);
    let (finding, section, plan) = planned(&study, &options());
    let named: Vec<&str> = section.arms.iter().map(|arm| arm.name.as_str()).collect();
    assert_eq!(named, ["7 days", "21 days"], "60 days lie beyond what the log knows");
    assert!(section.arms[0].present && plan.present() == 0);
    assert!(finding.more.iter().any(|more| more.contains("21 days went with the best ratings")));
}

#[test]
fn a_choice_is_compared_with_its_commonest_level() {
    let line = |row: usize| {
        let scoring = ["none", "none", "cross"][row % 3];
        format!("L{},{:.2},{scoring}", row / 6, 6.0 + noise(row, 1))
    };
    let study = reeds(&table("lot,rating,scoring", 36, line), "");
    let options = PlanOptions { factor: Some("scoring".to_owned()), ..options() };
    let values: Vec<String> =
        planned(&study, &options).1.arms.into_iter().map(|arm| arm.value).collect();
    assert_eq!(values, ["none", "cross"]);
}

#[test]
fn the_answer_says_what_to_make_and_what_it_would_show() {
    let study = scatter_of_one("");
    let with = |lots: &[&str], pieces| {
        let options = PlanOptions {
            lots: arms(lots),
            pieces: Some(pieces),
            worthwhile: Some(1.0),
            ..options()
        };
        planned(&study, &options).0.answer
    };
    let even = with(&["A", "B"], 32);
    let start = "Make 32 pieces, 16 from each of two lots: in every lot 8 with 7 days and 8 with 14 days (days on the pin). If the two truly \
                 differ by 1 rating point, such a trial shows it ";
    assert!(even.starts_with(start), "{even}");
    let odd = with(&["A", "B"], 33);
    let start = "Make 33 pieces from two lots: in every lot equally many with 7 days and 14 days (days on the pin), give or take one.";
    assert!(odd.starts_with(start), "{odd}");
    let one = with(&["A"], 34);
    assert!(
        one.starts_with("Make 34 pieces from one lot: 17 with 7 days and 17 with 14 days"),
        "{one}"
    );
}

#[test]
fn given_arms_stand_as_they_are_and_what_nobody_tried_is_said() {
    let study = scatter_of_one("");
    let options = PlanOptions { arms: arms(&["28", " 14 days"]), ..one_lot() };
    let (finding, section, _) = planned(&study, &options);
    let values: Vec<&str> = section.arms.iter().map(|arm| arm.value.as_str()).collect();
    assert_eq!(values, ["28", "14"]);
    let caveats = finding.caveats.join("\n");
    assert!(caveats.contains("present practice, 7 days, is not in the trial"), "{caveats}");
    assert!(caveats.contains("nothing like 28 days"), "{caveats}");
    assert!(caveats.contains("One lot alone"), "{caveats}");
}

fn with_lots(lots: &str) -> Study {
    let line = |row: usize| format!("L{},{},{}", row / 3, 5 + row % 3, 7 + 7 * (row % 2));
    let text = table("lot,rating,forming_days", 24, line);
    let settings = "scale = [0, 20]\ngood_at = 12\nworthwhile = 1.0\noutcome = \"rating\"\n";
    study(&[("reeds.csv", &text), ("lots.csv", lots), ("study.toml", settings)])
}

#[test]
fn cane_at_hand_is_used_as_far_as_it_goes() {
    // 3 pieces of each were made: 20, 17 and 1 are left; 38 pieces suffice, the lot of one piece stays out
    let study = with_lots("lot,pieces_bought\nL0,23\nL1,20\nL2,4\n");
    let (finding, section, _) = planned(&study, &options());
    let held: Vec<(&str, usize)> =
        section.blocks.iter().map(|block| (block.lot.as_str(), block.pieces)).collect();
    assert_eq!(held.iter().map(|(lot, _)| *lot).collect::<Vec<_>>(), ["L0", "L1"]);
    assert!(held.iter().all(|(_, pieces)| pieces % 2 == 0) && held[1].1 <= 17, "{held:?}");
    assert!(section.power >= 0.8);
    assert!(finding.caveats.iter().any(|caveat| caveat.contains("cane left by the log")));
}

#[test]
fn without_enough_cane_the_plan_is_for_new_lots() {
    let study = with_lots("lot,pieces_bought\nL0,9\n");
    let (finding, section, _) = planned(&study, &options());
    let lots: Vec<&str> = section.blocks.iter().map(|block| block.lot.as_str()).collect();
    assert_eq!(lots, ["lot 1", "lot 2", "lot 3", "lot 4"]);
    assert!(finding.caveats.iter().any(|caveat| caveat.contains("plan again with its names")));
}

#[test]
fn more_pieces_than_cane_are_refused_with_what_the_cane_could_show() {
    let study = with_lots("lot,pieces_bought\nL0,13\nL1,13\n");
    let named = PlanOptions { lots: arms(&["L0", "L1"]), ..options() };
    let why = refused(&study, &PlanOptions { worthwhile: Some(0.3), ..named.clone() });
    assert!(why.found.contains("cane for 20 pieces"), "{why}");
    assert!(why.takes.contains("`--pieces 20` would find"), "{why}");
    let why = refused(&study, &PlanOptions { pieces: Some(30), ..named.clone() });
    assert!(
        why.found.contains("20 pieces of cane left") && why.takes.contains("--pieces 20"),
        "{why}"
    );
    assert_eq!(planned(&study, &PlanOptions { pieces: Some(20), ..named }).1.pieces, 20);
}

#[test]
fn the_lots_of_two_makers_are_blocks_of_their_own() {
    let line = |row: usize| {
        format!(
            "L{},{},{},{}",
            row / 6,
            ["one", "other"][row / 3 % 2],
            5 + row % 3,
            7 + 7 * (row % 2)
        )
    };
    let study = reeds(&table("lot,maker,rating,forming_days", 48, line), "");
    let options = PlanOptions { lots: arms(&["L0", "New"]), ..options() };
    let (_, section, _) = planned(&study, &options);
    let blocks: Vec<(&str, Option<&str>)> =
        section.blocks.iter().map(|block| (block.lot.as_str(), block.maker.as_deref())).collect();
    let both = |lot| [(lot, Some("one")), (lot, Some("other"))];
    assert_eq!(blocks, [both("L0"), both("New")].concat());
    // reeds of a lot and maker are three, and scatter by one
    assert_eq!((section.sd_df, section.sd_within), (32, 1.0));
}

#[test]
fn designs_that_cannot_work_are_refused_with_what_would() {
    let study = scatter_of_one("");
    let with = |change: fn(&mut PlanOptions)| {
        let mut options = options();
        change(&mut options);
        refused(&study, &options).to_string()
    };
    let hint = |text: String, hint: &str| assert!(text.contains(hint), "{text}");
    hint(with(|o| o.factor = Some("varnish".into())), "“varnish”");
    hint(with(|o| o.arms = vec!["7".into()]), "One arm alone");
    hint(with(|o| o.arms = ["1", "2", "3", "4", "5"].map(String::from).to_vec()), "Five arms");
    hint(with(|o| o.arms = vec!["7".into(), "7.0 days".into()]), "twice");
    hint(with(|o| o.arms = vec!["7".into(), "long".into()]), "not a number");
    hint(with(|o| o.pieces = Some(1)), "2 arms in every lot");
    hint(
        with(|o| (o.pieces, o.lots) = (Some(7), ["A", "B", "C", "D"].map(String::from).to_vec())),
        "8 pieces at least, or three lots",
    );
    hint(with(|o| o.pieces = Some(2)), "nothing to measure chance by");
    hint(with(|o| o.lots = vec!["A".into(), "A ".into()]), "twice");
    hint(with(|o| o.worthwhile = Some(0.01)), "more than 2\u{202F}000 pieces");
    hint(with(|o| o.worthwhile = Some(-1.0)), "above 0");
    hint(with(|o| o.power = 1.0), "between 0.05");
    hint(with(|o| o.looks = 9), "one to five");
    hint(with(|o| o.made_on = "soon".into()), "no date");
}

#[test]
fn what_comes_with_the_cane_cannot_be_dealt_out() {
    let line = |row: usize| format!("L{},{},{}", row / 3, 5 + row % 3, 12 + row % 5);
    let study = reeds(&table("lot,rating,hardness", 24, line), "");
    let why = refused(&study, &PlanOptions { factor: Some("hardness".into()), ..options() });
    assert!(why.found.contains("comes with the cane"), "{why}");
    assert!(refused(&study, &options()).found.contains("no days on the pin"));
}

#[test]
fn logs_that_do_not_tell_the_scatter_are_refused() {
    let own_lot =
        table("lot,rating,forming_days", 12, |row| format!("L{row},{row},{}", 7 + 7 * (row % 2)));
    assert!(refused(&reeds(&own_lot, ""), &options()).found.contains("too few to tell"));
    let alike =
        table("lot,rating,forming_days", 12, |row| format!("L{},6,{}", row / 4, 7 + 7 * (row % 2)));
    assert!(refused(&reeds(&alike, ""), &options()).found.contains("the same rating"));
    let one_level = table("lot,rating,forming_days", 12, |row| format!("L{},{},7", row / 4, row));
    let why = refused(&reeds(&one_level, ""), &options());
    assert!(why.found.contains("always 7 days") && why.takes.contains("--arms"), "{why}");
}

#[test]
fn without_lots_the_scatter_of_all_reeds_serves_and_it_is_said() {
    let text =
        table("rating,forming_days", 20, |row| format!("{},{}", 5 + row % 5, 7 + 7 * (row % 2)));
    let (finding, section, _) = planned(&reeds(&text, ""), &options());
    assert_eq!(section.sd_df, 19);
    assert!(finding.caveats.iter().any(|caveat| caveat.contains("names no lot")));
}

#[test]
fn the_curves_rise_with_the_pieces_and_with_the_difference_and_meet_the_plan() {
    let (finding, section, _) = planned(&scatter_of_one(""), &options());
    let ChartKind::PowerCurve { curves, planned, .. } = &finding.charts[0].kind else {
        panic!("another chart")
    };
    let [large, middle, worthwhile] = curves.as_slice() else { panic!("three curves") };
    for (more, less) in [(large, middle), (middle, worthwhile)] {
        assert!(more.points.iter().zip(&less.points).all(|(more, less)| more[1] >= less[1]));
    }
    assert!(worthwhile.points.windows(2).all(|pair| pair[0][1] <= pair[1][1] + 0.03));
    let at_plan = worthwhile.points.iter().find(|point| point[0] == *planned).expect("the plan");
    assert_eq!((at_plan[1], *planned), (section.power, section.pieces as f64));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]
    #[test]
    fn every_lot_is_balanced_whatever_is_asked(
        seed in any::<u64>(), pieces in 24_usize..90, lots in 1_usize..6, count in 2_usize..5
    ) {
        let study = scatter_of_one("");
        let names: Vec<String> = (0..lots).map(|lot| format!("N{lot}")).collect();
        let values = arms(&["7", "14", "21", "28"][..count]);
        let options = PlanOptions { arms: values, lots: names, pieces: Some(pieces), seed, ..options() };
        let (_, section, plan) = planned(&study, &options);
        prop_assert_eq!(section.pieces, pieces);
        let mut counts: BTreeMap<(usize, usize), usize> = BTreeMap::new();
        for (piece, arm) in plan.pieces.iter().zip(plan.arms_of_pieces()) {
            *counts.entry((piece.block, arm)).or_default() += 1;
        }
        for block in 1..=lots {
            let held: Vec<usize> = (0..count).map(|arm| counts.get(&(block, arm)).copied().unwrap_or(0)).collect();
            prop_assert!(held.iter().max().unwrap() - held.iter().min().unwrap() <= 1, "{:?}", held);
        }
        let read = parse("plan.toml", &plan.to_toml()).unwrap();
        prop_assert!(read.unchanged && read.key_holds && read.plan == plan);
    }
}
