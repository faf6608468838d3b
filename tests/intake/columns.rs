//! What columns mean, and what is found out about them.

use super::*;

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
fn numbers_and_dates_that_can_be_read_in_two_ways_are_asked_about() {
    let log = Log::of(&[(
        "reeds.csv",
        "reed;made;gouge_center_mm;overall\n1;03/04/2024;1,250;5\n2;05/06/2024;1,275;6\n",
    )]);
    let asked = log.read();
    assert_eq!(*asked.study.numbers("gouge_center_mm"), [None, None]);
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
    assert_eq!(*read.study.numbers("gouge_center_mm"), [Some(1.25), Some(1.275)]);
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
    assert_eq!(*reading.study.numbers("gouge_center_mm"), [Some(1.25), Some(1.275)]);
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
        .iter()
        .map(|reading| {
            (reading.piece, reading.from_tip_mm, reading.line.clone(), reading.thickness_mm)
        })
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
        *study.numbers("bevel_angle"),
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
fn dates_in_both_orders_are_read_where_they_have_one_reading_and_an_example_of_each_is_given() {
    let log = Log::of(&[(
        "reeds.csv",
        "reed,started_on,overall\n1,14.2.24,5\n2,4/16/2024,6\n3,3/4/24,7\n",
    )]);
    let reading = log.read();
    let days = reading.study.days("started_on");
    let read: Vec<Option<String>> =
        days.iter().map(|day| day.map(canewright::intake::values::dates::iso)).collect();
    assert_eq!(read, [Some("2024-02-14".to_owned()), Some("2024-04-16".to_owned()), None]);
    for code in ["day-orders-mixed", "day-order-undecided"] {
        let message = &problem(&reading, code).message;
        assert!(message.contains("both orders"), "{message}");
        assert!(
            message.contains("“14.2.24” (line 2)") && message.contains("“4/16/2024” (line 3)"),
            "{message}"
        );
    }
    let only = Log::of(&[("reeds.csv", "reed,started_on\n1,14.2.24\n2,4/16/2024\n")]).read();
    assert!(!only.has_errors(), "each has one reading: {:?}", only.problems);
}

#[test]
fn dots_say_that_the_day_comes_first_unless_one_of_them_cannot() {
    let mixed = Log::of(&[("reeds.csv", "reed,started_on\n1,3.4.24\n2,4/16/2024\n")]).read();
    assert_eq!(mixed.study.days("started_on")[0], None, "neither order is guessed");
    let american = Log::of(&[("reeds.csv", "reed,started_on\n1,3.4.24\n2,4.16.24\n")]).read();
    let first = american.study.days("started_on")[0].map(canewright::intake::values::dates::iso);
    assert_eq!(first.as_deref(), Some("2024-03-04"));
}

/// The setting between the accents of a remedy that opens with `[columns.`, as two lines of a study file.
fn setting_of(remedy: &str) -> String {
    let mut parts = remedy.split('`').skip_while(|part| !part.starts_with("[columns."));
    let (header, _, setting) = (parts.next(), parts.next(), parts.next());
    format!("{}\n{}\n", header.expect("the table"), setting.expect("what stands under it"))
}

#[test]
fn the_remedy_for_a_column_that_takes_no_part_names_its_real_header_and_works() {
    let mut dates = String::from("reed,\"Done \"\"up\"\"\",overall\n");
    let mut notes = String::from("reed,Note,lot\n");
    for row in 0..9 {
        dates += &format!("{row},2024-03-0{},{}\n", row + 1, row + 1);
        notes += &format!("{row},{},a\n", row + 1);
    }
    let meant = |text: &str, column: &str| {
        let asked = Log::of(&[("reeds.csv", text)]).read();
        let not_used = problem(&asked, "column-not-used");
        assert_eq!(not_used.place.column.as_deref(), Some(column));
        let study = setting_of(&not_used.remedy);
        Log::of(&[("reeds.csv", text), ("study.toml", &study)]).read()
    };
    let dated = meant(&dates, "Done \"up\"");
    assert!(dated.study.days("started_on").iter().all(Option::is_some));
    assert_eq!(meant(&notes, "Note").study.ratings(), 9);
}

#[test]
fn marks_under_the_german_word_for_them_and_raters_are_pointed_out_in_the_ratings_too() {
    let reeds = "reed\n1\n2\n3\n";
    let ratings = "reed,Wer spielte,Note,overall\n1,Ida,5,5\n2,Ida,6,6\n3,Jon,7,7\n";
    let asked = Log::of(&[("reeds.csv", reeds), ("ratings.csv", ratings)]).read();
    let remedy = |column: &str| {
        let of_column = |problem: &&Problem| {
            problem.code == "column-not-used" && problem.place.column.as_deref() == Some(column)
        };
        asked.problems.iter().find(of_column).expect("pointed out").remedy.clone()
    };
    let study = setting_of(&remedy("Wer spielte"));
    let player =
        Log::of(&[("reeds.csv", reeds), ("ratings.csv", ratings), ("study.toml", &study)]).read();
    assert_eq!(player.study.rating_rows().player.levels, ["Ida", "Jon"]);
    let ratings = ratings.replace("overall", "tone");
    let study = setting_of(&remedy("Note"));
    let mark =
        Log::of(&[("reeds.csv", reeds), ("ratings.csv", &ratings), ("study.toml", &study)]).read();
    assert_eq!(mark.study.reed_scores(), [Some(5.0), Some(6.0), Some(7.0)]);
}

#[test]
fn a_number_that_is_usual_in_another_unit_is_met_with_the_line_that_says_so() {
    let text = "reed,gouge (thou),overall\n1,0.051,5\n2,0.050,6\n";
    let asked = Log::of(&[("reeds.csv", text)]).read();
    let remedy = &problem(&asked, "number-impossible").remedy;
    assert!(remedy.contains("looks like inches") && remedy.contains("`0.051 in`"), "{remedy}");
    let study = setting_of(remedy);
    let read = Log::of(&[("reeds.csv", text), ("study.toml", &study)]).read();
    let gouges = read.study.numbers("gouge_center_mm");
    // 25.4 mm an inch
    for (found, expected) in gouges.iter().zip([0.051 * 25.4, 0.050 * 25.4]) {
        assert!(found.is_some_and(|found| (found - expected).abs() < 1e-12), "{gouges:?}");
    }
}

#[test]
fn yes_and_no_in_several_spellings_are_one_choice_of_two() {
    let text = "reed,oiled,sealant,overall\n1,y,Yes,5\n2,n,no,6\n3,Yes,y,7\n4,no,N,8\n";
    let reading = Log::of(&[("reeds.csv", text)]).read();
    let expected = ["yes", "no", "yes", "no"].map(Some);
    assert_eq!(reading.study.words("oiled"), expected);
    assert_eq!(reading.study.words("sealant"), expected);
    assert!(!codes(&reading).contains(&"labels-close"), "{:?}", reading.problems);
}

#[test]
fn one_letter_names_and_ticks_without_their_opposite_stay_what_they_are() {
    let text = "reed,form,shape,overall\n1,t,x,5\n2,f,x,6\n3,t,x,7\n4,f,x,8\n5,t,x,7\n";
    let reading = Log::of(&[("reeds.csv", text)]).read();
    assert_eq!(reading.study.labels("form").levels, ["f", "t"]);
    assert_eq!(reading.study.labels("shape").levels, ["x"]);
}

#[test]
fn whether_a_reed_was_played_is_no_factor_and_makes_it_a_reed_in_use() {
    for (header, yes) in [("Played?", "yes"), ("Played", "y"), ("played", "3.5")] {
        let text = format!("reed,{header},lot\n1,{yes},a\n2,{yes},a\n3,,b\n");
        let reading = Log::of(&[("reeds.csv", &text)]).read();
        assert!(reading.study.factors().is_empty(), "{header}: {:?}", reading.study.factors());
        assert!(!codes(&reading).contains(&"column-unplaced"), "{header}");
        if yes != "3.5" {
            let fates = [Fate::InUse, Fate::InUse, Fate::Unfinished].map(Some);
            assert_eq!(reading.study.fates(), fates, "{header}");
        }
    }
}

/// What is read of a column of the maker's own with twenty cells, these in turn: its numbers, its unit, and how many cells did not fit.
fn pinned(cells: &[&str]) -> (Vec<Option<f64>>, Option<String>, usize) {
    let rows: Vec<String> = (0..20)
        .map(|row| format!("{row},{},{}\n", cells[row % cells.len()], 5 + row % 3))
        .collect();
    let text = format!("reed,pinned,overall\n{}", rows.concat());
    let read = Log::of(&[("reeds.csv", text.as_str())]).read();
    let unit = read.study.factor("pinned").and_then(|factor| factor.unit.clone());
    let unfit = read.problems.iter().filter(|problem| problem.code == "unit-unfit").count();
    (read.study.numbers("pinned").to_vec(), unit, unfit)
}

#[test]
fn a_unit_in_nearly_every_cell_is_the_columns_and_the_bare_cells_are_in_it_too() {
    let mut cells = vec!["1.2 mm"; 20];
    (cells[3], cells[7]) = ("1.3", "1.25-1.35");
    let (values, unit, unfit) = pinned(&cells);
    assert_eq!((values[0], values[3], values[7]), (Some(1.2), Some(1.3), None));
    assert_eq!((unit.as_deref(), unfit), (Some("mm"), 0));
}

#[test]
fn which_unit_a_column_is_kept_in_does_not_hang_on_the_order_of_its_rows() {
    let mut cells = vec!["1.27 mm"; 19];
    cells.push("0.05 in");
    let turned: Vec<&str> = cells.iter().rev().copied().collect();
    let ((one, unit, _), (other, same, _)) = (pinned(&cells), pinned(&turned));
    assert_eq!((unit.as_deref(), same.as_deref()), (Some("mm"), Some("mm")));
    assert_eq!(one, other.into_iter().rev().collect::<Vec<_>>());
    assert!(one[19].is_some_and(|value| (value - 1.27).abs() < 1e-9), "{one:?}");
}

#[test]
fn two_weeks_among_bare_numbers_are_not_two() {
    let (values, unit, unfit) = pinned(&["7", "2 weeks", "8", "9"]);
    assert_eq!(values[..4], [Some(7.0), None, Some(8.0), Some(9.0)]);
    assert_eq!((unit, unfit), (None, 5));
}

#[test]
fn the_unit_of_a_header_holds_for_a_column_that_is_kept_as_it_is_read() {
    let text = "reed,Hardness (mm),overall\n1,0.20,5\n2,0.21 mm,6\n3,0.22,7\n";
    let read = Log::of(&[("reeds.csv", text)]).read();
    assert_eq!(*read.study.numbers("hardness"), [Some(0.20), Some(0.21), Some(0.22)]);
}

#[test]
fn a_remark_below_the_table_is_no_piece_and_a_long_id_within_it_is_one() {
    let pieces: String = (0..12).map(|row| format!("A{row},a,{}\n", 3 + row % 5)).collect();
    let text = format!(
        "reed,lot,overall\nthe reed of the green box,,\n{pieces}* hardness by the new gauge from June on,,\n"
    );
    let read = Log::of(&[("reeds.csv", text.as_str())]).read();
    assert_eq!(read.study.pieces(), 13);
    assert_eq!(problem(&read, "row-of-remarks").place.line, Some(15));
}

/// Pasted with the unit of the odd cell, seven days would become seven weeks.
#[test]
fn the_remedy_for_a_unit_among_bare_numbers_leaves_open_which_unit_those_are_in() {
    let text = "reed,pinned,overall\n1,7,5\n2,2 weeks,6\n3,14,7\n";
    let read = Log::of(&[("reeds.csv", text)]).read();
    let remedy = &problem(&read, "unit-unfit").remedy;
    assert!(remedy.contains("`[columns.\"pinned\"]` and under it `unit = \"…\"`"), "{remedy}");
    assert!(!remedy.contains("week"), "{remedy}");
}
