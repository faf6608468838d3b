//! Should a practice change: small logs worked by hand, and what is refused.

use canewright::finding::{
    CandidateResult, DecisionResult, PracticeValue, Recommendation, Section,
};
use canewright::problem::Refusal;
use canewright::questions::{Options, find};
use canewright::study::Study;

use super::{close, noise, reeds, table};

fn asked(study: &Study, factor: Option<&str>) -> Result<Vec<DecisionResult>, Refusal> {
    let options = Options { factor: factor.map(str::to_owned), ..Options::default() };
    let finding = (find("decide").expect("in the registry").ask)(study, &options)?;
    match finding.section {
        Section::Decide(results) => Ok(results),
        other => panic!("{other:?}"),
    }
}

fn decision(study: &Study, factor: &str) -> DecisionResult {
    let results = asked(study, Some(factor)).unwrap_or_else(|why| panic!("refused: {why}"));
    results.into_iter().next().expect("one practice")
}

fn refused(study: &Study, factor: Option<&str>) -> Refusal {
    match asked(study, factor) {
        Err(refusal) => refusal,
        Ok(results) => panic!("expected a refusal, not: {}", results[0].sentence),
    }
}

fn caveats(study: &Study, factor: &str) -> String {
    let options = Options { factor: Some(factor.to_owned()), ..Options::default() };
    (find("decide").expect("in the registry").ask)(study, &options)
        .expect("answered")
        .caveats
        .join(" ")
}

fn at(result: &DecisionResult, value: f64) -> &CandidateResult {
    let found = result.candidates.iter().find(|one| one.value == PracticeValue::Number(value));
    found.unwrap_or_else(|| panic!("{value} is not among {:?}", result.candidates))
}

fn kind<'a>(result: &'a DecisionResult, name: &str) -> &'a CandidateResult {
    let wanted = PracticeValue::Kind(name.to_owned());
    result.candidates.iter().find(|one| one.value == wanted).unwrap_or_else(|| panic!("{name}"))
}

/// A date so many days after the first of January 2024, which has 366.
fn day(after: usize) -> String {
    const DAYS: [usize; 12] = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let (mut month, mut left) = (0, after);
    while left >= DAYS[month] {
        left -= DAYS[month];
        month += 1;
    }
    format!("2024-{:02}-{:02}", month + 1, left + 1)
}

/// Two pieces a day for 50 days, formed 7, 14 or 21 days in every lot.
fn formed(gain: f64, settings: &str) -> Study {
    let text = table("lot,started_on,forming_days,rating", 100, |row| {
        let days = [7, 14, 21, 14][(row / 5) % 4];
        let rating = 10.0 + gain * f64::from(days - 14) / 7.0 + 2.0 * noise(row, 1);
        format!("lot {},{},{days},{rating:.2}", row % 5, day(row / 2))
    });
    reeds(&text, settings)
}

/// Little's law: 100 pieces in the 50 days of the log are two a day, so that 14 days on the pin mean 28 pieces there and 21 days 42. The last 20 days alone
/// hold 40, the same pace.
#[test]
fn pieces_on_the_rack_are_the_pace_times_the_days_that_each_waits() {
    for settings in ["", "window = 20"] {
        let result = decision(&formed(0.0, settings), "forming_days");
        close(result.pieces_a_day.expect("dates"), 2.0, 1e-12, "pieces a day");
        assert_eq!(result.current, PracticeValue::Number(14.0));
        let waits = |days| (at(&result, days).waiting_days, at(&result, days).on_the_rack);
        assert_eq!(waits(14.0), (Some(14.0), Some(28.0)));
        assert_eq!(waits(21.0), (Some(21.0), Some(42.0)));
    }
}

#[test]
fn a_practice_that_is_no_waiting_has_no_waiting_days() {
    let text = table("lot,gouge_center_mm,rating", 60, |row| {
        format!("lot {},{:.2},{:.2}", row % 6, 1.24 + 0.02 * (row % 4) as f64, 10.0 + noise(row, 1))
    });
    let result = decision(&reeds(&text, ""), "gouge_center_mm");
    assert!(
        result.candidates.iter().all(|one| one.waiting_days.is_none() && one.on_the_rack.is_none())
    );
    assert!(result.pieces_a_day.is_none(), "the log has no dates");
    assert!(caveats(&reeds(&text, ""), "gouge_center_mm").contains("The log has no dates"));
}

/// Two kinds in two lots, means by hand. Lot A has 12 pieces, of which 6 plain at 8 ± 1 and 6 crossed at 10 ± 1; lot B has 24 pieces, of which 6 plain at 11 ± 1,
/// 6 crossed at 13 ± 1 and 12 spoiled. Reeds of the same lot differ by 2. With every piece plain a lot A is expected at 8 and a lot B at 11; over the pieces that
/// were started, 12 and 24, that is (12 · 8 + 24 · 11) / 36 = 10; over the rated reeds, 12 and 12, it would be 9.5. The mixed model reads both at an average lot,
/// in which the kinds stand 2 apart whatever the lots weigh.
#[test]
fn two_kinds_in_two_lots_differ_by_what_they_differ_within_a_lot() {
    let mut text = "reed,lot,scoring,rating,fate,spoiled_at\n".to_owned();
    for (lot, base) in [("A", 8.0), ("B", 11.0)] {
        for (scoring, more) in [("plain", 0.0), ("crossed", 2.0)] {
            for reed in 0..6 {
                let rating = base + more + if reed % 2 == 0 { 1.0 } else { -1.0 };
                text += &format!("{lot}{scoring}{reed},{lot},{scoring},{rating},in_use,\n");
            }
        }
    }
    (0..12).for_each(|piece| text += &format!("s{piece},B,,,spoiled,gouge\n"));
    let result = decision(&reeds(&text, ""), "scoring");
    let other =
        if result.current == PracticeValue::Kind("plain".to_owned()) { "crossed" } else { "plain" };
    let difference = kind(&result, other).difference.expect("fitted");
    close(difference.abs(), 2.0, 1e-9, "the difference");
    let apart = kind(&result, "crossed").rating.expect("fitted")
        - kind(&result, "plain").rating.expect("fitted");
    close(apart, 2.0, 1e-9, "the two levels");
    // halves of both lots are plain, so an average lot lies at the mean of 9 and 12, and plain one below
    close(kind(&result, "plain").rating.expect("fitted"), 9.5, 0.02, "plain");
    // of 12 reeds each, those at 12 or above are good: of the plain ones 3 of lot B, of the crossed ones 6 of lot B
    let good = |name| kind(&result, name).good_per_ten.expect("fitted");
    assert!(good("crossed") > good("plain"), "{result:?}");
}

/// 60 pieces without lots or anything else: 40 plain of which 10 are good, 20 crossed of which 15 are. One level a kind makes the model as free as the table,
/// so Firth's shares are those of the table with half a reed added to either side (Firth 1993): 10.5 / 41 and 15.5 / 21 of ten.
#[test]
fn good_of_ten_over_two_kinds_are_the_shares_of_the_table_with_half_a_reed_to_either_side() {
    let text = table("scoring,rating", 60, |row| {
        let (scoring, good) = if row < 40 { ("plain", row < 10) } else { ("crossed", row < 55) };
        format!("{scoring},{:.2}", if good { 14.0 } else { 8.0 } + noise(row, 1))
    });
    let result = decision(&reeds(&text, ""), "scoring");
    let good = |name| kind(&result, name).good_per_ten.expect("fitted");
    close(good("plain"), 10.0 * 10.5 / 41.0, 1e-6, "plain");
    close(good("crossed"), 10.0 * 15.5 / 21.0, 1e-6, "crossed");
    // no lot tells the kinds from the cane
    assert_eq!(result.recommendation, Recommendation::TryItFirst, "{}", result.sentence);
}

#[test]
fn a_large_gain_among_reeds_of_the_same_lot_is_worth_a_switch() {
    let result = decision(&formed(1.5, ""), "forming_days");
    assert_eq!(result.recommendation, Recommendation::Switch, "{}", result.sentence);
    assert_eq!(result.to, Some(PracticeValue::Number(21.0)));
    assert!(result.regret_switch < 0.1 * result.regret_stay, "{result:?}");
    let said = &result.sentence;
    assert!(said.starts_with("Days on the pin: switch from 14 days to 21 days."), "{said}");
    assert!(
        said.contains("waits 7 days longer")
            && said.contains("42 lie on the rack instead of about 28"),
        "{said}"
    );
    assert!(!said.contains("raised") && !said.contains("significant"), "{said}");
}

#[test]
fn a_large_loss_either_way_leaves_the_practice_as_it_is() {
    let text = table("lot,started_on,forming_days,rating", 100, |row| {
        let days: i32 = [7, 14, 21, 14][(row / 5) % 4];
        let rating = 12.0 - 2.0 * f64::from((days - 14).abs()) / 7.0 + noise(row, 1);
        format!("lot {},{},{days},{rating:.2}", row % 5, day(row / 2))
    });
    let result = decision(&reeds(&text, ""), "forming_days");
    assert_eq!(
        (result.recommendation, &result.to),
        (Recommendation::Stay, &None),
        "{}",
        result.sentence
    );
    assert!(result.regret_stay < 0.05 && result.regret_switch > 1.0, "{result:?}");
}

#[test]
fn a_candidate_that_no_piece_had_is_named_and_not_judged() {
    let study = formed(1.5, "[decide.forming_days]\ncandidates = [7, 14, 21, 60]");
    let result = decision(&study, "forming_days");
    assert_eq!(result.not_seen, ["60"]);
    assert_eq!(result.candidates.len(), 3);
    let said = caveats(&study, "forming_days");
    assert!(said.contains("60 is not judged: the log saw 7 to 21 days"), "{said}");
}

#[test]
fn where_each_lot_has_its_own_days_the_answer_says_tangled_and_never_switch() {
    let text = table("lot,forming_days,rating", 60, |row| {
        let lot = row % 6;
        format!("lot {lot},{},{:.2}", 5 + 3 * lot, 8.0 + 1.5 * lot as f64 + noise(row, 1))
    });
    let result = decision(&reeds(&text, ""), "forming_days");
    assert_ne!(result.recommendation, Recommendation::Switch, "{}", result.sentence);
    assert_eq!(result.tangled_with[0], "the lot");
    assert!(result.sentence.contains("It is tangled with the lot"), "{}", result.sentence);
    // what cannot be told has no number, in the sentence or beside the choices
    assert!(!result.sentence.contains("good reeds of ten"), "{}", result.sentence);
    let told = |one: &CandidateResult| {
        [one.rating, one.difference, one.good_per_ten, one.good_difference, one.p_better]
    };
    assert!(result.candidates.iter().flat_map(told).all(|number| number.is_none()));
}

#[test]
fn reeds_of_one_lot_are_compared_and_what_holds_in_another_is_left_open() {
    let text = table("lot,forming_days,rating", 60, |row| {
        let days = [7, 14, 21][row % 3];
        format!("Moss,{days},{:.2}", 8.0 + f64::from(days) / 7.0 + 0.5 * noise(row, 1))
    });
    let result = decision(&reeds(&text, ""), "forming_days");
    assert_ne!(result.recommendation, Recommendation::Switch, "{}", result.sentence);
    assert!(result.sentence.contains("All rated reeds are of one lot"), "{}", result.sentence);
    let told = super::answered("factors", &reeds(&text, "")).caveats.join(" ");
    assert!(told.contains("All rated reeds are of one lot"), "{told}");
}

/// Eight reeds of ten are good as it is now: no more than two more can become good.
#[test]
fn no_more_good_reeds_are_foretold_than_there_are_pieces() {
    let text = table("lot,forming_days,rating", 100, |row| {
        let days = [7, 14, 21, 14][(row / 5) % 4];
        let good = days > 7 && row % 10 < 8 || row % 10 < 3;
        format!("{},{days},{}", row % 5, if good { 14 } else { 9 })
    });
    let result = decision(&reeds(&text, ""), "forming_days");
    let now = at(&result, 14.0).good_per_ten.expect("modelled");
    for one in result.candidates.iter().filter(|one| one.good_difference.is_some()) {
        assert!(one.good_diff_high.is_some_and(|high| high <= 10.0 - now + 1e-9), "{one:?}");
        assert!(one.good_diff_low.is_some_and(|low| low >= -now - 1e-9), "{one:?}");
    }
}

#[test]
fn a_candidate_of_few_pieces_is_shown_thin_and_never_switched_to() {
    let text = table("lot,forming_days,rating", 64, |row| {
        let days = if row >= 60 { 28 } else { 14 + (row / 6) % 2 };
        let rating = if days == 28 { 18.0 } else { 10.0 } + noise(row, 1);
        format!("lot {},{days},{rating:.2}", row % 6)
    });
    let study = reeds(&text, "[decide.forming_days]\ncandidates = [14, 28]");
    let result = decision(&study, "forming_days");
    assert!(at(&result, 28.0).thin && !at(&result, 14.0).thin);
    assert_eq!(at(&result, 28.0).pieces, 4);
    assert_ne!(result.recommendation, Recommendation::Switch, "{}", result.sentence);
}

#[test]
fn the_present_practice_is_the_middle_of_the_last_days_and_a_candidate_of_its_own_where_none_is_near()
 {
    // 40 pieces at 10 to 12 days, then, 200 days later, 20 pieces at 30
    let text = table("lot,started_on,forming_days,rating", 60, |row| {
        let (after, days) = if row < 40 { (row, 10 + row % 3) } else { (200 + row, 30) };
        format!("lot {},{},{days},{:.2}", row % 4, day(after), 10.0 + noise(row, 1))
    });
    let study = reeds(&text, "window = 60\n[decide.forming_days]\ncandidates = [10, 20]");
    let result = decision(&study, "forming_days");
    assert_eq!(result.current, PracticeValue::Number(30.0));
    assert_eq!(result.candidates.len(), 3);
    let study = reeds(&text, "window = 60\n[decide.forming_days]\ncandidates = [10, 29]");
    assert_eq!(
        decision(&study, "forming_days").current,
        PracticeValue::Number(29.0),
        "a day off is near"
    );
}

/// Two kinds with as many pieces: the first by name is the present one, on any day.
#[test]
fn of_two_kinds_as_common_the_first_by_name_is_the_present_one() {
    let text = table("lot,scoring,rating", 40, |row| {
        format!(
            "lot {},{},{:.2}",
            row % 5,
            ["plain", "crossed"][(row / 5) % 2],
            10.0 + noise(row, 1)
        )
    });
    let result = decision(&reeds(&text, ""), "scoring");
    assert_eq!(result.current, PracticeValue::Kind("crossed".to_owned()));
}

#[test]
fn a_practice_is_known_by_its_name_its_header_and_its_label() {
    let text = table("lot,Days on pin,rating", 60, |row| {
        format!("lot {},{},{:.2}", row % 5, 7 + 7 * ((row / 5) % 3), 10.0 + noise(row, 1))
    });
    let study = reeds(&text, "");
    let by_name = decision(&study, "forming_days");
    assert_eq!(decision(&study, "Days on pin"), by_name);
    assert_eq!(decision(&study, "days on the pin"), by_name);
}

#[test]
fn without_a_name_those_of_the_study_file_are_asked_about_and_two_at_most() {
    let text = table("lot,gouge_center_mm,forming_days,rating", 60, |row| {
        let gouge = 1.24 + 0.02 * ((row / 3) % 4) as f64;
        format!(
            "lot {},{gouge:.2},{},{:.2}",
            row % 6,
            7 + 7 * ((row / 6) % 3),
            10.0 + noise(row, 1)
        )
    });
    let names = |settings: &str| -> Vec<String> {
        let results = asked(&reeds(&text, settings), None).expect("answered");
        results.into_iter().map(|result| result.factor).collect()
    };
    assert_eq!(names(""), ["forming_days"]);
    assert_eq!(names("[decide.gouge_center_mm]\ncandidates = [1.24, 1.28]"), ["gouge_center_mm"]);
    let both = "[decide.gouge_center_mm]\ncandidates = [1.24, 1.28]\n[decide.forming_days]\ncandidates = [7, 14]";
    assert_eq!(names(both), ["gouge_center_mm", "forming_days"]);
}

#[test]
fn what_cannot_be_decided_is_refused_with_what_it_would_take() {
    let text = table("lot,hardness,forming_days,crow_hz,rating", 30, |row| {
        format!("lot {},{},14,{},{:.2}", row % 5, 12 + row % 7, 500 + row, 10.0 + noise(row, 1))
    });
    let study = reeds(&text, "");
    let unknown = refused(&study, Some("moonlight"));
    assert!(
        unknown.found.contains("no practice “moonlight”") && unknown.found.contains("hardness"),
        "{unknown}"
    );
    let single = refused(&study, Some("forming_days"));
    assert!(single.found.contains("nothing to hold against the present 14 days"), "{single}");
    for refusal in [unknown, single] {
        assert!(refusal.takes.starts_with("It takes"), "{refusal}");
    }
    let few = table("lot,forming_days,rating", 7, |row| {
        format!("lot {},{},{}", row % 2, 7 * (1 + row % 3), 8 + row)
    });
    assert!(
        refused(&reeds(&few, ""), Some("forming_days")).found.contains("7 reeds with a rating")
    );
    let alike = table("lot,forming_days,rating", 20, |row| {
        format!("lot {},{},9", row % 4, 7 * (1 + row % 3))
    });
    assert!(refused(&reeds(&alike, ""), None).found.contains("the same score"));
    let none = table("lot,hardness,rating", 20, |row| {
        format!("lot {},{},{}", row % 4, 10 + row % 5, 8 + row % 6)
    });
    assert!(refused(&reeds(&none, ""), None).found.contains("names no practice"));
}

#[test]
fn a_reading_of_the_finished_reed_that_nobody_decides_is_refused() {
    let text = table("lot,hardness,buzz,rating", 30, |row| {
        format!("lot {},{},{},{:.2}", row % 5, 12 + row % 7, 500 + row % 9, 10.0 + noise(row, 1))
    });
    let study = reeds(&text, "[columns.buzz]\nkind = \"number\"\nstage = \"play\"");
    let refusal = refused(&study, Some("buzz"));
    assert!(refusal.found.contains("nobody decides it"), "{refusal}");
}

#[test]
fn every_reed_its_own_lot_is_never_a_reason_to_switch() {
    let text = table("lot,forming_days,rating", 40, |row| {
        let days = 7 + 7 * (row % 3);
        format!("lot {row},{days},{:.2}", 6.0 + 0.3 * days as f64 + noise(row, 1))
    });
    let result = decision(&reeds(&text, ""), "forming_days");
    assert_ne!(result.recommendation, Recommendation::Switch, "{}", result.sentence);
}

#[test]
fn where_a_lower_mark_is_better_the_lower_one_is_recommended() {
    let text = table("lot,started_on,forming_days,rating", 100, |row| {
        let days = [7, 14, 21, 14][(row / 5) % 4];
        let rating = 3.5 - 0.6 * f64::from(days - 14) / 7.0 + 0.5 * noise(row, 1);
        format!("lot {},{},{days},{rating:.2}", row % 5, day(row / 2))
    });
    let settings =
        "scale = [1, 6]\nbest = \"low\"\ngood_at = 3\nworthwhile = 0.3\noutcome = \"rating\"";
    let result = decision(&reeds(&text, settings), "forming_days");
    assert_eq!(result.to, Some(PracticeValue::Number(21.0)), "{}", result.sentence);
    assert!(result.sentence.contains("which is better here"), "{}", result.sentence);
}
