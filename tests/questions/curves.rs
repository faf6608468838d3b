//! Best values in the middle, how even the reeds are, and readings that err.

use canewright::finding::{FactorResult, SweetSpot, Verdict};
use canewright::study::Study;
use canewright::words::factors::{FactorWords, OutcomeWords};
use canewright::words::sweet_spot::{BestValue, Turn, sentence};

use super::{answered, close, factor, factors, noise, per_unit, reeds, study, table};

const BEST: f64 = 14.0;

/// Ten lots of twelve; the rating falls by `fall` a squared unit of hardness away from 14. Hardness is even from 10 to 18.
fn arched(fall: f64, scatter: f64, settings: &str) -> Study {
    arched_log(0, fall, scatter, settings)
}

fn arched_log(log: usize, fall: f64, scatter: f64, settings: &str) -> Study {
    let chance = |row: usize, stream: usize| noise(row, 100 * log + stream);
    let text = table("lot,hardness,gouge_center_mm,rating", 120, |row| {
        let hardness = BEST + 4.0 * chance(row, 1);
        let gouge = 0.6 + 0.03 * chance(row, 3);
        let lot = 2.0 * chance(row % 10, 4);
        let rating = 12.0 + lot - fall * (hardness - BEST).powi(2) + scatter * chance(row, 2);
        format!("lot {},{hardness:.2},{gouge:.4},{rating:.2}", row % 10)
    });
    reeds(&text, settings)
}

fn hardness(study: &Study) -> FactorResult {
    factor(&factors(study), "hardness").clone()
}

/// Of forty intervals of 95 %, 34 or fewer would hold the truth once in 70 times.
#[test]
fn a_best_value_in_the_middle_is_found_with_intervals_that_hold_it() {
    let (mut by_answer, mut by_spline) = (0, 0);
    for log in 1..=40 {
        let spot = hardness(&arched_log(log, 0.25, 1.0, "")).sweet_spot.expect("planted");
        let (low, high) = (spot.low.expect("an end"), spot.high.expect("an end"));
        let spline = spot.spline.expect("drawn");
        assert!(high - low < 1.5 && !spot.unbounded && spot.p_bend < 1e-6, "{spot:?}");
        assert!(spline.low < spline.estimate && spline.estimate < spline.high, "{spline:?}");
        by_answer += usize::from(low <= BEST && BEST <= high);
        by_spline += usize::from(spline.low <= BEST && BEST <= spline.high);
    }
    println!("{by_answer} and {by_spline} of 40");
    assert!(by_answer > 34 && by_spline > 34, "{by_answer} and {by_spline} of 40");
}

#[test]
fn a_best_value_whose_interval_has_no_end_is_said_to_have_none() {
    let found = hardness(&arched(0.25, 1.0, ""));
    let words = FactorWords {
        label: "hardness",
        higher_is: None,
        lots: 10,
        worthwhile: 0.5,
        outcome: OutcomeWords::default(),
    };
    let said = |low, high| {
        let known = found.sweet_spot.clone().expect("planted");
        let spot = SweetSpot { at: 14.0, low, high, unbounded: true, ..known };
        let best = BestValue { spot, by_spline: false };
        sentence(&found, &words, &Turn::Best(Box::new(best)))
    };
    let up = said(Some(12.5), None);
    assert!(
        up.contains("its interval has no end: anything from 12.5 up could be the best"),
        "{up}"
    );
    assert!(said(None, Some(16.5)).contains("anything up to 16.5 could be the best"));
    assert!(said(None, None).contains("almost any other value could be the best"));
}

/// One of many loud logs: the spline bends, and the parabola's bend is so unsure that the set of Fieller (1954) of its top takes in every value below 16.4 and
/// leaves out only a stretch above it.
#[test]
fn a_log_whose_set_of_best_values_is_unbounded_is_answered_in_those_words() {
    let found = hardness(&arched_log(8, 0.1, 4.0, ""));
    let spot = found.sweet_spot.clone().expect("a bend is told");
    assert!(spot.unbounded && spot.low.is_none(), "{spot:?}");
    let end = spot.high.expect("one side ends");
    assert!(spot.at < end && end < BEST + 4.0, "{spot:?}");
    let said = "but its interval has no end: anything up to 16.4 could be the best as well";
    assert!(found.sentence.contains(said), "{}", found.sentence);
    assert!(!found.sentence.contains("free curve"), "{}", found.sentence);
}

#[test]
fn a_factor_with_a_best_value_is_told_as_such_and_not_by_its_straight_line() {
    let study = arched(0.25, 1.0, "");
    let found = hardness(&study);
    assert!(found.estimate.expect("fitted").abs() < 0.5, "{:?}", found.estimate);
    assert_eq!(found.verdict, Verdict::Clear);
    assert!(found.sentence.contains("a best value in the middle"), "{}", found.sentence);
    assert!(!found.sentence.contains("negligible"), "{}", found.sentence);
    assert!(answered("factors", &study).answer.contains("best near"));
}

/// The worst side of the parabola is told as a bend, with no best value.
#[test]
fn a_curve_that_is_worst_in_the_middle_bends_without_a_best_value() {
    let found = hardness(&arched(-0.25, 1.0, ""));
    assert_eq!(found.sweet_spot, None);
    assert!(found.sentence.contains("worst in the middle"), "{}", found.sentence);
}

#[test]
fn where_a_lower_mark_is_better_the_same_curve_has_its_best_value_at_the_bottom() {
    let found = hardness(&arched(-0.25, 1.0, "best = \"low\""));
    let spot = found.sweet_spot.expect("planted");
    close(spot.at, BEST, 0.5, "the best value");
    assert!(found.sentence.contains("which is worse here"), "{}", found.sentence);
}

#[test]
fn a_straight_effect_has_no_best_value_and_its_sentence_is_that_of_a_line() {
    let text = table("lot,hardness,rating", 120, |row| {
        let hardness = BEST + 4.0 * noise(row, 1);
        let rating = 10.0 + 0.8 * (hardness - BEST) + noise(row, 2);
        format!("lot {},{hardness:.2},{rating:.2}", row % 10)
    });
    let found = hardness(&reeds(&text, ""));
    assert_eq!((found.sweet_spot.clone(), found.verdict), (None, Verdict::Clear));
    assert!(found.sentence.contains("moved by"), "{}", found.sentence);
}

#[test]
fn under_thirty_reeds_or_six_values_only_a_straight_effect_is_looked_for_and_that_is_said() {
    let log = |rows: usize, digits: usize| {
        let text = table("lot,hardness,rating", rows, |row| {
            let hardness = 14.0 + 2.0 * noise(row, 1);
            let rating = 12.0 - (hardness - 14.0).powi(2) + 0.2 * noise(row, 2);
            format!("lot {},{hardness:.digits$},{rating:.2}", row % 4)
        });
        reeds(&text, "")
    };
    for few in [log(29, 2), log(120, 0)] {
        assert_eq!(hardness(&few).sweet_spot, None);
        let caveats = answered("factors", &few).caveats.join(" ");
        assert!(caveats.contains("Only a straight effect was looked for in hardness"), "{caveats}");
    }
    let enough = log(120, 2);
    assert!(hardness(&enough).sweet_spot.is_some());
    assert!(!answered("factors", &enough).caveats.join(" ").contains("Only a straight"));
}

/// Forty logs of five factors that do nothing: the bends of a log are one family, so at most one log in twenty should tell one. Seven or more of forty would
/// come once in 400 times.
#[test]
fn where_nothing_matters_few_logs_tell_a_bend() {
    let names: Vec<String> = (0..5).map(|number| format!("own_{number}")).collect();
    let settings: Vec<String> = names
        .iter()
        .map(|name| {
            format!("[columns.{name}]\nis = \"{name}\"\nstage = \"cane\"\nkind = \"number\"\n")
        })
        .collect();
    let told = (0..40).filter(|log| {
        let text = table(&format!("lot,{},rating", names.join(",")), 80, |row| {
            let cells: Vec<String> = (0..5)
                .map(|column| format!("{:.3}", 5.0 + noise(row, 1000 + 10 * log + column)))
                .collect();
            let rating = 10.0 + noise(row % 8, 2000 + log) + 2.0 * noise(row, 3000 + log);
            format!("lot {},{},{rating:.1}", row % 8, cells.join(","))
        });
        let section = factors(&reeds(&text, &settings.concat()));
        section
            .list
            .iter()
            .any(|factor| factor.sweet_spot.is_some() || factor.sentence.contains("not straight"))
    });
    let told = told.count();
    println!("{told} of 40 logs");
    assert!(told < 7, "{told} of 40 logs");
}

/// Reeds with scoring differ three times as much among themselves; their mean is the same.
#[test]
fn a_choice_that_goes_with_uneven_reeds_is_told_with_the_ratio_of_their_spreads() {
    let text = table("lot,scoring,rating", 160, |row| {
        let scored = noise(row, 1) > 0.0;
        let scatter = if scored { 3.0 } else { 1.0 };
        let kind = if scored { "crosshatch" } else { "none" };
        format!("lot {},{kind},{:.2}", row % 8, 10.0 + noise(row % 8, 4) + scatter * noise(row, 2))
    });
    let section = factors(&reeds(&text, ""));
    let scoring = factor(&section, "scoring");
    let spread = scoring.spread.expect("two levels of eighty");
    let truth = if scoring.level.as_deref() == Some("crosshatch") { 3.0 } else { 1.0 / 3.0 };
    assert!(spread.low <= truth && truth <= spread.high, "{spread:?}");
    assert!(spread.p < 1e-4 && spread.q.is_some_and(|q| q >= spread.p));
    assert!(scoring.sentence.contains("their spread was"), "{}", scoring.sentence);
    assert!(scoring.sentence.contains("even"), "{}", scoring.sentence);
}

/// The scatter doubles from 12 to 16, so it grows by 2 to the power of one quarter a unit.
#[test]
fn a_number_that_goes_with_uneven_reeds_is_told_per_step() {
    let text = table("lot,hardness,rating", 300, |row| {
        let hardness = 14.0 + 2.0 * noise(row, 1);
        let scatter = 2f64.powf((hardness - 14.0) / 4.0);
        let normal = (0..6).map(|part| noise(row, 20 + part)).sum::<f64>();
        format!("lot {},{hardness:.2},{:.3}", row % 15, 10.0 + scatter * normal)
    });
    let found = hardness(&reeds(&text, ""));
    let spread = found.spread.expect("300 reeds");
    let truth = 2f64.powf(found.step.expect("a number") / 4.0);
    assert!(spread.low <= truth && truth <= spread.high, "{spread:?}, the truth is {truth}");
    assert!(spread.low > 1.0, "{spread:?}");
    assert!(found.sentence.contains("less even"), "{}", found.sentence);
}

#[test]
fn where_the_spread_is_the_same_no_sentence_speaks_of_it() {
    let found = hardness(&arched(0.0, 1.0, ""));
    let spread = found.spread.expect("120 reeds");
    assert!(spread.low < 1.0 && 1.0 < spread.high, "{spread:?}");
    assert!(!found.sentence.contains("spread"), "{}", found.sentence);
}

/// True hardness moves the rating by 1 a unit. Its reading errs as much as reeds of a lot differ (both even, of the same width), so half of the variance of
/// the readings is error and the effect of one reading is half of the truth.
fn misread(pieces: usize) -> Study {
    let truth = |row: usize| 14.0 + 2.0 * noise(row, 1);
    let text = table("lot,hardness,rating", 300, |row| {
        let rating = 10.0 + (truth(row) - 14.0) + noise(row, 2);
        format!("lot {},{:.4},{rating:.3}", row % 15, truth(row) + 2.0 * noise(row, 5))
    });
    let mut readings = "reed,measure,value,by,repeat\n".to_owned();
    for row in 0..pieces {
        for repeat in 0..2 {
            let value = truth(row) + 2.0 * noise(row, 6 + repeat);
            readings += &format!("{row},hardness,{value:.4},one,{}\n", repeat + 1);
        }
    }
    study(&[("reeds.csv", &text), ("study.toml", super::SCALE), ("readings.csv", &readings)])
}

#[test]
fn an_effect_halved_by_reading_error_comes_back_for_a_true_step() {
    let found = hardness(&misread(80));
    let step = found.step.expect("a number");
    close(per_unit(&found), 0.5, 0.12, "the effect of one reading");
    let corrected = found.true_step.expect("80 pieces read twice");
    close(corrected.reliability, 0.5, 0.12, "the reliability");
    assert!(corrected.low <= step && step <= corrected.high, "{corrected:?}, one unit is {step}");
    assert!(found.high.expect("fitted") < step, "uncorrected, the truth is missed");
    assert!(found.sentence.contains("Corrected for its own reading error"), "{}", found.sentence);
}

#[test]
fn seven_pieces_read_twice_are_too_few_to_correct_and_that_is_said() {
    let log = misread(7);
    assert_eq!(hardness(&log).true_step, None);
    let assumptions = answered("factors", &log).method.assumptions.join(" ");
    assert!(assumptions.contains("it takes 8"), "{assumptions}");
}
