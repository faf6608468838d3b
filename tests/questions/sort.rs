//! Whether a measurement is worth taking: counted by hand, held against another program, refused.

use canewright::finding::{Finding, Section, SortResult, SortVerdict};
use canewright::problem::Refusal;
use canewright::questions::{Options, find};
use canewright::study::Study;

use super::{answered, close, noise, reeds, refused, study, table};

fn sorted(study: &Study) -> Vec<SortResult> {
    section(answered("sort", study))
}

fn section(finding: Finding) -> Vec<SortResult> {
    match finding.section {
        Section::Sort(list) => list,
        other => panic!("{other:?}"),
    }
}

fn named(study: &Study, measure: &str) -> Result<Finding, Refusal> {
    let options = Options { factor: Some(measure.to_owned()), ..Options::default() };
    (find("sort").expect("in the registry").ask)(study, &options)
}

/// Four lots of ten pieces of hardness 11 to 20; those of 16 and more become good, the others are rated low; each took half an hour and cost 2.
fn hard_is_good() -> Study {
    let text = table("lot,hardness,scrape_min,rating,fate", 40, |row| {
        let hardness = 11 + row % 10;
        let rating = if hardness >= 16 { 15 } else { 8 };
        format!("lot {},{hardness},30,{rating},in_use", row / 10)
    });
    let lots = "lot,price_per_piece\nlot 0,2\nlot 1,2\nlot 2,2\nlot 3,2\n";
    let settings = "scale = [0, 20]\ngood_at = 12\noutcome = \"rating\"";
    study(&[("reeds.csv", &text), ("lots.csv", lots), ("study.toml", settings)])
}

/// By hand: 20 of 40 are good, of the 20 kept all. 40 times 30 minutes for 20 good reeds are 60 each, 20 times 30 minutes 30 each; cane for 80 is 4 each, dropped or not.
/// Net benefit where a good reed is worth the work on two pieces (a threshold of a half): (20 - 20) / 40 = 0 for all, 20 / 40 for the kept.
#[test]
fn where_only_the_hard_half_is_good_ten_of_ten_kept_are_good() {
    let list = sorted(&hard_is_good());
    let [found] = list.as_slice() else { panic!("{list:?}") };
    assert_eq!((found.keep_low, found.keep_high), (Some(16.0), None));
    assert_eq!((found.good_per_ten_all, found.good_per_ten_kept, found.gain), (5.0, 10.0, 5.0));
    assert_eq!((found.dropped_share, found.good_share_dropped), (0.5, Some(0.0)));
    assert_eq!(
        (found.minutes_per_good_all, found.minutes_saved_per_good),
        (Some(60.0), Some(30.0))
    );
    assert_eq!((found.cost_per_good_all, found.cost_per_good_kept), (Some(4.0), Some(4.0)));
    assert_eq!(found.hour_worth, None);
    assert_eq!(found.verdict, SortVerdict::WorthIt);
    let half = found.net_benefit.iter().find(|at| at.threshold == 0.5).expect("a threshold");
    assert_eq!((half.all, half.kept), (0.0, 0.5));
    assert!(
        found.sentence.starts_with("Hardness: worth it. Keep pieces from 16 up"),
        "{}",
        found.sentence
    );
}

/// A spoiled piece counts as no good reed: the same log with the soft half spoiled on the way gives the same limits.
#[test]
fn spoiled_pieces_count_as_pieces_worked_on_in_vain() {
    let text = table("lot,hardness,rating,fate,spoiled_at", 40, |row| {
        let hardness = 11 + row % 10;
        let ending = if hardness >= 16 { "15,in_use," } else { ",spoiled,form" };
        format!("lot {},{hardness},{ending}", row / 10)
    });
    let found = &sorted(&reeds(&text, ""))[0];
    assert_eq!((found.keep_low, found.good_per_ten_all, found.used), (Some(16.0), 5.0, 40));
}

/// The chocolate cakes of Cochran & Cox 1957 (see datasets/cake), good from an angle of 35 on. Expected by R 4.2.2, written anew: `quantile` of type 7 at tenths, the best
/// range of the other replicates by `expand.grid`, residuals of the two ratios by `tapply`, their variance raised by 1 + 15/14, `qt` and `pt` with 14 degrees of freedom.
#[test]
fn the_cakes_are_sorted_as_another_program_sorts_them() {
    let text = std::fs::read_to_string("datasets/cake/cake.csv").expect("the data set");
    let rows = text.lines().skip(1).enumerate().map(|(row, line)| {
        let cells: Vec<&str> = line.split(',').collect();
        format!("{row},{},{},{}\n", cells[0], cells[2], cells[3])
    });
    let table = format!("reed,lot,heat,rating\n{}", rows.collect::<String>());
    let settings = "scale = [0, 100]\ngood_at = 35\noutcome = \"rating\"\n[columns.heat]\nis = \"heat\"\nstage = \"form\"\nkind = \"number\"\n";
    let study = study(&[("reeds.csv", &table), ("study.toml", settings)]);
    let list = section(named(&study, "heat").expect("the data set carries it"));
    let found = &list[0];
    assert_eq!((found.keep_low, found.keep_high, found.used), (Some(205.0), None, 270));
    for (value, expected) in [
        (found.good_per_ten_all, 3.4074074074),
        (found.good_per_ten_kept, 4.7407407407),
        (found.gain, 1.3333333333),
        (found.low, 0.3895648028),
        (found.high, 2.2771018638),
        (found.dropped_share, 0.5),
    ] {
        close(value, expected, 1e-8, "the cakes");
    }
    close(found.p, 0.008998082, 1e-8, "p");
    assert_eq!(found.verdict, SortVerdict::WorthIt);
}

fn noisy(pieces: usize, lots: usize) -> Study {
    let text = table("lot,hardness,density_g_cm3,rating,fate", pieces, |row| {
        let rating = 12.0 + 2.0 * noise(row, 2);
        let density = 0.55 + 0.05 * noise(row, 4);
        format!("lot {},{:.1},{density:.2},{rating:.1},in_use", row % lots, 14.0 + noise(row, 1))
    });
    reeds(&text, "")
}

#[test]
fn measurements_that_mean_nothing_are_not_worth_it_or_cannot_be_told() {
    let list = sorted(&noisy(240, 12));
    assert_eq!(list.len(), 2);
    assert!(list.iter().all(|result| result.verdict != SortVerdict::WorthIt), "{list:?}");
}

#[test]
fn one_lot_two_lots_few_pieces_and_one_kind_of_end_are_refused() {
    for (study, word) in [
        (noisy(60, 1), "in 1 lot"),
        (noisy(60, 2), "in 2 lots"),
        (noisy(4, 4), "Too few pieces"),
        (noisy(0, 1), "0 pieces"),
    ] {
        let refusal = refused("sort", &study);
        assert!(refusal.found.contains(word) && refusal.takes.starts_with("It takes"), "{refusal}");
    }
    let all_good = table("lot,hardness,rating,fate", 60, |row| {
        format!("lot {},{:.1},15,in_use", row % 6, 14.0 + noise(row, 1))
    });
    assert!(refused("sort", &reeds(&all_good, "")).found.contains("Too few pieces"));
}

#[test]
fn a_log_without_an_early_measurement_and_a_name_that_is_none_are_refused_with_what_there_is() {
    let late = table("lot,tip_opening_mm,rating,fate", 60, |row| {
        format!(
            "lot {},{:.2},{:.1},in_use",
            row % 6,
            1.1 + 0.1 * noise(row, 1),
            12.0 + noise(row, 2)
        )
    });
    let study = reeds(&late, "");
    assert!(refused("sort", &study).found.contains("no measurement of the cane or the gouge"));
    let refusal = named(&study, "moonlight").expect_err("no such column");
    assert!(
        refusal.found.contains("moonlight") && refusal.found.contains("tip_opening_mm"),
        "{refusal}"
    );
    // named, a later one is judged too
    assert_eq!(section(named(&study, "tip_opening_mm").expect("a number")).len(), 1);
}

#[test]
fn the_order_of_the_rows_and_threads_change_nothing() {
    let text = table("lot,hardness,rating,fate", 120, |row| {
        let hardness = noise(row, 1);
        let rating = 12.0 - 2.0 * hardness + noise(row, 2);
        format!("lot {},{:.1},{rating:.1},in_use", row % 8, 14.0 + hardness)
    });
    let mut lines: Vec<&str> = text.lines().collect();
    lines[1..].reverse();
    assert_eq!(sorted(&reeds(&text, "")), sorted(&reeds(&(lines.join("\n") + "\n"), "")));
}

#[test]
fn where_no_measurement_pays_the_answer_says_so_of_all_and_each_follows() {
    let text = table("lot,hardness,density_g_cm3,rating,fate", 120, |row| {
        let (hardness, density) = (11 + row % 10, 0.45 + 0.01 * (row * 7 % 13) as f64);
        let rating = 12.0 + 3.0 * noise(row, 1);
        format!("lot {},{hardness},{density:.2},{rating:.2},in_use", row / 20)
    });
    let finding = answered("sort", &reeds(&text, ""));
    assert!(
        finding.answer.starts_with("Neither of the two measurements is shown"),
        "{}",
        finding.answer
    );
    for each in section(finding.clone()) {
        assert_ne!(each.verdict, SortVerdict::WorthIt);
        assert!(finding.more.contains(&each.sentence), "{:?}", finding.more);
    }
}
