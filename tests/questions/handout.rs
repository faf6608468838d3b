//! The page for a studio: counts by hand, the words of each recommendation, and what is left out of it.

use canewright::finding::{Cell, ChartKind, Handout};
use canewright::questions::handout::{self, Names};
use canewright::questions::{Options, find};
use canewright::study::Study;

use super::{noise, reeds, table};

fn page(study: &Study, factor: &str, names: Names) -> Handout {
    let options = Options { factor: Some(factor.to_owned()), ..Options::default() };
    handout::ask(study, &options, names).unwrap_or_else(|why| panic!("refused: {why}"))
}

fn text(page: &Handout) -> String {
    let parts = [&page.answer, &page.would_do, &page.cannot_tell, &page.copy_it];
    let all = parts.into_iter().flatten().cloned().collect::<Vec<_>>().join("\n");
    format!("{}\n{all}\n{}\n{}", page.question, page.rated, page.rests_on)
}

/// Pieces of the lots Rose and Thorn, 7 or 14 days; `gain` points more with 14.
fn formed(gain: f64, settings: &str) -> Study {
    let rows = table("lot,forming_days,rating,fate", 80, |row| {
        let lot = ["Rose", "Thorn", "Moss", "Fern"][row % 4];
        let days = if row / 4 % 2 == 0 { 7 } else { 14 };
        let more = if days == 14 { gain } else { 0.0 };
        if row % 20 == 19 {
            return format!("{lot},{days},,spoiled");
        }
        format!("{lot},{days},{:.2},in_use", 11.0 + more + noise(row, 1))
    });
    reeds(&rows, settings)
}

/// 80 pieces in turns of four: rows 0-3, 8-11, ... have 7 days, 40 in all. Of the rows 19, 39, 59 and 79 (spoiled) 19 div 4 = 4, 59 div 4 = 14 are even and
/// have 7 days; 39 div 4 = 9 and 79 div 4 = 19 are odd and have 14.
#[test]
fn every_piece_counts_once_with_its_choice() {
    let page = page(&formed(0.0, ""), "forming_days", Names::LeftOut);
    let counts: Vec<&[Cell]> = page.counts.rows.iter().map(|row| &row[..4]).collect();
    let expected = |choice: &str| {
        [Cell::Text(choice.to_owned()), Cell::Count(40), Cell::Count(2), Cell::Count(38)]
    };
    assert_eq!(counts, [expected("about 7"), expected("about 14")]);
}

#[test]
fn every_rated_reed_is_in_the_picture_and_nothing_is_fitted_to_them() {
    let page = page(&formed(0.0, ""), "forming_days", Names::LeftOut);
    let ChartKind::FactorNumber { points, curve, best, .. } = &page.chart.kind else {
        panic!("{:?}", page.chart.kind)
    };
    assert_eq!(points.iter().map(|point| point.reeds).sum::<usize>(), 76);
    assert!(curve.is_empty() && best.is_none());
}

#[test]
fn a_choice_of_kinds_is_a_row_of_dots_a_kind() {
    let rows = table("lot,scoring,rating", 40, |row| {
        let kind = ["plain", "crossed"][row % 2];
        format!("L{},{kind},{:.2}", row / 2 % 4, 6.0 + noise(row, 1))
    });
    let page = page(&reeds(&rows, ""), "scoring", Names::LeftOut);
    let ChartKind::FactorChoice { levels, .. } = &page.chart.kind else {
        panic!("{:?}", page.chart.kind)
    };
    assert_eq!(levels.iter().map(|level| level.reeds.len()).collect::<Vec<_>>(), [20, 20]);
    assert!(levels.iter().all(|level| level.mean.is_none()));
}

#[test]
fn what_i_would_do_is_what_decide_recommends() {
    for (gain, words) in [(3.0, "I would change from"), (0.0, "I would")] {
        let study = formed(gain, "");
        let options = Options { factor: Some("forming_days".to_owned()), ..Options::default() };
        let decided = (find("decide").expect("in the registry").ask)(&study, &options);
        let answer = decided.expect("answered").answer;
        let said = page(&study, "forming_days", Names::LeftOut).would_do.join(" ");
        assert!(said.starts_with(words), "{said}");
        assert_eq!(
            answer.contains("switch from"),
            said.contains("I would change from"),
            "{answer}"
        );
        assert_eq!(answer.contains("try it first"), said.contains("test"), "{answer}");
        assert_eq!(answer.contains("stay at"), said.contains("I would stay"), "{answer}");
    }
}

#[test]
fn lots_players_and_the_title_are_not_told_unless_asked_for() {
    let settings = "title = \"The bench of Rowan Quill\"";
    let study = formed(0.5, settings);
    let quiet = page(&study, "forming_days", Names::LeftOut);
    for name in ["Rose", "Thorn", "Moss", "Fern", "Rowan"] {
        assert!(!text(&quiet).contains(name), "{name} in {}", text(&quiet));
    }
    assert_eq!(quiet.title, None);
    let told = page(&study, "forming_days", Names::Told);
    assert_eq!(told.title.as_deref(), Some("The bench of Rowan Quill"));
}

/// Words that a student would have to look up.
#[test]
fn the_page_needs_no_word_of_statistics() {
    let said = text(&page(&formed(0.4, ""), "forming_days", Names::LeftOut)).to_lowercase();
    for term in [
        "interval",
        "confidence",
        "regression",
        "significan",
        "p value",
        "p-value",
        "variance",
        "mixed model",
        "standard deviation",
        "hypothesis",
        "adjusted",
        "standardis",
        "quantile",
        "random",
    ] {
        assert!(!said.contains(term), "{term}: {said}");
    }
}

#[test]
fn what_goes_together_is_never_told_as_what_causes() {
    let said = text(&page(&formed(3.0, ""), "forming_days", Names::LeftOut)).to_lowercase();
    for verb in ["makes", "improves", "because", "causes", "raises", "thanks to"] {
        assert!(!said.contains(verb), "{verb}: {said}");
    }
}

#[test]
fn a_log_that_decide_cannot_judge_gets_no_page_and_is_told_why() {
    let study = reeds("reed,lot,forming_days,rating\n1,A,7,6\n2,A,14,7\n", "");
    let refusal = handout::ask(&study, &Options::default(), Names::LeftOut).expect_err("refused");
    assert_eq!(refusal.question, "handout");
    assert!(refusal.takes.contains("eight"), "{refusal}");
}

#[test]
fn what_is_advised_is_told_first_however_many_choices_there_are() {
    let rows = table("lot,forming_days,rating", 240, |row| {
        let days = 4 + 4 * (row / 4 % 7);
        let rating = 8.0 + 0.2 * days as f64 + 0.5 * noise(row, 1);
        format!("{},{days},{rating:.2}", ["Rose", "Thorn", "Moss", "Fern"][row % 4])
    });
    let study = reeds(&rows, "[decide.forming_days]\ncandidates = [4, 8, 12, 16, 20, 24, 28]\n");
    let page = page(&study, "forming_days", Names::LeftOut);
    assert!(page.would_do[0].contains("to 28 days"), "{:?}", page.would_do);
    assert!(page.answer[0].starts_with("With 28 days"), "{:?}", page.answer);
    assert!(
        page.answer.join(" ").contains("further choices stand in the review"),
        "{:?}",
        page.answer
    );
}

#[test]
fn a_choice_that_went_together_with_the_lots_is_told_without_numbers() {
    let rows = table("lot,forming_days,rating", 60, |row| {
        let lot = row % 6;
        format!("lot {lot},{},{:.2}", 5 + 3 * lot, 8.0 + 1.5 * lot as f64 + noise(row, 1))
    });
    let page = page(&reeds(&rows, ""), "forming_days", Names::LeftOut);
    assert_eq!(page.answer.len(), 1, "{:?}", page.answer);
    assert!(page.answer[0].contains("cannot tell the choices apart"));
    assert!(!page.would_do.join(" ").contains("Nothing that was tried"), "{:?}", page.would_do);
}

#[test]
fn the_reeds_of_several_makers_come_from_several_benches() {
    let rows = table("lot,maker,forming_days,rating", 80, |row| {
        let days = if row / 4 % 2 == 0 { 7 } else { 14 };
        format!("{},{},{days},{:.2}", row % 4, ["Ann", "Ben"][row / 8 % 2], 11.0 + noise(row, 1))
    });
    let page = page(&reeds(&rows, ""), "forming_days", Names::LeftOut);
    assert!(page.cannot_tell.join(" ").contains("benches of two makers"), "{:?}", page.cannot_tell);
}
