//! Whole logs from files to a study: what is read, what is said, what is set aside.

use std::fs;
use std::path::PathBuf;

use canewright::intake::{ReadOptions, Reading, read};
use canewright::problem::{Error, Problem, Severity};
use canewright::study::{Better, FactorKind, Fate};
use tempfile::TempDir;

/// A log of these files in a folder that lives as long as the test.
struct Log(TempDir);

impl Log {
    fn of(files: &[(&str, &str)]) -> Log {
        let folder = tempfile::tempdir().expect("a folder for the test");
        for (name, text) in files {
            fs::write(folder.path().join(name), text).expect("the folder can be written to");
        }
        Log(folder)
    }

    fn path(&self) -> PathBuf {
        self.0.path().to_path_buf()
    }

    fn read(&self) -> Reading {
        let reading =
            read(&[self.path()], &ReadOptions::default()).expect("a log that can be read");
        rows_add_up(&reading);
        reading
    }

    fn refusal(&self) -> Problem {
        match read(&[self.path()], &ReadOptions::default()) {
            Err(Error::Unreadable(problem)) => *problem,
            other => panic!("expected a refusal, not {other:?}"),
        }
    }
}

fn rows_add_up(reading: &Reading) {
    for file in reading.study.files() {
        assert_eq!(file.rows_read, file.rows_used + file.rows_set_aside, "{file:?}");
        let whole_rows = |aside: &&canewright::problem::SetAside| {
            aside.file == file.name && aside.column.is_none()
        };
        let listed = reading.study.set_aside().iter().filter(whole_rows).count();
        assert_eq!(file.rows_set_aside, listed, "{}: each row set aside is listed once", file.name);
    }
}

fn codes(reading: &Reading) -> Vec<&'static str> {
    let mut codes: Vec<&str> = reading.problems.iter().map(|problem| problem.code).collect();
    codes.sort_unstable();
    codes.dedup();
    codes
}

fn problem<'a>(reading: &'a Reading, code: &str) -> &'a Problem {
    let found = reading.problems.iter().find(|problem| problem.code == code);
    found.unwrap_or_else(|| panic!("no {code} among {:?}", codes(reading)))
}

const REEDS: &str = "\
reed,lot,started_on,finished_on,gouge_center_mm,hardness,shape,forming_days,fate,spoiled_at,spoiled_by,note
A1,Reedmere,2024-01-02,2024-01-20,1.25,12,narrow,10,in_use,,,
A2,Reedmere,2024-01-04,2024-01-21,1.30,14,wide,12,worn_out,,,played daily
A3,Marsh,2024-01-06,,1.28,13,narrow,,spoiled,form,cracked,
A4,Marsh,2024-01-08,,1.27,15,wide,20,unfinished,,,
";

const RATINGS: &str = "\
reed,date,player,setting,overall,response
A1,2024-02-01,Ann,home,7,6
A1,2024-02-08,Ben,hall,8,7
A2,2024-02-02,Ann,home,5,
";

#[test]
fn a_tidy_log_is_read_as_it_stands_and_nothing_is_set_aside() {
    let log = Log::of(&[
        ("reeds.csv", REEDS),
        ("ratings.csv", RATINGS),
        (
            "lots.csv",
            "lot,bought_on,price_per_piece,pieces_bought\nReedmere,2023-12-01,4.20,30\nMarsh,2023-12-05,3.60,20\n",
        ),
        (
            "profile.csv",
            "reed,from_tip_mm,line,thickness_mm,repeat\nA1,2,spine,0.17,1\nA1,2,spine,0.18,2\n",
        ),
        (
            "readings.csv",
            "reed,measure,value,by,repeat\nA1,hardness,12.5,Ann,1\nA2,gouge_center_mm,1.31,Ben,1\n",
        ),
        ("study.toml", "title = \"Winter\"\nscale = [1, 10]\ngood_at = 7\nworthwhile = 0.5\n"),
    ]);
    let reading = log.read();
    let study = &reading.study;
    assert!(!reading.has_errors(), "{:?}", reading.problems);
    assert!(study.set_aside().is_empty());
    assert_eq!((study.pieces(), study.ratings()), (4, 5));
    assert_eq!(study.ids(), ["A1", "A2", "A3", "A4"]);
    assert_eq!(study.numbers("gouge_center_mm"), [Some(1.25), Some(1.3), Some(1.28), Some(1.27)]);
    assert_eq!(study.labels("lot").levels, ["Marsh", "Reedmere"]);
    let fates = [Fate::InUse, Fate::WornOut, Fate::Spoiled, Fate::Unfinished].map(Some);
    assert_eq!(study.fates(), fates);
    assert_eq!(study.words("spoiled_at")[2].as_deref(), Some("form"));
    assert_eq!(study.words("spoiled_by")[2].as_deref(), Some("cracked"));
    assert_eq!(study.prices(), [("Reedmere".to_owned(), 4.2), ("Marsh".to_owned(), 3.6)]);
    assert_eq!(study.profile().len(), 2);
    assert_eq!(study.readings()[1].measure, "gouge_center_mm");
    assert_eq!(study.reed_scores(), [Some(7.5), Some(5.0), None, None]);
    assert_eq!(study.good(), [Some(true), Some(false), Some(false), None]);
    assert_eq!(study.settings().title, "Winter");
}

#[test]
fn factors_come_in_the_order_of_making_and_books_and_playing_are_none() {
    let reading = Log::of(&[("reeds.csv", REEDS), ("ratings.csv", RATINGS)]).read();
    let factors: Vec<(&str, FactorKind)> =
        reading.study.factors().iter().map(|factor| (factor.name.as_str(), factor.kind)).collect();
    assert_eq!(
        factors,
        [
            ("hardness", FactorKind::Number),
            ("gouge_center_mm", FactorKind::Number),
            ("shape", FactorKind::Choice),
            ("forming_days", FactorKind::Number)
        ]
    );
}

#[test]
fn the_scale_and_the_good_mark_are_found_and_said() {
    let reading = Log::of(&[("reeds.csv", REEDS), ("ratings.csv", RATINGS)]).read();
    let settings = reading.study.settings();
    assert_eq!((settings.scale, settings.best), ([1.0, 10.0], Better::Higher));
    assert!((settings.good_at - 7.3).abs() < 1e-12, "70 % of the way from 1 to 10");
    assert!((settings.worthwhile - 0.45).abs() < 1e-12, "5 % of the scale");
    assert_eq!(problem(&reading, "setting-found").severity, Severity::Remark);
}

#[test]
fn rows_without_a_usable_id_and_ids_that_disagree_are_set_aside_word_for_word() {
    let log =
        Log::of(&[("reeds.csv", "reed,lot,overall\n1,a,5\n,b,6\n2,c,7\n2,d,8\n3,e,9\n3,e,9\n")]);
    let reading = log.read();
    assert_eq!(reading.study.ids(), ["1", "3"]);
    let aside: Vec<(u64, &str, Vec<String>)> = reading
        .study
        .set_aside()
        .iter()
        .map(|aside| (aside.line, aside.code, aside.text.clone()))
        .collect();
    let row = |text: &str| text.split(',').map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(
        aside,
        [
            (3, "id-missing", row(",b,6")),
            (7, "row-repeated", row("3,e,9")),
            (4, "id-repeated", row("2,c,7")),
            (5, "id-repeated", row("2,d,8")),
        ]
    );
}

#[test]
fn a_rating_of_an_unknown_reed_is_set_aside_and_one_in_another_spelling_is_not() {
    let log = Log::of(&[
        ("reeds.csv", "reed,lot\nA-7,x\nA-8,x\n"),
        ("ratings.csv", "reed,overall\na7,5\nA-8,6\nB-1,7\n"),
    ]);
    let reading = log.read();
    assert_eq!(reading.study.reed_scores(), [Some(5.0), Some(6.0)]);
    assert_eq!(problem(&reading, "reed-spelled-otherwise").place.line, Some(2));
    let unknown = problem(&reading, "reed-unknown");
    assert_eq!((unknown.place.line, unknown.severity), (Some(4), Severity::Error));
}

#[test]
fn a_cell_in_error_becomes_missing_and_is_listed_with_its_line_and_excerpt() {
    let log =
        Log::of(&[("reeds.csv", "reed,gouge_center_mm,overall\n1,1.25,7\n2,thick,6\n3,125,5\n")]);
    let reading = log.read();
    assert_eq!(reading.study.numbers("gouge_center_mm"), [Some(1.25), None, None]);
    let unreadable = problem(&reading, "number-unreadable");
    assert_eq!((unreadable.place.line, unreadable.text.as_str()), (Some(3), "thick"));
    let excerpt = unreadable.excerpt.as_ref().expect("a cell's problem shows its line");
    assert_eq!((excerpt.line.as_str(), excerpt.start, excerpt.length), ("2,thick,6", 2, 5));
    assert_eq!(problem(&reading, "number-impossible").text, "125");
    assert_eq!(reading.study.set_aside().len(), 2);
    assert!(reading.has_errors());
}

#[test]
fn a_row_with_a_decimal_comma_too_many_is_set_aside_with_all_its_cells() {
    let log = Log::of(&[("reeds.csv", "reed,gouge_center_mm,overall\n1,1,25,7\n2,1.3,6\n")]);
    let reading = log.read();
    assert_eq!(reading.study.ids(), ["2"]);
    assert_eq!(reading.study.set_aside()[0].text, ["1", "1", "25", "7"]);
    assert_eq!(problem(&reading, "row-too-long").place.line, Some(2));
}

#[test]
fn a_file_with_one_row_a_rating_gives_each_piece_once_and_says_where_its_columns_disagree() {
    let log = Log::of(&[
        ("reeds.csv", "bottle,temp,judge,rating\n1,cold,a,2\n1,cold,b,3\n2,warm,a,4\n2,cold,b,5\n"),
        (
            "study.toml",
            "one_row_is = \"rating\"\nscale = [1, 5]\n[columns.bottle]\nis = \"reed\"\n\
             [columns.judge]\nis = \"player\"\n[columns.temp]\nis = \"temperature\"\nstage = \"cane\"\nkind = \"choice\"\n",
        ),
    ]);
    let reading = log.read();
    let study = &reading.study;
    assert_eq!((study.pieces(), study.ratings()), (2, 4));
    assert_eq!(study.rating_rows().piece, [0, 0, 1, 1]);
    assert_eq!(study.rating_rows().player.levels, ["a", "b"]);
    assert_eq!(study.words("temperature"), [Some("cold".to_owned()), Some("warm".to_owned())]);
    let disagree = problem(&reading, "piece-columns-disagree");
    assert_eq!((disagree.place.line, disagree.text.as_str()), (Some(5), "cold"));
}

#[test]
fn ids_may_be_made_of_several_columns_or_of_the_row_number() {
    let text = "year,nr,overall\n2023,1,5\n2024,1,6\n";
    let several =
        Log::of(&[("reeds.csv", text), ("study.toml", "id_from = [\"year\", \"nr\"]")]).read();
    assert_eq!(several.study.ids(), ["2023 / 1", "2024 / 1"]);
    let by_row =
        Log::of(&[("reeds.csv", "lot,overall\na,5\na,6\n"), ("study.toml", "id_from = \"row\"")])
            .read();
    assert_eq!(by_row.study.ids(), ["1", "2"]);
}

#[test]
fn a_rating_cell_that_names_a_fate_is_the_fate_and_is_said() {
    let log =
        Log::of(&[("reeds.csv", "reed,overall,note\n1,cracked,\n2,7/10,gave to Sam\n3,8,good\n")]);
    let reading = log.read();
    let fates = [Fate::Spoiled, Fate::GivenAway, Fate::InUse].map(Some);
    assert_eq!(reading.study.fates(), fates);
    assert_eq!(reading.study.words("spoiled_by")[0].as_deref(), Some("cracked"));
    for code in ["fate-in-rating", "fate-in-note", "fate-assumed", "spoiled-without-stage"] {
        assert_eq!(problem(&reading, code).severity, Severity::Remark, "{code}");
    }
    assert!(!reading.has_errors());
}

#[test]
fn letters_and_words_are_asked_for_until_the_study_file_ranks_them() {
    let reeds = "reed,overall\n1,good\n2,fair\n3,poor\n";
    let asked = Log::of(&[("reeds.csv", reeds)]).read();
    assert_eq!(asked.study.ratings(), 0);
    assert!(problem(&asked, "rating-word-unranked").remedy.contains("ranking"));
    let ranking = "[words]\nranking = [\"poor\", \"fair\", \"good\"]\n";
    let ranked = Log::of(&[("reeds.csv", reeds), ("study.toml", ranking)]).read();
    assert_eq!(ranked.study.reed_scores(), [Some(3.0), Some(2.0), Some(1.0)]);
    assert_eq!(ranked.study.settings().scale, [1.0, 3.0]);
}

#[test]
fn words_among_numbers_stand_on_the_scale_that_the_study_file_gives() {
    let reeds = "reed,overall\n1,A\n2,C\n3,7/10\n";
    let study = "scale = [1, 10]\n[words]\nranking = [\"C\", \"B\", \"A\"]\n";
    let given = Log::of(&[("reeds.csv", reeds), ("study.toml", study)]).read();
    assert_eq!(given.study.reed_scores(), [Some(10.0), Some(1.0), Some(7.0)]);
    let asked = Log::of(&[
        ("reeds.csv", reeds),
        ("study.toml", "[words]\nranking = [\"C\", \"B\", \"A\"]\n"),
    ])
    .read();
    assert_eq!(asked.study.ratings(), 1);
    assert!(problem(&asked, "rating-other-scale").remedy.contains("scale"));
}

#[test]
fn school_marks_are_read_where_one_is_best_and_asked_for_elsewhere() {
    let reeds = "reed;overall\n1;2-\n2;2+\n3;1\n";
    let asked = Log::of(&[("reeds.csv", reeds)]).read();
    assert!(problem(&asked, "school-mark-unsaid").remedy.contains("best"));
    let read = Log::of(&[("reeds.csv", reeds), ("study.toml", "best = \"low\"")]).read();
    assert_eq!(read.study.reed_scores(), [Some(2.3), Some(1.7), Some(1.0)]);
    assert_eq!(read.study.settings().scale, [1.0, 6.0]);
    assert_eq!(read.study.settings().best, Better::Lower);
}

#[test]
fn a_rating_out_of_another_number_than_the_scale_is_an_error() {
    let log = Log::of(&[
        ("reeds.csv", "reed,overall\n1,7/10\n2,4\n3,6\n"),
        ("study.toml", "scale = [1, 5]"),
    ]);
    let reading = log.read();
    assert_eq!(reading.study.reed_scores(), [None, Some(4.0), None]);
    assert_eq!(problem(&reading, "rating-other-scale").place.line, Some(2));
    assert_eq!(problem(&reading, "rating-out-of-scale").place.line, Some(4));
}

#[test]
fn another_criterion_beyond_the_scale_is_a_warning_and_stands() {
    let log = Log::of(&[
        ("reeds.csv", "reed,overall,cents\n1,5,-12\n2,6,3\n"),
        ("study.toml", "scale = [1, 10]\n[columns.cents]\nkind = \"rating\"\n"),
    ]);
    let reading = log.read();
    assert_eq!(reading.study.ratings(), 4);
    assert_eq!(problem(&reading, "rating-out-of-scale").severity, Severity::Warning);
}

#[test]
fn ratings_may_be_long_with_a_criterion_and_a_score() {
    let log = Log::of(&[
        ("reeds.csv", "reed\n1\n2\n"),
        (
            "ratings.csv",
            "reed,player,criterion,score\n1,a,Response,5\n1,a,Overall,6\n2,a,Overall,7\n",
        ),
    ]);
    let study = log.read().study;
    assert_eq!(study.ratings(), 3);
    assert_eq!(study.reed_scores(), [Some(6.0), Some(7.0)]);
}

#[test]
fn several_criteria_without_an_overall_one_are_asked_about() {
    let log = Log::of(&[("reeds.csv", "reed,response,tone\n1,5,6\n2,6,7\n")]);
    let asked = log.refusal();
    assert_eq!(asked.code, "outcome-undecided");
    assert!(asked.remedy.contains("outcome"), "{}", asked.remedy);
    let log = Log::of(&[
        ("reeds.csv", "reed,response,tone\n1,5,6\n"),
        ("study.toml", "outcome = \"tone\""),
    ]);
    assert_eq!(log.read().study.reed_scores(), [Some(6.0)]);
}

#[test]
fn numbers_and_dates_that_can_be_read_in_two_ways_are_asked_about() {
    let log = Log::of(&[(
        "reeds.csv",
        "reed;made;gouge_center_mm;overall\n1;03/04/2024;1,250;5\n2;05/06/2024;1,275;6\n",
    )]);
    let asked = log.read();
    assert_eq!(asked.study.numbers("gouge_center_mm"), [None, None]);
    assert_eq!(asked.study.days("started_on"), [None, None]);
    assert!(problem(&asked, "decimal-mark-undecided").remedy.contains("decimal = "));
    assert!(problem(&asked, "day-order-undecided").remedy.contains("day_order = "));
    let log = Log::of(&[
        (
            "reeds.csv",
            "reed;made;gouge_center_mm;overall\n1;03/04/2024;1,250;5\n2;05/06/2024;1,275;6\n",
        ),
        ("study.toml", "decimal = \",\"\nday_order = \"day first\"\n"),
    ]);
    let read = log.read();
    assert_eq!(read.study.numbers("gouge_center_mm"), [Some(1.25), Some(1.275)]);
    // 3 April 2024 is day 19,816 (366 + 53 * 365 + 12 leap days before 2024 give 19,723 for 1 January)
    assert_eq!(read.study.days("started_on")[0], Some(19_723 + 31 + 29 + 31 + 2));
}

#[test]
fn a_column_that_cannot_decide_follows_the_others_of_its_file_and_says_so() {
    let log = Log::of(&[(
        "reeds.csv",
        "reed;hardness;gouge_center_mm;overall\n1;14,5;1,250;5\n2;15,5;1,275;6\n",
    )]);
    let reading = log.read();
    assert_eq!(reading.study.numbers("gouge_center_mm"), [Some(1.25), Some(1.275)]);
    assert_eq!(problem(&reading, "decimal-mark-found").severity, Severity::Remark);
}

#[test]
fn wide_profile_columns_are_readings_of_the_profile_and_no_factors() {
    let log = Log::of(&[(
        "reeds.csv",
        "reed,profile_15_spine_mm,profile_2_left_rail_mm,overall\n1,0.62,0.11,5\n2,,0.12,6\n",
    )]);
    let study = log.read().study;
    let found: Vec<(usize, f64, String, f64)> = study
        .profile()
        .into_iter()
        .map(|reading| (reading.piece, reading.from_tip_mm, reading.line, reading.thickness_mm))
        .collect();
    assert_eq!(
        found,
        [
            (0, 15.0, "spine".into(), 0.62),
            (0, 2.0, "left_rail".into(), 0.11),
            (1, 2.0, "left_rail".into(), 0.12)
        ]
    );
    assert!(study.factors().is_empty());
}

#[test]
fn columns_of_the_maker_s_own_become_numbers_choices_or_nothing_and_say_so() {
    let mut text = String::from("reed,angle,room,diary,overall\n");
    for row in 0..20 {
        text += &format!(
            "{row},{}.5,{},entry {row} of the diary,5\n",
            20 + row % 3,
            ["north", "south"][row % 2]
        );
    }
    let reading = Log::of(&[("reeds.csv", &text)]).read();
    let kinds: Vec<(&str, FactorKind)> =
        reading.study.factors().iter().map(|factor| (factor.name.as_str(), factor.kind)).collect();
    assert_eq!(kinds, [("angle", FactorKind::Number), ("room", FactorKind::Choice)]);
    assert_eq!(problem(&reading, "column-not-used").place.column.as_deref(), Some("diary"));
    assert_eq!(problem(&reading, "column-unplaced").severity, Severity::Remark);
}

#[test]
fn the_study_file_names_places_and_converts_columns() {
    let log = Log::of(&[
        ("reeds.csv", "reed,Cane Ø,bevel,overall\n1,1,12,5\n2,1.02,13,6\n"),
        (
            "study.toml",
            "[columns.\"Cane Ø\"]\nis = \"tube_diameter_mm\"\nunit = \"in\"\n\
             [columns.bevel]\nis = \"bevel_angle\"\nstage = \"profile\"\nkind = \"number\"\nunit = \"degrees\"\nstep = 1\nhigher_is = \"steeper\"\n\
             [decide.bevel_angle]\ncandidates = [11, 12]\n",
        ),
    ]);
    let study = log.read().study;
    assert_eq!(study.numbers("tube_diameter_mm")[0], Some(25.4));
    let bevel = study.factor("bevel_angle").expect("the study file names it");
    assert_eq!(
        (bevel.unit.as_deref(), bevel.step, bevel.asked_beforehand),
        (Some("degrees"), Some(1.0), true)
    );
    assert_eq!(bevel.higher_is.as_deref(), Some("steeper"));
    assert_eq!(
        study.numbers("bevel_angle"),
        [Some(12.0), Some(13.0)],
        "no conversion of an unknown unit"
    );
}

#[test]
fn lots_that_the_study_file_calls_the_same_are_one() {
    let log = Log::of(&[
        ("reeds.csv", "reed,lot,overall\n1,\"Lot B, '22\",5\n2,lot b,6\n3,LOT B,7\n"),
        ("study.toml", "[columns.lot.same]\n\"lot b\" = \"Lot B, '22\"\n"),
    ]);
    assert_eq!(log.read().study.labels("lot").levels, ["Lot B, '22"]);
}

#[test]
fn two_columns_of_one_meaning_and_repeated_headers_are_said_and_the_first_counts() {
    let log = Log::of(&[("reeds.csv", "reed,Lot,batch,Lot,overall\n1,a,b,c,5\n")]);
    let reading = log.read();
    assert_eq!(reading.study.labels("lot").levels, ["a"]);
    assert_eq!(problem(&reading, "columns-same-meaning").place.column.as_deref(), Some("batch"));
    assert_eq!(problem(&reading, "header-repeated").place.column.as_deref(), Some("Lot"));
}

#[test]
fn a_slip_of_units_and_a_copied_row_are_pointed_out_and_used() {
    let mut text = String::from("reed,gouge_edge_mm,custom_weight,lot,shape,note,overall\n");
    for row in 0..10 {
        let weight =
            if row < 2 { 0.31 + f64::from(row) / 100.0 } else { 3.1 + f64::from(row) / 20.0 };
        text += &format!("{row},1.0{row},{weight:.2},a,b,n{row},{}\n", row % 5 + 1);
    }
    text += "copy,1.09,3.55,a,b,n9,5\n";
    let reading = Log::of(&[("reeds.csv", &text)]).read();
    let slip = problem(&reading, "unit-slip");
    assert_eq!(slip.place.column.as_deref(), Some("custom_weight"));
    assert!(slip.message.contains("Lines 2, 3."), "{}", slip.message);
    let alike = problem(&reading, "rows-alike");
    assert_eq!((alike.place.line, alike.severity), (Some(12), Severity::Warning));
    assert_eq!(reading.study.pieces(), 11);
}

#[test]
fn dates_out_of_order_and_far_ahead_are_pointed_out_and_used() {
    let log = Log::of(&[(
        "reeds.csv",
        "reed,started_on,finished_on,overall\n1,2024-03-05,2024-03-01,5\n2,2024-03-06,2042-03-20,6\n",
    )]);
    let reading = log.read();
    assert_eq!(problem(&reading, "dates-out-of-order").place.line, Some(2));
    assert_eq!(problem(&reading, "day-to-come").text, "2042-03-20");
    assert!(!reading.has_errors());
}

#[test]
fn a_repeated_rating_counts_once_where_day_and_player_are_said() {
    let log = Log::of(&[
        ("reeds.csv", "reed\n1\n"),
        (
            "ratings.csv",
            "reed,date,player,overall\n1,2024-05-01,Ann,5\n1,2024-05-01,Ann,5\n1,2024-05-02,Ann,5\n",
        ),
    ]);
    let reading = log.read();
    assert_eq!(reading.study.ratings(), 2);
    assert_eq!(problem(&reading, "row-repeated").place.line, Some(3));
}

#[test]
fn names_of_the_study_file_that_the_log_does_not_have_are_pointed_out() {
    let log = Log::of(&[
        ("reeds.csv", "reed,hardness,overall\n1,12,5\n2,13,6\n"),
        (
            "study.toml",
            "[columns.hardnes]\nhigher_is = \"softer\"\n[decide.forming_days]\ncandidates = [5]\n",
        ),
    ]);
    let reading = log.read();
    let unused: Vec<Option<&str>> = reading
        .problems
        .iter()
        .filter(|problem| problem.code == "study-name-unused")
        .map(|problem| problem.place.column.as_deref())
        .collect();
    assert_eq!(unused, [Some("hardnes"), Some("forming_days")]);
}

#[test]
fn problems_of_a_kind_are_kept_up_to_a_limit_and_the_rest_is_counted_but_all_are_set_aside() {
    let mut text = String::from("reed,gouge_center_mm,overall\n");
    for row in 0..2500 {
        text += &format!("{row},thick,5\n");
    }
    let reading = Log::of(&[("reeds.csv", &text)]).read();
    let of_kind = |problem: &&Problem| problem.code == "number-unreadable";
    assert_eq!(reading.problems.iter().filter(of_kind).count(), 1001);
    let last = reading.problems.iter().rfind(of_kind).expect("the closing one");
    assert!(last.message.contains("1500 more"), "{}", last.message);
    assert_eq!(reading.study.set_aside().len(), 2500);
}

#[test]
fn a_studio_s_logs_are_pooled_and_kept_apart_by_name() {
    let (one, two) = (Log::of(&[]), Log::of(&[]));
    let (ann, ben) = (one.path().join("ann"), two.path().join("ben"));
    for (folder, score) in [(&ann, 5), (&ben, 7)] {
        fs::create_dir(folder).expect("room for a folder");
        fs::write(
            folder.join("reeds.csv"),
            format!("reed,lot\n1,Marsh\n2,Marsh\n3,Marsh{score}\n"),
        )
        .expect("room");
        fs::write(folder.join("ratings.csv"), format!("reed,overall\n1,{score}\n2,{score}\n"))
            .expect("room");
        fs::write(folder.join("study.toml"), "scale = [1, 10]\n").expect("room");
    }
    let reading = read(&[ann.clone(), ben.clone()], &ReadOptions::default()).expect("two logs");
    rows_add_up(&reading);
    let study = &reading.study;
    assert_eq!(study.ids(), ["ann/1", "ann/2", "ann/3", "ben/1", "ben/2", "ben/3"]);
    assert_eq!(study.reed_scores(), [Some(5.0), Some(5.0), None, Some(7.0), Some(7.0), None]);
    assert_eq!(study.labels("maker").levels, ["ann", "ben"]);
    assert_eq!(study.labels("lot").levels.len(), 4);
    assert_eq!(study.files()[0].name, "ann/reeds.csv");
    for folder in [&ann, &ben] {
        fs::write(folder.join("study.toml"), "scale = [1, 10]\nsame_lots = true\n").expect("room");
    }
    let same = read(&[ann.clone(), ben.clone()], &ReadOptions::default()).expect("two logs");
    assert_eq!(same.study.labels("lot").levels, ["Marsh", "Marsh5", "Marsh7"]);
    fs::write(ben.join("study.toml"), "scale = [1, 5]\n").expect("room");
    let refused = read(&[ann, ben], &ReadOptions::default());
    assert!(matches!(refused, Err(Error::Call(message)) if message.contains("cannot be pooled")));
}

#[test]
fn a_part_of_the_log_in_time_holds_the_pieces_made_in_it() {
    let log = Log::of(&[("reeds.csv", REEDS), ("ratings.csv", RATINGS)]);
    let first_days = 19_723; // 1 January 2024
    let options = ReadOptions {
        from: Some(first_days + 2),
        until: Some(first_days + 5),
        ..ReadOptions::default()
    };
    let study = read(&[log.path()], &options).expect("a log").study;
    assert_eq!(study.ids(), ["A2", "A3"]);
    assert_eq!(study.rating_rows().piece, [0]);
}

#[test]
fn a_single_file_is_a_log_with_the_study_file_of_its_name() {
    let log = Log::of(&[
        ("spring.csv", "reed,overall\n1,5\n"),
        ("spring.toml", "title = \"Spring\"\nscale = [1, 7]\n"),
    ]);
    let reading = read(&[log.path().join("spring.csv")], &ReadOptions::default()).expect("a log");
    assert_eq!(
        (reading.study.name(), reading.study.settings().title.as_str()),
        ("spring", "Spring")
    );
    assert_eq!(reading.study.settings().scale, [1.0, 7.0]);
}

#[test]
fn a_folder_s_only_table_is_its_reeds_file_and_two_are_asked_about() {
    let reading = Log::of(&[("rohre.csv", "reed,overall\n1,5\n")]).read();
    assert_eq!(problem(&reading, "log-file-chosen").place.file, "rohre.csv");
    let refused = Log::of(&[("a.csv", "reed\n1\n"), ("b.csv", "reed\n1\n")]).refusal();
    assert_eq!(refused.code, "log-not-found");
    assert!(refused.message.contains("“a.csv”, “b.csv”"), "{}", refused.message);
}

mod any_log {
    use proptest::prelude::*;

    use super::*;

    const HEADERS: &[&str] = &[
        "reed",
        "lot",
        "tube",
        "made",
        "finished",
        "gouge centre (mm)",
        "days",
        "formed",
        "wire",
        "shape",
        "note",
        "fate",
        "spoiled_at",
        "why",
        "hours",
        "resp/5",
        "overall",
        "player",
        "date",
        "criterion",
        "score",
        "profile_15_spine_mm",
        "line",
        "from_tip_mm",
        "thickness",
        "measure",
        "value",
        "repeat",
        "price",
        "",
        "own",
    ];

    const CELLS: &[&str] = &[
        "",
        "-",
        "1",
        "2",
        "A7",
        "a7",
        "1,25",
        "1.25",
        "1,250",
        "7/10",
        "B+",
        "2-",
        "cracked",
        "gave to Sam",
        "3/4/2024",
        "2024-03-05",
        "04.03.2024",
        "45356",
        "2 wks",
        "~10",
        "22 swg",
        "22 ga",
        "yes",
        "spine",
        "9e999",
        "NaN",
        "=A1",
        "<b>",
        "\u{1b}[31m",
        "Lot B",
        "lot b",
        "1.30 mm",
        "51 thou",
        "\"",
        "-5",
        "1e300",
    ];

    fn table() -> impl Strategy<Value = String> {
        let header = proptest::collection::vec(prop::sample::select(HEADERS.to_vec()), 1..9);
        let cell = prop_oneof![9 => prop::sample::select(CELLS.to_vec()).prop_map(str::to_owned), 1 => ".{0,12}"];
        let rows = proptest::collection::vec(proptest::collection::vec(cell, 0..10), 0..14);
        (header, rows, Just(",")).prop_map(|(header, rows, delimiter)| {
            let quoted = |cell: &String| format!("\"{}\"", cell.replace('"', "\"\""));
            let rows =
                rows.iter().map(|row| row.iter().map(quoted).collect::<Vec<_>>().join(delimiter));
            let lines: Vec<String> = std::iter::once(header.join(delimiter)).chain(rows).collect();
            lines.join("\n")
        })
    }

    fn study_file() -> impl Strategy<Value = &'static str> {
        prop::sample::select(vec![
            "",
            "id_from = \"row\"",
            "one_row_is = \"rating\"",
            "best = \"low\"\nscale = [1, 6]",
            "decimal = \",\"\nday_order = \"day first\"\noutcome = \"overall\"",
            "[words]\nranking = [\"B\", \"cracked\", \"A7\"]\n[criteria.own]\ntarget = 3\n[columns.own]\nkind = \"rating\"",
            "[columns.own]\nkind = \"yes_no\"\n[columns.lot]\nis = \"reed\"\n[decide.shape]\ncandidates = [1]",
        ])
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(128))]

        /// Whatever stands in the files: a study whose rows add up, or a reason; never a panic.
        #[test]
        fn ends_with_a_study_whose_rows_add_up_or_with_a_reason(
            reeds in table(), ratings in table(), lots in table(), profile in table(), readings in table(), study in study_file(),
        ) {
            let log = Log::of(&[
                ("reeds.csv", &format!("reed,{reeds}")),
                ("ratings.csv", &format!("reed,player,overall,{ratings}")),
                ("lots.csv", &format!("lot,price,{lots}")),
                ("profile.csv", &format!("reed,from_tip_mm,line,thickness,{profile}")),
                ("readings.csv", &format!("reed,measure,value,{readings}")),
                ("study.toml", study),
            ]);
            for part in [log.path(), log.path().join("reeds.csv")] {
                match read(&[part], &ReadOptions::default()) {
                    Ok(reading) => {
                        rows_add_up(&reading);
                        let _ = (reading.study.good(), reading.study.reed_scores(), reading.study.profile());
                    }
                    Err(error) => prop_assert!(!error.to_string().is_empty()),
                }
            }
        }
    }
}
